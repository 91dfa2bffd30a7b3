"""What follows from a shape and a tuning alone: the things one searches by."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reader.errors import NotationError
from reader.library.entry import Facts
from reader.music.chord import Chord
from reader.music.frame import Frame
from reader.music.label import parse_label
from reader.music.naming import name_shape
from reader.music.pitch import NoteName
from reader.music.shape import Shape
from reader.music.tuning import Tuning, get_tuning

MOST_FINGERS = 4
"""More stopped strings than this need a barre, whether one is drawn or not (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class ChordName:
    """One name of an entry: as text, and as the root (pitch class) and quality it is found by."""

    text: str
    root: int
    quality: str


def facts_of(frame: Frame, tuning_id: str) -> Facts:
    """The searchable facts of a frame; without pitches where the tuning does not fit it.

    Examples
    --------
    >>> facts_of(Frame((0, 0, 0, 3), (None,) * 4, 4), "ukulele").highest_fret
    3
    """
    stopped = [f for f in frame.frets if f]
    tuning = fitting_tuning(frame.shape, tuning_id)
    sounding = [] if tuning is None else [p for p in tuning.sounding(frame.shape) if p is not None]
    fingers, barre = _hand(frame)
    stretch = max(stopped) - min(stopped) if stopped else 0
    return Facts(
        highest_fret=max(stopped, default=0),
        lowest_fret=min(stopped, default=0),
        stretch=stretch,
        fingers=fingers,
        barre=barre,
        open_strings=sum(f == 0 for f in frame.frets),
        muted=sum(f is None for f in frame.frets),
        difficulty=_difficulty(frame),
        pitch_set=pitch_set(sounding),
        bass=tuning.lowest(frame.shape) if tuning is not None else None,
    )


def fitting_tuning(shape: Shape, tuning_id: str) -> Tuning | None:
    """The tuning, where it is known and has as many strings as the shape."""
    try:
        tuning = get_tuning(tuning_id)
    except NotationError:
        return None
    return tuning if tuning.string_count == shape.string_count else None


def pitch_set(pitches: list[int]) -> int:
    """Twelve bits, bit n set when pitch class n is among the pitches.

    Examples
    --------
    >>> f"{pitch_set([60, 64, 67]):012b}"
    '000010010001'
    """
    return sum(1 << pc for pc in {p % 12 for p in pitches})


def _hand(frame: Frame) -> tuple[int, bool]:
    """Fingers on the board, and whether one lies across strings: as drawn, else as the stops demand."""
    stops = [(i, f) for i, f in enumerate(frame.frets) if f]
    drawn = [frame.fingers[i] for i, _ in stops]
    if stops and all(finger is not None for finger in drawn):
        return len(set(drawn)), bool(frame.barres) or len(set(drawn)) < len(drawn)
    under = {i for b in frame.barres for i, f in stops if f == b.fret and b.covers(i, frame.string_count)}
    count = len(stops) - len(under) + len(frame.barres)
    if count <= MOST_FINGERS:
        return count, bool(frame.barres)
    lowest = min(f for _, f in stops)
    return count - sum(f == lowest for _, f in stops) + 1, True


def _difficulty(frame: Frame) -> float:
    """How hard a shape is to hold: 0 for open strings, about 5 for a stretched barre (common practice, no source).

    One point per finger, one and a half for a barre, one per fret that the hand spans beyond three,
    half a point per muted string between played ones.
    """
    fingers, barre = _hand(frame)
    stopped = [f for f in frame.frets if f]
    span = max(stopped) - min(stopped) + 1 if stopped else 0
    played = [i for i, f in enumerate(frame.frets) if f is not None]
    gaps = sum(f is None for f in frame.frets[played[0] : played[-1]]) if played else 0
    return fingers + 1.5 * barre + max(0, span - 3) + 0.5 * gaps


def names_of(shape: Shape, tuning_id: str, label: str | None) -> list[str]:
    """Every name of a shape, best first, the label deciding between equals; none where the tuning does not fit.

    Examples
    --------
    >>> names_of(Shape.parse("0000"), "ukulele", "Am7")[:2]
    ['Am7', 'C6']
    """
    tuning = fitting_tuning(shape, tuning_id)
    return [] if tuning is None else [name.text for name in name_shape(shape, tuning, label)]


def chord_name(text: str) -> ChordName | None:
    """A chord label as something to search for, without its slash bass; None when it is no chord.

    Examples
    --------
    >>> chord_name("Bb min7/F")
    ChordName(text='Bb min7/F', root=10, quality='m7')
    """
    chord = parse_label(text)
    if not isinstance(chord, Chord):
        return None
    suffix = str(replace(chord, root=NoteName("C"), bass=None))[1:]
    return ChordName(text, chord.root.pitch_class, suffix)
