"""Figures that may rise but not fall: limits by group of pages, kept in a TOML file.

[all]                                   # or the value of a page field: [photo]
exact_shape = { least = 0.9 }
silent_error_rate = { most = 0.02 }
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from reader.errors import InputError
from reader.evaluate.metrics import METRICS, Scores

_NAMES = {metric.name for metric in METRICS}


@dataclass(frozen=True, slots=True)
class Limit:
    """The least or the most that one metric may be on one group of pages."""

    group: str
    metric: str
    least: float | None = None
    most: float | None = None

    def holds(self, value: float) -> bool:
        """Whether a value keeps the limit."""
        return (self.least is None or value >= self.least) and (self.most is None or value <= self.most)

    def __str__(self) -> str:
        return f"at least {self.least}" if self.least is not None else f"at most {self.most}"


def parse_floors(text: str, origin: str) -> list[Limit]:
    """The limits of a floors file.

    Parameters
    ----------
    text : str
        TOML.
    origin : str
        Where it comes from, for messages.

    Raises
    ------
    InputError
        Where the text is not TOML or a row is not a limit of a known metric.
    """
    try:
        groups = tomllib.loads(text)
        limits = [Limit(group, metric, **bounds) for group, rows in groups.items() for metric, bounds in rows.items()]
    except (tomllib.TOMLDecodeError, TypeError, AttributeError) as error:
        raise InputError(
            f"{origin}: not a table of limits ({error}). Write rows like exact_shape = {{ least = 0.9 }}."
        ) from error
    for limit in limits:
        if limit.metric not in _NAMES or (limit.least is None) == (limit.most is None):
            raise InputError(
                f"{origin}: {limit.group}.{limit.metric} is no limit. "
                "Give a metric that evaluate prints, and either its least or its most."
            )
    return limits


def unmet_limits(limits: Iterable[Limit], groups: Mapping[str, Scores]) -> list[str]:
    """One sentence for each limit that is not kept; a figure that could not be measured keeps none.

    Parameters
    ----------
    limits : iterable of Limit
    groups : mapping of str to Scores
        By group, 'all' among them.
    """
    sentences = []
    for limit in limits:
        scores = groups.get(limit.group)
        value = scores.numbers[limit.metric] if scores else None
        if value is None:
            sentences.append(f"{limit.group}: {limit.metric} could not be measured ({limit} wanted).")
        elif not limit.holds(value):
            sentences.append(f"{limit.group}: {limit.metric} is {value:.4g}, {limit} wanted.")
    return sentences
