"""Draws one diagram onto the ink masks of a sheet, and says what the drawing shows."""

from __future__ import annotations

import numpy as np

from reader.training.barres import BarreBrush
from reader.training.brush import KIND_DIAGRAM, KIND_EMPTY, Drawn
from reader.training.captions import CaptionBrush
from reader.training.content import MUTED, Content, Dot, sample_content, sample_label
from reader.training.strokes import Points, Rng, choice, draw_area, draw_pressed, ellipse, wobble
from reader.training.style import Style


class Painter(BarreBrush, CaptionBrush):
    """Draws one whole diagram."""

    def paint(self) -> Drawn:
        """Draw everything and say what is shown."""
        c = self.content
        self._paint_grid()
        if not c.empty:
            self._paint_marks_above()
            self._paint_stops()
        self._paint_number()
        if self.free and self.style.marks == "none" and self.rng.random() < 0.05:
            self._paint_tail()
        if c.label is not None:
            self._paint_label()
        if self.style.strings_named:
            self._paint_string_names()
        kind = KIND_EMPTY if c.empty and c.label is None else KIND_DIAGRAM
        return Drawn(
            self.corners.copy(), c.strings, c.rows, c.first_fret, self.states, self.open_marks, self.fingers,
            self.barre, self.nut, self.label, self.label_at, self.number, self.number_at, kind, self.style.sideways,
            self.written, {"heights": self.heights, "frets": self.frets, "row": self._finger_row_at()},
        )  # fmt: skip

    def _paint_grid(self) -> None:
        st, c, rng = self.style, self.content, self.rng
        pen = max(0.8, st.pen * self.gap)
        over = st.overshoot if self.free else 0.0
        last = c.strings - 1
        for r in range(c.rows + 1):
            if r == c.rows and not st.closing:
                continue
            a, b = self._over(over), self._over(over)
            if st.staff_lines:
                a, b = rng.uniform(1, 5), rng.uniform(1, 5)
            short = 0.0 if r in (0, c.rows) else st.short_inner
            outer = r in (0, c.rows)
            width = pen * st.fret_pen * (st.outer_pen if outer else st.inner_pen)
            a, b = (-rng.uniform(0.05, 0.9) if rng.random() < st.ragged / 2 else over for over in (a, b))
            ends = [self.at(-a + short * rng.random(), r), self.at(last + b - short * rng.random(), r)]
            self._line(np.array(ends), width, light=1.0 if outer else st.inner_light)
        for s in range(c.strings):
            up, down = self._over(over), self._over(over)
            if not st.closing and rng.random() < 0.5:
                down = 0.0
            elif not st.closing:
                down = rng.uniform(-0.3, 0.2)
            if st.run_on:
                down = st.run_on * rng.uniform(0.6, 1.3)
            short = 0.0 if s in (0, last) else st.short_inner
            width = pen * (st.outer_pen if s in (0, last) else st.inner_pen)
            top, bottom = -up + short * rng.random(), c.rows + down - short * rng.random()
            top = rng.uniform(0.05, 0.35) if rng.random() < st.ragged else top
            if c.states[s] == MUTED and st.muted_form == "wavy" and not c.empty:
                self._wave(s, top, bottom, width)
                if not st.wave_on_string:
                    continue
            ends = [self.at(s, top), self.at(s, bottom)]
            self._line(np.array(ends), width, light=1.0 if s in (0, last) else st.inner_light)
        self._paint_nut(pen)
        self._paint_bands()
        self._paint_inlays()

    def _paint_tail(self) -> None:
        """The end of a letter or of a slash of what is written above, which runs into the grid."""
        st, rng, last = self.style, self.rng, self.content.strings - 1
        string, down = rng.uniform(-0.2, last + 0.2), rng.uniform(-0.1, 0.4)
        up, lean = rng.uniform(0.6, 1.7) * self.unit / self.cell, rng.normal(0.15, 0.25)
        ends = np.array([self.at(string + lean * up, -up), self.at(string, down)])
        path = wobble(ends, 0.05 * self.unit, rng, 10)
        draw_pressed(self.sheet.masks["text"], path, max(1.0, st.pen * self.gap), rng, 0.15)

    def _paint_inlays(self) -> None:
        st, c, rng = self.style, self.content, self.rng
        last = c.strings - 1
        if st.inlays:
            for fret in (3, 5, 7):
                row = fret - c.first_fret + 1
                if 1 <= row <= c.rows:
                    p = ellipse(
                        self.at(last / 2 + (0.0 if c.strings % 2 == 0 else 0.5), row - 0.5),
                        0.17 * self.unit,
                        0.17 * self.unit,
                    )
                    draw_area(self.sheet.masks["pale"], p, int(rng.integers(90, 190)))

    def _paint_bands(self) -> None:
        """Every other fret space tinted, from the first or the second on, where the style says so."""
        if not self.style.banded:
            return
        last = self.content.strings - 1
        for r in range(self.style.banded - 1, self.content.rows, 2):
            outline = np.array([self.at(0, r), self.at(last, r), self.at(last, r + 1), self.at(0, r + 1)])
            draw_area(self.sheet.masks["pale"], outline, int(self.rng.integers(25, 90)))

    def _wave(self, string: int, top: float, bottom: float, width: float) -> None:
        """A string that is not played, drawn as a wave."""
        st, rng = self.style, self.rng
        length = bottom - top
        steps = max(12, round(12 * length / st.wave_length))
        v = top + length * np.linspace(0, 1, steps)
        swing = st.wave_size * np.sin(2 * np.pi * v / st.wave_length + rng.uniform(0, 6.3))
        if self.hand_drawn:
            swing = swing * np.repeat(rng.uniform(0.6, 1.3, steps // 6 + 1), 6)[:steps]
        path = np.array([self.at(string + a, b) for a, b in zip(swing, v, strict=True)])
        self._mark_line(path, width, "mark" if st.wave_on_string else "grid")

    def _over(self, amount: float) -> float:
        return float(max(0.0, self.rng.normal(amount, amount * 0.6))) if amount else 0.0

    def _paint_nut(self, pen: float) -> None:
        st, c = self.style, self.content
        form = st.nut
        if c.first_fret > 1 and not st.number_keeps_nut:
            form = "none"
        if form == "none":
            return
        self.nut = True
        last = c.strings - 1
        over = 0.04 if self.rng.random() < 0.6 else 0.0
        if form == "double":
            d = float(np.clip(self.rng.uniform(0.09, 0.28), 2.2 * pen / self.cell, 0.4))
            self._line(np.array([self.at(-over, -d), self.at(last + over, -d)]), pen, whole=True)
            return
        thick = {"thick": self.rng.uniform(2.2, 4), "bar": self.rng.uniform(4, 7)}[form] * pen
        thick = float(min(max(thick, 2.2), self.cell * 0.3))
        # the grid ends at the inner edge of the nut: the bar stands above the first line
        lift = (thick / 2 - pen / 2) / self.cell * (1 if self.rng.random() < 0.6 else 0)
        self._line(np.array([self.at(-over, -lift), self.at(last + over, -lift)]), thick, whole=True)

    def _paint_stops(self) -> None:
        st, c, rng = self.style, self.content, self.rng
        fingers = st.fingers
        if fingers == "frets" and not self._frets_are_plain():
            fingers = "none"
        for barre in c.barres:
            self._paint_barre(barre, fingers)
        corrected = rng.random() < 0.025 and bool(c.dots) and self.free
        if fingers == "none" and rng.random() < 0.012:
            self._paint_lower_dot()
        for dot in c.dots:
            if corrected and rng.random() < 0.5:
                self._paint_crossed_out(dot)
                corrected = False
            self._paint_dot(dot, fingers)
        if fingers in ("below", "above"):
            self._paint_finger_row()
        if self.free and rng.random() < st.wiped_share:
            self._paint_wiped()


def place(rng: Rng, style: Style, content: Content, gap: float, x: float, y: float) -> Points:
    """Corners of a grid whose top left of the bounding box stands about (x, y) on the page."""
    w = gap * (content.strings - 1)
    h = gap * style.cell_ratio * content.rows
    if style.squared:
        x, y = round(x / gap) * gap, round(y / gap) * gap
        shake = rng.normal(0, min(style.jitter, 0.05), (4, 2)) * gap
        return np.array([[0, 0], [w, 0], [w, gap * content.rows], [0, gap * content.rows]]) + [x, y] + shake
    lean = rng.normal(0, 0.03 if style.jitter else 0.0, 2) + (rng.normal(0, 0.05) if style.jitter > 0.05 else 0)
    box = np.array([[0, 0], [w, 0], [w, h], [0, h]], float)
    box += rng.normal(0, style.jitter * 0.45, (4, 2)) * gap
    box[:, 0] += box[:, 1] * lean[0]
    if style.sideways == 1:  # nut at the left: turned a quarter counter-clockwise
        box = np.stack([box[:, 1], w - box[:, 0]], axis=1)
    elif style.sideways == 2:
        box = np.stack([h - box[:, 1], box[:, 0]], axis=1)
    turn = rng.normal(0, 0.03 if style.jitter else 0.004)
    c, s = np.cos(turn), np.sin(turn)
    box = box @ np.array([[c, s], [-s, c]])
    return np.asarray(box - box.min(0) + [x, y])


def extent(style: Style, content: Content, gap: float) -> tuple[float, float]:
    """Width and height of the grid on the page."""
    w, h = gap * (content.strings - 1), gap * (1.0 if style.squared else style.cell_ratio) * content.rows
    return (w, h) if style.sideways == 0 else (h, w)


def sample_strings(rng: Rng) -> int:
    """How many strings the instrument has."""
    return int(choice(rng, {4: 50, 6: 32, 5: 6.5, 3: 5.5, 7: 3, 8: 3}))


def sample_scale(rng: Rng, strings: int) -> Content:
    """The notes of a scale on a grid: two or three dots on most strings, which no hand stops at once."""
    rows = int(rng.integers(4, 7))
    dots = []
    for s in range(strings):
        count = int(choice(rng, {1: 15, 2: 55, 3: 30}))
        dots += [Dot(s, int(row) + 1) for row in rng.permutation(rows)[:count]]
    return Content(strings, rows, 1, [0] * strings, dots)


def sample_diagram(rng: Rng, style: Style, strings: int) -> Content:
    """What to draw in this style."""
    moved = rng.random() < style.moved_share
    content = sample_content(rng, strings, 4 if style.staff_lines else style.rows, moved=moved)
    if rng.random() < style.empty_share:
        return Content(strings, content.rows, 1, [0] * strings, [], empty=True)
    if rng.random() < (0.1 if style.nut == "double" else 0.02):  # all strings open: the lines of the nut are no barre
        content = Content(strings, content.rows, 1, [0] * strings, [])
    if rng.random() < style.label_share:
        content.label = sample_label(rng, capitals=style.capitals, sharp=style.sharp, flat=style.flat)
    if not content.dots and not content.barres and rng.random() < 0.5:
        content.empty = True
        content.states = [0] * strings
        content.first_fret = 1
    return content
