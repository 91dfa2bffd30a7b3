"""The display list and the chord diagram drawn with it."""

from __future__ import annotations

import pytest
from drawn_ink import frets_of_ink, picture_of
from hypothesis import given, settings
from hypothesis import strategies as st
from reportlab.pdfbase.pdfmetrics import stringWidth

from reader.export.diagram import FrameStyle, describe_frame, draw_frame, mirrored
from reader.export.drawing import Box, Circle, Drawing, Line, Rect, Text, bounds, placed
from reader.export.lettering import CAP_HEIGHT, clipped, text_width, wrapped
from reader.export.pdf import to_pdf
from reader.music.frame import Barre, Finger, Frame

F_BARRE = Frame((1, 3, 3, 2, 1, 1), (1, 3, 4, 2, 1, 1), 4, 1, (Barre(1, 6, 1),))
HIGH = Frame((None, 12, 14, 12, 14, None), (None, 1, 3, 1, 4, None), 4, 12, (Barre(12, 5, 3),))
C = Frame((0, 0, 0, 3), (None, None, None, 3), 4)


@st.composite
def frames(draw: st.DrawFn) -> Frame:
    count = draw(st.integers(3, 8))
    rows = draw(st.integers(3, 6))
    first = draw(st.sampled_from((1, 1, 2, 3, 5, 7, 10, 12)))
    fret = st.one_of(st.none(), st.just(0), st.integers(first, first + rows - 1))
    frets = draw(st.tuples(*[fret] * count))
    finger: st.SearchStrategy[Finger] = st.sampled_from((1, 2, 3, 4, "T", None))
    fingers = tuple(draw(finger) if f else None for f in frets)
    return Frame(frets, fingers, rows, first)


def frets_seen(drawing: Drawing) -> tuple[int | None, ...]:
    """The frets that the picture's ink says."""
    (grid,) = drawing.grids
    return frets_of_ink(picture_of(drawing), grid)


@settings(max_examples=40, deadline=None)
@given(frames(), st.booleans())
def test_ink_says_what_the_frame_says(frame: Frame, left_handed: bool) -> None:
    drawing = draw_frame(frame, style=FrameStyle(fingers="in", left_handed=left_handed))
    assert frets_seen(drawing) == (frame.frets[::-1] if left_handed else frame.frets)


def test_a_barre_carries_a_bead_on_each_string_that_it_sounds() -> None:
    drawing = draw_frame(F_BARRE, style=FrameStyle(fingers="none"))
    assert frets_seen(drawing) == F_BARRE.frets
    beads = sorted({round(i.x, 3) for i in drawing.items if isinstance(i, Circle)})
    assert len(beads) == 6
    bars = [i for i in drawing.items if isinstance(i, Line) and i.y1 == i.y2 and i.width > 1.0]
    assert [(b.x1, b.x2) for b in bars] == [(drawing.grids[0].corners[0][0], drawing.grids[0].corners[1][0])]


@settings(max_examples=60, deadline=None)
@given(frames(), st.sampled_from(("C", "B♭m7", "C♯m7♭5/G♯", "Dis-Moll mit kleiner Septime")), st.booleans())
def test_nothing_sticks_out_and_lettering_touches_nothing(frame: Frame, title: str, left_handed: bool) -> None:
    under = tuple("C♯" for _ in frame.frets)
    drawing = draw_frame(frame, title, under=under, style=FrameStyle(fingers="below", left_handed=left_handed))
    assert all(bounds(item).inside(drawing.box) for item in drawing.items)
    words = [bounds(item) for item in drawing.items if isinstance(item, Text)]
    others = [bounds(item) for item in drawing.items if not isinstance(item, Text)]
    for n, box in enumerate(words):
        assert not any(box.overlaps(other) for other in [*words[n + 1 :], *others])


@pytest.mark.parametrize("strings", [4, 6])
def test_readable_at_18_millimetres(strings: int) -> None:
    # Smallest print held readable: digits 1.1 mm high, lines 0.1 mm (common practice, no source).
    frame = Frame((0,) * (strings - 1) + (3,), (None,) * (strings - 1) + (3,), 4)
    drawing = draw_frame(frame, "C♯m7", style=FrameStyle.for_width(18.0, strings))
    assert drawing.width == pytest.approx(18.0)
    assert min(i.size * CAP_HEIGHT for i in drawing.items if isinstance(i, Text)) >= 1.1
    assert min(i.width for i in drawing.items if isinstance(i, Line)) >= 0.1
    (stop,) = (i for i in drawing.items if isinstance(i, Circle) and i.fill)
    assert stop.radius >= 0.8


def test_colour_carries_no_meaning() -> None:
    items = draw_frame(HIGH, "Am7", under="EADGBE", pitches=(40, 45, 50, 55, 59, 64)).items
    colours = {getattr(i, name, None) for i in items for name in ("ink", "fill", "stroke")} - {None}
    assert all(c[1:3] == c[3:5] == c[5:7] for c in colours)


def test_nut_or_number() -> None:
    nut = [i for i in draw_frame(C).items if isinstance(i, Rect)]
    number = [i.text for i in draw_frame(HIGH, style=FrameStyle(fingers="none")).items if isinstance(i, Text)]
    assert len(nut) == 1
    assert number == ["12"]
    assert not [i for i in draw_frame(HIGH).items if isinstance(i, Rect)]


def test_lower_strings_are_thicker() -> None:
    def widths(pitches: tuple[int, ...]) -> list[float]:
        upright = [i for i in draw_frame(C, pitches=pitches).items if isinstance(i, Line) and i.x1 == i.x2]
        return [line.width for line in sorted(upright, key=lambda line: line.x1)]

    g, c, e, a = widths((67, 60, 64, 69))
    assert c > e > g > a
    assert len(set(widths(()))) == 1


def test_left_handed_is_a_mirror() -> None:
    assert mirrored(F_BARRE).frets == (1, 1, 2, 3, 3, 1)
    assert mirrored(Frame((3, 2, 1, 1), (3, 2, 1, 1), 4, 1, (Barre(1, 2, 1),))).barres == (Barre(1, 4, 3),)
    assert mirrored(mirrored(HIGH)) == HIGH


def test_a_stop_outside_the_window_is_still_drawn() -> None:
    drawing = draw_frame(Frame((0, 0, 0, 7), (None,) * 4, 3))
    assert drawing.grids[0].frame.last_fret == 7
    assert frets_seen(drawing) == (0, 0, 0, 7)


def test_description_names_every_string() -> None:
    text = describe_frame(HIGH, "Am7", "EADGBE")
    assert text.startswith("Am7: chord diagram of 6 strings, frets 12 to 15, shape x-12-14-12-14-x.")
    assert "String 6 (E): not played." in text
    assert "String 4 (D): fret 14, finger 3." in text
    assert "Barre at fret 12 from string 5 to string 3." in text


def test_placing_scales_everything_alike() -> None:
    drawing = draw_frame(HIGH, "Am7", under="EADGBE")
    moved = placed(drawing, 10.0, 20.0, 0.5)
    for before, after in zip(drawing.items, moved.items, strict=True):
        a, b = bounds(before), bounds(after)
        assert b.left == pytest.approx(10.0 + a.left * 0.5)
        assert b.bottom == pytest.approx(20.0 + a.bottom * 0.5)
    before_corner, after_corner = drawing.grids[0].corners[2], moved.grids[0].corners[2]
    assert after_corner == pytest.approx((10.0 + before_corner[0] * 0.5, 20.0 + before_corner[1] * 0.5))


def test_boxes() -> None:
    assert Box(0, 0, 2, 2).overlaps(Box(1, 1, 3, 3))
    assert not Box(0, 0, 2, 2).overlaps(Box(2, 0, 3, 2))
    assert Box(0.1, 0.1, 1, 1).inside(Box(0, 0, 1, 1))
    assert not Box(0.1, 0.1, 1.2, 1).inside(Box(0, 0, 1, 1))


def test_text_is_measured_and_broken() -> None:
    # reportlab reads the same widths out of the TrueType file itself.
    to_pdf([draw_frame(C)])
    for bold, name in ((False, "InkfretLettering"), (True, "InkfretLettering-Bold")):
        for text in ("C♯m7♭5/G♯", "Größe 12 °øΔ", "AVA"):
            assert text_width(text, 10.0, bold) == pytest.approx(stringWidth(text, name, 10.0), abs=0.05)
    assert text_width("iiii", 10.0) < text_width("MMMM", 10.0) < text_width("MMMM", 10.0, bold=True)
    assert wrapped("one two three", text_width("one two", 3.0) + 0.01, 3.0) == ("one two", "three")
    short = clipped("a rather long name", 20.0, 4.0)
    assert short.endswith("…")
    assert text_width(short, 4.0) <= 20.0
