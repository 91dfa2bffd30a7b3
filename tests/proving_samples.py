"""A diagram drawn on plain paper, to see what becomes of its marks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reader.proving.artist import Artist, program
from reader.proving.chart import Chart
from reader.proving.dice import Dice
from reader.proving.draft import Draft, draw_in
from reader.proving.fonts import builtin_fonts
from reader.proving.printer import Printer
from reader.proving.sheet import Pixels, Sheet, Trace

PAPER = 250  # grey level


def paper(high: int = 330, wide: int = 260) -> Sheet:
    """Light paper without grain."""
    return Sheet(np.full((high, wide, 3), PAPER, np.uint8), np.zeros((512, 512), np.float32), 2.0)


def artist(number_side: str = "left") -> Artist:
    """A program that prints in black."""
    made = program(1, builtin_fonts(), False, Dice("artist"), lying=False)
    habit = replace(made.habit, number_side=number_side, label_at="above")
    return Artist(made.name, habit, "ukulele", 0.0, lambda sheet, _: Printer(sheet, "builtin", "builtin"), 0.0)


def drawn(chart: Chart) -> Draft:
    """The chart as large as the paper allows."""
    draft = Draft(paper())
    draw_in(draft, artist(), chart, (20.0, 20.0, 240.0, 310.0), Dice("place"))
    return draft


def without(pixels: Pixels, bare: Pixels, traces: list[Trace]) -> Pixels:
    """The pixels with what is bare where some marks lie."""
    out = pixels.copy()
    for t in traces:
        rows, columns = (slice(at - 2, at + n + 2) for at, n in zip((t.y, t.x), t.cover.shape, strict=True))
        out[rows, columns] = bare[rows, columns]
    return out
