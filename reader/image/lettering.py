"""Finds the pieces of lettering that stand around a grid.

All of it happens in a crop that shows the page upright with the grid in its
middle (``around_matrix``). A piece is a word or two: signs that belong together
by nearness and size. What the grid itself leaves behind (ends of lines, halves of dots)
and running text are told apart by where they stand.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.crops import LETTERING_GRID, LETTERING_SIZE, Matrix, Points, lettering_matrix
from reader.image.levels import Pixels

AROUND_SIZE = 640
AROUND_GRID = 200.0
"""Longer side of the grid in the crop, pixels."""
LEAST_INK = 9.0
"""Difference from the paper's colour below which nothing is ink, grey levels."""
INK_SHARE = 0.25
"""Ink of lettering against the ink of the grid's own lines, at least."""
PAD = 4
"""Room left around a piece, pixels."""
BROKEN = 4.0
"""Gap within a broken stroke, pixels."""
LEAST_REACH, MOST_REACH = 5, 12
"""How far the outer lines of a grid reach out from its corners, pixels."""
ON_LINE = 0.3
"""Share of ink along a line of the outline from which it is still the grid's own."""
THICKEST_RULE = 11
"""What is thicker is no ruled line but lettering run together, pixels."""
MOST_PIECES = 10
MOST_SIGNS = 220
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Side = Literal["above", "below", "left", "right"]


@dataclass(frozen=True, slots=True)
class Piece:
    """One or two words beside a grid.

    Parameters
    ----------
    box : x0, y0, x1, y1 in the crop
    side : of the grid, on the upright page
    distance : from the grid, in its longer sides
    rival : distance from the nearest other grid, in the same measure
    running : whether it is part of a line of text
    picture : uint8 [row, col], dark on white, nothing but this piece
    levelled : the same with raised signs brought down and enlarged; None where nothing is raised
    """

    box: tuple[int, int, int, int]
    side: Side
    distance: float
    rival: float
    running: bool
    picture: NDArray[np.uint8]
    levelled: NDArray[np.uint8] | None = None

    @property
    def centre(self) -> Points:
        """Middle of the box, crop pixels."""
        x0, y0, x1, y1 = self.box
        return np.array([(x0 + x1) / 2, (y0 + y1) / 2])

    @property
    def height(self) -> int:
        """Height of the box, crop pixels."""
        return self.box[3] - self.box[1]

    @property
    def width(self) -> int:
        """Width of the box, crop pixels."""
        return self.box[2] - self.box[0]

    def holds(self, other: Piece) -> bool:
        """Whether the other piece is a part of this one."""
        (a, b, c, d), (x0, y0, x1, y1) = self.box, other.box
        return self.box != other.box and a <= x0 and b <= y0 and c >= x1 and d >= y1


def around_matrix(corners: Points, turn: int = 0) -> Matrix:
    """Similarity from the page to a crop of ``AROUND_SIZE``: the page upright, small skew taken out.

    Parameters
    ----------
    corners : (4, 2)
    turn : quarter turns (counter-clockwise) that bring the page's lettering upright
    """
    k = AROUND_GRID / LETTERING_GRID
    shift = AROUND_SIZE / 2 - k * LETTERING_SIZE / 2
    return np.array([[k, 0, shift], [0, k, shift], [0, 0, 1.0]]) @ lettering_matrix(corners, turn)


def ink_of(crop: Pixels) -> NDArray[np.float32]:
    """How far each pixel is from the colour of the paper around it, whatever the colours.

    Parameters
    ----------
    crop : uint8 [row, col, 3]

    Returns
    -------
    float32 [row, col] grey levels
    """
    small = cv2.resize(crop, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    paper = cv2.resize(cv2.medianBlur(small, 31), crop.shape[1::-1], interpolation=cv2.INTER_LINEAR)
    red, green, blue = cv2.split(cv2.absdiff(crop, paper))
    return np.asarray(cv2.max(cv2.max(red, green), blue), np.float32)


def find_pieces(crop: Pixels, grid: Points, others: list[Points]) -> list[Piece]:
    """The lettering around one grid, nearest first.

    Parameters
    ----------
    crop : uint8 [row, col, 3], ``AROUND_SIZE`` square
    grid : (4, 2) corners in the crop
    others : list of (4, 2) corners of the other grids of the page, in the crop
    """
    ink = ink_of(crop)
    level = _ink_of_lines(ink, grid)
    signs, labels = _signs(ink, level, grid, others)
    if not len(signs):
        return []
    words = _grouped(signs, 0.6)
    running, pairs = _running(signs, words, grid)
    pieces = []
    for members in [*words, *pairs]:
        piece = _piece(ink, labels, signs, members, grid, others, any(m in running for m in members))
        if piece is not None:
            pieces.append(piece)
    return sorted(pieces, key=lambda p: (p.running, p.distance))[:MOST_PIECES]


def _ink_of_lines(ink: NDArray[np.float32], grid: Points) -> float:
    """How strong the grid's own outline is."""
    steps = np.linspace(0, 1, 40)[:, None]
    points = np.concatenate([a + (b - a) * steps for a, b in zip(grid, np.roll(grid, -1, 0), strict=True)])
    near = cv2.dilate(ink, np.ones((9, 9), np.uint8))
    xy = np.clip(np.round(points), 0, AROUND_SIZE - 1).astype(int)
    return float(np.percentile(near[xy[:, 1], xy[:, 0]], 60))


def _signs(
    ink: NDArray[np.float32], level: float, grid: Points, others: list[Points]
) -> tuple[Ints, NDArray[np.int32]]:
    """Boxes (x, y, w, h, number) of connected ink that may be lettering, and the map of those numbers."""
    noise = float(np.median(ink[::4, ::4])) * 3.5
    least = max(LEAST_INK, INK_SHARE * level, noise)
    dark = (ink > least).astype(np.uint8)
    _take_rules_out(dark)
    outline = np.round(_grown(grid, _outer_line(dark, grid))).astype(np.int32)
    cv2.fillConvexPoly(dark, outline, 0)
    for other in others:
        cv2.fillConvexPoly(dark, np.round(_grown(other, 6.0)).astype(np.int32), 0)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(dark, connectivity=8)
    if count < 2:
        return np.zeros((0, 5), np.int64), labels
    boxes = np.column_stack([stats[1:, :4], np.arange(1, count)]).astype(np.int64)
    area = stats[1:, cv2.CC_STAT_AREA]
    w, h = boxes[:, 2], boxes[:, 3]
    fits = (np.maximum(w, h) >= 5) & (area >= 10) & (h < 0.5 * AROUND_GRID) & (w < 0.9 * AROUND_GRID)
    fits &= ~_left_by_grid(labels, boxes, outline)
    fits &= ~(_in_row(boxes[:, [0, 1, 2, 3]]) | _in_row(boxes[:, [1, 0, 3, 2]]))
    boxes, area = boxes[fits], area[fits]
    return boxes[np.argsort(-area)[:MOST_SIGNS]], labels


def _take_rules_out(dark: NDArray[np.uint8]) -> None:
    """Blank long straight lines: ruled and squared paper, frames, stems of other drawings."""
    for shape, across in (((1, 110), (3, 1)), ((110, 1), (1, 3))):
        # a line that leans a little still runs on within a wider track
        wide = cv2.dilate(dark, np.ones(across, np.uint8))
        lines = cv2.morphologyEx(wide, cv2.MORPH_OPEN, np.ones(shape, np.uint8))
        across_rules = (THICKEST_RULE, 1) if shape[0] == 1 else (1, THICKEST_RULE)
        lines &= ~cv2.morphologyEx(lines, cv2.MORPH_OPEN, np.ones(across_rules, np.uint8))
        if lines.any():
            dark[cv2.dilate(lines, np.ones((3, 3), np.uint8)) > 0] = 0


def _outer_line(dark: NDArray[np.uint8], grid: Points) -> float:
    """How far the grid's own outer lines reach out from its corners, pixels."""
    reach = LEAST_REACH
    while reach < MOST_REACH:
        ring = np.zeros(dark.shape, np.uint8)
        cv2.polylines(ring, [np.round(_grown(grid, float(reach))).astype(np.int32)], True, 1)
        if float(dark[ring > 0].mean()) < ON_LINE:
            break
        reach += 1
    return float(reach)


def _grown(grid: Points, by: float) -> Points:
    """The figure with its corners moved outwards along both diagonals' axes."""
    centre = grid.mean(0)
    d = grid - centre
    return np.asarray(centre + d + np.sign(d) * by)


def _left_by_grid(labels: NDArray[np.int32], boxes: Ints, outline: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Which signs are only what sticks out of the grid: ends of lines, halves of dots."""
    ring = np.zeros(labels.shape, np.uint8)
    cv2.polylines(ring, [outline], True, 1, 5)
    touching = np.isin(boxes[:, 4], np.unique(labels[ring > 0]))
    x, y, w, h = boxes[:, :4].T
    low, high = outline.min(0), outline.max(0)
    out_x = np.maximum(low[0] - x, x + w - high[0])
    out_y = np.maximum(low[1] - y, y + h - high[1])
    short = np.where(out_x > out_y, out_x < 0.16 * AROUND_GRID, out_y < 0.085 * AROUND_GRID)
    thin = np.minimum(w, h) < 0.035 * AROUND_GRID
    return np.asarray(touching & (short | thin))


def _in_row(boxes: Ints) -> NDArray[np.bool_]:
    """Which narrow upright strokes stand in one line above each other: pieces of an edge or a ruled line."""
    x, y, w, h = boxes.T.astype(float)
    narrow = np.flatnonzero((w < 9) & (h > 1.8 * w))
    out = np.zeros(len(boxes), bool)
    if len(narrow) < 3:
        return out
    cx, cy = (x + w / 2)[narrow], (y + h / 2)[narrow]
    dx, dy = np.abs(cx[:, None] - cx), np.abs(cy[:, None] - cy)
    out[narrow] = ((dx < 3 + 0.12 * dy) & (dy > 5)).sum(1) >= 2
    return out


def _grouped(signs: Ints, reach: float) -> list[list[int]]:
    """Signs that stand on one line and near each other, as lists of their indices."""
    x, y, w, h = (signs[:, i].astype(float) for i in range(4))
    size = np.maximum(h, 0.6 * w)
    taller = np.maximum(size[:, None], size[None])
    overlap = np.minimum((y + h)[:, None], (y + h)[None]) - np.maximum(y[:, None], y[None])
    beside = overlap > 0.35 * np.minimum(h[:, None], h[None])
    gap = np.maximum(x[:, None], x[None]) - np.minimum((x + w)[:, None], (x + w)[None])
    stacked = (gap < 0) & (-gap > 0.5 * np.minimum(w[:, None], w[None])) & (overlap <= 0) & (overlap > -BROKEN)
    joined = stacked | beside & (gap < reach * np.minimum(taller, 45.0))
    return _components(joined)


def _components(joined: NDArray[np.bool_]) -> list[list[int]]:
    n = len(joined)
    name = np.arange(n)
    for _ in range(n):
        lowest = np.where(joined, name[None], n).min(1)
        lowest = np.minimum(lowest, name)
        if (lowest == name).all():
            break
        name = lowest
    return [list(np.flatnonzero(name == k)) for k in np.unique(name)]


def _running(signs: Ints, words: list[list[int]], grid: Points) -> tuple[set[int], list[list[int]]]:
    """Signs that belong to lines of text, and pairs of words that stand together."""
    boxes = np.array([_hull(signs[m]) for m in words])
    as_signs = np.column_stack([boxes[:, :2], boxes[:, 2:] - boxes[:, :2], np.arange(len(boxes))])
    width = float(np.ptp(grid[:, 0]))
    running: set[int] = set()
    pairs: list[list[int]] = []
    for line in _grouped(as_signs, 1.5):
        members = [m for k in line for m in words[k]]
        x0, _, x1, _ = _hull(signs[members])
        at_edge = x0 < 3 or x1 > AROUND_SIZE - 4
        if (len(line) > 2 or at_edge) and x1 - x0 > max(1.3 * width, 0.9 * AROUND_GRID):
            running.update(members)
        elif len(line) == 2:
            pairs.append(members)
    return running, pairs


def _hull(boxes: Ints) -> tuple[int, int, int, int]:
    return (
        int(boxes[:, 0].min()),
        int(boxes[:, 1].min()),
        int((boxes[:, 0] + boxes[:, 2]).max()),
        int((boxes[:, 1] + boxes[:, 3]).max()),
    )


def _distance(grid: Points, points: Points) -> float:
    """From the nearest of the points to the grid, in ``AROUND_GRID``; 0 inside."""
    figure = grid.astype(np.float32)
    return max(0.0, -max(cv2.pointPolygonTest(figure, (float(x), float(y)), True) for x, y in points)) / AROUND_GRID


def _piece(
    ink: NDArray[np.float32],
    labels: NDArray[np.int32],
    signs: Ints,
    members: list[int],
    grid: Points,
    others: list[Points],
    running: bool,
) -> Piece | None:
    box = x0, y0, x1, y1 = _hull(signs[members])
    if y1 - y0 < 8 or x1 - x0 < 5 or min(x0, y0) < PAD or max(x1, y1) > AROUND_SIZE - PAD:
        return None
    spots = np.array([[x, y] for x in (x0, (x0 + x1) / 2, x1) for y in (y0, y1)])
    own = _distance(grid, spots)
    rival = min((_distance(o, spots) for o in others), default=9.0)
    if own > 2 * rival + 0.05:
        return None
    low, high = grid.min(0), grid.max(0)
    beyond: dict[Side, float] = {"above": low[1] - (y0 + y1) / 2, "below": (y0 + y1) / 2 - high[1],
              "left": low[0] - (x0 + x1) / 2, "right": (x0 + x1) / 2 - high[0]}  # fmt: skip
    side = max(beyond, key=lambda k: float(beyond[k]))
    picture = _picture(ink, labels, signs[members, 4], box)
    return Piece(box, side, own, rival, running, picture, _levelled(picture, signs[members], box))


def _picture(
    ink: NDArray[np.float32], labels: NDArray[np.int32], numbers: Ints, box: tuple[int, int, int, int]
) -> NDArray[np.uint8]:
    """The piece alone, with its soft edges, dark on white."""
    x0, y0, x1, y1 = box
    pad = PAD
    ys, xs = slice(y0 - pad, y1 + pad), slice(x0 - pad, x1 + pad)
    mine = np.isin(labels[ys, xs], numbers).astype(np.uint8)
    level = max(float(np.percentile(ink[ys, xs][mine > 0], 75)), 1.0)
    near = cv2.dilate(mine, np.ones((7, 7), np.uint8))
    return np.asarray(255 - np.clip(ink[ys, xs] / level, 0, 1) * near * 235, np.uint8)


def _levelled(picture: NDArray[np.uint8], signs: Ints, box: tuple[int, int, int, int]) -> NDArray[np.uint8] | None:
    """The piece with its raised end as large as its beginning; None without one."""
    signs = signs[np.argsort(signs[:, 0])]
    height = box[3] - box[1]
    raised = (signs[:, 1] + signs[:, 3] < box[3] - 0.22 * height) & (signs[:, 3] < 0.8 * height)
    start = len(signs)
    while start > 1 and raised[start - 1]:
        start -= 1
    if start == len(signs) or signs[start:, 3].max() < 0.2 * height:
        return None
    cut_at = (int((signs[:start, 0] + signs[:start, 2]).max()) + int(signs[start:, 0].min())) // 2 - box[0] + PAD
    _, y0, _, y1 = _hull(signs[start:])
    end = picture[max(0, y0 - box[1]) : y1 - box[1] + 2 * PAD, cut_at:]
    first = picture[:, :cut_at]
    if min(end.shape) < 3 or min(first.shape) < 3:
        return None
    width = max(3, round(end.shape[1] * picture.shape[0] / end.shape[0]))
    larger = cv2.resize(end, (width, picture.shape[0]), interpolation=cv2.INTER_CUBIC)
    return np.ascontiguousarray(np.hstack([first, larger]))
