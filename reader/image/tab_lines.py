"""Follows the lines of a tab system and straightens it into a strip of 20 px a gap.

A strip has a block of 20 rows for every line, the line in the middle of its
block, and two more blocks above and below. The strip network was trained on
this layout (``reader/training/tabs/strips.py``).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.levels import Pixels
from reader.image.odds import softmax
from reader.image.tab_find import FEWEST_LINES, Floats, TabRegion, usual_colour

GAP = 20
FINE = 2
"""Pixels of the picture in which numbers are looked at closely to a pixel of the strip."""
MARGIN = 2
ALONG = 2.5
"""Gaps of page kept to the left and right of the system."""
STEP = 5
"""Columns between the places where a line is looked for."""
REACH = 11
"""Rows that a line may lie away from where it is expected."""
SHIFTS = np.arange(-REACH, REACH + 1)
TURN = 0.25
"""Cost of a row up or down between two places, in units of a place without any ink."""
TOUCHING = 7
"""Rows below which two lines' paths run along the same ink."""
SHARED_ABOVE = 0.04
"""Share of the length over which paths may touch."""
PALER_THAN, ALIKE = 0.28, 0.7
"""Ink of a line of the paper against the median of a system's lines, at most, and of the palest of these, at least. Of
571 looks at systems ten had an outer line as pale: eight a ruled line, two misread all the same."""
RUNS_ON, ENDS, WEAKER = 0.85, 0.2, 0.9
"""Ink of a line of the paper beyond both ends of a system against its ink within, at least; the same of the system's
own lines, at most (their median); ink of the paper's line against the median of all, at most."""
USUAL = (6, 4)
"""Counts of lines that most tabs have: common practice, no source."""
LARGEST_GAP = 26.0
"""Page pixels a gap beyond which the page is made smaller before it is straightened."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Map from strip to page: a curved middle line, a direction across it, and how far each line lies from it.

    Parameters
    ----------
    xs, ys : (width,) float
        The middle line of the system at every strip column, page pixels.
    across : (2,) float
        Unit vector down across the lines, page axes.
    offsets : (blocks, width) float
        Distance of each block's middle from the middle line along ``across``.
    gap : float
        Page pixels a gap.
    """

    xs: Floats
    ys: Floats
    across: tuple[float, float]
    offsets: Floats
    gap: float

    @property
    def width(self) -> int:
        """Strip columns."""
        return len(self.xs)

    @property
    def line_count(self) -> int:
        """Lines of the system."""
        return len(self.offsets) - 2 * MARGIN

    def page_points(self, columns: Floats, rows: Floats) -> Floats:
        """Page points (n, 2) of strip places (column, row in px)."""
        at = np.clip(np.asarray(columns, np.float64), 0, self.width - 1)
        block = (np.asarray(rows, np.float64) - GAP / 2) / GAP
        low = np.clip(np.floor(block).astype(int), 0, len(self.offsets) - 2)
        grid = np.arange(self.width)
        a, b = (
            np.array([np.interp(c, grid, self.offsets[k + j]) for c, k in zip(at, low, strict=True)]) for j in (0, 1)
        )
        far = a + (b - a) * (block - low)
        x, y = np.interp(at, grid, self.xs), np.interp(at, grid, self.ys)
        return np.column_stack([x + self.across[0] * far, y + self.across[1] * far])


def lifted(frame: Frame, share: float) -> Frame:
    """The frame whose lines lie a share of a gap further up."""
    steps = np.diff(frame.offsets, axis=0)
    return replace(frame, offsets=frame.offsets - share * np.vstack([steps[:1], steps]))


def rough_frame(region: TabRegion, lines: int) -> Frame:
    """A frame with evenly spaced lines between the edges that the finder saw."""
    xs, first, last = (np.asarray(v, np.float64) for v in (region.xs, region.first, region.last))
    middle, height = (first + last) / 2, last - first
    slope = float(np.polyfit(xs, middle, 1)[0])
    length = float(np.hypot(1.0, slope))
    gap = float(np.median(height)) / (lines - 1) / length
    across = (-slope / length, 1 / length)
    start, end = xs[0] - ALONG * gap, xs[-1] + ALONG * gap
    width = int(np.ceil((end - start) * length / gap * GAP / GAP)) * GAP
    page_x = start + np.arange(width) * gap / GAP / length
    page_y = np.interp(page_x, xs, middle) + slope * (np.minimum(page_x - xs[0], 0) + np.maximum(page_x - xs[-1], 0))
    tall = np.interp(page_x, xs, height) / length
    places = np.arange(-MARGIN, lines + MARGIN) / (lines - 1) - 0.5
    return Frame(page_x, page_y, across, places[:, None] * tall[None, :], gap)


def cut(pixels: Pixels, frame: Frame, fine: int = 1) -> Pixels:
    """The strip of a frame, ink as dark or as light as on the page.

    Parameters
    ----------
    fine : int
        Pixels of the picture to a pixel of the strip.

    Returns
    -------
    (20·blocks·fine, width·fine, 3) uint8
    """
    blocks, scale = len(frame.offsets), GAP * fine
    at = (np.arange(blocks * scale) - scale / 2 + 0.5) / scale
    low = np.clip(np.floor(at).astype(int), 0, blocks - 2)
    part = (at - low)[:, None]
    offsets, xs, ys = (finer(v, fine) for v in (frame.offsets, frame.xs, frame.ys))
    far = offsets[low] * (1 - part) + offsets[low + 1] * part
    map_x, map_y = xs + frame.across[0] * far, ys + frame.across[1] * far
    left, top = int(np.floor(map_x.min())) - 2, int(np.floor(map_y.min())) - 2
    left, top = max(0, left), max(0, top)
    piece = pixels[top : int(map_y.max()) + 4, left : int(map_x.max()) + 4]
    if 0 in piece.shape:
        return np.full((blocks * scale, frame.width * fine, 3), 255, np.uint8)
    shrink = 1.0
    if frame.gap > LARGEST_GAP * fine:
        shrink = scale / frame.gap
        size = (max(2, round(piece.shape[1] * shrink)), max(2, round(piece.shape[0] * shrink)))
        piece = np.asarray(cv2.resize(piece, size, interpolation=cv2.INTER_AREA), np.uint8)
    maps = [((m - o + 0.5) * shrink - 0.5).astype(np.float32) for m, o in ((map_x, left), (map_y, top))]
    paper = usual_colour(piece)
    strip = cv2.remap(piece, maps[0], maps[1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=paper)
    return np.asarray(strip, np.uint8)


def halved(fine: Pixels) -> Pixels:
    """A strip from its picture of ``FINE`` times the size."""
    size = (fine.shape[1] // FINE, fine.shape[0] // FINE)
    return np.asarray(cv2.resize(fine, size, interpolation=cv2.INTER_AREA), np.uint8)


def finer(values: Floats, fine: int) -> Floats:
    """Values along the last axis at ``fine`` times as many places."""
    if fine == 1:
        return values
    count = values.shape[-1]
    at = np.clip((np.arange(count * fine) + 0.5) / fine - 0.5, 0, count - 1)
    low = np.minimum(at.astype(int), count - 2)
    part = at - low
    return np.asarray(values[..., low] * (1 - part) + values[..., low + 1] * part)


def darkness(strip: Pixels) -> Floats:
    """Ink of a strip: 0 paper, 1 black, (rows, columns); the darkest channel counts, so that coloured ink shows."""
    value, paper = _value_and_paper(strip)
    return np.asarray(np.clip(1 - value / np.maximum(paper.astype(np.float64), 8.0), 0, 1), np.float64)


def darkness_in_bytes(page: Pixels) -> NDArray[np.uint8]:
    """The same of a whole page, 0 to 255."""
    value, paper = _value_and_paper(page)
    return np.asarray(255 - cv2.divide(value, np.maximum(paper, 8), scale=255), np.uint8)


def _value_and_paper(pixels: Pixels) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """The darkest channel at each place, and what the paper around it has there."""
    red, green, blue = cv2.split(pixels)
    value = cv2.min(cv2.min(red, green), blue)
    small = cv2.resize(value, (max(1, value.shape[1] // 5), max(1, value.shape[0] // 5)), interpolation=cv2.INTER_AREA)
    paper = cv2.blur(cv2.dilate(small, np.ones((9, 9), np.uint8)), (9, 9))
    return np.asarray(value, np.uint8), np.asarray(cv2.resize(paper, value.shape[1::-1]), np.uint8)


def ridge(dark: Floats) -> Floats:
    """How much darker each place is than 5 px above and below it, averaged two gaps along the line."""
    rows = np.pad(dark, ((5, 5), (0, 0)), mode="edge")
    here = rows[5:-5]
    rise = np.minimum(here - rows[:-10], here - rows[10:])
    return np.asarray(cv2.blur(cv2.blur(rise, (1, 2)), (2 * GAP + 1, 1)), np.float64)


def is_light_on_dark(strip: Pixels, lines: int) -> bool:
    """Whether the lines are brighter than the ground between them."""
    value = cv2.cvtColor(strip, cv2.COLOR_RGB2GRAY)
    profile = np.median(value[:, ::3], axis=1)
    rows = (np.arange(lines) + MARGIN) * GAP + GAP // 2
    ground = float(np.median(profile))
    if ground > 128:
        return False
    on = np.mean([profile[r - 4 : r + 5].max() for r in rows]) - ground
    off = ground - np.mean([profile[r - 4 : r + 5].min() for r in rows])
    return bool(on > off)


def comb_merit(ridges: Floats, lines: int, expected: int) -> float:
    """How well evenly spaced lines between the outer two explain the ridges: mean on them less mean between them."""
    profile = np.clip(ridges, 0, None).mean(axis=1)
    top, foot = MARGIN * GAP + GAP / 2, (MARGIN + expected - 1) * GAP + GAP / 2
    places = np.linspace(top, foot, lines)
    between = (places[1:] + places[:-1]) / 2
    step = (foot - top) / (lines - 1)
    reach = max(2, int(step * 0.15))

    def near(rows: Floats) -> float:
        return float(np.mean([profile[max(0, round(r) - reach) : round(r) + reach + 1].max() for r in rows]))

    return near(places) - near(between)


def count_lines(region: TabRegion, ridges: Floats) -> tuple[int, float]:
    """Line count from the finder's votes and from the picture; the share that speaks for it, 0–1."""
    choices = np.arange(FEWEST_LINES, FEWEST_LINES + len(region.count_votes))
    comb = np.array([comb_merit(ridges, int(n), region.line_count) for n in choices])
    comb = comb / max(1e-6, float(comb.max()))
    scores = np.log(np.maximum(region.count_votes, 1e-4)) + 6.0 * comb
    shares = softmax(scores)
    best = int(shares.argmax())
    return int(choices[best]), float(shares[best])


def follow(ridges: Floats, lines: int) -> Floats:
    """Where each line really runs: rows away from the middle of its block, (lines, width).

    A cheapest path over columns (dynamic programming): a place costs less the
    stronger its ridge; leaving the straight costs. Where two lines took the same
    ink, the one that it suits less looks again beside it.
    """
    width = ridges.shape[1]
    columns = np.arange(0, width, STEP)
    rows = (np.arange(lines) + MARGIN)[:, None] * GAP + GAP // 2 + SHIFTS[None, :]
    gain = np.clip(ridges[rows][:, :, columns], 0, 0.3)
    gain = gain / max(0.02, float(np.quantile(gain.max(axis=1), 0.8)))
    cost = 1 - np.minimum(gain, 1.2) + 0.004 * (SHIFTS[None, :, None] / 2.0) ** 2
    path = cheapest(cost)
    for _ in range(2 * lines):
        pair = colliding(path)
        if pair is None:
            break
        paid = [float(cost[i, path[i] + REACH, np.arange(len(columns))].mean()) for i in pair]
        loser, keeper = pair if paid[0] > paid[1] else pair[::-1]
        taken = path[keeper] + (keeper - loser) * GAP
        cost[loser] += 1.5 * (np.abs(SHIFTS[:, None] - taken[None, :]) < TOUCHING)
        path[loser] = cheapest(cost[loser : loser + 1])[0]
    smooth = cv2.blur(path.astype(np.float64), (2 * (GAP // STEP) + 1, 1), borderType=cv2.BORDER_REPLICATE)
    return np.stack([np.interp(np.arange(width), columns, row) for row in smooth])


def cheapest(cost: Floats) -> NDArray[np.intp]:
    """Cheapest paths through costs (lines, shifts, columns), one shift at most from column to column; in shifts."""
    lines, width, count = cost.shape
    best = np.empty((count, lines, width))
    best[0] = cost[:, :, 0]
    walled = np.full((lines, width + 2), np.inf)
    for c in range(1, count):
        walled[:, 1:-1] = best[c - 1]
        turned = np.minimum(walled[:, :-2], walled[:, 2:]) + TURN
        best[c] = np.minimum(turned, best[c - 1]) + cost[:, :, c]
    path = np.empty((lines, count), np.intp)
    every, at = np.arange(lines), best[-1].argmin(axis=1)
    path[:, -1] = at
    for c in range(count - 2, -1, -1):
        walled[:, 1:-1] = best[c]
        ways = np.stack([walled[every, at] + TURN, walled[every, at + 1], walled[every, at + 2] + TURN])
        at = at + ways.argmin(axis=0) - 1
        path[:, c] = at
    return path - REACH


def colliding(path: NDArray[np.intp]) -> tuple[int, int] | None:
    """The neighbouring lines whose paths share most ink, or None when none share more than a little."""
    near = np.diff(path + GAP * np.arange(len(path))[:, None], axis=0) < TOUCHING
    shares = near.mean(axis=1)
    worst = int(shares.argmax())
    return (worst, worst + 1) if shares[worst] > SHARED_ABOVE else None


def refined(frame: Frame, away: Floats) -> Frame:
    """The frame with its blocks moved onto the lines found; the blocks outside move with the outer lines."""
    step = frame.gap / GAP
    moved = np.vstack([np.repeat(away[:1], MARGIN, 0), away, np.repeat(away[-1:], MARGIN, 0)])
    return Frame(frame.xs, frame.ys, frame.across, frame.offsets + moved * step, frame.gap)


def paper_edge(strip: Pixels, lines: int) -> tuple[int, int] | None:
    """First and last block of the system's own lines where an outermost line is one of the paper.

    Such a line is much paler than all others; or it runs on beyond both ends of the system, where the others stop,
    is weaker than they are, and without it the system has a usual number of lines.

    Parameters
    ----------
    strip : (20·(lines+4), width, 3) uint8
        The lines in the middle of their blocks.

    Returns
    -------
    (first, last), or None where all lines are the system's
    """
    if lines <= FEWEST_LINES:
        return None
    side = int(ALONG * GAP)
    ridges = ridge(darkness(strip))
    middles = (np.arange(lines) + MARGIN) * GAP + GAP // 2
    ink = np.stack([ridges[y - 3 : y + 4].max(0) for y in middles])
    strength = np.median(ink[:, side : max(side + 1, ink.shape[1] - side)], axis=1)
    beyond = np.minimum(np.median(ink[:, 4 : side - 14], axis=1), np.median(ink[:, 14 - side : -4], axis=1))
    for outer, own, kept in ((0, slice(1, None), (1, lines - 1)), (-1, slice(None, -1), (0, lines - 2))):
        middle = float(np.median(strength[own]))
        pale = strength[outer] < PALER_THAN * middle and strength[own].min() > ALIKE * middle
        runs = beyond[outer] > RUNS_ON * strength[outer] and np.median(beyond[own]) < ENDS * middle
        ruled = runs and PALER_THAN * middle < strength[outer] < WEAKER * middle
        if pale or (ruled and lines not in USUAL and lines - 1 in USUAL):
            return MARGIN + kept[0], MARGIN + kept[1]
    return None


def misfit(ridges: Floats, away: Floats) -> float:
    """How little of the lines' course is inked where the path runs, 0 (all) to 1 (nothing)."""
    lines, width = away.shape
    rows = np.clip(
        np.round((np.arange(lines) + MARGIN)[:, None] * GAP + GAP / 2 + away).astype(int), 0, len(ridges) - 1
    )
    return float((ridges[rows, np.arange(width)[None, :]] < 0.02).mean())


def unevenness(frame: Frame, span: tuple[float, float]) -> float:
    """How far neighbouring lines are from their usual distance, as a part of it, over the worst gap of length."""
    lines = frame.offsets[MARGIN : MARGIN + frame.line_count, max(0, int(span[0])) : int(span[1])]
    apart = np.diff(lines, axis=0)
    off = np.abs(apart / np.maximum(np.median(apart, axis=0), 1e-6) - 1)
    return float(cv2.blur(off, (GAP, 1)).max())
