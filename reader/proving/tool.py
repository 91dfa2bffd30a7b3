"""What draws: the interface that hands and printing programs share, so that one diagram serves both."""

from __future__ import annotations

from typing import Literal, Protocol

import numpy as np
from numpy.typing import NDArray

from reader.proving.sheet import Sheet

Points = NDArray[np.float64]
Place = tuple[float, float]
Role = Literal["grid", "dot", "number", "label", "mark", "bar", "text", "pale"]
Anchor = Literal["c", "l", "r"]


class Tool(Protocol):
    """Draws on a sheet; every length is in sheet pixels, y grows downwards."""

    sheet: Sheet
    scale: float  # of pen widths: small drawings are made with a thin line

    def thin(self, width: float) -> None:
        """Let grid lines be at most so wide."""

    def calm(self, sway: float) -> None:
        """Let lines stray at most so far from the straight."""

    def line(self, p: Place, q: Place, weight: float = 1.0, role: Role = "grid") -> Points:
        """Draw a line and return the path that it really took."""

    def path(self, points: Points, weight: float = 1.0, role: Role = "grid") -> Points:
        """Draw a curve through the points."""

    def ring(self, centre: Place, rx: float, ry: float, role: Role = "mark", weight: float = 1.0) -> None:
        """Draw a circle or an oval."""

    def blob(self, centre: Place, radius: float, look: str, role: Role = "dot") -> None:
        """Draw a finger dot in one of the looks that the tool knows."""

    def cross(self, centre: Place, radius: float, role: Role = "mark") -> None:
        """Draw an x."""

    def fill(self, outline: Points, role: Role = "bar") -> None:
        """Fill a shape."""

    def write(
        self, text: str, at: Place, cap: float, anchor: Anchor = "c", role: Role = "label", turn: float = 0.0
    ) -> None:
        """Write a line; `at` is half-way up its capitals; signs after ``^`` are raised and small."""

    def width(self, text: str, cap: float) -> float:
        """Width of a line of text."""


def along(path: Points, share: float) -> Place:
    """The point at a share (0 to 1) of a path's length."""
    lengths = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    at = share * lengths[-1]
    return float(np.interp(at, lengths, path[:, 0])), float(np.interp(at, lengths, path[:, 1]))


def _longer(path: Points, share: float) -> Points:
    """The path with both ends run on straight by a share of its length."""
    size = float(np.hypot(*(path[-1] - path[0]))) or 1.0
    ends = []
    for end, inner in ((path[0], along(path, 0.12)), (path[-1], along(path, 0.88))):
        way = end - np.asarray(inner)
        ends.append(end + way / (np.hypot(*way) or 1.0) * size * share)
    return np.vstack([ends[0], path, ends[1]])


def meet(a: Points, b: Points, near: Place) -> Place:
    """Where two drawn lines meet, run on straight where they stop short; the meeting nearest to `near`."""
    a, b = _longer(a, 0.3), _longer(b, 0.3)
    p, r = a[:-1, None], np.diff(a, axis=0)[:, None]
    q, s = b[None, :-1], np.diff(b, axis=0)[None]
    cross = r[..., 0] * s[..., 1] - r[..., 1] * s[..., 0]
    cross = np.where(np.abs(cross) < 1e-9, np.nan, cross)
    d = q - p
    t = (d[..., 0] * s[..., 1] - d[..., 1] * s[..., 0]) / cross
    u = (d[..., 0] * r[..., 1] - d[..., 1] * r[..., 0]) / cross
    hit = (t >= 0) & (t <= 1) & (u >= 0) & (u <= 1)
    if not hit.any():
        return near
    places = (p + t[..., None] * r)[hit]
    best = places[np.argmin(np.hypot(*(places - np.asarray(near)).T))]
    return float(best[0]), float(best[1])
