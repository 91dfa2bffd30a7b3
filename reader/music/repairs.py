"""What would make a label and its dots agree: one dot moved, one string, the first fret, the tuning, or the label."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from reader.music.chord import Chord
from reader.music.judging import judge
from reader.music.label_style import LabelStyle
from reader.music.naming import name_shape
from reader.music.shape import MAX_FRET, Shape
from reader.music.tuning import Tuning, tunings_with

RepairKind = Literal["fret", "string", "mute", "open", "first-fret", "tuning", "mirror", "label"]

_COST: dict[RepairKind, float] = {
    "fret": 1.0,
    "string": 1.4,
    "mute": 1.6,
    "open": 1.6,
    "first-fret": 1.7,
    "label": 2.0,
    "tuning": 2.2,
    "mirror": 2.4,
}
"""How unlikely each slip of the pen or the eye is: a dot one fret off is the commonest (judged by hand, no source)."""
PER_FRET_MORE = 0.35
"""More, for each further fret that a dot must move."""
FARTHEST_MOVE = 3
OTHER_INSTRUMENT = 1.0
"""More, when the other tuning belongs to another instrument."""
ONE_SIGN_OFF = -0.7
"""Less, when label and name differ by one sign: G and G7, A and Am."""
NAMES_WORTH_PROPOSING = 0.6
"""A name whose cost is so little above the best one's may be the label that was meant."""
LESS_THAN_SAME = 0.5
"""More, when the repaired diagram only agrees as an inversion or with a tone left out."""
MOST_FRETS_OFF = 4
"""A first fret misread or forgotten by more than this is not proposed, except by an octave."""
WIDEST_SHAPE = 4
"""Frets between the lowest and highest finger beyond which a repaired shape is unlikely."""
TOO_WIDE = 1.0

_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


@dataclass(frozen=True, slots=True)
class Repair:
    """One change that makes label and dots agree.

    Parameters
    ----------
    kind : str
        fret or string (one dot moved), mute or open (one string), first-fret
        (all dots moved), tuning, mirror (drawn the other way round), label.
    shape : Shape
        After the change.
    tuning : Tuning
        After the change.
    label : str
        After the change.
    sentence : str
        What would be right, in plain words.
    cost : float
        Lower is likelier.
    """

    kind: RepairKind
    shape: Shape
    tuning: Tuning
    label: str
    sentence: str
    cost: float


def find_repairs(wanted: Chord, label: str, shape: Shape, tuning: Tuning, style: LabelStyle) -> tuple[Repair, ...]:
    """The changes that make a chord and a shape agree, likeliest first.

    Parameters
    ----------
    wanted : Chord
        What the label means.
    label : str
        As written, for the sentences.
    shape : Shape
    tuning : Tuning
    style : LabelStyle
        For the names that the dots may have.
    """
    found: list[Repair] = []
    for kind, changed, sentence, more in (
        *_one_dot_moved_along(shape, label),
        *_one_dot_moved_across(shape, label),
        *_one_string_silenced_or_opened(shape, label),
        *_all_dots_moved(shape, label),
        *_mirrored(shape, label),
    ):
        cost = _agreement_cost(wanted, changed, tuning)
        if cost is not None:
            cost += _COST[kind] + more + _width_cost(changed)
            found.append(Repair(kind, changed, tuning, label, sentence, cost))
    found += _other_tunings(wanted, label, shape, tuning)
    found += _other_labels(label, shape, tuning, style)
    return tuple(sorted(found, key=lambda r: r.cost))


def _agreement_cost(wanted: Chord, shape: Shape, tuning: Tuning) -> float | None:
    verdict, _ = judge(wanted, shape, tuning)
    return {"same": 0.0, "inversion": LESS_THAN_SAME, "short": 2 * LESS_THAN_SAME}.get(verdict)


def _width_cost(shape: Shape) -> float:
    width = max(shape.stopped, default=0) - min(shape.stopped, default=0)
    return TOO_WIDE if width > WIDEST_SHAPE else 0.0


_Change = tuple[RepairKind, Shape, str, float]


def _one_dot_moved_along(shape: Shape, label: str) -> Iterator[_Change]:
    for i, fret in enumerate(shape.frets):
        for by in range(-FARTHEST_MOVE, FARTHEST_MOVE + 1):
            if fret is None or not by or not 0 <= fret + by <= MAX_FRET:
                continue
            sentence = f"{label} would have the {_string(shape, i)} {_at(fret + by)}"
            yield "fret", _with(shape, {i: fret + by}), sentence, PER_FRET_MORE * (abs(by) - 1)


def _one_dot_moved_across(shape: Shape, label: str) -> Iterator[_Change]:
    for i, fret in enumerate(shape.frets):
        for j in (i - 1, i + 1):
            if fret and 0 <= j < shape.string_count and shape.frets[j] in (0, None):
                sentence = f"{label} would have the dot of the {_string(shape, i)} on the {_string(shape, j)}"
                yield "string", _with(shape, {i: 0, j: fret}), sentence, 0.0


def _one_string_silenced_or_opened(shape: Shape, label: str) -> Iterator[_Change]:
    for i, fret in enumerate(shape.frets):
        if fret == 0:
            yield "mute", _with(shape, {i: None}), f"{label} would have the {_string(shape, i)} not played", 0.0
        if fret is None:
            yield "open", _with(shape, {i: 0}), f"{label} would have the {_string(shape, i)} open", 0.0


def _all_dots_moved(shape: Shape, label: str) -> Iterator[_Change]:
    lowest = min(shape.stopped, default=0)
    if not lowest:
        return
    for by in (*range(-MOST_FRETS_OFF, 0), *range(1, MOST_FRETS_OFF + 1), 5, 7):
        if lowest + by >= 1 and max(shape.stopped) + by <= MAX_FRET:
            moved = Shape(tuple(f + by if f else f for f in shape.frets))
            yield "first-fret", moved, f"{label} would have its lowest dot at fret {lowest + by}", 0.0


def _mirrored(shape: Shape, label: str) -> Iterator[_Change]:
    flipped = Shape(shape.frets[::-1])
    if flipped != shape:
        yield "mirror", flipped, f"{label} is what the diagram spells from right to left", 0.0


def _other_tunings(wanted: Chord, label: str, shape: Shape, tuning: Tuning) -> Iterator[Repair]:
    seen = {_note_circle(tuning)}
    for other in tunings_with(tuning.string_count):
        cost = None if _note_circle(other) in seen else _agreement_cost(wanted, shape, other)
        if cost is not None:
            seen.add(_note_circle(other))
            away = 0.0 if other.instrument == tuning.instrument else OTHER_INSTRUMENT
            sentence = f"{label} is what the dots spell on {other.name}"
            yield Repair("tuning", shape, other, label, sentence, _COST["tuning"] + cost + away)


def _note_circle(tuning: Tuning) -> tuple[int, ...]:
    return tuple(p % 12 for p in tuning.pitches)


def _other_labels(label: str, shape: Shape, tuning: Tuning, style: LabelStyle) -> Iterator[Repair]:
    names = [n for n in name_shape(shape, tuning, style=style) if n.chord is not None]
    for name in names:
        behind = name.cost - names[0].cost
        if behind <= NAMES_WORTH_PROPOSING:
            near = ONE_SIGN_OFF if _one_sign_apart(label.replace(" ", ""), name.text) else 0.0
            sentence = f"the dots are right and the label should be {name.text}"
            yield Repair("label", shape, tuning, name.text, sentence, _COST["label"] + near + behind)


def _one_sign_apart(one: str, other: str) -> bool:
    if abs(len(one) - len(other)) > 1:
        return False
    short, long = sorted((one, other), key=len)
    if len(short) == len(long):
        return short[:1] == long[:1] and sum(a != b for a, b in zip(short, long, strict=True)) <= 1
    return any(long[:i] + long[i + 1 :] == short for i in range(1, len(long)))


def _with(shape: Shape, changes: dict[int, int | None]) -> Shape:
    return Shape(tuple(changes.get(i, f) for i, f in enumerate(shape.frets)))


def _string(shape: Shape, index: int) -> str:
    """As players number them: the rightmost is the first."""
    number = shape.string_count - index
    return f"{_ORDINALS[number - 1]} string" if number <= len(_ORDINALS) else f"string {number}"


def _at(fret: int) -> str:
    return f"at fret {fret}" if fret else "open"
