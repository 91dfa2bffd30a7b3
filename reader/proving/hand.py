"""A writing hand as a tool: lines that bend and overshoot, scribbled dots, letters that never come out the same."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from reader.proving.dice import Dice
from reader.proving.fonts import FontBox, draw_text, hershey_glyph, text_width
from reader.proving.letters import glyph, variants
from reader.proving.nib import Pen, draw_strokes, fill_shape, textured
from reader.proving.sheet import Sheet
from reader.proving.tool import Anchor, Place, Points, Role

RAISED = 0.66  # size of raised signs
_SPACE = 4.5  # width of a word space on the ten-unit lattice


@dataclass(frozen=True, slots=True)
class Writer:
    """How one person draws, the same on every page.

    Parameters
    ----------
    name : str
    lettering : str
        ``own``, ``hershey:NAME`` or the path of a handwriting face.
    shapes : dict
        For each sign with several shapes, the one this writer uses.
    slant : float
        Tangent of the lean of letters to the right.
    aspect : float
        Width of letters over the usual.
    gap : float
        Space between letters in lattice units.
    unrest : float
        How far things stray from where they should be, 0 (calm) to 1.
    bend : float
        Bow of long lines as a share of their length.
    close : float
        How round rings are closed: radians drawn beyond a full turn (negative leaves a gap).
    ruler : bool
        Lines are drawn along a ruler.
    """

    name: str
    lettering: str
    shapes: dict[str, str]
    slant: float
    aspect: float
    gap: float
    unrest: float
    bend: float
    close: float
    ruler: bool


def make_writer(name: str, dice: Dice, fonts: FontBox) -> Writer:
    """Invent a writer."""
    sources = {"own": 0.55}
    if fonts.hershey:
        sources["hershey"] = 0.08
    if fonts.hand:
        sources["face"] = 0.37
    source = dice.weigh(sources)
    lettering = "own"
    if source == "hershey":
        lettering = "hershey:" + dice.pick(fonts.hershey)
    elif source == "face":
        lettering = dice.pick(fonts.hand)
    signs = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
    shapes = {s: dice.pick(variants(s)) for s in signs if len(variants(s)) > 1}
    return Writer(
        name,
        lettering,
        shapes,
        slant=dice.bell(0.08, 0.12),
        aspect=dice.between(0.8, 1.2),
        gap=dice.between(1.4, 2.8),
        unrest=dice.between(0.15, 1.0),
        bend=dice.between(0.002, 0.022),
        close=dice.between(-0.25, 0.9),
        ruler=dice.chance(0.15),
    )


def _bump(points: Points, amount: float, dice: Dice) -> Points:
    """Shift points by a smooth random curve of about `amount` pixels."""
    t = np.linspace(0, 1, len(points))[:, None]
    waves = dice.np.uniform(0.6, 3.2, (1, 3))
    shift = [
        (np.sin(2 * np.pi * (t * waves + dice.np.uniform(0, 1, (1, 3)))) * [1, 0.5, 0.35]).sum(axis=1) for _ in "xy"
    ]
    return points + amount * np.column_stack(shift)


def _dense(points: Points, count: int) -> Points:
    lengths = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.linspace(0, lengths[-1], count)
    return np.column_stack([np.interp(at, lengths, points[:, k]) for k in (0, 1)])


@dataclass
class Hand:
    """A writer at work on one sheet.

    Parameters
    ----------
    sheet : Sheet
    writer : Writer
    pens : dict of role to Pen
        The pen for ``grid`` serves every role that is missing.
    dice : Dice
    """

    sheet: Sheet
    writer: Writer
    pens: dict[Role, Pen]
    dice: Dice
    scale: float = 1.0
    sway: float = 1e9

    def thin(self, width: float) -> None:
        """Let grid lines be at most so wide."""
        self.scale = min(1.0, width / self.pens["grid"].width)

    def calm(self, sway: float) -> None:
        """Let lines stray at most so far from the straight."""
        self.sway = sway

    def pen(self, role: Role) -> Pen:
        """The pen used for a role."""
        return self.pens.get(role, self.pens["grid"]).wide(self.scale)

    def line(self, p: Place, q: Place, weight: float = 1.0, role: Role = "grid") -> Points:
        """Draw a line in one pull and return its path."""
        w, d = self.writer, self.dice
        size = float(np.hypot(q[0] - p[0], q[1] - p[1]))
        pts = np.linspace(p, q, int(np.clip(size / 6, 4, 60)))
        if not w.ruler and size > 0:
            side = np.array([-(q[1] - p[1]), q[0] - p[0]]) / size
            t = np.linspace(0, 1, len(pts))
            most = self.sway
            bow = np.clip(d.bell(0, w.bend) * size, -most, most) * 4 * t * (1 - t)
            tail = np.clip(d.bell(0, 0.5 * w.bend) * size, -most, most) * np.clip((t - 0.85) / 0.15, 0, 1) ** 2
            pts = pts + (bow + tail)[:, None] * side
            pts = _bump(pts, min(0.0022 * size, 1.4 * self.sheet.fine, most) * w.unrest, d)
        draw_strokes(self.sheet, [pts], self.pen(role).wide(weight), d)
        return np.asarray(pts, float)

    def path(self, points: Points, weight: float = 1.0, role: Role = "grid") -> Points:
        """Draw a curve, a little unsteadily."""
        size = float(np.ptp(points, axis=0).max())
        pts = _bump(
            _dense(points, int(np.clip(size / 4, 3 * len(points), 400))), 0.015 * size * self.writer.unrest, self.dice
        )
        draw_strokes(self.sheet, [pts], self.pen(role).wide(weight), self.dice)
        return pts

    def fill(self, outline: Points, role: Role = "bar") -> None:
        """Fill a shape whose edge trembles."""
        size = float(np.ptp(outline, axis=0).min())
        closed = _dense(np.vstack([outline, outline[:1]]), 40)
        fill_shape(self.sheet, _bump(closed, 0.06 * size * self.writer.unrest, self.dice), self.pen(role))

    def _round(self, centre: Place, rx: float, ry: float, turns: float) -> Points:
        d, w = self.dice, self.writer
        start = d.between(-2.4, -0.8)
        a = start + np.linspace(0, turns * 2 * np.pi, int(20 * max(turns, 1)) + 6)
        spread = 1 + 0.05 * w.unrest * np.sin(a * 2 + d.between(0, 6)) + np.linspace(0, d.bell(0, 0.08), len(a))
        lean = d.bell(0.1, 0.15)
        x, y = rx * spread * np.cos(a), ry * spread * np.sin(a)
        return np.column_stack([centre[0] + x - lean * y, centre[1] + y])

    def ring(self, centre: Place, rx: float, ry: float, role: Role = "mark", weight: float = 1.0) -> None:
        """Draw a circle that may not quite close."""
        turns = 1 + (self.writer.close + self.dice.bell(0, 0.15)) / (2 * np.pi)
        pts = self._round(centre, rx, ry, max(turns, 0.93))
        draw_strokes(self.sheet, [pts], self.pen(role).wide(weight), self.dice)

    def blob(self, centre: Place, radius: float, look: str, role: Role = "dot") -> None:
        """Draw a dot: ``solid``, ``scribble``, ``ring``, ``loops``, ``smear`` or ``square``."""
        d, pen = self.dice, self.pen(role)
        stray = radius * 0.18 * self.writer.unrest
        c = (centre[0] + d.bell(0, stray), centre[1] + d.bell(0, stray))
        r = radius * d.between(0.85, 1.15)
        if look == "ring":
            return self.ring(c, r, r * d.between(0.85, 1.1), role)
        if look in ("scribble", "loops"):
            turns = d.between(2.5, 4.5)
            a = np.linspace(0, turns * 2 * np.pi, int(turns * 16))
            shrink = np.linspace(1, 0.15, len(a)) if look == "scribble" else 1 + 0.18 * np.sin(a * 0.7)
            wide = r * (1 + 0.1 * np.sin(a * 1.3 + d.between(0, 6)))
            pts = np.column_stack([c[0] + wide * shrink * np.cos(a), c[1] + wide * shrink * np.sin(a)])
            return draw_strokes(self.sheet, [pts], pen.wide(1.25), d)
        if look == "smear":
            y = np.linspace(-0.8, 0.8, 7) * r
            zig = np.sqrt(np.clip(1 - (y / r) ** 2, 0, 1)) * r * np.where(np.arange(7) % 2, 1, -1)
            return draw_strokes(self.sheet, [np.column_stack([c[0] + zig, c[1] + y])], pen.wide(1.4), d)
        outline = self._round(c, r, r * d.between(0.82, 1.1), 1.0)
        if look == "square":
            corner = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * 0.85 * r + c
            outline = _bump(_dense(np.vstack([corner, corner[:1]]), 24), 0.06 * r, d)
        fill_shape(self.sheet, outline, pen)
        return draw_strokes(self.sheet, [outline], pen.wide(0.7), d)

    def cross(self, centre: Place, radius: float, role: Role = "mark") -> None:
        """Draw an x of two pulls."""
        (x, y), d = centre, self.dice
        j = [d.bell(0, 0.14 * radius) for _ in range(8)]
        a = np.array([[x - radius + j[0], y - radius + j[1]], [x + radius + j[2], y + radius + j[3]]])
        b = np.array([[x + radius + j[4], y - radius + j[5]], [x - radius + j[6], y + radius + j[7]]])
        strokes = [_bump(_dense(s, 8), 0.07 * radius, d) for s in (a, b)]
        draw_strokes(self.sheet, strokes, self.pen(role), d)

    def width(self, text: str, cap: float) -> float:
        """Width of a line of text."""
        low, _, high = text.partition("^")
        return self._run_width(low, cap) + self._run_width(high, cap * RAISED)

    def write(
        self, text: str, at: Place, cap: float, anchor: Anchor = "c", role: Role = "label", turn: float = 0.0
    ) -> None:
        """Write a line of text."""
        low, _, high = text.partition("^")
        x = -self.width(text, cap) * {"l": 0.0, "c": 0.5, "r": 1.0}[anchor]
        turn += self.dice.bell(0, 0.02 * self.writer.unrest)
        for part, size, up in ((low, cap, 0.0), (high, cap * RAISED, 0.55 * cap)):
            if part:
                self._run(part, at, (x, cap / 2 - up), size, role, turn)
            x += self._run_width(part, size)

    # -- lettering, by strokes or from a face
    def _shape(self, sign: str) -> tuple[float, tuple[tuple[Points, bool], ...]] | None:
        if self.writer.lettering.startswith("hershey:"):
            found = hershey_glyph(self.writer.lettering.partition(":")[2], sign)
            if found is not None:
                return found
        keys = variants(sign)
        return glyph(self.writer.shapes.get(sign, keys[0])) if keys else None

    def _run_width(self, text: str, cap: float) -> float:
        w = self.writer
        if "/" in w.lettering:
            return text_width(w.lettering, text, cap) * w.aspect
        shapes = [self._shape(s) for s in text]
        units = [_SPACE if s is None else s[0] * w.aspect + w.gap for s in shapes]
        return float(sum(units)) * cap / 10

    def _run(self, text: str, at: Place, shift: Place, cap: float, role: Role, turn: float) -> None:
        pen = self.pen(role)
        pen = pen.wide(min(1.0, 0.16 * cap / pen.width))
        if "/" in self.writer.lettering:
            return self._set_face(text, at, shift, cap, pen, turn)
        w, d = self.writer, self.dice
        c, s = np.cos(turn), np.sin(turn)
        spin = np.array([[c, -s], [s, c]])
        strokes: list[Points] = []
        x = shift[0]
        for sign in text:
            shape = self._shape(sign)
            if shape is None:
                x += _SPACE * cap / 10
                continue
            size = cap / 10 * (1 + d.bell(0, 0.05 * w.unrest))
            drop = d.bell(0, 0.05 * w.unrest) * cap
            tilt = w.slant + d.bell(0, 0.04 * w.unrest)
            for points, straight in shape[1]:
                pts = _dense(points, 10) if straight and len(points) > 1 else points
                pts = np.column_stack(
                    [(pts[:, 0] * w.aspect + tilt * pts[:, 1]) * size + x, shift[1] + drop - pts[:, 1] * size]
                )
                strokes.append(_bump(pts, 0.03 * cap * w.unrest, d) @ spin.T + at)
            x += (shape[0] * w.aspect + w.gap * d.between(0.8, 1.2)) * cap / 10
        if pen.kind in ("felt", "marker", "highlighter") and cap > 25:
            for stroke in strokes:
                draw_strokes(self.sheet, [stroke], pen, d)
            return None
        return draw_strokes(self.sheet, strokes, pen, d)

    def _set_face(self, text: str, at: Place, shift: Place, cap: float, pen: Pen, turn: float) -> None:
        """Put one run of text from a handwriting face, warped a little and inked with the pen."""
        d, w = self.dice, self.writer
        jitter = d.np.normal(0, 0.03 * w.unrest, (len(text), 2))
        cover, _ = draw_text(w.lettering, text, cap, jitter)
        if pen.width > 0.16 * cap:
            cover = cv2.dilate(cover, np.ones((2, 2), np.uint8))
        high, wide = cover.shape
        c, s = np.cos(turn), np.sin(turn)
        shape = np.array([[c, -s], [s, c]]) @ np.array([[w.aspect, -0.5 * w.slant], [0, 1]])
        corners = np.array([[0, 0], [wide, 0], [0, high], [wide, high]]) - (cap, 2 * cap)
        placed = corners @ shape.T + np.array([[c, -s], [s, c]]) @ np.asarray(shift) + at
        low = np.floor(placed.min(axis=0)).astype(int)
        size = np.ceil(placed.max(axis=0) - low).astype(int) + 2
        moved = cv2.warpAffine(cover, np.column_stack([shape, placed[0] - low]), (int(size[0]), int(size[1])))
        tooth = self.sheet.tooth_at(int(low[0]), int(low[1]), moved.shape[0], moved.shape[1])
        self.sheet.lay(int(low[0]), int(low[1]), textured(moved, tooth, pen), pen.colour, pen.opaque, moved)
