"""Numbers in another ink than the lines stand alone; numbers in the same ink stay where they are."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from reader.image.tab_colour import numbers_alone
from reader.image.tab_lines import FINE, GAP, MARGIN
from reader.image.tab_strip import Spot

FINE_GAP = GAP * FINE
PLACES = ((60, 2), (130, 4), (200, 6), (270, 3))
BLACK = (30, 30, 30)


def strip(ink: tuple[int, int, int], line: tuple[int, int, int], paper: tuple[int, int, int]) -> np.ndarray:
    """Six lines with an 8 at each place."""
    fine = np.full((10 * FINE_GAP, 700, 3), paper, np.uint8)
    for i in range(6):
        y = (MARGIN + i) * FINE_GAP + FINE_GAP // 2
        cv2.line(fine, (0, y), (700, y), line, 4)
    for column, block in PLACES:
        corner = (column * FINE - 10, block * FINE_GAP + FINE_GAP // 2 + 11)
        cv2.putText(fine, "8", corner, cv2.FONT_HERSHEY_SIMPLEX, 1.0, ink, 3, cv2.LINE_AA)
    return fine


def spots(here: float = 2.0) -> tuple[Spot, ...]:
    return tuple(Spot(c, k, here, np.full(26, -3.0), -5.0) for c, k in PLACES)


@pytest.mark.parametrize("paper", [(250, 250, 250), (235, 215, 170)])
@pytest.mark.parametrize("ink", [(235, 150, 60), (30, 150, 70), (200, 40, 60)])
def test_lines_vanish_where_numbers_have_another_colour(ink: tuple[int, int, int], paper: tuple[int, int, int]) -> None:
    alone = numbers_alone(strip(ink, BLACK, paper), spots())
    assert alone is not None
    bare = alone[:, 620:].min()
    assert bare > 200
    for column, block in PLACES:
        row = block * FINE_GAP + FINE_GAP // 2
        assert alone[row - 12 : row + 12, column * FINE - 12 : column * FINE + 12].min() < 110


@pytest.mark.parametrize("ink", [BLACK, (60, 60, 160)])
def test_one_ink_for_all_stays_as_it_is(ink: tuple[int, int, int]) -> None:
    assert numbers_alone(strip(ink, ink, (250, 245, 235)), spots()) is None


def test_few_or_doubtful_numbers_do_not_tell_a_colour() -> None:
    coloured = strip((235, 150, 60), BLACK, (250, 250, 250))
    assert numbers_alone(coloured, spots()[:2]) is None
    assert numbers_alone(coloured, spots(here=-1.0)) is None


def test_an_empty_strip_has_no_ink_to_tell_from() -> None:
    assert numbers_alone(np.full((10 * FINE_GAP, 700, 3), 250, np.uint8), spots()) is None
