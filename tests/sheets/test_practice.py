"""Practice sheets and cards: geometry for few and many chords, spelling, hands, duplex alignment."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from reader.export.diagram import mirrored
from reader.export.drawing import Line, Text
from reader.export.paper import A4, LETTER, POINT, Paper
from reader.music.chord import Chord
from reader.music.frame import Frame
from reader.music.label import parse_label
from reader.music.label_style import LabelStyle
from reader.music.shapes import shapes_for
from reader.music.tuning import Tuning, get_tuning
from reader.sheets.cards import CardSheet, cells, draw_cards
from reader.sheets.chords import SheetChord, SheetShape, string_names
from reader.sheets.page import SheetStyle
from reader.sheets.practice import PracticeSheet, draw_practice

UKULELE, GUITAR = get_tuning("ukulele"), get_tuning("guitar")
LABELS = ("C", "Am", "F", "G7", "Dm", "Em", "B♭", "C♯m7b5", "F♯m", "E♭maj7", "Abm", "D7sus4", "G13")
SOLFEGE = LabelStyle(note_names="solfege", real_accidentals=True)
GERMAN = LabelStyle(note_names="german")


def chord(text: str) -> Chord:
    out = parse_label(text)
    assert isinstance(out, Chord)
    return out


def frame(frets: tuple[int | None, ...]) -> Frame:
    stopped = [f for f in frets if f]
    first = 1 if max(stopped, default=0) <= 4 else min(stopped)
    return Frame(frets, (None,) * len(frets), max(4, max(stopped, default=0) - first + 1), first)


def sheet_chords(count: int, tuning: Tuning) -> tuple[SheetChord, ...]:
    out = []
    for n in range(count):
        options = shapes_for(chord(LABELS[n % len(LABELS)]), tuning)[:4]
        shapes = tuple(SheetShape(frame(o.shape.frets), "computed" if k else "library") for k, o in enumerate(options))
        out.append(SheetChord(chord(LABELS[n % len(LABELS)]), shapes))
    return tuple(out)


def texts(pages: object) -> list[str]:
    return [item.text for page in pages for item in page.items if isinstance(item, Text)]  # type: ignore[attr-defined]


@pytest.mark.parametrize("paper", [A4, LETTER])
@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize("tuning", [UKULELE, GUITAR])
@pytest.mark.parametrize("count", [1, 2, 3, 4, 12, 40])
def test_practice_pages_are_tidy(
    count: int, tuning: Tuning, large: bool, paper: Paper, check_pages: Callable[..., None]
) -> None:
    sheet = PracticeSheet(sheet_chords(count, tuning), tuning, from_library=True)
    pages = draw_practice(sheet, SheetStyle(paper=paper, large=large))
    check_pages(pages, paper)
    assert sum(grid.frame == sheet.chords[0].main.frame for page in pages for grid in page.grids) >= 1
    main = [c.main.frame for c in sheet.chords]
    drawn = [grid.frame for page in pages for grid in page.grids]
    assert all(drawn.count(f) >= main.count(f) for f in main)


def test_four_ukulele_chords_fill_one_page() -> None:
    assert len(draw_practice(PracticeSheet(sheet_chords(4, UKULELE), UKULELE), SheetStyle())) == 1


def test_caution_and_lines_for_name_and_date() -> None:
    pages = draw_practice(PracticeSheet(sheet_chords(12, UKULELE), UKULELE), SheetStyle())
    for page in pages:
        assert any("wrist" in text for text in texts([page]))
    assert {"Name", "Date"} <= set(texts(pages[:1]))


def test_computed_shapes_are_marked_only_beside_a_library() -> None:
    chords = sheet_chords(2, UKULELE)
    marked = texts(draw_practice(PracticeSheet(chords, UKULELE, from_library=True), SheetStyle()))
    assert marked.count("□") == sum(s.origin == "computed" for c in chords for s in c.shapes[:3])
    assert "□" not in texts(draw_practice(PracticeSheet(chords, UKULELE), SheetStyle()))


def test_blank_grids_are_no_diagrams() -> None:
    few = draw_practice(PracticeSheet(sheet_chords(1, UKULELE), UKULELE, variants=0, blanks=0), SheetStyle())
    many = draw_practice(PracticeSheet(sheet_chords(1, UKULELE), UKULELE, variants=0, blanks=8), SheetStyle())
    assert sum(len(p.grids) for p in few) == sum(len(p.grids) for p in many) == 1
    lines = [sum(isinstance(i, Line) for p in pages for i in p.items) for pages in (few, many)]
    assert lines[1] > lines[0]


@pytest.mark.parametrize(
    ("style", "label", "under"),
    [
        # Strings of the ukulele shape 0331 of B flat minor... spelled by the chord: B♭ D♭ F.
        (SheetStyle(under="notes"), "B♭m", ["B♭", "D♭", "F"]),
        (SheetStyle(under="degrees"), "B♭m", ["1", "♭3", "5"]),
        (SheetStyle(under="notes", labels=GERMAN), "Bm", ["B", "Des", "F"]),
        (SheetStyle(under="notes", labels=SOLFEGE), "Si♭m", ["Si♭", "Re♭", "Fa"]),
        (SheetStyle(under="strings", labels=SOLFEGE), "Si♭m", ["sol", "Do", "Mi", "La"]),
    ],
)
def test_names_by_chord_and_country(style: SheetStyle, label: str, under: list[str]) -> None:
    b_flat_minor = SheetChord(chord("Bbm"), (SheetShape(frame((3, 1, 1, 1))),))
    drawn = texts(draw_practice(PracticeSheet((b_flat_minor,), UKULELE, blanks=0), style))
    assert label in drawn
    assert set(under) <= set(drawn)


def test_small_letters_for_reentrant_strings() -> None:
    assert string_names(UKULELE, LabelStyle()) == ("g", "C", "E", "A")
    assert string_names(GUITAR, LabelStyle()) == ("E", "A", "D", "G", "B", "E")


def test_left_handed_sheets_are_mirrored() -> None:
    sheet = PracticeSheet(sheet_chords(3, UKULELE), UKULELE)
    right, left = (draw_practice(sheet, SheetStyle(left_handed=hand)) for hand in (False, True))
    assert [g.frame for g in left[0].grids] == [mirrored(g.frame) for g in right[0].grids]
    assert any("left-handed" in text for text in texts(left))


def test_large_print_is_large() -> None:
    pages = draw_practice(PracticeSheet(sheet_chords(2, UKULELE), UKULELE, variants=1), SheetStyle(large=True))
    sizes = {item.text: item.size for page in pages for item in page.items if isinstance(item, Text)}
    assert min(sizes.values()) >= 15.9 * POINT


@pytest.mark.parametrize("flip", ["long", "short"])
@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize("paper", [A4, LETTER])
@pytest.mark.parametrize("count", [1, 12, 40])
def test_backs_fall_on_their_fronts(
    count: int, paper: Paper, large: bool, flip: str, check_pages: Callable[..., None]
) -> None:
    style = SheetStyle(paper=paper, large=large)
    sheet = CardSheet(sheet_chords(count, GUITAR), GUITAR, "Larkspur Lane Studio", flip)  # type: ignore[arg-type]
    pages = draw_cards(sheet, style)
    check_pages(pages, paper)
    per_page = 6 if large else 12
    assert len(pages) == 2 * -(-count // per_page)
    assert [len(page.grids) for page in pages[0::2]] == [0] * (len(pages) // 2)
    assert sum(len(page.grids) for page in pages[1::2]) == count
    for front, back in zip(cells(style, None), cells(style, sheet.flip), strict=True):
        # Turning the paper round its long edge mirrors x, round its short edge y.
        if flip == "long":
            assert (paper.width - back.right, back.top) == pytest.approx((front.left, front.top))
        else:
            assert (back.left, paper.height - back.bottom) == pytest.approx((front.left, front.top))


def test_crop_marks_lie_outside_the_cards_and_on_every_cut() -> None:
    style = SheetStyle()
    page = draw_cards(CardSheet(sheet_chords(12, UKULELE), UKULELE), style)[0]
    boxes = cells(style, None)
    marks = [item for item in page.items if isinstance(item, Line)]
    for mark in marks:
        assert not any(b.left < mark.x1 < b.right and b.top < mark.y1 < b.bottom for b in boxes)
    edges = {round(v, 3) for b in boxes for v in (b.left, b.right)}
    upright = {round(m.x1, 3) for m in marks if m.x1 == m.x2}
    assert upright == edges
    assert len(marks) == 2 * (len(edges) + len({round(v, 3) for b in boxes for v in (b.top, b.bottom)}))


def test_cards_show_the_name_only_in_front_of_its_shape() -> None:
    front, back = draw_cards(CardSheet(sheet_chords(3, UKULELE)[:3], UKULELE), replace(SheetStyle(), large=True))
    assert [t for t in texts([front]) if t in ("C", "Am", "F")] == ["C", "Am", "F"]
    assert [g.label for g in back.grids] == ["C", "Am", "F"]
