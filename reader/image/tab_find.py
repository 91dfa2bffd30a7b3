"""Finds tab systems on a page: a small network votes in cells, geometry turns the votes into edges.

Conventions: points are (x, y) in page pixels; a *gap* is the mean distance between
neighbouring lines. The network looks at the page at several sizes and knows
systems whose gap is about 4 to 15 px at that size.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.levels import Levels, Pixels, levels_of
from reader.image.odds import softmax

Floats = NDArray[np.float64]
Run = Callable[[dict[str, NDArray[np.float32]]], dict[str, NDArray[np.float32]]]

LONG_SIDES = (1280, 640, 400, 250, 160, 100)
CELL = 8
PAD = 32
DISTANCE_UNIT = 16.0
FEWEST_LINES = 4
KIND_COUNT, LINE_COUNT_CHOICES, TAB = 4, 5, 1
CELL_PROBABILITY_ABOVE = 0.5
GAP_READABLE = (3.6, 17.0)
GAP_BEST = 8.0
SHORTEST_IN_GAPS = 3.5
OVERLAP_BELOW = 0.35
SAME_ABOVE = 0.6
"""Share of area above which two regions are one system."""
MOST_OTHERS = 2
END_COLUMNS = 10
"""Columns at the end of a region that tell how its edges go on."""


@dataclass(frozen=True, slots=True)
class TabRegion:
    """Where a tab system lies, before its lines are followed.

    Parameters
    ----------
    xs : (columns,) float
        Page columns, rising.
    first, last : (columns,) float
        Height of the first and the last line at these columns.
    line_count : int
    confidence : float
        Mean vote of its cells for 'tab', 0–1.
    count_votes : tuple of float
        Votes for 4, 5, 6, 7 and 8 lines, summing to 1.
    others : tuple of TabRegion
        The same system as seen at other sizes of the page, best first.
    """

    xs: tuple[float, ...]
    first: tuple[float, ...]
    last: tuple[float, ...]
    line_count: int
    confidence: float
    count_votes: tuple[float, ...]
    others: tuple[TabRegion, ...] = ()

    def reaching(self, left: float, right: float) -> TabRegion:
        """The same region from one page column to another, its edges going on as they last ran."""
        columns = np.unique([x for x in (left, *self.xs, right) if left <= x <= right])
        near = min(len(self.xs), END_COLUMNS)

        def at(edge: tuple[float, ...]) -> tuple[float, ...]:
            start, end = (
                np.polyfit(self.xs[part], edge[part], min(1, near - 1)) for part in (slice(near), slice(-near, None))
            )
            heights = np.interp(columns, self.xs, edge)
            heights = np.where(columns < self.xs[0], np.polyval(start, columns), heights)
            return tuple(np.where(columns > self.xs[-1], np.polyval(end, columns), heights).tolist())

        return replace(self, xs=tuple(columns.tolist()), first=at(self.first), last=at(self.last))

    def ruled(self, line_count: int, gap: float, down: float = 0.0) -> TabRegion:
        """The same region with another number of lines, straight and this far apart, so many gaps below its own middle
        line.
        """
        line = np.polyfit(self.xs, np.add(self.first, self.last) / 2, 1)
        course = np.polyval(line, self.xs) + down * gap
        half = gap * (line_count - 1) / 2 * float(np.hypot(1.0, line[0]))
        votes = tuple(float(line_count == FEWEST_LINES + k) for k in range(LINE_COUNT_CHOICES))
        edges = tuple((course - half).tolist()), tuple((course + half).tolist())
        return replace(self, first=edges[0], last=edges[1], line_count=line_count, count_votes=votes)

    @property
    def gap(self) -> float:
        """Mean distance between lines in page pixels."""
        return float(np.median(np.subtract(self.last, self.first))) / (self.line_count - 1)

    @property
    def corners(self) -> tuple[tuple[float, float], ...]:
        """Top left, top right, bottom right, bottom left, page pixels."""
        a, b = self.xs[0], self.xs[-1]
        return ((a, self.first[0]), (b, self.first[-1]), (b, self.last[-1]), (a, self.last[0]))


@dataclass(frozen=True, slots=True)
class Cells:
    """The network's votes over one size of the page."""

    scale: float
    tab: Floats
    counts: Floats
    above: Floats
    below: Floats


def find_regions(pixels: Pixels | Levels, run: Run) -> list[TabRegion]:
    """All tab systems on a page, in reading order.

    Parameters
    ----------
    pixels : (height, width, 3) uint8, RGB
    run : callable
        The finder network: ``picture`` (1, 3, H, W) float32 0–255 to ``cells``.
    """
    found: list[tuple[float, TabRegion]] = []
    for cells in look(pixels, run):
        found += regions_at(cells)
    return in_reading_order(suppressed(found))


def look(pixels: Pixels | Levels, run: Run) -> list[Cells]:
    """The network's votes at each size that is not larger than the page."""
    page = levels_of(pixels)
    height, width = page.pixels.shape[:2]
    longest = max(height, width)
    sides = [s for s in LONG_SIDES if s < longest * 1.15]
    if longest <= LONG_SIDES[0]:
        sides = [longest, *(s for s in LONG_SIDES if s < longest * 0.75)]
    out = []
    for side in sides:
        scale = side / longest
        size = (max(16, round(width * scale)), max(16, round(height * scale)))
        small = page.shrunk(size)
        right, bottom = -small.shape[1] % PAD, -small.shape[0] % PAD
        small = cv2.copyMakeBorder(small, 0, bottom, 0, right, cv2.BORDER_CONSTANT, value=usual_colour(small))
        picture = np.ascontiguousarray(small.transpose(2, 0, 1)[None], dtype=np.float32)
        votes = run({"picture": picture})["cells"][0].astype(np.float64)
        cells = read_votes(votes, scale)
        cells.tab[:, -(-size[0] // CELL) :] = 0
        cells.tab[-(-size[1] // CELL) :] = 0
        out.append(cells)
    return out


def usual_colour(pixels: Pixels) -> tuple[float, float, float]:
    """The middle value of each channel, mostly the paper's: what to put where a picture ends."""
    red, green, blue = np.median(pixels[:: max(1, len(pixels) // 64)].reshape(-1, 3), axis=0)
    return float(red), float(green), float(blue)


def read_votes(votes: Floats, scale: float) -> Cells:
    """Raw scores (11, rows, columns) as probabilities and distances in net pixels."""
    kind = softmax(votes[:KIND_COUNT], 0)
    reach = votes[KIND_COUNT + LINE_COUNT_CHOICES :] * DISTANCE_UNIT
    counts = votes[KIND_COUNT : KIND_COUNT + LINE_COUNT_CHOICES]
    return Cells(scale, kind[TAB], counts - log_sum(counts), reach[0], reach[1])


def log_sum(scores: Floats) -> Floats:
    """Logarithm of the summed exponentials over the first axis."""
    top = scores.max(axis=0)
    return np.asarray(top + np.log(np.exp(scores - top).sum(axis=0)))


def regions_at(cells: Cells) -> list[tuple[float, TabRegion]]:
    """Systems seen at one size, each with its merit."""
    height = cells.above + cells.below
    place = cells.above / np.maximum(height, 1.0)
    core = (cells.tab > CELL_PROBABILITY_ABOVE) & (place > 0.15) & (place < 0.85) & (height > 3 * GAP_READABLE[0])
    joined = cv2.dilate(core.astype(np.uint8), np.ones((1, 5), np.uint8))
    _, names = cv2.connectedComponents(joined, connectivity=8)
    names = np.where(core, names, 0)
    out = []
    for name in range(1, int(names.max()) + 1):
        rows, cols = np.nonzero(names == name)
        region = fit_region(cells, rows, cols)
        if region is not None:
            out.append(region)
    return out


def fit_region(cells: Cells, rows: NDArray[np.intp], cols: NDArray[np.intp]) -> tuple[float, TabRegion] | None:
    """Edges of one system from its cells; None when it is too small or its gap cannot be read at this size."""
    if len(rows) < 4:
        return None
    columns = np.unique(cols)
    centres = rows * CELL + CELL / 2
    firsts, lasts = centres - cells.above[rows, cols], centres + cells.below[rows, cols]
    weights = cells.tab[rows, cols]
    log_counts = cells.counts[:, rows, cols].mean(axis=1)
    votes = softmax(log_counts * 3.0, 0)
    count = int(votes.argmax()) + FEWEST_LINES
    gap = float(np.median(lasts - firsts)) / (count - 1)
    length = (columns[-1] - columns[0] + 1) * CELL
    if not GAP_READABLE[0] < gap < GAP_READABLE[1] or length < SHORTEST_IN_GAPS * gap:
        return None
    xs = np.asarray(columns * CELL + CELL / 2, np.float64)
    places = np.asarray(cols * CELL + CELL / 2, np.float64)
    first, last = (smooth_edge(places, ys, weights, xs, gap) for ys in (firsts, lasts))
    ends = np.concatenate([[xs[0] - CELL / 2], xs, [xs[-1] + CELL / 2]])
    first, last = (np.interp(ends, xs, ys) for ys in (first, last))
    up = 1 / cells.scale
    region = TabRegion(
        tuple((ends * up).tolist()),
        tuple((first * up).tolist()),
        tuple((last * up).tolist()),
        count,
        float(weights.mean()),
        tuple(votes.tolist()),
    )
    fit = float(np.exp(-0.35 * abs(np.log(gap / GAP_BEST))))
    return float(weights.mean()) * fit * min(1.0, 0.5 + length / gap / 30), region


def smooth_edge(at: Floats, ys: Floats, weights: Floats, xs: Floats, gap: float) -> Floats:
    """A smooth curve through votes that may hold outliers: reweighted polynomial of a degree that the length allows."""
    middle, half = (xs[0] + xs[-1]) / 2, max(1.0, (xs[-1] - xs[0]) / 2)
    degree = int(np.clip(len(xs) // 8, 1, 6))
    t = (at - middle) / half
    w = weights.copy()
    line = np.polynomial.Legendre.fit(t, ys, degree, w=w, domain=[-1, 1])
    for _ in range(3):
        miss = np.abs(line(t) - ys)
        w = weights / (1 + (miss / (0.25 * gap)) ** 2)
        line = np.polynomial.Legendre.fit(t, ys, degree, w=np.sqrt(w), domain=[-1, 1])
    return np.asarray(line((xs - middle) / half), np.float64)


def suppressed(found: list[tuple[float, TabRegion]]) -> list[TabRegion]:
    """The best of regions that cover each other, each with the next best of those that it covers."""
    kept: list[TabRegion] = []
    covered: list[list[TabRegion]] = []
    for _, region in sorted(found, key=lambda pair: -pair[0]):
        shares = [overlap(region, other) for other in kept]
        if not shares or max(shares) < OVERLAP_BELOW:
            kept.append(region)
            covered.append([])
        elif max(shares) > SAME_ABOVE:
            covered[int(np.argmax(shares))].append(region)
    return [replace(k, others=tuple(others[:MOST_OTHERS])) for k, others in zip(kept, covered, strict=True)]


def overlap(a: TabRegion, b: TabRegion) -> float:
    """Shared area over the smaller area, column by column."""
    low, high = max(a.xs[0], b.xs[0]), min(a.xs[-1], b.xs[-1])
    if high <= low:
        return 0.0
    at = np.linspace(low, high, 40)
    tops = np.maximum(np.interp(at, a.xs, a.first), np.interp(at, b.xs, b.first))
    feet = np.minimum(np.interp(at, a.xs, a.last), np.interp(at, b.xs, b.last))
    shared = float(np.maximum(0, feet - tops).mean()) * (high - low)
    areas = [float(np.mean(np.subtract(r.last, r.first))) * (r.xs[-1] - r.xs[0]) for r in (a, b)]
    return shared / max(1.0, min(areas))


def in_reading_order(regions: list[TabRegion]) -> list[TabRegion]:
    """Top to bottom; systems side by side from left to right."""
    ordered = sorted(regions, key=lambda r: float(np.mean(r.first)))
    out: list[TabRegion] = []
    while ordered:
        head = ordered[0]
        middle = float(np.mean(head.first) + np.mean(head.last)) / 2
        row = [r for r in ordered if min(r.first) < middle < max(r.last) or r is head]
        out += sorted(row, key=lambda r: r.xs[0])
        ordered = [r for r in ordered if r not in row]
    return out
