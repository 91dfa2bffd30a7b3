"""Lines as a hand or a machine draws them, as coverage masks.

Points are ``(x, y)`` in mask pixels; masks are uint8, 255 where ink covers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
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
    return np.rint(points * (1 << _SHIFT)).astype(np.int32)


def draw_line(mask: Mask, points: Points, width: float, value: int = 255) -> None:
    """Draw one polyline of even width."""
    thickness = max(1, round(width))
    level = value if width >= 1 or value == 0 else int(value * max(0.25, width))
    cv2.polylines(mask, [fixed(points)], False, level, thickness, cv2.LINE_AA, _SHIFT)


def draw_area(mask: Mask, points: Points, value: int = 255) -> None:
    """Fill one polygon."""
    cv2.fillPoly(mask, [fixed(points)], value, cv2.LINE_AA, _SHIFT)


@lru_cache(maxsize=64)
def _even(steps: int) -> NDArray[np.float64]:
    return np.linspace(0, 1, steps)[:, None]


@lru_cache(maxsize=64)
def _waves(steps: int, pinned: bool) -> NDArray[np.float64]:
    """(steps, 8) slow waves; the faster a wave the smaller."""
    t = _even(steps)
    waves = np.hstack([f(np.pi * k * t) / (k * np.sqrt(2)) for k in (1, 2, 3, 5) for f in (np.sin, np.cos)])
    return waves - (waves[:1] * (1 - t) + waves[-1:] * t) if pinned else waves


@lru_cache(maxsize=16)
def _spline(per: int) -> NDArray[np.float64]:
    """(per, 4) weights of four points along one piece of a Catmull-Rom curve."""
    t = np.linspace(0, 1, per, endpoint=False)[:, None]
    columns = [-t + 2 * t**2 - t**3, 2 - 5 * t**2 + 3 * t**3, t + 4 * t**2 - 3 * t**3, -(t**2) + t**3]
    return 0.5 * np.hstack(columns)


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
    return np.asarray(path + _waves(steps, pinned) @ (rng.standard_normal((8, 2)) * amount))


def resample(points: Points, steps: int) -> Points:
    """The same path with evenly spaced points."""
    points = np.asarray(points, float)
    if len(points) == 2:
        return np.asarray(points[0] + _even(steps) * (points[1] - points[0]))
    step = points[1:] - points[:-1]
    lengths = np.zeros(len(points))
    np.cumsum(np.hypot(step[:, 0], step[:, 1]), out=lengths[1:])
    at = _even(steps)[:, 0] * lengths[-1]
    out = np.empty((steps, 2))
    out[:, 0] = np.interp(at, lengths, points[:, 0])
    out[:, 1] = np.interp(at, lengths, points[:, 1])
    return out


def smooth(points: Sequence[Sequence[float]] | Points, steps: int = 24) -> Points:
    """A Catmull-Rom curve through the points."""
    p = np.asarray(points, float)
    n = len(p)
    if n < 3:
        return resample(p, max(2, steps // 3))
    padded = np.empty((n + 2, 2))
    padded[1:-1], padded[0], padded[-1] = p, 2 * p[0] - p[1], 2 * p[-1] - p[-2]
    per = max(3, steps // (n - 1))
    fours = np.stack([padded[k : k + n - 1] for k in range(4)], axis=1)
    out = np.empty(((n - 1) * per + 1, 2))
    out[:-1] = (_spline(per) @ fours).reshape(-1, 2)
    out[-1] = p[-1]
    return out


def draw_pressed(mask: Mask, points: Points, width: float, rng: Rng, unevenness: float) -> None:
    """Draw a path whose width and darkness drift, as under a hand."""
    if unevenness <= 0 or len(points) < 4:
        draw_line(mask, points, width)
        return
    pieces = int(rng.integers(2, min(6, len(points))))
    last = len(points) - 1
    cuts = [i * last // pieces for i in range(pieces + 1)]
    drift = rng.standard_normal((2, pieces)) * unevenness
    dots = fixed(points)
    for i in range(pieces):
        level = int(255 * max(0.43, 1 - abs(drift[1, i]) * 0.8))
        wide = max(0.6, width * (1 + min(0.6, max(-0.5, drift[0, i]))))
        thickness = max(1, round(wide))
        if wide < 1:
            level = int(level * max(0.25, wide))
        cv2.polylines(mask, [dots[cuts[i] : cuts[i + 1] + 1]], False, level, thickness, cv2.LINE_AA, _SHIFT)


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


def choice(rng: Rng, table: Mapping[Any, float]) -> Any:
    """One key of a table of weights."""
    left = rng.random() * sum(table.values())
    for key, weight in table.items():
        left -= weight
        if left < 0:
            return key
    return key
