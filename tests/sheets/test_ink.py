"""Every shape on every sheet, measured back from the ink of the rendered PDF, equals the shape that was meant."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from drawn_ink import frets_of_ink, picture_of
from sheet_samples import BOOKS, chords

from reader.export.drawing import Drawing
from reader.export.paper import A4, LETTER
from reader.music.key import parse_key
from reader.music.shape import Shape
from reader.sheets.book import sheet_chord
from reader.sheets.cards import CardSheet, draw_cards
from reader.sheets.keychart import draw_key, key_chart
from reader.sheets.order import draw_order, learning_order
from reader.sheets.page import SheetStyle
from reader.sheets.practice import PracticeSheet, draw_practice
from reader.sheets.progression import draw_progression, progression

SOME = "C Am F G7 Bb C#m7b5 Ebmaj7 Abm Bm D7"
STYLES = (
    SheetStyle(),
    SheetStyle(paper=LETTER, large=True, left_handed=True, under="notes"),
    SheetStyle(fingers="below", under="degrees"),
    SheetStyle(paper=A4, fingers="none", under="none"),
)


def every_sheet(tuning: str, style: SheetStyle) -> Iterator[tuple[tuple[Drawing, ...], list[Shape]]]:
    """Pages of each kind of sheet, and the shapes that they should show in order."""
    book, some = BOOKS[tuning], chords(SOME)
    items = tuple(sheet_chord(chord, book) for chord in some)
    practice = PracticeSheet(items, book.tuning)
    yield (
        draw_practice(practice, style),
        [s.frame.shape for item in items for s in item.shapes[: 1 + practice.variants]],
    )
    yield draw_cards(CardSheet(items, book.tuning), style), [item.main.frame.shape for item in items]
    order = learning_order(some, book)
    yield draw_order(order, style), [lesson.played.fingering.shape for lesson in order.lessons]
    sheet = progression(some, book, parse_key("C"))
    steps = [step.fingering.shape for step in sheet.steps]
    pairs = [p.fingering.shape for move in sheet.moves for p in (move.before, move.after)]
    yield draw_progression(sheet, style), steps + pairs
    chart = key_chart(parse_key("Bb"), book)
    listed = [c.item for c in (*chart.triads, *chart.dominants, *chart.relative_chords)]
    stand_ins = [s.easy for s in chart.stand_ins]
    yield draw_key(chart, style), [item.main.frame.shape for item in (*listed, *stand_ins)]


@pytest.mark.parametrize("tuning", ["ukulele", "guitar"])
@pytest.mark.parametrize("style", STYLES, ids=["usual", "large", "below", "plain"])
def test_the_ink_says_every_shape(tuning: str, style: SheetStyle) -> None:
    for pages, shapes in every_sheet(tuning, style):
        seen = []
        for page in pages:
            picture = picture_of(page)
            frets = [frets_of_ink(picture, grid) for grid in page.grids]
            seen += [Shape(f[::-1] if style.left_handed else f) for f in frets]
        assert seen == shapes
