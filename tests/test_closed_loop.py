"""What we draw, our own reader reads back: frames from PDF and from SVG, and every kind of sheet, without exception.

``PYTHONPATH=tests python -m closed_loop`` is the large run.
"""

from __future__ import annotations

from random import Random

import pytest
from closed_loop import Loop, frame_pages, pdf_picture, random_frame, read_back, svg_picture
from sheet_samples import Sheet, every_sheet

from reader.music.shape import Shape
from reader.sheets.cards import COLUMNS
from reader.sheets.page import SheetStyle

RENDERERS = {"pdf": pdf_picture, "svg": svg_picture}
KINDS = ("practice", "cards", "order", "progression", "key")
SHEETS = {
    (tuning, s.kind): s for tuning in ("ukulele", "guitar") for s in every_sheet(tuning, SheetStyle(), "C F G7 Bb")
}


def check(loop: Loop) -> None:
    assert loop.drawn == loop.found == loop.exact, loop.wrong
    assert loop.extra == 0


@pytest.mark.parametrize("renderer", RENDERERS)
def test_frames_come_back(renderer: str) -> None:
    if renderer == "svg":
        pytest.importorskip("resvg_py", reason="second SVG renderer not installed")
    rng, loop = Random(20), Loop()
    read_back(list(frame_pages([random_frame(rng) for _ in range(20)])), RENDERERS[renderer], loop)
    check(loop)


def sheet_of(kind: str, tuning: str, style: SheetStyle, labels: str = "C F G7 Bb") -> Sheet:
    return next(sheet for sheet in every_sheet(tuning, style, labels) if sheet.kind == kind)


def in_reading_order(sheet: Sheet) -> list[Shape]:
    """The shapes of a sheet from left to right and downwards: backs of cards lie mirrored to their fronts."""
    if sheet.kind != "cards":
        return sheet.shapes
    rows = [sheet.shapes[n : n + COLUMNS] for n in range(0, len(sheet.shapes), COLUMNS)]
    return [shape for row in rows for shape in reversed(row)]


@pytest.mark.parametrize("tuning", ["ukulele", "guitar"])
@pytest.mark.parametrize("kind", KINDS)
def test_sheets_come_back(kind: str, tuning: str) -> None:
    loop, sheet = Loop(), sheet_of(kind, tuning, SheetStyle())
    read_back(sheet.pages, pdf_picture, loop)
    check(loop)
    assert loop.shapes == in_reading_order(sheet)


def test_a_fret_number_on_the_side_of_the_words_comes_back() -> None:
    """Left-handed diagrams have it at their right, where the words of a lesson begin."""
    loop, sheet = Loop(), sheet_of("order", "ukulele", SheetStyle(large=True, left_handed=True), "Ebmaj7 Abm")
    assert max(grid.frame.first_fret for page in sheet.pages for grid in page.grids) > 1
    read_back(sheet.pages, pdf_picture, loop)
    check(loop)
