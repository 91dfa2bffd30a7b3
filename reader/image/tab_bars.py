"""Bar lines that were typed row by row: upright strokes that read as ones."""

from __future__ import annotations

from reader.image.tab_lines import GAP, MARGIN
from reader.image.tab_strip import Number

Bar = tuple[float, str, float]
"""Column, kind and probability."""
STROKES, ON_BAR = (1, 11), 0.3
"""What upright strokes of a bar line may be read as, and how near to its middle they stand, in gaps: of 23,906 numbers
on drawn systems nine stood so near to a bar line."""
OPENING = 0.22
"""How near to the left end of its lines an upright stroke is no number, in gaps: on drawn systems such strokes read as
ones stood 0.11 to 0.13 from it, the nearest true number 0.31."""
TYPED = 2
"""Strokes on bar lines that were seen from which all bar lines of the system are taken to be typed."""
ASTRAY = 0.65
"""How far from the middle of a typed bar line a stroke of it may stand, in gaps, where the characters of its row take
another width: taller than a digit it is one, else it may be one (judged by hand)."""
SURE_BAR, LIKELY_ONES = 0.8, 0.85
"""Probability of a bar line, at most, and mean confidence of ones on some of its lines, at least, between which either
may be true."""
MOSTLY = 0.75
"""Share of the strokes on all lines but one, or on all, that are taller than any digit: they are a bar line."""
SURE_ONES = 0.97
"""Mean confidence from which ones on all lines are ones all the same."""


def told_apart(numbers: list[Number], bars: list[Bar], lines: int) -> tuple[list[Number], list[Bar], int]:
    """The numbers without strokes of bar lines, the bar lines, and how many of these only their strokes tell.

    Strokes on some lines only of a bar line that was seen unsurely, where no other has any, may be a column of ones:
    that bar line counts as one that only its strokes tell.

    Parameters
    ----------
    numbers : of one system, by column
    bars : that the strip network saw
    lines : of the system
    """
    stroked = [(bar, strokes) for bar in bars if (strokes := [n for n in numbers if _is_stroke(n, [bar])])]
    doubtful = 0
    if len(stroked) == 1:
        (_, _, seen), strokes = stroked[0]
        doubtful = int(1 < len(strokes) < lines and seen < SURE_BAR and _sureness(strokes) > LIKELY_ONES)
    kept = [n for n in numbers if not _is_stroke(n, bars)]
    typed = len(numbers) - len(kept) >= TYPED
    if typed:
        astray = [n for n in kept if _is_stroke(n, bars, ASTRAY)]
        doubtful += sum(not n.tall for n in astray)
        kept = [n for n in kept if not (n.tall and n in astray)]
    found: list[Bar] = []
    for column in _columns([n for n in kept if MARGIN <= n.block < MARGIN + lines]):
        sure, tall = _sureness(column), sum(n.tall for n in column) / len(column)
        whole = len(column) == lines and (tall >= MOSTLY or (typed and sure < SURE_ONES))
        if all(n.fret in STROKES for n in column) and (whole or (len(column) == lines - 1 and tall >= MOSTLY)):
            found.append((sum(n.column for n in column) / len(column), "single", sure))
            doubtful += tall < MOSTLY or not whole
    kept = [n for n in kept if not _is_stroke(n, found)]
    return kept, sorted([*bars, *found]), doubtful


def opens(number: Number, start: float) -> bool:
    """Whether a number is a stroke of the bar line with which a system begins.

    Parameters
    ----------
    start : column at which the lines of the system begin
    """
    return number.fret in STROKES and number.column - start < OPENING * GAP


def _sureness(numbers: list[Number]) -> float:
    """Mean confidence of some numbers."""
    return sum(n.confidence for n in numbers) / len(numbers)


def _is_stroke(number: Number, bars: list[Bar], reach: float = ON_BAR) -> bool:
    """Whether a number stands so near to a bar line, in gaps, and may be a piece of it."""
    return number.fret in STROKES and any(abs(number.column - column) < reach * GAP for column, _, _ in bars)


def _columns(numbers: list[Number]) -> list[list[Number]]:
    """Numbers that stand right above each other."""
    out: list[list[Number]] = []
    for number in sorted(numbers, key=lambda n: n.column):
        if out and number.column - out[-1][0].column < ON_BAR * GAP:
            out[-1].append(number)
        else:
            out.append([number])
    return out
