"""Open strings as a person types them: MIDI numbers, or notes with or without octaves."""

from __future__ import annotations

import re

from reader.errors import NotationError
from reader.music.pitch import NoteName
from reader.music.shape import MAX_STRINGS

TypedNotes = tuple[tuple[NoteName, int | None], ...]
"""Notes from left to right, each with its octave where one was given."""

FEWEST_STRINGS = 2
MIDI_RANGE = range(12, 109)
"""Pitches that an open string can have; a typed number outside is a slip (a fret, a finger)."""

_NOTE = re.compile(r"([A-Ga-g])([#♯]|b|♭)?(-?\d)?")


def parse_midi_tuning(text: str) -> tuple[int, ...] | None:
    """MIDI numbers from left to right; None when the text holds anything else.

    Raises
    ------
    NotationError
        When a number is no pitch of a string.

    Examples
    --------
    >>> parse_midi_tuning("67 60 64 69")
    (67, 60, 64, 69)
    """
    parts = re.split(r"[\s,;-]+", text)
    if not FEWEST_STRINGS <= len(parts) <= MAX_STRINGS or not all(p.isascii() and p.isdigit() for p in parts):
        return None
    numbers = tuple(int(p) for p in parts)
    bad = next((n for n in numbers if n not in MIDI_RANGE), None)
    if bad is not None:
        raise NotationError(
            f"{bad} in the tuning '{text}' is not the MIDI number of a string "
            f"({MIDI_RANGE.start} to {MIDI_RANGE.stop - 1}, middle C is 60)."
        )
    return numbers


def parse_note_tuning(text: str) -> tuple[TypedNotes, ...]:
    """Every way to read notes from left to right, the likelier first: in ``EADGbe`` the b is a letter, in ``EbBb`` not.

    Raises
    ------
    NotationError
        Naming the first character that is no note.
    """
    readings = [_split(text, flat_sign=True)]
    if "b" in text:
        readings.append(_split(text, flat_sign=False))
    good = tuple(notes for notes in readings if isinstance(notes, tuple))
    if good:
        return good
    bad = next(b for b in readings if isinstance(b, str))
    problem = f"'{bad}' in the tuning '{text}' is not a note"
    if not bad:
        problem = f"The tuning '{text}' needs {FEWEST_STRINGS} to {MAX_STRINGS} notes"
    raise NotationError(
        f"{problem}: give an id such as ukulele or guitar-drop-d, or the open strings from left to right, "
        "as in gCEA, 'D A D G A D' or '67 60 64 69'."
    )


def _split(text: str, flat_sign: bool) -> TypedNotes | str:
    """The notes, or the first character that is none; an empty text when there are too few or too many."""
    notes: list[tuple[NoteName, int | None]] = []
    rest = text.lstrip(" ,-\t")
    while rest:
        found = _NOTE.match(rest)
        if not found:
            return rest[0]
        accidental, octave, end = found[2] or "", found[3], found.end()
        if accidental == "b" and not flat_sign:
            accidental, octave, end = "", None, 1
        notes.append((NoteName.parse(found[1] + accidental), None if octave is None else int(octave)))
        rest = rest[end:].lstrip(" ,-\t")
    return tuple(notes) if FEWEST_STRINGS <= len(notes) <= MAX_STRINGS else ""
