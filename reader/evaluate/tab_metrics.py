"""The metrics of tablature: systems and the notes in them."""

from __future__ import annotations

from reader.evaluate.figures import f_measure, ratio, share
from reader.evaluate.sample import Number, Sample


def tab_recall(sample: Sample) -> Number:
    """Found, of all true systems."""
    return share(pair.reading is not None for pair in sample.tabs)


def tab_exact(sample: Sample) -> Number:
    """Every event right and in order, of all true systems."""
    return ratio(sum(n.exact for n in sample.notes), len(sample.tabs))


def tab_line_count(sample: Sample) -> Number:
    """Lines counted right, of all true systems."""
    return share(p.reading is not None and p.reading.line_count == p.truth.drawn.line_count for p in sample.tabs)


def tab_false(sample: Sample) -> int:
    """Systems read where none is drawn."""
    return sum(len(page.false_tabs) for page in sample.pages)


def tab_false_on_empty(sample: Sample) -> int:
    """The same, on pages with nothing to read."""
    return sum(len(page.false_tabs) for page in sample.empty_pages)


def notes_drawn(sample: Sample) -> int:
    """Notes of all true systems."""
    return sum(n.drawn for n in sample.notes)


def note_precision(sample: Sample) -> Number:
    """Shared with the truth in order, of the notes read."""
    return ratio(sum(n.shared for n in sample.notes), sum(n.read for n in sample.notes))


def note_recall(sample: Sample) -> Number:
    """Shared with the truth in order, of the notes drawn."""
    return ratio(sum(n.shared for n in sample.notes), notes_drawn(sample))


def note_f1(sample: Sample) -> Number:
    """Harmonic mean of note precision and recall."""
    return f_measure(sum(n.shared for n in sample.notes), notes_drawn(sample), sum(n.read for n in sample.notes))


def tab_silent_errors(sample: Sample) -> int:
    """Systems accepted with anything wrong in them."""
    return sum(n.accepted and not n.exact for n in sample.notes)


def tab_silent_error_rate(sample: Sample) -> Number:
    """Wrong, of the systems accepted."""
    return share(not n.exact for n in sample.notes if n.accepted)


def silent_wrong_notes(sample: Sample) -> Number:
    """Notes wrong, left out or too many in accepted systems, per note read there."""
    accepted = [n for n in sample.notes if n.accepted]
    return ratio(sum(max(n.drawn, n.read) - n.shared for n in accepted), sum(n.read for n in accepted))
