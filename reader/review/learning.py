"""Recalibration: the confidence of a library's open readings, held against its own settled ones.

The log odds of the stored confidence are stretched and shifted so that they fit what turned out right
(J. Platt, 'Probabilistic outputs for support vector machines', 1999), pulled towards leaving them as they are:
few answers change little. The stretch stays positive, so the order by confidence never turns round.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from reader.library.entry import Outcome

LEAST_SETTLED = 25
"""Fewer settled readings say too little."""
PULL = 6.0
"""Strength of the pull towards the stored confidence, in answers."""
LEAST_STRETCH = 0.2
_ODDS_LIMIT = 8.0
_ROUNDS = 40

DOUBT_ALONE = frozenset({"faint-mark", "two-marks", "unsure"})
"""Flags that stand for a low confidence and nothing else; only readings with no other flag may be let through."""

Told = tuple[float, bool]
"""Confidence as read, and whether the shape turned out right."""


@dataclass(frozen=True, slots=True)
class Bend:
    """How confidence is to be read in one library: log odds times ``stretch`` plus ``shift``."""

    stretch: float
    shift: float

    def of(self, confidence: float) -> float:
        """The confidence after the bend."""
        return 1 / (1 + math.exp(-(self.stretch * _odds(confidence) + self.shift)))

    def before(self, bent: float) -> float:
        """The confidence as read that the bend turns into this one."""
        return 1 / (1 + math.exp(-(_odds(bent) - self.shift) / self.stretch))


STRAIGHT = Bend(1.0, 0.0)
"""Confidence is taken as the reader gave it."""


def bend_of(model: Mapping[str, Any] | None) -> Bend:
    """The bend that a library has in force, from what was noted of it; straight where none is."""
    if model is None or "stretch" not in model:
        return STRAIGHT
    return Bend(float(model["stretch"]), float(model["shift"]))


def told_by(outcomes: Iterable[Outcome]) -> list[Told]:
    """What the decisions say about the confidence of readings that came from pages.

    Readings flagged for another reason are left out: they were looked at for that reason, and are wrong more often
    than others of the same confidence.
    """
    return [
        (o.confidence, o.right)
        for o in outcomes
        if o.right is not None and o.origin == "page" and may_be_let_through(o.flags)
    ]


def fit_bend(found: Sequence[Told]) -> Bend:
    """The bend that fits best, by Newton's method.

    Parameters
    ----------
    found : sequence of (confidence, right)
    """
    points = [(_odds(p), float(right)) for p, right in found]
    stretch, shift = 1.0, 0.0
    for _ in range(_ROUNDS):
        # pull: as if PULL answers with variance 1/4 spoke for stretch 1 and shift 0
        g1, g0 = PULL / 4 * (stretch - 1), PULL / 4 * shift
        h11, h10, h00 = PULL / 4, 0.0, PULL / 4
        for x, y in points:
            p = 1 / (1 + math.exp(-(stretch * x + shift)))
            w = p * (1 - p)
            g1, g0 = g1 + (p - y) * x, g0 + (p - y)
            h11, h10, h00 = h11 + w * x * x, h10 + w * x, h00 + w
        det = h11 * h00 - h10 * h10
        step1, step0 = (h00 * g1 - h10 * g0) / det, (h11 * g0 - h10 * g1) / det
        # a step of more than one unit leaves the range in which the curvature says anything
        size = max(1.0, abs(step1), abs(step0))
        stretch, shift = stretch - step1 / size, shift - step0 / size
        if abs(step1) + abs(step0) < 1e-9:
            break
    return Bend(max(LEAST_STRETCH, stretch), shift)


def new_estimate(outcome: Outcome, bend: Bend, accept_at: float) -> float:
    """The confidence of one open reading under a bend.

    A reading whose flags give another reason than its confidence alone stays just below the limit: no answer about
    other readings takes that reason away.
    """
    estimate = bend.of(outcome.confidence)
    if may_be_let_through(outcome.flags):
        return estimate
    return min(estimate, math.nextafter(accept_at, 0.0))


def may_be_let_through(codes: Iterable[str]) -> bool:
    """Whether nothing but doubt speaks against a reading."""
    return DOUBT_ALONE.issuperset(codes)


@dataclass(frozen=True, slots=True)
class Proposal:
    """What a recalibration would do.

    Parameters
    ----------
    settled, right : int
        Settled readings that say something about confidence, and those among them that were read rightly.
    expected : float
        How many of them should have been right by their confidence.
    bend : Bend
    estimates : dict of sighting id to confidence
    newly_due, no_longer_due : int
        Readings that would be asked for, or no longer be.
    accept_at : float
    rows : tuple of (from, to, count, said, was)
        For a table: settled readings by confidence, the mean that was said and the share that was right.
    """

    settled: int
    right: int
    expected: float
    bend: Bend
    estimates: dict[int, float]
    newly_due: int
    no_longer_due: int
    accept_at: float
    rows: tuple[tuple[float, float, int, float, float], ...]

    @property
    def enough(self) -> bool:
        """Whether so many answers may change anything."""
        return self.settled >= LEAST_SETTLED

    def model(self) -> dict[str, Any]:
        """As noted in the library."""
        return {
            "kind": "log-odds",
            "stretch": round(self.bend.stretch, 6),
            "shift": round(self.bend.shift, 6),
            "settled": self.settled,
        }


def propose(outcomes: Sequence[Outcome], accept_at: float) -> Proposal:
    """Work out a recalibration without putting it in force.

    Parameters
    ----------
    outcomes : sequence of Outcome
        Of all readings: those that people decided tell, those that nobody has are weighed anew.
    accept_at : float
        Confidence from which a reading is accepted.
    """
    told = told_by(outcomes)
    bend = fit_bend(told)
    open_ones = [o for o in outcomes if o.right is None]
    estimates = {o.id: new_estimate(o, bend, accept_at) for o in open_ones}
    newly = sum(o.state == "accepted" and estimates[o.id] < accept_at for o in open_ones)
    freed = sum(o.state == "unchecked" and estimates[o.id] >= accept_at for o in open_ones)
    right, expected = sum(ok for _, ok in told), sum(p for p, _ in told)
    return Proposal(len(told), right, expected, bend, estimates, newly, freed, accept_at, _rows(told))


_EDGES = (0.0, 0.5, 0.7, 0.8, 0.9, 0.95, 0.98, 1.0)


def _rows(found: Sequence[Told]) -> tuple[tuple[float, float, int, float, float], ...]:
    rows = []
    for low, high in pairwise(_EDGES):
        group = [(p, ok) for p, ok in found if low <= p < high or p == high == 1.0]
        if group:
            said = sum(p for p, _ in group) / len(group)
            rows.append((low, high, len(group), said, sum(ok for _, ok in group) / len(group)))
    return tuple(rows)


def _odds(p: float) -> float:
    if p <= 0 or p >= 1:
        return math.copysign(_ODDS_LIMIT, p - 0.5)
    return max(-_ODDS_LIMIT, min(_ODDS_LIMIT, math.log(p / (1 - p))))
