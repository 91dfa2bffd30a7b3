"""What truly stands on a page, and what may not be counted.

A truth file is JSON Lines in the form of readings. Extra fields say what is left out of the count:

===================  =======  ==========================================================================
field                of       meaning
===================  =======  ==========================================================================
``hard``, ``unsure`` diagram, even a person cannot be sure: scored apart
                     tab
``label_unscored``   diagram  the label is not counted
``fingers_small``    diagram  the finger numbers are too small to be counted
``ignore``           page     list of corner lists (empty grids): what is read there does not count
``partial``          page     not every diagram is in the truth: readings that meet none do not count
``partial_tabs``     page     the same for tabs
``seen``             page     used for training: skipped
===================  =======  ==========================================================================
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import PurePosixPath
from typing import Any, TypeVar

from reader.errors import InputError, ReaderError
from reader.reading import Corners, PageReading, Reading, TabReading, from_object

PageKey = tuple[str, int]
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class TrueDiagram:
    """One diagram as drawn, and which parts of it count."""

    drawn: Reading
    hard: bool = False
    label_counts: bool = True
    fingers_count: bool = True


@dataclass(frozen=True, slots=True)
class TrueTab:
    """One tablature system as drawn."""

    drawn: TabReading
    hard: bool = False


@dataclass(frozen=True, slots=True)
class TruePage:
    """What truly stands on one page.

    Parameters
    ----------
    page : PageReading
        The page in the form of a reading.
    diagrams, tabs : tuples
        The same diagrams and tabs, with what counts.
    ignored : tuple of four-point tuples
        Places where a reading counts neither for nor against.
    partial, partial_tabs : bool
        Whether diagrams (tabs) may be missing from the truth.
    seen : bool
        Whether the page was used for training.
    fields : mapping of str to str
        Every other plain field of the page (``kind``, ``hand``), to group by.
    """

    page: PageReading
    diagrams: tuple[TrueDiagram, ...]
    tabs: tuple[TrueTab, ...]
    ignored: tuple[Corners, ...]
    partial: bool
    partial_tabs: bool
    seen: bool
    fields: Mapping[str, str]

    @property
    def key(self) -> PageKey:
        """What the page is looked up by."""
        return page_key(self.page)

    @property
    def has_nothing(self) -> bool:
        """Whether there is surely nothing to read on it."""
        return not (self.diagrams or self.tabs or self.ignored or self.partial or self.partial_tabs)

    def without_hard(self) -> TruePage:
        """The same page with hard diagrams and tabs counted like the others."""
        return replace(
            self,
            diagrams=tuple(replace(d, hard=False) for d in self.diagrams),
            tabs=tuple(replace(t, hard=False) for t in self.tabs),
        )


def page_key(page: PageReading) -> PageKey:
    """File name without its folders, and page number."""
    return PurePosixPath(page.source.replace("\\", "/")).name, page.page


def true_page(data: dict[str, Any]) -> TruePage:
    """One page of a truth file.

    Parameters
    ----------
    data : dict
        One line of the file.
    """
    page = from_object(data)
    diagrams = (
        TrueDiagram(
            drawn=drawn,
            hard=bool(extra.get("hard") or extra.get("unsure")),
            label_counts=not extra.get("label_unscored"),
            fingers_count=not extra.get("fingers_small"),
        )
        for drawn, extra in zip(page.diagrams, data.get("diagrams", ()), strict=True)
    )
    tabs = (
        TrueTab(drawn, bool(extra.get("hard") or extra.get("unsure")))
        for drawn, extra in zip(page.tabs, data.get("tabs", ()), strict=True)
    )
    return TruePage(
        page=page,
        diagrams=tuple(diagrams),
        tabs=tuple(tabs),
        ignored=tuple(tuple((float(x), float(y)) for x, y in corners) for corners in data.get("ignore", ())),
        partial=bool(data.get("partial")),
        partial_tabs=bool(data.get("partial_tabs")),
        seen=bool(data.get("seen")),
        fields={k: str(v) for k, v in data.items() if isinstance(v, str | int | float)},
    )


def parse_truth(lines: Iterable[str], origin: str) -> list[TruePage]:
    """The pages of a truth file.

    Parameters
    ----------
    lines : iterable of str
    origin : str
        Where they come from, for messages.

    Raises
    ------
    InputError
        Where a line is not a page, or two lines are about the same page.
    """
    pages = list(_parse_lines(lines, origin, true_page))
    seen: set[PageKey] = set()
    for page in pages:
        if page.key in seen:
            name, number = page.key
            raise InputError(f"{origin}: page {number} of {name} stands there twice. Give every picture its own name.")
        seen.add(page.key)
    return pages


def parse_readings(lines: Iterable[str], origin: str) -> dict[PageKey, PageReading]:
    """Stored readings by page; where a page was read twice, the first counts.

    Raises
    ------
    InputError
        Where a line is not a page.
    """
    readings: dict[PageKey, PageReading] = {}
    for page in _parse_lines(lines, origin, from_object):
        readings.setdefault(page_key(page), page)
    return readings


def _parse_lines(lines: Iterable[str], origin: str, parse: Callable[[dict[str, Any]], T]) -> Iterator[T]:
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        try:
            yield parse(json.loads(line))
        except (ReaderError, ValueError, KeyError, TypeError, AttributeError) as error:
            raise InputError(
                f"{origin}, line {number}: not a page in the page-reading form ({type(error).__name__}: {error}). "
                "Mend or remove the line."
            ) from error
