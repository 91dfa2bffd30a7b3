"""How strong ink is, of a page and of a part of it."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from reader.image.levels import Levels
from reader.image.page_ink import ink_of_page


def written_page(*levels: int) -> np.ndarray:
    """White paper with ten lines of strokes in each of these greys."""
    page = np.full((600, 480, 3), 250, np.uint8)
    for block, level in enumerate(levels):
        for k in range(10):
            for x in range(20, 460, 12):
                y = 20 + (block * 10 + k) * 560 // (10 * len(levels))
                cv2.line(page, (x, y), (x + 4, y + 9), (level,) * 3, 2)
    return page


def test_ink_of_a_page_is_that_of_most_of_its_strokes() -> None:
    assert ink_of_page(Levels(written_page())).usual == 0
    black, pale = (ink_of_page(Levels(written_page(level))).usual for level in (10, 190))
    assert black > 200
    assert 40 < pale < 70
    assert ink_of_page(Levels(written_page(10, 10, 190))).usual == pytest.approx(black, rel=0.1)
    # brightness that drifts, as in a photo, is no ink
    drift = np.linspace(120, 250, 480)[None, :, None].repeat(600, 0).repeat(3, 2).astype(np.uint8)
    assert ink_of_page(Levels(drift)).usual == 0


def box(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    return np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], float)


def test_ink_of_a_part_is_what_stands_there() -> None:
    ink = ink_of_page(Levels(written_page(10, 190)))
    assert ink.around(box(60, 60, 400, 250)) > 200
    assert 40 < ink.around(box(60, 340, 400, 560)) < 70
    assert ink.around(box(-80, -60, -20, -10)) < 260, "what lies off the page does not fail"
    assert ink_of_page(Levels(written_page())).around(box(60, 60, 400, 250)) == 0


@pytest.mark.parametrize("pen", [1, 2, 9])
def test_a_grid_is_as_strong_as_other_ink_however_large_and_thin_its_lines(pen: int) -> None:
    page = written_page(20)
    page[40:560, 40:440] = 250
    for k in range(5):
        cv2.line(page, (80 + 80 * k, 80), (80 + 80 * k, 520), (20, 20, 20), pen)
        cv2.line(page, (80, 80 + 110 * k), (400, 80 + 110 * k), (20, 20, 20), pen)
    ink = ink_of_page(Levels(page))
    assert ink.around(box(80, 80, 400, 520)) > 0.9 * ink.usual
