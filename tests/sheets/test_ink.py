"""Every shape on every sheet, measured back from the ink of the rendered PDF, equals the shape that was meant."""

from __future__ import annotations

import pytest
from drawn_ink import frets_of_ink, picture_of
from sheet_samples import every_sheet

from reader.export.paper import A4, LETTER
from reader.music.shape import Shape
from reader.sheets.page import SheetStyle

SOME = "C Am F G7 Bb C#m7b5 Ebmaj7 Abm Bm D7"
STYLES = (
    SheetStyle(),
    SheetStyle(paper=LETTER, large=True, left_handed=True, under="notes"),
    SheetStyle(fingers="below", under="degrees"),
    SheetStyle(paper=A4, fingers="none", under="none"),
)


@pytest.mark.parametrize("tuning", ["ukulele", "guitar"])
@pytest.mark.parametrize("style", STYLES, ids=["usual", "large", "below", "plain"])
def test_the_ink_says_every_shape(tuning: str, style: SheetStyle) -> None:
    for kind, pages, shapes in every_sheet(tuning, style, SOME):
        seen = []
        for page in pages:
            picture = picture_of(page)
            frets = [frets_of_ink(picture, grid) for grid in page.grids]
            seen += [Shape(f[::-1] if style.left_handed else f) for f in frets]
        assert seen == shapes, kind
