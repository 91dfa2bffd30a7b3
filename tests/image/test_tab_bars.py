"""Bar lines typed row by row are no ones."""

from __future__ import annotations

from dataclasses import replace

from reader.image.tab_bars import opens, told_apart
from reader.image.tab_lines import GAP, MARGIN
from reader.image.tab_strip import Number

LINES = 4


def number(gaps: float, line: int, fret: int, confidence: float = 0.9) -> Number:
    return Number(gaps * GAP, MARGIN + line, fret, False, confidence, None)


def stack(gaps: float, fret: int = 1, confidence: float = 0.9) -> list[Number]:
    return [number(gaps, line, fret, confidence) for line in range(LINES)]


def bar(gaps: float) -> tuple[float, str, float]:
    return gaps * GAP, "single", 0.9


def test_ones_on_a_bar_line_that_was_seen_are_its_strokes() -> None:
    notes = [number(2, 0, 1), number(5, 2, 3)]
    kept, bars, guessed = told_apart([*notes, *stack(8.1)], [bar(8)], LINES)
    assert kept == notes
    assert (bars, guessed) == ([bar(8)], 0)


def test_other_numbers_on_a_bar_line_stay() -> None:
    assert told_apart([number(8, 1, 7)], [bar(8)], LINES)[0] == [number(8, 1, 7)]


def test_ones_on_all_lines_are_a_bar_line_where_others_are_typed() -> None:
    kept, bars, guessed = told_apart([number(2, 0, 1), *stack(8), *stack(12)], [bar(8)], LINES)
    assert kept == [number(2, 0, 1)]
    assert [round(b[0] / GAP) for b in bars] == [8, 12]
    assert guessed == 1


def test_ones_struck_together_stay_notes() -> None:
    solid = stack(12)
    assert told_apart(solid, [bar(8)], LINES) == (solid, [bar(8)], 0), "no bar line of the system is typed"
    sure = stack(12, confidence=0.995)
    assert told_apart([*stack(8), *sure], [bar(8)], LINES)[0] == sure, "they read too surely"
    three = stack(12)[:3]
    assert told_apart([*stack(8), *three], [bar(8)], LINES)[0] == three, "one line has none"
    other = [*stack(12)[:3], number(12, 3, 2)]
    assert told_apart([*stack(8), *other], [bar(8)], LINES)[0] == other


def test_ones_on_some_lines_of_an_unsure_bar_line_make_it_doubtful() -> None:
    unsure = (8 * GAP, "single", 0.6)
    assert told_apart(stack(8)[:3], [unsure], LINES) == ([], [unsure], 1)
    assert told_apart(stack(8)[:3], [bar(8)], LINES)[2] == 0, "surely a bar line"
    assert told_apart(stack(8, confidence=0.6)[:3], [unsure], LINES)[2] == 0, "hardly ones"


def test_strokes_taller_than_digits_are_a_bar_line_whatever_else_was_seen() -> None:
    tall = [replace(n, tall=True) for n in stack(8, confidence=0.99)]
    kept, bars, guessed = told_apart([number(2, 0, 1), *tall], [], LINES)
    assert kept == [number(2, 0, 1)]
    assert [b[:2] for b in bars] == [(8 * GAP, "single")]
    assert guessed == 0
    assert told_apart(tall[1:], [], LINES)[2] == 1, "one line lacks its stroke"
    assert told_apart(tall[2:], [], LINES)[0] == tall[2:], "too few"
    assert told_apart([*tall[1:], number(8, 0, 3)], [], LINES)[1] == [], "a 3 is none"


def test_a_stroke_astray_of_a_typed_bar_line_is_left_out_when_tall_and_else_asked_about() -> None:
    typed, astray = stack(8)[:3], number(8.5, 3, 1)
    kept, _, guessed = told_apart([*typed, replace(astray, tall=True)], [bar(8)], LINES)
    assert (kept, guessed) == ([], 0)
    kept, _, guessed = told_apart([*typed, astray], [bar(8)], LINES)
    assert (kept, guessed) == ([astray], 1)
    assert told_apart([astray], [bar(8)], LINES)[2] == 0, "no bar line of the system is typed"
    far = number(8.8, 3, 1)
    assert told_apart([*typed, far], [bar(8)], LINES)[2] == 0, "too far from it"


def test_a_stroke_at_the_left_end_is_the_bar_line_that_opens_the_system() -> None:
    assert opens(number(2.1, 1, 1), 2 * GAP)
    assert not opens(number(2.4, 1, 1), 2 * GAP)
    assert not opens(number(2.1, 1, 7), 2 * GAP), "no bar line looks like a seven"
