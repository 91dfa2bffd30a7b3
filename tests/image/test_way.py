"""Which way up: votes of the lettering, the nut against how grids usually lie."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from reading_samples import GRID, lettering, look

from reader.image.way import corner_on_page, is_told, lies_across, page_turn, roll, settle_ways

UNKNOWN = lettering(way_p=0.25)


def quarter_clockwise(points: np.ndarray, height: float = 300.0) -> np.ndarray:
    """The points on a page of this height once the page is turned a quarter clockwise."""
    return np.stack([height - points[:, 1], points[:, 0]], axis=1)


def turned_page(points: np.ndarray, quarters: int) -> np.ndarray:
    for _ in range(quarters):
        points = quarter_clockwise(points)
    return points


@pytest.mark.parametrize("off", range(4))
def test_a_page_whose_lettering_lies_is_turned_back(off: int) -> None:
    # lettering off by k quarters counter-clockwise comes upright by 4 - k more
    around = [lettering("C", way=off), lettering("F", way=off), UNKNOWN]
    assert page_turn(around) == -off % 4


def test_one_doubtful_label_turns_no_page() -> None:
    assert page_turn([lettering("N", way=1, way_p=0.5), lettering("C"), lettering("G")]) == 0
    assert page_turn([]) == 0
    assert page_turn([UNKNOWN]) == 0


def test_words_do_not_turn_a_page_so_that_all_nuts_lie_at_the_foot() -> None:
    words = [replace(lettering("D"), way=np.array([0.05, 0.45, 0.05, 0.05])) for _ in range(2)]
    looks = [look("21o3")] * 2
    assert page_turn(words) == 3
    assert page_turn(words, [GRID, GRID + [90, 0]], looks) == 0, "their nuts would lie at the right"
    assert page_turn(words, [turned_page(GRID, 3)] * 2, looks) == 3, "such a page does lie on its side"
    sure = [lettering("D", way=1)] * 4
    assert page_turn(sure, [GRID, GRID + [90, 0]], looks) == 3, "much lettering says more than they do"


def test_grids_without_nut_that_seem_to_stand_both_ways_tell_nothing_of_their_ends() -> None:
    bare = look("21o3", nut=0.01)
    mixed = [GRID, GRID + [90, 0], roll(GRID + [180, 0], 2), roll(GRID + [270, 0], 2)]
    looks = [replace(bare, way=np.array([0.97, 0.01, 0.01, 0.01]))] + [bare] * 3
    settled = settle_ways(mixed, looks, 0, told=False)
    assert [corner_on_page(c, 0) for c in settled] == [0, 0, 0, 0]
    headlong = [roll(c, 2) for c in (GRID, GRID + [90, 0], GRID + [180, 0])]
    assert [corner_on_page(c, 0) for c in settle_ways(headlong, [bare] * 3, 0, told=False)] == [2, 2, 2]


def test_a_page_is_told_by_lettering_that_reads_one_way_only() -> None:
    even = [replace(lettering("Am"), way=np.full(4, 0.25)) for _ in range(9)]
    assert not is_told(even)
    assert is_told([*even, lettering("Am")])


@pytest.mark.parametrize(("quarters", "across"), [(0, False), (1, True), (2, False), (3, True)])
def test_strings_become_frets_where_the_nut_moves_by_a_quarter(quarters: int, across: bool) -> None:
    assert lies_across(GRID, roll(GRID, quarters)) is across


def test_rolling_names_the_corners_from_another_nut_end() -> None:
    assert np.array_equal(roll(GRID, 1), GRID[[1, 2, 3, 0]])
    assert np.array_equal(roll(roll(GRID, 3), 1), GRID)


@pytest.mark.parametrize("quarters", range(4))
def test_the_corner_is_told_on_the_page_as_it_will_lie(quarters: int) -> None:
    lying = turned_page(GRID, quarters)
    assert corner_on_page(lying, 0) == quarters
    assert corner_on_page(lying, quarters) == 0


@pytest.mark.parametrize("quarters", range(4))
def test_on_a_turned_page_grids_stand_upright_all_the_same(quarters: int) -> None:
    lying = turned_page(GRID, quarters)
    unsure = look("ooo3")
    unsure.way[:] = 0.25
    for start in range(4):
        assert np.allclose(settle_ways([roll(lying, start)], [unsure], quarters)[0], lying)


def test_a_clear_nut_wins_over_what_is_usual() -> None:
    upside_down = roll(GRID, 2)
    assert np.allclose(settle_ways([upside_down], [look("ooo3", way=0)], 0)[0], GRID) is False
    assert np.allclose(settle_ways([upside_down], [look("ooo3", way=0)], 0)[0], upside_down)


def test_necks_lying_with_the_nut_at_the_left_are_usual() -> None:
    # the leftmost string of the upright diagram is the bottom line then
    neck = np.array([[100.0, 160], [100, 100], [180, 100], [180, 160]])
    fairly = look("ooo3")
    fairly.way[:] = (0.8, 0.1, 0.05, 0.05)
    assert np.allclose(settle_ways([neck], [fairly], 0)[0], neck)


def test_a_doubtful_grid_lies_as_the_others_of_its_page_do() -> None:
    neck = np.array([[100.0, 160], [100, 100], [180, 100], [180, 160]])
    blank = look("ooo-")
    blank.way[:] = (0.89, 0.03, 0.0, 0.08)
    assert np.allclose(settle_ways([neck], [blank], 0)[0], neck), "by itself it lies as it looks"
    upright = [look("ooo3")] * 7
    settled = settle_ways([neck, *[GRID] * 7], [blank, *upright], 0)
    assert corner_on_page(settled[0], 0) == 0
    assert all(np.allclose(c, GRID) for c in settled[1:])


def test_a_sure_neck_among_upright_grids_stays_a_neck() -> None:
    neck = np.array([[100.0, 160], [100, 100], [180, 100], [180, 160]])
    settled = settle_ways([neck, *[GRID] * 7], [look("ooo3")] * 8, 0)
    assert np.allclose(settled[0], neck)


def test_grids_without_nut_that_all_look_upside_down_stand_upright() -> None:
    flipped = [roll(GRID, 2) for _ in range(8)]
    without = [replace(look("ooo3", way=0), nut=0.05) for _ in flipped]
    assert all(corner_on_page(c, 0) == 0 for c in settle_ways(flipped, without, 0))
    unread = settle_ways(flipped, without, 0, told=False)
    assert all(corner_on_page(c, 0) == 2 for c in unread), "the page itself may lie so"
    with_nut = [look("ooo3", way=0) for _ in flipped]
    assert all(corner_on_page(c, 0) == 2 for c in settle_ways(flipped, with_nut, 0))


def test_one_nut_at_the_unusual_end_does_not_turn_the_other_grids() -> None:
    flipped = [roll(GRID, 2) for _ in range(6)]
    without = [replace(look("ooo3", way=0), nut=0.05) for _ in flipped]
    one = [replace(look("ooo3", way=0), nut=0.8), *without[1:]]
    assert all(corner_on_page(c, 0) == 0 for c in settle_ways(flipped, one, 0)[1:])
    most = [look("ooo3", way=0) for _ in flipped[1:]] + without[:1]
    assert all(corner_on_page(c, 0) == 2 for c in settle_ways(flipped, most, 0))


def test_grids_on_their_side_without_nut_have_it_at_the_left() -> None:
    right = np.array([[180.0, 100], [180, 160], [100, 160], [100, 100]])
    without = [replace(look("ooo3", way=0), nut=0.05) for _ in range(4)]
    assert all(corner_on_page(c, 0) == 3 for c in settle_ways([right] * 4, without, 0, told=False))
    with_nut = [look("ooo3", way=0) for _ in range(4)]
    assert all(corner_on_page(c, 0) == 1 for c in settle_ways([right] * 4, with_nut, 0, told=False))
