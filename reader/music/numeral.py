"""Roman numerals in a key, read into chords: the inverse of the numerals that `harmony` writes."""

from __future__ import annotations

import re

from reader.errors import NotationError
from reader.music.chord import Chord
from reader.music.key import MODE_DEGREES, Key
from reader.music.label import parse_label
from reader.music.pitch import Degree, NoteName

_ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII")
_NUMERAL = re.compile(r"([#b♯♭]{0,2})(VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)(?![A-Za-z]*[IVXivx])([^/]*|6/9)$")
_ACCIDENTALS = {"": 0, "#": 1, "##": 2, "b": -1, "bb": -2}
_OWN_THIRD = ("°", "ø", "o", "dim", "m", "sus", "+", "aug")
"""Suffixes that say for themselves what the third is."""


def parse_numeral(text: str, key: Key) -> Chord:
    """The chord of a Roman numeral.

    Parameters
    ----------
    text : str
        Small letters are minor: ``ii7``, ``V``, ``bVII``, ``vii°``, ``IVmaj7``, ``V7/vi``.
    key : Key
        In a minor key III, VI and VII are its own degrees, and a small vii stands on the raised seventh.

    Raises
    ------
    NotationError
        When it is no numeral.

    Examples
    --------
    >>> from reader.music.key import parse_key
    >>> [str(parse_numeral(t, parse_key("C"))) for t in ("ii7", "V7/vi", "bVII", "vii°")]
    ['Dm7', 'E7', 'Bb', 'Bdim']
    """
    clean = text.strip().replace("♭", "b").replace("♯", "#")
    main, slash, target = clean.rpartition("/")
    if slash and _NUMERAL.match(target) and _NUMERAL.match(main):
        goal = parse_numeral(target, key)
        return parse_numeral(main, Key(goal.root, "major"))
    found = _NUMERAL.match(clean)
    chord = _read(found[1], found[2], found[3], key) if found else None
    if chord is None:
        raise NotationError(
            f"'{text}' is not a Roman numeral: write I to VII, small for minor chords, as in ii7, V7, bVII or V7/vi."
        )
    return chord


def is_numeral(text: str) -> bool:
    """Whether a text looks like a Roman numeral rather than a chord label."""
    parts = text.strip().replace("♭", "b").replace("♯", "#").split("/")
    return all(_NUMERAL.match(part) for part in parts if not part.isdigit())


def _read(accidental: str, roman: str, suffix: str, key: Key) -> Chord | None:
    minor = roman.islower()
    number = _ROMAN.index(roman.upper()) + 1
    root = _root(accidental, number, minor, key)
    third = "m" if minor and not suffix.startswith(_OWN_THIRD) else ""
    chord = parse_label(f"{root}{third}{suffix}")
    return chord if isinstance(chord, Chord) else None


def _root(accidental: str, number: int, minor: bool, key: Key) -> NoteName:
    degree = MODE_DEGREES[key.mode][number - 1]
    if key.mode == "minor" and number == 7 and minor and not accidental:
        degree = Degree(7)
    return key.tonic.above(Degree(number, degree.alteration + _ACCIDENTALS[accidental]))
