"""Notes and degrees, spelled as the trade spells them: a minor third of C is E flat, never D sharp.

NoteName   step and alteration               Eb
Pitch      a note name in an octave          Eb4   (MIDI 63)
Degree     a place in the scale of a root    b3    (3 semitones)
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from reader.errors import NotationError

STEPS = "CDEFGAB"
STEP_SEMITONES = (0, 2, 4, 5, 7, 9, 11)
"""Semitones of the major scale above its root, by step."""

CONCERT_A_HERTZ = 440.0
"""A4, ISO 16:1975."""
CONCERT_A_MIDI = 69

_ALTERATIONS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1, "##": 2, "x": 2, "𝄪": 2, "♯♯": 2, "bb": -2, "♭♭": -2, "𝄫": -2}
_PITCH = re.compile(r"([A-Ga-g])(##|♯♯|#|♯|x|𝄪|bb|♭♭|b|♭|𝄫|)(-?\d+)$")
_INTERVAL_NAMES = (
    *("unison", "second", "third", "fourth", "fifth", "sixth", "seventh"),
    *("octave", "ninth", "tenth", "eleventh", "twelfth", "thirteenth"),
)
_PERFECT = (1, 4, 5)


def alteration_text(alteration: int) -> str:
    """``-1`` as ``b``, ``2`` as ``##``, ``0`` as nothing."""
    return "#" * alteration if alteration > 0 else "b" * -alteration


@dataclass(frozen=True, slots=True)
class NoteName:
    """A note without its octave.

    Parameters
    ----------
    step : str
        One of C D E F G A B.
    alteration : int
        Semitones: -1 flat, 1 sharp.

    Examples
    --------
    >>> NoteName.parse("Bb").pitch_class
    10
    >>> str(NoteName.parse("C").above(Degree.parse("b3")))
    'Eb'
    """

    step: str
    alteration: int = 0

    @classmethod
    def parse(cls, text: str) -> NoteName:
        """Read ``Bb``, ``F♯`` or ``c``.

        Raises
        ------
        NotationError
            When the text is not a letter A to G with an accidental.
        """
        step, accidental = text[:1].upper(), text[1:]
        if step and step in STEPS and accidental in _ALTERATIONS:
            return cls(step, _ALTERATIONS[accidental])
        raise NotationError(f"'{text}' is not a note: write a letter A to G, then # or b if it has one.")

    def __str__(self) -> str:
        return self.step + alteration_text(self.alteration)

    def __repr__(self) -> str:
        return f"NoteName.parse({str(self)!r})"

    @property
    def pitch_class(self) -> int:
        """Semitones above C, 0 to 11."""
        return (STEP_SEMITONES[STEPS.index(self.step)] + self.alteration) % 12

    @property
    def fifths(self) -> int:
        """Place on the line of fifths: F -1, C 0, G 1, B flat -2, F sharp 6."""
        return (-1 if self.step == "F" else "CGDAEB".index(self.step)) + 7 * self.alteration

    def above(self, degree: Degree) -> NoteName:
        """The note that is this degree of this root."""
        return _note_above(self, degree)

    def degree_of(self, other: NoteName) -> Degree:
        """What degree ``other`` is above this root, as 1 to 7.

        Examples
        --------
        >>> str(NoteName.parse("A").degree_of(NoteName.parse("C")))
        'b3'
        """
        number = (STEPS.index(other.step) - STEPS.index(self.step)) % 7 + 1
        plain = self.above(Degree(number))
        return Degree(number, other.alteration - plain.alteration)

    def is_simple(self) -> bool:
        """Whether a player would write it: at most one accidental, and no C flat, E sharp, F flat or B sharp."""
        return abs(self.alteration) <= 1 and -6 < self.fifths < 11 and (self.step, self.alteration) not in _WHITE_KEYS


_WHITE_KEYS = (("C", -1), ("F", -1), ("E", 1), ("B", 1))


@dataclass(frozen=True, slots=True)
class Degree:
    """A degree of the scale above a root.

    Parameters
    ----------
    number : int
        1 root, 3 third, 5 fifth, 9 ninth …
    alteration : int
        Against the major scale of the root: ``b3`` is (3, -1).
    """

    number: int
    alteration: int = 0

    @classmethod
    def parse(cls, text: str) -> Degree:
        """Read ``b3``, ``#11`` or ``bb7``."""
        digits = text.lstrip("#b♯♭")
        accidental = text[: len(text) - len(digits)]
        if digits.isascii() and digits.isdigit() and int(digits) and accidental in _ALTERATIONS:
            return cls(int(digits), _ALTERATIONS[accidental])
        raise NotationError(f"'{text}' is not a degree: write a number from 1, after # or b if it is altered.")

    def __str__(self) -> str:
        return alteration_text(self.alteration) + str(self.number)

    def __repr__(self) -> str:
        return f"Degree.parse({str(self)!r})"

    @property
    def semitones(self) -> int:
        """Above the root, octaves included: a ninth is 14."""
        octave, step = divmod(self.number - 1, 7)
        return 12 * octave + STEP_SEMITONES[step] + self.alteration

    @property
    def pitch_class(self) -> int:
        """Semitones above the root within one octave."""
        return self.semitones % 12

    @property
    def interval_name(self) -> str:
        """``minor third``, ``augmented eleventh``.

        Examples
        --------
        >>> Degree(7, -2).interval_name
        'diminished seventh'
        """
        perfect = (self.number - 1) % 7 + 1 in _PERFECT
        kinds = (
            {-2: "doubly diminished", -1: "diminished", 0: "perfect", 1: "augmented", 2: "doubly augmented"}
            if perfect
            else {-3: "doubly diminished", -2: "diminished", -1: "minor", 0: "major", 1: "augmented"}
        )
        name = _INTERVAL_NAMES[self.number - 1] if self.number <= len(_INTERVAL_NAMES) else f"{self.number}th"
        return f"{kinds.get(self.alteration, 'altered')} {name}"


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled note in an octave; C4 is middle C, MIDI note 60.

    Examples
    --------
    >>> Pitch.parse("A4").midi, round(Pitch.parse("C4").frequency(), 2)
    (69, 261.63)
    """

    name: NoteName
    octave: int

    @classmethod
    def parse(cls, text: str) -> Pitch:
        """Read ``Eb4``.

        Raises
        ------
        NotationError
            When it is not a note with an octave.
        """
        found = _PITCH.match(text.strip())
        if not found:
            raise NotationError(f"'{text}' is not a pitch: write a note and its octave, as in Eb4.")
        return cls(NoteName.parse(found[1] + found[2]), int(found[3]))

    def __str__(self) -> str:
        return f"{self.name}{self.octave}"

    def __repr__(self) -> str:
        return f"Pitch.parse({str(self)!r})"

    @property
    def midi(self) -> int:
        """MIDI note number."""
        return 12 * (self.octave + 1) + STEP_SEMITONES[STEPS.index(self.name.step)] + self.name.alteration

    def frequency(self, concert_a: float = CONCERT_A_HERTZ) -> float:
        """Hertz, equal temperament."""
        return frequency(self.midi, concert_a)


def frequency(midi: float, concert_a: float = CONCERT_A_HERTZ) -> float:
    """Hertz of a MIDI note number, equal temperament (ISO 16:1975 for A4 = 440 Hz)."""
    return float(concert_a * 2.0 ** ((midi - CONCERT_A_MIDI) / 12))


def pitch_of(midi: int, name: NoteName) -> Pitch:
    """The pitch of a MIDI number under a given spelling: 71 as C flat is Cb5.

    Raises
    ------
    NotationError
        When the name does not sound like the number.
    """
    if name.pitch_class != midi % 12:
        raise NotationError(f"MIDI note {midi} cannot be spelled {name}.")
    natural = midi - name.alteration
    return Pitch(name, natural // 12 - 1)


@lru_cache(maxsize=4096)
def _note_above(root: NoteName, degree: Degree) -> NoteName:
    position = STEPS.index(root.step) + degree.number - 1
    octave, step = divmod(position, 7)
    natural = 12 * octave + STEP_SEMITONES[step]
    wanted = STEP_SEMITONES[STEPS.index(root.step)] + root.alteration + degree.semitones
    return NoteName(STEPS[step], wanted - natural)
