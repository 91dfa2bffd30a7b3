"""Why a shape has a name, in plain words."""

from __future__ import annotations

from reader.music.chord import ROOT, Chord
from reader.music.forms import Form
from reader.music.key import Key
from reader.music.label_style import LabelStyle, note_text
from reader.music.pitch import Degree
from reader.music.spelling import plain_note

_ORDINALS = {
    **{1: "root", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth", 7: "seventh"},
    **{9: "ninth", 11: "eleventh", 13: "thirteenth"},
}


def why_notes(chord: Chord, form: Form, style: LabelStyle) -> tuple[str, ...]:
    """Which notes sound, lack or are added."""
    parts = []
    if ROOT in form.missing:
        parts.append(f"without its root {note_text(chord.root, style)}")
    gone = [_degree_and_note(chord, d, style) for d in form.missing if d != ROOT]
    if gone:
        parts.append("left out: " + ", ".join(gone))
    if not parts:
        notes = (chord.root.above(d) for d in chord.degrees if d not in form.silent)
        parts.append("exact: " + " ".join(note_text(plain_note(n), style) for n in notes))
    if form.added:
        parts.append("added: " + ", ".join(_degree_and_note(chord, d, style) for d in form.added))
    return tuple(parts)


def why_bass(chord: Chord, bass: int, style: LabelStyle) -> str:
    """What the lowest pitch class is to a chord."""
    if chord.bass is None:
        root = chord.root.pitch_class == bass
        return f"the bass {note_text(chord.root, style)} is the root" if root else "any of its notes can be the root"
    below = note_text(chord.bass, style)
    degree = next((d for d in chord.degrees if (chord.root.pitch_class + d.semitones) % 12 == bass), None)
    if degree is None:
        return f"over the bass {below}"
    return f"inversion: the bass {below} is the {_ORDINALS[degree.number]}"


def key_text(key: Key, style: LabelStyle) -> str:
    """A key in words: ``F# minor``."""
    return f"{note_text(key.tonic, style)} {key.mode}"


def _degree_and_note(chord: Chord, degree: Degree, style: LabelStyle) -> str:
    return f"{_ORDINALS[degree.number]} ({note_text(plain_note(chord.root.above(degree)), style)})"
