"""The yardstick: one table of metrics, each a definition and the function that measures it.

All shares run from 0 to 1 and are None where nothing could be asked. A missed diagram is wrong in every respect.
Diagrams marked hard count only in the rows whose name starts with ``hard_``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from reader.evaluate.figures import (
    CalibrationBin,
    RiskPoint,
    calibration_bins,
    calibration_error,
    percentile,
    ratio,
    risk_at_review,
    risk_coverage,
    share,
)
from reader.evaluate.judge import PageOutcome
from reader.evaluate.questions import QUESTIONS, Question, ask
from reader.evaluate.sample import Number, Sample
from reader.evaluate.tab_metrics import (
    note_f1,
    note_precision,
    note_recall,
    notes_drawn,
    silent_wrong_notes,
    tab_exact,
    tab_false,
    tab_false_on_empty,
    tab_line_count,
    tab_recall,
    tab_silent_error_rate,
    tab_silent_errors,
)

EXACT_SHAPE = next(q for q in QUESTIONS if q.name == "exact_shape")


Unit = Literal["share", "count", "spaces", "seconds", "per 100 pages"]


@dataclass(frozen=True, slots=True)
class Metric:
    """A name, what it means in one line, its unit, and how it is measured."""

    name: str
    definition: str
    unit: Unit
    measure: Callable[[Sample], Number]


@dataclass(frozen=True, slots=True)
class Scores:
    """All figures of one sample.

    Parameters
    ----------
    numbers : dict of str to number or None
        By name of the metric, in the order of `METRICS`.
    calibration : tuple of CalibrationBin
    risk_coverage : tuple of RiskPoint
    """

    numbers: dict[str, Number]
    calibration: tuple[CalibrationBin, ...]
    risk_coverage: tuple[RiskPoint, ...]


def measure(pages: Sequence[PageOutcome]) -> Scores:
    """Every figure of the yardstick for some judged pages."""
    sample = Sample(pages)
    return Scores(
        numbers={metric.name: metric.measure(sample) for metric in METRICS},
        calibration=tuple(calibration_bins(sample.decisions)),
        risk_coverage=tuple(risk_coverage(sample.decisions, len(sample.drawn))),
    )


def group_pages(pages: Sequence[PageOutcome], fields: Sequence[str]) -> dict[str, list[PageOutcome]]:
    """Pages by the values of page fields (``kind``, ``hand``), joined by slashes, in order of the values."""
    groups: dict[str, list[PageOutcome]] = {}
    for page in pages:
        groups.setdefault("/".join(page.truth.fields.get(f, "none") for f in fields), []).append(page)
    return dict(sorted(groups.items()))


# ---------------------------------------------------------------- pages


def pages_missing(sample: Sample) -> int:
    """Pages that the readings do not know."""
    return sum(page.reading is None for page in sample.pages)


def pages_failed(sample: Sample) -> int:
    """Pages whose reading ended with an error."""
    return sum(page.reading is not None and page.reading.error is not None for page in sample.pages)


# ---------------------------------------------------------------- finding


def recall(sample: Sample) -> Number:
    """Found, of all true diagrams."""
    return ratio(len(sample.met), len(sample.drawn))


def precision(sample: Sample) -> Number:
    """Readings that meet a true diagram, of all that count."""
    return ratio(len(sample.met), len(sample.met) + len(sample.false))


def false_per_100_pages(sample: Sample) -> Number:
    """Readings where nothing is drawn, per hundred pages whose truth is complete."""
    return ratio(100 * len(sample.false), sum(not page.truth.partial for page in sample.pages))


def false_on_empty(sample: Sample) -> int:
    """Readings on pages with nothing to read."""
    return sum(len(page.false) for page in sample.empty_pages)


def false_on_empty_accepted(sample: Sample) -> int:
    """The same, not flagged."""
    return sum(reading.accepted for page in sample.empty_pages for reading in page.false)


# ---------------------------------------------------------------- doubt


def exact_of_found(sample: Sample) -> Number:
    """All frets right, of the diagrams found."""
    return share(EXACT_SHAPE.right(truth, reading) for truth, reading in sample.met)


def flagged_share(sample: Sample) -> Number:
    """Flagged, of the readings that count."""
    return share(not d.accepted for d in sample.decisions)


def silent_errors(sample: Sample) -> int:
    """Wrong and not flagged; an accepted reading where nothing is drawn is one."""
    return sum(d.wrong for d in sample.accepted)


def silent_error_rate(sample: Sample) -> Number:
    """Wrong, of the accepted."""
    return share(d.wrong for d in sample.accepted)


def review_share(sample: Sample) -> Number:
    """Flagged or missed, of all true diagrams: what is left for a person."""
    return share(pair.reading is None or not pair.reading.accepted for pair in sample.drawn)


def accepted_right_share(sample: Sample) -> Number:
    """Accepted and right, of all true diagrams: what nobody needs to touch."""
    return ratio(sum(not d.wrong for d in sample.accepted), len(sample.drawn))


def expected_calibration_error(sample: Sample) -> Number:
    """Mean distance between confidence and share right over ten bins."""
    return calibration_error(calibration_bins(sample.decisions))


# ---------------------------------------------------------------- hard diagrams


def hard_found(sample: Sample) -> int:
    """Hard diagrams that were found."""
    return sum(pair.reading is not None for pair in sample.hard)


def hard_exact(sample: Sample) -> int:
    """Hard diagrams with all frets right."""
    return sum(p.reading is not None and EXACT_SHAPE.right(p.truth, p.reading) for p in sample.hard)


def hard_silent_errors(sample: Sample) -> int:
    """Hard diagrams read wrong and not flagged."""
    return sum(
        p.reading is not None and p.reading.accepted and not EXACT_SHAPE.right(p.truth, p.reading) for p in sample.hard
    )


# ---------------------------------------------------------------- the table


def _metric(function: Callable[[Sample], Number], unit: Unit) -> Metric:
    """A metric named and defined by the function that measures it."""
    return Metric(function.__name__, (function.__doc__ or "").strip().rstrip("."), unit, function)


def _question(question: Question) -> Metric:
    return Metric(question.name, question.definition, "share", lambda s: ask(question, s.drawn))


METRICS: tuple[Metric, ...] = (
    Metric("pages", "Pages measured", "count", lambda s: len(s.pages)),
    _metric(pages_missing, "count"),
    _metric(pages_failed, "count"),
    Metric("diagrams", "True diagrams that count", "count", lambda s: len(s.drawn)),
    Metric("found", "True diagrams that a reading meets", "count", lambda s: len(s.met)),
    _metric(recall, "share"),
    _metric(precision, "share"),
    Metric("false_diagrams", "Readings where nothing is drawn", "count", lambda s: len(s.false)),
    _metric(false_per_100_pages, "per 100 pages"),
    Metric("empty_pages", "Pages with nothing to read", "count", lambda s: len(s.empty_pages)),
    _metric(false_on_empty, "count"),
    _metric(false_on_empty_accepted, "count"),
    *(_question(question) for question in QUESTIONS),
    _metric(exact_of_found, "share"),
    Metric("corner_error_mean", "Corner error, mean, in fret spaces", "spaces", lambda s: _mean(s.corner_errors)),
    Metric("corner_error_median", "Corner error, median", "spaces", lambda s: percentile(s.corner_errors, 0.5)),
    Metric(
        "corner_error_p95",
        "Corner error that 95 of 100 stay below",
        "spaces",
        lambda s: percentile(s.corner_errors, 0.95),
    ),
    _metric(flagged_share, "share"),
    Metric("accepted", "Readings that are not flagged", "count", lambda s: len(s.accepted)),
    _metric(silent_errors, "count"),
    _metric(silent_error_rate, "share"),
    _metric(review_share, "share"),
    _metric(accepted_right_share, "share"),
    _metric(expected_calibration_error, "share"),
    Metric(
        "risk_at_10_percent_review",
        "Wrong among the rest when the most doubtful tenth is looked at",
        "share",
        lambda s: risk_at_review(s.decisions, 0.10),
    ),
    Metric(
        "risk_at_25_percent_review",
        "Wrong among the rest when the most doubtful quarter is looked at",
        "share",
        lambda s: risk_at_review(s.decisions, 0.25),
    ),
    Metric("hard_diagrams", "Hard diagrams", "count", lambda s: len(s.hard)),
    _metric(hard_found, "count"),
    _metric(hard_exact, "count"),
    _metric(hard_silent_errors, "count"),
    Metric("tab_systems", "True tab systems that count", "count", lambda s: len(s.tabs)),
    _metric(tab_recall, "share"),
    _metric(tab_false, "count"),
    _metric(tab_false_on_empty, "count"),
    _metric(tab_exact, "share"),
    _metric(tab_line_count, "share"),
    _metric(notes_drawn, "count"),
    _metric(note_precision, "share"),
    _metric(note_recall, "share"),
    _metric(note_f1, "share"),
    _metric(tab_silent_errors, "count"),
    _metric(tab_silent_error_rate, "share"),
    _metric(silent_wrong_notes, "share"),
    Metric("seconds_median", "Time per page, median", "seconds", lambda s: percentile(s.seconds, 0.5)),
    Metric("seconds_p95", "Time per page that 95 of 100 stay below", "seconds", lambda s: percentile(s.seconds, 0.95)),
)


def _mean(values: Sequence[float]) -> float | None:
    return ratio(sum(values), len(values))
