"""Honest names for too few notes, and for notes that form no chord."""

from __future__ import annotations

from collections.abc import Sequence

from reader.music.chord import Chord
from reader.music.key import spell_between
from reader.music.label_style import chord_text, note_text
from reader.music.name import Hearing, Name
from reader.music.pitch import Degree, NoteName
from reader.music.quality import get_quality
from reader.music.spelling import LOWEST_MINOR, usual_note

SIMPLE_DEGREES = tuple(Degree.parse(text) for text in ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7"))
"""The usual degree of each number of semitones."""
_FOURTH, _FIFTH = 5, 7


def name_few_notes(sounding: Sequence[int], lowest: int, hearing: Hearing) -> Name:
    """The one name of one or two pitch classes: a unison, octaves, a fifth as power chord, or an interval.

    Parameters
    ----------
    sounding : sequence of int
        MIDI numbers.
    lowest : int
        The lowest of them, octave strings of courses included.
    hearing : Hearing
    """
    bass = lowest % 12
    other = next((p % 12 for p in sounding if p % 12 != bass), None)
    if other is None:
        return _one_note(sounding, usual_note(bass, hearing.key), hearing)
    semitones = (other - bass) % 12
    if semitones in (_FOURTH, _FIFTH):
        return _power_chord(bass if semitones == _FIFTH else other, semitones == _FOURTH, hearing)
    return _interval(bass, SIMPLE_DEGREES[semitones], hearing)


def name_no_chord(mask: int, hearing: Hearing) -> Name:
    """The notes themselves, from the bass up, where they form no usual chord."""
    start = hearing.bass if hearing.bass is not None else (mask & -mask).bit_length() - 1
    present = [(start + i) % 12 for i in range(12) if mask & (1 << (start + i) % 12)]
    text = " ".join(note_text(usual_note(pc, hearing.key), hearing.style) for pc in present)
    return Name(text, None, ("these notes form no usual chord",), 0.0)


def _one_note(sounding: Sequence[int], note: NoteName, hearing: Hearing) -> Name:
    words = "one note" if len(sounding) == 1 else "unison" if len(set(sounding)) == 1 else "octaves"
    text = note_text(note, hearing.style)
    return Name(f"{text} ({words})", None, (f"only {text} sounds: too little for a chord",), 0.0, root=note)


def _power_chord(root: int, inverted: bool, hearing: Hearing) -> Name:
    spelled = usual_note(root, hearing.key)
    fifth = spelled.above(Degree(5))
    slash = fifth if inverted and hearing.bass is not None else None
    chord = Chord(spelled, get_quality("5"), bass=slash)
    low, high = note_text(spelled, hearing.style), note_text(fifth, hearing.style)
    reasons = [f"only root {low} and fifth {high} sound: neither major nor minor"]
    reasons += [f"the fifth {high} is the bass"] if slash else []
    return Name(chord_text(chord, hearing.style), chord, tuple(reasons), 0.0, root=spelled)


def _interval(bass: int, degree: Degree, hearing: Hearing) -> Name:
    spelled = usual_note(bass, hearing.key)
    if not hearing.key and not spelled.above(degree).is_simple():
        spelled = spell_between(bass, LOWEST_MINOR)
    low, high = note_text(spelled, hearing.style), note_text(spelled.above(degree), hearing.style)
    reason = f"only {low} and {high} sound: an interval, too little for a chord"
    return Name(f"{low} {high} ({degree.interval_name})", None, (reason,), 0.0, root=spelled)
