"""From probabilities of marks and numbers to frames: what a diagram may say, likeliest first.

The trade's rules live here: a number beside a later row names that row, a barre
stops its strings unless a stop further up says otherwise, an unmarked string is open.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import islice

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.labels import Lettering
from reader.image.marks import FIRST_ROW, MUTED, NUMBERS, OPEN_BARE, OPEN_MARKED, Look
from reader.music.frame import Barre, Finger, Frame

Floats = NDArray[np.float64]
LEAST_STRINGS, MOST_STRINGS = 3, 8
DOUBT = 0.015
"""A second state of a string is considered from this probability on."""
CROP_SHARE = 0.5
"""Weight of what the crop tells of the first fret against the number, in log odds (fitted on drawn pages)."""
LEAST_FIRST, MOST_FIRSTS = 0.003, 9
"""A first fret is considered from this probability on, and so many of them."""


@dataclass(frozen=True, slots=True)
class Option:
    """One frame that the ink may mean.

    Parameters
    ----------
    states : per string, as the network counts them
    probability : of these states and this first fret together
    first_p : of the first fret alone
    """

    frame: Frame
    states: tuple[int, ...]
    probability: float
    first_p: float


def count_strings(look: Look) -> tuple[int, float]:
    """Likeliest number of strings and its probability: the count seen as a whole and string by string."""
    there = 1 - look.states[:, 0]
    score = np.zeros(MOST_STRINGS + 1)
    for n in range(LEAST_STRINGS, MOST_STRINGS + 1):
        string_by_string = float(np.prod(there[:n]) * np.prod(1 - there[n:]))
        score[n] = (look.strings[n] + 1e-4) * (string_by_string + 1e-4)
    score /= score.sum()
    n = int(score.argmax())
    return n, float(score[n])


def count_rows(look: Look, least: int) -> tuple[int, float]:
    """Likeliest number of fret spaces, at least as many as the stops need."""
    p = look.rows.copy()
    p[: max(1, least)] = 0
    if p.sum() <= 0:
        return max(1, least), 0.0
    r = int(p.argmax())
    return r, float(p[r])


def first_fret_odds(look: Look, lettering: Lettering, rows: int) -> Floats:
    """Probabilities of the first fret, from the crop and from the number read apart, worked back from its row.

    The crop tells whether the grid starts at the nut, its number is too small there to be read; which fret it is
    comes from the number alone.

    Returns
    -------
    (25,) index is the fret; index 0 is always 0
    """
    row = row_of_number(look, lettering, rows)
    from_number = np.full(NUMBERS, 1e-4)
    none = float(lettering.numbers[0])
    from_number[1] += none * (1 - lettering.unread)
    from_number[1:] += none * lettering.unread / (NUMBERS - 1)
    for value in range(1, NUMBERS):
        first = value - row + 1
        if first >= 1:
            from_number[first] += lettering.numbers[value]
    at_nut = float(np.clip(look.first[1], 0.01, 0.99))
    seen = np.full(NUMBERS, (1 - at_nut) ** CROP_SHARE)
    seen[1] = at_nut**CROP_SHARE
    joint = seen * from_number
    joint[0] = 0
    return np.asarray(joint / joint.sum())


def row_of_number(look: Look, lettering: Lettering, rows: int) -> int:
    """The row (from 1) that the number stands beside."""
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32)
    m = cv2.getPerspectiveTransform(look.corners.astype(np.float32), unit)
    v = float(cv2.perspectiveTransform(lettering.number_at.reshape(1, 1, 2).astype(float), m)[0, 0, 1])
    return int(np.clip(np.floor(v * rows), 0, rows - 1)) + 1


def options(look: Look, lettering: Lettering, most: int = 24) -> list[Option]:
    """Frames that the ink may mean, likeliest first."""
    n, _ = count_strings(look)
    odds = look.states[:n].copy()
    odds[:, 0] = 0
    odds /= odds.sum(1, keepdims=True)
    best = odds.argmax(1)
    barre_rows = _barre_rows(look, n)
    variants: list[tuple[tuple[int, ...], float]] = [(tuple(int(s) for s in best), float(odds.max(1).prod()))]
    for s in range(n):
        for state in np.argsort(odds[s])[::-1][1:4]:
            if odds[s, state] >= DOUBT:
                changed = [*variants[0][0]]
                changed[s] = int(state)
                variants.append((tuple(changed), variants[0][1] * float(odds[s, state] / odds[s, best[s]])))
    variants.sort(key=lambda v: -v[1])
    out: list[Option] = []
    for states, p in variants[:most]:
        rows, _ = count_rows(look, max([*(s - FIRST_ROW + 1 for s in states), 1]))
        firsts = first_fret_odds(look, lettering, rows)
        for first in islice(np.argsort(firsts)[::-1], MOST_FIRSTS):
            if firsts[first] < LEAST_FIRST:
                break
            frame = _frame(look, states, barre_rows, rows, int(first))
            out.append(Option(frame, states, p * float(firsts[first]), float(firsts[first])))
    return _merged(sorted(out, key=lambda o: -o.probability))


def _merged(out: list[Option]) -> list[Option]:
    """Options that play the same, as one: their probabilities add up."""
    by_frets: dict[tuple[int | None, ...], Option] = {}
    for option in out:
        known = by_frets.get(option.frame.frets)
        if known is None:
            by_frets[option.frame.frets] = option
        else:
            by_frets[option.frame.frets] = Option(
                known.frame, known.states, known.probability + option.probability, known.first_p
            )
    return sorted(by_frets.values(), key=lambda o: -o.probability)


def _barre_rows(look: Look, n: int) -> list[int]:
    return [int(row) for row in look.barre[:n].argmax(1)]


def _frame(look: Look, states: tuple[int, ...], barre_rows: list[int], rows: int, first: int) -> Frame:
    n = len(states)
    frets: list[int | None] = []
    fingers: list[Finger] = []
    for s, state in enumerate(states):
        row = state - FIRST_ROW + 1
        if state in (OPEN_MARKED, OPEN_BARE) and barre_rows[s] and look.barre[s, barre_rows[s]] > 0.6:
            row = barre_rows[s]
        if state == MUTED:
            frets.append(None)
        elif row >= 1:
            frets.append(first + row - 1)
        else:
            frets.append(0)
        finger = int(look.fingers[s].argmax())
        fingers.append(None if not frets[-1] or finger == 0 else "T" if finger == 5 else finger)
    return Frame(tuple(frets), tuple(fingers), rows, first, _barres(barre_rows, n, first, rows))


def _barres(barre_rows: list[int], n: int, first: int, rows: int) -> tuple[Barre, ...]:
    """Runs of neighbouring strings under a barre of one row."""
    out = []
    start = 0
    for s in range(1, n + 1):
        if s == n or barre_rows[s] != barre_rows[start]:
            if 1 <= barre_rows[start] <= rows and s - start >= 2:
                out.append(Barre(first + barre_rows[start] - 1, n - start, n - s + 1))
            start = s
    return tuple(out)
