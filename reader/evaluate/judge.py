"""One page against its truth: which reading belongs to which drawing, and what is left over."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from reader.evaluate.overlap import match_one_to_one, overlap
from reader.evaluate.truth import PageKey, TrueDiagram, TruePage, TrueTab
from reader.reading import Corners, PageReading, Reading, TabReading

T = TypeVar("T")

EXCUSED_OVERLAP_LEAST = 0.3
"""A leftover reading that covers this much of a place that does not count is excused."""


@dataclass(frozen=True, slots=True)
class DiagramPair:
    """A true diagram and the reading that met it, None where it was missed; corners in truth pixels."""

    truth: TrueDiagram
    reading: Reading | None


@dataclass(frozen=True, slots=True)
class TabPair:
    """A true tablature system and the reading that met it, None where it was missed."""

    truth: TrueTab
    reading: TabReading | None


@dataclass(frozen=True, slots=True)
class PageOutcome:
    """What came of one page.

    Parameters
    ----------
    truth : TruePage
    reading : PageReading or None
        None where the readings do not know the page.
    diagrams : tuple of DiagramPair
        One per true diagram, hard ones included.
    false : tuple of Reading
        Readings that met nothing and count as wrong.
    uncounted : int
        Readings that met nothing on a page whose truth is partial.
    tabs : tuple of TabPair
    false_tabs : tuple of TabReading
    seconds : float or None
        Time that reading took, where it was measured.
    """

    truth: TruePage
    reading: PageReading | None
    diagrams: tuple[DiagramPair, ...]
    false: tuple[Reading, ...]
    uncounted: int
    tabs: tuple[TabPair, ...]
    false_tabs: tuple[TabReading, ...]
    seconds: float | None = None


def judge_page(truth: TruePage, reading: PageReading | None, seconds: float | None = None) -> PageOutcome:
    """Pair what was read on a page with what is drawn there.

    Parameters
    ----------
    truth : TruePage
    reading : PageReading or None
        None where the page was not read. A page read at another size is
        scaled to the truth.
    seconds : float, optional
    """
    diagrams, tabs = _in_truth_pixels(truth, reading)
    excused_places = [*truth.ignored, *(d.drawn.corners for d in truth.diagrams if d.hard)]
    met = match_one_to_one([d.drawn.corners for d in truth.diagrams], [d.corners for d in diagrams])
    met_tabs = match_one_to_one([t.drawn.corners for t in truth.tabs], [t.corners for t in tabs])
    leftover = [d for d in _left(diagrams, met) if not _is_near(d.corners, excused_places)]
    return PageOutcome(
        truth=truth,
        reading=reading,
        diagrams=tuple(DiagramPair(d, diagrams[met[i]] if i in met else None) for i, d in enumerate(truth.diagrams)),
        false=() if truth.partial else tuple(leftover),
        uncounted=len(leftover) if truth.partial else 0,
        tabs=tuple(TabPair(t, tabs[met_tabs[i]] if i in met_tabs else None) for i, t in enumerate(truth.tabs)),
        false_tabs=() if truth.partial_tabs else tuple(_left(tabs, met_tabs)),
        seconds=seconds,
    )


def judge_pages(
    truth: Iterable[TruePage],
    readings: Mapping[PageKey, PageReading],
    seconds: Mapping[PageKey, float] | None = None,
) -> list[PageOutcome]:
    """Judge every page that was not used for training.

    Parameters
    ----------
    truth : iterable of TruePage
    readings : mapping of page key to PageReading
    seconds : mapping of page key to float, optional
    """
    times = seconds or {}
    return [judge_page(page, readings.get(page.key), times.get(page.key)) for page in truth if not page.seen]


def _left(readings: Sequence[T], met: Mapping[int, int]) -> list[T]:
    used = set(met.values())
    return [r for j, r in enumerate(readings) if j not in used]


def _is_near(corners: Corners, places: Iterable[Corners]) -> bool:
    return any(overlap(corners, place) >= EXCUSED_OVERLAP_LEAST for place in places)


def _in_truth_pixels(truth: TruePage, reading: PageReading | None) -> tuple[list[Reading], list[TabReading]]:
    if reading is None:
        return [], []
    x_scale = truth.page.width / reading.width if reading.width > 0 else 1.0
    y_scale = truth.page.height / reading.height if reading.height > 0 else 1.0

    def scaled(corners: Corners) -> Corners:
        return tuple((x * x_scale, y * y_scale) for x, y in corners)

    return (
        [replace(d, corners=scaled(d.corners)) for d in reading.diagrams],
        [replace(t, corners=scaled(t.corners)) for t in reading.tabs],
    )
