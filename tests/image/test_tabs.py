"""Tab systems: votes to edges, lines followed, scores to numbers, and whole pages that this project drew itself."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from reader.image import tab_find, tab_ink, tab_lines, tab_strip, tabs
from reader.image.regions import covered
from reader.image.tab_find import Cells, TabRegion
from reader.image.tab_lines import GAP, MARGIN


def region(
    lines: int, gap: float, slope: float = 0.0, left: float = 60, right: float = 900, top: float = 100
) -> TabRegion:
    xs = np.linspace(left, right, 30)
    first = top + slope * (xs - left)
    last = first + gap * (lines - 1)
    return TabRegion(tuple(xs), tuple(first), tuple(last), lines, 0.9, tuple(float(n == lines) for n in range(4, 9)))


def drawn_lines(rows: np.ndarray, xs: np.ndarray, size: tuple[int, int], pen: int = 2) -> np.ndarray:
    page = np.full((*size, 3), 255, np.uint8)
    for ys in rows:
        points = np.round(np.column_stack([xs, ys]) * 16).astype(np.int32)
        cv2.polylines(page, [points], False, (0, 0, 0), pen, cv2.LINE_AA, 4)
    return page


# ---------------------------------------------------------------- finding


def votes_of(rows: slice, cols: slice, lines: int, shape: tuple[int, int] = (40, 60)) -> np.ndarray:
    """Raw scores of a network that is sure of one level system in a block of cells."""
    votes = np.zeros((11, *shape))
    votes[0] = 6
    votes[0, rows, cols], votes[1, rows, cols] = 0, 6
    votes[4 + lines - 4, rows, cols] = 5
    centres = np.arange(shape[0])[:, None] * 8 + 4
    votes[9] = (centres - (rows.start * 8 + 8)) / 16
    votes[10] = (rows.stop * 8 - 8 - centres) / 16
    return votes


def test_votes_become_the_edges_of_a_system() -> None:
    cells = tab_find.read_votes(votes_of(slice(10, 18), slice(5, 50), 6), 0.5)
    ((_, found),) = tab_find.regions_at(cells)
    assert found.line_count == 6
    assert found.xs[0] == pytest.approx(5 * 8 / 0.5, abs=1)
    assert found.xs[-1] == pytest.approx(50 * 8 / 0.5, abs=1)
    assert np.allclose(found.first, 88 / 0.5, atol=2)
    assert np.allclose(found.last, 136 / 0.5, atol=2)


def test_two_systems_close_together_stay_two() -> None:
    upper, lower = votes_of(slice(4, 10), slice(5, 50), 4), votes_of(slice(10, 16), slice(5, 50), 4)
    both = np.where(np.arange(40)[None, :, None] < 10, upper, lower)
    found = tab_find.regions_at(tab_find.read_votes(both, 1.0))
    assert len(found) == 2


def test_a_region_too_short_for_a_system_is_dropped() -> None:
    assert tab_find.regions_at(tab_find.read_votes(votes_of(slice(10, 18), slice(5, 7), 6), 1.0)) == []


def test_of_two_that_cover_each_other_the_better_stays() -> None:
    good, poor = region(6, 10), region(5, 12, top=104)
    (kept,) = tab_find.suppressed([(0.4, poor), (0.9, good)])
    assert kept.corners == good.corners
    assert kept.others == (poor,)


def test_systems_are_read_from_top_left() -> None:
    upper_left, upper_right = region(6, 10, right=400), region(6, 10, left=500, top=110)
    lower = region(6, 10, top=300)
    assert tab_find.in_reading_order([lower, upper_right, upper_left]) == [upper_left, upper_right, lower]


def test_an_outlying_vote_does_not_bend_an_edge() -> None:
    xs = np.arange(40) * 8.0
    ys = 50 + 0.1 * xs
    wrong = ys.copy()
    wrong[[7, 20]] += 60
    smooth = tab_find.smooth_edge(xs, wrong, np.ones(40), xs, 10.0)
    assert np.abs(smooth - ys).max() < 1.5


def test_the_page_is_looked_at_in_sizes_that_divide() -> None:
    seen: list[tuple[int, ...]] = []

    def run(inputs: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
        shape = inputs["picture"].shape
        seen.append(shape)
        return {"cells": np.zeros((1, 11, shape[2] // 8, shape[3] // 8), np.float32)}

    assert tab_find.look(np.full((1700, 2400, 3), 255, np.uint8), run)[0].scale == pytest.approx(1280 / 2400)
    assert all(h % 32 == 0 and w % 32 == 0 for _, _, h, w in seen)
    assert [max(h, w) for _, _, h, w in seen] == [1280, 640, 416, 256, 160, 128]


# ---------------------------------------------------------------- lines


@pytest.mark.parametrize("slope", [0.0, 0.15, -0.1])
@pytest.mark.parametrize("lines", [4, 6, 8])
def test_strip_places_map_to_the_lines_on_the_page(lines: int, slope: float) -> None:
    here = region(lines, 14.0, slope)
    frame = tab_lines.rough_frame(here, lines)
    columns = np.array([100.0, 300.0, 500.0])
    for i in range(lines):
        points = frame.page_points(columns, np.full(3, (MARGIN + i) * GAP + GAP / 2))
        wanted = np.interp(points[:, 0], here.xs, here.first) + 14.0 * i
        assert np.abs(points[:, 1] - wanted).max() < 0.5


def test_a_strip_holds_each_line_in_the_middle_of_its_block() -> None:
    xs = np.linspace(60, 900, 200)
    rows = np.stack([100 + 0.1 * (xs - 60) + 15 * i for i in range(6)])
    strip = tab_lines.cut(drawn_lines(rows, xs, (400, 960)), tab_lines.rough_frame(region(6, 15, 0.1), 6))
    middle = strip[:, 200:-200].min(axis=2).mean(axis=1).reshape(-1, GAP)
    assert [int(np.argmin(block)) for block in middle[MARGIN : MARGIN + 6]] == pytest.approx([9.5] * 6, abs=1)


def test_a_region_goes_on_as_its_edges_last_ran() -> None:
    here = region(6, 14.0, 0.1, left=200, right=700)
    longer = here.reaching(100, 900)
    assert (longer.xs[0], longer.xs[-1], len(longer.xs)) == (100, 900, len(here.xs) + 2)
    assert np.allclose([longer.first[0], longer.first[-1], longer.last[-1]], [90, 170, 240])
    assert here.reaching(200, 700) == here


@pytest.mark.parametrize(("left", "right"), [(60, 900), (300, 900), (60, 500), (400, 600), (60, 200)])
def test_a_system_of_which_the_finder_missed_a_part_is_read_whole(left: float, right: float) -> None:
    xs = np.array([60.0, 900.0])
    page = drawn_lines(100 + 16 * np.arange(6)[:, None] + np.zeros(2), xs, (300, 960))
    for x in (60, 480, 900):
        cv2.line(page, (x, 100), (x, 180), (0, 0, 0), 2)
    for i, x in enumerate(range(110, 880, 70)):
        y = 100 + 16 * (i % 6)
        page[y - 3 : y + 4, x - 9 : x + 9] = 255
        cv2.putText(page, str(i % 8 + 2), (x - 5, y + 6), cv2.FONT_HERSHEY_SIMPLEX, 0.5, (0, 0, 0), 1, cv2.LINE_AA)
    (seen,) = tabs.read_cut(page, tabs.cut_region(page, region(6, 16.0, left=left, right=right)))
    assert [round(corner[0], -1) for corner in seen.corners[:2]] == [60, 900]
    assert len(seen.events) == 11


def test_where_more_is_in_doubt_than_read_there_is_no_tab() -> None:
    evidence = dict.fromkeys(tabs.IS_TAB, 1.0) | {"numbers": 6.0, "length": 20.0}
    for doubts, told in ((0.0, True), (6.0, True), (7.0, False)):
        assert tabs.is_tab(tabs.SeenTab(((0.0, 0.0),) * 4, 6, (), (), evidence | {"doubts": doubts})) is told
    dotted = evidence | {"doubts": 40.0, "numbers": 20.0, "count_vote": 1.0}
    assert tabs.is_tab(tabs.SeenTab(((0.0, 0.0),) * 4, 6, (), (), dotted)), "plainly seen, on dotted paper"
    assert not tabs.is_tab(tabs.SeenTab(((0.0, 0.0),) * 4, 6, (), (), dotted | {"finder": 0.7}))


def test_a_region_takes_the_lines_that_are_usual_on_its_page() -> None:
    clear = [tabs.SeenTab(((0, y), (300, y), (300, y + 48), (0, y + 48)), 4, (), ()) for y in (0, 100)]
    clear.append(tabs.SeenTab(((0, 300), (300, 300), (300, 400), (0, 400)), 6, (), ()))
    assert tabs.usual_lines([]) is None
    assert tabs.usual_lines(clear) == (4, 16.0)
    taken = region(6, 10.0).ruled(4, 16.0)
    assert (taken.line_count, taken.gap, taken.count_votes) == (4, 16.0, (1.0, 0.0, 0.0, 0.0, 0.0))
    middle = np.add(region(6, 10.0).first, region(6, 10.0).last)
    assert np.allclose(np.add(taken.first, taken.last), middle)


def test_freehand_lines_are_followed() -> None:
    xs = np.linspace(60, 900, 300)
    waves = np.stack([0.3 * 18 * np.sin(xs / 140 + i) for i in range(6)])
    rows = 100 + 18 * np.arange(6)[:, None] + waves
    page = drawn_lines(rows, xs, (300, 960))
    frame = tab_lines.rough_frame(region(6, 18), 6)
    ridges = tab_lines.ridge(tab_lines.darkness(tab_lines.cut(page, frame)))
    found = tab_lines.refined(frame, tab_lines.follow(ridges, 6))
    for i in range(6):
        points = found.page_points(np.arange(80.0, 900, 50), np.full(17, (MARGIN + i) * GAP + GAP / 2))
        assert np.abs(points[:, 1] - np.interp(points[:, 0], xs, rows[i])).max() < 0.2 * 18
    assert tab_lines.misfit(ridges, tab_lines.follow(ridges, 6)) < 0.2


def test_two_lines_never_take_the_same_ink() -> None:
    ridges = np.zeros((8 * GAP, 400))
    for i in (0, 2, 3):
        ridges[(MARGIN + i) * GAP + GAP // 2] = 0.3  # the second of four lines is missing
    away = tab_lines.follow(ridges, 4)
    places = away + np.arange(4)[:, None] * GAP
    assert np.diff(places, axis=0).min() > tab_lines.TOUCHING


@pytest.mark.parametrize("lines", [4, 5, 6, 7])
def test_lines_are_counted_by_their_ink(lines: int) -> None:
    xs = np.linspace(60, 900, 50)
    rows = np.stack([np.full(50, 100.0) + 80 / (lines - 1) * i for i in range(lines)])
    unsure = TabRegion(tuple(xs), (100.0,) * 50, (180.0,) * 50, 6, 0.9, (0.2, 0.2, 0.2, 0.2, 0.2))
    strip = tab_lines.cut(drawn_lines(rows, xs, (300, 960)), tab_lines.rough_frame(unsure, 6))
    assert tab_lines.count_lines(unsure, tab_lines.ridge(tab_lines.darkness(strip)))[0] == lines


@pytest.mark.parametrize(("pale", "kept"), [(0, (1, 5)), (5, (0, 4)), (None, None)])
def test_an_outermost_line_much_paler_than_the_others_is_the_papers(
    pale: int | None, kept: tuple[int, int] | None
) -> None:
    strip = np.full(((6 + 2 * MARGIN) * GAP, 600, 3), 245, np.uint8)
    for line in range(6):
        y = (MARGIN + line) * GAP + GAP // 2
        cv2.line(strip, (0, y), (600, y), (225, 228, 240) if line == pale else (60, 60, 90), 2)
    found = tab_lines.paper_edge(strip, 6)
    assert found == (None if kept is None else (MARGIN + kept[0], MARGIN + kept[1]))


@pytest.mark.parametrize(("lines", "ink", "kept"), [(7, 130, (1, 6)), (7, 60, None), (6, 130, None)])
def test_a_weaker_outer_line_that_runs_on_is_the_papers(lines: int, ink: int, kept: tuple[int, int] | None) -> None:
    strip = np.full(((lines + 2 * MARGIN) * GAP, 600, 3), 245, np.uint8)
    for line in range(lines):
        y = (MARGIN + line) * GAP + GAP // 2
        ends = (0, 600) if line == 0 else (50, 550)
        cv2.line(strip, (ends[0], y), (ends[1], y), (ink, ink, ink) if line == 0 else (60, 60, 60), 2)
    found = tab_lines.paper_edge(strip, lines)
    assert found == (None if kept is None else (MARGIN + kept[0], MARGIN + kept[1]))


def test_four_lines_stay_four_whatever_their_ink() -> None:
    strip = np.full(((4 + 2 * MARGIN) * GAP, 600, 3), 245, np.uint8)
    for line in range(4):
        y = (MARGIN + line) * GAP + GAP // 2
        cv2.line(strip, (0, y), (600, y), (225, 228, 240) if line == 0 else (60, 60, 90), 2)
    assert tab_lines.paper_edge(strip, 4) is None


def test_chalk_is_turned_into_ink() -> None:
    xs = np.linspace(60, 900, 50)
    rows = np.stack([np.full(50, 100.0 + 18 * i) for i in range(6)])
    board = 255 - drawn_lines(rows, xs, (300, 960))
    frame = tab_lines.rough_frame(region(6, 18), 6)
    assert tab_lines.is_light_on_dark(tab_lines.cut(board, frame), 6)
    assert not tab_lines.is_light_on_dark(tab_lines.cut(255 - board, frame), 6)


def test_reading_cuts_strips_as_training_draws_them() -> None:
    from reader.training.tabs import strips, systems, tiles

    assert (strips.GAP, strips.MARGIN, strips.STRIDE) == (GAP, MARGIN, tab_strip.STRIDE)
    assert systems.BAR_KINDS == tab_strip.BAR_KINDS
    assert [s for s in systems.SIGNS if s != "("] == [s for s in tab_strip.SIGNS if s != "slur"]
    assert systems.MUTED == tab_strip.MUTED
    assert (tiles.CELL, tiles.DISTANCE_UNIT, tiles.TAB) == (tab_find.CELL, tab_find.DISTANCE_UNIT, tab_find.TAB)


# ---------------------------------------------------------------- scores to symbols


def scores(
    numbers: list[tuple[int, int, int, int]], blocks: int = 10, columns: int = 80
) -> tuple[np.ndarray, np.ndarray]:
    """Raw scores of a network that is sure of numbers (block, column, tens, units) and of the lines."""
    notes, bars = np.full((25, blocks, columns), -6.0), np.full((7, columns), -6.0)
    notes[16] = 0.0  # no offset
    notes[17, MARGIN : blocks - MARGIN] = 6.0
    bars[1] = 6.0
    for block, column, tens, units in numbers:
        notes[0, block, column] = 5.0
        notes[1 + tens, block, column] = 6.0
        notes[4 + units, block, column] = 6.0
    return notes, bars


def test_digits_make_a_number() -> None:
    answer = tab_strip.read_answer(*scores([(3, 10, 0, 7), (4, 20, 1, 2), (5, 30, 2, 4), (2, 40, 0, 10)]))
    assert [(s.block, int(s.values.argmax())) for s in answer.spots] == [(3, 7), (4, 12), (5, 24), (2, 25)]
    assert all(s.here == 5.0 and np.exp(s.values.max()) > 0.95 for s in answer.spots)
    assert answer.spots[0].column == pytest.approx(10.5 * 4)
    assert answer.numbers == ()


def test_scores_of_all_values_cover_what_can_be_drawn() -> None:
    shares = np.exp(tab_strip.value_scores(np.zeros(11), np.zeros(3)))
    assert len(shares) == 26  # frets 0 to 24 and x
    assert shares[24] == pytest.approx(1 / 33)
    assert shares[25] == pytest.approx(1 / 11)


def test_lines_seen_one_block_lower_move_the_frame() -> None:
    seen = np.array([0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.1])
    assert tab_strip.line_span(seen) == (3, 8)
    assert tab_strip.expected_span(10) == (2, 7)


def test_a_gap_in_the_lines_parts_two_systems() -> None:
    inside = np.concatenate([np.full(50, 0.9), np.full(30, 0.1), np.full(60, 0.9)])
    assert tab_strip.spans(inside, 3.0) == [(0.0, pytest.approx(200, abs=4)), (pytest.approx(320, abs=4), 560.0)]
    assert len(tab_strip.spans(np.concatenate([inside[:50], np.full(5, 0.1), inside[80:]]), 3.0)) == 1


def test_only_unread_ink_counts_as_unexplained() -> None:
    strip = np.full((200, 400, 3), 255, np.uint8)
    for i in range(6):
        strip[(MARGIN + i) * GAP + 9 : (MARGIN + i) * GAP + 11] = 0
    for column, block in ((160, 3), (280, 5)):
        cv2.ellipse(strip, (column, block * GAP + 10), (5, 7), 0, 0, 360, (0, 0, 0), 2)
    both = tuple(tab_strip.Number(c, k, 0, False, 0.99, 8) for c, k in ((158.0, 3), (278.0, 5)))
    empty = tab_strip.read_answer(*scores([], columns=100))
    read_one, read_both = replace(empty, numbers=both[:1]), replace(empty, numbers=both)
    assert tab_ink.unexplained(strip, read_one, (0, 400), 6) == 1
    assert tab_ink.unexplained(strip, read_both, (0, 400), 6) == 0


def test_cells_of_another_kind_are_no_system() -> None:
    empty = Cells(1.0, np.zeros((20, 20)), np.zeros((5, 20, 20)), np.ones((20, 20)) * 20, np.ones((20, 20)) * 20)
    assert tab_find.regions_at(empty) == []


def test_a_system_found_in_two_pieces_is_one() -> None:
    """Each piece was followed as far as its lines run; one below it is another."""

    def system(left: float, top: float, sure: float) -> tabs.SeenTab:
        note = tabs.SeenNote(0, 3, left + 50, top, False, sure, None)
        corners = ((left, top), (900.0, top), (900.0, top + 60), (left, top + 60))
        return tabs.SeenTab(corners, 4, (tabs.SeenEvent(left + 50, (note,)),), ())

    first, again, below = system(60, 100, 0.9), system(62, 102, 0.95), system(60, 150, 0.8)
    assert tabs.once([first, again, below]) == (again, below)
    assert covered(np.array(first.corners), np.array(below.corners)) == pytest.approx(1 / 6, abs=0.01)


def seen_with(count_vote: float, beyond: float, uneven: float = 0.1) -> tabs.Read:
    evidence = {"lines_seen": 0.98, "lines_beyond": beyond, "count_vote": count_vote, "lines_uneven": uneven}
    return tabs.Read((tabs.SeenTab(((0.0, 0.0),) * 4, 6, (), (), evidence),))


def test_lines_in_the_number_that_the_finder_saw_are_clearer() -> None:
    assert tabs.Read().clear == 0
    assert seen_with(1.0, 0.0).clear > seen_with(1.0, 0.3).clear > seen_with(0.0, 0.0).clear
    assert seen_with(1.0, 0.0, 0.7).clear < seen_with(1.0, 0.0, 0.2).clear


def test_a_line_that_leaves_its_course_makes_the_system_uneven() -> None:
    frame = tab_lines.rough_frame(region(6, 15), 6)
    assert tab_lines.unevenness(frame, (100, 900)) < 0.01
    bent = frame.offsets.copy()
    bent[MARGIN, 300:340] -= 0.6 * frame.gap
    astray = replace(frame, offsets=bent)
    assert tab_lines.unevenness(astray, (100, 900)) == pytest.approx(0.6, abs=0.02)
    assert tab_lines.unevenness(astray, (400, 900)) < 0.01
