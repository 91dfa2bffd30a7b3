"""Finds the signs that stand around a grid: connected ink that may be lettering.

All of it happens in a crop that shows the page upright with the grid in its
middle (``around_matrix``). What the grid itself leaves behind (ends of lines, halves of
dots) and ruled lines are told apart by where they stand.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.crops import LETTERING_GRID, LETTERING_SIZE, Matrix, Points, lettering_matrix, side_lengths
from reader.image.frames_around import without_frames
from reader.image.highlights import lifted
from reader.image.ink_colours import by_colour
from reader.image.levels import Pixels

AROUND_SIZE = 640
AROUND_GRID = 200.0
"""Longer side of the grid in the crop, pixels."""
LEAST_INK = 9.0
"""Difference from the paper's colour below which nothing is ink, grey levels."""
INK_SHARE, PALE_SHARE = 0.25, 0.1
"""Ink of lettering against the ink of the grid's own lines, at least: mostly, and where nothing was read."""
FIRM_SHARES, LEAST_PARTED = (0.4, 0.55), 0.07
"""Ink against that of the grid's own lines from which lettering that a blurred picture joins to the grid stands apart,
tried in turn; of the grid's longer side, how large such lettering is at least."""
LEAST_REACH, MOST_REACH = 5, 20
"""How far the outer lines of a grid reach out from its corners, pixels."""
BESIDE_LINE = 4
"""How far within the outline, or twice as far beyond it, an outer line may begin, pixels."""
ALONG_LINE, OFTEN = 61, 40
"""Stretch over which an outer line's edge is smoothed, pixels, and its percentile: lettering may touch it."""
PALER, FAR_APART = 0.5, 160
"""Pieces of one ruled line or edge: the least ink of one against another's, and how far apart they are, pixels."""
THICKEST_RULE, RULE_TRACK = 8, 5
"""What is thicker is no ruled line but lettering run together; how wide a track a ruled line keeps to, pixels."""
CORNER, CORNER_FILLED = 80, 0.13
"""What is so large, pixels, and so hollow, share of its box, is the corner of a frame around the diagram."""
TALLEST_SIGN, LONGEST_SIGN, WIDEST = 0.75, 0.9, 4.0
"""Of the grid's longer side: how tall a sign is at most, since a label's letters may be nearly as tall as a small grid,
and how long; letters run together may be longer, in times of their height at most."""
RING = 0.75
"""Of the grid's longer side: what is larger and hollow may be a ring round the diagram."""
MOST_SIGNS = 220
Ints = NDArray[np.int64]


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
    red, green, blue = cv2.split(cv2.absdiff(crop, paper_of(crop)))
    return np.asarray(cv2.max(cv2.max(red, green), blue), np.float32)


def paper_of(crop: Pixels) -> Pixels:
    """The colour of the paper around each pixel, as large as the crop."""
    small = cv2.resize(crop, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.resize(cv2.medianBlur(small, 31), crop.shape[1::-1], interpolation=cv2.INTER_LINEAR))


def find_signs(
    crop: Pixels, ink: NDArray[np.float32], grid: Points, others: list[Points], pale: bool = False
) -> tuple[Ints, NDArray[np.int32]]:
    """Connected ink around one grid that may be lettering.

    Parameters
    ----------
    crop : uint8 [row, col, 3], ``AROUND_SIZE`` square
    ink : [row, col] grey levels, of the crop; a highlighter's colour is taken out of it
    grid : (4, 2) corners in the crop
    others : list of (4, 2) corners of the other grids of the page, in the crop
    pale : whether lettering much paler than the grid is looked for

    Returns
    -------
    (signs, 5) boxes as x, y, w, h and number, largest ink first; [row, col] map of those numbers
    """
    noise, of_lines = float(np.median(ink[::4, ::4])) * 3.5, _ink_of_lines(ink, grid)
    least = max(LEAST_INK, (PALE_SHARE if pale else INK_SHARE) * of_lines, noise)
    dark = (ink > least).astype(np.uint8)
    _take_rules_out(dark)
    outline = _outline(dark, grid)
    drawn = dark & cv2.fillPoly(np.zeros_like(dark), [outline], 1)
    dark -= drawn
    for other in others:
        cv2.fillConvexPoly(dark, np.round(_grown(other, 6.0)).astype(np.int32), 0)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(dark, connectivity=8)
    if count < 2:
        return np.zeros((0, 5), np.int64), labels
    labels, stats = _rings_parted(crop, labels, stats)
    labels, stats = lifted(ink, labels, stats)
    labels, stats = _parted_from_grid(ink, of_lines, labels, stats, drawn)
    count = len(stats)
    boxes = np.column_stack([stats[1:, :4], np.arange(1, count)]).astype(np.int64)
    area = stats[1:, cv2.CC_STAT_AREA]
    w, h = boxes[:, 2], boxes[:, 3]
    fits = (np.maximum(w, h) >= 5) & (area >= 10) & (h < TALLEST_SIGN * AROUND_GRID)
    fits &= (w < LONGEST_SIGN * AROUND_GRID) | (w < WIDEST * h)
    fits &= ~_left_by_grid(labels, boxes, outline, drawn, min(side_lengths(grid)))
    fits &= (np.maximum(w, h) < CORNER) | (area > CORNER_FILLED * w * h)
    strong = cv2.dilate(ink, np.ones((3, 3), np.uint8))[tuple((boxes[:, [1, 0]] + boxes[:, [3, 2]] // 2).T)]
    fits &= ~(_in_row(boxes[:, [0, 1, 2, 3]], strong) | _in_row(boxes[:, [1, 0, 3, 2]], strong))
    boxes, area = boxes[fits], area[fits]
    return without_frames(boxes[np.argsort(-area)[:MOST_SIGNS]], labels), labels


def _rings_parted(
    crop: Pixels, labels: NDArray[np.int32], stats: NDArray[np.int32]
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """The same pieces of ink, where a ring or an arrow of another colour runs through lettering each by itself."""
    w, h, area = stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT], stats[:, cv2.CC_STAT_AREA]
    large = (np.maximum(w, h) > RING * AROUND_GRID) & (area < CORNER_FILLED * w * h)
    large[0] = False
    if not large.any():
        return labels, stats
    paper = paper_of(crop)
    for k in np.flatnonzero(large):
        inks = by_colour(crop, paper, (labels == k).astype(np.uint8))
        if inks is None:
            continue
        labels[labels == k] = 0
        stats[k, cv2.CC_STAT_AREA] = 0
        for ink in inks:
            _, found, parts, _ = cv2.connectedComponentsWithStats(ink, connectivity=8)
            labels[found > 0] = found[found > 0] + len(stats) - 1
            stats = np.concatenate([stats, parts[1:]])
    return labels, stats


def _parted_from_grid(
    ink: NDArray[np.float32],
    of_lines: float,
    labels: NDArray[np.int32],
    stats: NDArray[np.int32],
    drawn: NDArray[np.uint8],
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """The same pieces of ink, of those that touch the grid what stands by itself where only firm ink counts."""
    close = cv2.dilate(drawn, np.ones((5, 5), np.uint8)) > 0
    least = LEAST_PARTED * AROUND_GRID
    for k in np.unique(labels[close]):
        x, y, w, h = stats[k, :4]
        if k == 0 or max(w, h) < 1.5 * least:
            continue
        part, near = labels[y : y + h, x : x + w], close[y : y + h, x : x + w]
        for share in FIRM_SHARES:
            firm = ((part == k) & (ink[y : y + h, x : x + w] > share * of_lines)).astype(np.uint8)
            _, found, pieces, _ = cv2.connectedComponentsWithStats(firm, connectivity=8)
            apart = np.setdiff1d(np.arange(1, len(pieces)), found[near])
            apart = apart[(pieces[apart, cv2.CC_STAT_HEIGHT] >= least) & (pieces[apart, cv2.CC_STAT_AREA] > least)]
            if not len(apart):
                continue
            for piece in apart:
                # with the soft edge that the blur gave it
                own = cv2.dilate((found == piece).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
                part[own & (part == k) & ~near] = len(stats)
                box = pieces[piece] + [x, y, 0, 0, 0]
                stats = np.concatenate([stats, box[None].astype(stats.dtype)])
            break
    return labels, stats


def _ink_of_lines(ink: NDArray[np.float32], grid: Points) -> float:
    """How strong the grid's own outline is."""
    steps = np.linspace(0, 1, 40)[:, None]
    points = np.concatenate([a + (b - a) * steps for a, b in zip(grid, np.roll(grid, -1, 0), strict=True)])
    near = cv2.dilate(ink, np.ones((9, 9), np.uint8))
    xy = np.clip(np.round(points), 0, AROUND_SIZE - 1).astype(int)
    return float(np.percentile(near[xy[:, 1], xy[:, 0]], 60))


def _take_rules_out(dark: NDArray[np.uint8]) -> None:
    """Blank long straight lines: ruled and squared paper, frames, stems of other drawings; strokes across them stay."""
    for shape, across in (((1, 110), (RULE_TRACK, 1)), ((110, 1), (1, RULE_TRACK))):
        # a line that leans a little still runs on within a wider track
        wide = cv2.dilate(dark, np.ones(across, np.uint8))
        lines = cv2.morphologyEx(wide, cv2.MORPH_OPEN, np.ones(shape, np.uint8))
        level = shape[0] == 1
        thickest = (THICKEST_RULE + RULE_TRACK, 1) if level else (1, THICKEST_RULE + RULE_TRACK)
        lines &= ~cv2.morphologyEx(lines, cv2.MORPH_OPEN, np.ones(thickest, np.uint8))
        if lines.any():
            stroke = (THICKEST_RULE, 1) if level else (1, THICKEST_RULE)
            strokes = cv2.morphologyEx(dark, cv2.MORPH_OPEN, np.ones(stroke, np.uint8))
            dark[(cv2.dilate(lines, np.ones((3, 3), np.uint8)) > 0) & (strokes == 0)] = 0


def _outline(dark: NDArray[np.uint8], grid: Points) -> NDArray[np.int32]:
    """The grid with its own outer lines, whichever way they lean or bend: (points, 2) crop pixels."""
    centre = grid.mean(0)
    parts = []
    for a, b in zip(grid, np.roll(grid, -1, 0), strict=True):
        length = max(2, round(float(np.hypot(*(b - a)))))
        along = (b - a) / length
        out = np.array([along[1], -along[0]])
        if float(out @ ((a + b) / 2 - centre)) < 0:
            out = -out
        reach = _reach(dark, a, along, out, length)
        steps = np.linspace(-LEAST_REACH, length + LEAST_REACH, len(reach))
        parts.append(a + steps[:, None] * along + reach[:, None] * out)
    return np.round(np.concatenate(parts)).astype(np.int32)


def _reach(dark: NDArray[np.uint8], start: Points, along: Points, out: Points, length: int) -> NDArray[np.float64]:
    """How far the line on one side reaches out, pixels, at each pixel along it."""
    depth = np.arange(-BESIDE_LINE, MOST_REACH + 2)
    spots = start + np.arange(length)[:, None, None] * along + depth[None, :, None] * out
    xy = np.clip(np.round(spots), 0, np.array(dark.shape[::-1]) - 1).astype(int)
    inked = dark[xy[..., 1], xy[..., 0]] > 0
    first = inked.argmax(1)
    found = inked.any(1) & (first <= 3 * BESIDE_LINE)
    if found.mean() < 0.3:
        return np.full(length, float(LEAST_REACH))
    beyond = ~inked & (np.arange(len(depth)) > first[:, None])
    ends = np.where(beyond.any(1), beyond.argmax(1), len(depth) - 1) - BESIDE_LINE
    known = np.flatnonzero(found)
    ends = ends[known[np.clip(np.searchsorted(known, np.arange(length)), 0, len(known) - 1)]]
    half = ALONG_LINE // 2
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(ends, half, mode="reflect"), ALONG_LINE)
    edge = np.percentile(windows, OFTEN, axis=1)
    return np.asarray(np.clip(np.minimum(edge, _trend(edge) + 2.0) + 1.0, LEAST_REACH, MOST_REACH))


def _trend(edge: NDArray[np.float64]) -> NDArray[np.float64]:
    """The straight line that most of an edge runs along, lettering that stands on it left out."""
    at = np.arange(len(edge), dtype=float)
    chosen = np.ones(len(edge), bool)
    for _ in range(3):
        line = np.polyval(np.polyfit(at[chosen], edge[chosen], 1), at)
        off = edge - line
        chosen = off <= max(1.0, float(np.percentile(off, 60)))
    return np.asarray(line)


def _grown(grid: Points, by: float) -> Points:
    """The figure with its corners moved outwards along both diagonals' axes."""
    centre = grid.mean(0)
    d = grid - centre
    return np.asarray(centre + d + np.sign(d) * by)


def _left_by_grid(
    labels: NDArray[np.int32], boxes: Ints, outline: NDArray[np.int32], drawn: NDArray[np.uint8], side: float
) -> NDArray[np.bool_]:
    """Which signs are only what sticks out of a grid with this shorter side: ends of lines, halves of dots.

    Parameters
    ----------
    drawn : [row, col] 1 where the grid itself is inked
    """
    touching = np.isin(boxes[:, 4], np.unique(labels[cv2.dilate(drawn, np.ones((5, 5), np.uint8)) > 0]))
    x, y, w, h = boxes[:, :4].T
    low, high = outline.min(0), outline.max(0)
    out_x = np.maximum(low[0] - x, x + w - high[0])
    out_y = np.maximum(low[1] - y, y + h - high[1])
    longest_x, longest_y = min(0.16 * AROUND_GRID, 0.24 * side), min(0.085 * AROUND_GRID, 0.13 * side)
    inside = np.ones(labels.shape, np.uint8)
    cv2.fillPoly(inside, [outline], 0)
    away = cv2.distanceTransform(inside, cv2.DIST_L2, 3)
    out = np.max([away[b, a] for a in (x, x + w - 1) for b in (y, y + h - 1)], axis=0)
    short = out < np.where(out_x > out_y, longest_x, longest_y)
    thin = np.minimum(w, h) < 0.035 * AROUND_GRID
    return np.asarray(touching & (short | thin))


def _in_row(boxes: Ints, strong: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Which narrow upright strokes stand in one line above each other: pieces of an edge or a ruled line.

    Parameters
    ----------
    strong : ink of each; a stroke among much paler pieces is none of them
    """
    x, y, w, h = boxes.T.astype(float)
    narrow = np.flatnonzero((w < 9) & (h > 1.8 * w))
    out = np.zeros(len(boxes), bool)
    if len(narrow) < 3:
        return out
    cx, cy = (x + w / 2)[narrow], (y + h / 2)[narrow]
    dx, dy = np.abs(cx[:, None] - cx), np.abs(cy[:, None] - cy)
    alike = (strong[narrow] > PALER * strong[narrow][:, None]) & (dy < FAR_APART)
    out[narrow] = ((dx < 3 + 0.12 * dy) & (dy > 5) & alike).sum(1) >= 2
    return out
