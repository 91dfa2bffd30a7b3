"""Progressions and learning orders: reading them, changes worked by hand, shapes from a library, the drawn pages."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise, product

import pytest
from sheet_samples import BOOKS, GUITAR_BOOK, UKULELE, UKULELE_BOOK, chord, chords, entry, texts

from reader.errors import NotationError
from reader.export.diagram import grid_box
from reader.export.drawing import Line, Text
from reader.export.paper import A4, LETTER, Paper
from reader.music.fingering import change, usual_fingerings
from reader.music.frame import Barre, Frame
from reader.music.key import parse_key
from reader.music.shape import Shape
from reader.music.shapes import in_usual_window
from reader.sheets.book import Book, book_chords, sheet_chord
from reader.sheets.hands import change_sentences, choices, easiest
from reader.sheets.order import draw_order, learning_order
from reader.sheets.page import NOTE_LINE, SheetStyle
from reader.sheets.progression import draw_progression, progression, read_progression
from reader.sheets.words import NO_BREAK

# Worked by hand, common practice, no source. Fingers: 1 index, 2 middle, 3 ring, 4 little.
#   tuning, from, to, what stays, slides along its string, moves elsewhere, lifts, comes down
CHANGES = """
ukulele  Am   F      2    -    -    -    1
ukulele  F    Am     2    -    -    1    -
ukulele  F    Dm     12   -    -    -    3
ukulele  Dm   F      12   -    -    3    -
ukulele  Am   Dm     2    -    -    -    13
ukulele  C    G7     -    3    -    -    12
ukulele  G7   C      -    3    -    12   -
ukulele  C7   F      -    -    1    -    2
ukulele  A7   A      1    -    -    -    2
ukulele  A    A7     1    -    -    2    -
ukulele  F    G7     1    -    2    -    3
ukulele  A    Dm     2    -    1    -    3
guitar   Em   E      23   -    -    -    1
guitar   E    Am     -    -    123  -    -
guitar   C    Am     12   -    3    -    -
guitar   Am   C      12   -    3    -    -
guitar   Am   Fmaj7  1    -    23   -    -
guitar   C    C7     123  -    -    -    4
guitar   A7   D7     -    -    23   -    1
guitar   D    Dm     3    -    12   -    -
guitar   E    E7     12   -    -    3    -
guitar   Am   Am7    12   -    -    3    -
"""


@pytest.mark.parametrize("row", CHANGES.strip().splitlines())
def test_changes_worked_by_hand(row: str) -> None:
    tuning, before, after, *expected = row.split()
    book = BOOKS[tuning]
    sheet = progression([chord(before), chord(after)], book, goes_round=False)
    (move,) = sheet.moves
    done = move.change
    found = ["".join(map(str, f)) or "-" for f in (done.stay, done.slide, done.move, done.lift, done.land)]
    assert found == expected


def test_the_way_back_is_a_change_too() -> None:
    sheet = progression(chords("C Am F G7"), UKULELE_BOOK)
    names = [(str(m.before.chord.chord), str(m.after.chord.chord)) for m in sheet.moves]
    assert names == [("C", "Am"), ("Am", "F"), ("F", "G7"), ("G7", "C")]
    assert len(progression(chords("C Am F G7"), UKULELE_BOOK, goes_round=False).moves) == 3


def test_the_hardest_change_is_marked_once() -> None:
    sheet = progression(chords("C Am F G7"), GUITAR_BOOK)
    (hard,) = (m for m in sheet.moves if m.hardest)
    assert hard.change.cost == max(m.change.cost for m in sheet.moves)
    assert "F" in (str(hard.before.chord.chord), str(hard.after.chord.chord))
    assert hard.stand_in is not None
    assert str(hard.stand_in.easy.chord) == "Fmaj7"


def test_the_same_chord_keeps_its_shape() -> None:
    sheet = progression(chords("G D Em C G D C G"), GUITAR_BOOK)
    by_name: dict[str, set[object]] = {}
    for step in sheet.steps:
        by_name.setdefault(str(step.chord.chord), set()).add((step.fingering.shape, step.fingering.fingers))
    assert {len(ways) for ways in by_name.values()} == {1}


@pytest.mark.parametrize("text", ["C Am F G7", "G Em C D7", "F Dm Gm C7"])
def test_no_other_choice_of_fingers_makes_the_changes_lighter(text: str) -> None:
    items = [sheet_chord(c, UKULELE_BOOK, most=1) for c in chords(text)]
    order = [0, 1, 2, 3, 0]
    chosen = easiest(items, order, UKULELE)

    def effort(ways: tuple[object, ...]) -> float:
        fingerings = [way.fingering for way in ways]  # type: ignore[attr-defined]
        unusual = [f.cost - usual_fingerings(f.shape, UKULELE)[0].cost for f in fingerings]
        steps = sum(change(fingerings[a], fingerings[b]).cost for a, b in pairwise(order))
        return steps + 10.0 * 2 * sum(unusual)

    best = min(effort(ways) for ways in product(*(choices(item, UKULELE) for item in items)))
    assert effort(chosen) == pytest.approx(best)


def test_numerals_and_names_are_read() -> None:
    assert read_progression("I vi IV V7", parse_key("Bb")) == tuple(chords("Bb Gm Eb F7"))
    assert read_progression("| C | Am, F - G7 |", None) == tuple(chords("C Am F G7"))
    assert read_progression("ii7 V7/V bVII iv", parse_key("C")) == tuple(chords("Dm7 D7 Bb Fm"))
    assert read_progression("i VI III VII V7", parse_key("Am")) == tuple(chords("Am F C G E7"))
    assert read_progression("H7 B", None, "german") == tuple(chords("B7 Bb"))


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", "is empty"),
        ("I vi", "'I' is a numeral and there is no key"),
        ("C N.C.", "nothing is played"),
        ("C Cmaj7x", "cannot be read from 'x' on"),
    ],
)
def test_what_cannot_be_read_is_named(text: str, problem: str) -> None:
    with pytest.raises(NotationError, match=problem):
        read_progression(text, None)


def test_sentences_name_finger_string_and_fret() -> None:
    (move,) = progression(chords("C G7"), UKULELE_BOOK, goes_round=False).moves
    assert [s.replace(NO_BREAK, " ") for s in change_sentences(move.change)] == [
        "3 (ring) slides from fret 3 to fret 2.",
        "1 (index) comes down: string 2, fret 1.",
        "2 (middle) comes down: string 3, fret 2.",
    ]
    (none,) = progression(chords("Am7 C6"), UKULELE_BOOK, goes_round=False).moves
    assert change_sentences(none.change) == ("No finger moves.",)


# ---------------------------------------------------------------- shapes from a library


def test_a_library_shape_comes_first_and_keeps_its_fingers() -> None:
    high = entry("5433", "C", fingers=(4, 3, 1, 1), barres=(Barre(3, 2, 1),))
    book = Book(UKULELE, (high,))
    item = sheet_chord(chord("C"), book)
    assert item.main.frame == in_usual_window(high.frame)
    assert item.main.origin == "library"
    assert item.shapes[1].origin == "computed"
    assert progression(chords("C Am"), book).steps[0].fingering.fingers == (4, 3, 1, 1)


def test_library_shapes_stand_in_the_window_of_all_others() -> None:
    odd = replace(entry("0003", "C"), frame=Frame((0, 0, 0, 3), (None,) * 4, 5, 3))
    frame = sheet_chord(chord("C"), Book(UKULELE, (odd,))).main.frame
    assert (frame.frets, frame.first_fret, frame.fret_count) == (odd.frame.frets, 1, 4)


def test_only_trusted_shapes_in_this_tuning_are_used() -> None:
    entries = (entry("5433", "C", state="unchecked"), entry("0007", "C", state="rejected"), entry("5430", tuning="x"))
    assert sheet_chord(chord("C"), Book(UKULELE, entries)).main.origin == "computed"


def test_a_label_lets_a_short_form_count() -> None:
    short, nameless = entry("2020", "D7"), entry("2020", None)
    main = sheet_chord(chord("D7"), Book(UKULELE, (short,))).main
    assert (main.origin, main.frame.shape, main.remark) == ("library", short.shape, "no root")
    assert sheet_chord(chord("D7"), Book(UKULELE, (nameless,))).main.origin == "computed"


def test_missing_fingers_are_filled_in() -> None:
    item = sheet_chord(chord("G"), Book(UKULELE, (entry("0232", "G"),)))
    assert item.main.frame.fingers == (None, 1, 3, 2)


def test_chords_of_a_library_each_once() -> None:
    entries = (entry("0003", "C"), entry("5433", "C"), entry("2010", "F"), entry("0212", "?"), entry("2000", "Am"))
    assert book_chords(Book(UKULELE, entries)) == tuple(chords("C F Am"))


def test_a_chord_without_a_shape_is_said() -> None:
    with pytest.raises(NotationError, match=r"No shape of C7.* fits under a hand on Ukulele"):
        sheet_chord(chord("C7b9#9#11b13"), UKULELE_BOOK)


# ---------------------------------------------------------------- learning orders


def order_of(text: str, tuning: str) -> list[str]:
    return [str(lesson.played.chord.chord) for lesson in learning_order(chords(text), BOOKS[tuning]).lessons]


@pytest.mark.parametrize(
    ("tuning", "text", "earlier", "later"),
    [
        # Orders that teachers commonly use (common practice, no source).
        ("ukulele", "G7 F Am C", "C Am F", "G7"),
        ("ukulele", "Bb F C7 Dm", "C7 F Dm", "Bb"),
        ("ukulele", "D7 G C Em", "C", "D7"),
        ("ukulele", "Bm D G A7", "A7 D G", "Bm"),
        ("guitar", "F C Am G Em Dm", "Em Am C G Dm", "F"),
        ("guitar", "Bm D A G Em", "Em A D G", "Bm"),
        ("guitar", "B7 E A Em", "Em E", "B7"),
        ("guitar", "F#m E A D", "E A D", "F#m"),
    ],
)
def test_orders_that_teachers_use(tuning: str, text: str, earlier: str, later: str) -> None:
    found = order_of(text, tuning)
    assert all(found.index(a) < found.index(later) for a in earlier.split()), found


def test_barres_come_last() -> None:
    order = learning_order(chords("F Bm C G Bb Em D Am"), GUITAR_BOOK)
    barres = [lesson.played.fingering.difficulty.barre_strings > 0 for lesson in order.lessons]
    assert barres == sorted(barres)


def test_reasons() -> None:
    lessons = learning_order(chords("Am Em E C F"), GUITAR_BOOK).lessons
    reasons = {str(x.played.chord.chord): x.reason.replace(NO_BREAK, " ") for x in lessons}
    assert reasons["Em"] == "Two fingers: the lightest of these."
    assert reasons["E"] == "Keeps 2 (middle) and 3 (ring) from Em, so little is new: three fingers."
    assert reasons["Am"] == "The shape of E on other strings or frets: three fingers."
    assert reasons["F"].endswith("four fingers with a barre.")


def test_reasons_for_one_finger_and_for_two_that_slide() -> None:
    lessons = learning_order(chords("C C#m7b5 Abm"), GUITAR_BOOK).lessons
    reasons = [x.reason.replace(NO_BREAK, " ") for x in lessons if "slide" in x.reason]
    assert reasons == [
        "From C♯m7♭5, 3 (ring) only slides: three fingers.",
        "From C, 1 (index) and 3 (ring) only slide: three fingers with a barre.",
    ]


def test_each_chord_is_learned_once() -> None:
    assert sorted(order_of("C F C Am F", "ukulele")) == ["Am", "C", "F"]


# ---------------------------------------------------------------- the drawn pages

MANY = "C Am F G7 Dm Em Bb C#m7b5 F#m Ebmaj7 Abm D7sus4 G B7 E A D A7 E7 Gm"


@pytest.mark.parametrize("paper", [A4, LETTER])
@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize("tuning", ["ukulele", "guitar"])
@pytest.mark.parametrize("count", [1, 4, 12, 40])
def test_pages_are_tidy(count: int, tuning: str, large: bool, paper: Paper, check_pages: Callable[..., None]) -> None:
    some = (chords(MANY) * 2)[:count]
    style = SheetStyle(paper=paper, large=large, left_handed=large)
    sheet = progression(some, BOOKS[tuning], parse_key("C"))
    pages = draw_progression(sheet, style)
    check_pages(pages, paper)
    assert sum(len(page.grids) for page in pages) == count + 2 * len(sheet.moves)
    lessons = learning_order(some, BOOKS[tuning])
    order_pages = draw_order(lessons, style)
    check_pages(order_pages, paper)
    assert sum(len(page.grids) for page in order_pages) == len(lessons.lessons)


def test_the_sheet_shows_the_fingers_that_its_sentences_name() -> None:
    sheet = progression(chords("G Em C D7"), UKULELE_BOOK)
    (page,) = draw_progression(sheet, SheetStyle())
    by_name = {grid.label: grid.frame.fingers for grid in page.grids}
    assert by_name == {str(s.chord.chord): s.fingering.fingers for s in sheet.steps}
    assert any("the hardest change" in text for text in texts([page]))


def test_what_makes_a_change_easier_stands_under_its_diagrams() -> None:
    (page,) = draw_progression(progression(chords("Am F"), GUITAR_BOOK), SheetStyle())
    (easier,) = (item for item in page.items if isinstance(item, Text) and item.text.startswith("Easier:"))
    above = [grid_box(grid).bottom for grid in page.grids if grid_box(grid).right > easier.x]
    assert easier.y > max(above)


def test_lines_to_write_on_keep_apart_down_to_the_foot() -> None:
    style = SheetStyle()
    (page,) = draw_order(learning_order(chords("C F Bb"), UKULELE_BOOK), style)
    width = style.paper.content.right - style.paper.content.left
    rules = sorted(i.y1 for i in page.items if isinstance(i, Line) and i.y1 == i.y2 and i.x2 - i.x1 > 0.9 * width)
    assert len(rules) > 5
    assert min(b - a for a, b in pairwise(rules)) > 0.9 * NOTE_LINE


def test_shapes_by_their_frets() -> None:
    steps = progression(chords("C Am F G7"), UKULELE_BOOK).steps
    assert [step.fingering.shape for step in steps] == [Shape.parse(t) for t in ("0003", "2000", "2010", "0212")]
