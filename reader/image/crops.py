"""Cuts what the networks look at out of a page: training and reading cut in the same way.

Conventions of all image code: arrays are ``[row, col]``, points ``(x, y)`` in
page pixels as floats; a diagram's corners are nut end left, nut end right, far
end right, far end left as on an upright diagram, whatever way it lies.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.levels import Levels, Pixels

Points = NDArray[np.float64]
Matrix = NDArray[np.float64]

READING_SIZE = 256
READING_GRID = 136.0
"""Longer side of the grid in the reading crop, pixels."""
LETTERING_SIZE = 320
LETTERING_GRID = 116.0
"""Longer side of the grid in the lettering crop, pixels."""


def side_lengths(corners: Points) -> tuple[float, float]:
    """Mean length across the strings and along them."""
    across = (np.hypot(*(corners[1] - corners[0])) + np.hypot(*(corners[2] - corners[3]))) / 2
    along = (np.hypot(*(corners[3] - corners[0])) + np.hypot(*(corners[2] - corners[1]))) / 2
    return float(max(across, 1.0)), float(max(along, 1.0))


def reading_matrix(corners: Points) -> Matrix:
    """Homography from the page to the reading crop: the grid upright and straight, its proportions kept.

    Parameters
    ----------
    corners : (4, 2)

    Returns
    -------
    (3, 3)
    """
    across, along = side_lengths(corners)
    scale = READING_GRID / max(across, along)
    w, h = across * scale / 2, along * scale / 2
    # a grid much longer than wide (or the other way) keeps a readable short side
    w, h = max(w, READING_GRID * 0.14), max(h, READING_GRID * 0.14)
    m = READING_SIZE / 2
    target = np.array([[m - w, m - h], [m + w, m - h], [m + w, m + h], [m - w, m + h]], np.float32)
    return np.asarray(cv2.getPerspectiveTransform(corners.astype(np.float32), target), float)


def lettering_matrix(corners: Points, turn: int = 0) -> Matrix:
    """Similarity from the page to the lettering crop: the page upright, small skew taken out.

    Parameters
    ----------
    corners : (4, 2)
    turn : quarter turns (counter-clockwise) that bring the page's lettering upright

    Returns
    -------
    (3, 3)
    """
    scale = LETTERING_GRID / max(side_lengths(corners))
    return _upright(corners, corners.mean(0), turn, scale, LETTERING_SIZE)


def _upright(corners: Points, centre: Points, turn: int, scale: float, size: int) -> Matrix:
    """Similarity that puts a point in the middle of a crop, the page upright."""
    # the way the strings run is the grid's axis; its angle to the nearest page axis is the skew
    axis = (corners[2] + corners[3] - corners[0] - corners[1]) / 2
    angle = float(np.arctan2(axis[1], axis[0]))
    skew = (angle + np.pi / 4) % (np.pi / 2) - np.pi / 4
    rotation = -skew - turn * np.pi / 2
    c, s = np.cos(rotation) * scale, np.sin(rotation) * scale
    m = np.array([[c, -s, 0.0], [s, c, 0.0], [0, 0, 1.0]])
    m[:2, 2] = size / 2 - m[:2, :2] @ centre
    return m


def on_page(points: Points, matrix: Matrix) -> Points:
    """Places of a crop, (n, 2), on the page that it was cut from."""
    return in_crop(points, np.asarray(np.linalg.inv(matrix), np.float64))


def on_grid(points: Points, corners: Points) -> Points:
    """Places of the page, (n, 2), on a grid: across its strings and along them, 0 to 1 from the left end of the nut."""
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    to_grid = np.asarray(cv2.getPerspectiveTransform(corners.astype(np.float32), square), float)
    return in_crop(points, to_grid)


def in_crop(points: Points, matrix: Matrix) -> Points:
    """Places of the page, (n, 2), in the crop that a homography shows."""
    return np.asarray(cv2.perspectiveTransform(points[None].astype(float), matrix)[0])


def cut(pixels: Pixels | Levels, matrix: Matrix, size: int | tuple[int, int]) -> Pixels:
    """The crop that a homography shows, without aliasing; outside the page the edge runs on.

    Parameters
    ----------
    pixels : uint8 [row, col, 3]
    matrix : (3, 3) page to crop
    size : side of the crop, or its width and height, pixels

    Returns
    -------
    uint8 [height, width, 3]
    """
    across, down = (size, size) if isinstance(size, int) else size
    box = np.array([[0, 0], [across, 0], [across, down], [0, down]])
    # how many page pixels fall on one crop pixel, in the middle of the crop
    x, y = across / 2, down / 2
    a, b, c = on_page(np.array([[x, y], [x + 1, y], [x, y + 1]]), matrix)
    reduction = min(float(np.hypot(*(b - a))), float(np.hypot(*(c - a))))
    if isinstance(pixels, Levels):
        pixels, factor = pixels.finest(reduction)
        off = (factor - 1) / 2
        matrix = matrix @ np.array([[factor, 0, off], [0, factor, off], [0, 0, 1.0]])
        reduction /= factor
    height, width = pixels.shape[:2]
    outline = on_page(box, matrix)
    low = np.clip(np.floor(outline.min(0)) - 4, 0, [width - 2, height - 2]).astype(int)
    high = np.clip(np.ceil(outline.max(0)) + 4, low + 2, [width, height]).astype(int)
    part = pixels[low[1] : high[1], low[0] : high[0]]
    shift = np.array([[1, 0, low[0]], [0, 1, low[1]], [0, 0, 1.0]])
    if reduction > 1.4:
        k = 1 / reduction
        w, h = max(2, round(part.shape[1] * k)), max(2, round(part.shape[0] * k))
        sx, sy = part.shape[1] / w, part.shape[0] / h
        part = cv2.resize(part, (w, h), interpolation=cv2.INTER_AREA)
        shift = shift @ np.array([[sx, 0, (sx - 1) / 2], [0, sy, (sy - 1) / 2], [0, 0, 1.0]])
    return np.asarray(
        cv2.warpPerspective(
            np.ascontiguousarray(part),
            matrix @ shift,
            (across, down),
            flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        ),
        np.uint8,
    )


PIECE_SIZE = 80
"""Side of the piece around one place on a string, pixels."""
PIECE_SPAN = 2.2
"""The same in units of the grid."""
BEYOND = 0.75
"""How far below or above the grid a row of fingers stands, in units of the grid."""


def grid_unit(corners: Points, strings: int, rows: int) -> tuple[float, float]:
    """The unit that signs on a grid are sized by, page pixels, and the height of a fret space."""
    across, along = side_lengths(corners)
    cell = along / max(rows, 1)
    return min(across / max(strings - 1, 1), 1.3 * cell), cell


def piece_matrix(corners: Points, strings: int, rows: int, string: float, row: float, turn: int = 0) -> Matrix:
    """Similarity from the page to a piece around one place of the grid: the page upright, small skew taken out.

    Parameters
    ----------
    corners : (4, 2)
    strings, rows : counted on the diagram
    string : from 0 at the left
    row : fret spaces from the nut; 0.5 is the middle of the first
    turn : quarter turns (counter-clockwise) that bring the page's lettering upright

    Returns
    -------
    (3, 3)
    """
    unit, _ = grid_unit(corners, strings, rows)
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    to_page = cv2.getPerspectiveTransform(square, corners.astype(np.float32))
    place = np.array([[[string / max(strings - 1, 1), row / max(rows, 1)]]])
    centre = cv2.perspectiveTransform(place, to_page)[0, 0]
    return _upright(corners, centre, turn, PIECE_SIZE / (PIECE_SPAN * unit), PIECE_SIZE)


def finger_rows(corners: Points, strings: int, rows: int) -> dict[str, float]:
    """Where fingers written below and above a grid stand, in fret spaces from the nut."""
    unit, cell = grid_unit(corners, strings, rows)
    away = BEYOND * unit / cell
    return {"below": rows + away, "above": -away}


CELL_WIDTH, CELL_HEIGHT = 32, 40
"""Pixels of one string gap and one fret space in the lattice crop."""
CELLS_ABOVE, CELLS_BELOW, CELLS_BESIDE = 2, 1, 1
"""Cells around the grid in the lattice crop: for open and muted marks, fingers below, dots on the outer strings."""


def lattice_size(strings: int, rows: int) -> tuple[int, int]:
    """Width and height of the lattice crop, pixels."""
    return (strings + 2 * CELLS_BESIDE) * CELL_WIDTH, (rows + CELLS_ABOVE + CELLS_BELOW) * CELL_HEIGHT


def lattice_matrix(corners: Points, strings: int, rows: int) -> Matrix:
    """Homography from the page to the lattice crop: every place for a stop stands in the middle of its own cell.

    Parameters
    ----------
    corners : (4, 2)
    strings, rows : counted on the diagram

    Returns
    -------
    (3, 3)
    """
    x0, x1 = (CELLS_BESIDE + 0.5) * CELL_WIDTH - 0.5, (CELLS_BESIDE + strings - 0.5) * CELL_WIDTH - 0.5
    y0, y1 = CELLS_ABOVE * CELL_HEIGHT - 0.5, (CELLS_ABOVE + rows) * CELL_HEIGHT - 0.5
    target = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], np.float32)
    return np.asarray(cv2.getPerspectiveTransform(corners.astype(np.float32), target), float)
