"""Which accepted readings a spot check asks for, and what its answers say about all of them.

The accepted readings are laid in a row, page after page, and cut into as many equal pieces as there are draws; each
piece gives one at random. So every reading has the same chance and every page its share. The draws are independent
with unequal chances of being wrong; their number of wrong ones scatters less than the binomial one of the same mean
(W. Hoeffding, 'On the distribution of the number of successes in independent trials', Ann. Math. Stat. 27, 1956),
so the binomial bound lies on the safe side.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from reader.review.bounds import needed, upper_bound

TARGETS = (0.01, 0.005, 0.001)
"""Shares of wrong readings that a spot check may be after."""


@dataclass(frozen=True, slots=True)
class Sample:
    """A draw, as stored with the library.

    Parameters
    ----------
    name : str
        Ties the answers to it.
    drawn : tuple of int
        Ids of sightings in the order of asking; one may come twice.
    population, pages : int
        Accepted readings at the time of the draw, and the pages they stand on.
    target : float
    at : str
        When it was drawn.
    """

    name: str
    drawn: tuple[int, ...]
    population: int
    pages: int
    target: float
    at: str

    def to_object(self) -> dict[str, Any]:
        """As plain JSON."""
        plain = {key: getattr(self, key) for key in ("name", "population", "pages", "target", "at")}
        return {**plain, "drawn": list(self.drawn)}

    @classmethod
    def from_object(cls, data: Mapping[str, Any]) -> Sample:
        """Inverse of `to_object`."""
        return cls(
            str(data["name"]),
            tuple(int(i) for i in data["drawn"]),
            int(data["population"]),
            int(data["pages"]),
            float(data["target"]),
            str(data["at"]),
        )

    @property
    def whole(self) -> bool:
        """Whether every accepted reading is asked for."""
        return len(self.drawn) >= self.population


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the answers so far say.

    Parameters
    ----------
    checked, wrong : int
        Draws answered; of these, readings that were wrong.
    bound : float
        Largest believable share of wrong ones among all, at 95 % confidence.
    to_go : dict of float to int
        For each of `TARGETS`, how many more must be checked with nothing wrong.
    """

    checked: int
    wrong: int
    bound: float
    to_go: Mapping[float, int]


def draw(by_page: Mapping[Any, Sequence[int]], count: int, chance: random.Random) -> tuple[int, ...]:
    """Draw sightings so that each has the same chance and each page its share.

    Parameters
    ----------
    by_page : mapping of page to ids of sightings
    count : int
        Draws wanted; all sightings once, when there are no more than that.
    chance : random.Random

    Returns
    -------
    tuple of int
        In random order, so that stopping early leaves a fair part of the draw.
    """
    pages = list(by_page)
    chance.shuffle(pages)
    row = [i for page in pages for i in chance.sample(list(by_page[page]), len(by_page[page]))]
    if count < len(row):
        piece = len(row) / count
        row = [row[min(len(row) - 1, int((k + chance.random()) * piece))] for k in range(count)]
    chance.shuffle(row)
    return tuple(row)


def judge_answers(sample: Sample, agrees: Mapping[int, bool]) -> Verdict:
    """Hold the answers against the draw.

    Parameters
    ----------
    sample : Sample
    agrees : mapping of sighting id to whether the reading was right
    """
    answered = [agrees[i] for i in sample.drawn if i in agrees]
    checked, wrong = len(answered), answered.count(False)
    done = sample.whole and checked == len(sample.drawn)
    bound = wrong / checked if done and checked else upper_bound(wrong, checked)
    to_go = {t: 0 if bound <= t else max(0, needed(t, wrong) - checked) for t in TARGETS}
    if sample.whole:
        # with the last answer the share is known, and nothing is left to be bounded
        to_go = {t: min(count, len(sample.drawn) - checked) for t, count in to_go.items()}
    return Verdict(checked, wrong, bound, to_go)
