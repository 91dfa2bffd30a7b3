"""Which way up the lettering of a page lies, told from how well it reads."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reader.image.around import Around, Lexicon, read_around
from reader.image.crops import Points
from reader.image.fret_numbers import FURTHEST_NUMBER, number_forms, number_values
from reader.image.lettering import Piece
from reader.image.levels import Levels, Pixels

Floats = NDArray[np.float64]
WAY_SAMPLE = 5
"""Diagrams at most on which other ways up are tried."""
WEIGHT, BY_CHANCE = 6.0, 0.2
"""Log odds of a way for how cleanly lettering reads so, and how cleanly it reads by chance whichever way it lies."""
READ_WELL = 0.7
"""How cleanly a label reads that surely lies upright."""


def _goodness(a: Around, lexicon: Lexicon) -> float:
    """How cleanly the best of the pieces reads as a label or as a number, single signs counting less."""
    best = 0.0
    texts, several_signs = lexicon.labels.texts, _several_signs(lexicon)
    for piece, labels, numbers, clear in zip(a.pieces, a.label_fits, a.number_fits, a.clear, strict=True):
        if not piece.stands_within(FURTHEST_NUMBER):
            continue
        # one letter alone often reads as another when it lies on its side
        several = piece.width > 1.2 * piece.height and len(texts[int(labels.argmax())]) > 1
        best = max(best, min(1.0, float(labels.max())) * clear**2 * (1.0 if several else 0.4))
        if piece.side in ("left", "right"):
            best = max(best, min(1.0, float(numbers[several_signs].max())) * clear**2)
    return best


def _several_signs(lexicon: Lexicon) -> NDArray[np.bool_]:
    """Which numbers are written with more signs than one, strokes apart."""
    values, forms = number_values(lexicon.numbers.texts), number_forms(lexicon.numbers.texts)
    return np.asarray((values > 9) & (forms == "plain") | (forms == "marked"))


def _is_word(piece: Piece) -> bool:
    """Whether a piece of several signs stands near its grid: turned by a quarter it is tall."""
    long = max(piece.width, piece.height) > 1.2 * min(piece.width, piece.height)
    return long and piece.stands_within(FURTHEST_NUMBER)


def find_ways(
    pixels: Pixels | Levels,
    corners: list[Points],
    sure: list[Points],
    turn: int,
    around: list[Around],
    lexicon: Lexicon,
) -> list[Floats]:
    """Evidence of the way up; other ways are tried on a few diagrams, and only where this one reads badly."""
    even = np.full(4, 0.25)
    good = np.array([_goodness(a, lexicon) for a in around])
    if turn or not len(good):
        return [even] * len(around)
    if (good > READ_WELL).mean() >= 0.45:
        upright = np.array([0.94, 0.02, 0.02, 0.02])
        return [upright if g > READ_WELL else even for g in good]
    surely = [i for i, c in enumerate(corners) if any(c is s for s in sure)] or list(range(len(corners)))
    worded = [i for i in surely if any(_is_word(p) for p in around[i].pieces)] or surely
    sample = [worded[int(k)] for k in np.linspace(0, len(worded) - 1, min(WAY_SAMPLE, len(worded)))]
    ways = [even] * len(around)
    for i in sample:
        tries = [good[i]]
        for t in (1, 2, 3):
            tries.append(_goodness(read_around(pixels, [corners[i]], sure, t, lexicon)[0], lexicon))
        odds = np.exp(WEIGHT * np.maximum(0.0, np.array(tries) - BY_CHANCE))
        # a page that reads upright after t quarter turns has lettering that lies -t quarters off
        ways[i] = np.asarray(np.roll(odds[::-1], 1) / odds.sum())
    return ways
