"""Whether a page's diagrams have fingers written in them: told by all of its stops together.

One stop alone is easily misjudged: the hole in a ring looks like a 1, a digit in a small dot like grain. But who
writes fingers writes them nearly everywhere, and who does not writes none; and who writes frets on the strings writes
numbers that agree with the rows.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reader.image.labels import Lettering
from reader.image.marks import FIRST_ROW, THUMB, Look
from reader.image.odds import softmax

Floats = NDArray[np.float64]
LEFT_OUT, LEFT_OUT_BARRED, STRAY = 0.2, 0.5, 0.01
"""How often a stop, and one under a barre, has no finger in a diagram with fingers, and one in a diagram without."""
MOST = 12.0
"""How much one stop tells at most, as odds: what misleads at one stop misleads at its neighbours."""
SHARE = 0.6
"""Weight of each stop, in log odds, for the same reason."""
OF_ONE_MIND = 0.4
"""How much pages mix diagrams with fingers and without: each counts as so many diagrams before any is seen."""
ROUNDS = 6
FEWEST_CLAIMS, LEAST_SAME = 6, 0.47
"""Stops at which both looks see a finger that tell whether they are fingers, and the least share of them at which it is
the same one: of 84 drawn pages with six such stops, five of five without fingers had 0.34 to 0.45, those with fingers
0.49 to 1.0."""
FRETS_MARGIN = 3.0
"""Log odds from which the numbers of a page are frets."""
NUMBER_READ = 0.5
"""Probability of a sign from which it takes part in that."""
LEAST = 1e-3
"""Probability of any sign at least."""
FIRST_FRETS = range(1, 16)


def as_the_page_writes(looks: list[Look], around: list[Lettering]) -> tuple[list[Look], list[Lettering]]:
    """The same looks with the fingers that the page as a whole makes likely; the lettering with frets on the strings.

    Parameters
    ----------
    looks : of all diagrams of a page
    around : what is written around each
    """
    if are_frets(looks):
        return [_without(k) for k in looks], [_numbered(k, a) for k, a in zip(looks, around, strict=True)]
    if are_forms(looks):
        return [_without(k) for k in looks], around
    stops = [_stops(k) for k in looks]
    written = _written(looks, stops)
    parts = zip(looks, stops, written, strict=True)
    return [replace(k, fingers=_given(k, s, p)) for k, s, p in parts], around


def are_frets(looks: list[Look]) -> bool:
    """Whether the numbers written on the strings are frets: they agree with the rows, as fingers hardly would."""
    return sum(_frets_against_fingers(k) for k in looks) > FRETS_MARGIN


def are_forms(looks: list[Look]) -> bool:
    """Whether what looks like fingers is only how the stops are drawn: hatched, or open so that the string shows.

    Of digits the two looks at a stop see the same one, of other strokes each sees what it likes.
    """
    counts = np.array([_seen_twice(k) for k in looks])
    both, same = counts.sum(0) if len(counts) else (0.0, 0.0)
    return bool(both >= FEWEST_CLAIMS and same < LEAST_SAME * both)


def _seen_twice(look: Look) -> tuple[float, float]:
    """At how many stops both looks see a finger, and at how many the same one, as far as they are sure."""
    stops = _stops(look)
    claimed = stops[look.fingers[stops, 0] < 0.5]
    seen, close = look.fingers[claimed, 1:], look.signs[claimed, 1 : THUMB + 1]
    return float((seen.sum(1) * look.signs[claimed, 1:].sum(1)).sum()), float((seen * close).sum())


def _without(look: Look) -> Look:
    """The look without fingers."""
    return replace(look, fingers=np.eye(1, look.fingers.shape[1]).repeat(len(look.fingers), axis=0))


def _stops(look: Look) -> NDArray[np.intp]:
    """Strings with a stop."""
    return np.flatnonzero(look.states.argmax(1) >= FIRST_ROW)


def _left_out(look: Look, stops: NDArray[np.intp]) -> Floats:
    """How often these stops have no finger in a diagram with fingers."""
    barred = look.barre[stops].argmax(1) == look.states[stops].argmax(1) - FIRST_ROW + 1
    return np.where(barred, LEFT_OUT_BARRED, LEFT_OUT)


def _frets_against_fingers(look: Look) -> float:
    """Log odds of the numbers on one diagram being frets, from the best first fret."""
    numbers = _numbers(look)
    if not len(numbers):
        return 0.0
    as_fingers = np.log(look.signs[numbers, 1 : THUMB + 1].max(1) + LEAST).sum()
    return float(_by_first_fret(look, numbers).max() - as_fingers)


def _numbers(look: Look) -> NDArray[np.intp]:
    """Strings with a stop at which a sign is written."""
    stops = _stops(look)
    return np.asarray(stops[look.signs[stops, 0] < NUMBER_READ])


def _by_first_fret(look: Look, numbers: NDArray[np.intp]) -> Floats:
    """Log probability of the numbers at these strings as frets, for each of ``FIRST_FRETS``."""
    rows = look.states[numbers].argmax(1) - FIRST_ROW
    signs = look.signs[numbers]
    return np.array([np.log(_of_numbers(signs, first + rows) + LEAST).sum() for first in FIRST_FRETS])


def _numbered(look: Look, around: Lettering) -> Lettering:
    """The lettering with the first fret that the numbers on the strings tell, where none stands beside the grid."""
    numbers = _numbers(look)
    if not len(numbers) or around.numbers.argmax() > 0:
        return around
    odds = np.zeros(len(around.numbers))
    odds[list(FIRST_FRETS)] = softmax(_by_first_fret(look, numbers))
    nut, end = look.corners[:2].mean(0), look.corners[2:].mean(0)
    first_row = nut + (end - nut) * 0.5 / max(1, int(look.rows.argmax()))
    return replace(around, numbers=odds, number_at=first_row)


def _of_numbers(signs: Floats, numbers: NDArray[np.intp]) -> Floats:
    """Probability of a number at each stop; from 5 on the thumb's class lies between."""
    last = signs.shape[1] - 1
    return np.asarray(signs[np.arange(len(signs)), np.minimum(numbers + (numbers >= THUMB), last)])


def _written(looks: list[Look], stops: list[NDArray[np.intp]]) -> Floats:
    """Probability for each diagram that fingers are written in it, the page's others told."""
    factors = np.array([_factor(k, s) for k, s in zip(looks, stops, strict=True)])
    told = np.array([len(s) > 0 for s in stops], bool)
    share = 0.5
    for _ in range(ROUNDS):
        each = share * factors / (share * factors + 1 - share)
        share = float((each[told].sum() + OF_ONE_MIND) / (told.sum() + 2 * OF_ONE_MIND))
    return np.asarray(share * factors / (share * factors + 1 - share))


def _factor(look: Look, stops: NDArray[np.intp]) -> float:
    """How much likelier stops read so are with fingers written than without."""
    none, left_out = look.fingers[stops, 0], _left_out(look, stops)
    with_fingers = left_out * none + (1 - left_out) * (1 - none)
    without = (1 - STRAY) * none + STRAY * (1 - none)
    return float(np.exp(SHARE * np.log(np.clip(with_fingers / without, 1 / MOST, MOST)).sum()))


def _given(look: Look, stops: NDArray[np.intp], written: float) -> Floats:
    """Probabilities of the fingers at the stops, once it is known how likely any are written there."""
    out = look.fingers.copy()
    none = written * _left_out(look, stops) + (1 - written) * (1 - STRAY)
    out[stops, 0] *= none
    out[stops, 1:] *= 1 - none[:, None]
    return np.asarray(out / out.sum(1, keepdims=True))
