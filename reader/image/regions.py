"""Finds the diagrams of a page: their corners, which way up they lie, how sure that is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from reader.image.crops import Points, side_lengths
from reader.image.engines import load_engine
from reader.image.levels import Levels, Pixels, levels_of
from reader.image.odds import sigmoid

STRIDE = 8
CORNER_UNIT = 32.0
LONG_SIDES = (1792, 1000, 448)
"""Long sides of the page, pixels, at which diagrams of all sizes are looked for."""
LEAST_HEAT = 0.07
"""Centres cooler than this are not looked at further."""
LARGE, SHARED, NEAR_CUT = 1200, 112, 8
"""Pixels from which a picture is searched in two halves, how far each reaches beyond the middle, and how near to the
cut a find may come: what is cut by both is found on the page at a smaller size."""
SAME, HIDING = 0.35, 0.75
"""Overlap (intersection over union) from which two finds are one diagram; share of one that lies in the other from
which the surer one hides the other."""


@dataclass(frozen=True, slots=True)
class Region:
    """Here is a diagram.

    Parameters
    ----------
    corners : (4, 2) page pixels
        Nut end left, nut end right, far end right, far end left.
    confidence : float
        0 to 1, the finder's.
    """

    corners: Points
    confidence: float


def find_regions(pixels: Pixels | Levels, without: Sequence[Points] = ()) -> list[Region]:
    """All diagrams of a page, surest first.

    Parameters
    ----------
    pixels : uint8 [row, col, 3]
    without : corners of what is known to be none; it hides nothing that it lies in
    """
    grey = levels_of(pixels).grey()
    found: list[Region] = []
    for scale in search_scales(max(grey.pixels.shape)):
        found += _find_at(grey, scale)
    return keep_best([r for r in found if all(overlap(r.corners, w) < SAME for w in without)])


def search_scales(long_side: int) -> list[float]:
    """Factors by which a page is reduced (or a small picture enlarged) before it is searched."""
    scales = [min(1.0, LONG_SIDES[0] / long_side)]
    for side in LONG_SIDES[1:]:
        if side / long_side < scales[-1] * 0.75:
            scales.append(side / long_side)
    if long_side < 700:
        scales.insert(0, 1.6)
    return scales


def _find_at(grey: Levels, scale: float) -> list[Region]:
    h, w = grey.pixels.shape
    sh, sw = max(16, round(h * scale)), max(16, round(w * scale))
    small = grey.shrunk((sw, sh))
    found: list[Region] = []
    length, axis = max(sh, sw), 0 if sw >= sh else 1
    for low, high in _halves(length):
        off = np.array([low, 0] if axis == 0 else [0, low])
        part = small[:, low:high] if axis == 0 else small[low:high]
        for r in _find_in(part):
            along = r.corners[:, axis] + low
            # what runs over the cut is whole in the other half
            if (low == 0 or along.min() > low + NEAR_CUT) and (high == length or along.max() < high - NEAR_CUT):
                found.append(Region(r.corners + off, r.confidence))
    return [Region((r.corners + 0.5) / [sw / w, sh / h] - 0.5, r.confidence) for r in found]


def _halves(length: int) -> list[tuple[int, int]]:
    """Where a picture is cut along its longer side: a large one is searched in two halves, to save memory."""
    if length < LARGE:
        return [(0, length)]
    middle = length // 2
    return [(0, middle + SHARED), (middle - SHARED, length)]


def _find_in(small: Pixels) -> list[Region]:
    """Finds in a grey picture as it is, in its pixels."""
    margin = 16
    sh, sw = small.shape
    bottom, right = -(sh + 2 * margin) % 32 + margin, -(sw + 2 * margin) % 32 + margin
    small = cv2.copyMakeBorder(small, margin, bottom, margin, right, cv2.BORDER_REPLICATE)
    out = load_engine("finder").run({"picture": small[None, None].astype(np.float32)})
    heat = sigmoid(out["heat"][0, 0])
    peak = (cv2.dilate(heat, np.ones((3, 3), np.uint8)) == heat) & (heat >= LEAST_HEAT)
    regions = []
    for row, col in zip(*np.nonzero(peak), strict=True):
        middle = np.array([col, row]) * STRIDE + STRIDE / 2 - 0.5
        box = out["corners"][0, :, row, col].reshape(4, 2) * CORNER_UNIT + middle
        way = int(out["way"][0, :, row, col].argmax())
        corners = np.roll(box, -way, axis=0) - margin
        if _sound(corners) and min(side_lengths(box)) >= 8:
            regions.append(Region(np.asarray(corners, float), float(heat[row, col])))
    return regions


def _sound(corners: Points) -> bool:
    """Whether four corners make a convex figure."""
    e = np.roll(corners, -1, axis=0) - corners
    cross = e[:, 0] * np.roll(e[:, 1], -1) - e[:, 1] * np.roll(e[:, 0], -1)
    return bool((cross > 0).all() or (cross < 0).all())


def overlap(a: Points, b: Points) -> float:
    """Intersection over union of two convex figures."""
    shared, _ = cv2.intersectConvexConvex(a.astype(np.float32), b.astype(np.float32))
    total = cv2.contourArea(a.astype(np.float32)) + cv2.contourArea(b.astype(np.float32)) - shared
    return float(shared / total) if total > 0 else 0.0


def covered(a: Points, b: Points) -> float:
    """Share of the smaller figure that lies in the other."""
    shared, _ = cv2.intersectConvexConvex(a.astype(np.float32), b.astype(np.float32))
    least = min(cv2.contourArea(a.astype(np.float32)), cv2.contourArea(b.astype(np.float32)))
    return float(shared / least) if least > 0 else 0.0


def keep_best(regions: list[Region]) -> list[Region]:
    """Of finds that are one diagram keep the surest."""
    kept: list[Region] = []
    for region in sorted(regions, key=lambda r: -r.confidence):
        if all(overlap(region.corners, k.corners) < SAME and covered(region.corners, k.corners) < HIDING for k in kept):
            kept.append(region)
    return kept


def reading_order(boxes: list[Points]) -> list[int]:
    """Indices of figures row by row, each row from the left.

    Parameters
    ----------
    boxes : list of (n, 2), page pixels
    """
    if not boxes:
        return []
    top = np.array([b[:, 1].min() for b in boxes])
    bottom = np.array([b[:, 1].max() for b in boxes])
    left = np.array([b[:, 0].min() for b in boxes])
    middle = (top + bottom) / 2
    rest = list(np.argsort(middle))
    order: list[int] = []
    while rest:
        first = rest[0]
        row = [i for i in rest if top[i] < middle[first] < bottom[i]]
        order += sorted(row or [first], key=lambda i: float(left[i]))
        rest = [i for i in rest if i not in order]
    return [int(i) for i in order]
