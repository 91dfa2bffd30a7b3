"""From a chord and a tuning to shapes that play it, the handiest first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise, product

from reader.music.chord import Chord
from reader.music.pitch import Degree
from reader.music.shape import Shape
from reader.music.tuning import Tuning

HIGHEST_FRET = 12
SHORT_SCALE_MM = 450.0
REACH, SHORT_SCALE_REACH = 3, 4
"""Frets between the lowest and the highest stop; short necks allow one more (common practice, no source)."""
FEWEST_SOUNDING = 4
"""Strings that sound at least on instruments with more: fewer sound thin (common practice, no source)."""

# What makes a shape less handy, in fingers; weighed so that the shapes of common practice come first.
POSITION_COST = 0.35  # for each fret that the hand moves up the neck
STRETCH_COST = 0.45  # for each fret between the lowest and the highest stop beyond the first
BARRE_COST = 0.9  # one finger across several strings costs about two
MISSING_COST = 1.2  # for each tone left out
INVERSION_COST = 1.4  # another tone than the root, or the asked-for bass, is lowest
SILENT_COST = 0.55  # for each string that must not sound
CUT_TREBLE_COST = 0.9  # silencing the highest string: it is the one heard most
UNISON_COST = 1.1  # neighbouring strings that sound the same pitch: one of them is wasted
MORE_THAN_A_HAND = 100.0
HAND = 4


@dataclass(frozen=True, slots=True)
class ChordShape:
    """One way to play a chord.

    Parameters
    ----------
    shape : Shape
    missing : tuple of Degree
        Tones of the chord that do not sound.
    inversion : bool
        Whether another tone than the root (or the asked-for bass) is lowest; never on re-entrant instruments,
        where no string is the bass.
    cost : float
        In fingers; less is handier.
    """

    shape: Shape
    missing: tuple[Degree, ...]
    inversion: bool
    cost: float


@lru_cache(maxsize=2048)
def shapes_for(chord: Chord, tuning: Tuning, max_fret: int = HIGHEST_FRET, limit: int = 12) -> tuple[ChordShape, ...]:
    """Shapes that play a chord, the handiest first.

    Parameters
    ----------
    chord : Chord
    tuning : Tuning
    max_fret : int
        Highest fret used.
    limit : int
        At most so many.

    Returns
    -------
    tuple of ChordShape
        Tones that players usually leave out may be missing, others only where the instrument has too few strings.
        Empty when nothing fits under a hand.

    Examples
    --------
    >>> from reader.music.label import parse_label
    >>> from reader.music.tuning import get_tuning
    >>> str(shapes_for(parse_label("C"), get_tuning("ukulele"))[0].shape)
    '0003'
    """
    for silent in _silences(tuning):
        found = {s: _judge(s, chord, tuning) for s in _candidates(chord, tuning, max_fret, silent)}
        usable = [option for option in found.values() if option.cost < MORE_THAN_A_HAND]
        if usable:
            return tuple(sorted(usable, key=_rank)[:limit])
    return ()


def _rank(option: ChordShape) -> tuple[float, str]:
    return round(option.cost, 6), str(option.shape)


def required_pitch_classes(chord: Chord, string_count: int) -> frozenset[int]:
    """What must sound: everything that is not usually left out, and with too few strings not even the root."""
    needed = chord.pitch_classes - chord.dispensable
    if chord.bass is not None:
        needed |= {chord.bass.pitch_class}
    if len(needed) > string_count:
        needed -= {chord.root.pitch_class}
    return frozenset(needed)


def _silences(tuning: Tuning) -> tuple[tuple[tuple[int, int], ...], ...]:
    """How many strings may be silent at the left and at the right: usual ways first, others only if those fail."""
    count = tuning.string_count
    if count <= FEWEST_SOUNDING:
        return ((0, 0),), ((1, 0), (0, 1))
    left = range(count - FEWEST_SOUNDING + 1)
    return (tuple(product(left, (0, 1))),)


def _candidates(chord: Chord, tuning: Tuning, max_fret: int, silences: tuple[tuple[int, int], ...]) -> Iterator[Shape]:
    """Every shape within reach of one hand position that sounds nothing foreign and all that is required."""
    needed = required_pitch_classes(chord, tuning.string_count)
    reach = SHORT_SCALE_REACH if tuning.scale_mm < SHORT_SCALE_MM else REACH
    for low in range(1, max_fret + 1):
        high = min(low + reach, max_fret)
        strings = [_frets_on(i, chord.pitch_classes, tuning, low, high) for i in range(tuning.string_count)]
        for left, right in silences:
            sounding = strings[left : tuning.string_count - right]
            for frets in product(*sounding):
                stopped = [f for f in frets if f]
                if min(stopped, default=1) != low:
                    continue
                if needed <= {tuning.pitch_at(left + i, f) % 12 for i, f in enumerate(frets)}:
                    yield Shape((None,) * left + frets + (None,) * right)


def _frets_on(string: int, wanted: frozenset[int], tuning: Tuning, low: int, high: int) -> list[int]:
    """The frets of one string that sound a wanted note: open, or within the hand's reach."""
    start = tuning.starts[string] if tuning.starts else 0
    frets = [0, *range(low, high + 1)] if not start else [0]
    return [f for f in frets if tuning.pitch_at(string, f) % 12 in wanted]


def _judge(shape: Shape, chord: Chord, tuning: Tuning) -> ChordShape:
    sounding = [p for p in tuning.sounding(shape) if p is not None]
    classes = {p % 12 for p in sounding}
    missing = tuple(d for d in chord.degrees if (chord.root.pitch_class + d.semitones) % 12 not in classes)
    inversion = not tuning.reentrant and min(sounding) % 12 != chord.bass_or_root.pitch_class
    unisons = sum(a == b for a, b in pairwise(sounding))
    cost = MISSING_COST * len(missing) + INVERSION_COST * inversion + UNISON_COST * unisons
    return ChordShape(shape, missing, inversion, cost + _hand_cost(shape) + _silence_cost(shape))


def _silence_cost(shape: Shape) -> float:
    return SILENT_COST * shape.frets.count(None) + (CUT_TREBLE_COST if shape.frets[-1] is None else 0.0)


def _hand_cost(shape: Shape) -> float:
    """Fingers, barre, stretch and place on the neck."""
    stopped = shape.stopped
    if not stopped:
        return 0.0
    low, high = min(stopped), max(stopped)
    fingers, barre = _fingers_needed(shape)
    if fingers > HAND:
        return MORE_THAN_A_HAND
    stretch = max(high - low - 1, 0)
    return fingers + BARRE_COST * barre + STRETCH_COST * stretch + POSITION_COST * (low - 1)


def _fingers_needed(shape: Shape) -> tuple[int, bool]:
    """How many fingers, and whether the index lies across several strings to save some."""
    stopped = shape.stopped
    low = min(stopped)
    places = [i for i, fret in enumerate(shape.frets) if fret == low]
    under = shape.frets[places[0] : places[-1] + 1]
    can_lie_across = len(places) > 1 and all(fret is None or fret >= low for fret in under)
    side_by_side = places[-1] - places[0] == len(places) - 1
    saves = len(stopped) > HAND or len(places) > 2 or (side_by_side and len(places) < len(stopped) - 1)
    if can_lie_across and saves:
        return len(stopped) - len(places) + 1, True
    return len(stopped), False
