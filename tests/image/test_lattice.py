"""A lattice is laid on the lines that are drawn, and stays where nothing speaks for another place."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from reader.image.crops import Points
from reader.image.lattice import has_two_rows, lay

STRINGS, ROWS, GAP, CELL = 6, 4, 22.0, 30.0


def grid_picture(closing: bool = True, lean: float = 0.0, rows: int = ROWS) -> tuple[np.ndarray, Points]:
    """A grid drawn with thin lines on grey paper, and its corners."""
    picture = np.full((240, 260, 3), 205, np.uint8)
    x0, y0 = 60.0, 50.0
    w, h = GAP * (STRINGS - 1), CELL * ROWS
    corners = np.array([[x0, y0], [x0 + w, y0], [x0 + w + lean, y0 + h], [x0 + lean, y0 + h]])
    for s in np.linspace(0, 1, STRINGS):
        stroke(picture, corners[0] * (1 - s) + corners[1] * s, corners[3] * (1 - s) + corners[2] * s)
    for r in np.linspace(0, 1, rows + 1)[: None if closing else -1]:
        stroke(picture, corners[0] * (1 - r) + corners[3] * r, corners[1] * (1 - r) + corners[2] * r)
    return picture, corners


def stroke(picture: np.ndarray, a: np.ndarray, b: np.ndarray) -> None:
    cv2.line(picture, tuple(map(round, map(float, a))), tuple(map(round, map(float, b))), (40, 40, 60), 2, cv2.LINE_AA)


def worst(corners: Points, true: Points) -> float:
    """Largest distance of a corner from its place, in gaps."""
    return float(np.hypot(*(corners - true).T).max() / GAP)


@pytest.mark.parametrize("lean", [0.0, 14.0])
@pytest.mark.parametrize(
    "shift",
    [
        [[0, 0], [-13, 0], [-13, 0], [0, 0]],  # the last string was left out in part
        [[9, -8], [9, -8], [9, -8], [9, -8]],
        [[0, 6], [0, -5], [5, 0], [-4, 0]],
    ],
)
def test_corners_a_little_off_are_brought_onto_the_lines(shift: list[list[float]], lean: float) -> None:
    picture, true = grid_picture(lean=lean)
    off = true + np.array(shift, float)
    assert worst(off, true) > 0.25
    laid = lay(picture, off, STRINGS, ROWS)
    assert worst(laid.corners, true) < 0.12
    assert laid.after > laid.before + 0.05


def test_right_corners_stay() -> None:
    picture, true = grid_picture()
    assert worst(lay(picture, true, STRINGS, ROWS).corners, true) < 0.05


def test_an_open_last_space_keeps_its_end() -> None:
    picture, true = grid_picture(closing=False)
    off = true + np.array([[6, 4], [-7, 5], [0, 0], [0, 0]], float)
    laid = lay(picture, off, STRINGS, ROWS)
    assert worst(laid.corners[:2], true[:2]) < 0.12
    assert worst(laid.corners[2:], true[2:]) < 0.35


def test_on_empty_paper_nothing_moves() -> None:
    _, true = grid_picture()
    blank = np.full((240, 260, 3), 205, np.uint8)
    laid = lay(blank, true, STRINGS, ROWS)
    assert np.array_equal(laid.corners, true)
    assert laid.after == laid.before < 0.1


def test_light_lines_on_a_dark_board_are_lines_too() -> None:
    picture, true = grid_picture()
    laid = lay(255 - picture, true + [8.0, 0.0], STRINGS, ROWS)
    assert worst(laid.corners, true) < 0.12


@pytest.mark.parametrize("rows", [2, 3])
def test_two_rows_are_told_by_the_fret_half_way_down(rows: int) -> None:
    picture, corners = grid_picture(rows=rows)
    assert has_two_rows(picture, corners, STRINGS) == (rows == 2)


def test_a_barre_in_the_middle_of_three_rows_is_no_fret() -> None:
    picture, corners = grid_picture(rows=3)
    stroke(picture, (corners[0] + corners[3]) / 2, (corners[1] + corners[2]) / 2)
    assert not has_two_rows(picture, corners, STRINGS)
