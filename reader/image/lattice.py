"""Lays a grid's lattice on the lines that are drawn: geometry where the networks' corners are a little off.

The corners of a find come from a network that has seen many grids, but no two hands draw alike.  Strings and frets
are lines, so the lattice is moved, edge by edge and corner by corner, to where there is ink along all of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.crops import Matrix, Points, cut, on_page, side_lengths
from reader.image.levels import Levels, Pixels

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
GAP = 20.0
"""Pixels of a string gap in the picture that the lattice is laid in."""
LEAST_CELL, MOST_CELL = 12.0, 44.0
MARGIN = 1.5
"""Gaps and fret spaces around the grid in that picture."""
SAMPLES = 24
"""Places along each line where ink is looked for."""
EDGE_MOVES = np.arange(-0.9, 0.91, 0.15)
"""How far an edge is tried to be moved, in gaps or fret spaces."""
FAR = 0.04
"""Share of the lines that an edge moved by a whole gap has to bring."""
RUN_ON, LEFT_OUT = (0.35, 0.8), 0.4
"""Where lines are looked for beyond the lattice, in gaps and fret spaces, and what ink there counts against it."""
WELL_LAID = 0.8
"""Share of the lines on ink from which a lattice needs no moving."""
LEAST_GAIN = 0.05
"""A lattice that lies on more of its lines than the one before by this share of them takes its place."""
HALF_WAY, NO_THIRDS = 0.25, 0.6
"""Ink along a fret half way down a grid of two rows, at least, and as a part of it along the two of a grid of three."""
CORNER_STEPS = (0.16, 0.08, 0.04)


@dataclass(frozen=True, slots=True)
class Laid:
    """A lattice and the share of its lines that ink lies on, before and after it was moved."""

    corners: Points
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class _Ground:
    """The picture to lay the lattice in: ink of upright and of level lines, 0 to 1, and how it came from the page."""

    upright: Floats32
    level: Floats32
    matrix: Matrix
    size: Floats
    """Gap and fret space in its pixels."""


def lay(pixels: Pixels | Levels, corners: Points, strings: int, rows: int) -> Laid:
    """Move the corners of a grid so that its lines lie on ink.

    Parameters
    ----------
    pixels : uint8 [row, col, 3]
    corners : (4, 2) page pixels, nut end first
    strings, rows : counted on the diagram
    """
    ground, start = _ground(pixels, corners, strings, rows)
    before = float(_on_ink(ground, start[None], strings, rows)[0])
    if before > WELL_LAID:
        return Laid(corners, before, before)
    box = _moved_corners(ground, _moved_edges(ground, start, strings, rows), strings, rows)
    after = float(_on_ink(ground, box[None], strings, rows)[0])
    if after < before + LEAST_GAIN:
        return Laid(corners, before, before)
    found = on_page(box, ground.matrix)
    # once more where the lines now run straight
    ground, start = _ground(pixels, found, strings, rows)
    box = _moved_corners(ground, start, strings, rows)
    after = max(after, float(_on_ink(ground, box[None], strings, rows)[0]))
    return Laid(on_page(box, ground.matrix), before, after)


def has_two_rows(pixels: Pixels | Levels, corners: Points, strings: int) -> bool:
    """Whether a grid has one fret inside, half way down, where three rows would have two.

    Parameters
    ----------
    pixels : uint8 [row, col, 3]
    corners : (4, 2) page pixels, nut end first
    """
    ground, box = _ground(pixels, corners, strings, 3)
    inside = [float(_along(ground.level, _ends(box[None], strings, rows)[1])[0, 1:-1].mean()) for rows in (2, 3)]
    return inside[0] > HALF_WAY and inside[1] < NO_THIRDS * inside[0]


def _ground(pixels: Pixels | Levels, corners: Points, strings: int, rows: int) -> tuple[_Ground, Points]:
    """The picture around a grid, and its corners in it."""
    across, along = side_lengths(corners)
    cell = float(np.clip(GAP * (along / rows) / (across / (strings - 1)), LEAST_CELL, MOST_CELL))
    size = np.array([GAP, cell])
    x0, y0 = MARGIN * size
    x1, y1 = x0 + GAP * (strings - 1), y0 + cell * rows
    target = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], np.float32)
    matrix = np.asarray(cv2.getPerspectiveTransform(corners.astype(np.float32), target), float)
    picture = cut(pixels, matrix, (round(x1 + x0) + 1, round(y1 + y0) + 1))
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    paper = cv2.medianBlur(grey, 31)
    ink = cv2.absdiff(grey, paper).astype(np.float32)
    ink = np.minimum(ink / max(10.0, float(np.percentile(ink, 93))), 1.0)
    return _Ground(_lines(ink, size[0], 1), _lines(ink, size[1], 0), matrix, size), target.astype(float)


def _lines(ink: Floats32, spacing: float, axis: int) -> Floats32:
    """Ink of lines that stand out against their two sides; ``axis`` 1: upright lines."""
    away = max(3, round(0.25 * spacing))
    beside = np.maximum(np.roll(ink, away, axis), np.roll(ink, -away, axis))
    along = (1, 9) if axis == 1 else (9, 1)
    kept = cv2.blur(np.maximum(ink - 0.8 * beside, 0), along)
    return np.asarray(cv2.GaussianBlur(np.minimum(1.6 * kept, 1.0), (0, 0), 1.2), np.float32)


def _ends(boxes: Points, strings: int, rows: int) -> tuple[Points, Points]:
    """Ends (2, m, n, 2) of the strings and of the frets of lattices (m, 4, 2)."""
    a, b, c, d = (boxes[:, None, k] for k in range(4))
    s, r = np.linspace(0, 1, strings)[None, :, None], np.linspace(0, 1, rows + 1)[None, :, None]
    of_strings = np.stack([a * (1 - s) + b * s, d * (1 - s) + c * s])
    return of_strings, np.stack([a * (1 - r) + d * r, b * (1 - r) + c * r])


def _along(picture: Floats32, ends: Points) -> Floats:
    """Mean ink along each line, (m, n)."""
    t = np.linspace(0.02, 0.98, SAMPLES)[:, None, None, None]
    points = np.rint(ends[0] * (1 - t) + ends[1] * t).astype(int)
    x = np.clip(points[..., 0], 0, picture.shape[1] - 1)
    y = np.clip(points[..., 1], 0, picture.shape[0] - 1)
    return np.asarray(picture[y, x].mean(0), float)


def _along_and_beyond(picture: Floats32, ends: Points, cells: int) -> tuple[Floats, Floats]:
    """Mean ink along each line, (m, n), and along all of them run on beyond both ends, (m,).

    Where a lattice ends its lines end as well.
    """
    step = (ends[1] - ends[0]) / cells
    before = np.stack([ends[0] - step * RUN_ON[1], ends[0] - step * RUN_ON[0]])
    behind = np.stack([ends[1] + step * RUN_ON[0], ends[1] + step * RUN_ON[1]])
    ink = _along(picture, np.concatenate([ends, before, behind], axis=2))
    n = ends.shape[2]
    return ink[:, :n], ink[:, n:].mean(1)


def _ink(ground: _Ground, boxes: Points, strings: int, rows: int) -> tuple[Floats, Floats]:
    """How well the strings and the frets of lattices (m, 4, 2) lie: the share of them that ink lies on.

    Less what of the other lines runs on beyond them: a barre would else pass for a fret of a lattice too small.
    """
    of_strings, of_frets = _ends(boxes, strings, rows)
    frets, past_frets = _along_and_beyond(ground.level, of_frets, strings - 1)
    along_strings, past_strings = _along_and_beyond(ground.upright, of_strings, rows)
    # the last space may be open
    frets[:, -1] = np.maximum(frets[:, -1], 0.7 * frets[:, :-1].mean(1))
    return (
        along_strings.mean(1) - LEFT_OUT * past_frets,
        frets.mean(1) - LEFT_OUT * past_strings,
    )


def _on_ink(ground: _Ground, boxes: Points, strings: int, rows: int) -> Floats:
    """Share of all lines of each lattice that ink lies on."""
    return np.asarray(np.add(*_ink(ground, boxes, strings, rows)) / 2)


def _moved_edges(ground: _Ground, box: Points, strings: int, rows: int) -> Points:
    """The best of all pairs of moves of the outer strings, then of the nut and the last fret."""
    edges = (np.array([[1, 0, 0, 1], [0, 1, 1, 0]]), np.array([[1, 1, 0, 0], [0, 0, 1, 1]]))
    pairs = np.stack(np.meshgrid(EDGE_MOVES, EDGE_MOVES), -1).reshape(-1, 2)
    # a far move has to bring more than a near one
    cost = FAR * np.abs(pairs).sum(1)
    for axis in range(2):
        tried = np.repeat(box[None], len(pairs), axis=0)
        tried[:, :, axis] += pairs @ edges[axis] * ground.size[axis]
        box = tried[int((_ink(ground, tried, strings, rows)[axis] - cost).argmax())]
    return box


def _moved_corners(ground: _Ground, box: Points, strings: int, rows: int) -> Points:
    """Each corner by itself moved as long as more ink lies on the lines, in ever smaller steps."""
    ways = np.array([[0, 0], [1.0, 0], [-1, 0], [0, 1], [0, -1]])
    for step in CORNER_STEPS:
        for _ in range(3):
            moves = np.zeros((4, 5, 4, 2))
            moves[range(4), :, range(4)] = ways * step * ground.size
            ink = _on_ink(ground, (box + moves).reshape(-1, 4, 2), strings, rows).reshape(4, 5)
            if ink.max() <= ink[0, 0] + 1e-6:
                break
            best = moves[range(4), ink.argmax(1)]
            # every corner by itself, or all of them, whichever brings more
            tried = np.concatenate([box + best.sum(0)[None], box + best])
            box = tried[int(_on_ink(ground, tried, strings, rows).argmax())]
    return box
