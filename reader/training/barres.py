"""Draws barres in all their forms: line, dashes, thick bar, arc, oval, shading, joined dots."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from reader.training.content import Dot, DrawnBarre
from reader.training.stops import StopBrush
from reader.training.strokes import Points, draw_area, draw_line, ellipse, wobble

BESIDE_STRINGS = ("line", "dashed", "thick", "double", "shaded", "pale")
"""Forms that may reach beyond their outer strings."""
WITH_DOTS = {
    "arc": 1,
    "hairline": 1,
    "endarc": 1,
    "oval": 0.6,
    "pale": 0.5,
    "dome": 0.15,
    "square arc": 0.8,
    "block": 0.15,
}
"""How often there are dots as well, by form."""


@dataclass(frozen=True, slots=True)
class _Bar:
    """Where one barre runs: from ``a`` to ``b`` at row line ``v``, ``over`` gaps beyond its outer strings."""

    barre: DrawnBarre
    a: Points
    b: Points
    v: float
    over: float
    pen: float


class BarreBrush(StopBrush):
    """Draws barres."""

    def _paint_barre(self, barre: DrawnBarre, fingers: str) -> None:
        st, rng = self.style, self.rng
        form = st.barre_form if barre.form == "line" else barre.form
        if fingers in ("instead", "frets") and (form == "joined" or (form != "pale" and rng.random() < 0.5)):
            form = "line"
        if form == "dots":
            self._row_of_dots(barre, fingers)
            return
        v = barre.row - 1 + float(np.clip(st.dot_at + (rng.normal(0, 0.06) if self.hand_drawn else 0), 0.25, 0.75))
        over = float(rng.uniform(0.08, 0.4)) if form in BESIDE_STRINGS else 0.0
        a, b = self.at(barre.left - over, v), self.at(barre.right + over, v)
        pen = max(1.0, st.mark_pen * self.unit)
        if form in ("line", "dashed", "double", "joined"):  # heavier than a fret, or it would pass for one
            pen = max(pen, 2.0, (2.0 if form != "double" else 1.3) * st.pen * st.fret_pen * self.gap)
        draw = FORMS.get(form)
        if draw is not None:
            draw(self, _Bar(barre, a, b, v, over, pen))
        self._fingers_on_barre(barre, form, fingers, v)
        for s in range(barre.left, barre.right + 1):
            self.barre[s] = barre.row

    def _row_of_dots(self, barre: DrawnBarre, fingers: str) -> None:
        """A row of single dots is no barre as drawn."""
        for s in range(barre.left, barre.right + 1):
            if self.states[s] == barre.row or self.rng.random() < 0.5:
                finger = 1 if fingers != "none" else None
                self._paint_dot(Dot(s, barre.row, finger), fingers if fingers != "frets" else "none")
                if self.states[s] != barre.row:
                    self.fingers[s] = 0

    def _fingers_on_barre(self, barre: DrawnBarre, form: str, fingers: str, v: float) -> None:
        """Dots under arcs and in ovals, or one digit on a thick bar, within an oval or at an end."""
        rng = self.rng
        dotted = rng.random() < WITH_DOTS.get(form, 0.0)
        if form == "joined":
            # stops with a stroke through them: a finger within stands on that stroke
            within = fingers in ("in", "circled") and rng.random() < 0.6
            fingers, dotted = fingers if within or fingers == "beside" else "none", True
        if dotted:
            ends = form == "endarc" or rng.random() < {"hairline": 0.55}.get(form, 0.25)
            for s in range(barre.left, barre.right + 1):
                if (not ends and self.states[s] == barre.row) or s in (barre.left, barre.right):
                    before = self.fingers[s]
                    self._paint_dot(Dot(s, barre.row, 1), fingers if fingers != "frets" else "none")
                    if self.states[s] != barre.row:
                        self.fingers[s] = before
        elif fingers == "in" and rng.random() < 0.4 and form == "thick":
            s = barre.left if rng.random() < 0.5 else barre.right
            if self.states[s] == barre.row:
                self._paint_digit("1", self.at(s, v), 0.34 * self.unit, "mark", 0)
                self.fingers[s] = 1
        elif fingers in ("in", "beside", "instead") and form in ("oval", "pale") and rng.random() < 0.6:
            s = (
                int(rng.integers(barre.left, barre.right + 1))
                if rng.random() < 0.4
                else (barre.left + barre.right) // 2
            )
            if self.states[s] == barre.row:
                aside = float(rng.normal(0, 0.08)) if self.hand_drawn else 0.0
                self._paint_digit("1", self.at(s + aside, v), rng.uniform(0.3, 0.5) * self.unit, "digit")
                self.fingers[s] = 1
        elif fingers == "beside" and form in BESIDE_STRINGS and rng.random() < 0.6:
            s, out = (barre.left, -1) if rng.random() < 0.6 else (barre.right, 1)
            if self.states[s] == barre.row:
                away = rng.uniform(0.55, 0.8)
                self._paint_digit("1", self.at(s + out * away, v), self.style.finger_size * 0.75 * self.unit, "digit")
                self.fingers[s] = 1

    def _line_bar(self, bar: _Bar) -> None:
        path = np.array([bar.a, bar.b])
        if self.hand_drawn:
            path = wobble(path, self.style.wobble * self.gap, self.rng, 10)
        self._mark_line(path, bar.pen * self.rng.uniform(1.0, 1.8))

    def _dashed_bar(self, bar: _Bar) -> None:
        pieces = int(self.rng.integers(2, 4)) * (bar.barre.right - bar.barre.left) + 1
        cuts = bar.a + np.linspace(0, 1, 2 * pieces)[:, None] * (bar.b - bar.a)
        for k in range(pieces):
            self._mark_line(cuts[2 * k : 2 * k + 2], bar.pen * self.rng.uniform(1.0, 1.3))

    def _thick_bar(self, bar: _Bar) -> None:
        st, rng = self.style, self.rng
        draw_line(
            self.sheet.masks["mark"],
            wobble(np.array([bar.a, bar.b]), st.wobble * self.gap, rng, 10),
            max(2.0, min(st.dot_size * 1.7, 0.7) * self.unit * rng.uniform(0.5, 1.0)),
        )

    def _double_bar(self, bar: _Bar) -> None:
        left = bar.barre.left
        d = (self.at(left, bar.v + 0.12) - self.at(left, bar.v - 0.12)) * 0.5
        for k in (-1, 1):
            self._mark_line(np.array([bar.a + k * d, bar.b + k * d]), bar.pen * 0.7)

    def _shaded_bar(self, bar: _Bar) -> None:
        left, width, row = bar.barre.left - bar.over, bar.barre.right - bar.barre.left + 2 * bar.over, bar.barre.row
        n = int(width * self.rng.uniform(4, 8))
        zig = [self.at(left + width * i / n, row - 1 + (0.12 if i % 2 else 0.88)) for i in range(n + 1)]
        self._mark_line(np.array(zig), bar.pen * 0.8)

    def _oval_bar(self, bar: _Bar) -> None:
        rng = self.rng
        mid, half = (bar.a + bar.b) / 2, np.hypot(*(bar.b - bar.a)) / 2 + 0.35 * self.unit
        path = ellipse(
            np.zeros(2), half, rng.uniform(0.22, 0.36) * self.unit, rng, 0.03 if self.hand_drawn else 0, 1.03
        )
        ang = np.arctan2(*(bar.b - bar.a)[::-1])
        m = np.array([[np.cos(ang), np.sin(ang)], [-np.sin(ang), np.cos(ang)]])
        self._mark_line(np.vstack([path, path[:1]]) @ m + mid, bar.pen * 0.6)

    def _pale_bar(self, bar: _Bar) -> None:
        draw_line(
            self.sheet.masks["pale"],
            np.array([bar.a, bar.b]),
            self.rng.uniform(0.35, 0.8) * self.unit,
            int(self.rng.integers(70, 240)),
        )

    def _block_bar(self, bar: _Bar) -> None:
        """All of the row from string to string, inked, greyed or hatched."""
        rng, barre = self.rng, bar.barre
        shake = 0.05 if self.hand_drawn else 0.0
        short, beside = rng.choice([0.0, 0.04, 0.12]), rng.choice([0.0, 0.0, -0.08, 0.12, 0.3])
        left, right, top, foot = barre.left - beside, barre.right + beside, barre.row - 1 + short, barre.row - short
        outline = [(left, top), (right, top), (right, foot), (left, foot)]
        corners = np.array([self.at(s, v) for s, v in np.array(outline) + rng.normal(0, shake, (4, 2))])
        form = rng.random()
        if form < 0.35:
            draw_area(self.sheet.masks["mark"], corners)
        elif form < 0.75:
            draw_area(self.sheet.masks["pale"], corners, int(rng.integers(90, 240)))
        else:
            strokes = int(3 + (right - left) * rng.uniform(2, 5))
            lean = rng.choice([-1, 1]) * rng.uniform(0.15, 0.6)
            for s in np.linspace(left, right, strokes):
                ends = np.clip([s, s + lean], left, right)
                self._mark_line(np.array([self.at(ends[0], top), self.at(ends[1], foot)]), bar.pen * 0.5)
            if rng.random() < 0.4:
                self._mark_line(np.vstack([corners, corners[:1]]), bar.pen * 0.5)

    def _hairline_bar(self, bar: _Bar) -> None:
        least = 0.9 * self.style.pen * self.gap if self.hand_drawn else 0.0
        self._mark_line(np.array([bar.a, bar.b]), max(0.9, bar.pen * 0.3, least))

    def _dome_bar(self, bar: _Bar) -> None:
        """An arc alone from string to string, whose ends stand in the row and whose top rises to its upper line."""
        rng, barre, v = self.rng, bar.barre, bar.v
        foot = min(v + rng.uniform(-0.1, 0.2), barre.row - 0.15)
        self._curve(bar, foot, foot - rng.uniform(0.4, 1.1), rng.uniform(0.0, 0.2), rng.uniform(0.1, 0.35))

    def _arc_bar(self, bar: _Bar) -> None:
        rng, barre, v = self.rng, bar.barre, bar.v
        inside = rng.random() < 0.45
        lift = (
            rng.uniform(0.28, 0.6)
            if inside
            else v + rng.uniform(0.15, 0.6) - (barre.row - 1) * rng.choice([0.9, 0.0, 0.9])
        )
        foot = v - 0.3 if inside or rng.random() < 0.7 else v - lift * 0.6
        self._curve(bar, foot, foot - lift, 0.15, 0.25)

    def _square_arc_bar(self, bar: _Bar) -> None:
        """A bracket over the strings: a straight stroke with both ends bent down."""
        left, right, v = bar.barre.left, bar.barre.right, bar.v
        top = v - float(self.rng.uniform(0.3, 0.5))
        foot = top + float(self.rng.uniform(0.15, 0.35))
        corners = [self.at(left, foot), self.at(left, top), self.at(right, top), self.at(right, foot)]
        for a, b in pairwise(corners):
            side = np.array([a, b])
            path = wobble(side, self.style.wobble * self.gap, self.rng, 8) if self.hand_drawn else side
            self._mark_line(path, max(0.9, bar.pen * 0.6))

    def _curve(self, bar: _Bar, foot: float, top: float, beyond: float, steep: float) -> None:
        """An arc from ``beyond`` its outer strings, at row line ``foot``, that leans towards row line ``top``."""
        left, right = bar.barre.left, bar.barre.right
        a, b = self.at(left - beyond, foot), self.at(right + beyond, foot)
        m1, m2 = self.at(left + steep * (right - left), top), self.at(right - steep * (right - left), top)
        t = np.linspace(0, 1, 26)[:, None]
        curve = (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * m1 + 3 * (1 - t) * t**2 * m2 + t**3 * b
        self._mark_line(curve, max(0.9, bar.pen * (0.35 if not self.hand_drawn else 0.7)))


FORMS: dict[str, Callable[[BarreBrush, _Bar], None]] = {
    "line": BarreBrush._line_bar,
    "joined": BarreBrush._line_bar,
    "square arc": BarreBrush._square_arc_bar,
    "dashed": BarreBrush._dashed_bar,
    "thick": BarreBrush._thick_bar,
    "double": BarreBrush._double_bar,
    "shaded": BarreBrush._shaded_bar,
    "oval": BarreBrush._oval_bar,
    "pale": BarreBrush._pale_bar,
    "block": BarreBrush._block_bar,
    "hairline": BarreBrush._hairline_bar,
    "arc": BarreBrush._arc_bar,
    "endarc": BarreBrush._arc_bar,
    "dome": BarreBrush._dome_bar,
}
