"""How good are we: readings against truth, every metric a defined pure function.

    truth file + readings --judge--> outcomes per page --metrics--> scores --tables--> text

`truth` says what is drawn, `judge` pairs readings with drawings, `agreement` and `questions` compare one
pair, `figures` knows shares and calibration, `metrics` is the table of all of them.
"""
