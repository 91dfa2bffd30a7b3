"""One name of a shape, and what it was heard against."""

from __future__ import annotations

from dataclasses import dataclass

from reader.music.chord import Chord
from reader.music.key import Key
from reader.music.label_style import LabelStyle
from reader.music.pitch import Degree, NoteName


@dataclass(frozen=True, slots=True)
class Name:
    """One name of a shape.

    Parameters
    ----------
    text : str
        The label, in the style asked for.
    chord : Chord or None
        None for a single note, an interval, or notes that form no chord.
    reasons : tuple of str
        Why, in plain words.
    cost : float
        Lower is likelier; only differences mean something.
    missing : tuple of Degree
        Degrees of the chord that do not sound.
    rank : int
        1 for the best; names that nothing tells apart share a rank.
    root : NoteName or None
        What degrees are counted from: the root of the chord, the lower note
        of an interval.
    """

    text: str
    chord: Chord | None
    reasons: tuple[str, ...]
    cost: float
    missing: tuple[Degree, ...] = ()
    rank: int = 1
    root: NoteName | None = None

    @property
    def exact(self) -> bool:
        """Whether every degree sounds."""
        return self.chord is not None and not self.missing


@dataclass(frozen=True, slots=True)
class Hearing:
    """What notes are heard against.

    Parameters
    ----------
    bass : int or None
        Pitch class of the lowest sound; None on re-entrant instruments.
    key : Key or None
    style : LabelStyle
    """

    bass: int | None
    key: Key | None
    style: LabelStyle
