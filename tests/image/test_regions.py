"""Finding diagrams: figures compared by hand-counted areas, order of reading, sizes searched."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from reading_samples import page_of, song_page

from reader.export.truth import page_truth
from reader.image.regions import Region, covered, find_regions, keep_best, overlap, reading_order, search_scales


def square(x: float, y: float, side: float = 10.0) -> np.ndarray:
    return np.array([[x, y], [x + side, y], [x + side, y + side], [x, y + side]], float)


@pytest.mark.parametrize(
    ("other", "union", "smaller"),
    [
        (square(0, 0), 1.0, 1.0),
        (square(5, 0), 50 / 150, 0.5),
        (square(5, 5), 25 / 175, 0.25),
        (square(2, 2, 5), 25 / 100, 1.0),
        (square(20, 0), 0.0, 0.0),
        (square(0, 0)[::-1], 1.0, 1.0),
        (np.array([[5.0, -5], [15, 5], [5, 15], [-5, 5]]), 100 / 200, 1.0),
    ],
)
def test_overlap_of_squares(other: np.ndarray, union: float, smaller: float) -> None:
    assert overlap(square(0, 0), other) == pytest.approx(union, abs=1e-4)
    assert overlap(other, square(0, 0)) == pytest.approx(union, abs=1e-4)
    assert covered(square(0, 0), other) == pytest.approx(smaller, abs=1e-4)


def test_figures_without_area_overlap_nothing() -> None:
    assert overlap(square(0, 0, 0), square(0, 0, 0)) == 0.0
    assert covered(square(0, 0), square(3, 3, 0)) == 0.0


def test_of_two_finds_of_one_diagram_the_surest_stays() -> None:
    finds = [Region(square(1, 0), 0.7), Region(square(0, 0), 0.9), Region(square(30, 0), 0.5)]
    assert [r.confidence for r in keep_best(finds)] == [0.9, 0.5]


def test_a_small_find_inside_a_large_one_is_part_of_it() -> None:
    assert len(keep_best([Region(square(0, 0, 30), 0.9), Region(square(3, 3, 8), 0.8)])) == 1
    # neighbours that touch are two
    assert len(keep_best([Region(square(0, 0), 0.9), Region(square(9, 0), 0.8)])) == 2


def test_rows_are_read_from_the_left_though_they_hang_unevenly() -> None:
    boxes = [square(40, 3), square(0, 0), square(20, -3), square(21, 30), square(1, 33)]
    assert reading_order(boxes) == [1, 2, 0, 4, 3]
    assert reading_order([]) == []
    assert reading_order([square(5, 5)]) == [0]


def test_a_tall_box_does_not_swallow_the_next_row() -> None:
    boxes = [square(0, 0, 10), square(20, 0, 18), square(0, 22, 10), square(20, 22, 10)]
    assert reading_order(boxes) == [0, 1, 2, 3]


def test_every_box_is_read_once() -> None:
    rng = np.random.default_rng(1)
    boxes = [square(*rng.uniform(0, 200, 2), rng.uniform(5, 60)) for _ in range(40)]
    assert sorted(reading_order(boxes)) == list(range(40))


@pytest.mark.parametrize("side", [300, 600, 900, 1500, 1792, 3000, 6000])
def test_pages_are_searched_at_falling_sizes(side: int) -> None:
    scales = search_scales(side)
    assert all(a > b for a, b in pairwise(scales))
    assert max(scales) * side <= 1800 or side < 1800
    assert (scales[0] > 1) == (side < 700), "small pictures are enlarged"


def test_drawn_diagrams_are_found_where_they_stand() -> None:
    drawing, pixels = song_page()
    truth = page_truth(drawing, page_of(pixels).dpi)
    found = [r for r in find_regions(pixels) if r.confidence > 0.4]
    assert len(found) == len(truth.diagrams)
    for diagram in truth.diagrams:
        assert max(overlap(r.corners, np.array(diagram.corners)) for r in found) > 0.75


def test_blank_paper_holds_no_diagram() -> None:
    assert [r for r in find_regions(np.full((400, 300, 3), 245, np.uint8)) if r.confidence > 0.3] == []
