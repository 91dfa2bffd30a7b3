"""A page while it is being drawn: the sheet, and everything on it that a reader should find."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from reader.proving.artist import Artist
from reader.proving.chart import Chart
from reader.proving.dice import Dice
from reader.proving.frame import make_frame
from reader.proving.habits import Habit
from reader.proving.neck import Mark, Neck
from reader.proving.sheet import Sheet
from reader.proving.tool import Place, Points, Tool

Box = tuple[float, float, float, float]  # left, upper, right, lower edge

_THICKEST = 0.14  # of the gap: with thicker lines nobody could read a small grid


@dataclass(frozen=True)
class Note:
    """One number of a tablature: line 1 is the uppermost, fret None an x."""

    line: int
    fret: int | None


@dataclass(frozen=True)
class Event:
    """Notes struck together; `at` is their middle on the sheet."""

    at: Place
    notes: tuple[Note, ...]


@dataclass(frozen=True)
class System:
    """One tablature system in sheet pixels.

    Parameters
    ----------
    corners : list of points
    lines : int
    events : tuple of Event
    bars : tuple of points
        Middles of the bar lines.
    cap : float
        Height of numbers.
    hard : bool
    numbers : tuple of tuple of Mark
        For each number its signs.
    paths : tuple of (N, 2) arrays
        Where the lines went, uppermost first.
    """

    corners: list[Place]
    lines: int
    events: tuple[Event, ...]
    bars: tuple[Place, ...]
    cap: float
    hard: bool = False
    numbers: tuple[tuple[Mark, ...], ...] = ()
    paths: tuple[Points, ...] = ()


@dataclass(frozen=True)
class Drawn:
    """A diagram on the sheet: its grid's corners, the box of all its ink, heights of its lettering, its marks."""

    chart: Chart
    corners: list[Place]
    ink: Box
    label_cap: float
    digit_cap: float
    side_cap: float
    marks: tuple[Mark, ...] = ()


@dataclass
class Draft:
    """What was drawn so far."""

    sheet: Sheet
    writer: str = ""
    charts: list[Drawn] = field(default_factory=list)
    systems: list[System] = field(default_factory=list)
    ignore: list[list[Place]] = field(default_factory=list)
    smallest: float = 1e9  # smallest gap of strings or lines, pixels: what blur must spare

    def add(self, neck: Neck, corners: list[Place], boxes: list[Box]) -> None:
        """Remember a diagram; an empty grid is something to leave alone."""
        chart = neck.chart
        self.smallest = min(self.smallest, float(np.hypot(*np.subtract(corners[1], corners[0]))) / (chart.strings - 1))
        if chart.empty:
            self.ignore.append(corners)
        else:
            every = np.array(boxes)
            ink = (*every[:, :2].min(axis=0).tolist(), *every[:, 2:].max(axis=0).tolist())
            caps = neck.label_cap(), neck.digit_cap(), neck.side_cap()
            self.charts.append(Drawn(chart, corners, ink, *caps, tuple(neck.marks)))


def _margins(chart: Chart, habit: Habit) -> tuple[float, float, float, float]:
    """Room left, above, right and below an upright grid, in gaps."""
    wide = chart.strings - 1
    cap = float(np.clip(habit.label_cap, 0.16 * wide, 0.36 * wide))
    label = cap + 0.5 if chart.label else 0.0
    above = 0.25 + ((2 * habit.top_size + 0.3) if any(chart.tops) else 0.0)
    below = 0.35 + (1.0 if any(chart.under) else 0.0) + habit.run_on * habit.row_ratio
    side = 0.0
    if chart.sides:
        cap_n = min(habit.number_cap * habit.row_ratio, 0.95)
        side = 1.0 + max(len(s.text) for s in chart.sides) * cap_n * 0.8
    left, right = 0.55, 0.55
    if habit.number_side == "left":
        left = max(left, side)
    else:
        right = max(right, side)
    if habit.label_at == "below":
        below += label
    elif habit.label_at == "left" and chart.label:
        left = max(left, 0.8 + len(chart.label) * cap * 0.8)
    else:
        above += label
    extra = max(0.0, len((chart.label or "").replace("^", "")) * cap * 0.75 - wide - left - right) / 2
    return left + extra, above, right + extra, below


def _lying(chart: Chart, artist: Artist) -> tuple[float, float, float, float]:
    """Room left, above, right and below a lying grid, in gaps."""
    h = artist.habit
    label = (
        float(np.clip(h.label_cap, 0.16 * (chart.strings - 1), 0.36 * (chart.strings - 1))) + 0.6
        if chart.label
        else 0.0
    )
    left = 0.6 + ((2 * h.top_size + 0.4) if any(chart.tops) else 0.0)
    number = 1.6 if chart.sides else 0.4
    above = label + (number if h.number_side == "right" else 0.3)
    below = 0.3 + (number if h.number_side == "left" else 0.0) + (label if h.label_at == "below" else 0.0)
    return left, above, 0.6 + (1.0 if any(chart.under) else 0.0), below


def draw_in(
    draft: Draft,
    artist: Artist,
    chart: Chart,
    box: Box,
    dice: Dice,
    fill: float = 1.0,
    most: float = 1e9,
    press: Tool | None = None,
) -> Box:
    """Draw a diagram as large as a box allows, times `fill`; returns the box of its grid.

    `most` bounds the distance of strings in pixels; `press` prints the grid and leaves only the marks to the artist.
    """
    h = artist.habit
    lying = artist.sideways
    left, above, right, below = _lying(chart, artist) if lying else _margins(chart, h)
    across, down = chart.strings - 1.0, chart.spaces * h.row_ratio
    wide, high = (down, across) if lying else (across, down)
    room = (box[2] - box[0], box[3] - box[1])
    gap = min(room[0] / (wide + left + right), room[1] / (high + above + below), most) * fill
    x = box[0] + (room[0] - gap * (wide + left + right)) * dice.between(0.2, 0.8) + left * gap
    y = box[1] + (room[1] - gap * (high + above + below)) * dice.between(0.1, 0.6) + above * gap
    origin = (x, y + across * gap) if lying else (x, y)
    unrest = 0.0 if press else artist.unrest
    turn = -np.pi / 2 if lying else 0.0
    frame = make_frame(chart, origin, gap, gap * h.row_ratio, turn, unrest, dice.child("frame"))
    tool = artist.tool(draft.sheet, dice.child("tool"))
    tool.thin(min(gap, gap * h.row_ratio) * _THICKEST)
    neck = Neck(tool, chart, h, frame, dice.child("neck"), artist.unrest, press)
    with draft.sheet.noting() as boxes:
        corners = neck.draw()
    draft.add(neck, corners, boxes)
    q = np.array(corners)
    return float(q[:, 0].min()), float(q[:, 1].min()), float(q[:, 0].max()), float(q[:, 1].max())


def borrow_staff(
    draft: Draft,
    artist: Artist,
    chart: Chart,
    x: float,
    ys: list[float],
    gap: float,
    ends: tuple[float, float],
    dice: Dice,
) -> None:
    """Draw only strings and marks across a printed staff whose lines serve as frets."""
    row = ys[1] - ys[0]
    frame = make_frame(chart, (x, ys[0]), gap, row, 0.0, 0.0, dice.child("frame"))
    lines: list[Points] = [np.array([[ends[0], y], [ends[1], y]]) for y in ys]
    tool = artist.tool(draft.sheet, dice.child("tool"))
    tool.thin(row * _THICKEST)
    neck = Neck(tool, chart, artist.habit, frame, dice.child("neck"), artist.unrest)
    with draft.sheet.noting() as boxes:
        corners = neck.draw(lines)
    draft.add(neck, corners, boxes)
