"""Weighs what the ink may mean against what the label may say: each is read apart, and each checks the other."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from reader.frames import Option
from reader.music.chord import Chord
from reader.music.frame import Frame
from reader.music.judging import judge
from reader.music.label import parse_label
from reader.music.label_style import NoteNames
from reader.music.page_tuning import PageTuning
from reader.music.quality import get_quality
from reader.music.shape import Shape
from reader.music.tuning import Tuning

LABEL_SURE = 0.3
"""Labels read with less certainty do not take part in a decision."""
FEW_STRINGS = 5
"""Instruments of fewer strings sound all of them."""
LEAST_LABEL = 0.02
"""A second reading of a label is considered from this probability on."""
SURELY_NONE = 0.8
"""Probability of there being no label from which none is considered: what else could be read belongs to a neighbour."""
BY_CHANCE = 0.1
"""Share of wrong readings that agree with a label all the same (measured on drawn pages)."""
USUAL_AGREEING, USUAL_CHECKED = 2.0, 3.0
"""Before any label of a page is read: so many of so many agree with their dots (judged by hand)."""
MOST_ODDS = 60.0
Agreement = Literal["agrees", "differs", "silent"]


@dataclass(frozen=True, slots=True)
class Weighed:
    """One option beside the reading of the label that suits it best.

    Parameters
    ----------
    share : of the probability of all options
    label : None: no label
    label_p : probability of this label, whatever the option
    """

    option: Option
    share: float
    verdict: Agreement
    label: str | None
    label_p: float


def weigh(
    options: list[Option], labels: tuple[tuple[str, float], ...], page: PageTuning, names: NoteNames
) -> list[Weighed]:
    """All options, likeliest first.

    Parameters
    ----------
    labels : readings of the label with their probabilities, best first; an empty text: no label
    page : the tuning, and how well the labels of the page agree with their dots
    """
    labels = tuple(r for i, r in enumerate(labels) if i == 0 or r[1] >= LEAST_LABEL) or (("", 1.0),)
    if labels[0][0] == "" and labels[0][1] >= SURELY_NONE:
        labels = labels[:1]
    odds = label_odds(page)
    by_label = dict.fromkeys((text for text, _ in labels), 0.0)
    found: list[tuple[float, Option, Agreement, str]] = []
    for option in options:
        parts: list[tuple[float, Agreement, str]] = []
        for text, p in labels:
            verdict = agreement(option.frame, text or None, page.tuning, names, option.bare)
            weight = option.probability * p * (odds if verdict == "agrees" else 1.0)
            by_label[text] += weight
            parts.append((weight, verdict, text))
        _, verdict, text = max(parts, key=lambda part: part[0])
        found.append((sum(part[0] for part in parts), option, verdict, text))
    total = sum(weight for weight, *_ in found) + 1e-12
    found.sort(key=lambda f: -f[0])
    return [Weighed(o, weight / total, v, t or None, by_label[t] / total) for weight, o, v, t in found]


def label_odds(page: PageTuning) -> float:
    """How much likelier a reading is that agrees with its label, on a page whose labels agree as these do."""
    agreeing = page.votes[0].agreeing if page.votes else 0
    share = (agreeing + USUAL_AGREEING) / (page.checked + USUAL_CHECKED)
    return min(MOST_ODDS, share / (1 - share) * (1 - BY_CHANCE) / BY_CHANCE)


def agreement(
    frame: Frame, label: str | None, tuning: Tuning, names: NoteNames, bare: tuple[bool, ...] = ()
) -> Agreement:
    """Whether a frame sounds what a label says; silent: no label, or none that can be parsed or held against it.

    Parameters
    ----------
    bare : per string whether it has neither a stop nor a mark
        On five strings and more such strings at the sides are often meant not to be played.
    """
    if label is None or frame.string_count != tuning.string_count:
        return "silent"
    chord = parse_label(label, names)
    if not isinstance(chord, Chord):
        return "silent"
    if _sounds(chord, frame.shape, tuning):
        return "agrees"
    if chord.quality.written == "dim" and _sounds(replace(chord, quality=get_quality("dim7")), frame.shape, tuning):
        return "agrees"  # many write dim for the diminished seventh (common practice, no source)
    if frame.string_count >= FEW_STRINGS and any(_sounds(chord, s, tuning) for s in _without_sides(frame.shape, bare)):
        return "silent"
    return "differs"


def _sounds(chord: Chord, shape: Shape, tuning: Tuning) -> bool:
    verdict, missing = judge(chord, shape, tuning)
    if verdict == "short":
        return not any(d.number == 3 for d in missing)
    return verdict in ("same", "inversion", "family")


def _without_sides(shape: Shape, bare: tuple[bool, ...]) -> list[Shape]:
    """The shape with runs of bare strings at its sides not played, where at least two strings are left."""
    n = len(bare)
    left = next((i for i, b in enumerate(bare) if not b), 0)
    right = next((i for i, b in enumerate(bare[::-1]) if not b), 0)
    cuts = [(a, b) for a in range(min(left, 3) + 1) for b in range(min(right, 3) + 1) if a + b and n - a - b >= 2]
    return [Shape((None,) * a + shape.frets[a : n - b] + (None,) * b) for a, b in cuts]
