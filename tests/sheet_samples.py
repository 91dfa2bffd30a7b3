"""Chords and books for the tests of sheets."""

from __future__ import annotations

from collections.abc import Sequence

from reader.export.drawing import Drawing, Text
from reader.library.entry import Entry, Facts
from reader.music.chord import Chord
from reader.music.frame import Barre, Finger, Frame
from reader.music.label import parse_label
from reader.music.shape import Shape
from reader.music.tuning import get_tuning
from reader.sheets.book import Book

UKULELE, GUITAR = get_tuning("ukulele"), get_tuning("guitar")
UKULELE_BOOK, GUITAR_BOOK = Book(UKULELE), Book(GUITAR)
BOOKS = {"ukulele": UKULELE_BOOK, "guitar": GUITAR_BOOK}


def chord(text: str) -> Chord:
    """A chord by its label."""
    out = parse_label(text)
    assert isinstance(out, Chord), text
    return out


def chords(text: str) -> list[Chord]:
    """Chords by their labels."""
    return [chord(word) for word in text.split()]


def texts(pages: Sequence[Drawing]) -> list[str]:
    """Every text on some pages."""
    return [item.text for page in pages for item in page.items if isinstance(item, Text)]


def entry(
    shape: str,
    label: str | None = None,
    state: str = "confirmed",
    tuning: str = "ukulele",
    fingers: Sequence[Finger] = (),
    barres: Sequence[Barre] = (),
) -> Entry:
    """A library entry of a low shape."""
    frets = Shape.parse(shape).frets
    frame = Frame(frets, tuple(fingers) or (None,) * len(frets), max(4, *(f or 0 for f in frets)), 1, tuple(barres))
    return Entry(
        id=1,
        tuning=tuning,
        shape=Shape(frets),
        frame=frame,
        name=None,
        other_names=(),
        label=label,
        state=state,  # type: ignore[arg-type]
        confidence=1.0,
        flags=(),
        sighting_count=1,
        due_count=0,
        facts=Facts(),
    )
