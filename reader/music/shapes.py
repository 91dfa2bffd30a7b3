"""From a chord and a tuning to shapes that play it, the handiest first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise, product

from reader.music.chord import Chord
from reader.music.fingering import Fingering, usual_fingerings
from reader.music.frame import Frame
from reader.music.pitch import Degree
from reader.music.shape import Shape
from reader.music.tuning import Tuning

HIGHEST_FRET = 12
ROWS = 4  # fret spaces of a usual diagram
SHORT_SCALE_MM = 450.0
REACH, SHORT_SCALE_REACH = 3, 4
"""Frets between the lowest and the highest stop; short necks allow one more (common practice, no source)."""
FEWEST_SOUNDING = 4
"""Strings that sound at least on instruments with more: fewer sound thin (common practice, no source)."""

# What makes a shape less handy, in the unit of `Difficulty.score` (a finger is about half a point); weighed so that
# the shapes of common practice come first.
EACH_FRET_USED = 0.5  # at least: one finger for every fret that is pressed
POSITION_COST = 0.25  # for each fret that the hand moves up the neck
SPAN_COST = 0.22  # for each fret between the lowest and the highest stop beyond the first
MISSING_COST = 0.6  # for each tone left out
INVERSION_COST = 0.75  # another tone than the root, or the asked-for bass, is lowest
SILENT_COST = 0.3  # for each string that must not sound
CUT_TREBLE_COST = 0.45  # silencing the highest string: it is the one heard most
UNISON_COST = 0.55  # neighbouring strings that sound the same pitch: one of them is wasted
FAMILIAR_GAIN = 1.6  # for a shape that everybody teaches
MOVABLE_GAIN = 2.3  # for one that is moved along the neck: learned once, it serves twelve chords

_UKULELE = (
    "2100 0100 2000 0000 1100 3211 3111 1211 2322 4222 4322 2222 0003 0001 0333 0002 3333 1114 1112 1104 2220 2223 "
    "2210 2213 2224 0331 3321 3334 4442 1202 0432 0202 2010 1013 2310 3121 2120 3424 2424 0232 0212 0231 0233 0222 "
    "0211 0230 5343 4342 1323 0200"
)
_GUITAR = (
    "x32010 x32310 x32000 x02220 x02020 x02120 x02210 x02010 x02200 x02230 320003 320001 320002 022100 020100 022000 "
    "022030 020000 022200 xx0232 xx0212 xx0222 xx0231 xx0211 xx0233 xx0230 xx3210 x21202"
)
FAMILIAR_SHAPES: dict[tuple[int, ...], frozenset[str]] = {
    (-7, 4, 5): frozenset(_UKULELE.split()),
    (5, 4, 5): frozenset(_UKULELE.split()),
    (5, 5, 5, 4, 5): frozenset(_GUITAR.split()),
}
"""By semitones from each string to the next (common practice, no source)."""

_GUITAR_BARRES = "133211 133111 131211 131111 132211 133311 x13331 x13321 x13131 x13121 x13231 x13341"
MOVABLE_SHAPES: dict[tuple[int, ...], frozenset[str]] = {(5, 5, 5, 4, 5): frozenset(_GUITAR_BARRES.split())}
"""Shapes under a barre, here at fret 1, that are moved along the neck (common practice, no source)."""


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
    fingering : Fingering
        The usual one.
    cost : float
        Less is handier.
    """

    shape: Shape
    missing: tuple[Degree, ...]
    inversion: bool
    fingering: Fingering
    cost: float

    @property
    def frame(self) -> Frame:
        """As it is drawn, with its usual fingering."""
        return frame_of(self.fingering)


def frame_of(fingering: Fingering) -> Frame:
    """The diagram of a fingered shape: from the nut where it fits into the first four frets, else from its first stop.

    Examples
    --------
    >>> from reader.music.fingering import usual_fingerings
    >>> from reader.music.tuning import get_tuning
    >>> frame_of(usual_fingerings(Shape.parse("5558"), get_tuning("ukulele"))[0]).first_fret
    5
    """
    return in_usual_window(Frame(fingering.shape.frets, fingering.fingers, ROWS, 1, fingering.barres))


def in_usual_window(frame: Frame) -> Frame:
    """The same shape and fingers in the window that `frame_of` chooses, whatever the window it was written in."""
    used = [*frame.shape.stopped, *(barre.fret for barre in frame.barres)]
    last = max(used, default=0)
    first = 1 if last <= ROWS else min(used)
    return replace(frame, fret_count=max(ROWS, last - first + 1), first_fret=first)


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
        sounds = {s: _sound(s, chord, tuning) for s in _candidates(chord, tuning, max_fret, silent)}
        found = _handiest(sounds, tuning, limit)
        if found:
            return found
    return ()


def _handiest(sounds: dict[Shape, _Sound], tuning: Tuning, limit: int) -> tuple[ChordShape, ...]:
    """The best shapes; a hand is tried only on those that can still be among them."""
    best: list[ChordShape] = []
    for shape in sorted(sounds, key=lambda s: (sounds[s].cost, str(s))):
        sound = sounds[shape]
        if len(best) == limit and sound.cost >= best[-1].cost:
            break
        for fingering in usual_fingerings(shape, tuning, most=1):
            cost = round(sound.cost + _hand_cost(fingering), 6)
            best.append(ChordShape(shape, sound.missing, sound.inversion, fingering, cost))
        best = sorted(best, key=lambda option: (option.cost, str(option.shape)))[:limit]
    return tuple(best)


def cost_of(fingering: Fingering, chord: Chord, tuning: Tuning) -> float:
    """How handy a fingered shape is for a chord, in the unit and by the rules of `ChordShape.cost`."""
    return round(_sound(fingering.shape, chord, tuning).cost + _hand_cost(fingering), 6)


def _hand_cost(fingering: Fingering) -> float:
    """What the hand costs beyond the least that its frets take."""
    return fingering.difficulty.score - EACH_FRET_USED * len(set(fingering.shape.stopped))


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


@dataclass(frozen=True, slots=True)
class _Sound:
    """What a shape sounds against the chord, and what it costs at least."""

    missing: tuple[Degree, ...]
    inversion: bool
    cost: float


def _sound(shape: Shape, chord: Chord, tuning: Tuning) -> _Sound:
    sounding = [p for p in tuning.sounding(shape) if p is not None]
    classes = {p % 12 for p in sounding}
    missing = tuple(d for d in chord.degrees if (chord.root.pitch_class + d.semitones) % 12 not in classes)
    inversion = not tuning.reentrant and min(sounding) % 12 != chord.bass_or_root.pitch_class
    unisons = sum(a == b for a, b in pairwise(sounding))
    cost = MISSING_COST * len(missing) + INVERSION_COST * inversion + UNISON_COST * unisons
    cost += _silence_cost(shape) + _place_cost(shape) - familiarity(shape, tuning)
    return _Sound(missing, inversion, cost)


def familiarity(shape: Shape, tuning: Tuning) -> float:
    """What is gained when a shape is among those that everybody teaches, on the spot or moved along the neck; else 0.

    Examples
    --------
    >>> from reader.music.tuning import get_tuning
    >>> familiarity(Shape.parse("355433"), get_tuning("guitar")) == MOVABLE_GAIN
    True
    """
    steps = tuple(high - low for low, high in pairwise(tuning.pitches))
    down = min(shape.stopped, default=0) - 1
    if steps in MOVABLE_SHAPES and down >= 0 and 0 not in shape.frets:
        at_first = Shape(tuple(None if fret is None else fret - down for fret in shape.frets))
        if str(at_first) in MOVABLE_SHAPES[steps]:
            return MOVABLE_GAIN
    return FAMILIAR_GAIN if str(shape) in FAMILIAR_SHAPES.get(steps, ()) else 0.0


def _silence_cost(shape: Shape) -> float:
    return SILENT_COST * shape.frets.count(None) + (CUT_TREBLE_COST if shape.frets[-1] is None else 0.0)


def _place_cost(shape: Shape) -> float:
    """Where on the neck, how far apart, and the fingers that it takes at least."""
    stopped = shape.stopped
    if not stopped:
        return 0.0
    low, high = min(stopped), max(stopped)
    return EACH_FRET_USED * len(set(stopped)) + SPAN_COST * max(high - low - 1, 0) + POSITION_COST * (low - 1)
