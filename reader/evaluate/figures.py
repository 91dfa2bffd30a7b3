"""Shares, percentiles, calibration and risk: figures of plain numbers that know nothing of diagrams.

Every share of nothing is None, never 0 or 1.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

CALIBRATION_BINS = 10
RISK_THRESHOLDS = (0.0, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95, 0.99)


@dataclass(frozen=True, slots=True)
class Decision:
    """What was decided about one reading, and whether that was wrong.

    Parameters
    ----------
    confidence : float
        0 to 1.
    accepted : bool
        Whether it was taken without a look.
    wrong : bool
    """

    confidence: float
    accepted: bool
    wrong: bool


@dataclass(frozen=True, slots=True)
class CalibrationBin:
    """Readings whose confidence lies from ``start`` up to ``end``: how many, how sure, how often right."""

    start: float
    end: float
    count: int
    confidence: float
    right: float


@dataclass(frozen=True, slots=True)
class RiskPoint:
    """What would be accepted if only readings at or above a confidence were (flags kept).

    Parameters
    ----------
    confidence_least : float
    accepted : int
    coverage : float or None
        Accepted and right, of all true diagrams.
    risk : float or None
        Wrong, of the accepted.
    """

    confidence_least: float
    accepted: int
    coverage: float | None
    risk: float | None


def ratio(part: float, whole: float) -> float | None:
    """A part of a whole, None of nothing."""
    return part / whole if whole else None


def share(answers: Iterable[bool]) -> float | None:
    """How often the answer was yes, 0 to 1; None when nothing was asked.

    Examples
    --------
    >>> share([True, True, False, True])
    0.75
    """
    known = list(answers)
    return ratio(sum(known), len(known))


def f_measure(shared: int, drawn: int, read: int) -> float | None:
    """Harmonic mean of precision (shared of read) and recall (shared of drawn).

    Written as ``2 shared / (drawn + read)``, which also holds where nothing
    is shared; None where nothing is drawn and nothing read.
    """
    return ratio(2 * shared, drawn + read)


def percentile(values: Iterable[float], part: float) -> float | None:
    """The value below which a part (0 to 1) of the values lies, linear between neighbours.

    Examples
    --------
    >>> percentile([1, 2, 4], 0.75)
    3.0
    """
    ordered = sorted(values)
    if not ordered:
        return None
    place = part * (len(ordered) - 1)
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    return float(ordered[below] + (place - below) * (ordered[above] - ordered[below]))


def calibration_bins(decisions: Iterable[Decision], count: int = CALIBRATION_BINS) -> list[CalibrationBin]:
    """Readings sorted into bins of equal width by confidence; empty bins are left out.

    Parameters
    ----------
    decisions : iterable of Decision
    count : int
        Bins between 0 and 1; a confidence of 1 belongs to the last.
    """
    filled: dict[int, list[Decision]] = {}
    for decision in decisions:
        filled.setdefault(min(int(decision.confidence * count), count - 1), []).append(decision)
    return [
        CalibrationBin(
            start=i / count,
            end=(i + 1) / count,
            count=len(members),
            confidence=sum(d.confidence for d in members) / len(members),
            right=sum(not d.wrong for d in members) / len(members),
        )
        for i, members in sorted(filled.items())
    ]


def calibration_error(bins: Sequence[CalibrationBin]) -> float | None:
    """Mean distance between confidence and share right, each bin weighted by its readings.

    The expected calibration error of Naeini et al., AAAI 2015.
    """
    total = sum(b.count for b in bins)
    return ratio(sum(b.count * abs(b.confidence - b.right) for b in bins), total)


def risk_coverage(
    decisions: Sequence[Decision], drawn: int, thresholds: Iterable[float] = RISK_THRESHOLDS
) -> list[RiskPoint]:
    """How much is accepted, and how often wrongly, at rising demands on confidence.

    Parameters
    ----------
    decisions : sequence of Decision
        Flagged ones never count as accepted.
    drawn : int
        True diagrams, missed ones included.
    thresholds : iterable of float
    """
    points = []
    for threshold in thresholds:
        taken = [d for d in decisions if d.accepted and d.confidence >= threshold]
        wrong = sum(d.wrong for d in taken)
        points.append(RiskPoint(threshold, len(taken), ratio(len(taken) - wrong, drawn), ratio(wrong, len(taken))))
    return points


def risk_at_review(decisions: Sequence[Decision], budget: float) -> float | None:
    """Share wrong among the rest when a budget of readings is looked at, the most doubtful first.

    Flagged readings come first, then the least confident.

    Parameters
    ----------
    decisions : sequence of Decision
    budget : float
        Largest part of the readings that is looked at, 0 to 1.

    Examples
    --------
    >>> sure, unsure = Decision(0.9, True, False), Decision(0.4, True, True)
    >>> risk_at_review([sure, sure, sure, unsure], 0.0), risk_at_review([sure, sure, sure, unsure], 0.25)
    (0.25, 0.0)
    """
    ordered = sorted(decisions, key=lambda d: (d.accepted, d.confidence))
    looked_at = math.floor(budget * len(ordered) + 1e-9)
    return share(d.wrong for d in ordered[looked_at:])
