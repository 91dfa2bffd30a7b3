"""Chords, books and whole sheets for the tests of sheets."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from reader.export.drawing import Drawing, Text
from reader.library.entry import Entry, Facts
from reader.music.chord import Chord
from reader.music.frame import Barre, Finger, Frame
from reader.music.key import parse_key
from reader.music.label import parse_label
from reader.music.shape import Shape
from reader.music.tuning import get_tuning
from reader.sheets.book import Book, sheet_chord
from reader.sheets.cards import CardSheet, draw_cards
from reader.sheets.keychart import draw_key, key_chart
from reader.sheets.order import draw_order, learning_order
from reader.sheets.page import SheetStyle
from reader.sheets.practice import PracticeSheet, draw_practice
from reader.sheets.progression import draw_progression, progression

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


class Sheet(NamedTuple):
    """Pages of one kind of sheet, and the shapes that they should show in the order drawn."""

    kind: str
    pages: tuple[Drawing, ...]
    shapes: list[Shape]


def every_sheet(tuning: str, style: SheetStyle, labels: str) -> Iterator[Sheet]:
    """One sheet of each kind, of the same chords; the key chart is that of B flat."""
    book, some = BOOKS[tuning], chords(labels)
    items = tuple(sheet_chord(item, book) for item in some)
    practice = PracticeSheet(items, book.tuning)
    ways = [s.frame.shape for item in items for s in item.shapes[: 1 + practice.variants]]
    yield Sheet("practice", draw_practice(practice, style), ways)
    mains = [item.main.frame.shape for item in items]
    yield Sheet("cards", draw_cards(CardSheet(items, book.tuning), style), mains)
    order = learning_order(some, book)
    yield Sheet("order", draw_order(order, style), [lesson.played.fingering.shape for lesson in order.lessons])
    sheet = progression(some, book, parse_key("C"))
    steps = [step.fingering.shape for step in sheet.steps]
    pairs = [p.fingering.shape for move in sheet.moves for p in (move.before, move.after)]
    yield Sheet("progression", draw_progression(sheet, style), steps + pairs)
    chart = key_chart(parse_key("Bb"), book)
    listed = [c.item for c in (*chart.triads, *chart.dominants, *chart.relative_chords)]
    shown = [item.main.frame.shape for item in (*listed, *(s.easy for s in chart.stand_ins))]
    yield Sheet("key", draw_key(chart, style), shown)
