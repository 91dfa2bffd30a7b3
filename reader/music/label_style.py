"""Chords as labels, in a chosen spelling."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from reader.music.chord import Chord
from reader.music.pitch import Degree, NoteName

NoteNames = Literal["english", "german", "solfege"]


@dataclass(frozen=True, slots=True)
class LabelStyle:
    """How a teacher writes labels.

    Parameters
    ----------
    minor, major, diminished, augmented, half_diminished : str
        What stands for them after the root; ``major`` before 7, 9, 11, 13.
    real_accidentals : bool
        ♯ and ♭ instead of # and b.
    note_names : {'english', 'german', 'solfege'}
        German: H is B natural, B is B flat. Solfège: Do Re Mi.
    """

    minor: str = "m"
    major: str = "maj"
    diminished: str = "dim"
    augmented: str = "aug"
    half_diminished: str = "m7b5"
    real_accidentals: bool = False
    note_names: NoteNames = "english"


PLAIN = LabelStyle()
SIGNS = LabelStyle(major="Δ", diminished="°", augmented="+", half_diminished="ø7", real_accidentals=True)
DASHES = LabelStyle(minor="-", major="Δ", diminished="°", augmented="+", half_diminished="ø7", real_accidentals=True)
GERMAN = LabelStyle(note_names="german")
SOLFEGE = LabelStyle(note_names="solfege")

STYLES = {"plain": PLAIN, "signs": SIGNS, "dashes": DASHES, "german": GERMAN, "solfege": SOLFEGE}
STYLE_OF_NAMES: dict[NoteNames, LabelStyle] = {"english": PLAIN, "german": GERMAN, "solfege": SOLFEGE}

_READ_AS_ALTERED_FIFTH = ("Cb", "Fb", "E#", "B#")
"""Cb5 is read as C with a flat fifth, so a power chord on C flat needs other words."""
_SOLFEGE = {"C": "Do", "D": "Re", "E": "Mi", "F": "Fa", "G": "Sol", "A": "La", "B": "Si"}


def chord_text(chord: Chord, style: LabelStyle = PLAIN) -> str:
    """The label of a chord.

    Examples
    --------
    >>> from reader.music.label import parse_label
    >>> chord_text(parse_label("Bbm7b5"), SIGNS)
    'B♭ø7'
    """
    suffix = _accidentals(_suffix(chord, style), style)
    bass = "" if chord.bass is None else "/" + note_text(chord.bass, style)
    return note_text(chord.root, style) + suffix + bass


@lru_cache(maxsize=256)
def note_text(name: NoteName, style: LabelStyle = PLAIN) -> str:
    """A note name alone."""
    if style.note_names == "german":
        return _german(name)
    step = _SOLFEGE[name.step] if style.note_names == "solfege" else name.step
    return step + _accidentals(str(name)[1:], style)


def _german(name: NoteName) -> str:
    if name.step == "B" and name.alteration <= 0:
        return ("H", "B", "Heses")[-name.alteration]
    step = "H" if name.step == "B" else name.step
    if name.alteration >= 0:
        return step + "is" * name.alteration
    first = "s" if step in "AE" else "es"
    return step + first + "es" * (-name.alteration - 1)


def _accidentals(text: str, style: LabelStyle) -> str:
    return text.replace("#", "♯").replace("b", "♭") if style.real_accidentals else text


def _suffix(chord: Chord, style: LabelStyle) -> str:
    written = chord.quality.written
    other_words = written == "5" and str(chord.root) in _READ_AS_ALTERED_FIFTH
    base = "(no3)" if other_words else _restyle(written, style)
    extra = _extra(chord.added, chord.omitted)
    if extra and base.endswith(")"):
        return f"{base[:-1]},{extra})"
    return f"{base}({extra})" if extra else base


def _extra(added: tuple[Degree, ...], omitted: tuple[Degree, ...]) -> str:
    altered_fifth = any(d.number == 5 for d in added)
    gone = [d for d in omitted if not (d.number == 5 and altered_fifth)]
    parts = [_added_text(d) for d in added] + [f"no{d.number}" for d in gone]
    return ",".join(parts)


def _added_text(degree: Degree) -> str:
    return str(degree) if degree.alteration else f"add{degree}"


@lru_cache(maxsize=1024)
def _restyle(written: str, style: LabelStyle) -> str:
    if written == "m7b5":
        return style.half_diminished
    for plain, styled in (("dim", style.diminished), ("aug", style.augmented), ("maj", style.major)):
        if written.startswith(plain):
            return styled + _inner(written[len(plain) :], style)
    if written.startswith("m"):
        return style.minor + _inner(written[1:], style)
    return written


def _inner(rest: str, style: LabelStyle) -> str:
    return rest.replace("maj", style.major)
