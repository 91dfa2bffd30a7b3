"""Lines as a hand or a machine draws them, as coverage masks.

Points are ``(x, y)`` in mask pixels; masks are uint8, 255 where ink covers.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.uint8]
Points = NDArray[np.float64]
Rng = np.random.Generator

_SHIFT = 4


def fixed(points: Points) -> NDArray[np.int32]:
    """Points in the fixed-point form that OpenCV draws with subpixel precision."""
    return np.clip(np.round(points * (1 << _SHIFT)), -(1 << 20), 1 << 20).astype(np.int32)


def draw_line(mask: Mask, points: Points, width: float, value: int = 255) -> None:
    """Draw one polyline of even width."""
    thickness = max(1, round(width))
    level = value if width >= 1 or value == 0 else int(value * max(0.25, width))
    cv2.polylines(mask, [fixed(points)], False, level, thickness, cv2.LINE_AA, _SHIFT)


def draw_area(mask: Mask, points: Points, value: int = 255) -> None:
    """Fill one polygon."""
    cv2.fillPoly(mask, [fixed(points)], value, cv2.LINE_AA, _SHIFT)


def wobble(points: Points, amount: float, rng: Rng, steps: int = 14, pinned: bool = True) -> Points:
    """Resample a path and shake it smoothly.

    Parameters
    ----------
    points : (n, 2) path
    amount : largest usual displacement, in mask pixels
    pinned : whether both ends stay where they are
    """
    path = resample(points, steps)
    if amount <= 0:
        return path
    t = np.linspace(0, 1, steps)
    shift = np.zeros((steps, 2))
    for k in (1, 2, 3, 5):
        shift += np.sin(np.pi * (k * t[:, None] + rng.uniform(0, 2, 2))) * rng.normal(0, amount / k, 2)
    if pinned:
        shift -= shift[0] * (1 - t[:, None]) + shift[-1] * t[:, None]
    return path + shift


def resample(points: Points, steps: int) -> Points:
    """The same path with evenly spaced points."""
    points = np.asarray(points, float)
    lengths = np.r_[0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
    if lengths[-1] <= 0:
        return np.repeat(points[:1], steps, axis=0)
    at = np.linspace(0, lengths[-1], steps)
    return np.stack([np.interp(at, lengths, points[:, 0]), np.interp(at, lengths, points[:, 1])], axis=1)


def smooth(points: Sequence[Sequence[float]] | Points, steps: int = 24) -> Points:
    """A Catmull-Rom curve through the points."""
    p = np.asarray(points, float)
    if len(p) < 3:
        return resample(p, max(2, steps // 3))
    p = np.vstack([2 * p[0] - p[1], p, 2 * p[-1] - p[-2]])
    per = max(3, steps // (len(p) - 3))
    t = np.linspace(0, 1, per, endpoint=False)[:, None]
    pieces = []
    for a, b, c, d in zip(p[:-3], p[1:-2], p[2:-1], p[3:], strict=True):
        pieces.append(0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3))
    return np.vstack([*pieces, p[-2:-1]])


def draw_pressed(mask: Mask, points: Points, width: float, rng: Rng, unevenness: float) -> None:
    """Draw a path whose width and darkness drift, as under a hand."""
    if unevenness <= 0 or len(points) < 4:
        draw_line(mask, points, width)
        return
    pieces = int(rng.integers(2, 6))
    cuts = np.unique(np.linspace(0, len(points) - 1, pieces + 1).astype(int))
    drift = rng.normal(0, unevenness, len(cuts))
    for i in range(len(cuts) - 1):
        level = int(np.clip(255 * (1 - abs(rng.normal(0, unevenness * 0.8))), 110, 255))
        piece = points[cuts[i] : cuts[i + 1] + 1]
        draw_line(mask, piece, max(0.6, width * (1 + float(np.clip(drift[i], -0.5, 0.6)))), level)


def ellipse(
    centre: Points, rx: float, ry: float, rng: Rng | None = None, rough: float = 0.0, turns: float = 1.0
) -> Points:
    """An ellipse as a path; ``rough`` makes it as uneven as a hand does, ``turns`` may over- or undershoot."""
    n = max(14, int(20 * turns))
    start = rng.uniform(0, 2 * np.pi) if rng is not None else 0.0
    a = np.linspace(0, 2 * np.pi * turns, n) + start
    r = np.ones(n)
    if rng is not None and rough > 0:
        for k in (1, 2, 3):
            r += rough / k * rng.normal() * np.sin(k * a + rng.uniform(0, 6.3))
        r += np.linspace(0, rough * rng.normal(), n)
    return np.stack([centre[0] + rx * r * np.cos(a), centre[1] + ry * r * np.sin(a)], axis=1)


def scribble(centre: Points, radius: float, rng: Rng) -> Points:
    """A blob filled by going to and fro."""
    turns = int(rng.integers(5, 10))
    a = rng.uniform(0, np.pi)
    t = np.linspace(-1, 1, turns)
    across = np.sqrt(np.clip(1 - t**2, 0.05, 1)) * np.where(np.arange(turns) % 2, 1, -1)
    p = np.stack([t, across], axis=1) * radius + rng.normal(0, radius * 0.1, (turns, 2))
    c, s = np.cos(a), np.sin(a)
    return np.asarray(centre + p @ np.array([[c, s], [-s, c]]))


def paste(mask: Mask, stamp: Mask, x: float, y: float, value: int = 255) -> None:
    """Lay a small coverage stamp on the mask with its top left corner at (x, y); value 0 rubs out."""
    h, w = stamp.shape
    x0, y0 = round(x), round(y)
    a, b = max(0, x0), max(0, y0)
    c, d = min(mask.shape[1], x0 + w), min(mask.shape[0], y0 + h)
    if c <= a or d <= b:
        return
    part = stamp[b - y0 : d - y0, a - x0 : c - x0]
    view = mask[b:d, a:c]
    if value == 0:
        np.minimum(view, 255 - part, out=view)
    elif value == 255:
        np.maximum(view, part, out=view)
    else:
        np.maximum(view, (part.astype(np.uint16) * value // 255).astype(np.uint8), out=view)


def choice(rng: Rng, table: dict[Any, float]) -> Any:
    """One key of a table of weights."""
    keys = list(table)
    weights = np.array([table[k] for k in keys], float)
    return keys[int(rng.choice(len(keys), p=weights / weights.sum()))]
