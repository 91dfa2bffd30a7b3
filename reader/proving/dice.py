"""Chance with names: every decision of a page draws from a stream of its own, so that adding one moves no other."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeVar
from zlib import crc32

import numpy as np

T = TypeVar("T")


class Dice:
    """A stream of chance that is the same for the same names.

    Parameters
    ----------
    *names : int or str
        What the stream belongs to, for example ``Dice(seed, page, "paper")``.

    Examples
    --------
    >>> Dice(1, "paper").whole(1, 6) == Dice(1, "paper").whole(1, 6)
    True
    """

    def __init__(self, *names: int | str) -> None:
        self.names = names
        keys = [n if isinstance(n, int) else crc32(n.encode()) for n in names]
        self.np = np.random.default_rng(keys)

    def child(self, *names: int | str) -> Dice:
        """A stream of its own for a part of this one."""
        return Dice(*self.names, *names)

    def chance(self, p: float) -> bool:
        """True with probability `p`."""
        return bool(self.np.random() < p)

    def between(self, low: float, high: float) -> float:
        """A real number, evenly spread."""
        return float(self.np.uniform(low, high))

    def whole(self, low: int, high: int) -> int:
        """A whole number, both ends included."""
        return int(self.np.integers(low, high + 1))

    def bell(self, mean: float, spread: float) -> float:
        """A real number around `mean`, never further than 2.5 spreads away."""
        return mean + spread * float(np.clip(self.np.standard_normal(), -2.5, 2.5))

    def pick(self, items: Sequence[T]) -> T:
        """One of the items, all equally likely."""
        return items[int(self.np.integers(len(items)))]

    def weigh(self, table: Mapping[T, float]) -> T:
        """One of the keys, as likely as its weight."""
        keys = list(table)
        weights = np.array([table[k] for k in keys], float)
        return keys[int(np.searchsorted(np.cumsum(weights / weights.sum()), self.np.random()).clip(0, len(keys) - 1))]

    def shuffled(self, items: Sequence[T]) -> list[T]:
        """The items in any order."""
        return [items[int(i)] for i in self.np.permutation(len(items))]
