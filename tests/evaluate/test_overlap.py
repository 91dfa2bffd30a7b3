"""Overlaps worked out by hand, and as a property against areas counted point by point."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.draw import polygon2mask

from reader.evaluate.overlap import intersection, is_convex, match_one_to_one, overlap, signed_area

SQUARE = [(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)]


def shifted(x: float, y: float) -> list[tuple[float, float]]:
    return [(px + x, py + y) for px, py in SQUARE]


@pytest.mark.parametrize(
    ("other", "expected"),
    [
        (SQUARE, 1.0),
        (SQUARE[::-1], 1.0),  # the other way round is the same place
        (shifted(1, 0), 1 / 3),  # shares 2 of 6
        (shifted(1, 1), 1 / 7),  # shares 1 of 7
        (shifted(2, 0), 0.0),  # touches
        (shifted(5, 0), 0.0),
        ([(0.5, 0.5), (1.5, 0.5), (1.5, 1.5), (0.5, 1.5)], 1 / 4),  # lies inside
    ],
)
def test_overlap_of_squares(other: list[tuple[float, float]], expected: float) -> None:
    assert overlap(SQUARE, other) == pytest.approx(expected)
    assert overlap(other, SQUARE) == pytest.approx(expected)


def test_a_diamond_in_its_box_counts_as_the_box() -> None:
    # The diamond covers half the square (overlap 1/2), but their bounding boxes are equal.
    diamond = [(1.0, 0.0), (2.0, 1.0), (1.0, 2.0), (0.0, 1.0)]
    assert abs(signed_area(intersection(SQUARE, diamond))) == pytest.approx(2.0)
    assert overlap(SQUARE, diamond) == 1.0


def test_corners_in_a_crossed_order_still_cover_their_box() -> None:
    crossed = [SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3]]
    assert not is_convex(crossed)
    assert overlap(SQUARE, crossed) == 1.0


@pytest.mark.parametrize("broken", [[], SQUARE[:3], [*SQUARE[:3], (float("nan"), 2.0)]])
def test_what_is_no_quadrilateral_covers_nothing(broken: list[tuple[float, float]]) -> None:
    assert overlap(SQUARE, broken) == 0.0


@st.composite
def convex_quadrilaterals(draw: st.DrawFn) -> list[tuple[float, float]]:
    """Four points on a circle, in order: always convex."""
    centre = draw(st.tuples(st.floats(80, 120), st.floats(80, 120)))
    start = draw(st.floats(0, 6))
    steps = draw(st.lists(st.floats(0.8, 1.4), min_size=3, max_size=3))
    angles = start + np.concatenate([[0], np.cumsum(steps)])
    return [(float(centre[0] + 60 * np.cos(a)), float(centre[1] + 60 * np.sin(a))) for a in angles]


@settings(max_examples=40, deadline=None)
@given(convex_quadrilaterals(), convex_quadrilaterals())
def test_shared_area_equals_counted_pixels(a: list[tuple[float, float]], b: list[tuple[float, float]]) -> None:
    """Against the pixel masks of scikit-image (`polygon2mask`)."""
    shape, scale = (800, 800), 4
    masks = [polygon2mask(shape, [(y * scale, x * scale) for x, y in q]) for q in (a, b)]
    counted = float((masks[0] & masks[1]).sum()) / scale**2
    meeting = intersection(a, b)
    assert abs(signed_area(meeting) if meeting else 0.0) == pytest.approx(counted, abs=60)


def test_best_pairs_first_and_each_region_once() -> None:
    # The reading at 0.1 meets both true squares; the one at 0.9 is nearer to the second.
    truth = [SQUARE, shifted(1, 0)]
    readings = [shifted(0.9, 0), shifted(0.1, 0), shifted(0.2, 0)]
    assert match_one_to_one(truth, readings) == {0: 1, 1: 0}


def test_pairs_below_the_least_overlap_are_none() -> None:
    assert match_one_to_one([SQUARE], [shifted(1, 0)]) == {}
    assert match_one_to_one([SQUARE], [shifted(1, 0)], overlap_least=0.3) == {0: 0}
    assert match_one_to_one([], [SQUARE]) == {}
