"""Bar lines that were typed row by row: upright strokes that read as ones."""

from __future__ import annotations

from reader.image.tab_lines import GAP, MARGIN
from reader.image.tab_strip import Number

Bar = tuple[float, str, float]
"""Column, kind and probability."""
STROKES, ON_BAR = (1, 11), 0.3
"""What upright strokes of a bar line may be read as, and how near to its middle they stand, in gaps: of 23,906 numbers
on drawn systems nine stood so near to a bar line."""
TYPED = 2
"""Strokes on bar lines that were seen from which all bar lines of the system are taken to be typed."""
SURE_ONES = 0.97
"""Mean confidence from which ones on all lines are ones all the same."""


def told_apart(numbers: list[Number], bars: list[Bar], lines: int) -> tuple[list[Number], list[Bar], int]:
    """The numbers without strokes of bar lines, the bar lines, and how many of these only their strokes tell.

    Parameters
    ----------
    numbers : of one system, by column
    bars : that the strip network saw
    lines : of the system
    """
    kept = [n for n in numbers if not _is_stroke(n, bars)]
    if len(numbers) - len(kept) < TYPED:
        return kept, bars, 0
    guessed: list[Bar] = []
    for column in _columns([n for n in kept if MARGIN <= n.block < MARGIN + lines]):
        sure = sum(n.confidence for n in column) / len(column)
        if len(column) == lines and all(n.fret in STROKES for n in column) and sure < SURE_ONES:
            guessed.append((sum(n.column for n in column) / lines, "single", sure))
    kept = [n for n in kept if not _is_stroke(n, guessed)]
    return kept, sorted([*bars, *guessed]), len(guessed)


def _is_stroke(number: Number, bars: list[Bar]) -> bool:
    """Whether a number is a piece of a bar line."""
    return number.fret in STROKES and any(abs(number.column - column) < ON_BAR * GAP for column, _, _ in bars)


def _columns(numbers: list[Number]) -> list[list[Number]]:
    """Numbers that stand right above each other."""
    out: list[list[Number]] = []
    for number in sorted(numbers, key=lambda n: n.column):
        if out and number.column - out[-1][0].column < ON_BAR * GAP:
            out[-1].append(number)
        else:
            out.append([number])
    return out
