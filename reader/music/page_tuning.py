"""Which tuning a page was drawn for: the one under which most labels name their dots."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from reader.errors import NotationError
from reader.music.chord import Chord
from reader.music.judging import Verdict, judge
from reader.music.label import parse_label
from reader.music.label_style import NoteNames
from reader.music.shape import Shape
from reader.music.told_tuning import told_tuning
from reader.music.tuning import DEFAULT_IDS, Tuning, default_tuning, get_tuning, tunings_with

LabelledShape = tuple[Shape, str | None]

CERTAIN = 0.9
"""Probability from which nobody needs to be asked."""
ELSEWHERE_WEIGHT = 0.5
"""What a diagram on another page of the file counts, against one on this page."""
USUAL, RARE, CAPO = 0.8, 0.03, 0.001
"""Before any label is read: the usual tuning of so many strings, any other listed one, the usual one with a capo at a
given fret (judged by hand, no source)."""
HIGHEST_CAPO = 7

_LIKELIHOOD: dict[Verdict, float] = {
    "same": 0.6,
    "inversion": 0.6,
    "short": 0.04,
    "family": 0.02,
    "different": 0.07,
}
"""How often labels say so under the right tuning (judged by hand, no source): most agree, with or without the bass,
which few labels name; 'different' covers slips of teacher and reader."""


@dataclass(frozen=True, slots=True)
class TuningVote:
    """How the labels speak for one tuning.

    Parameters
    ----------
    tuning : Tuning
    agreeing : int
        Labels of this page that agree with their dots.
    probability : float
    """

    tuning: Tuning
    agreeing: int
    probability: float


@dataclass(frozen=True, slots=True)
class PageTuning:
    """The tuning of a page, and how sure that is.

    Parameters
    ----------
    tuning : Tuning
    certainty : float
        Probability that the diagrams of the page have these notes; tunings
        that differ only by octaves, or on strings that no diagram plays,
        count together.
    certain : bool
        Whether nobody needs to be asked: ``certainty`` is high, and at least
        half of the labels agree.
    reason : str
        One sentence.
    checked : int
        Labels of this page that could be read.
    votes : tuple of TuningVote
        Likeliest first.
    """

    tuning: Tuning
    certainty: float
    certain: bool
    reason: str
    checked: int
    votes: tuple[TuningVote, ...]


def choose_tuning(
    page: Sequence[LabelledShape],
    elsewhere: Sequence[LabelledShape] = (),
    given: str | Tuning | None = None,
    string_count: int | None = None,
    note_names: NoteNames = "english",
) -> PageTuning:
    """The tuning of a page.

    Parameters
    ----------
    page : sequence of (Shape, label or None)
        The diagrams of the page.
    elsewhere : sequence of (Shape, label or None)
        Those of the other pages of the file, which count half.
    given : str or Tuning, optional
        What the person said (``--tuning``): overrules everything.
    string_count : int, optional
        Diagrams with other numbers of strings are left aside; by default the
        commonest number.
    note_names : {'english', 'german', 'solfege'}

    Raises
    ------
    NotationError
        When ``given`` is no tuning, or no tuning is known for so many strings.

    Examples
    --------
    >>> chosen = choose_tuning([(Shape.parse("0003"), "C"), (Shape.parse("2010"), "F")])
    >>> chosen.tuning.id, chosen.certain
    ('ukulele', True)
    """
    if given is not None:
        tuning = get_tuning(given) if isinstance(given, str) else given
        return PageTuning(tuning, 1.0, True, f"{tuning.name} was asked for.", 0, ())
    count = string_count or _commonest_count([*page, *elsewhere])
    here = _parsed(page, count, note_names)
    there = _parsed(elsewhere, count, note_names)
    votes = _votes(here, there, count)
    best = votes[0]
    shapes = [shape for shape, _ in page if shape.string_count == count]
    alike = [v for v in votes if _sound_alike(v.tuning, best.tuning, shapes)]
    certainty = min(1.0, sum(v.probability for v in alike))
    certain = certainty >= CERTAIN and 2 * best.agreeing >= len(here)
    told = None if certain else told_tuning([*here, *there], count)
    if told is not None:
        agreeing = sum(judge(chord, shape, told)[0] != "different" for shape, chord in here)
        vote = TuningVote(told, agreeing, CERTAIN)
        reason = f"{agreeing} of {len(here)} labels agree with their dots on strings {told.name}, which they tell."
        return PageTuning(told, CERTAIN, True, reason, len(here), (vote, *votes))
    reason = _reason(best, len(here), certain)
    return PageTuning(best.tuning, certainty, certain, reason, len(here), tuple(votes))


def _commonest_count(items: Iterable[LabelledShape]) -> int:
    counts = Counter(shape.string_count for shape, _ in items)
    return counts.most_common(1)[0][0] if counts else 4


def _parsed(items: Iterable[LabelledShape], count: int, note_names: NoteNames) -> list[tuple[Shape, Chord]]:
    found = []
    for shape, label in items:
        chord = parse_label(label, note_names) if label and shape.string_count == count else None
        if isinstance(chord, Chord):
            found.append((shape, chord))
    return found


def _candidates(count: int) -> list[tuple[Tuning, float]]:
    if not tunings_with(count):
        raise NotationError(f"No tuning of {count} strings is known: give one by its notes, as in --tuning 'G3 D4 A4'.")
    usual = default_tuning(count) if count in DEFAULT_IDS else tunings_with(count)[0]
    listed = [(t, USUAL if t == usual else RARE) for t in tunings_with(count)]
    return listed + [(usual.with_capo(fret), CAPO) for fret in range(1, HIGHEST_CAPO + 1)]


def _votes(here: list[tuple[Shape, Chord]], there: list[tuple[Shape, Chord]], count: int) -> list[TuningVote]:
    scored = []
    for tuning, prior in _candidates(count):
        verdicts = [judge(chord, shape, tuning)[0] for shape, chord in here]
        # one shape drawn over again under one label is one piece of evidence
        near = [judge(chord, shape, tuning)[0] for shape, chord in dict.fromkeys(here)]
        far = [judge(chord, shape, tuning)[0] for shape, chord in dict.fromkeys(there)]
        score = math.log(prior) + sum(math.log(_LIKELIHOOD[v]) for v in near)
        score += ELSEWHERE_WEIGHT * sum(math.log(_LIKELIHOOD[v]) for v in far)
        scored.append((score, sum(v != "different" for v in verdicts), tuning))
    top = max(score for score, _, _ in scored)
    total = sum(math.exp(score - top) for score, _, _ in scored)
    votes = [TuningVote(tuning, agreeing, math.exp(score - top) / total) for score, agreeing, tuning in scored]
    return sorted(votes, key=lambda v: -v.probability)


def _sound_alike(one: Tuning, other: Tuning, shapes: Iterable[Shape]) -> bool:
    """Whether every shape has the same notes under both, whatever their octaves."""
    strings = {i for shape in shapes for i, fret in enumerate(shape.frets) if fret is not None}
    apart = {i for i, (p, q) in enumerate(zip(one.pitches, other.pitches, strict=True)) if (p - q) % 12}
    return not strings & apart


def _reason(best: TuningVote, checked: int, certain: bool) -> str:
    if not checked:
        return f"No label to tell the tuning: {best.tuning.name} is the usual one."
    agree = f"{best.agreeing} of {checked} labels agree with their dots on {best.tuning.name}"
    return f"{agree}." if certain else f"{agree}; check the tuning."
