"""Draws one diagram onto the ink masks of a sheet, and says what the drawing shows."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.training.content import MUTED, Content, Dot, DrawnBarre, sample_content, sample_label
from reader.training.lettering import raised, turned
from reader.training.strokes import (
    Mask,
    Points,
    Rng,
    choice,
    draw_area,
    draw_line,
    draw_pressed,
    ellipse,
    paste,
    scribble,
    smooth,
    wobble,
)
from reader.training.style import Style

ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII", "XIII", "XIV", "XV", "XVI")
KIND_DIAGRAM, KIND_EMPTY, KIND_OTHER = 0, 1, 2


@dataclass
class Drawn:
    """What one drawn diagram shows; points are in sheet pixels.

    ``corners``: nut end left, nut end right, far end right, far end left.
    ``finger`` per string 0 none, 1 to 4, 5 thumb; ``barre`` per string the row or 0.
    ``number`` the number written beside the grid (0 none) and ``number_at`` where.
    """

    corners: Points
    strings: int
    rows: int
    first_fret: int
    states: list[int]
    open_marks: list[bool]
    fingers: list[int]
    barre: list[int]
    nut: bool
    label: str
    label_at: Points | None
    number: int
    number_at: Points | None
    kind: int = KIND_DIAGRAM
    sideways: int = 0
    extra: dict[str, Any] = field(default_factory=dict)


class Sheet:
    """Ink masks by pen: pale (under everything), grid, mark, text, digit."""

    PENS = ("pale", "grid", "mark", "text", "digit")

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        self.masks: dict[str, Mask] = {name: np.zeros((height, width), np.uint8) for name in self.PENS}


class Painter:
    """Draws one diagram in one style at one place.

    Parameters
    ----------
    origin : (2,) page pixels of the nut end of the leftmost string
    gap : pixels between strings
    """

    def __init__(self, sheet: Sheet, style: Style, content: Content, corners: Points, rng: Rng) -> None:
        self.sheet, self.style, self.content, self.rng = sheet, style, content, rng
        self.corners = corners
        s, r = content.strings, content.rows
        across = (np.hypot(*(corners[1] - corners[0])) + np.hypot(*(corners[2] - corners[3]))) / 2
        along = (np.hypot(*(corners[3] - corners[0])) + np.hypot(*(corners[2] - corners[1]))) / 2
        self.gap = float(across / (s - 1))
        self.cell = float(along / r)
        self.unit = min(self.gap, self.cell * 1.3)
        self.nodes = self._lattice()
        self.hand_drawn = style.medium not in ("print", "inverse")
        self.free = self.hand_drawn and style.medium != "preprinted"
        self.states = list(content.states)
        self.fingers = [0] * s
        self.barre = [0] * s
        self.open_marks = [False] * s
        self.label = ""
        self.label_at: Points | None = None
        self.number = 0
        self.number_at: Points | None = None
        self.nut = False
        self.heights: dict[str, float] = {}

    # ------------------------------------------------------------ geometry
    def _lattice(self) -> NDArray[np.float64]:
        """(strings, rows + 1, 2) crossings, shaken by the hand; the four outer corners stay."""
        c, rng, j = self.content, self.rng, self.style.jitter
        u = np.linspace(0, 1, c.strings)
        if c.strings > 2:
            u[1:-1] += rng.normal(0, j, c.strings - 2) / (c.strings - 1)
        uneven = j * (2.5 if rng.random() < 0.15 else 1.0)
        v = np.linspace(0, 1, c.rows + 1)
        if c.rows > 1:
            v[1:-1] += rng.normal(0, uneven, c.rows - 1) / c.rows
        tilt_u = rng.normal(0, j, c.strings) / (c.strings - 1) * 0.7
        tilt_v = rng.normal(0, j, c.rows + 1) / c.rows * 0.7
        tilt_u[[0, -1]] = 0
        tilt_v[[0, -1]] = 0
        a, b, d, e = self.corners  # nut left, nut right, far right, far left
        uu = u[:, None] + tilt_u[:, None] * (v[None, :] - 0.5)
        vv = v[None, :] + tilt_v[None, :] * (u[:, None] - 0.5)
        uu, vv = uu[..., None], vv[..., None]
        return np.asarray((1 - vv) * ((1 - uu) * a + uu * b) + vv * ((1 - uu) * e + uu * d))

    def at(self, string: float, row: float) -> Points:
        """Page point on a (fractional) string at a (fractional) row line; runs on beyond the grid."""
        n = self.nodes
        s0 = min(max(int(string // 1), 0), n.shape[0] - 2)
        r0 = min(max(int(row // 1), 0), n.shape[1] - 2)
        fs, fr = string - s0, row - r0
        near, far = n[s0], n[s0 + 1]
        return np.asarray(
            (near[r0] * (1 - fs) + far[r0] * fs) * (1 - fr) + (near[r0 + 1] * (1 - fs) + far[r0 + 1] * fs) * fr
        )

    # ------------------------------------------------------------ drawing
    def paint(self) -> Drawn:
        """Draw everything and say what is shown."""
        c = self.content
        self._paint_grid()
        if not c.empty:
            self._paint_marks_above()
            self._paint_stops()
        self._paint_number()
        if c.label is not None:
            self._paint_label()
        if self.style.strings_named:
            self._paint_string_names()
        kind = KIND_EMPTY if c.empty and c.label is None else KIND_DIAGRAM
        return Drawn(
            self.corners.copy(), c.strings, c.rows, c.first_fret, self.states, self.open_marks, self.fingers, self.barre,
            self.nut, self.label, self.label_at, self.number, self.number_at, kind, self.style.sideways,
            {"heights": self.heights},
        )  # fmt: skip

    def _line(self, points: Points, width: float, pen: str = "grid", light: float = 1.0) -> None:
        mask = self.sheet.masks[pen]
        if not self.hand_drawn or (self.style.medium == "preprinted" and pen == "grid"):
            draw_line(mask, points, width, int(255 * light))
            return
        path = wobble(points, self.style.wobble * self.gap, self.rng, 12)
        if light < 1:
            draw_line(mask, path, width, int(255 * light))
        else:
            draw_pressed(mask, path, width, self.rng, 0.18)

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
            self._line(
                np.array([self.at(-a + short * rng.random(), r), self.at(last + b - short * rng.random(), r)]), width,
                light=1.0 if outer else st.inner_light,
            )  # fmt: skip
        for s in range(c.strings):
            up, down = self._over(over), self._over(over)
            if not st.closing and rng.random() < 0.5:
                down = 0.0
            elif not st.closing:
                down = rng.uniform(-0.12, 0.12)
            if st.run_on:
                down = st.run_on * rng.uniform(0.6, 1.3)
            short = 0.0 if s in (0, last) else st.short_inner
            width = pen * (st.outer_pen if s in (0, last) else st.inner_pen)
            self._line(
                np.array([self.at(s, -up + short * rng.random()), self.at(s, c.rows + down - short * rng.random())]), width,
                light=1.0 if s in (0, last) else st.inner_light,
            )  # fmt: skip
        self._paint_nut(pen)
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
            d = float(np.clip(self.rng.uniform(0.09, 0.2), 2.2 * pen / self.cell, 0.4))
            self._line(np.array([self.at(-over, -d), self.at(last + over, -d)]), pen)
            return
        thick = {"thick": self.rng.uniform(2.2, 4), "bar": self.rng.uniform(4, 7)}[form] * pen
        thick = float(min(max(thick, 2.2), self.cell * 0.3))
        # the grid ends at the inner edge of the nut: the bar stands above the first line
        lift = (thick / 2 - pen / 2) / self.cell * (1 if self.rng.random() < 0.6 else 0)
        self._line(np.array([self.at(-over, -lift), self.at(last + over, -lift)]), thick)

    def _paint_marks_above(self) -> None:
        st, rng = self.style, self.rng
        size = st.mark_size * self.unit
        away = st.mark_distance * self.unit / self.cell
        if self.nut and st.nut in ("bar", "double"):
            away += 0.18
        for s, state in enumerate(self.states):
            drift = rng.normal(0, 0.05) if self.hand_drawn else 0.0
            if state == MUTED:
                self._paint_muted(s, away, size, drift)
            elif state == 0 and st.nut_dots and st.marks == "none":
                # a dot on the nut line says that the string sounds open
                self._paint_blob(self.at(s + drift, 0.0), min(st.dot_size, 0.3) * self.unit)
                self.open_marks[s] = True
            elif state == 0 and st.marks in ("both", "o", "some"):
                if self.hand_drawn and rng.random() < (0.6 if st.marks == "some" else 0.06):
                    continue  # now and then an o is forgotten
                p = self.at(s + drift, -away)
                path = ellipse(
                    p,
                    size * 0.62,
                    size * 0.62 * (1 if not self.hand_drawn else rng.uniform(0.8, 1.3)),
                    rng,
                    0.09 if self.hand_drawn else 0,
                    1.06 if self.hand_drawn else 1,
                )
                self._mark_line(
                    np.vstack([path, path[:1]]) if not self.hand_drawn else path,
                    max(0.9, st.mark_pen * 0.6 * self.unit),
                )
                self.open_marks[s] = True

    def _mark_line(self, path: Points, width: float, pen: str = "mark") -> None:
        if self.hand_drawn:
            draw_pressed(self.sheet.masks[pen], path, width, self.rng, 0.1)
        else:
            draw_line(self.sheet.masks[pen], path, width)

    def _paint_muted(self, s: int, away: float, size: float, drift: float) -> None:
        st, rng = self.style, self.rng
        form = st.muted_form
        at = self.at(s + drift, -away if form != "inside" else rng.uniform(0.3, 0.6))
        width = max(0.9, st.mark_pen * 0.65 * self.unit)
        if form == "wavy":
            t = np.linspace(0.05, self.content.rows - 0.1, 24)
            path = np.array([self.at(s + 0.09 * np.sin(k * 1.7), v) for k, v in enumerate(t)])
            self._mark_line(smooth(path, 60), width)
        if form == "square":
            draw_area(self.sheet.masks["mark"], at + size * 0.8 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]))
        value = 0 if form == "square" else 255
        k = size * (0.62 if form != "square" else 0.5)
        bend = rng.normal(0, 0.12, (4, 2)) * k if self.hand_drawn else np.zeros((4, 2))
        for a, b in ((0, 2), (1, 3)):
            box = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * k + bend
            path = at + np.array([box[a], box[b]])
            if self.hand_drawn and value:
                path = wobble(path, 0.04 * k, rng, 6)
            draw_line(self.sheet.masks["mark"], path, width, value)
        if form == "bracket":
            for side in (-1, 1):
                arc = at + np.array([[side * k * 1.4, -k * 1.3], [side * k * 1.9, 0], [side * k * 1.4, k * 1.3]])
                self._mark_line(smooth(arc), width)

    # ------------------------------------------------------------ stops
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
        if fingers == "below":
            self._paint_finger_row()

    def _paint_lower_dot(self) -> None:
        """A second dot on one string: the one further up the neck counts."""
        high = [d for d in self.content.dots if d.row >= 2 and not self.barre[d.string]]
        if high:
            dot = high[int(self.rng.integers(len(high)))]
            self._paint_dot(Dot(dot.string, int(self.rng.integers(1, dot.row))), "none")

    def _frets_are_plain(self) -> bool:
        """Whether numbers read as frets could not pass for fingers."""
        numbers = [self.content.first_fret + d.row - 1 for d in self.content.dots]
        repeated = any(numbers.count(n) > 1 and n >= 2 for n in numbers)
        return not self.content.barres and bool(numbers) and (repeated or max(numbers) > 4)

    def _spot(self, dot: Dot) -> Points:
        st, rng = self.style, self.rng
        drift = rng.normal(0, st.dot_drift, 2) if st.dot_drift else np.zeros(2)
        drift = np.clip(drift, -0.26, 0.26)
        return self.at(dot.string + drift[0], dot.row - 1 + np.clip(st.dot_at + drift[1], 0.22, 0.8))

    def _paint_dot(self, dot: Dot, fingers: str) -> None:
        st, rng = self.style, self.rng
        at = self._spot(dot)
        digit = {"T": 5}.get(str(dot.finger), dot.finger if isinstance(dot.finger, int) else 0)
        text = str(dot.finger) if dot.finger else ""
        if fingers in ("instead", "circled") and text:
            self._paint_bare_digit(text, at, 1.0 if fingers == "instead" else 0.62)
            self.fingers[dot.string] = int(digit)
            if fingers == "circled":
                r = st.finger_size * self.unit * 0.72
                self._mark_line(
                    ellipse(at, r, r, rng, 0.06 if self.hand_drawn else 0, 1.05),
                    max(0.9, st.mark_pen * 0.6 * self.unit),
                )
            return
        if fingers == "frets":
            self._paint_bare_digit(str(self.content.first_fret + dot.row - 1), at)
            return
        # a dot stands out from the line it sits on
        radius = max(min(st.dot_size, 0.48), 0.75 * st.pen * st.inner_pen + 0.09) * self.unit
        self._paint_blob(at, radius)
        if fingers == "in" and text:
            self._paint_inside(text, at, radius)
            self.fingers[dot.string] = int(digit)
        elif fingers == "beside" and text:
            side = 1 if rng.random() < 0.8 else -1
            away = radius / self.gap + 0.28
            spot = at + (self.at(dot.string + side * away, 1) - self.at(dot.string, 1)) - np.array([0, radius * 0.4])
            self._paint_digit(text, spot, st.finger_size * 0.75 * self.unit, "digit")
            self.fingers[dot.string] = int(digit)

    def _paint_blob(self, at: Points, radius: float) -> None:
        st, rng = self.style, self.rng
        mask = self.sheet.masks["mark"]
        rough = 0.1 if self.hand_drawn else 0.0
        ry = radius * (1.0 if not self.hand_drawn else rng.uniform(0.8, 1.2))
        width = max(0.9, st.mark_pen * 0.7 * self.unit)
        form = st.dot
        if form == "filled" or form == "square" or form == "diamond":
            if form == "filled":
                draw_area(
                    mask,
                    ellipse(at, radius, ry, rng, rough),
                    int(255 if rng.random() < 0.9 else rng.integers(150, 255)),
                )
            else:
                box = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * radius * 0.85
                if form == "diamond":
                    box = np.array([[0, -1], [1, 0], [0, 1], [-1, 0]]) * radius * 1.15
                draw_area(mask, at + box)
        elif form in ("hollow", "white"):
            path = ellipse(at, radius, ry, rng, rough, 1.04)
            if not self.hand_drawn or rng.random() < 0.2:
                for name in ("grid", "pale"):
                    draw_area(self.sheet.masks[name], path, 0)
            self._mark_line(np.vstack([path, path[:1]]) if not self.hand_drawn else path, width)
        elif form == "scribble":
            self._mark_line(wobble(scribble(at, radius * 0.85, rng), radius * 0.1, rng, 30), max(width, radius * 0.3))
        elif form == "oval":
            draw_area(mask, ellipse(at, radius * rng.uniform(1.0, 1.4), ry * rng.uniform(0.6, 0.9), rng, rough))
        elif form == "tick":
            a = rng.uniform(0.3, 1.2)
            k = radius * np.array([np.cos(a), -np.sin(a)])
            self._mark_line(wobble(np.array([at - k, at + k]), radius * 0.1, rng, 8), width * 1.6)
        else:
            for sx in (1, -1):
                k = radius * 0.7 * np.array([sx, 1])
                self._mark_line(np.array([at - k, at + k]), width)

    def _paint_inside(self, text: str, at: Points, radius: float) -> None:
        if self.style.dot in ("filled", "oval", "square", "diamond", "scribble"):
            if self.rng.random() < 0.75:
                self._paint_digit(text, at, radius * 1.25, "mark", 0)
            else:
                m = self.sheet.masks["mark"]
                r = int(radius * 1.3) + 1
                x, y = int(at[0]), int(at[1])
                view = m[max(0, y - r) : y + r, max(0, x - r) : x + r]
                view[:] = (view * 0.45).astype(np.uint8)
                self._paint_digit(text, at, radius * 1.3, "digit")
        else:
            self._paint_digit(text, at, radius * 1.25, "digit")

    def _paint_digit(self, text: str, at: Points, height: float, pen: str, value: int = 255) -> None:
        st = self.style
        width = None if st.digit_hand.kind == "print" else max(1.0, st.mark_pen * 0.8 * self.unit)
        if value == 0:
            width = max(1.0, height * 0.14)
        stamp = st.digit_hand.stamp(text, max(4.0, height), self.rng, width)
        if st.sideways and st.digits_turned:
            stamp = turned(stamp, -90 if st.sideways == 1 else 90)
        self._note_height("finger", height)
        paste(self.sheet.masks[pen], stamp, at[0] - stamp.shape[1] / 2, at[1] - stamp.shape[0] / 2, value)
        if value == 0:
            paste(self.sheet.masks["grid"], stamp, at[0] - stamp.shape[1] / 2, at[1] - stamp.shape[0] / 2, 0)

    def _paint_bare_digit(self, text: str, at: Points, share: float = 1.0) -> None:
        """A digit on the string itself; a 1 must not hide in the string."""
        st, rng = self.style, self.rng
        height = min((0.25 + 1.15 * st.finger_size) * self.unit, 0.95 * self.cell) * share * rng.uniform(0.9, 1.1)
        if len(text) > 1:
            height *= 0.8
        stamp = st.digit_hand.stamp(text, max(4.0, height), rng)
        along = not st.sideways or st.digits_turned
        if text == "1" and (st.one_form == "slash" or (along and stamp.shape[1] < 0.36 * stamp.shape[0])):
            lean = (
                rng.uniform(0.28, 0.85)
                if not st.sideways
                else np.pi / 2 + rng.uniform(0.28, 0.85)
                if along
                else rng.uniform(-0.15, 0.6)
            )
            if rng.random() < 0.15:
                lean = -lean
            half = 0.5 * height * rng.uniform(0.8, 1.15) * np.array([np.sin(lean), -np.cos(lean)])
            width = max(1.0, st.mark_pen * 0.8 * self.unit)
            draw_pressed(
                self.sheet.masks["digit"],
                wobble(np.array([at - half, at + half]), 0.03 * height, rng, 8),
                width,
                rng,
                0.12,
            )
            self._note_height("finger", height)
            return
        if not self.hand_drawn and rng.random() < 0.5:  # programs leave the string out behind the digit
            box = np.array([[-0.6, -0.6], [0.6, -0.6], [0.6, 0.6], [-0.6, 0.6]]) * stamp.shape[::-1]
            draw_area(self.sheet.masks["grid"], box + at, 0)
        self._paint_digit(text, at, height, "digit")

    def _note_height(self, what: str, height: float) -> None:
        """Keep how small the lettering of this kind gets, in sheet pixels: what is too small nobody can read."""
        self.heights[what] = min(height, self.heights.get(what, height))

    def _paint_crossed_out(self, dot: Dot) -> None:
        """A dot in a wrong place, struck through; what counts stands elsewhere."""
        rng = self.rng
        rows = [r for r in range(1, self.content.rows + 1) if abs(r - dot.row) >= 1]
        if not rows:
            return
        wrong = Dot(dot.string, int(rng.choice(rows)))
        at = self._spot(wrong)
        radius = self.style.dot_size * self.unit
        draw_line(
            self.sheet.masks["mark"],
            ellipse(at, radius * 0.8, radius * 0.8, rng, 0.1),
            max(1.0, self.style.mark_pen * 0.6 * self.unit),
            200,
        )
        for sx in (1, -1):
            k = radius * 1.7 * np.array([sx, 1]) + rng.normal(0, radius * 0.15, 2)
            self._mark_line(
                wobble(np.array([at - k, at + k]), radius * 0.1, rng, 8),
                max(1.0, self.style.mark_pen * 0.8 * self.unit),
            )

    def _paint_finger_row(self) -> None:
        st, rng, c = self.style, self.rng, self.content
        by_string = {d.string: d for d in sorted(c.dots, key=lambda d: d.row)}
        away = (0.62 * self.unit + (0.3 * self.cell if st.run_on else 0)) / self.cell
        zeros = rng.random() < 0.2
        sounding_barre = {s: 1 for b in c.barres for s in range(b.left, b.right + 1)} if rng.random() < 0.6 else {}
        for s in range(c.strings):
            text = ""
            if s in by_string and by_string[s].finger:
                text = str(by_string[s].finger)
                self.fingers[s] = 5 if text == "T" else int(text)
            elif s in sounding_barre and self.states[s] > 0:
                text = "1"
                self.fingers[s] = 1
            elif zeros and self.states[s] == 0:
                text = "0" if rng.random() < 0.6 else "o"
            if text:
                drift = rng.normal(0, 0.06) if self.hand_drawn else 0
                self._paint_digit(text, self.at(s + drift, c.rows + away), st.finger_size * 0.9 * self.unit, "digit")

    def _paint_barre(self, barre: DrawnBarre, fingers: str) -> None:
        st, rng = self.style, self.rng
        form = st.barre_form if barre.form == "line" else barre.form
        if fingers in ("instead", "frets") and rng.random() < 0.5:
            form = "line"
        strings = range(barre.left, barre.right + 1)
        if form == "dots":  # a row of single dots is no barre as drawn
            for s in strings:
                if self.states[s] == barre.row or rng.random() < 0.5:
                    finger = 1 if fingers != "none" else None
                    self._paint_dot(Dot(s, barre.row, finger), fingers if fingers != "frets" else "none")
                    if self.states[s] != barre.row:
                        self.fingers[s] = 0
            return
        v = barre.row - 1 + float(np.clip(st.dot_at + (rng.normal(0, 0.06) if self.hand_drawn else 0), 0.25, 0.75))
        over = float(rng.uniform(0.08, 0.4)) if form in ("line", "dashed", "thick", "double", "shaded", "pale") else 0.0
        a, b = self.at(barre.left - over, v), self.at(barre.right + over, v)
        mask = self.sheet.masks["mark"]
        pen = max(1.0, st.mark_pen * self.unit)
        if form in ("line", "dashed", "double"):  # heavier than a fret, or it would pass for one
            pen = max(pen, 2.0, (2.0 if form != "double" else 1.3) * st.pen * st.fret_pen * self.gap)
        if form == "line":
            self._mark_line(
                wobble(np.array([a, b]), st.wobble * self.gap, rng, 10) if self.hand_drawn else np.array([a, b]),
                pen * rng.uniform(1.0, 1.8),
            )
        elif form == "dashed":
            pieces = int(rng.integers(2, 4)) * (barre.right - barre.left) + 1
            cuts = a + np.linspace(0, 1, 2 * pieces)[:, None] * (b - a)
            for k in range(pieces):
                self._mark_line(cuts[2 * k : 2 * k + 2], pen * rng.uniform(1.0, 1.3))
        elif form == "thick":
            draw_line(
                mask,
                wobble(np.array([a, b]), st.wobble * self.gap, rng, 10),
                max(2.0, min(st.dot_size * 1.7, 0.7) * self.unit * rng.uniform(0.5, 1.0)),
            )
        elif form == "double":
            d = (self.at(barre.left, v + 0.12) - self.at(barre.left, v - 0.12)) * 0.5
            for k in (-1, 1):
                self._mark_line(np.array([a + k * d, b + k * d]), pen * 0.7)
        elif form == "shaded":
            n = int((barre.right - barre.left + 2 * over) * rng.uniform(4, 8))
            zig = [
                self.at(
                    barre.left - over + (barre.right - barre.left + 2 * over) * i / n,
                    barre.row - 1 + (0.12 if i % 2 else 0.88),
                )
                for i in range(n + 1)
            ]
            self._mark_line(np.array(zig), pen * 0.8)
        elif form == "oval":
            mid, half = (a + b) / 2, np.hypot(*(b - a)) / 2 + 0.35 * self.unit
            path = ellipse(
                np.zeros(2), half, rng.uniform(0.22, 0.36) * self.unit, rng, 0.03 if self.hand_drawn else 0, 1.03
            )
            ang = np.arctan2(*(b - a)[::-1])
            m = np.array([[np.cos(ang), np.sin(ang)], [-np.sin(ang), np.cos(ang)]])
            self._mark_line(np.vstack([path, path[:1]]) @ m + mid, pen * 0.6)
        elif form == "pale":
            draw_line(self.sheet.masks["pale"], np.array([a, b]), 0.6 * self.unit, int(rng.integers(120, 230)))
        elif form == "hairline":
            self._mark_line(np.array([a, b]), max(0.9, pen * 0.3, 0.9 * st.pen * self.gap if self.hand_drawn else 0.0))
        if form in ("arc", "endarc"):
            self._paint_arc(barre, pen, v)
        dotted = form in ("arc", "hairline", "endarc") or (form == "oval" and rng.random() < 0.6)
        if dotted:
            ends = form in ("endarc", "hairline") or rng.random() < 0.25
            for s in strings:
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
        for s in strings:
            self.barre[s] = barre.row

    def _paint_arc(self, barre: DrawnBarre, pen: float, v: float) -> None:
        rng = self.rng
        inside = rng.random() < 0.45
        lift = (
            rng.uniform(0.28, 0.6)
            if inside
            else v + rng.uniform(0.15, 0.6) - (barre.row - 1) * rng.choice([0.9, 0.0, 0.9])
        )
        foot = v - 0.3 if inside or rng.random() < 0.7 else v - lift * 0.6
        top = foot - lift
        a, b = self.at(barre.left - 0.15, foot), self.at(barre.right + 0.15, foot)
        m1, m2 = (
            self.at(barre.left + 0.25 * (barre.right - barre.left), top),
            self.at(barre.right - 0.25 * (barre.right - barre.left), top),
        )
        t = np.linspace(0, 1, 26)[:, None]
        curve = (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * m1 + 3 * (1 - t) * t**2 * m2 + t**3 * b
        self._mark_line(curve, max(0.9, pen * (0.35 if not self.hand_drawn else 0.7)))

    # ------------------------------------------------------------ lettering
    def _paint_number(self) -> None:
        st, c, rng = self.style, self.content, self.rng
        if c.first_fret == 1 and (self.nut or rng.random() > 0.012):
            return
        row = min(st.number_row, c.rows)
        rows = range(1, c.rows + 1) if st.number_form == "all" else [row]
        height = max(5.0, st.number_size * self.unit)
        for k in rows:
            value = c.first_fret + k - 1
            text = number_text(st.number_form, value)
            stamp = st.digit_hand.stamp(text, height, rng)
            if st.sideways and st.digits_turned:
                stamp = turned(stamp, -90 if st.sideways == 1 else 90)
            far = self._clear_of(stamp)
            string = -far if st.number_side == "left" else c.strings - 1 + far
            v = k - 1 + (float(rng.choice([0.5, 0.5, 0.5, 0.1])) if k == 1 else 0.5)
            if self.hand_drawn:
                v += float(rng.normal(0, 0.1))
            spot = self.at(string, v)
            paste(
                self.sheet.masks["text" if rng.random() < 0.5 else "digit"],
                stamp,
                spot[0] - stamp.shape[1] / 2,
                spot[1] - stamp.shape[0] / 2,
            )
            self._note_height("number", height)
            if k == rows[0]:
                self.number, self.number_at = value, spot

    def _clear_of(self, stamp: Mask) -> float:
        """How far from the outer string a stamp's middle has to stand, in gaps."""
        size = stamp.shape[1] if self.style.sideways == 0 else stamp.shape[0]
        clear = self.rng.uniform(0.15, 0.5)
        if self.style.dot_size > 0.3 or self.content.barres:
            clear += 0.3
        return float(size / 2 / self.gap + clear)

    def _paint_label(self) -> None:
        st, c, rng = self.style, self.content, self.rng
        label = c.label
        assert label is not None
        height = max(6.0, st.label_size * self.unit * (1.0 if c.strings < 6 else 1.25))
        stamp = st.hand.stamp(label.base, height, rng)
        if label.suffix:
            small = st.label_raised and label.suffix[0] != " "
            k = rng.uniform(0.55, 0.8) if small else (0.75 if st.capitals and rng.random() < 0.5 else 1.0)
            # a small capital M is a minor: it must be seen to be small
            if st.capitals and label.suffix.startswith("m") and rng.random() < 0.6:
                k = min(k, 0.7)
                suffix_text = "M" + label.suffix[1:]
            else:
                suffix_text = label.suffix
            stamp = raised(
                stamp,
                st.hand.stamp(suffix_text, height * k, rng),
                rng.uniform(0.3, 0.6) if small else 0.0,
                height * rng.uniform(0.05, 0.3),
            )
        if label.bass:
            stamp = raised(stamp, st.hand.stamp(label.bass, height * rng.uniform(0.8, 1), rng), 0.0, height * 0.08)
        if self.hand_drawn and rng.random() < 0.5:
            stamp = turned(stamp, float(rng.normal(0, 3)))
        room = self.gap * (c.strings + rng.uniform(0.2, 1.6))
        if st.sideways == 0 and stamp.shape[1] > room and st.label_place != "left":  # squeezed to fit
            k = max(0.55, room / stamp.shape[1])
            stamp = np.asarray(
                cv2.resize(
                    stamp,
                    (round(stamp.shape[1] * k), max(4, round(stamp.shape[0] * k**0.5))),
                    interpolation=cv2.INTER_AREA,
                ),
                np.uint8,
            )
        self._note_height("label", float(stamp.shape[0]))
        box = np.vstack([self.nodes[0, 0], self.nodes[-1, 0], self.nodes[-1, -1], self.nodes[0, -1]])
        lo, hi = box.min(0), box.max(0)
        h, w = stamp.shape
        marks = (
            self.unit * (st.mark_distance + st.mark_size)
            if st.sideways == 0 and (st.marks != "none" or MUTED in self.states)
            else 0.0
        )
        space = self.unit * rng.uniform(-0.03 if self.hand_drawn else 0.06, 0.75)
        mid = (lo[0] + hi[0]) / 2 + (rng.normal(0, 0.35) * self.unit if self.hand_drawn else 0)
        if st.label_place == "above":
            x, y = mid - w / 2, lo[1] - marks - space - h
        elif st.label_place == "above-left":
            x, y = lo[0] - rng.uniform(0, 0.5) * self.unit, lo[1] - marks - space - h
        elif st.label_place == "below":
            row = self.unit * 0.95 if st.fingers == "below" or st.run_on or st.strings_named else 0.0
            x, y = mid - w / 2, hi[1] + row + space
        else:
            left = self.unit * (1.2 if st.number_side == "left" and c.first_fret > 1 else 0.4)
            if st.sideways and (st.marks != "none" or MUTED in self.states):
                left += self.unit * (st.mark_distance + st.mark_size)
            x, y = lo[0] - w - left - space * 0.5, lo[1] + rng.uniform(-0.2, 0.5) * self.unit
        paste(self.sheet.masks["text"], stamp, x, y)
        self.label = label.truth
        self.label_at = np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])

    def _paint_string_names(self) -> None:
        st, c, rng = self.style, self.content, self.rng
        names = {4: "gCEA", 6: "EADGBE", 5: "gDGBD", 3: "GDG"}.get(c.strings, "EADGBEAD")
        below = st.fingers != "below" and rng.random() < 0.8
        if not below and (st.marks != "none" or st.label_place.startswith("above")):
            return
        for s in range(c.strings):
            stamp = st.hand.stamp(names[s % len(names)], max(5.0, 0.4 * self.unit), rng)
            spot = self.at(s, c.rows + 0.55 * self.unit / self.cell if below else -0.5 * self.unit / self.cell)
            paste(self.sheet.masks["text"], stamp, spot[0] - stamp.shape[1] / 2, spot[1] - stamp.shape[0] / 2)


def number_text(form: str, value: int) -> str:
    """A fret number in one of the usual forms."""
    ending = {1: "st", 2: "nd", 3: "rd"}.get(value, "th")
    roman = ROMAN[value - 1] if value <= len(ROMAN) else str(value)
    table = {
        "n": f"{value}", "all": f"{value}", "fr": f"{value}fr", "roman": roman, "ordinal": f"{value}{ending}",
        "ordinal fr": f"{value}{ending} fr", "bracket": f"({value})", "words": f"{value}{ending} fret", "dot": f"{value}.",
        "fr n": f"fr {value}", "roman small": roman.lower(),
    }  # fmt: skip
    return table[form]


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
    return int(choice(rng, {4: 52, 6: 33, 5: 6, 3: 4, 7: 2.5, 8: 2.5}))


def sample_diagram(rng: Rng, style: Style, strings: int) -> Content:
    """What to draw in this style."""
    moved = rng.random() < style.moved_share
    content = sample_content(rng, strings, 4 if style.staff_lines else style.rows, moved=moved)
    if rng.random() < style.empty_share:
        return Content(strings, content.rows, 1, [0] * strings, [], empty=True)
    if rng.random() < style.label_share:
        content.label = sample_label(rng, capitals=style.capitals, sharp=style.sharp, flat=style.flat)
    if not content.dots and not content.barres and rng.random() < 0.5:
        content.empty = True
        content.states = [0] * strings
        content.first_fret = 1
    return content
