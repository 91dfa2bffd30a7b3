"""Chords in a key: Roman numerals and functions, and the keys that a set of chords belongs to.

Numerals count from the tonic; in a minor key its own degrees (III, VI, VII) stand without an accidental, and the chord
on the raised seventh is plain vii (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from reader.music.chord import Chord, chord_of
from reader.music.key import MODE_DEGREES, Key, Mode, note_at_fifths
from reader.music.pitch import Degree, NoteName
from reader.music.quality import get_quality

Place = Literal["diatonic", "secondary dominant", "borrowed", "chromatic"]
Function = Literal["tonic", "subdominant", "dominant", ""]

_ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII")
_TRIADS: dict[Mode, tuple[str, ...]] = {
    "major": ("", "m", "m", "", "", "m", "dim"),
    "minor": ("m", "dim", "", "m", "m", "", ""),
}
_SEVENTHS: dict[Mode, tuple[str, ...]] = {
    "major": ("maj7", "m7", "m7", "maj7", "7", "m7", "m7b5"),
    "minor": ("m7", "m7b5", "maj7", "m7", "m7", "maj7", "7"),
}
_FUNCTIONS: dict[Mode, tuple[Function, ...]] = {
    "major": ("tonic", "subdominant", "tonic", "subdominant", "dominant", "tonic", "dominant"),
    "minor": ("tonic", "subdominant", "tonic", "subdominant", "dominant", "subdominant", "dominant"),
}
MOST_ACCIDENTALS = 6
"""Keys with more are named by what sounds the same: B, not C flat."""
_RAISED_SEVENTH = Degree(7)
_TARGETS: dict[Mode, tuple[int, ...]] = {"major": (2, 3, 4, 5, 6), "minor": (3, 4, 5, 6, 7)}
"""Degrees that secondary dominants lead to."""
_BORROWED: dict[Mode, tuple[str, ...]] = {
    "major": (
        *("1 m", "2 dim", "2 m7b5", "b3", "b3 maj7", "4 m", "4 m7", "5 m", "5 m7", "b6", "b6 maj7", "b7", "b7 7"),
        *("1 7", "4 7"),
    ),
    "minor": ("1", "2 m", "2 m7", "4", "4 7", "6 m7b5", "b2", "b2 maj7"),
}
"""From the parallel key, the flat second of minor, and the sevenths of the blues (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Role:
    """What a chord is in a key.

    Parameters
    ----------
    chord : Chord
    key : Key
    numeral : str
        ``ii7``, ``V7/vi``, ``bVII``.
    function : str
        tonic, subdominant, dominant, or empty.
    place : str
        diatonic, secondary dominant, borrowed or chromatic.
    """

    chord: Chord
    key: Key
    numeral: str
    function: Function
    place: Place


@dataclass(frozen=True, slots=True)
class LikelyKey:
    """A key that chords may be in.

    Parameters
    ----------
    key : Key
    score : float
        Per chord, 1 where all are diatonic and the tonic is where it should be.
    roles : tuple of Role
        Of the chords, in their order.
    """

    key: Key
    score: float
    roles: tuple[Role, ...]


def diatonic_chords(key: Key, sevenths: bool = False) -> tuple[Chord, ...]:
    """The seven chords of a key, from the tonic; minor in its natural form.

    Examples
    --------
    >>> from reader.music.key import parse_key
    >>> [str(c) for c in diatonic_chords(parse_key("F"), sevenths=True)]
    ['Fmaj7', 'Gm7', 'Am7', 'Bbmaj7', 'C7', 'Dm7', 'Em7b5']
    """
    written = (_SEVENTHS if sevenths else _TRIADS)[key.mode]
    return tuple(_chord(root, w) for root, w in zip(key.scale, written, strict=True))


def secondary_dominants(key: Key) -> tuple[tuple[Chord, str], ...]:
    """Dominant sevenths of the degrees of a key, with their numerals.

    Examples
    --------
    >>> from reader.music.key import parse_key
    >>> [f"{c} {n}" for c, n in secondary_dominants(parse_key("C"))]
    ['A7 V7/ii', 'B7 V7/iii', 'C7 V7/IV', 'D7 V7/V', 'E7 V7/vi']
    """
    triads = diatonic_chords(key)
    found = []
    for number in _TARGETS[key.mode]:
        target = triads[number - 1]
        found.append((_chord(target.root.above(Degree(5)), "7"), f"V7/{_numeral(target, key)}"))
    return tuple(found)


def borrowed_chords(key: Key) -> tuple[Chord, ...]:
    """Common chords from the parallel key."""
    found = []
    for text in _BORROWED[key.mode]:
        degree, _, written = text.partition(" ")
        found.append(_chord(key.tonic.above(Degree.parse(degree)), written))
    return tuple(found)


def role(chord: Chord, key: Key) -> Role:
    """What a chord is in a key.

    Examples
    --------
    >>> from reader.music.key import parse_key
    >>> from reader.music.label import parse_label
    >>> [role(parse_label(t), parse_key("C")).numeral for t in ("Dm7", "G7", "E7", "Fm", "Bb", "Bm7b5")]
    ['ii7', 'V7', 'V7/vi', 'iv', 'bVII', 'viiø7']
    """
    if _is_diatonic(chord, key):
        return Role(chord, key, _numeral(chord, key), _function(chord, key), "diatonic")
    target = _target_of_dominant(chord, key)
    if target is not None:
        return Role(chord, key, f"{_dominant_numeral(chord)}/{_numeral(target, key)}", "dominant", "secondary dominant")
    place: Place = "borrowed" if _is_borrowed(chord, key) else "chromatic"
    return Role(chord, key, _numeral(chord, key), _function(chord, key) if place == "borrowed" else "", place)


_WORTH: dict[Place, float] = {"diatonic": 1.0, "secondary dominant": 0.55, "borrowed": 0.5, "chromatic": -0.3}
TONIC_PRESENT, TONIC_FIRST, TONIC_LAST, DOMINANT_SEVENTH, DOMINANT_TO_TONIC = 0.35, 0.45, 0.45, 0.3, 0.3


def likely_keys(chords: Sequence[Chord], most: int = 6) -> tuple[LikelyKey, ...]:
    """The keys that chords may be in, likeliest first.

    Parameters
    ----------
    chords : sequence of Chord
        In their order on the page, as far as it means anything.
    most : int

    Examples
    --------
    >>> from reader.music.label import parse_label
    >>> str(likely_keys([parse_label(t) for t in ("C", "Am", "F", "G7")])[0].key)
    'C major'
    """
    if not chords:
        return ()
    scored = [_scored(tuple(chords), key) for key in _all_keys()]
    scored.sort(key=lambda k: (-k.score, abs(k.key.signature), k.key.mode))
    best: dict[tuple[int, Mode], LikelyKey] = {}
    for likely in scored:
        best.setdefault((likely.key.tonic.pitch_class, likely.key.mode), likely)
    return tuple(best.values())[:most]


# ---------------------------------------------------------------- in the key or not


@lru_cache(maxsize=512)
def _chord(root: NoteName, written: str) -> Chord:
    return chord_of(root, frozenset(get_quality(written).degrees))


@lru_cache(maxsize=64)
def _scale_pitch_classes(key: Key) -> frozenset[int]:
    return frozenset(n.pitch_class for n in key.scale)


def _is_diatonic(chord: Chord, key: Key) -> bool:
    own = _scale_pitch_classes(key)
    tones = chord.without_bass().pitch_classes
    if key.mode == "minor" and _is_minor_dominant(chord, key):
        own = own | {key.tonic.above(_RAISED_SEVENTH).pitch_class}
    return tones <= own


def _is_minor_dominant(chord: Chord, key: Key) -> bool:
    """Whether it is a dominant of harmonic minor: V, V7, vii° or vii°7."""
    above = (chord.root.pitch_class - key.tonic.pitch_class) % 12
    if above == 7:
        return not chord.quality.is_minor
    return above == 11 and chord.quality.written in ("dim", "dim7")


def _is_borrowed(chord: Chord, key: Key) -> bool:
    tones = chord.without_bass().pitch_classes
    return any(c.root.pitch_class == chord.root.pitch_class and c.pitch_classes == tones for c in borrowed_chords(key))


def _target_of_dominant(chord: Chord, key: Key) -> Chord | None:
    """The triad of the key that a dominant or a diminished seventh leads to."""
    triads = diatonic_chords(key)
    written = chord.quality.written
    if chord.quality.is_dominant or written == "":
        down = 7
    elif written == "dim7":
        down = -1
    else:
        return None
    wanted = (chord.root.pitch_class - down) % 12
    for number in _TARGETS[key.mode]:
        if triads[number - 1].root.pitch_class == wanted:
            return triads[number - 1]
    return None


# ---------------------------------------------------------------- numerals


def _numeral(chord: Chord, key: Key) -> str:
    degree = key.tonic.degree_of(key.spell(chord.root.pitch_class))
    natural = MODE_DEGREES[key.mode][degree.number - 1]
    change = degree.alteration - natural.alteration
    leading = key.mode == "minor" and degree == _RAISED_SEVENTH
    accidental = "" if leading else ("#" * change if change > 0 else "b" * -change)
    roman = _ROMAN[degree.number - 1]
    lower = chord.quality.is_minor
    return accidental + (roman.lower() if lower else roman) + _numeral_suffix(chord)


_SUFFIX = {"dim": "°", "dim7": "°7", "m7b5": "ø7", "aug": "+", "7#5": "+7", "m(maj7)": "(maj7)", "m(add9)": "(add9)"}


def _numeral_suffix(chord: Chord) -> str:
    written = chord.quality.written
    if written in _SUFFIX:
        return _SUFFIX[written]
    return written[1:] if chord.quality.is_minor and written.startswith("m") else written


def _dominant_numeral(chord: Chord) -> str:
    if chord.quality.written == "dim7":
        return "vii°7"
    return "V" + _numeral_suffix(chord)


def _function(chord: Chord, key: Key) -> Function:
    degree = key.tonic.degree_of(key.spell(chord.root.pitch_class))
    if key.mode == "minor" and degree.number == 7 and not (chord.quality.is_dominant or degree == _RAISED_SEVENTH):
        return "subdominant"
    return _FUNCTIONS[key.mode][degree.number - 1]


# ---------------------------------------------------------------- the likeliest


@lru_cache(maxsize=1)
def _all_keys() -> tuple[Key, ...]:
    modes: tuple[Mode, ...] = ("major", "minor")
    keys = [Key(note_at_fifths(fifths), mode) for mode in modes for fifths in range(-8, 12)]
    return tuple(k for k in keys if abs(k.signature) <= MOST_ACCIDENTALS)


def _scored(chords: tuple[Chord, ...], key: Key) -> LikelyKey:
    roles = tuple(role(chord, key) for chord in chords)
    score = sum(_WORTH[r.place] for r in roles)
    score += 0.02 * sum(chord.root == key.spell(chord.root.pitch_class) for chord in chords)
    tonics = [i for i, chord in enumerate(chords) if _is_tonic(chord, key, alone=len(chords) == 1)]
    if tonics:
        score += TONIC_PRESENT
        score += TONIC_FIRST * (tonics[0] == 0) + TONIC_LAST * (tonics[-1] == len(chords) - 1 > 0)
    dominants = [i for i, chord in enumerate(chords) if _is_dominant(chord, key)]
    score += DOMINANT_SEVENTH * any(chords[i].quality.is_dominant for i in dominants)
    score += DOMINANT_TO_TONIC * any(i + 1 in tonics for i in dominants)
    return LikelyKey(key, round(score / len(chords), 3), roles)


def _is_tonic(chord: Chord, key: Key, alone: bool) -> bool:
    """Whether a piece can come to rest on it; in the blues on a seventh too, but one seventh alone is a dominant."""
    same_root = chord.root.pitch_class == key.tonic.pitch_class
    restless = alone and chord.quality.is_dominant
    return same_root and chord.quality.is_minor == (key.mode == "minor") and not restless


def _is_dominant(chord: Chord, key: Key) -> bool:
    fifth_above = (chord.root.pitch_class - key.tonic.pitch_class) % 12 == 7
    return fifth_above and not chord.quality.is_minor
