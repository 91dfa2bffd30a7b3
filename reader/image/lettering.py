"""Finds the pieces of lettering that stand around a grid.

A piece is a word or two: signs that belong together by nearness and size. All
of it happens in the crop of ``reader.image.signs``; running text is told apart
by where it stands.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.crops import Points
from reader.image.levels import Pixels
from reader.image.signs import AROUND_GRID, AROUND_SIZE, TALLEST_SIGN, Ints, find_signs, ink_of

PAD = 4
"""Room left around a piece, pixels."""
BROKEN = 4.0
"""Gap within a broken stroke, pixels."""
MOST_PIECES = 18
NEAR_SIDE = 0.5
"""Of the grid's longer side: how far off it lettering at a right angle is looked for."""
TWO_ROWS = 0.22
"""Of the grid's longer side: how high a label with the marks of open strings below it is at least."""
RAISED_GAP, RAISED_LONG, TALL_RAISED = 0.45, 2.0, 0.9
"""How far behind a word something raised may begin, how long and how tall it may be, in heights of the word."""
STROKE, TALLEST = 0.25, 0.5
"""A word narrower than this share of its height, or flatter, is a mere stroke; the height of the tallest word in a line
of text, in the grid's longer sides."""
OVER = 0.15
"""Of the grid's longer side: how close above it a label stands that is larger than the gaps between the labels."""
ABOUT = 1.15
"""What stands between two grids belongs to one that is at most so many times as far off as the other."""
NECK = 0.4
"""Ink of a row against the rows above and below, at most, where a piece is cut in two."""
Floats = NDArray[np.float64]
Side = Literal["above", "below", "left", "right"]
SIDES: tuple[Side, ...] = ("above", "below", "left", "right")


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

    def stands_within(self, reach: float) -> bool:
        """Whether it stands nearer to the grid than this and than to any other grid."""
        return self.distance < min(reach, self.rival)

    def holds(self, other: Piece) -> bool:
        """Whether the other piece is a part of this one."""
        (a, b, c, d), (x0, y0, x1, y1) = self.box, other.box
        return self.box != other.box and a <= x0 and b <= y0 and c >= x1 and d >= y1


def find_pieces(
    crop: Pixels, grid: Points, others: list[Points], pale: bool = False
) -> tuple[list[Piece], list[Piece], int]:
    """The lettering around one grid, nearest first; what stands at its sides and may lie at a right angle; and whether
    some runs off the crop, to the right (1) or to the left (-1).

    Of lines of text there is only what stands close above the grid.

    Parameters
    ----------
    crop : uint8 [row, col, 3], ``AROUND_SIZE`` square
    grid : (4, 2) corners in the crop
    others : list of (4, 2) corners of the other grids of the page, in the crop
    pale : whether lettering much paler than the grid is looked for
    """
    ink = ink_of(crop)
    signs, labels = find_signs(crop, ink, grid, others, pale)
    if not len(signs):
        return [], [], 0
    words = _grouped(signs, 0.6)
    lines, cut_off, pairs, inside = _running(signs, words, grid)
    running = lines | cut_off
    groups = [(m, running) for m in [*words, *pairs, *_rows(signs, words), *_with_raised(signs, words)]]
    # what belongs to another grid may run off the crop, but not what belongs to this one
    groups += [(m, lines) for m in _own(signs, words, grid, others)]
    pieces = []
    for members, text in [*groups, *((m, running) for m in inside)]:
        piece = _piece(ink, labels, signs, members, grid, others, not text.isdisjoint(members))
        if piece is not None and (not piece.running or _is_over(piece, grid)):
            pieces.append(piece)
    pieces += [top for p in pieces if not p.running and (top := _upper(p, grid)) is not None]
    pieces = sorted(pieces, key=lambda p: (p.running, p.distance))[:MOST_PIECES]
    upended = []
    for members in _grouped(signs[:, [1, 0, 3, 2, 4]], 0.6):
        if not running.isdisjoint(members):
            continue
        piece = _piece(ink, labels, signs, members, grid, others, False)
        if piece is not None and piece.side in ("left", "right") and piece.distance < NEAR_SIDE:
            upended.append(piece)
    return pieces, upended, _runs_off(signs, grid)


def _runs_off(signs: Ints, grid: Points) -> int:
    """1 where lettering that begins close to the right of a grid runs off its crop, -1 to its left, 0 for neither."""
    (left, top), (right, foot) = grid.min(0), grid.max(0)
    x, y, w, h = signs[:, :4].T
    level = (y + h > top) & (y < foot) & (h < TALLEST * AROUND_GRID)
    near, room = NEAR_SIDE * AROUND_GRID, 0.5 * h
    for side, beyond, off in ((1, x - right, x + w + room > AROUND_SIZE), (-1, left - x - w, x < room)):
        stand = level & (beyond > 0)
        if (stand & off).any() and beyond[stand].min() < near:
            return side
    return 0


def _rows(signs: Ints, words: list[list[int]]) -> list[list[int]]:
    """The rows of words that stand in more than one: a label above the marks of open strings."""
    out = []
    for word in words:
        if len(word) < 2:
            continue
        y, h = signs[word, 1].astype(float), signs[word, 3].astype(float)
        shared = np.minimum((y + h)[:, None], (y + h)[None]) - np.maximum(y[:, None], y[None])
        rows = _components(shared > 0.35 * np.minimum(h[:, None], h[None]))
        if len(rows) > 1:
            out += [[word[k] for k in row] for row in rows]
    return out


def _with_raised(signs: Ints, words: list[list[int]]) -> list[list[int]]:
    """Words with what stands small and raised at their end, too far up or too far off to have joined them."""
    hulls = np.array([_hull(signs[m]) for m in words], float)
    x0, y0, x1, y1 = hulls.T
    height = y1 - y0
    out = []
    for i, word in enumerate(words):
        room = height[i]
        after = (x0 > x1[i] - 0.15 * room) & (x0 < x1[i] + RAISED_GAP * room) & (x1 - x0 < RAISED_LONG * room)
        high = (y1 < y0[i] + 0.65 * room) & (y1 > y0[i] - 0.25 * room) & (height < TALL_RAISED * room)
        raised = np.flatnonzero(after & high)
        if len(raised):
            out.append([*word, *words[int(raised[x0[raised].argmin()])]])
    return out


def _own(signs: Ints, words: list[list[int]], grid: Points, others: list[Points]) -> list[list[int]]:
    """Of words that stand between this grid and another one the part that stands nearer to this one."""
    if not others:
        return []
    out = []
    for word in (w for w in words if len(w) > 1):
        middles = [signs[m, :2] + signs[m, 2:4] / 2 for m in word]
        mine = [m for m, at in zip(word, middles, strict=True) if _nearest(grid, others, at)]
        if 0 < len(mine) < len(word):
            out.append(mine)
    return out


def _nearest(grid: Points, others: list[Points], at: Points) -> bool:
    """Whether this grid is nearer to a point than all others are."""
    own = _distance(grid, at[None].astype(float))
    return own < ABOUT * min(_distance(o, at[None].astype(float)) for o in others)


def _upper(piece: Piece, grid: Points) -> Piece | None:
    """The upper part of what stands above a grid, where it is cut in two by a gap or a neck."""
    ink = cv2.blur((255 - piece.picture).astype(np.float32).sum(1)[:, None], (1, 5))[:, 0]
    n = len(ink)
    if piece.side != "above" or piece.height < TWO_ROWS * AROUND_GRID:
        return None
    at = int(0.35 * n) + int(ink[int(0.35 * n) : int(0.8 * n)].argmin())
    if ink[at] > NECK * min(ink[:at].max(), ink[at:].max()):
        return None
    x0, y0, x1, _ = piece.box
    top = piece.picture[: at + 1]
    inked = np.flatnonzero(top.min(0) < 200)
    if at < 2 * PAD or not len(inked):
        return None
    left, right = max(0, int(inked[0]) - PAD), min(top.shape[1], int(inked[-1]) + PAD + 1)
    box = (x0 + left, y0, min(x1, x0 + right - 2 * PAD), y0 + at - PAD)
    if box[2] - box[0] < 5 or box[3] - box[1] < 8:
        return None
    picture = np.vstack([top[:, left:right], np.full((PAD, right - left), 255, np.uint8)])
    low = _distance(grid, np.array([[x, box[3]] for x in (box[0], box[2])], float))
    return replace(piece, box=box, distance=low, picture=picture, levelled=None)


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


def _running(
    signs: Ints, words: list[list[int]], grid: Points
) -> tuple[set[int], set[int], list[list[int]], list[list[int]]]:
    """Signs that belong to lines of text, or to what the crop cuts off; pairs of words that stand by themselves, and
    pairs of neighbours within longer lines."""
    boxes = np.array([_hull(signs[m]) for m in words])
    as_signs = np.column_stack([boxes[:, :2], boxes[:, 2:] - boxes[:, :2], np.arange(len(boxes))])
    width = float(np.ptp(grid[:, 0]))
    running: set[int] = set()
    cut_off: set[int] = set()
    pairs: list[list[int]] = []
    inside: list[list[int]] = []
    # strokes by themselves and what is tall are left of a frame or a ruled line
    w, h = as_signs[:, 2], as_signs[:, 3]
    filled = (w >= STROKE * h) & (h >= STROKE * w)
    of_words = np.flatnonzero(filled & (h < TALLEST * AROUND_GRID))
    for line in _grouped(as_signs[of_words], 1.5):
        members = [m for k in line for m in words[int(of_words[k])]]
        x0, _, x1, _ = _hull(signs[members])
        at_edge = x0 < 3 or x1 > AROUND_SIZE - 4
        if (len(line) > 2 or at_edge) and x1 - x0 > max(1.3 * width, 0.9 * AROUND_GRID):
            (running if len(line) > 2 else cut_off).update(members)
            ordered = sorted((words[int(of_words[k])] for k in line), key=lambda w: int(signs[w, 0].min()))
            inside += [[*a, *b] for a, b in pairwise(ordered)]
        elif len(line) == 2:
            pairs.append(members)
    # letters more than half as tall as a small grid are no line of text, but two may be a label
    tall = np.flatnonzero(filled & (h < TALLEST_SIGN * AROUND_GRID))
    for line in _grouped(as_signs[tall], 1.5):
        if len(line) == 2 and h[tall[line]].max() >= TALLEST * AROUND_GRID:
            pairs.append([m for k in line for m in words[int(tall[k])]])
    return running, cut_off, pairs, inside


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
    side, own, rival = placed(box, grid, others)
    if own > 2 * rival + 0.1:
        return None
    picture = _picture(ink, labels, signs[members, 4], box)
    return Piece(box, side, own, rival, running, picture, _levelled(picture, signs[members], box))


def _is_over(piece: Piece, grid: Points) -> bool:
    """Whether it stands close above the grid, not beyond its sides."""
    low, high = grid[:, 0].min(), grid[:, 0].max()
    return piece.side == "above" and piece.distance < OVER and bool(low < piece.centre[0] < high)


def placed(box: tuple[int, int, int, int], grid: Points, others: list[Points]) -> tuple[Side, float, float]:
    """On which side of a grid a box stands, how far off, and how far from the nearest other grid."""
    x0, y0, x1, y1 = box
    spots = np.array([[x, y] for x in (x0, (x0 + x1) / 2, x1) for y in (y0, y1)])
    low, high = grid.min(0), grid.max(0)
    beyond: dict[Side, float] = {"above": low[1] - (y0 + y1) / 2, "below": (y0 + y1) / 2 - high[1],
              "left": low[0] - (x0 + x1) / 2, "right": (x0 + x1) / 2 - high[0]}  # fmt: skip
    rival = min((_distance(o, spots) for o in others), default=9.0)
    return max(beyond, key=lambda k: float(beyond[k])), _distance(grid, spots), rival


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
