"""From one chord to the next: shapes chosen so that changes are easy, and what each finger does, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from reader.music.fingering import Change, Fingering, change, usual_fingerings
from reader.music.shapes import cost_of
from reader.music.tuning import Tuning
from reader.sheets.book import fingerings_of
from reader.sheets.chords import SheetChord, SheetShape
from reader.sheets.words import NO_BREAK

UNUSUAL_SHAPE, UNUSUAL_FINGERS = 2.0, 10.0
"""Weights of an unusual shape and an unusual fingering against the changes before and after: what the hand knows is
not given up for a small gain (set by hand against common practice)."""
SMALLEST_GAIN = 1e-9


@dataclass(frozen=True, slots=True)
class Played:
    """A chord with the shape and the fingers chosen for it."""

    chord: SheetChord
    shape: SheetShape
    fingering: Fingering


def main_fingering(chord: SheetChord, tuning: Tuning) -> Fingering | None:
    """The fingers of a chord's first shape; None beyond most hands."""
    return next(iter(fingerings_of(chord.main, tuning)), None)


def choices(chord: SheetChord, tuning: Tuning) -> tuple[Played, ...]:
    """Every way to play a chord that a sheet may choose from; a library's shapes leave no choice of others."""
    own = [shape for shape in chord.shapes if shape.origin == "library"]
    return tuple(Played(chord, shape, f) for shape in own or chord.shapes for f in fingerings_of(shape, tuning))


def easiest(chords: Sequence[SheetChord], order: Sequence[int], tuning: Tuning) -> tuple[Played, ...]:
    """One way to play each chord, so that playing them in an order is easy.

    Parameters
    ----------
    chords : sequence of SheetChord
        Each once; a chord keeps its shape throughout.
    order : sequence of int
        Indices into ``chords`` in the order played, the first repeated at the end when it goes round.
    tuning : Tuning

    Returns
    -------
    tuple of Played
        One per chord. Found by improving one chord at a time until nothing gets better.
    """
    options = [choices(chord, tuning) for chord in chords]
    habits = [[_habit(way, tuning) for way in ways] for ways in options]
    habits = [[habit - min(row) for habit in row] for row in habits]
    pairs = list(pairwise(order))
    times = [max(1, sum((a == n) + (b == n) for a, b in pairs)) for n in range(len(chords))]
    chosen = [row.index(0.0) for row in habits]

    def total(pick: list[int]) -> float:
        steps = sum(change(options[a][pick[a]].fingering, options[b][pick[b]].fingering).cost for a, b in pairs)
        return steps + sum(n * row[way] for n, row, way in zip(times, habits, pick, strict=True))

    best, improved = total(chosen), True
    while improved:
        improved = False
        for index, ways in enumerate(options):
            for way in range(len(ways)):
                trial = [*chosen[:index], way, *chosen[index + 1 :]]
                cost = total(trial)
                if cost < best - SMALLEST_GAIN:
                    best, chosen, improved = cost, trial, True
    return tuple(ways[n] for ways, n in zip(options, chosen, strict=True))


def _habit(way: Played, tuning: Tuning) -> float:
    """How far from the usual."""
    usual = usual_fingerings(way.fingering.shape, tuning, most=1)[0]
    fingers = UNUSUAL_FINGERS * (way.fingering.cost - usual.cost)
    return UNUSUAL_SHAPE * cost_of(usual, way.chord.chord, tuning) + fingers


FINGER_NAMES: dict[int | str, str] = {1: "index", 2: "middle", 3: "ring", 4: "little", "T": "thumb"}


def change_sentences(move: Change) -> tuple[str, ...]:
    """What each finger does, one short sentence a finger; those that stay come first.

    Examples
    --------
    >>> from reader.music.fingering import easiest_change
    >>> from reader.music.shape import Shape
    >>> from reader.music.tuning import get_tuning
    >>> easy = easiest_change(Shape.parse("2000"), Shape.parse("2010"), get_tuning("ukulele"))
    >>> [s.replace(NO_BREAK, " ") for s in change_sentences(easy)]
    ['2 (middle) stays.', '1 (index) comes down: string 2, fret 1.']
    """
    old, new = move.before.places(), move.after.places()
    count = move.after.shape.string_count
    out = [f"{_name(f)} stays." for f in move.stay]
    out += [f"{_name(f)} slides from {_fret(old[f][0])} to {_fret(new[f][0])}." for f in move.slide]
    out += [f"{_name(f)} moves to {_place(new[f], count)}." for f in move.move]
    out += [f"{_name(f)} comes down: {_place(new[f], count)}." for f in move.land]
    out += [f"{_name(f)} lifts." for f in move.lift]
    return tuple(out) or ("No finger moves.",)


def fingers_named(fingers: Sequence[int | str]) -> str:
    """Some fingers in one phrase.

    Examples
    --------
    >>> fingers_named((1, 2, "T")).replace(NO_BREAK, " ")
    '1 (index), 2 (middle) and T (thumb)'
    """
    *others, last = map(_name, fingers)
    return f"{', '.join(others)} and {last}" if others else last


def _name(finger: int | str) -> str:
    return f"{finger}{NO_BREAK}({FINGER_NAMES[finger]})"


def _fret(number: int) -> str:
    return f"fret{NO_BREAK}{number}"


def _place(place: tuple[int, tuple[int, ...]], count: int) -> str:
    fret, strings = place
    first, last = count - strings[0], count - strings[-1]
    where = f"string{NO_BREAK}{first}" if first == last else f"strings {first}{NO_BREAK}to{NO_BREAK}{last}"
    return f"{where}, {_fret(fret)}"
