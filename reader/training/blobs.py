"""Draws the body of a stop: a dot inked all over, a ring, or one of the many signs that people put in its place."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from reader.training.brush import Brush
from reader.training.strokes import Points, draw_area, ellipse, scribble, wobble

INKED = ("filled", "oval", "square", "diamond", "scribble")
"""Forms in which a finger is written in the colour of the paper."""
NO_ROOM = ("target", "hatched", "spiral", "triangle", "star", "cross", "tick", "zigzag")
"""Forms in which nothing else can be written."""


class BlobBrush(Brush):
    """Draws the bodies of stops; half their width is given."""

    def _paint_blob(self, at: Points, radius: float) -> None:
        down = radius * (1.0 if not self.hand_drawn else self.rng.uniform(0.8, 1.2))
        form = self.style.dot
        if form in ("filled", "square", "diamond", "oval"):
            self._fill_blob(at, radius, down)
        elif form in ("hollow", "white", "target"):
            self._ring_blob(at, radius, down)
        elif form in ("box", "triangle", "star"):
            self._cornered_blob(at, radius)
        elif form == "hatched":
            self._hatched_blob(at, radius)
        else:
            self._stroke_blob(at, radius)

    def _fill_blob(self, at: Points, across: float, down: float) -> None:
        """A stop inked all over."""
        rng, form = self.rng, self.style.dot
        rough = 0.1 if self.hand_drawn else 0.0
        value = 255
        if form == "filled":
            outline = ellipse(at, across, down, rng, rough)
            value = int(255 if rng.random() < 0.9 else rng.integers(150, 255))
        elif form == "oval":
            outline = ellipse(at, across * rng.uniform(1.0, 1.4), down * rng.uniform(0.6, 0.9), rng, rough)
        elif form == "diamond":
            outline = at + np.array([[0, -1], [1, 0], [0, 1], [-1, 0]]) * across * 1.15
        else:
            outline = at + np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * across * 0.85
        draw_area(self.sheet.masks["mark"], outline, value)

    def _ring_blob(self, at: Points, across: float, down: float) -> None:
        """A stop drawn as a ring, with or without the lines of the grid within, or with a dot."""
        rng = self.rng
        path = ellipse(at, across, down, rng, 0.1 if self.hand_drawn else 0.0, 1.04)
        if not self.hand_drawn or rng.random() < 0.2:
            self._clear(path)
        self._mark_line(np.vstack([path, path[:1]]) if not self.hand_drawn else path, self._blob_pen())
        if self.style.dot == "target":
            share = float(rng.uniform(0.25, 0.5))
            drift = rng.normal(0, 0.1 * across, 2) if self.hand_drawn else 0.0
            draw_area(self.sheet.masks["mark"], ellipse(at + drift, across * share, down * share, rng, 0.1))

    def _clear(self, outline: Points) -> None:
        """Take the lines of the grid away within an outline."""
        for name in ("grid", "pale"):
            draw_area(self.sheet.masks[name], outline, 0)

    def _cornered_blob(self, at: Points, radius: float) -> None:
        """A hollow box, a triangle or a star."""
        rng, form = self.rng, self.style.dot
        if form == "box":
            outline = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * 0.85
        elif form == "triangle":
            outline = np.array([[0, -1.1], [1, 0.75], [-1, 0.75]]) * (1 if rng.random() < 0.85 else -1)
        else:
            angle = np.pi * (np.arange(5) * 0.8 - 0.5)  # five points in one stroke
            outline = np.stack([np.cos(angle), np.sin(angle)], axis=1) * 1.15
        shake = rng.normal(0, 0.08, outline.shape) if self.hand_drawn else 0.0
        path = at + (outline + shake) * radius
        if form == "triangle" and rng.random() < 0.7:
            draw_area(self.sheet.masks["mark"], path)
            return
        if form == "box" and (not self.hand_drawn or rng.random() < 0.3):
            self._clear(path)
        closed = np.vstack([path, path[:1]])
        width = self._blob_pen()
        for a, b in pairwise(closed):
            side = np.array([a, b])
            self._mark_line(wobble(side, 0.04 * radius, rng, 6) if self.hand_drawn else side, width)

    def _hatched_blob(self, at: Points, radius: float) -> None:
        """A few strokes side by side, mostly within a ring."""
        rng, width = self.rng, self._blob_pen()
        angle = float(rng.choice([0.25, 0.75]) * np.pi + rng.normal(0, 0.15))
        along, across = np.array([np.cos(angle), -np.sin(angle)]), np.array([np.sin(angle), np.cos(angle)])
        for t in np.linspace(-0.7, 0.7, int(rng.integers(3, 6))):
            half = np.sqrt(1 - t * t) * radius * (rng.uniform(0.8, 1.1) if self.hand_drawn else 1.0)
            middle = at + across * t * radius
            self._mark_line(np.array([middle - along * half, middle + along * half]), width * 0.8)
        if rng.random() < 0.75:
            path = ellipse(at, radius, radius, rng, 0.08 if self.hand_drawn else 0.0, 1.04)
            self._mark_line(np.vstack([path, path[:1]]), width * 0.8)

    def _stroke_blob(self, at: Points, radius: float) -> None:
        """A stop scribbled, wound, ticked or crossed."""
        rng, width, form = self.rng, self._blob_pen(), self.style.dot
        if form == "scribble":
            self._mark_line(wobble(scribble(at, radius * 0.85, rng), radius * 0.1, rng, 30), max(width, radius * 0.3))
        elif form == "spiral":
            turns = float(rng.uniform(1.6, 3.2))
            t = np.linspace(0.08, 1, int(18 * turns))[:, None]
            a = rng.uniform(0, 6.3) + 2 * np.pi * turns * t * (1 if rng.random() < 0.6 else -1)
            self._mark_line(at + radius * t * np.hstack([np.cos(a), np.sin(a)]), width * 0.8)
        elif form == "zigzag":
            teeth = int(rng.integers(5, 11))
            wide, tall = radius * rng.uniform(0.9, 1.5), radius * rng.uniform(0.6, 1.1)
            along = np.linspace(-wide, wide, teeth) + rng.normal(0, 0.05 * radius, teeth)
            up = tall * np.where(np.arange(teeth) % 2, 1.0, -1.0) * rng.uniform(0.75, 1.1, teeth)
            path = np.column_stack([along, up] if rng.random() < 0.5 else [up, along])
            self._mark_line(at + path, width * 0.8)
        elif form == "tick":
            b = rng.uniform(0.3, 1.3)
            k = radius * rng.uniform(0.9, 1.5) * np.array([np.cos(b), -np.sin(b)])
            path = np.array([at - k, at + k])
            if rng.random() < 0.7:  # with its short first stroke, and its foot rather than its middle on the string
                first = np.hypot(*k) * rng.uniform(0.25, 0.8, 2)
                path = np.vstack([at - k - first, path]) + rng.uniform(0.0, 1.0) * k
            self._mark_line(wobble(path, radius * 0.1, rng, 8), width * rng.uniform(0.8, 1.5))
        else:
            for sx in (1, -1):
                k = radius * 0.7 * np.array([sx, 1])
                self._mark_line(np.array([at - k, at + k]), width)

    def _blob_pen(self) -> float:
        return max(0.9, self.style.mark_pen * 0.7 * self.unit)
