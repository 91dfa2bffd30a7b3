"""What follows from a shape and a tuning alone: the things one searches by."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reader.errors import NotationError
from reader.library.entry import Facts
from reader.music.chord import Chord
from reader.music.fingering import Fingering, usual_fingerings
from reader.music.frame import Frame
from reader.music.label import parse_label
from reader.music.naming import name_shape
from reader.music.pitch import NoteName
from reader.music.shape import Shape
from reader.music.tuning import Tuning, get_tuning


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
    usual = next(iter(usual_fingerings(frame.shape, tuning, most=1)), None) if tuning is not None else None
    fingers, barre = _hand(frame, usual)
    return Facts(
        highest_fret=max(stopped, default=0),
        lowest_fret=min(stopped, default=0),
        stretch=max(stopped) - min(stopped) if stopped else 0,
        fingers=fingers,
        barre=barre,
        open_strings=sum(f == 0 for f in frame.frets),
        muted=sum(f is None for f in frame.frets),
        difficulty=None if usual is None else round(usual.difficulty.score, 3),
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


def _hand(frame: Frame, usual: Fingering | None) -> tuple[int, bool]:
    """Fingers on the board, and whether one lies across strings: as drawn, else as is usual."""
    drawn = [frame.fingers[i] for i, f in enumerate(frame.frets) if f]
    if drawn and all(finger is not None for finger in drawn):
        return len(set(drawn)), bool(frame.barres) or len(set(drawn)) < len(drawn)
    if usual is None:
        return len(drawn), bool(frame.barres)
    return usual.difficulty.fingers, bool(frame.barres or usual.barres)


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
