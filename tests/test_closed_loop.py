"""What we draw, our own reader reads back: frames from PDF and from SVG, and every kind of sheet.

The aim is every shape, without exception; `EXACT_AT_LEAST` only says what the present weights reach, and only rises.
``python -m tests.closed_loop`` is the large run.
"""

from __future__ import annotations

from random import Random

import pytest
from closed_loop import Loop, frame_pages, pdf_picture, random_frame, read_back, svg_picture
from sheet_samples import BOOKS, UKULELE, chords

from reader.export.drawing import Drawing
from reader.music.key import parse_key
from reader.sheets.book import sheet_chord
from reader.sheets.cards import CardSheet, draw_cards
from reader.sheets.keychart import draw_key, key_chart
from reader.sheets.page import SheetStyle
from reader.sheets.practice import PracticeSheet, draw_practice

EXACT_AT_LEAST = {"frames": 1.0, "practice": 1.0, "cards": 1.0, "key": 1.0}
RENDERERS = {"pdf": pdf_picture, "svg": svg_picture}


def check(pages: list[Drawing], kind: str, renderer: str = "pdf") -> None:
    loop = Loop()
    read_back(pages, RENDERERS[renderer], loop)
    assert loop.drawn == loop.found, loop.wrong
    assert loop.silent == []
    assert loop.share >= EXACT_AT_LEAST[kind], loop.wrong


@pytest.mark.parametrize("renderer", RENDERERS)
def test_frames_come_back(renderer: str) -> None:
    if renderer == "svg":
        pytest.importorskip("resvg_py", reason="second SVG renderer not installed")
    rng = Random(20)
    check(list(frame_pages([random_frame(rng) for _ in range(20)])), "frames", renderer)


def test_sheets_come_back() -> None:
    some = chords("C Am F G7 Dm Em Bb A7")
    items = tuple(sheet_chord(c, BOOKS["ukulele"]) for c in some)
    check(list(draw_practice(PracticeSheet(items, UKULELE, blanks=0), SheetStyle())), "practice")
    check([draw_cards(CardSheet(items, UKULELE), SheetStyle())[1]], "cards")
    check([draw_key(key_chart(parse_key("G"), BOOKS["guitar"]), SheetStyle())[0]], "key")
