"""Where a grid lies on the sheet, as uneven as the hand that draws it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reader.proving.chart import Chart
from reader.proving.dice import Dice
from reader.proving.tool import Place, Points


@dataclass(frozen=True)
class Frame:
    """Where a grid lies: `at` maps strings and frets to the sheet.

    Parameters
    ----------
    origin : (x, y)
        Nut end of the leftmost string.
    gap, row : float
        Distance of strings and of fret lines, pixels.
    turn : float
        Radians; a neck lying sideways has -pi/2, its nut at the left.
    tops, ends : (strings,) float
        Along the nut and along the last line, where each string crosses.
    lefts, rights : (spaces + 1,) float
        Down the leftmost and the rightmost string, where each fret line crosses.
    """

    origin: Place
    gap: float
    row: float
    turn: float
    tops: Points
    ends: Points
    lefts: Points
    rights: Points

    def place(self, x: float, y: float) -> Place:
        """Grid pixels (along the nut, down the neck) to sheet pixels."""
        c, s = float(np.cos(self.turn)), float(np.sin(self.turn))
        return self.origin[0] + c * x - s * y, self.origin[1] + s * x + c * y

    def at(self, u: float, v: float) -> Place:
        """String `u` (0 leftmost, parts allowed) and fret line `v` (0 nut) to sheet pixels."""
        top, end = _reach(self.tops, u), _reach(self.ends, u)
        left, right = _reach(self.lefts, v), _reach(self.rights, v)
        wide = float(self.tops[-1]) or 1.0
        high = float(self.lefts[-1]) or 1.0
        a, b = (end - top) / high, (right - left) / wide
        y = (left + b * top) / (1 - a * b)
        return self.place(top + a * y, y)

    @property
    def sideways(self) -> bool:
        """Whether the neck lies."""
        return bool(abs(np.sin(self.turn)) > 0.7)


def _reach(values: Points, at: float) -> float:
    """Interpolate, and run on evenly beyond both ends."""
    last = len(values) - 1
    k = min(max(int(np.floor(at)), 0), last - 1)
    return float(values[k] + (values[k + 1] - values[k]) * (at - k))


def make_frame(chart: Chart, origin: Place, gap: float, row: float, turn: float, unrest: float, dice: Dice) -> Frame:
    """A grid of a size, as uneven as the hand that draws it."""
    n, m = chart.strings, chart.spaces
    lean = dice.bell(0, 0.05 * unrest) * row * m
    uneven = dice.np.normal(0, 0.05 * unrest, (4, max(n, m + 1)))
    heights = np.cumsum(np.concatenate([[0.0], 1 + dice.np.normal(0, 0.1 * unrest, m).clip(-0.3, 0.3)]))
    narrow = 1 + dice.bell(0, 0.05 * unrest)
    tops = np.arange(n) * gap + uneven[0, :n] * gap
    ends = (np.arange(n) * narrow) * gap + uneven[1, :n] * gap + lean
    lefts = heights * row
    rights = heights * row * (1 + dice.bell(0, 0.03 * unrest)) + uneven[3, : m + 1] * row
    tops, lefts, rights = tops - tops[0], lefts - lefts[0], rights + dice.bell(0, 0.06 * unrest) * row
    return Frame(origin, gap, row, turn + dice.bell(0, 0.03 * unrest), tops, ends, lefts, rights)
