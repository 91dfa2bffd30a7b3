"""Who draws a page: a writer with pens and habits, or a printing program with faces and habits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from reader.proving.chart import Chart
from reader.proving.dice import Dice
from reader.proving.fonts import FontBox, one_case
from reader.proving.habits import Habit, hand_habit, print_habit
from reader.proving.hand import Hand, make_writer
from reader.proving.marking import make_chart
from reader.proving.nib import Pen
from reader.proving.printer import Printer
from reader.proving.shapes import INSTRUMENTS, open_notes, pick_chord
from reader.proving.sheet import Colour, Sheet
from reader.proving.spelling import without_small_m
from reader.proving.tool import Role, Tool

WRITERS = 48  # different hands of one seed
PROGRAMS = 60  # different printing programs of one seed

_INKS: dict[str, dict[Colour, float]] = {
    "pencil": {(62, 62, 66): 0.8, (90, 90, 95): 0.2},
    "ball": {(28, 44, 140): 0.5, (25, 25, 30): 0.35, (170, 30, 45): 0.1, (20, 110, 70): 0.05},
    "felt": {(22, 22, 24): 0.5, (30, 50, 150): 0.2, (180, 30, 40): 0.15, (20, 120, 70): 0.1, (120, 40, 130): 0.05},
    "gel": {(15, 15, 20): 0.6, (30, 30, 120): 0.25, (140, 20, 90): 0.15},
    "marker": {(25, 25, 28): 0.5, (35, 60, 170): 0.25, (190, 35, 45): 0.15, (20, 130, 80): 0.1},
    "quill": {(20, 22, 50): 0.6, (50, 30, 25): 0.4},
    "crayon": {(40, 90, 160): 0.3, (180, 50, 40): 0.3, (60, 60, 60): 0.4},
    "stylus": {(10, 10, 10): 0.5, (30, 120, 240): 0.2, (60, 60, 70): 0.2, (220, 60, 60): 0.1},
    "chalk": {(238, 238, 232): 0.8, (250, 226, 140): 0.2},
}
_BRIGHT: list[Colour] = [(215, 45, 50), (30, 110, 220), (30, 150, 80), (235, 130, 30), (150, 60, 170), (60, 170, 190)]
_PALE: list[Colour] = [(250, 225, 90), (170, 225, 140), (250, 180, 200), (160, 210, 245)]
_MEDIA = {
    "paper": {"pencil": 0.27, "ball": 0.3, "felt": 0.16, "gel": 0.13, "marker": 0.05, "quill": 0.05, "crayon": 0.04},
    "whiteboard": {"marker": 1.0},
    "tablet": {"stylus": 1.0},
    "board": {"chalk": 1.0},
}


def _lead(dice: Dice) -> float:
    """How dark a pencil writes: mostly well, now and then hard and faint."""
    return dice.between(0.35, 0.6) if dice.chance(0.14) else dice.between(0.7, 0.95)


def make_pen(kind: str, fine: float, dice: Dice) -> Pen:
    """A pen of one kind; `fine` is the width of a thin pen in pixels."""
    colour = dice.weigh(_INKS[kind])
    d = dice
    made = {
        "pencil": lambda: Pen(kind, colour, fine * d.between(1.0, 1.7), _lead(d), d.between(0.55, 0.95), swing=0.3),
        "ball": lambda: Pen(
            kind, colour, fine * d.between(0.9, 1.3), 0.9, 0.2, 0.2, 0.2, d.pick([0.0, 0.0, 0.15, 0.35])
        ),
        "felt": lambda: Pen(kind, colour, fine * d.between(1.5, 2.8), 0.93, 0.05, 0.3 * fine, 0.12),
        "gel": lambda: Pen(kind, colour, fine * d.between(1.0, 1.6), 0.97, 0.0, 0.1, 0.1),
        "marker": lambda: Pen(
            kind, colour, fine * d.between(2.2, 3.2), d.between(0.7, 0.92), 0.15, 0.3, 0.2, nib=(0.45, 0.18)
        ),
        "quill": lambda: Pen(kind, colour, fine * d.between(1.3, 2.0), 0.95, 0.05, 0.25, 0.25, nib=(0.38, -0.3)),
        "crayon": lambda: Pen(kind, colour, fine * d.between(2.4, 3.4), 0.9, 0.95, swing=0.3),
        "stylus": lambda: Pen(
            kind, colour, fine * d.between(0.9, 1.9), 1.0, swing=d.pick([0.0, 0.25, 0.6]), opaque=True
        ),
        "chalk": lambda: Pen(kind, colour, fine * d.between(1.6, 2.6), 0.95, 0.85, swing=0.2, opaque=True),
    }
    return made[kind]()


def _pens(medium: str, fine: float, paper: Colour, dice: Dice) -> dict[Role, Pen]:
    kind = dice.weigh(_MEDIA[medium])
    grid = make_pen(kind, fine, dice.child("pen"))
    pens: dict[Role, Pen] = {"grid": grid}
    faint = tuple(round(0.75 * p + 0.25 * g) for p, g in zip(paper, grid.colour, strict=True))
    pens["pale"] = replace(grid, colour=(faint[0], faint[1], faint[2]), dark=min(grid.dark, 0.6))
    pens["text"] = Pen("gel", paper, fine * 1.2, 1.0, opaque=True)
    lively = {"whiteboard": 0.65, "tablet": 0.7, "board": 0.4, "paper": 0.22}[medium]
    if dice.chance(lively):
        bright = grid.tinted(dice.pick(_BRIGHT) if medium != "board" else (250, 170, 120))
        groups: list[tuple[Role, ...]] = [
            ("dot", "number", "bar"),
            ("dot", "bar"),
            ("number",),
            ("label",),
            ("mark", "label"),
        ]
        for role in dice.pick(groups):
            pens[role] = bright
    if medium == "paper" and dice.chance(0.12):
        pens["dot"] = make_pen(dice.pick(["felt", "marker", "crayon"]), fine, dice.child("dots"))
        pens["bar"] = pens["dot"]
    if dice.chance(0.06):
        pens["bar"] = Pen("marker", dice.pick(_PALE), fine * 2, 0.85, bleed=0.3)
    return pens


@dataclass(frozen=True)
class Artist:
    """Somebody, or some program, that draws a page.

    Parameters
    ----------
    name : str
    habit : Habit
    instrument : str
    unrest : float
        0 for a program.
    tool : callable
        Sheet to tool, for one stream of chance.
    up_neck : float
        How often shapes up the neck come up.
    sideways : bool
        Necks are drawn lying.
    """

    name: str
    habit: Habit
    instrument: str
    unrest: float
    tool: Callable[[Sheet, Dice], Tool]
    up_neck: float
    sideways: bool = False

    def chart(self, dice: Dice) -> Chart:
        """A chord of the artist's instrument as the artist draws it."""
        instrument = self.instrument
        notes = tuple("CCDDEFFGGAAB"[m % 12] for m in open_notes(instrument))
        return make_chart(
            pick_chord(dice.child("chord"), instrument, self.up_neck), self.habit, dice.child("chart"), notes
        )


def pick_instrument(dice: Dice) -> str:
    """An instrument, as common as it is among pages."""
    return dice.weigh(INSTRUMENTS)


def writer(
    seed: int, medium: str, fonts: FontBox, fine: float, paper: Colour, dice: Dice, lying: bool = True
) -> Artist:
    """One of the writers of a seed at work with today's pens."""
    number = dice.whole(0, WRITERS - 1)
    name = f"s{seed}-hand{number:02d}"
    mine = Dice(seed, "writer", number)
    hand = make_writer(name, mine.child("hand"), fonts)
    habit = hand_habit(mine.child("habit"))
    if "script" in hand.lettering or "cursive" in hand.lettering:
        habit = replace(habit, numbers={"nfr": 0.5, "n": 0.5})  # flourished Roman numerals could not be read
    if "/" in hand.lettering and one_case(hand.lettering):
        habit = replace(habit, speller=without_small_m(habit.speller))
    pens = _pens(medium, fine, paper, mine.child("pens", medium))
    if medium in ("tablet", "board") and pens["grid"].opaque:
        pens["text"] = pens["text"].tinted(paper)
    sideways = lying and dice.chance(0.45 if medium == "tablet" else 0.04)
    if sideways:
        habit = replace(habit, row_ratio=mine.between(1.5, 3.0), open_end=mine.chance(0.6), run_on=0.0)
    return Artist(
        name,
        habit,
        mine.child("instrument").weigh(INSTRUMENTS) if mine.chance(0.7) else pick_instrument(dice),
        hand.unrest,
        lambda sheet, stream: Hand(sheet, hand, pens, stream),
        mine.weigh({0.05: 0.5, 0.25: 0.35, 0.6: 0.15}),
        sideways,
    )


def _print_colours(habit: Habit, dark: bool, dice: Dice) -> dict[Role, Colour]:
    ink: Colour = (235, 235, 235) if dark else dice.weigh({(0, 0, 0): 0.8, (40, 40, 45): 0.15, (35, 40, 90): 0.05})
    paper: Colour = (30, 32, 38) if dark else (255, 255, 255)
    roles: tuple[Role, ...] = ("grid", "dot", "number", "label", "mark", "bar")
    colours: dict[Role, Colour] = dict.fromkeys(roles, ink)
    colours["text"] = paper
    colours["pale"] = (90, 92, 100) if dark else (205, 205, 205)
    if habit.look == "ring":
        colours["pale"] = paper
    if dice.chance(0.15):
        colours["grid"] = (130, 130, 135)
    if dice.chance(0.22):
        bright = dice.pick(_BRIGHT)
        colours["dot"] = colours["bar"] = bright
        if dice.chance(0.15):
            soft = np.array(bright) * 0.35 + 255 * 0.65
            colours["dot"] = colours["bar"] = (int(soft[0]), int(soft[1]), int(soft[2]))
            colours["text"] = ink if dice.chance(0.5) else (255, 255, 255)
    return colours


def program(seed: int, fonts: FontBox, dark: bool, dice: Dice, lying: bool = True) -> Artist:
    """One of the printing programs of a seed."""
    number = dice.whole(0, PROGRAMS - 1)
    mine = Dice(seed, "program", number)
    habit = print_habit(mine.child("habit"))
    face = mine.pick(fonts.printed)
    bold = mine.pick(fonts.printed)
    colours = _print_colours(habit, dark, mine.child("colours"))
    sideways = lying and dice.chance(0.03)
    if sideways:
        habit = replace(habit, row_ratio=mine.between(1.4, 2.4))
    return Artist(
        f"s{seed}-print{number:02d}",
        habit,
        pick_instrument(dice),
        0.0,
        lambda sheet, _: Printer(sheet, face, bold, colours),
        mine.weigh({0.1: 0.5, 0.4: 0.4, 0.8: 0.1}),
        sideways,
    )
