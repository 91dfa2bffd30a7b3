"""From probabilities of marks and numbers to frames: what a diagram may say, likeliest first.

The trade's rules live here: a number beside a later row names that row, a barre
stops its strings unless a stop further up says otherwise, an unmarked string is open.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import islice, product

import numpy as np
from numpy.typing import NDArray

from reader.image.crops import on_grid
from reader.image.labels import Lettering
from reader.image.marks import FIRST_ROW, MUTED, NUMBERS, OPEN_BARE, OPEN_MARKED, Look
from reader.music.frame import Barre, Finger, Frame

Floats = NDArray[np.float64]
LEAST_STRINGS, MOST_STRINGS = 3, 8
DOUBT = 0.015
"""A second state of a string is considered from this probability on."""
CROP_SHARE, MOVED_ODDS = 0.72, 0.65
"""Weight of what the crop tells of the first fret, in log odds, and the odds of not starting at the nut without it."""
STRAY, OVERLOOKED, NOT_MADE_OUT = 0.006, 0.09, 0.1
"""How often what is read as a number is none; how often a number is not seen at all, or seen and not made out.
These five are fitted together on pages of the generator written apart."""
HOW_OFTEN = np.zeros(NUMBERS)
"""How often each fret is the first one of a grid that does not start at the nut (common practice, no source)."""
HOW_OFTEN[2:16] = np.array([10, 14, 12, 14, 9, 11, 8, 6, 6, 2, 3, 1, 1, 1]) / 98
BESIDE_ROW, FIRST_ROW_NUMBER = 0.2, 3.0
"""Rows from the middle of a row within which a number surely stands beside it; how much likelier the first row is than
the second for one between them (judged by hand)."""
LIKELY_FINGERS, CONTRADICTED = 3, 0.05
"""Fingers of a string that are considered; fingers that contradict each other are kept where all others are less
likely than by this factor (judged by hand)."""
STOPS_IN_ROW = -2.0
"""Mean log odds of a barre, string by string, from which it joins stops of its row: on 550 drawn pages 785 of 825
barres come out whole instead of 743, and 11 of 2,482 shapes have one that is not drawn instead of 2."""
ONE_FINGER = 2.0
"""How much likelier the finger is that is written elsewhere under the same barre: an arc joins two of one finger
(judged by hand; on drawn pages it changes nothing)."""
ANY_COUNT = 0.5
"""Diagrams of each number of strings that a page is taken to have before any is seen."""
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

    @property
    def bare(self) -> tuple[bool, ...]:
        """Per string whether it has neither a stop nor a mark."""
        return tuple(state == OPEN_BARE for state in self.states)


SECOND_NUT_LINE = 0.08
"""Weight of the second line of a nut over open strings, against one barre over the whole first row and nothing else:
enough for a label to tell (judged by hand)."""


def string_odds(look: Look) -> Floats:
    """Probabilities of the numbers of strings, (9,): the count seen as a whole and string by string."""
    there = 1 - look.states[:, 0]
    score = np.zeros(MOST_STRINGS + 1)
    for n in range(LEAST_STRINGS, MOST_STRINGS + 1):
        string_by_string = float(np.prod(there[:n]) * np.prod(1 - there[n:]))
        score[n] = (look.strings[n] + 1e-4) * (string_by_string + 1e-4)
    return np.asarray(score / score.sum())


def count_strings(look: Look) -> tuple[int, float]:
    """Likeliest number of strings and its probability."""
    score = string_odds(look)
    n = int(score.argmax())
    return n, float(score[n])


def counted_together(looks: list[Look]) -> list[Look]:
    """The looks at one page, each knowing how many strings the others have: most sheets serve one instrument."""
    votes = np.array([string_odds(k) * (1 - float(k.kind[2])) for k in looks])
    out = []
    for k, vote in zip(looks, votes, strict=True):
        others = votes.sum(0) - vote
        usual = (others + ANY_COUNT) / (others.sum() + ANY_COUNT * (MOST_STRINGS - LEAST_STRINGS + 1))
        strings = k.strings * usual**2  # the count and the strings one by one are no two opinions, but count as two
        out.append(replace(k, strings=strings / strings.sum()))
    return out


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
    read = np.zeros(NUMBERS)
    for row, share in rows_of_number(look, lettering, rows):
        # a number beside row 3 names that row
        read[1 : NUMBERS - row + 1] += share * lettering.numbers[row:]
    none = float(lettering.numbers[0])
    unseen = none * (OVERLOOKED + NOT_MADE_OUT * lettering.unread)
    at_nut = float(np.clip(look.first[1], 0.01, 0.99))
    odds = MOVED_ODDS * ((1 - at_nut) / at_nut) ** CROP_SHARE
    joint = odds * (read + unseen * HOW_OFTEN + 1e-7)
    joint[1] = none + read[1] + STRAY * read[2:].sum()
    joint[0] = 0
    return np.asarray(joint / joint.sum())


def rows_of_number(look: Look, lettering: Lettering, rows: int) -> list[tuple[int, float]]:
    """The row (from 1) that the number stands beside; two with their shares where it stands near the fret between."""
    v = float(on_grid(lettering.number_at[None], look.corners)[0, 1])
    at = float(np.clip(v * rows + 0.5, 1, rows))
    row = round(at)
    other = row + (1 if at > row else -1)
    near = (abs(at - row) - BESIDE_ROW) / (1 - 2 * BESIDE_ROW)
    if near <= 0:
        return [(row, 1.0)]
    weights = [(1 - near) * (FIRST_ROW_NUMBER if row == 1 else 1), near * (FIRST_ROW_NUMBER if other == 1 else 1)]
    return [(row, weights[0] / sum(weights)), (other, weights[1] / sum(weights))]


def options(look: Look, lettering: Lettering, most: int = 24) -> list[Option]:
    """Frames that the ink may mean, likeliest first."""
    n, _ = count_strings(look)
    odds = look.states[:n].copy()
    odds[:, 0] = 0
    odds /= odds.sum(1, keepdims=True)
    best = odds.argmax(1)
    barre_rows = _barre_rows(look, n, best)
    variants: list[tuple[tuple[int, ...], float]] = [(tuple(int(s) for s in best), float(odds.max(1).prod()))]
    for s in range(n):
        for state in np.argsort(odds[s])[::-1][1:4]:
            if odds[s, state] >= DOUBT:
                changed = [*variants[0][0]]
                changed[s] = int(state)
                variants.append((tuple(changed), variants[0][1] * float(odds[s, state] / odds[s, best[s]])))
    bare = (OPEN_BARE,) * n
    one_line = _one_line(barre_rows, n) and _one_line([int(b == FIRST_ROW) for b in best if b != OPEN_BARE], n)
    if one_line:
        variants.append((bare, variants[0][1] * SECOND_NUT_LINE))
    variants.sort(key=lambda v: -v[1])
    out: list[Option] = []
    for states, p in variants[:most]:
        rows, _ = count_rows(look, max([*(s - FIRST_ROW + 1 for s in states), 1]))
        firsts = first_fret_odds(look, lettering, rows)
        for first in islice(np.argsort(firsts)[::-1], MOST_FIRSTS):
            if firsts[first] < LEAST_FIRST:
                break
            frame = _frame(look, states, [0] * n if one_line and states == bare else barre_rows, rows, int(first))
            out.append(Option(frame, states, p * float(firsts[first]), float(firsts[first])))
    return _merged(sorted(out, key=lambda o: -o.probability))


def _one_line(rows: list[int], n: int) -> bool:
    """Whether all strings but one at most are in the first row, and none in another."""
    return set(rows) <= {0, 1} and sum(rows) >= n - 1


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


def _barre_rows(look: Look, n: int, states: NDArray[np.int64]) -> list[int]:
    """The row of the barre over each string, 0 none: a barre is one stroke, so each row has one run of strings."""
    odds = np.log(look.barre[:n, 1:] + 1e-4) - np.log(1 - look.barre[:n, 1:] + 1e-4)
    out = [0] * n
    best = np.zeros(n)
    for row in range(odds.shape[1]):
        total, low, high = _likeliest_run(odds[:, row])
        if total <= 0 or high - low < 2:
            continue
        for s in range(low, high):
            if total > best[s]:
                out[s], best[s] = row + 1, total
    for row in set(states[states >= FIRST_ROW] - FIRST_ROW):
        low, high = _joined(out, states - FIRST_ROW, odds[:, row], int(row))
        if high - low > 1:
            out[low:high] = [int(row) + 1] * (high - low)
    return out


def _joined(barres: list[int], rows: NDArray[np.int64], odds: Floats, row: int) -> tuple[int, int]:
    """The run of strings that a barre joins with its stops; an empty one where there is no barre.

    Parameters
    ----------
    barres : row of the barre over each string so far, from 1
    rows : row of each string's stop, from 0
    odds : log odds of a barre in this row over each string
    """
    mine = [s for s, b in enumerate(barres) if b == row + 1]
    low, high = (mine[0], mine[-1] + 1) if mine else (0, 0)
    at = np.flatnonzero(rows == row)
    if len(at) > 1:
        a, b = min([int(at[0]), *mine]), max([int(at[-1]), *mine]) + 1
        new = [s for s in range(a, b) if s not in mine]
        free = all(barres[s] == 0 and rows[s] >= row for s in new)
        if new and free and odds[new].mean() > STOPS_IN_ROW:
            low, high = a, b
    if high > low:
        while low > 0 and barres[low - 1] == 0 and odds[low - 1] > 0 and rows[low - 1] > row:
            low -= 1
        while high < len(rows) and barres[high] == 0 and odds[high] > 0 and rows[high] > row:
            high += 1
    return low, high


def _likeliest_run(odds: Floats) -> tuple[float, int, int]:
    """Sum, start and end of the run of neighbours with the largest sum."""
    runs = ((float(odds[a:b].sum()), a, b) for a in range(len(odds)) for b in range(a + 1, len(odds) + 1))
    return max(runs)


def _frame(look: Look, states: tuple[int, ...], barre_rows: list[int], rows: int, first: int) -> Frame:
    n = len(states)
    frets: list[int | None] = []
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
    barres = _barres(barre_rows, n, first, rows)
    return Frame(tuple(frets), _fingers(look, frets, barres), rows, first, barres)


def _fingers(look: Look, frets: list[int | None], barres: tuple[Barre, ...]) -> tuple[Finger, ...]:
    """The likeliest fingers, no finger at two frets unless the ink leaves hardly another choice."""
    stopped = [s for s, f in enumerate(frets) if f]
    at = [frets[s] for s in stopped]
    odds = look.fingers[stopped].copy()
    for barre in barres:
        under = [k for k, s in enumerate(stopped) if at[k] == barre.fret and barre.covers(s, len(frets))]
        sure = [int(odds[k].argmax()) for k in under if odds[k].max() > 0.5 and odds[k].argmax() > 0]
        for finger in set(sure):
            odds[under, finger] *= ONE_FINGER
    best = tuple(int(k) for k in odds.argmax(1)) if stopped else ()
    if not _one_place_each(best, at):
        likely = np.argsort(odds, axis=1)[:, ::-1][:, :LIKELY_FINGERS]
        choices = [c for c in product(*likely.tolist()) if _one_place_each(c, at)]
        chances = [float(np.prod(odds[np.arange(len(c)), c])) for c in choices]
        top = float(odds.max(1).prod())
        if chances and max(chances) > CONTRADICTED * top:
            best = tuple(choices[int(np.argmax(chances))])
    out: list[Finger] = [None] * len(frets)
    for s, finger in zip(stopped, best, strict=True):
        out[s] = None if finger == 0 else "T" if finger == 5 else finger
    return tuple(out)


def _one_place_each(fingers: tuple[int, ...], frets: list[int | None]) -> bool:
    """Whether no finger but the thumb stands at two frets."""
    places: dict[int, int | None] = {}
    return all(f in (0, 5) or places.setdefault(f, fret) == fret for f, fret in zip(fingers, frets, strict=True))


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
