"""Takes the ruled lines of the paper off a page with tab systems: within a system they pass for its own lines.

Ruled lines run over the whole page, evenly spaced. Only ink as thin and as pale as they mostly are is taken away, so
that a line drawn over a ruled one stays.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise, product

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.levels import Pixels
from reader.image.tab_find import Floats

BANDS = 24
"""Bands from left to right in which lines are looked for."""
LONG, TRACK, BROKEN = 31, 3, 9
"""How long a piece of line is at least, how far it may lean over that length, and what gaps it may have, pixels."""
PALE, NOT_DARKER, NOT_THICKER = 0.05, 1.5, 1.7
"""Least ink of a ruled line; darkness and thickness, against what is usual along such lines, up to which ink belongs to
one (judged by hand)."""
LEANS, LEAN_STEP = 0.16, 0.008
"""Steepest course of ruled lines and the steps in which it is looked for, rows to a column."""
TURNS, TURN_STEP = 0.18, 0.03
"""How far the course may differ from the head of the page to its foot, and the steps in which that is looked for."""
COARSE = 4
"""Rows to one of the profiles with which the course is looked for."""
FEWEST, FILLED = 7, 0.6
"""Ruled lines that a page shows at least; share of their evenly spaced places at which one is seen, at least."""
EVEN, ON_COURSE, MOST_OFF = 0.12, 0.06, 0.2
"""In distances of two lines: how far a line may be from where the one before it lets expect it, from an even course
through all, and from its place beyond the ends of that (judged by hand)."""
CLOSEST, FURTHEST = 14, 0.08
"""Distance of two ruled lines: pixels at least, share of the page's height at most."""
MOST_BEYOND = 6
"""Lines looked for beyond either end of the even ones, where other drawing hides them."""
THICKEST = 6
"""Half of the thickest ruled line, pixels."""

Mask = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Ruling:
    """The ruled lines of a page.

    Parameters
    ----------
    courses : (lines, width) row of each line at every column
    ink : usual darkness of such a line, 0–1
    thick : usual thickness, pixels
    """

    courses: Floats
    ink: float
    thick: float


@dataclass(frozen=True, slots=True)
class _Course:
    """Which way lines run: their lean in the middle of the page, and how much it grows from head to foot."""

    lean: float
    turn: float

    def rows(self, rows: Floats, aside: float, height: int) -> Floats:
        """Rows at which lines stand, so far aside of the middle of the page, that have these rows there."""
        return np.asarray(rows + aside * (self.lean + self.turn * (rows / height - 0.5)))


def find_ruling(dark: Mask) -> Ruling | None:
    """The ruled lines of a page.

    Parameters
    ----------
    dark : uint8 (height, width) ink, as ``tab_lines.darkness_in_bytes`` gives it
    """
    height, width = dark.shape
    tall = cv2.dilate(dark, np.ones((TRACK, 1), np.uint8))
    whole = cv2.morphologyEx(tall, cv2.MORPH_CLOSE, np.ones((1, BROKEN), np.uint8))
    lines = cv2.erode(cv2.morphologyEx(whole, cv2.MORPH_OPEN, np.ones((1, LONG), np.uint8)), np.ones((TRACK, 1)))
    edges = np.linspace(0, width, BANDS + 1).astype(int)
    middles = (edges[1:] + edges[:-1]) / 2
    profiles = np.stack([lines[:, a:b].mean(1) for a, b in pairwise(edges)]) / 255
    # an evenly dark stretch is no line
    profiles = np.clip(
        profiles - np.stack([cv2.erode(p[:, None], np.ones((CLOSEST, 1)))[:, 0] for p in profiles]), 0, 1
    )
    course = _course_of(profiles, middles - width / 2)
    pale, rows = profiles, np.zeros(0)
    for _ in range(2):  # once more without what is darker than the lines that were found
        levelled = _levelled(pale, middles - width / 2, course)
        found = _even_rows(_peaks(np.median(levelled, axis=0)), height)
        if found is None:
            return None
        rows = found
        near = cv2.dilate(levelled, np.ones((1, CLOSEST // 2 + 1)))[:, np.round(rows).astype(int)]
        usual = float(np.median(near[near > PALE])) if (near > PALE).any() else 1.0
        pale = np.where(profiles > NOT_DARKER * usual, 0.0, profiles)
    traced = [_traced(pale, middles, course, row, width) for row in rows]
    courses = np.stack([c for c in traced if c is not None]) if any(c is not None for c in traced) else None
    if courses is None or len(courses) < FEWEST:
        return None
    ink, thick = _usual(dark, courses)
    return Ruling(courses, ink, thick)


def _levelled(profiles: Floats, aside: Floats, course: _Course) -> Floats:
    """Profiles (bands, height) as lines of this course stand in the middle of the page."""
    height = profiles.shape[1]
    rows = np.arange(height, dtype=np.float64)
    at = [np.round(course.rows(rows, x, height)).astype(int) for x in aside]
    return np.stack(
        [np.where((a >= 0) & (a < height), p[a.clip(0, height - 1)], 0) for p, a in zip(profiles, at, strict=True)]
    )


def _course_of(profiles: Floats, aside: Floats) -> _Course:
    """The course in which the lines of all bands come to lie on each other best."""
    height = profiles.shape[1] // COARSE * COARSE
    # a few strong lines are not to outvote many pale ones
    small = np.minimum(profiles[:, :height].reshape(len(profiles), -1, COARSE).max(2), 3 * PALE)

    def merit(course: _Course) -> float:
        return float((_levelled(small, aside / COARSE, course).mean(0) ** 2).sum())

    leans, turns = np.arange(-LEANS, LEANS + 1e-6, LEAN_STEP), np.arange(-TURNS, TURNS + 1e-6, TURN_STEP)
    best = max((_Course(float(a), float(b)) for a, b in product(leans, turns)), key=merit)
    near_leans = best.lean + LEAN_STEP * np.linspace(-0.75, 0.75, 7)
    near_turns = best.turn + TURN_STEP * np.linspace(-0.75, 0.75, 7)
    return max((_Course(float(a), float(b)) for a, b in product(near_leans, near_turns)), key=merit)


def _peaks(mean: Floats) -> Floats:
    """Rows at which a line is seen."""
    smooth = cv2.blur(mean[:, None], (1, 3))[:, 0]
    highest = cv2.dilate(smooth[:, None], np.ones((CLOSEST // 2 * 2 + 1, 1), np.uint8))[:, 0]
    return np.flatnonzero((smooth == highest) & (smooth > PALE)).astype(np.float64)


def _even_rows(peaks: Floats, height: int) -> Floats | None:
    """The rows of evenly spaced lines through most of what is seen between the first and the last of them."""
    apart = np.diff(peaks)
    steps = np.unique(np.round(apart[(apart > CLOSEST) & (apart < FURTHEST * height)]))
    chains = [_chain(peaks[start:], float(step)) for step in steps for start in range(len(peaks) - FEWEST + 1)]
    fits = [_fitted(*chain) for chain in chains if len(chain[0]) >= FEWEST]
    if not fits:
        return None
    merit, fitted, count = max(fits, key=lambda f: f[0])
    if merit < FEWEST or merit < FILLED * count:
        return None
    every: list[float] = np.asarray(fitted(np.arange(count)), np.float64).tolist()
    step = (every[-1] - every[0]) / (count - 1)
    # beyond the ends line by line, each where it is seen near its place
    for end in (-1, 0):
        a, b, c, d = every[:4] if end == 0 else every[:-5:-1]
        grows = a - 2 * b + c
        further = (a - d) / 3 + 1.5 * grows
        for _ in range(MOST_BEYOND):
            further += grows
            expected = every[end] + further
            if not 0 < expected < height - 1:
                break
            near = float(peaks[int(np.abs(peaks - expected).argmin())])
            row = near if abs(near - expected) < MOST_OFF * step else expected
            every = [*every, row] if end else [row, *every]
    return np.array(every)


def _chain(peaks: Floats, step: float) -> tuple[Floats, Floats]:
    """The peaks that follow the first at whole multiples of a distance, which may change slowly, and their places."""
    rows, places, here = [float(peaks[0])], [0], step
    for peak in peaks[1:]:
        times = round((peak - rows[-1]) / here)
        if 1 <= times < 5 and abs(peak - rows[-1] - times * here) < EVEN * step:
            here = 0.7 * here + 0.3 * (peak - rows[-1]) / times
            rows.append(float(peak))
            places.append(places[-1] + times)
    return np.array(rows), np.array(places, float)


def _fitted(rows: Floats, places: Floats) -> tuple[float, np.polynomial.Polynomial, int]:
    """How well rows at these places follow an even course, that course, and the number of places."""
    curve = np.polynomial.Polynomial.fit(places, rows, 2 if len(rows) > FEWEST else 1)
    step = (rows[-1] - rows[0]) / places[-1]
    off = np.abs(curve(places) - rows) / step
    kept, missing = off < ON_COURSE, places[-1] + 1 - len(rows)
    return float(kept.sum() - (~kept).sum() - 0.5 * missing), curve, int(places[-1]) + 1


def _traced(profiles: Floats, middles: Floats, course: _Course, row: float, width: int) -> Floats | None:
    """The course of one line over the columns of the page, as its ink runs; None where hardly any is seen."""
    height = profiles.shape[1]
    columns = np.arange(width)
    expected = np.array([float(course.rows(np.array([row]), x - width / 2, height)[0]) for x in middles])
    off = np.full(len(middles), np.nan)
    for band, at in enumerate(expected):
        low = round(at) - CLOSEST // 2
        if low < 0 or low + CLOSEST >= height:
            continue
        part = profiles[band, low : low + CLOSEST + 1]
        if part.max() > PALE:
            off[band] = low + int(part.argmax()) - at
    known = np.flatnonzero(~np.isnan(off))
    if len(known) < len(middles) / 3:
        return None
    weights = np.ones(len(known))
    for _ in range(4):
        curve = np.polynomial.Polynomial.fit(middles[known], off[known], 2, w=weights)
        weights = 1 / (1 + (np.abs(curve(middles[known]) - off[known]) / 1.5) ** 2)
    straight = row + (columns - width / 2) * (expected[-1] - expected[0]) / (middles[-1] - middles[0])
    return np.asarray(straight + curve(columns), np.float64)


def _runs(dark: Mask, courses: Floats, least: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First row of the ink that each course runs through at each column, and how many rows it is thick; 0 for none."""
    height, width = dark.shape
    columns = np.arange(width)
    firsts, counts = [], []
    for course in courses:
        at = np.round(course).astype(int)
        depth = np.arange(-2 * THICKEST, 2 * THICKEST + 1)
        rows = np.clip(at + depth[:, None], 0, height - 1)
        inked = dark[rows, columns] > 255 * least
        middle = 2 * THICKEST
        near = np.stack([inked[middle + d] for d in (0, -1, 1, -2, 2)])
        start = np.array([0, -1, 1, -2, 2])[near.argmax(0)] + middle
        found = near.any(0)
        first, last = start.copy(), start.copy()
        for _ in range(2 * THICKEST):
            up = inked[np.maximum(first - 1, 0), columns] & (first > 0)
            down = inked[np.minimum(last + 1, 4 * THICKEST), columns] & (last < 4 * THICKEST)
            first, last = first - up, last + down
        firsts.append(at - middle + first)
        counts.append(np.where(found, last - first + 1, 0))
    return np.stack(firsts), np.stack(counts)


def _usual(dark: Mask, courses: Floats) -> tuple[float, float]:
    """Usual darkness and thickness of the ink along these courses."""
    height, width = dark.shape
    rows = np.clip(np.round(courses).astype(int), 1, height - 2)
    columns = np.arange(width)
    shades = np.max([dark[rows + d, columns] for d in (-1, 0, 1)], axis=0) / 255
    ink = float(np.median(shades[shades > PALE])) if (shades > PALE).any() else PALE
    _, counts = _runs(dark, courses, 0.4 * ink)
    return ink, float(np.median(counts[counts > 0])) if (counts > 0).any() else 1.0


def erased(pixels: Pixels, dark: Mask, ruling: Ruling) -> Pixels:
    """The page with paper in place of its ruled lines."""
    height, width = dark.shape
    out, columns = pixels.copy(), np.arange(width)
    firsts, counts = _runs(dark, ruling.courses, 0.4 * ruling.ink)
    for first, count in zip(firsts, counts, strict=True):
        thin = (count > 0) & (count <= NOT_THICKER * ruling.thick + 1)
        above = np.clip(first - 3, 0, height - 1)
        below = np.clip(first + count + 2, 0, height - 1)
        lighter = dark[above, columns] < dark[below, columns]
        paper = np.where(lighter[:, None], pixels[above, columns], pixels[below, columns])
        for d in range(-1, 2 * THICKEST):
            rows = np.clip(first + d, 0, height - 1)
            take = thin & (d <= count) & (dark[rows, columns] < 255 * NOT_DARKER * ruling.ink)
            out[rows[take], columns[take]] = paper[take]
    return out
