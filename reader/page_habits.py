"""What the other diagrams of a page tell of one: strings, marks, numbers and labels are usual there or not."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from reader.image.marks import MUTED, OPEN_BARE, OPEN_MARKED

FEWEST_FREE = 8
"""Strings without a stop in the other diagrams of a page from which they tell whether its writer marks them."""
CLEAR_MARK, MARKS = 0.9, (MUTED, OPEN_MARKED)
"""Probability from which a mark over a string is clear."""
FEWEST_OTHERS = 3
"""Other diagrams on a page from which they tell how many strings are usual there."""


@dataclass(frozen=True, slots=True)
class Glance:
    """One diagram of a page, as far as it tells of the others.

    Parameters
    ----------
    states : what each string does
    sure : probability of that
    numbered, labelled : whether a fret number, and a label, stands beside it
    """

    states: tuple[int, ...]
    sure: tuple[float, ...]
    numbered: bool
    labelled: bool


def told_by_others(glances: list[Glance]) -> list[dict[str, float]]:
    """Per diagram the shares of the others, as evidence.

    ``alike``: have as many strings (1 where there are too few to tell); ``marked``: of their strings without a stop
    have a mark; ``worn``: of their marks are hard to make out; ``numbered``: have a number (0 where too few tell);
    ``labelled``: of all diagrams of the page have a label.
    """
    others = len(glances) - 1
    counts = Counter(len(g.states) for g in glances)
    labelled = sum(g.labelled for g in glances) / max(1, len(glances))
    numbered = sum(g.numbered for g in glances)
    free = [[s for s in g.states if s in (*MARKS, OPEN_BARE)] for g in glances]
    marks = [[p for s, p in zip(g.states, g.sure, strict=True) if s in MARKS] for g in glances]
    marked = _of_others([len(m) for m in marks], [len(f) for f in free])
    worn = _of_others([sum(p < CLEAR_MARK for p in m) for m in marks], [len(m) for m in marks])
    return [
        {
            "alike": (counts[len(g.states)] - 1) / others if others >= FEWEST_OTHERS else 1.0,
            "marked": m,
            "worn": w,
            "numbered": (numbered - g.numbered) / others if others >= FEWEST_OTHERS else 0.0,
            "labelled": labelled,
        }
        for g, m, w in zip(glances, marked, worn, strict=True)
    ]


def _of_others(some: list[int], every: list[int]) -> list[float]:
    """Per diagram the share that the others have; 0 where they have too few to tell."""
    rest = [(sum(some) - s, sum(every) - e) for s, e in zip(some, every, strict=True)]
    return [s / e if e >= FEWEST_FREE else 0.0 for s, e in rest]
