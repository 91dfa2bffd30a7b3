"""A printing program as a tool: every line exact."""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np

from reader.proving.dice import Dice
from reader.proving.fonts import draw_text, text_width
from reader.proving.nib import Pen, draw_strokes, fill_shape
from reader.proving.sheet import Colour, Sheet
from reader.proving.tool import Anchor, Place, Points, Role

RAISED = 0.68  # size of raised signs


@dataclass
class Printer:
    """Draws with exact lines and one or two typefaces.

    Parameters
    ----------
    sheet : Sheet
    face, bold : str
        Typefaces for figures and for labels.
    colours : dict of role to RGB
        Black where a role is missing.
    """

    sheet: Sheet
    face: str
    bold: str
    colours: dict[Role, Colour] = field(default_factory=dict)
    scale: float = 1.0

    def thin(self, width: float) -> None:
        """Let grid lines be at most so wide."""
        self.scale = min(1.0, width / self.sheet.fine)

    def _pen(self, role: Role, weight: float) -> Pen:
        colour = self.colours.get(role, (0, 0, 0))
        return Pen("print", colour, self.sheet.fine * self.scale * weight, dark=1.0, swing=0.0, opaque=True)

    def calm(self, sway: float) -> None:
        """Nothing to do: printed lines are straight."""

    def line(self, p: Place, q: Place, weight: float = 1.0, role: Role = "grid") -> Points:
        """Draw a line with square ends and return its two points."""
        a, b = np.asarray(p, float), np.asarray(q, float)
        way = (b - a) / (np.hypot(*(b - a)) or 1.0)
        pen = self._pen(role, weight)
        side = np.array([-way[1], way[0]]) * pen.width / 2
        cap = way * pen.width / 2
        fill_shape(self.sheet, np.array([a - cap + side, b + cap + side, b + cap - side, a - cap - side]), pen)
        return np.array([a, b])

    def path(self, points: Points, weight: float = 1.0, role: Role = "grid") -> Points:
        """Draw a curve."""
        draw_strokes(self.sheet, [points], self._pen(role, weight), Dice("print"))
        return points

    def fill(self, outline: Points, role: Role = "bar") -> None:
        """Fill a shape."""
        fill_shape(self.sheet, outline, self._pen(role, 1.0))

    def ring(self, centre: Place, rx: float, ry: float, role: Role = "mark", weight: float = 1.0) -> None:
        """Draw an oval."""
        a = np.linspace(0, 2 * np.pi, 40)
        self.path(np.column_stack([centre[0] + rx * np.cos(a), centre[1] + ry * np.sin(a)]), weight, role)

    def blob(self, centre: Place, radius: float, look: str, role: Role = "dot") -> None:
        """Draw a dot: ``solid``, ``ring``, ``square``, ``diamond`` or ``edged``."""
        x, y = centre
        a = np.linspace(0, 2 * np.pi, 48)
        disc = np.column_stack([x + radius * np.cos(a), y + radius * np.sin(a)])
        if look == "square":
            side = 0.85 * radius
            disc = np.array([[x - side, y - side], [x + side, y - side], [x + side, y + side], [x - side, y + side]])
        if look == "diamond":
            disc = np.array([[x, y - radius], [x + radius, y], [x, y + radius], [x - radius, y]]) * 1.0
        if look == "ring":
            fill_shape(self.sheet, disc, self._pen("pale", 1.0))
            self.ring(centre, radius * 0.92, radius * 0.92, role, 1.2)
            return
        self.fill(disc, role)
        if look == "edged":
            self.ring(centre, radius, radius, "grid", 0.9)

    def cross(self, centre: Place, radius: float, role: Role = "mark") -> None:
        """Draw an x of two lines."""
        (x, y), r = centre, radius * 0.8
        self.line((x - r, y - r), (x + r, y + r), 1.1, role)
        self.line((x - r, y + r), (x + r, y - r), 1.1, role)

    def width(self, text: str, cap: float) -> float:
        """Width of a line of text."""
        low, _, high = text.partition("^")
        return text_width(self.bold, low, cap) + (text_width(self.bold, high, cap * RAISED) if high else 0.0)

    def write(
        self, text: str, at: Place, cap: float, anchor: Anchor = "c", role: Role = "label", turn: float = 0.0
    ) -> None:
        """Write a line; only quarter turns look right."""
        face = self.bold if role == "label" else self.face
        low, _, high = text.partition("^")
        widths = [text_width(face, low, cap), text_width(face, high, cap * RAISED) if high else 0.0]
        x = -sum(widths) * {"l": 0.0, "c": 0.5, "r": 1.0}[anchor]
        for part, wide, size, up in ((low, widths[0], cap, 0.0), (high, widths[1], cap * RAISED, 0.55 * cap)):
            if part:
                self._set(face, part, at, (x, cap / 2 - up), size, role, turn)
            x += wide

    def _set(self, face: str, text: str, at: Place, shift: Place, cap: float, role: Role, turn: float) -> None:
        """Put one run of text with its base line starting at `shift` from `at`, turned about `at`."""
        cover, _ = draw_text(face, text, cap, fold=3 if cap < 30 else 1)
        high, wide = cover.shape
        reach = int(np.hypot(high, wide) + abs(shift[0]) + abs(shift[1])) + 2
        x, y = int(np.floor(at[0])), int(np.floor(at[1]))
        if turn == 0.0:
            left, up = at[0] + shift[0] - cap, at[1] + shift[1] - 2 * cap
            move = np.array([[1, 0, left - np.floor(left)], [0, 1, up - np.floor(up)]])
            moved = cv2.warpAffine(cover, move, (wide + 1, high + 1))
            self.sheet.lay(int(np.floor(left)), int(np.floor(up)), moved, self.colours.get(role, (0, 0, 0)), True)
            return
        c, s = np.cos(turn), np.sin(turn)
        spin = np.array([[c, -s], [s, c]])
        start = spin @ np.array([shift[0] - cap, shift[1] - 2 * cap]) + reach + np.array([at[0] - x, at[1] - y])
        moved = cv2.warpAffine(cover, np.column_stack([spin, start]), (2 * reach, 2 * reach))
        self.sheet.lay(x - reach, y - reach, moved, self.colours.get(role, (0, 0, 0)), True)
