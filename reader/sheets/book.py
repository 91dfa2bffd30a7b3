"""Which shapes a sheet shows for a chord: those of a library first, then worked out from the tuning."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from reader.errors import NotationError
from reader.library.entry import Entry
from reader.music.check import judge
from reader.music.chord import Chord
from reader.music.fingering import Fingering, usual_fingerings
from reader.music.frame import Frame
from reader.music.label import parse_label
from reader.music.pitch import Degree
from reader.music.shapes import cost_of, in_usual_window, shapes_for
from reader.music.tuning import Tuning
from reader.sheets.chords import SheetChord, SheetShape

TRUSTED_STATES = ("confirmed", "corrected", "accepted")
"""Shapes that somebody still has to look at are not handed to students."""

BEYOND_A_HAND = 100.0
ALL = 20  # more fingerings than any shape has

_ORDINALS = {1: "root", 3: "3rd", 5: "5th", 7: "7th", 9: "9th", 11: "11th", 13: "13th"}


@dataclass(frozen=True, slots=True)
class Book:
    """Where shapes come from.

    Parameters
    ----------
    tuning : Tuning
    entries : tuple of Entry, optional
        Of a library, in any tuning; None when no library was asked.
    """

    tuning: Tuning
    entries: tuple[Entry, ...] | None = None

    @property
    def from_library(self) -> bool:
        """Whether a library was asked."""
        return self.entries is not None


def sheet_chord(chord: Chord, book: Book, most: int = 4) -> SheetChord:
    """A chord with its shapes, best first: from the library, then computed.

    Raises
    ------
    NotationError
        When no shape of the chord fits under a hand.
    """
    own = _from_library(chord, book)
    seen = {shape.frame.frets for shape in own}
    options = shapes_for(chord, book.tuning)
    computed = [
        SheetShape(option.frame, "computed", missing_words(option.missing))
        for option in options
        if option.shape.frets not in seen
    ]
    shapes = (*own, *computed)[:most]
    if not shapes:
        raise NotationError(
            f"No shape of {chord} fits under a hand on {book.tuning.name}: choose another chord or tuning."
        )
    return SheetChord(chord, shapes)


def book_chords(book: Book) -> tuple[Chord, ...]:
    """The chords that a library holds in this tuning, by their labels or else their names, each once, in its order."""
    found: dict[Chord, None] = {}
    for entry in book.entries or ():
        if entry.tuning == book.tuning.id and entry.state in TRUSTED_STATES:
            chord = _chord_of(entry)
            if chord is not None:
                found.setdefault(chord)
    return tuple(found)


def _chord_of(entry: Entry) -> Chord | None:
    for text in (entry.label, entry.name):
        chord = parse_label(text) if text else None
        if isinstance(chord, Chord):
            return chord
    return None


def missing_words(missing: Sequence[Degree]) -> str:
    """What does not sound: ``no root, no 5th``."""
    return ", ".join(f"no {_ORDINALS.get(d.number, f'{d.number}th')}" for d in missing)


def _from_library(chord: Chord, book: Book) -> list[SheetShape]:
    found = [
        (_preference(entry, chord, book.tuning), entry)
        for entry in book.entries or ()
        if entry.tuning == book.tuning.id and entry.state in TRUSTED_STATES and _plays(entry, chord, book.tuning)
    ]
    found.sort(key=lambda pair: (pair[0], str(pair[1].shape)))
    return [_sheet_shape(entry, chord, book.tuning) for _, entry in found]


def _sheet_shape(entry: Entry, chord: Chord, tuning: Tuning) -> SheetShape:
    _, missing = judge(chord, entry.shape, tuning)
    frame = in_usual_window(with_fingers(entry.frame, tuning))
    return SheetShape(frame, "library", missing_words(missing))


def _labelled(entry: Entry, chord: Chord) -> bool:
    return entry.label is not None and parse_label(entry.label) == chord


def _plays(entry: Entry, chord: Chord, tuning: Tuning) -> bool:
    """A shape serves when it sounds the chord; with a tone left out or another bass only where its label says so."""
    verdict, _ = judge(chord, entry.shape, tuning)
    return verdict == "same" or (verdict in ("short", "inversion", "family") and _labelled(entry, chord))


def _preference(entry: Entry, chord: Chord, tuning: Tuning) -> tuple[bool, float]:
    usual = usual_fingerings(entry.shape, tuning, most=1)
    return not _labelled(entry, chord), cost_of(usual[0], chord, tuning) if usual else BEYOND_A_HAND


def with_fingers(frame: Frame, tuning: Tuning) -> Frame:
    """The frame with the usual fingers where it was drawn without any; what was drawn stays."""
    if any(finger is not None for finger in frame.fingers):
        return frame
    usual = usual_fingerings(frame.shape, tuning)
    if not usual:
        return frame
    drawn = {barre.fret for barre in frame.barres}
    best = next((f for f in usual if drawn <= {barre.fret for barre in f.barres}), usual[0])
    return replace(frame, fingers=best.fingers, barres=frame.barres or best.barres)


def fingerings_of(shape: SheetShape, tuning: Tuning, most: int = 3) -> tuple[Fingering, ...]:
    """How the hand can lie in a shape: as drawn in a library, else the usual ways; empty beyond most hands."""
    usual = usual_fingerings(shape.frame.shape, tuning, most=ALL)
    if shape.origin == "computed" or not usual:
        return usual[:most]
    drawn = next((f for f in usual if f.fingers == shape.frame.fingers), usual[0])
    return (replace(drawn, fingers=shape.frame.fingers, barres=shape.frame.barres),)
