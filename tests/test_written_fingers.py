"""Fingers are told by a whole page: who writes them writes them nearly everywhere."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from reading_samples import lettering, look, seen

from reader.image.marks import SIGNS, Look
from reader.interpret import ReadSettings, interpret
from reader.written_fingers import are_forms, are_frets, as_the_page_writes

FINGERS = {0: 2, 1: 1, 3: 3}


def unsure(given: Look, string: int, none: float, finger: int) -> Look:
    """The look with one string where only so much speaks against a finger."""
    fingers = given.fingers.copy()
    fingers[string] = (1 - none) * 0.02
    fingers[string, 0], fingers[string, finger] = none, 1 - none - (1 - none) * 0.02 * 4
    return replace(given, fingers=fingers)


def fingers_of(*looks: Look) -> list[list[int]]:
    settled, _ = as_the_page_writes(list(looks), [lettering() for _ in looks])
    return [k.fingers[:4].argmax(1).tolist() for k in settled]


def numbered(given: Look, numbers: dict[int, int]) -> Look:
    """The look with numbers written on strings."""
    signs = np.eye(1, SIGNS).repeat(8, axis=0)
    for string, number in numbers.items():
        signs[string] = 0
        signs[string, number if number < 5 else number + 1] = 1
    return replace(given, signs=signs)


def test_where_fingers_are_written_one_that_hardly_shows_is_one_all_the_same() -> None:
    written, faint = look("21-3", fingers=FINGERS), unsure(look("21-3", fingers=FINGERS), 3, 0.75, 3)
    assert fingers_of(written, written, written, faint)[3] == [2, 1, 0, 3]


def test_where_none_are_written_what_looks_like_one_is_none() -> None:
    bare, misleading = look("21-3"), unsure(look("21-3"), 3, 0.25, 1)
    assert fingers_of(misleading)[0] == [0, 0, 0, 0], "two of its three stops have none"
    assert fingers_of(bare, bare, bare, misleading)[3] == [0, 0, 0, 0]


def test_a_diagram_by_itself_says_what_is_written() -> None:
    assert fingers_of(look("21-3", fingers=FINGERS)) == [[2, 1, 0, 3]]
    assert fingers_of(look("21-3")) == [[0, 0, 0, 0]]
    assert fingers_of(look("----")) == [[0, 0, 0, 0]]
    assert as_the_page_writes([], []) == ([], [])


def both_see(look_at: dict[int, int], close: dict[int, int]) -> Look:
    """A diagram in which the two looks see these fingers at the stops."""
    given = look("21-3", fingers=look_at)
    signs = np.eye(1, SIGNS).repeat(8, axis=0)
    for string, finger in close.items():
        signs[string] = 0.02
        signs[string, finger] = 1 - 0.02 * (SIGNS - 1)
    return replace(given, signs=signs)


def test_strokes_at_which_two_looks_see_different_fingers_are_none() -> None:
    alike = both_see(FINGERS, FINGERS)
    apart = both_see(FINGERS, {0: 1, 1: 4, 3: 2})
    assert not are_forms([alike] * 4)
    assert are_forms([apart] * 4)
    assert not are_forms([apart]), "a few stops tell nothing"
    assert not are_forms([look("21-3", fingers=FINGERS)] * 4), "where the close look sees none it tells nothing"
    assert fingers_of(*[apart] * 4) == [[0, 0, 0, 0]] * 4
    assert fingers_of(*[alike] * 4) == [[2, 1, 0, 3]] * 4


def test_one_diagram_with_sure_fingers_keeps_them_among_many_without() -> None:
    bare = look("21-3")
    assert fingers_of(*[bare] * 5, look("21-3", fingers=FINGERS))[5] == [2, 1, 0, 3]


def test_numbers_that_agree_with_the_rows_and_no_hand_has_are_frets() -> None:
    high = numbered(look("-132", nut=0.0, first=5, fingers={1: 1, 2: 3, 3: 2}), {1: 5, 2: 7, 3: 6})
    low = numbered(look("-132", fingers={1: 1, 2: 3, 3: 2}), {1: 1, 2: 3, 3: 2})
    assert are_frets([high])
    assert not are_frets([low]), "fingers would be the same"
    assert fingers_of(high, low) == [[0, 0, 0, 0], [0, 0, 0, 0]], "one page has one habit"
    first, second = (r.frame for r in interpret([seen(high), seen(low)], ReadSettings()))
    assert first.frets == (0, 5, 7, 6), "the first fret is told by the numbers on the strings"
    assert second.frets == (0, 1, 3, 2)


def test_fingers_that_disagree_with_the_rows_are_fingers() -> None:
    barred = numbered(look("2213", fingers={0: 2, 1: 3, 2: 1, 3: 4}), {0: 2, 1: 3, 2: 1, 3: 4})
    assert not are_frets([barred] * 3)


def test_a_number_beside_the_grid_counts_more_than_those_on_the_strings() -> None:
    high = numbered(look("-132", nut=0.0, first=5), {1: 5, 2: 7, 3: 6})
    _, around = as_the_page_writes([high], [lettering(number=7)])
    assert around[0].numbers.argmax() == 7
