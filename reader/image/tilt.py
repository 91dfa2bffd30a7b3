"""Pages that lie askew: the finder knows grids that stand nearly straight, so such a page is searched once more."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.levels import Levels, Pixels, as_grey
from reader.image.regions import Region, find_regions

TILTED = 7.0
"""Degrees by which lines lean from which a page is searched once more (of 6,400 drawn diagrams 99.8 % were found up to
three degrees, 84 % beyond twelve)."""
FOUND = 0.25
"""The finder's confidence from which the lines of a find tell how the page lies."""
LONG_SIDE = 1280
"""Longer side, pixels, of the picture in which they are measured."""
STEEP = 24.0
"""Change of brightness that counts as an edge, as the Sobel operator gives it."""
SMOOTH = 2
"""Degrees over which directions are counted together."""
Matrix = NDArray[np.float64]


def find_askew(page: Levels) -> list[Region]:
    """All diagrams of a page, surest first, however it lies.

    Parameters
    ----------
    page : its picture
    """
    regions = find_regions(page)
    lean = lean_of(page, regions)
    if abs(lean) < TILTED:
        return regions
    straight, there = turned_by(page.pixels, lean)
    again = find_regions(straight)
    if _clear(again) <= _clear(regions):
        return regions
    back = np.asarray(cv2.invertAffineTransform(there), float)
    return [Region(np.asarray(cv2.transform(r.corners[None], back)[0]), r.confidence) for r in again]


def lean_of(page: Levels, regions: list[Region]) -> float:
    """By how many degrees most lines of the finds lean from upright or level, clockwise, -45 to 45.

    Parameters
    ----------
    page : its picture
    regions : finds; corners of grids that lean much are taken too straight, so their lines are measured; where none is
        clear, all lines of the page are
    """
    height, width = page.pixels.shape[:2]
    scale = min(1.0, LONG_SIDE / max(height, width))
    grey = as_grey(page.shrunk((max(1, round(width * scale)), max(1, round(height * scale)))))
    found = [r for r in regions if r.confidence > FOUND]
    counts = np.zeros(90) if found else _directions(grey)
    for region in found:
        (x0, y0), (x1, y1) = region.corners.min(0) * scale, region.corners.max(0) * scale
        counts += _directions(grey[max(0, int(y0)) : int(y1) + 1, max(0, int(x0)) : int(x1) + 1])
    if not counts.any():
        return 0.0
    around = np.convolve(np.tile(counts, 3), np.bartlett(2 * SMOOTH + 3), "same")[90:180]
    return float((int(around.argmax()) + 0.5 + 45) % 90 - 45)


def _directions(part: Pixels) -> NDArray[np.float64]:
    """How much of the edges of a picture runs in each direction, folded to 90 degrees."""
    if min(part.shape) < 3:
        return np.zeros(90)
    across, down = (cv2.Sobel(part, cv2.CV_32F, *way) for way in ((1, 0), (0, 1)))
    strong = np.hypot(across, down)
    angle = np.degrees(np.arctan2(down, across)) % 90
    kept = strong > STEEP
    return np.asarray(np.bincount(angle[kept].astype(int) % 90, strong[kept], 90), np.float64)


def turned_by(picture: Pixels, degrees: float) -> tuple[Pixels, Matrix]:
    """A picture turned counter-clockwise, large enough to hold all of it, and the (2, 3) matrix that turns it."""
    h, w = picture.shape[:2]
    m = np.asarray(cv2.getRotationMatrix2D(((w - 1) / 2, (h - 1) / 2), degrees, 1.0), float)
    wide = h * abs(m[0, 1]) + w * abs(m[0, 0])
    high = w * abs(m[0, 1]) + h * abs(m[0, 0])
    m[:, 2] += (wide - w) / 2, (high - h) / 2
    size = (round(wide), round(high))
    return np.asarray(cv2.warpAffine(picture, m, size, borderMode=cv2.BORDER_REPLICATE), np.uint8), m


def _clear(regions: list[Region]) -> float:
    return sum(r.confidence for r in regions if r.confidence > FOUND)
