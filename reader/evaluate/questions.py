"""What is asked about every true diagram: a table of questions, each with its definition."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from reader.evaluate import agreement
from reader.evaluate.figures import share
from reader.evaluate.judge import DiagramPair
from reader.evaluate.truth import TrueDiagram
from reader.reading import Reading


@dataclass(frozen=True, slots=True)
class Question:
    """Something to ask about every true diagram that it applies to.

    Parameters
    ----------
    name, definition : str
    right : function of (TrueDiagram, Reading) to bool
    applies : function of TrueDiagram to bool
    """

    name: str
    definition: str
    right: Callable[[TrueDiagram, Reading], bool]
    applies: Callable[[TrueDiagram], bool] = lambda _: True


def _frets(truth: TrueDiagram, reading: Reading) -> bool:
    return agreement.same_frets(truth.drawn.frame, reading.frame)


def _fingers_drawn(truth: TrueDiagram) -> bool:
    return truth.fingers_count and agreement.has_fingers(truth.drawn.frame)


def _no_fingers_drawn(truth: TrueDiagram) -> bool:
    return truth.fingers_count and not agreement.has_fingers(truth.drawn.frame)


def _label_drawn(truth: TrueDiagram) -> bool:
    return truth.label_counts and agreement.has_label(truth.drawn)


def _no_label_drawn(truth: TrueDiagram) -> bool:
    return truth.label_counts and not agreement.has_label(truth.drawn)


def _barres(truth: TrueDiagram, reading: Reading) -> bool:
    return agreement.same_barres(truth.drawn.frame, reading.frame)


def _first_fret(truth: TrueDiagram, reading: Reading) -> bool:
    return truth.drawn.frame.first_fret == reading.frame.first_fret


QUESTIONS: tuple[Question, ...] = (
    Question("exact_shape", "All frets right, of all true diagrams", _frets),
    Question(
        "string_count",
        "Strings counted right, of all true diagrams",
        lambda t, r: t.drawn.frame.string_count == r.frame.string_count,
    ),
    Question(
        "fret_count",
        "Fret spaces counted right, of all true diagrams",
        lambda t, r: t.drawn.frame.fret_count == r.frame.fret_count,
    ),
    Question("first_fret", "Number of the first fret right, of all true diagrams", _first_fret),
    Question(
        "first_fret_where_moved",
        "Number of the first fret right, of true diagrams where it is not 1",
        _first_fret,
        lambda t: t.drawn.frame.first_fret > 1,
    ),
    Question(
        "way_up",
        "Nut found on the side of the page where it lies, of all true diagrams",
        lambda t, r: agreement.way_up(t.drawn.corners) == agreement.way_up(r.corners),
    ),
    Question(
        "fingers_exact",
        "Every finger right, of true diagrams with finger numbers",
        lambda t, r: agreement.same_fingers(t.drawn.frame, r.frame),
        _fingers_drawn,
    ),
    Question(
        "no_fingers_right",
        "No finger read, of true diagrams without finger numbers",
        lambda _, r: not agreement.has_fingers(r.frame),
        _no_fingers_drawn,
    ),
    Question(
        "barre_exact", "Every barre right, of true diagrams with one", _barres, lambda t: bool(t.drawn.frame.barres)
    ),
    Question("barre_exact_all", "Barres right, none where none is drawn, of all true diagrams", _barres),
    Question(
        "label_exact",
        "Label right in any spelling, of true diagrams with one",
        lambda t, r: agreement.same_label(t.drawn.label, r.label),
        _label_drawn,
    ),
    Question(
        "label_seen", "Any label read, of true diagrams with one", lambda _, r: agreement.has_label(r), _label_drawn
    ),
    Question(
        "no_label_right",
        "No label read, of true diagrams without one",
        lambda _, r: not agreement.has_label(r),
        _no_label_drawn,
    ),
    Question(
        "name_right",
        "Computed name right in any spelling, of true diagrams whose truth names the chord",
        lambda t, r: agreement.same_label(t.drawn.name, r.name),
        lambda t: t.drawn.name is not None,
    ),
    Question(
        "name_listed",
        "True name among all computed names, of the same diagrams",
        lambda t, r: any(agreement.same_label(t.drawn.name, n) for n in (r.name, *r.other_names)),
        lambda t: t.drawn.name is not None,
    ),
)


def ask(question: Question, pairs: Iterable[DiagramPair]) -> float | None:
    """Share of the true diagrams that a question applies to for which the answer is right; missed ones are wrong."""
    return share(
        pair.reading is not None and question.right(pair.truth, pair.reading)
        for pair in pairs
        if question.applies(pair.truth)
    )
