"""The trade's rules, on what a network might report. Rules: common practice, no source."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from reading_samples import lettering, look

from reader.frames import count_rows, count_strings, counted_together, first_fret_odds, options, rows_of_number
from reader.music.frame import Barre


@pytest.mark.parametrize(
    ("signs", "shape"),
    [
        ("---3", "0003"),  # an unmarked string is open
        ("ooo3", "0003"),  # so is a marked one
        ("x32-1-", "x32010"),
        ("x-x2", "x0x2"),
        ("3-3", "303"),
        ("12341234", "12341234"),
    ],
)
def test_marks_become_frets(signs: str, shape: str) -> None:
    assert str(options(look(signs), lettering())[0].frame.shape) == shape


@pytest.mark.parametrize(
    ("number", "row", "first"),
    [(5, 1, 5), (5, 3, 3), (7, 4, 4), (12, 1, 12), (10, 2, 9), (3, 3, 1)],
)
def test_a_number_names_the_row_that_it_stands_beside(number: int, row: int, first: int) -> None:
    frame = options(look("1123", nut=0.01, first=first), lettering(number=number, row=row))[0].frame
    assert frame.first_fret == first
    assert frame.frets == (first, first, first + 1, first + 2)


def test_a_number_holds_beside_a_nut_as_well() -> None:
    frame = options(look("12--", nut=0.99, first=5), lettering(number=5))[0].frame
    assert (frame.first_fret, frame.frets) == (5, (5, 6, 0, 0))


@pytest.mark.parametrize(("v", "row"), [(0.05, 1), (0.15, 1), (0.36, 2), (0.6, 3), (0.9, 4), (-0.2, 1), (1.3, 4)])
def test_the_row_of_a_number_is_found_within_the_grid(v: float, row: int) -> None:
    around = lettering()
    around.number_at[1] = 100 + 80 * v
    assert rows_of_number(look("---3"), around, 4) == [(row, 1.0)]


def test_a_number_beside_a_fret_may_be_that_of_either_row() -> None:
    around = lettering(number=6)
    around.number_at[1] = 100 + 80 * 0.25
    assert dict(rows_of_number(look("---3"), around, 4)) == pytest.approx({1: 0.75, 2: 0.25})
    around.number_at[1] = 100 + 80 * 0.5
    assert dict(rows_of_number(look("---3"), around, 4)) == pytest.approx({2: 0.5, 3: 0.5})
    odds = first_fret_odds(look("---3", nut=0.01, first=4), around, 4)
    assert {int(f) for f in np.argsort(odds)[-2:]} == {4, 5}


def test_the_row_of_a_number_is_found_on_a_neck_lying_on_its_side() -> None:
    # the nut at the left, the rightmost string on top: rows run along x
    lying = np.array([[100.0, 160], [100, 100], [180, 100], [180, 160]])
    around = lettering()
    around.number_at[:] = (150, 175)
    assert rows_of_number(look("---3", corners=lying), around, 4)[0][0] == 3


def test_a_number_that_cannot_be_read_spreads_the_first_fret() -> None:
    grid = look("---3", nut=0.01)
    read, unread = (first_fret_odds(grid, lettering(unread=u), 4) for u in (0.0, 0.9))
    assert read.sum() == pytest.approx(1)
    assert unread.sum() == pytest.approx(1)
    assert read[0] == unread[0] == 0
    assert read[1] > 0.99
    assert unread[1] < read[1]


def test_crop_and_number_that_disagree_leave_both_first_frets_open() -> None:
    found = options(look("1112", first=1), lettering(number=5, number_p=0.9))
    assert {o.frame.first_fret for o in found} >= {1, 5}


def test_a_barre_stops_its_strings_unless_a_stop_lies_further_up() -> None:
    under = dict.fromkeys(range(6), (1, 0.95))
    frame = options(look("-33---", barre=under), lettering())[0].frame
    assert frame.frets == (1, 3, 3, 1, 1, 1)
    assert frame.barres == (Barre(1, 6, 1),)


def test_an_unsure_barre_stops_nothing() -> None:
    assert options(look("----", barre=dict.fromkeys(range(4), (2, 0.55))), lettering())[0].frame.frets == (0, 0, 0, 0)


def test_a_muted_string_stays_muted_under_a_barre() -> None:
    frame = options(look("x11111", barre=dict.fromkeys(range(1, 6), (1, 0.95))), lettering())[0].frame
    assert frame.frets == (None, 1, 1, 1, 1, 1)
    assert frame.barres == (Barre(1, 5, 1),)


def test_a_barre_up_the_neck_is_counted_from_the_nut() -> None:
    grid = look("1111", nut=0.01, first=5, barre=dict.fromkeys((1, 2, 3), (1, 0.95)))
    assert options(grid, lettering(number=5))[0].frame.barres == (Barre(5, 3, 1),)


@pytest.mark.parametrize(
    ("signs", "p", "barres"),
    [
        ("1112", 0.2, (Barre(1, 4, 2),)),
        ("1112", 0.03, ()),  # a row of single stops
        ("1-12", 0.2, ()),  # nothing lies under a barre and sounds open
        ("1213", 0.2, (Barre(1, 4, 2),)),
    ],
)
def test_stops_in_one_row_need_less_of_a_barre_to_be_seen(signs: str, p: float, barres: tuple[Barre, ...]) -> None:
    under = {s: (1, p) for s, sign in enumerate(signs) if sign != "-"}
    assert options(look(signs, barre=under), lettering())[0].frame.barres == barres


def test_a_barre_runs_on_under_a_stop_further_up() -> None:
    under = {0: (2, 0.3), 1: (2, 0.3), 2: (2, 0.3), 3: (2, 0.7)}
    assert options(look("2223", barre=under), lettering())[0].frame.barres == (Barre(2, 4, 1),)


def test_the_finger_of_one_end_of_a_barre_helps_to_read_the_other() -> None:
    grid = look("1-11", barre={0: (1, 0.9), 1: (1, 0.5), 2: (1, 0.9), 3: (1, 0.9)})
    fingers = grid.fingers.copy()
    fingers[0], fingers[3] = (0.05, 0.95, 0, 0, 0, 0), (0.6, 0.4, 0, 0, 0, 0)
    fingers[2] = (0.9, 0.1, 0, 0, 0, 0)
    frame = options(replace(grid, fingers=fingers), lettering())[0].frame
    assert frame.fingers == (1, None, None, 1)


def test_one_string_is_no_barre_and_two_rows_are_two() -> None:
    grid = look("112222", barre={0: (1, 0.9), 1: (1, 0.9), 2: (2, 0.9), 3: (2, 0.9), 5: (1, 0.9)})
    assert options(grid, lettering())[0].frame.barres == (Barre(1, 6, 5), Barre(2, 4, 3))


def test_fingers_stand_only_on_stopped_strings() -> None:
    frame = options(look("-231", fingers={0: 1, 1: 2, 2: 3, 3: 5}), lettering())[0].frame
    assert frame.fingers == (None, 2, 3, "T")


def test_options_that_play_the_same_are_one() -> None:
    # an open string with and without its mark is one shape
    found = options(look("---3", doubts={0: {"-": 0.5, "o": 0.3, "2": 0.2}}), lettering())
    assert [str(o.frame.shape) for o in found] == ["0003", "2003"]
    assert found[0].probability == pytest.approx(0.8, abs=0.02)
    assert found[1].probability == pytest.approx(0.2, abs=0.02)


def test_what_is_hardly_possible_is_no_option() -> None:
    found = options(look("---3", doubts={0: {"-": 0.99, "2": 0.01}}), lettering())
    assert [str(o.frame.shape) for o in found] == ["0003"]


def test_the_diagram_grows_to_hold_its_stops() -> None:
    grid = look("---5", rows=4)
    assert options(grid, lettering())[0].frame.fret_count >= 5
    assert count_rows(grid, 1)[0] == 4


@pytest.mark.parametrize("count", range(3, 9))
def test_strings_are_counted(count: int) -> None:
    n, p = count_strings(look("1" * count))
    assert n == count
    assert p > 0.95


def test_a_count_that_the_strings_contradict_is_unsure() -> None:
    grid = look("1111")
    grid.strings[:] = 0
    grid.strings[6] = 1.0
    assert count_strings(grid)[1] < 0.99


def test_the_rest_of_the_page_tells_how_many_strings_a_doubtful_grid_has() -> None:
    sure = look("ooo3")
    doubtful = replace(sure, strings=np.eye(9)[3] * 0.8 + np.eye(9)[4] * 0.2, states=sure.states.copy())
    doubtful.states[3] = doubtful.states[3] * 0.4 + np.eye(doubtful.states.shape[1])[0] * 0.6
    assert count_strings(doubtful)[0] == 3
    assert count_strings(counted_together([doubtful])[0])[0] == 3
    assert [count_strings(k)[0] for k in counted_together([doubtful, *[sure] * 5])] == [4] * 6
    six = look("o3o2o1")
    assert count_strings(counted_together([six, *[sure] * 5])[0])[0] == 6, "what is surely seen stays"


def test_a_barre_over_the_first_row_may_be_the_second_line_of_a_nut() -> None:
    barred = look("1111", barre=dict.fromkeys(range(4), (1, 0.99)))
    first, second = options(barred, lettering())[:2]
    assert (str(first.frame.shape), str(second.frame.shape)) == ("1111", "0000")
    assert second.frame.barres == ()
    assert "0000" not in {str(o.frame.shape) for o in options(look("1112"), lettering())}
