"""The review desk: one page in the browser, on this machine only, where a person settles doubtful readings.

server      routes only                      guard       who may ask at all
desk        actions on the library           views       values for the templates
edits       changes of one diagram           suggestions other readings, with what speaks for each
laying      the redrawing over the picture   pictures    crops and pages as JPEG
sampling    spot checks                      bounds      exact binomial limits
learning    recalibration                    texts       every English word, from texts.toml
"""
