"""Exact binomial limits: what a number of wrong ones among those checked says about all.

Source: C. Clopper and E. Pearson, 'The use of confidence or fiducial limits illustrated in the case of the
binomial', Biometrika 26 (1934), one-sided.
"""

from __future__ import annotations

import math

CONFIDENCE = 0.95
_HALVINGS = 60
"""Of the interval 0 to 1: more than a float can tell apart."""


def chance_of_at_most(wrong: int, checked: int, share: float) -> float:
    """Probability of seeing at most so many wrong ones when a share of all is wrong.

    Parameters
    ----------
    wrong, checked : int
        ``0 <= wrong <= checked``.
    share : float
        0 to 1.

    Examples
    --------
    >>> round(chance_of_at_most(0, 299, 0.01), 4)
    0.0495
    """
    if share <= 0 or wrong >= checked:
        return 1.0
    if share >= 1:
        return 0.0
    yes, no = math.log(share), math.log1p(-share)
    whole = math.lgamma(checked + 1)
    terms = (
        whole - math.lgamma(k + 1) - math.lgamma(checked - k + 1) + k * yes + (checked - k) * no
        for k in range(wrong + 1)
    )
    return min(1.0, math.fsum(math.exp(t) for t in terms))


def upper_bound(wrong: int, checked: int, confidence: float = CONFIDENCE) -> float:
    """The largest share of wrong ones that is still believable.

    Parameters
    ----------
    wrong, checked : int
        Nothing checked bounds nothing: 1.
    confidence : float
        Probability that the true share lies at or below the bound.

    Examples
    --------
    >>> upper_bound(0, 299) <= 0.01 < upper_bound(0, 298)
    True
    """
    if wrong >= checked:
        return 1.0
    low, high = wrong / checked, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if chance_of_at_most(wrong, checked, middle) > 1 - confidence:
            low = middle
        else:
            high = middle
    return high


def needed(share: float, wrong: int = 0, confidence: float = CONFIDENCE) -> int:
    """How many must be checked in all for the bound to reach a share, if no more wrong ones turn up.

    Examples
    --------
    >>> needed(0.01), needed(0.005), needed(0.001)
    (299, 598, 2995)
    """
    low, high = wrong, max(2 * wrong, 1)
    while chance_of_at_most(wrong, high, share) > 1 - confidence:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        if chance_of_at_most(wrong, middle, share) > 1 - confidence:
            low = middle
        else:
            high = middle
    return high
