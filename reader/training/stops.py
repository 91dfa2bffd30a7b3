"""Draws what stands on the strings: dots, digits, crossed-out dots, and the marks above the nut."""

from __future__ import annotations

import cv2
import numpy as np

from reader.training.blobs import INKED, NO_ROOM, BlobBrush
from reader.training.content import MUTED, Dot
from reader.training.lettering import bent, stretched, turned
from reader.training.strokes import Points, draw_area, draw_line, draw_pressed, ellipse, paste, smooth, wobble

CROSS, UPRIGHT_CROSS = ((-1, -1), (1, -1), (1, 1), (-1, 1)), ((0, -1.3), (1.3, 0), (0, 1.3), (-1.3, 0))
"""Ends of the strokes of the sign of a muted string, in halves of its size."""


class StopBrush(BlobBrush):
    """Draws stops and the marks above the nut."""

    def _paint_marks_above(self) -> None:
        st, rng = self.style, self.rng
        size = st.mark_size * self.unit
        away = st.mark_distance * self.unit / self.cell
        if self.nut and st.nut in ("bar", "double"):
            away += 0.18
        self.nut_line = -away
        self.mark_line = self.content.rows + away if self._marks_at_foot() else -away
        for s, state in enumerate(self.states):
            drift = rng.normal(0, 0.05) if self.hand_drawn else 0.0
            if state == MUTED:
                self._paint_muted(s, size, drift)
            elif state == 0 and st.nut_dots and st.marks == "none":
                # a dot on the nut line says that the string sounds open
                self._paint_blob(self.at(s + drift, 0.0), min(st.dot_size, 0.3) * self.unit)
                self.open_marks[s] = True
            elif state == 0 and st.marks in ("both", "o", "some"):
                if self.hand_drawn and rng.random() < (0.6 if st.marks == "some" else 0.06):
                    continue  # now and then an o is forgotten
                self._paint_open(self.at(s + drift, self.mark_line), size)
                self.open_marks[s] = True

    def _paint_open(self, at: Points, size: float) -> None:
        """A ring over a string, or the digit 0."""
        st, rng = self.style, self.rng
        if st.open_form == "zero":
            stamp = st.digit_hand.stamp("0", max(4.0, size * 1.45), rng)
            paste(self.sheet.masks["mark"], stamp, at[0] - stamp.shape[1] / 2, at[1] - stamp.shape[0] / 2)
            return
        down = size * 0.62 * (1 if not self.hand_drawn else rng.uniform(0.8, 1.3))
        path = ellipse(at, size * 0.62, down, rng, 0.09 if self.hand_drawn else 0, 1.06 if self.hand_drawn else 1)
        width = max(0.9, st.mark_pen * 0.6 * self.unit)
        whole = np.vstack([path, path[:1]]) if not self.hand_drawn else path
        if self.hand_drawn and rng.random() < 0.06:  # a ring that a copier has eaten into, or that was never closed
            first = int(rng.integers(len(whole)))
            whole = np.roll(path, first, axis=0)[: int(len(path) * rng.uniform(0.6, 0.85))]
            draw_line(self.sheet.masks["mark"], whole, width, int(rng.integers(90, 256)))
            return
        self._mark_line(whole, width)

    def _paint_muted(self, s: int, size: float, drift: float) -> None:
        st, rng = self.style, self.rng
        form = st.muted_form
        at = self.at(s + drift, self.mark_line if form != "inside" else rng.uniform(0.3, 0.6))
        width = max(0.9, st.mark_pen * 0.65 * self.unit)
        if form == "wavy":
            return  # the string itself says it
        if form == "square":
            draw_area(self.sheet.masks["mark"], at + size * 0.8 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]))
        value = 0 if form == "square" else 255
        k = size * (0.62 if form != "square" else 0.5)
        bend = rng.normal(0, 0.12, (4, 2)) * k if self.hand_drawn else np.zeros((4, 2))
        weak = int(rng.integers(2)) if self.hand_drawn and value and rng.random() < 0.08 else -1
        ends = UPRIGHT_CROSS if form == "plus" else CROSS
        for stroke, (a, b) in enumerate(((0, 2), (1, 3))):
            box = np.array(ends) * k + bend
            path = at + np.array([box[a], box[b]])
            if self.hand_drawn and value:
                path = wobble(path, 0.04 * k, rng, 6)
            if stroke == weak:  # a pen that gives out, or a copier that loses half of it
                path = path[: int(rng.integers(3, 6))] if rng.random() < 0.5 else path
                draw_line(self.sheet.masks["mark"], path, 0.8 * width, int(rng.integers(60, 170)))
                continue
            draw_line(self.sheet.masks["mark"], path, width, value)
        if form == "bracket":
            for side in (-1, 1):
                arc = at + np.array([[side * k * 1.4, -k * 1.3], [side * k * 1.9, 0], [side * k * 1.4, k * 1.3]])
                self._mark_line(smooth(arc), width)

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
        text = str(dot.finger) if dot.finger and rng.random() >= st.finger_gaps else ""
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
            self.frets[dot.string] = self.content.first_fret + dot.row - 1
            self._paint_bare_digit(str(self.frets[dot.string]), at)
            return
        # a dot stands out from the line it sits on
        radius = max(min(st.dot_size, 0.48), 0.75 * st.pen * st.inner_pen + 0.09) * self.unit
        self._paint_blob(at, radius)
        if fingers == "in" and text and st.dot not in NO_ROOM:
            self._paint_inside(text, at, radius)
            self.fingers[dot.string] = int(digit)
        elif fingers in ("beside", "in") and text:
            height = st.finger_size * 0.75 * self.unit
            self._paint_digit(text, self._beside(at, dot, radius, height), height, "digit")
            self.fingers[dot.string] = int(digit)

    def _beside(self, at: Points, dot: Dot, radius: float, height: float) -> Points:
        """Where the finger of a stop at ``at`` is written, a digit of this height: it may touch the stop."""
        side, rng = self.style.finger_side, self.rng
        if side == "any":
            away = (1 if rng.random() < 0.8 else -1) * (radius / self.gap + 0.28)
            across = self.at(dot.string + away, 1) - self.at(dot.string, 1)
            return np.asarray(at + across - np.array([0, radius * 0.4]))
        way = {"right": (1.0, -0.25), "left": (-1.0, -0.25), "under": (0.1, 1.0), "over": (0.1, -1.0)}[side]
        half = (0.5 if way[1] in (1.0, -1.0) else 0.35) * height
        return np.asarray(at + np.array(way) * (radius + half + rng.uniform(-0.06, 0.2) * self.unit))

    def _paint_inside(self, text: str, at: Points, radius: float) -> None:
        if self.style.dot in INKED:
            if self.rng.random() < 0.85:
                self._paint_digit(text, at, radius * self.rng.uniform(1.15, 1.5), "mark", 0)
            else:
                m = self.sheet.masks["mark"]
                r = int(radius * 1.3) + 1
                x, y = int(at[0]), int(at[1])
                view = m[max(0, y - r) : y + r, max(0, x - r) : x + r]
                view[:] = (view * 0.3).astype(np.uint8)
                self._paint_digit(text, at, radius * 1.3, "digit")
        else:
            self._paint_digit(text, at, max(1.3 * radius - self._blob_pen(), 0.7 * radius), "digit")

    def _paint_digit(self, text: str, at: Points, height: float, pen: str, value: int = 255) -> None:
        st = self.style
        broad = min(max(1.0, st.mark_pen * 0.8 * self.unit), max(1.0, 0.18 * height))
        width = None if st.digit_hand.kind == "print" else broad
        if value == 0:
            width = max(1.0, height * 0.14)
        stamp = st.digit_hand.stamp(text, max(4.0, height), self.rng, width)
        if self.free:
            stamp = stretched(stamp, st.digit_stretch * float(np.exp(self.rng.normal(0, 0.07))))
        if self.free and self.rng.random() < 0.7:
            stamp = bent(stamp, float(self.rng.uniform(0.01, 0.06)), self.rng)
        if st.sideways and st.digits_turned:
            stamp = turned(stamp, -90 if st.sideways == 1 else 90)
        elif self.free:
            stamp = turned(stamp, float(self.rng.normal(0, 5)))
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
        at = at + np.array(st.digit_aside) * self.unit
        if text == "1" and (st.one_form != "plain" or (along and stamp.shape[1] < 0.36 * stamp.shape[0])):
            lean = (
                rng.uniform(0.28, 0.85)
                if not st.sideways
                else np.pi / 2 + rng.uniform(0.28, 0.85)
                if along
                else rng.uniform(-0.15, 0.6)
            )
            if st.one_form == "flat":
                lean = np.pi / 2 + rng.uniform(-0.35, 0.35) if not st.sideways else lean
            elif rng.random() < (0.15 if st.one_form != "backslash" else 0.85):
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

    def _paint_wiped(self) -> None:
        """What a stop rubbed out leaves behind: paler than all that counts, and blurred."""
        rng, c = self.rng, self.content
        free = [(s, r) for s in range(c.strings) for r in range(1, c.rows + 1) if c.states[s] != r]
        string, row = free[int(rng.integers(len(free)))]
        at = self._spot(Dot(string, row))
        radius = max(self.style.dot_size * self.unit, 2.0)
        r = int(radius * 1.6) + 2
        stain = np.zeros((2 * r, 2 * r), np.uint8)
        draw_area(stain, ellipse(np.array([r, r], float), radius, radius * rng.uniform(0.8, 1.2), rng, 0.15))
        stain = np.asarray(cv2.GaussianBlur(stain, (0, 0), float(rng.uniform(0.05, 0.25)) * radius), np.uint8)
        paste(self.sheet.masks["pale"], stain, at[0] - r, at[1] - r, int(rng.integers(18, 60)))

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

    def _finger_row_at(self) -> str:
        """Where a row of fingers stands: 'below' or 'above' the grid, or '' for none."""
        return self.style.fingers if self.style.fingers in ("below", "above") else ""

    def _paint_finger_row(self) -> None:
        st, rng, c = self.style, self.rng, self.content
        by_string = {d.string: d for d in sorted(c.dots, key=lambda d: d.row)}
        away = (0.62 * self.unit + (0.3 * self.cell if st.run_on else 0)) / self.cell
        row = self.nut_line if st.fingers == "above" else c.rows + away
        zeros = rng.random() < 0.2 and st.fingers == "below"
        sounding_barre = {s: 1 for b in c.barres for s in range(b.left, b.right + 1)} if rng.random() < 0.6 else {}
        for s in range(c.strings):
            text = ""
            if s in by_string and by_string[s].finger and rng.random() >= st.finger_gaps:
                text = str(by_string[s].finger)
                self.fingers[s] = 5 if text == "T" else int(text)
            elif s in sounding_barre and self.states[s] > 0:
                text = "1"
                self.fingers[s] = 1
            elif zeros and self.states[s] == 0:
                text = "0" if rng.random() < 0.6 else "o"
            if text:
                drift = rng.normal(0, 0.06) if self.hand_drawn else 0
                self._paint_digit(text, self.at(s + drift, row), st.finger_size * 0.9 * self.unit, "digit")
