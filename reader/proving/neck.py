"""Draw one diagram: grid, nut, marks, numbers, label; and where the corners of its grid came to lie."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Literal

import numpy as np

from reader.proving.chart import Bar, Chart, Dot, Side
from reader.proving.dice import Dice
from reader.proving.frame import Frame
from reader.proving.habits import Habit
from reader.proving.sheet import Layer, Trace, joined
from reader.proving.signs import Sign, label_words, number_words, signs_of
from reader.proving.tool import Anchor, Place, Points, Role, Tool, along, meet


@dataclass(frozen=True)
class Mark:
    """A stop or a finger: of a dot, of a bar or below a string; or a sign of the label or of a number.

    Parameters
    ----------
    layer : Layer
    of : Dot, Bar, int (a string), Side or "label"
    trace : Trace
        Of a sign, the ink of its whole line.
    sign : Sign or None
    """

    layer: Layer
    of: Dot | Bar | int | Side | Literal["label"]
    trace: Trace
    sign: Sign | None = None


@dataclass
class Neck:
    """One diagram being drawn."""

    tool: Tool
    chart: Chart
    habit: Habit
    frame: Frame
    dice: Dice
    unrest: float = 0.0
    press: Tool | None = None  # prints the grid when only the marks are drawn by the tool

    def __post_init__(self) -> None:
        self.marks: list[Mark] = []
        self.small = min(self.frame.gap, self.frame.row)
        self.radius = self.habit.dot_size * min(self.frame.gap, self.frame.row * 1.1)

    def draw(self, borrowed: list[Points] | None = None) -> list[Place]:
        """Draw everything; returns the four corners. `borrowed` are fret lines that the paper already has."""
        corners = self.grid(borrowed)
        if "inlays" in self.chart.extras:
            self._inlays()
        bars_first = self.dice.chance(0.5)
        # a pale bar lies under its dots: what it covered nobody could read
        under = [bar for bar in self.chart.bars if bars_first or bar.form == "pale"]
        for bar in under:
            self._bar(bar)
        for dot in self.chart.dots:
            self._dot(dot)
        for bar in self.chart.bars:
            if bar not in under:
                self._bar(bar)
        self._marks()
        self._numbers()
        self._label()
        return corners

    @contextmanager
    def _marking(self, of: Dot | Bar | int, *layers: Layer, out: tuple[Layer, ...] = ()) -> Iterator[None]:
        """Remember the ink of the block as a mark of these layers; it is missing in those of `out`, too."""
        with self.tool.sheet.apart(*layers, *out) as patches:
            yield
        if patches:
            trace = joined(patches)
            self.marks += [Mark(layer, of, trace) for layer in layers]

    def _letter(
        self, of: Side | Literal["label"], at: Place, cap: float, anchor: Anchor = "c", turn: float = 0.0
    ) -> None:
        """Write the label or a number, and remember its signs."""
        text = self.chart.label or "" if of == "label" else of.text
        with self.tool.sheet.apart("signs", meant=True) as patches:
            self.tool.write(text, at, cap, anchor, "label" if of == "label" else "number", turn)
        if patches:
            words = label_words(text) if of == "label" else number_words(text)
            trace = joined(patches)
            signs = signs_of(trace, text, words, lambda part: self.tool.width(part, cap), at, turn)
            self.marks += [Mark("signs", of, trace, sign) for sign in signs]

    # -- the lattice
    def _slip(self, scale: float) -> float:
        return (
            self.dice.bell(self.habit.overshoot, 0.05 * self.unrest) * scale if self.unrest and not self.press else 0.0
        )

    def _strings(self) -> list[Points]:
        f, h, n = self.frame, self.habit, self.chart.strings
        out = []
        tool = self.press or self.tool
        run = h.run_on * f.row if not self.chart.open_end else 0.0
        for k in range(n):
            outer = k in (0, n - 1)
            a, b = np.asarray(f.at(k, 0)), np.asarray(f.at(k, self.chart.spaces))
            way = (b - a) / np.hypot(*(b - a))
            start = a - way * self._slip(f.gap)
            end = b + way * (run * self.dice.between(0.7, 1.2) + self._slip(f.gap))
            if not outer and h.inner_stop:
                start, end = a + way * h.inner_stop * f.gap, b - way * h.inner_stop * f.gap
            weight = h.outer if outer else h.inner
            p, q = (float(start[0]), float(start[1])), (float(end[0]), float(end[1]))
            if self.chart.tops and self.chart.tops[k] == "wavy":
                out.append(self._wavy(p, q, weight))
            else:
                out.append(tool.line(p, q, weight))
        return out

    def _wavy(self, p: Place, q: Place, weight: float) -> Points:
        t = np.linspace(0, 1, 60)[:, None]
        a, b = np.asarray(p), np.asarray(q)
        side = np.array([-(b - a)[1], (b - a)[0]]) / np.hypot(*(b - a))
        return self.tool.path(a + (b - a) * t + 0.13 * self.frame.gap * np.sin(t * np.pi * 12) * side, weight)

    def _frets(self) -> list[Points]:
        f, h, n = self.frame, self.habit, self.chart.strings
        last = self.chart.spaces - (1 if self.chart.open_end else 0)
        out = []
        for j in range(last + 1):
            a, b = np.asarray(f.at(0, j)), np.asarray(f.at(n - 1, j))
            way = (b - a) / np.hypot(*(b - a))
            p, q = a - way * self._slip(f.gap), b + way * self._slip(f.gap)
            if 0 < j < self.chart.spaces and h.inner_stop:
                p, q = a + way * h.inner_stop * f.gap, b - way * h.inner_stop * f.gap
            weight = h.fret_weight * (h.outer if j in (0, self.chart.spaces) else h.inner)
            ends = ((float(p[0]), float(p[1])), (float(q[0]), float(q[1])))
            out.append(self._nut(ends, weight) if j == 0 else (self.press or self.tool).line(*ends, weight))
        return out

    def _nut(self, ends: tuple[Place, Place], weight: float) -> Points:
        kind, tool = self.chart.nut, self.press or self.tool
        if kind == "double":
            up = np.asarray(self.frame.at(0, 0)) - np.asarray(self.frame.at(0, 1))
            up = up / np.hypot(*up) * self.frame.gap * self.dice.between(0.1, 0.2)
            tool.line((ends[0][0] + up[0], ends[0][1] + up[1]), (ends[1][0] + up[0], ends[1][1] + up[1]), weight)
            return tool.line(*ends, weight)
        if kind == "thick":
            a, b = (np.asarray(e) for e in ends)
            way = (b - a) / np.hypot(*(b - a))
            side = np.array([-way[1], way[0]]) * max(0.07 * self.frame.gap, 1.2 * self.tool.sheet.fine)
            tool.fill(np.array([a + side, b + side, b - side, a - side]), "grid")
            return np.array([a, b])
        return tool.line(*ends, weight * (2.2 if kind == "heavy" else 1.0))

    def grid(self, borrowed: list[Points] | None = None) -> list[Place]:
        """Draw strings and frets; returns the corners of the drawn grid."""
        if self.unrest and not self.press and "ghost" in self.chart.extras:
            self._ghost()
        strings = self._strings()
        frets = borrowed or self._frets()
        f, n, m = self.frame, self.chart.strings, self.chart.spaces
        top = [meet(s, frets[0], f.at(k, 0)) for k, s in ((0, strings[0]), (n - 1, strings[-1]))]
        if self.chart.open_end:
            far = [(float(s[-1][0]), float(s[-1][1])) for s in (strings[-1], strings[0])]
        else:
            far = [meet(s, frets[m], f.at(k, m)) for k, s in ((n - 1, strings[-1]), (0, strings[0]))]
        return [top[0], top[1], far[0], far[1]]

    def _ghost(self) -> None:
        f, off = self.frame, self.dice.between(-0.35, 0.35)
        for k in range(self.chart.strings - 1):
            self.tool.line(f.at(k + off, 0.1), f.at(k + off, self.chart.spaces - 0.2), 0.8, "pale")

    def _inlays(self) -> None:
        middle = (self.chart.strings - 1) / 2
        u = middle if middle % 1 else middle - 0.5
        for row in range(self.chart.spaces):
            if row + self.chart.first_fret in (3, 5, 7):
                self.tool.blob(self.frame.at(u, row + 0.5), 0.14 * self.small, "solid", "pale")

    # -- stops
    def _spot(self, dot: Dot) -> Place:
        d, unrest = self.dice, self.unrest
        u = dot.string + d.bell(0, 0.06 * unrest)
        return self.frame.at(u, dot.row + self.habit.dot_low + d.bell(0, 0.05 * unrest))

    def _dot(self, dot: Dot) -> None:
        spot = self._spot(dot)
        text = dot.text or ("" if dot.finger is None else str(dot.finger))
        if dot.bare and text:
            cap = min(0.62 * self.frame.row, 0.95 * self.frame.gap) * self.dice.between(0.9, 1.1)
            # an upright stroke would vanish in the string, so a bare 1 is written as a slash
            turn = self.dice.weigh({1: 0.75, -1: 0.25}) * self.dice.between(0.35, 0.8) if text == "1" else 0.0
            with self._marking(dot, "stops", "signs"):
                self.tool.write(text, spot, cap, "c", "number", turn if self.unrest else 0.0)
            return
        radius = self.radius * (1.15 if self.habit.fingers == "in" else 1.0)
        with self._marking(dot, "stops"):
            self.tool.blob(spot, radius, self.habit.look)
        if "crossed" in self.chart.extras and dot == self.chart.dots[0]:
            self._struck_out(dot)
        if "optional" in self.chart.extras and dot == self.chart.dots[-1]:
            for sign, side in (("(", -1), (")", 1)):
                self.tool.write(
                    sign, (spot[0] + side * (radius + 0.12 * self.small), spot[1]), 2.2 * radius, "c", "mark"
                )
        if text:
            with self._marking(dot, "signs", out=("stops",) if self.habit.fingers == "in" else ()):
                self._finger(text, spot, radius)

    def _finger(self, text: str, spot: Place, radius: float) -> None:
        where = self.habit.fingers
        if where == "in":
            slash = self.dice.between(0.2, 0.5) if text == "1" and self.unrest else 0.0
            role: Role = "number" if self.habit.look == "ring" else "text"
            self.tool.write(text, spot, radius * 1.15, "c", role, slash)
        elif where == "beneath":
            self.tool.write(text, (spot[0], spot[1] + radius + 0.24 * self.small), 0.34 * self.small, "c", "number")
        else:
            cap = 0.4 * self.small
            self.tool.write(
                text, (spot[0] + radius + 0.08 * self.small, spot[1] - 0.1 * self.small), cap, "l", "number"
            )

    def _struck_out(self, dot: Dot) -> None:
        rows = [r for r in range(self.chart.spaces) if r != dot.row and abs(r - dot.row) < 3]
        rows = [r for r in rows if not any(d.string == dot.string and d.row == r for d in self.chart.dots)]
        rows = [r for r in rows if not any(b.row == r for b in self.chart.bars)]
        if rows:
            spot = self.frame.at(dot.string, self.dice.pick(rows) + 0.5)
            self.tool.blob(spot, self.radius * 0.8, "ring")
            self.tool.cross(spot, self.radius * 1.9, "mark")
            self.tool.cross(spot, self.radius * 1.6, "mark")

    def _capsule(self, bar: Bar, half: float, past: float) -> Points:
        """Outline of a rounded bar, `half` rows thick to each side, `past` gaps beyond its strings."""
        v = bar.row + self.habit.dot_low
        a = np.linspace(np.pi / 2, 3 * np.pi / 2, 9)
        ratio = half * self.frame.row / self.frame.gap
        left = [(bar.left - past + ratio * np.cos(t), v - half * np.sin(t)) for t in a]
        right = [(bar.right + past - ratio * np.cos(t), v + half * np.sin(t)) for t in a]
        return np.array([self.frame.at(u, w) for u, w in left + right])

    def _bar(self, bar: Bar) -> None:
        with self._marking(bar, "stops"):
            self._bar_in(bar)

    def _bar_in(self, bar: Bar) -> None:
        f, d, v = self.frame, self.dice, bar.row + self.habit.dot_low
        thick = self.radius / f.row
        if bar.form in ("thick", "band"):
            share = d.between(0.4, 0.7) if bar.form == "thick" else d.between(0.8, 1.0)
            past = d.between(0.05, 0.3) if bar.form == "thick" else 0.02
            self.tool.fill(self._capsule(bar, thick * share, past), "bar")
        elif bar.form == "pale":
            self.tool.fill(self._capsule(bar, thick * 1.1, 0.1), "pale")
        elif bar.form in ("arc", "longarc"):
            self._arc(bar, v)
        elif bar.form == "double":
            for off in (-0.1, 0.1):
                self.tool.line(f.at(bar.left - 0.15, v + off), f.at(bar.right + 0.15, v + off), 1.0, "bar")
        elif bar.form == "hairline":
            self.tool.line(f.at(bar.left, v), f.at(bar.right, v), 0.9, "bar")
        elif bar.form == "oval":
            u = np.linspace(0.2, 2 * np.pi + 0.1, 50)
            middle, half = (bar.left + bar.right) / 2, (bar.right - bar.left) / 2 + 0.42
            pts = [f.at(middle + half * np.cos(t), v + min(0.46, 1.7 * thick) * np.sin(t)) for t in u]
            self.tool.path(np.array(pts), 1.0, "bar")
        else:
            self._shade(bar)

    def _arc(self, bar: Bar, v: float) -> None:
        rise = self.dice.between(0.25, 0.5) * (1.3 if bar.form == "longarc" else 1.0)
        base = v - self.radius / self.frame.row * self.dice.between(0.7, 1.3)
        t = np.linspace(0, 1, 24)
        u = bar.left - 0.12 + (bar.right - bar.left + 0.24) * t
        pts = [self.frame.at(a, base - rise * 4 * s * (1 - s)) for a, s in zip(u, t, strict=True)]
        self.tool.path(np.array(pts), 1.0, "bar")

    def _shade(self, bar: Bar) -> None:
        """A row filled with hatching, with stubs that stick out on both sides."""
        f = self.frame
        steps = int(self.dice.between(11, 18) * (bar.right - bar.left + 0.2))
        u = np.linspace(bar.left - 0.08, bar.right + 0.08, steps)
        pts = [f.at(a, bar.row + (0.14 if k % 2 else 0.86)) for k, a in enumerate(u)]
        self.tool.path(np.array(pts), 1.1, "bar")
        for a, b in ((bar.left - 0.25, bar.left), (bar.right, bar.right + 0.25)):
            self.tool.line(f.at(a, bar.row + 0.5), f.at(b, bar.row + 0.5), 1.4, "bar")

    # -- around the grid
    def _marks(self) -> None:
        f, size = self.frame, self.habit.top_size * self.frame.gap
        lift = size + (0.16 + (0.1 if self.chart.nut in ("double", "thick") else 0.0)) * f.gap
        for k, mark in enumerate(self.chart.tops):
            if mark in ("", "wavy"):
                continue
            a, b = np.asarray(f.at(k, 0)), np.asarray(f.at(k, 1))
            up = (a - b) / np.hypot(*(a - b))
            spot = a + up * lift * self.dice.between(0.92, 1.12)
            self._mark(mark, (float(spot[0]), float(spot[1])), size, k)
        for k, text in enumerate(self.chart.under):
            if text:
                a, b = np.asarray(f.at(k, self.chart.spaces)), np.asarray(f.at(k, self.chart.spaces - 1))
                down = (a - b) / np.hypot(*(a - b))
                run = self.habit.run_on * f.row * 1.2 if not self.chart.open_end else 0.0
                spot = a + down * (0.45 * f.gap + run)
                with self._marking(k, "signs"):
                    self.tool.write(text, (float(spot[0]), float(spot[1])), 0.5 * f.gap, "c", "number")

    def _mark(self, mark: str, spot: Place, size: float, string: int) -> None:
        if mark in ("o", "O"):
            self.tool.ring(spot, size, size * (1.2 if mark == "O" else 1.0), "mark")
        elif mark == "0":
            self.tool.write("0", spot, size * 2, "c", "mark")
        elif mark == "nutdot":
            self.tool.blob(self.frame.at(string, 0), size * 0.7, "solid", "dot")
        elif mark == "cell":
            self.tool.cross(self.frame.at(string, 0.35), min(size, 0.26 * self.frame.row), "mark")
        elif mark == "boxed":
            box = size * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) + spot
            self.tool.fill(box, "mark")
            self.tool.cross(spot, size * 0.7, "text")
        else:
            self.tool.cross(spot, size * (1.15 if mark == "X" else 0.9), "mark")
            if mark == "(x)":
                for sign, side in (("(", -1), (")", 1)):
                    self.tool.write(sign, (spot[0] + side * size * 1.5, spot[1]), size * 2.6, "c", "mark")

    def _numbers(self) -> None:
        f, n = self.frame, self.chart.strings
        cap = self.side_cap()
        left = self.habit.number_side == "left"
        edge = 0 if left else n - 1
        for side in self.chart.sides:
            blocked = any(d.row == side.row and d.string == edge for d in self.chart.dots)
            blocked = blocked or any(b.row == side.row for b in self.chart.bars)
            away = (0.62 if blocked else 0.4) * f.gap + (self.radius if blocked else 0.0)
            if not left and blocked and self.habit.fingers == "beside":
                away += 0.5 * f.gap
            a, b = np.asarray(f.at(edge, side.row + 0.5)), np.asarray(f.at(edge + (1 if left else -1), side.row + 0.5))
            out = (a - b) / np.hypot(*(a - b))
            if f.sideways or self.dice.chance(0.02):
                turn = 0.0 if f.sideways else -np.pi / 2
                spot = a + out * (away + cap / 2)
                self._letter(side, (float(spot[0]), float(spot[1])), cap, turn=turn)
            else:
                spot = a + out * away
                self._letter(side, (float(spot[0]), float(spot[1])), cap, "r" if left else "l")

    def side_cap(self) -> float:
        """Height of the numbers beside the grid in pixels; endless where there are none."""
        f = self.frame
        return min(self.habit.number_cap * f.row, 0.95 * f.gap) if self.chart.sides else 1e9

    def digit_cap(self) -> float:
        """Height of the smallest finger numbers in pixels; endless where there are none."""
        f, caps = self.frame, [1e9]
        if any(d.finger or d.text for d in self.chart.dots):
            caps.append(min(0.62 * f.row, 0.95 * f.gap) if self.habit.fingers in ("on", "frets") else self.radius)
        if any(self.chart.under):
            caps.append(0.5 * f.gap)
        return min(caps)

    def label_cap(self) -> float:
        """Height of the label's capitals in pixels."""
        wide = self.frame.gap * (self.chart.strings - 1)
        return float(np.clip(self.habit.label_cap * self.frame.gap, 0.16 * wide, 0.36 * wide))

    def _label(self) -> None:
        if not self.chart.label:
            return
        f, h, d = self.frame, self.habit, self.dice
        cap = self.label_cap()
        ends = [f.at(u, v) for u in (0, self.chart.strings - 1) for v in (0, self.chart.spaces)]
        x0, x1 = min(p[0] for p in ends), max(p[0] for p in ends)
        y0, y1 = min(p[1] for p in ends), max(p[1] for p in ends)
        room = (2 * h.top_size + 0.3) * f.gap if any(self.chart.tops) else 0.15 * f.gap
        pad = d.between(-0.02 if self.unrest else 0.06, 0.4) * f.gap
        middle = along(np.array([[x0, 0], [x1, 0]]), 0.5)[0] + d.bell(0, 0.12 * f.gap * self.unrest)
        numbered = f.sideways and self.chart.sides and h.number_side == "right"
        lift = (0.9 * f.gap if numbered else 0.15 * f.gap) if f.sideways else room
        if h.label_at == "below" and not (f.sideways and self.chart.sides):
            under = 1.0 * f.gap if any(self.chart.under) else 0.0
            run = h.run_on * f.row * 1.3
            self._letter("label", (middle, y1 + under + run + pad + 0.2 * f.gap + cap / 2), cap)
        elif h.label_at == "left" and not f.sideways and not (self.chart.sides and h.number_side == "left"):
            self._letter("label", (x0 - 0.6 * f.gap, y0 + d.between(0, 0.8) * (y1 - y0)), cap, "r")
        else:
            self._letter("label", (middle, y0 - lift - pad - cap / 2), cap)
