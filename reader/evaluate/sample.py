"""Pages that are measured together, and the lists that the metrics count."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from reader.evaluate import agreement
from reader.evaluate.figures import Decision
from reader.evaluate.judge import DiagramPair, PageOutcome, TabPair
from reader.evaluate.truth import TrueDiagram
from reader.reading import Reading

Number = float | int | None
"""A figure; None where nothing could be asked."""


@dataclass(frozen=True)
class Sample:
    """Pages that are measured together, and the lists that the metrics count."""

    pages: Sequence[PageOutcome]

    @cached_property
    def drawn(self) -> list[DiagramPair]:
        """Every true diagram that counts, with its reading."""
        return [pair for page in self.pages for pair in page.diagrams if not pair.truth.hard]

    @cached_property
    def hard(self) -> list[DiagramPair]:
        """Every hard diagram, with its reading."""
        return [pair for page in self.pages for pair in page.diagrams if pair.truth.hard]

    @cached_property
    def met(self) -> list[tuple[TrueDiagram, Reading]]:
        """Every diagram that counts and was found."""
        return [(p.truth, p.reading) for p in self.drawn if p.reading is not None]

    @cached_property
    def false(self) -> list[Reading]:
        """Readings where nothing is drawn."""
        return [reading for page in self.pages for reading in page.false]

    @cached_property
    def decisions(self) -> list[Decision]:
        """Every reading that counts; one where nothing is drawn is wrong."""
        judged = [(reading, not agreement.same_frets(truth.drawn.frame, reading.frame)) for truth, reading in self.met]
        judged += [(reading, True) for reading in self.false]
        return [Decision(min(1.0, max(0.0, r.confidence)), r.accepted, wrong) for r, wrong in judged]

    @cached_property
    def accepted(self) -> list[Decision]:
        """Readings that nobody would look at."""
        return [d for d in self.decisions if d.accepted]

    @cached_property
    def empty_pages(self) -> list[PageOutcome]:
        """Pages with surely nothing to read."""
        return [page for page in self.pages if page.truth.has_nothing]

    @cached_property
    def corner_errors(self) -> list[float]:
        """Corner error of every diagram found, in fret spaces."""
        errors = (agreement.corner_error(truth.drawn, reading.corners) for truth, reading in self.met)
        return [e for e in errors if e is not None]

    @cached_property
    def tabs(self) -> list[TabPair]:
        """Every true tab system that counts, with its reading."""
        return [pair for page in self.pages for pair in page.tabs if not pair.truth.hard]

    @cached_property
    def notes(self) -> list[NoteCount]:
        """Notes of every system that is drawn or read."""
        return [_count_notes(pair) for pair in self.tabs] + [
            NoteCount(0, agreement.count_notes(agreement.struck_notes(tab)), 0, tab.accepted, False)
            for page in self.pages
            for tab in page.false_tabs
        ]

    @cached_property
    def seconds(self) -> list[float]:
        """Times of the pages whose reading was timed."""
        return [page.seconds for page in self.pages if page.seconds is not None]


@dataclass(frozen=True, slots=True)
class NoteCount:
    """Notes of one system: drawn, read and shared, whether it was accepted, whether every event is right."""

    drawn: int
    read: int
    shared: int
    accepted: bool
    exact: bool


def _count_notes(pair: TabPair) -> NoteCount:
    drawn = agreement.struck_notes(pair.truth.drawn)
    read = agreement.struck_notes(pair.reading) if pair.reading else []
    return NoteCount(
        drawn=agreement.count_notes(drawn),
        read=agreement.count_notes(read),
        shared=agreement.shared_notes(drawn, read),
        accepted=pair.reading is not None and pair.reading.accepted,
        exact=pair.reading is not None and drawn == read,
    )
