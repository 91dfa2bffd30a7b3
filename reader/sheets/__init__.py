"""Printable pages for lessons.

A sheet is a value and drawing it is pure:

>>> from reader.music.key import parse_key
>>> from reader.music.tuning import get_tuning
>>> from reader.sheets.book import Book
>>> from reader.sheets.keychart import draw_key, key_chart
>>> from reader.sheets.page import SheetStyle
>>> pages = draw_key(key_chart(parse_key("G"), Book(get_tuning("ukulele"))), SheetStyle())
>>> pages[0].title, len(pages[0].grids)
('Key of G major', 18)

`output.to_files` turns pages into PDF, SVG or PNG.
"""
