"""The readings to look at first: what is wrong, the most harmful first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from reader.evaluate.agreement import same_frets
from reader.evaluate.judge import PageOutcome
from reader.reading import Reading

FaultKind = Literal["silent", "missed", "flagged"]

HARM: dict[FaultKind, int] = {"silent": 0, "missed": 1, "flagged": 2}
"""A wrong shape that nobody would look at harms most, one that is flagged least."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A diagram read wrong, missed, or read where nothing is drawn.

    Parameters
    ----------
    source : str
    page : int
    kind : {'silent', 'missed', 'flagged'}
    truth : Reading or None
        As drawn; None where nothing is.
    reading : Reading or None
        As read, corners in truth pixels; None where it was missed.
    """

    source: str
    page: int
    kind: FaultKind
    truth: Reading | None
    reading: Reading | None

    def __str__(self) -> str:
        drawn = "nothing" if self.truth is None else str(self.truth.frame.shape)
        read = "nothing" if self.reading is None else str(self.reading.frame.shape)
        doubt = f", confidence {self.reading.confidence:.3f}" if self.reading else ""
        codes = ", ".join(f.code for f in self.reading.flags) if self.reading else ""
        return f"{self.source} page {self.page}: {self.kind}, drawn {drawn}, read {read}{doubt}" + (
            f" ({codes})" if codes else ""
        )


def find_faults(pages: Iterable[PageOutcome]) -> list[Fault]:
    """All faults of diagrams that count, the most harmful first, within one kind the most confident."""
    faults = [fault for page in pages for fault in _page_faults(page)]
    return sorted(faults, key=lambda f: (HARM[f.kind], -(f.reading.confidence if f.reading else 0.0)))


def faults_by_page(faults: Sequence[Fault]) -> dict[tuple[str, int], list[Fault]]:
    """The same faults by page, so that each page is opened once."""
    by_page: dict[tuple[str, int], list[Fault]] = {}
    for fault in faults:
        by_page.setdefault((fault.source, fault.page), []).append(fault)
    return by_page


def _page_faults(outcome: PageOutcome) -> Iterator[Fault]:
    source, number = outcome.truth.page.source, outcome.truth.page.page
    for pair in outcome.diagrams:
        reading = pair.reading
        if pair.truth.hard or (reading is not None and same_frets(pair.truth.drawn.frame, reading.frame)):
            continue
        yield Fault(source, number, _kind(reading), pair.truth.drawn, reading)
    for reading in outcome.false:
        yield Fault(source, number, _kind(reading), None, reading)


def _kind(reading: Reading | None) -> FaultKind:
    if reading is None:
        return "missed"
    return "silent" if reading.accepted else "flagged"
