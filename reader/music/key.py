"""Keys: their notes, and how they spell.

A key spells every pitch class from the twelve notes that lie nearest to its tonic on the line of fifths, from the flat
second to the sharp fourth: B flat in F, A sharp in B.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from reader.errors import NotationError
from reader.music.pitch import Degree, NoteName

Mode = Literal["major", "minor"]

MODE_DEGREES: dict[Mode, tuple[Degree, ...]] = {
    "major": tuple(Degree(n) for n in range(1, 8)),
    "minor": (Degree(1), Degree(2), Degree(3, -1), Degree(4), Degree(5), Degree(6, -1), Degree(7, -1)),
}
FLAT_SECOND_FIFTHS, SHARP_FOURTH_FIFTHS = -5, 6
MOST_ACCIDENTALS = 7

_KEY = re.compile(r"\s*([A-Ga-g])\s*(##|#|bb|b|♯|♭|)\s*(maj(?:or)?|min(?:or)?|m|M|)\s*$")


@dataclass(frozen=True, slots=True)
class Key:
    """A major or minor key.

    Examples
    --------
    >>> key = parse_key("Em")
    >>> str(key), key.signature, str(key.spell(6)), str(key.spell(3))
    ('E minor', 1, 'F#', 'D#')
    """

    tonic: NoteName
    mode: Mode

    def __str__(self) -> str:
        return f"{self.tonic} {self.mode}"

    def __repr__(self) -> str:
        return f"parse_key({str(self)!r})"

    @property
    def text(self) -> str:
        """As short as players write it: ``G``, ``Em``."""
        return f"{self.tonic}{'m' if self.mode == 'minor' else ''}"

    @property
    def signature(self) -> int:
        """Sharps of the signature; flats are negative."""
        return self.tonic.fifths - (3 if self.mode == "minor" else 0)

    @property
    def scale(self) -> tuple[NoteName, ...]:
        """Its seven notes from the tonic (natural minor)."""
        return tuple(self.tonic.above(d) for d in MODE_DEGREES[self.mode])

    def spell(self, pitch_class: int) -> NoteName:
        """The note that a pitch class is in this key."""
        return _spell(self.tonic.fifths, pitch_class % 12)


def parse_key(text: str) -> Key:
    """Read ``G``, ``Em``, ``B flat`` is written ``Bb``, ``F# minor``; a small letter alone is no minor key.

    Raises
    ------
    NotationError
        When it is no key, or has more than seven accidentals.
    """
    found = _KEY.match(text)
    if not found:
        raise NotationError(f"'{text}' is not a key: write a note, and m if it is minor, as in Bb, F#m or 'A minor'.")
    mode: Mode = "minor" if found[3] == "m" or found[3].startswith("min") else "major"
    key = Key(NoteName.parse(found[1].upper() + found[2]), mode)
    if abs(key.signature) > MOST_ACCIDENTALS:
        raise NotationError(
            f"{key} has {abs(key.signature)} accidentals: name the key that sounds the same with fewer."
        )
    return key


def note_at_fifths(fifths: int) -> NoteName:
    """The note at a place on the line of fifths (C is 0, G 1, F -1).

    Examples
    --------
    >>> str(note_at_fifths(-2)), str(note_at_fifths(6))
    ('Bb', 'F#')
    """
    alteration, place = divmod(fifths + 1, 7)
    return NoteName("FCGDAEB"[place], alteration)


@lru_cache(maxsize=2048)
def _spell(tonic_fifths: int, pitch_class: int) -> NoteName:
    return spell_between(pitch_class, tonic_fifths + FLAT_SECOND_FIFTHS)


@lru_cache(maxsize=512)
def spell_between(pitch_class: int, lowest_fifths: int) -> NoteName:
    """The spelling of a pitch class among the twelve notes from ``lowest_fifths`` up the line of fifths."""
    fifths = lowest_fifths + (7 * pitch_class - lowest_fifths) % 12
    return note_at_fifths(fifths)
