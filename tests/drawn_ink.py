"""What the ink of our own drawings says, given no more than the corners of a grid: a ruler, not a reader of pages."""

from __future__ import annotations

import numpy as np

from reader.export.drawing import Drawing, DrawnGrid
from reader.export.png import render_pages

DPI = 200.0
STOP_EDGE = (0.31, 0.40)  # gaps from the centre: outside the digit, inside the stop
MARK_HEIGHT = 0.8  # gaps above the first line


def picture_of(drawing: Drawing, dpi: float = DPI) -> np.ndarray:
    """Darkness 0 to 1, [row, col]."""
    picture = next(render_pages([drawing], dpi)).convert("L")
    return 1.0 - np.asarray(picture, dtype=float) / 255.0


def frets_of_ink(picture: np.ndarray, grid: DrawnGrid, dpi: float = DPI) -> tuple[int | None, ...]:
    """The frets that the ink within one grid says; the number of the first space is taken from the grid."""
    k = dpi / 25.4
    (left, top), (right, _), (_, bottom), _ = grid.corners
    count, rows = grid.frame.string_count, grid.frame.fret_count
    gap, row = (right - left) / (count - 1) * k, (bottom - top) / rows * k
    out: list[int | None] = []
    for index in range(count):
        x = left * k + index * gap
        dark = [
            max(_ring(picture, x, top * k + (r + part) * row, gap) for part in (0.52, 0.56, 0.6)) for r in range(rows)
        ]
        if max(dark) > 0.8:
            out.append(grid.frame.first_fret + int(np.argmax(dark)))
        else:
            crossed = _disc(picture, x, top * k - MARK_HEIGHT * gap, 0.1 * gap) > 0.4
            out.append(None if crossed else 0)
    return tuple(out)


def _window(picture: np.ndarray, x: float, y: float, reach: float) -> tuple[np.ndarray, np.ndarray]:
    """The pixels around a point, and their distances from it."""
    rows = np.arange(max(int(y - reach), 0), min(int(y + reach) + 2, picture.shape[0]))
    cols = np.arange(max(int(x - reach), 0), min(int(x + reach) + 2, picture.shape[1]))
    part = picture[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1]
    return part, np.hypot(cols[None, :] + 0.5 - x, rows[:, None] + 0.5 - y)


def _ring(picture: np.ndarray, x: float, y: float, gap: float) -> float:
    part, distance = _window(picture, x, y, gap * STOP_EDGE[1])
    return float(part[(distance >= gap * STOP_EDGE[0]) & (distance <= gap * STOP_EDGE[1])].mean())


def _disc(picture: np.ndarray, x: float, y: float, radius: float) -> float:
    part, distance = _window(picture, x, y, radius + 1)
    return float(part[distance <= max(radius, 0.75)].mean())
