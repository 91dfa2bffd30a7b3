"""Scores as text for a person, as Markdown for README, and as JSON for programs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from reader.evaluate.metrics import METRICS, Scores, Unit
from reader.evaluate.sample import Number

NOTHING = "–"
"""Stands where nothing could be asked."""

FORMATS: dict[Unit, str] = {
    "share": "{:.1%}",
    "count": "{:d}",
    "spaces": "{:.3f}",
    "seconds": "{:.2f} s",
    "per 100 pages": "{:.1f}",
}

TABS = ("tab_systems", "tab_false")
ONLY_WHERE: dict[str, tuple[str, ...]] = {
    "false_on_empty": ("empty_pages",),
    "hard_": ("hard_diagrams",),
    "tab_": TABS,
    "note": TABS,
    "silent_wrong_notes": TABS,
    "pages_missing": ("pages_missing",),
    "pages_failed": ("pages_failed",),
}
"""Beginnings of names, and the counts without which such a row says nothing."""

RARE_SHARES = ("silent_error_rate", "silent_wrong_notes", "tab_silent_error_rate", "expected_calibration_error")
"""Shares near zero, shown with one more digit."""

DIAGRAM_COLUMNS = {
    "pages": "pages",
    "diagrams": "diagrams",
    "recall": "found",
    "false_per_100_pages": "false per 100 pages",
    "exact_shape": "all frets exact",
    "first_fret_where_moved": "first fret where not 1",
    "fingers_exact": "fingers",
    "label_exact": "label",
    "review_share": "to review",
    "silent_error_rate": "wrong among accepted",
    "expected_calibration_error": "calibration error",
}
TAB_COLUMNS = {
    "pages": "pages",
    "tab_systems": "systems",
    "tab_recall": "found",
    "tab_false": "false",
    "tab_exact": "exact",
    "note_f1": "note F1",
    "silent_wrong_notes": "wrong among accepted notes",
}
"""Columns of README's tables: name of the metric, heading."""


def show(name: str, unit: Unit, value: Number) -> str:
    """One figure as a person reads it.

    Examples
    --------
    >>> show("recall", "share", 0.98765), show("recall", "share", None)
    ('98.8%', '–')
    """
    if value is None:
        return NOTHING
    return ("{:.2%}" if name in RARE_SHARES else FORMATS[unit]).format(value)


def to_text(groups: Mapping[str, Scores]) -> str:
    """A table with one row per metric and one column per group; rows that say nothing are left out.

    Parameters
    ----------
    groups : mapping of str to Scores
        By heading, in the order of the columns.
    """
    rows = [["", *groups]]
    for metric in METRICS:
        values = [scores.numbers[metric.name] for scores in groups.values()]
        if set(values) != {None} and _says_something(metric.name, groups):
            rows.append([metric.name, *(show(metric.name, metric.unit, v) for v in values)])
    return "\n".join(_aligned(rows))


def _says_something(name: str, groups: Mapping[str, Scores]) -> bool:
    counts = next((counts for start, counts in ONLY_WHERE.items() if name.startswith(start)), None)
    return counts is None or any(scores.numbers[count] for scores in groups.values() for count in counts)


def to_calibration_text(scores: Scores) -> str:
    """The calibration bins and the risk at rising demands, as two small tables."""
    bins = [["confidence", "readings", "mean", "right"]]
    bins += [
        [f"{b.start:.1f}–{b.end:.1f}", str(b.count), f"{b.confidence:.3f}", f"{b.right:.3f}"]
        for b in scores.calibration
    ]
    risks = [["accept from", "accepted", "right of all", "wrong of accepted"]]
    risks += [
        [
            f"{p.confidence_least:.2f}",
            str(p.accepted),
            show("coverage", "share", p.coverage),
            show("silent_error_rate", "share", p.risk),
        ]
        for p in scores.risk_coverage
    ]
    return "\n".join([*_aligned(bins), "", *_aligned(risks)])


def to_markdown(groups: Mapping[str, Scores], heading: str = "pages") -> str:
    """The accuracy tables of README, one row per group: diagrams, and tabs where any are drawn.

    Parameters
    ----------
    groups : mapping of str to Scores
    heading : str
        What the groups are.
    """
    parts = []
    for wanted, columns in ((("diagrams", "empty_pages"), DIAGRAM_COLUMNS), (("tab_systems",), TAB_COLUMNS)):
        rows = {k: v for k, v in groups.items() if any(v.numbers[name] for name in wanted)}
        if rows:
            parts.append(_markdown_table(rows, columns, heading))
    return "\n\n".join(parts)


def _markdown_table(groups: Mapping[str, Scores], columns: Mapping[str, str], heading: str) -> str:
    units = {metric.name: metric.unit for metric in METRICS}
    lines = ["| " + " | ".join([heading, *columns.values()]) + " |", "| --- |" + " ---: |" * len(columns)]
    for name, scores in groups.items():
        cells = [show(column, units[column], scores.numbers[column]) for column in columns]
        lines.append("| " + " | ".join([name, *cells]) + " |")
    return "\n".join(lines)


def to_definitions() -> str:
    """Every metric with its definition, one per line."""
    return "\n".join(_aligned([[metric.name, metric.definition] for metric in METRICS], left=2))


def to_object(scores: Scores) -> dict[str, Any]:
    """Scores as plain dictionaries and lists, ready for ``json.dumps``."""
    return {
        **scores.numbers,
        "calibration": [asdict(b) for b in scores.calibration],
        "risk_coverage": [asdict(p) for p in scores.risk_coverage],
    }


def _aligned(rows: Sequence[Sequence[str]], left: int = 1) -> list[str]:
    """Rows padded to columns: the first ``left`` columns to the left, the others to the right."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return [
        "  ".join(
            c.ljust(w) if i < left else c.rjust(w) for i, (c, w) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]
