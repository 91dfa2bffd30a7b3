"""The diagram as written: strings, spaces, first fret, stops, barres, fingers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from reader.errors import NotationError
from reader.music.shape import Shape

Finger = int | Literal["T"] | None


@dataclass(frozen=True, slots=True)
class Barre:
    """Several strings stopped by one finger, drawn as one thing.

    Parameters
    ----------
    fret : int
        Counted from the nut.
    from_string, to_string : int
        As players number them: 1 is the rightmost string of an upright
        diagram; ``from_string > to_string``.
    """

    fret: int
    from_string: int
    to_string: int

    def covers(self, index: int, string_count: int) -> bool:
        """Whether the string at ``index`` (0 is leftmost) lies under the barre."""
        return self.to_string <= string_count - index <= self.from_string


@dataclass(frozen=True, slots=True)
class Frame:
    """A diagram as written; ``shape`` is what it says to play.

    Parameters
    ----------
    frets : tuple of int or None
        One per string, leftmost first, counted from the nut; 0 open, None
        not played.
    fingers : tuple of (int or 'T' or None)
        One per string: 1 index, 2 middle, 3 ring, 4 little finger, T thumb.
    fret_count : int
        Fret spaces drawn.
    first_fret : int
        Number of the first fret space drawn, from 1.
    barres : tuple of Barre
    """

    frets: tuple[int | None, ...]
    fingers: tuple[Finger, ...]
    fret_count: int
    first_fret: int = 1
    barres: tuple[Barre, ...] = ()

    def __post_init__(self) -> None:
        if len(self.fingers) != len(self.frets):
            raise NotationError(
                f"A frame of {len(self.frets)} strings has {len(self.fingers)} fingers: give one (or none) per string."
            )
        if self.first_fret < 1 or self.fret_count < 1:
            raise NotationError("A frame starts at fret 1 or higher and has at least one fret space.")

    @property
    def string_count(self) -> int:
        """Strings drawn."""
        return len(self.frets)

    @property
    def shape(self) -> Shape:
        """The frets as played."""
        return Shape(self.frets)

    @property
    def last_fret(self) -> int:
        """Number of the last fret space drawn."""
        return self.first_fret + self.fret_count - 1
