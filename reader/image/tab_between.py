"""What stands between two numbers of a tab and passes for a digit: letters (h, p), slides, pieces of the line."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reader.image.levels import Pixels
from reader.image.tab_lines import FINE, GAP
from reader.image.tab_strip import HIGHEST_FRET, Number

Mask = NDArray[np.bool_]
DOUBT = 0.9
"""Confidence, at most, of a number that a sign may have a part in: low enough to be asked about."""
LETTER_WITHIN = 1.02
"""Gaps between two numbers of a line within which there is room for a letter and a digit or for two digits, but not for
a letter and two digits. Of typed systems looked at, ``1h3`` had 0.8 to 1.03, ``9h10`` 1.12 and more."""
SMALL_ONE, TALL_ONE = 0.76, 1.2
"""Height of a 1, against the usual height of the numbers of its system, below which it may be a slide, and from which
it may be a stroke of a bar line that was typed row by row (1.3 to 1.5 where digits have 0.9 to 1.1)."""
BESIDE, LEANING, STRAIGHT, SLIDE_HIGH, LINE_THICK = 2.0, 0.2, 0.12, 0.25, 0.12
"""A slide: gaps to the numbers on either side at most; how far it leans, width to height; how far its ink strays from a
straight line, and how high it is at least, gaps; how far from its middle the line may reach, gaps (judged by hand)."""
FEWEST = 4
"""Numbers of a system from which their usual height is known."""
SLANTED = 0.4
"""Lean from which a stroke between two numbers is a slide where the system has no other ones and it points from the
lower fret up to the higher one, or down (judged by hand)."""
LEAP, FEWEST_AROUND, INNER_GAP, PAIR_REACH = 8, 6, 0.2, 1.2
"""Two digits read as one number are two notes where that fret lies at least this much higher than all others of the
system (so many, at least) and there are so many gaps between the digits; gaps to either side of a number within which
its ink is looked for (judged by hand)."""
CLOSE_PAIR = 1.9
"""Distance of two digits, against the width of one, below which they are one number where no line runs between them: a
machine writes both side by side, and at least one hyphen between two notes (judged by hand)."""
LOW, LOWER = 0.35, 0.55
"""Height of a piece of line or of a speck on it, in gaps and of the usual height of the digits of its system, at most.
Either passes for an x; of 396 x written on drawn tabs and of 30 on others the lowest had 0.53 gaps, typed ones with
rows far apart 0.28, but 0.62 of their digits."""


def settled(fine: Pixels, numbers: tuple[Number, ...]) -> tuple[Number, ...]:
    """The numbers without pieces of line and without letters read as digits; ones as small as a slide are less sure.

    Parameters
    ----------
    fine : (40·(lines+4), width, 3) uint8
        The strip at twice its size, dark ink on light paper.
    numbers : by column
    """
    ink = {block: _ink(fine, block) for block in {n.block for n in numbers}}
    digits = [_height(ink[n.block], n) for n in numbers if n.fret is not None]
    low = LOW * GAP * FINE
    if len(digits) >= FEWEST:
        low = min(low, LOWER * float(np.median(digits)))
    standing = [n for n in numbers if n.fret is not None or not 0 < _height(ink[n.block], n) < low]
    return tuple(_ones_measured(ink, _leaps_parted(ink, _digits_joined(ink, without_letters(standing)))))


def _digits_joined(ink: dict[int, Mask], numbers: list[Number]) -> list[Number]:
    """Two digits side by side as the one number that they are, where the line is left out between them."""
    wide = [_extent(ink[n.block], n) for n in numbers if n.fret is not None and n.fret not in (1, 7)]
    if len(wide) < FEWEST:
        return numbers
    reach = CLOSE_PAIR * float(np.median([right - left for left, right in wide])) / FINE
    out: list[Number] = []
    for number in sorted(numbers, key=lambda n: (n.block, n.column)):
        before = out[-1] if out else None
        if before is None or not _is_pair(before, number, reach) or _line_between(ink[number.block], before, number):
            out.append(number)
            continue
        sure, fret = min(before.confidence, number.confidence), 10 * (before.fret or 0) + (number.fret or 0)
        column = (before.column + number.column) / 2
        out[-1] = replace(number, column=column, fret=fret, second=number.fret, confidence=sure)
    return sorted(out, key=lambda n: n.column)


def _is_pair(first: Number, second: Number, reach: float) -> bool:
    """Whether two numbers are digits close by on one line that make a fret together."""
    if first.block != second.block or second.column - first.column > reach or first.fret not in (1, 2):
        return False
    return second.fret is not None and second.fret < 10 and 10 * first.fret + second.fret <= HIGHEST_FRET


def _line_between(ink: Mask, first: Number, second: Number) -> bool:
    """Whether the line runs on between two numbers."""
    middle, half = len(ink) // 2, max(1, int(LINE_THICK * GAP * FINE))
    left, right = (int(n.column * FINE) for n in (first, second))
    third = max(1, (right - left) // 3)
    return bool(ink[middle - half : middle + half + 1, left + third : right + 1 - third].any(axis=0).all())


def _leaps_parted(ink: dict[int, Mask], numbers: list[Number]) -> list[Number]:
    """Two notes for two digits side by side that would be a fret far up the neck while all others lie low."""
    frets = [n.fret for n in numbers if n.fret is not None]
    far = max(frets, default=0)
    rest = [f for f in frets if f != far]
    if far < 10 or len(rest) < FEWEST_AROUND or len(frets) - len(rest) != 1 or max(rest) > min(9, far - LEAP):
        return numbers
    at = next(i for i, n in enumerate(numbers) if n.fret == far)
    inner = _inner_gap(ink[numbers[at].block], numbers[at])
    if inner is None:
        return numbers
    left, right = _extent(ink[numbers[at].block], numbers[at])
    places = ((left + inner) / (2 * FINE), (inner + right) / (2 * FINE))
    pair = [replace(_as_digit(numbers[at], d), column=x) for d, x in zip(divmod(far, 10), places, strict=True)]
    return [*numbers[:at], *pair, *numbers[at + 1 :]]


def _inner_gap(ink: Mask, number: Number) -> float | None:
    """The middle of a wide gap between two digits, column of the picture; None where there is none."""
    start, part = _off_line(ink, number, 0.4)
    edges = np.flatnonzero(np.diff(np.concatenate([[True], part.any(axis=0), [True]]).astype(int)))
    gaps = [(b - a, (a + b) / 2) for a, b in zip(edges[::2], edges[1::2], strict=True) if a > 0 and b < part.shape[1]]
    wide, at = max(gaps, default=(0, 0.0))
    return start + at if wide >= INNER_GAP * GAP * FINE else None


def _off_line(ink: Mask, number: Number, reach: float) -> tuple[int, Mask]:
    """The ink so many gaps to either side of a number, apart from its line; and the column at which that begins."""
    middle, half, thick = int(number.column * FINE), int(reach * GAP * FINE), int(LINE_THICK * GAP * FINE)
    start = max(0, middle - half)
    part = ink[:, start : middle + half + 1].copy()
    part[len(part) // 2 - thick : len(part) // 2 + thick + 1] = False
    return start, part


def _extent(ink: Mask, number: Number) -> tuple[int, int]:
    """First and last column of the ink of a number apart from its line, pixels of the picture."""
    start, part = _off_line(ink, number, PAIR_REACH)
    middle, inked = int(number.column * FINE), np.flatnonzero(part.any(axis=0)) + start
    if not len(inked):
        return middle, middle
    runs = np.split(inked, np.flatnonzero(np.diff(inked) > 0.35 * GAP * FINE) + 1)
    own = min(runs, key=lambda run: max(0, run[0] - middle, middle - run[-1]))
    return int(own[0]), int(own[-1])


def without_letters(numbers: list[Number]) -> list[Number]:
    """The numbers, without what stands beside them and was read as their last or their first digit."""
    changed: dict[int, int] = {}
    by_line = sorted(range(len(numbers)), key=lambda i: (numbers[i].block, numbers[i].column))
    for i, k in pairwise(by_line):
        first, second = numbers[i], numbers[k]
        if first.block != second.block or second.column - first.column > LETTER_WITHIN * GAP:
            continue
        tens = first.fret // 10 if first.fret is not None and first.fret > 9 else None
        if second.fret is not None and second.fret > 9:
            changed[k] = second.fret % 10
            if tens is not None:
                changed[i] = tens
        elif tens is not None and first.fret is not None and second.fret == first.fret % 10:
            changed[i] = tens  # the digit of the next number was read once more
    return [_as_digit(n, changed[i]) if i in changed else n for i, n in enumerate(numbers)]


def _as_digit(number: Number, digit: int) -> Number:
    return replace(number, fret=digit, second=number.fret, confidence=min(number.confidence, DOUBT))


def _ones_measured(ink: dict[int, Mask], numbers: list[Number]) -> list[Number]:
    """Numbers of which a 1 much lower than the others may be a slide, and a much taller one is marked as tall.

    A straight stroke that leans between two numbers is a slide where the other ones of the system are written
    otherwise, or where there are none and every such stroke leans the way its numbers go; else it may be one.
    """
    if len(numbers) < FEWEST:
        return numbers
    heights = np.array([_height(ink[n.block], n) for n in numbers])
    ones = [n.fret == 1 for n in numbers]
    leans = [_lean(ink[n.block], n) if one else 0.0 for n, one in zip(numbers, ones, strict=True)]
    slides = [abs(lean) > LEANING and _between(n, numbers) for n, lean in zip(numbers, leans, strict=True)]
    others = [abs(lean) > LEANING for one, lean, slide in zip(ones, leans, slides, strict=True) if one and not slide]
    alone = not others and all(
        abs(lean) > SLANTED and _leads(n, numbers, lean)
        for n, lean, slide in zip(numbers, leans, slides, strict=True)
        if slide
    )
    told = alone or (bool(others) and not any(others))
    out = []
    measured = zip(numbers, heights / max(1.0, float(np.median(heights))), ones, slides, strict=True)
    for number, high, one, slide in measured:
        if slide and told:
            continue
        sure = min(number.confidence, DOUBT) if slide or (one and high < SMALL_ONE) else number.confidence
        out.append(replace(number, confidence=sure, tall=one and bool(high >= TALL_ONE)))
    return out


def _between(number: Number, numbers: list[Number]) -> bool:
    """Whether other numbers stand close by on its line, one on either side."""
    away = [n.column - number.column for n in numbers if n.block == number.block and n is not number]
    return any(-BESIDE * GAP < a < 0 for a in away) and any(0 < a < BESIDE * GAP for a in away)


def _leads(number: Number, numbers: list[Number], lean: float) -> bool:
    """Whether a stroke leans as a slide from the number before it to the one behind it does: up to a higher fret."""
    line = sorted((n for n in numbers if n.block == number.block), key=lambda n: n.column)
    at = line.index(number)
    before, behind = line[at - 1].fret, line[at + 1].fret
    return before is not None and behind is not None and (behind - before) * lean > 0


def _lean(ink: Mask, number: Number) -> float:
    """How far one straight stroke leans to the right, width to height; 0 where there is no such stroke."""
    y, x = np.nonzero(_off_line(ink, number, 0.35)[1])
    if len(y) < 10 or np.ptp(y) < SLIDE_HIGH * GAP * FINE:
        return 0.0
    slope, start = np.polyfit(y, x, 1)
    return float(-slope) if np.std(x - slope * y - start) < STRAIGHT * GAP * FINE else 0.0


def _height(ink: Mask, number: Number) -> int:
    """Rows with ink in the middle of a number's place."""
    middle, reach = int(number.column * FINE), GAP * FINE // 4
    return int(ink[:, max(0, middle - reach) : middle + reach + 1].any(axis=1).sum())


def _ink(fine: Pixels, block: int) -> Mask:
    """What is inked of a block of the strip, (rows, width)."""
    gap = GAP * FINE
    grey = fine[max(0, block * gap) : (block + 1) * gap + 1].min(axis=2)
    if not grey.size:
        return np.zeros((1, fine.shape[1]), np.bool_)
    dark = 1 - grey / max(1.0, float(np.quantile(grey, 0.9)))
    return np.asarray(dark > 0.5 * float(np.quantile(dark.max(axis=0), 0.9)), np.bool_)
