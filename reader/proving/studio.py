"""The sheets of an invented teacher's studio: what `inkfret demo` reads.

Everything on them is made up: the studio, its pupils' lessons, and syllables in place of words that are sung.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from reader.proving.artist import Artist, program, writer
from reader.proving.chart import Chart
from reader.proving.dice import Dice
from reader.proving.draft import Box, Draft, draw_in
from reader.proving.drafts import board_rim, smudge
from reader.proving.finish import glare, through_camera, through_scanner
from reader.proving.fonts import FontBox
from reader.proving.layouts import Job, write_lines
from reader.proving.marking import make_chart
from reader.proving.negatives import Leaf, lattice
from reader.proving.paper import clean_sheet, real_sheet
from reader.proving.shapes import known_chord, open_notes
from reader.proving.sheet import Colour, Pixels, Sheet, Shots
from reader.proving.spelling import spell
from reader.proving.tabs import fill_with_systems, make_tab_habit
from reader.proving.warp import Points, Warp, flat
from reader.proving.words import phrase, word

STUDIO = "Larkspur Lane Studio"
A4 = 2**0.5


@dataclass(frozen=True)
class Order:
    """One page that the studio is asked for.

    Parameters
    ----------
    kind : str
        Kind of page, as the yardstick groups them.
    seed : int
        Settles who draws, on what, and every slip of the pen.
    subject : str
        Second line of the heading.
    medium : str
        ``print``, ``paper``, ``whiteboard`` or ``tablet``.
    fill : function of Job, Box and Order
        What is drawn below the heading.
    take : function of Draft, Dice and Order to Shots and Warp
        How the sheet becomes a picture.
    chords : str
        Names in `instrument`'s table; ``F+3`` is that shape three frets up, ``G7=G`` a G under a wrong name.
    instrument : str
    side : int
        Longer side of the sheet in pixels.
    shape : float
        Height over width of the sheet.
    columns : int
    turn : int
        Quarter turns clockwise of the finished picture.
    lying : bool
        Necks are drawn on their side.
    """

    kind: str
    seed: int
    subject: str
    medium: str
    fill: Callable[[Job, Box, Order], None]
    take: Callable[[Draft, Dice, Order], tuple[Shots, Warp]]
    chords: str = ""
    instrument: str = "ukulele"
    side: int = 1600
    shape: float = A4
    columns: int = 4
    turn: int = 0
    lying: bool = False


@dataclass(frozen=True)
class Teacher(Artist):
    """An artist who draws the chords of a lesson, one after the other."""

    lesson: Iterator[str] = field(default_factory=lambda: iter(()))

    def chart(self, dice: Dice) -> Chart:
        """The next chord of the lesson."""
        label, _, name = next(self.lesson).partition("=")
        stem, _, steps = (name or label).partition("+")
        chord = known_chord(self.instrument, stem, int(steps or 0))
        notes = tuple("CCDDEFFGGAAB"[m % 12] for m in open_notes(self.instrument))
        chart = make_chart(chord, self.habit, dice.child("chart"), notes)
        written = spell(known_chord(self.instrument, label), self.habit.speller) if name else None
        return replace(chart, label=written.drawn, label_read=written.read) if written else chart


def draw_order(order: Order, fonts: FontBox) -> tuple[Draft, Pixels, Warp]:
    """Draw a page and take its picture.

    Returns
    -------
    draft : Draft
    pixels : (H, W, 3) uint8
    warp : Warp
        From the sheet to the picture.
    """
    dice = Dice(order.seed, "studio")
    sheet = _sheet(order, dice)
    artist = _teacher(order, fonts, sheet, dice)
    draft = Draft(sheet, artist.name)
    job = Job(draft, artist, (), dice.child("page"))
    order.fill(job, _head(job, order), order)
    shots, warp = order.take(draft, dice, order)
    return draft, *turned(shots.pixels, warp, order.turn)


def _sheet(order: Order, dice: Dice) -> Sheet:
    size = (
        (round(order.side / order.shape), order.side)
        if order.shape > 1
        else (order.side, round(order.side * order.shape))
    )
    if order.medium == "whiteboard":
        board = clean_sheet(size, order.side / 480, dice.child("board"), (246, 248, 249))
        smudge(board, dice.child("smudge"), False)
        board_rim(board, (165, 168, 172))
        return board
    if order.medium == "tablet":
        return clean_sheet(size, order.side / 560, dice.child("paper"))
    return real_sheet(size, max(1.0, order.side / 297 * dice.between(0.32, 0.46)), dice.child("paper"))


def _teacher(order: Order, fonts: FontBox, sheet: Sheet, dice: Dice) -> Teacher:
    if order.medium == "print":
        artist = program(order.seed, fonts, False, dice.child("artist"), lying=False)
    else:
        tint = np.median(sheet.pixels[::17, ::17].reshape(-1, 3), axis=0)
        paper: Colour = (int(tint[0]), int(tint[1]), int(tint[2]))
        artist = writer(order.seed, order.medium, fonts, sheet.fine, paper, dice.child("artist"), lying=False)
    habit = replace(artist.habit, row_ratio=2.0, run_on=0.0) if order.lying else artist.habit
    return Teacher(
        artist.name,
        habit,
        order.instrument,
        artist.unrest,
        artist.tool,
        artist.up_neck,
        order.lying,
        iter(order.chords.split()),
    )


def _head(job: Job, order: Order) -> Box:
    """Write the heading; returns the room below it."""
    wide, high = job.draft.sheet.size
    cap = 0.019 * max(wide, high)
    left, top, right, low = 0.07 * wide, 0.05 * high, 0.93 * wide, 0.95 * high
    cap = min(cap, cap * 0.9 * (right - left) / job.tool.width(STUDIO, cap))
    job.tool.write(STUDIO, (left, top + cap), cap, "l", "label")
    job.tool.write(order.subject, (left, top + 3.2 * cap), 0.72 * cap, "l", "label")
    return left, top + 5.6 * cap, right, low


# ---------------------------------------------------------------- what is drawn


def _cells(box: Box, order: Order) -> Iterator[tuple[int, Box]]:
    """Rows and columns of a page, row by row, as many as it has chords."""
    left, top, right, low = box
    count = len(order.chords.split())
    wide, high = (right - left) / order.columns, (low - top) / -(-count // order.columns)
    for k in range(count):
        x, y = left + k % order.columns * wide, top + k // order.columns * high
        yield k, (x, y, x + wide, y + high)


def _diagram(job: Job, cell: Box, number: int, fill: float = 1.0) -> None:
    """The next chord of the lesson, as large as the others of its page."""
    dice = job.dice.child("chord", number)
    drawn = job.artist.chart(dice)
    most = 0.74 * min((cell[2] - cell[0]) / (drawn.strings - 1), (cell[3] - cell[1]) / 6)
    draw_in(job.draft, job.artist, drawn, cell, dice.child("draw"), fill, 1e9 if job.artist.sideways else most)


def chart(job: Job, box: Box, order: Order) -> None:
    """Diagrams in even columns and rows."""
    for k, (x0, y0, x1, y1) in _cells(box, order):
        rim = 0.07 * min(x1 - x0, y1 - y0)
        fill = 1 - job.artist.unrest * job.dice.child("size", k).between(0.02, 0.14)
        _diagram(job, (x0 + rim, y0 + rim, x1 - rim, y1 - rim), k, fill)


def lesson(job: Job, box: Box, order: Order) -> None:
    """Rows of diagrams with notes of the lesson between them."""
    cap = 0.0105 * max(job.draft.sheet.size)
    for k, (x0, y0, x1, y1) in _cells(box, order):
        if k % order.columns == 0:
            write_lines(job.tool, (x0, y0, box[2], y0 + 1.5 * cap), cap, 2.2, job.dice.child("notes", k))
        _diagram(job, (x0 + cap, y0 + 3.2 * cap, x1 - cap, y1 - 0.8 * cap), k, 0.95)


def song(job: Job, box: Box, order: Order) -> None:
    """Lines of invented syllables under the small diagrams of their chords."""
    cap = 0.0115 * max(job.draft.sheet.size)
    for k, (x0, y0, x1, y1) in _cells(box, order):
        _diagram(job, (x0, y0, x1 - 0.2 * (x1 - x0), y1 - 4.6 * cap), k)
        for n in (0, 1) if k % order.columns == 0 else ():
            words = job.dice.child("words", k, n)
            text = phrase(words, 5)
            while job.tool.width(text, cap) < 0.7 * (box[2] - box[0]):
                text += " " + word(words)
            job.tool.write(text, (x0, y1 - (3.4 - 2.1 * n) * cap), cap, "l", "label")


def tab(job: Job, box: Box, order: Order) -> None:
    """Systems of tablature."""
    habit = make_tab_habit(job.dice.child("habit"), order.medium != "print")
    systems = 4 if order.shape > 1 else 3
    upper = box[1] / job.draft.sheet.size[1]
    fill_with_systems(
        job.draft, job.tool, habit, job.artist.unrest, systems, job.dice.child("systems"), None, upper + 0.02
    )


def register(job: Job, box: Box, order: Order) -> None:
    """Who came to which lesson: ruled tables with ticks and crosses, and nothing to read."""
    left, y, right, low = box
    leaf = Leaf(job.draft, job.tool, job.dice)
    columns, cap = 9, 0.011 * max(job.draft.sheet.size)
    high, first = 3.0 * cap, 0.3 * (right - left)
    wide = (right - left - first) / columns
    rows = int((low - y) / high) - 1
    lattice(leaf, left, y, 1, rows, first, high)
    lattice(leaf, left + first, y, columns, rows, wide, high)
    for r in range(rows):
        middle = y + (r + 0.5) * high
        job.tool.write(word(job.dice.child("name", r)).capitalize(), (left + cap, middle), cap, "l", "label")
        for c in range(columns):
            at = (left + first + (c + 0.5) * wide, middle)
            mark = job.dice.child("mark", r, c).weigh({"": 0.35, "x": 0.35, "o": 0.15, "n": 0.15})
            if mark == "x":
                job.tool.cross(at, 0.8 * cap)
            elif mark == "o":
                job.tool.ring(at, 0.6 * cap, 0.6 * cap)
            elif mark == "n":
                job.tool.write(str(job.dice.child("number", r, c).whole(1, 9)), at, cap)


# ---------------------------------------------------------------- how its picture is taken


def as_drawn(draft: Draft, dice: Dice, order: Order) -> tuple[Shots, Warp]:
    """The drawing itself."""
    return draft.sheet.shots, flat(draft.sheet.size)


def scanned(draft: Draft, dice: Dice, order: Order) -> tuple[Shots, Warp]:
    """On a flat-bed."""
    return through_scanner(draft, dice.child("scan"), 1.0, False, turns=False)


def copied(draft: Draft, dice: Dice, order: Order) -> tuple[Shots, Warp]:
    """Copied first, then on a flat-bed."""
    return through_scanner(draft, dice.child("scan"), 1.0, True, turns=False)


def photographed(draft: Draft, dice: Dice, order: Order) -> tuple[Shots, Warp]:
    """With a phone, on a table."""
    return through_camera(draft, dice.child("camera"), order.side, 0.16, 0.9, False, turns=False)


def photographed_board(draft: Draft, dice: Dice, order: Order) -> tuple[Shots, Warp]:
    """With a phone, on the wall, lamps mirrored in it."""
    shots, warp = through_camera(draft, dice.child("camera"), order.side, 0.14, 0.6, True, turns=False)
    return shots.each(lambda p: glare(p, dice.child("glare"))), warp


def turned(pixels: Pixels, warp: Warp, quarter: int) -> tuple[Pixels, Warp]:
    """The picture turned clockwise by quarters."""
    wide, high = warp.size
    if quarter % 4 == 0:
        return pixels, warp
    shift, size = {
        1: ((high - 1, 0), (high, wide)),
        2: ((wide - 1, high - 1), (wide, high)),
        3: ((0, wide - 1), (high, wide)),
    }[quarter % 4]
    spin = np.rint([[np.cos(a := quarter * np.pi / 2), -np.sin(a)], [np.sin(a), np.cos(a)]])

    def onto(points: Points) -> Points:
        return points @ spin.T + shift

    def back(points: Points) -> Points:
        return warp.back((points - shift) @ spin)

    def start(points: Points) -> Points:
        return onto(warp.start(points))

    return np.ascontiguousarray(np.rot90(pixels, -quarter)), Warp(size, back, start)
