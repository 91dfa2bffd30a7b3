"""The learning order: each chord adds as little as possible to those before, and says why it comes now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reader.export.drawing import Drawing, Text, joined, placed
from reader.export.lettering import CAP_HEIGHT
from reader.music.chord import Chord
from reader.music.fingering import Change, change
from reader.music.label_style import LabelStyle, chord_text
from reader.sheets.book import Book, sheet_chord
from reader.sheets.chords import WORDS_APART, SheetChord, beside, computed_mark, draw_chord
from reader.sheets.hands import UNUSUAL_FINGERS, Played, choices, fingers_named
from reader.sheets.page import SIGNED, Head, SheetStyle, in_rows, lay_out, paragraph
from reader.sheets.practice import subtitle
from reader.sheets.progression import drawn
from reader.sheets.words import NUMBER_WORDS

GAP = 4.0  # millimetres between strings
CHANGE_COUNTS = 0.5
"""How much the easiest change from a chord already known weighs against the shape itself."""
MOVED_FORM = 0.5
"""The most that a known form on other strings or frets counts as a change."""
BARRE_WAITS = 4.0
"""Added for a barre: barres come last (common practice, no source)."""
FINGERS_WAIT = 0.6
"""For each finger of a shape: few fingers come first (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Lesson:
    """One chord in the order, the known chord that it is nearest to, and the reason why it comes now."""

    played: Played
    nearest: Played | None
    change: Change | None
    reason: str


@dataclass(frozen=True, slots=True)
class LearningOrder:
    """Chords in the order of learning."""

    lessons: tuple[Lesson, ...]
    book: Book
    title: str = "Learning order"


def learning_order(
    chords: Sequence[Chord], book: Book, title: str = "Learning order", labels: LabelStyle = SIGNED
) -> LearningOrder:
    """Put chords into an order for learning.

    The first is the lightest; each next one is that which adds least: its own weight, and the easiest change from a
    chord already known. Barres come last.

    Parameters
    ----------
    chords : sequence of Chord
        In any order; each is taken once.
    book : Book
    title : str
    labels : LabelStyle
        Spelling of the chords named in the reasons.
    """
    waiting = [_fingerings(sheet_chord(chord, book), book) for chord in dict.fromkeys(chords)]
    lessons: list[Lesson] = []
    while waiting:
        known = [lesson.played for lesson in lessons]
        best = min(waiting, key=lambda ways: min(_burden(way, ways[0], known) for way in ways))
        waiting.remove(best)
        way = min(best, key=lambda w: _burden(w, best[0], known))
        lessons.append(_lesson(way, known, labels))
    return LearningOrder(tuple(lessons), book, title)


def _fingerings(chord: SheetChord, book: Book) -> tuple[Played, ...]:
    """The shape to learn in all its fingerings, the usual one first."""
    ways = choices(chord, book.tuning)
    return tuple(way for way in ways if way.shape == ways[0].shape)


def _burden(way: Played, usual: Played, known: Sequence[Played]) -> float:
    hand = way.fingering.difficulty
    own = hand.score + FINGERS_WAIT * hand.fingers
    own += BARRE_WAITS if usual.fingering.difficulty.barre_strings else 0.0
    own += UNUSUAL_FINGERS * (way.fingering.cost - usual.fingering.cost)
    if not known:
        return own
    return own + CHANGE_COUNTS * min(_step(old, way) for old in known)


def _step(old: Played, way: Played) -> float:
    """What is new from a known chord; the same form moved is hardly new at all."""
    cost = change(old.fingering, way.fingering).cost
    return min(cost, MOVED_FORM) if _is_moved(old, way) else cost


def _lesson(way: Played, known: Sequence[Played], labels: LabelStyle) -> Lesson:
    if not known:
        return Lesson(way, None, None, _first_reason(way))
    nearest = max(known, key=lambda old: _nearness(old, way))
    move = change(nearest.fingering, way.fingering)
    return Lesson(way, nearest, move, _reason(way, nearest, move, labels))


def _nearness(old: Played, way: Played) -> tuple[bool, int, float]:
    move = change(old.fingering, way.fingering)
    return _is_moved(old, way), len(move.stay), -move.cost


def _first_reason(way: Played) -> str:
    return f"{_load(way).capitalize()}: the lightest of these."


def _load(way: Played) -> str:
    """What the shape asks of the hand, in a few words."""
    hand = way.fingering.difficulty
    if not hand.fingers:
        return "no finger at all"
    fingers = f"{NUMBER_WORDS[hand.fingers]} finger{'s' if hand.fingers > 1 else ''}"
    return f"{fingers} with a barre" if hand.barre_strings else fingers


def _reason(way: Played, nearest: Played, move: Change, labels: LabelStyle) -> str:
    old = chord_text(nearest.chord.chord, labels)
    if _is_moved(nearest, way):
        return f"The shape of {old} on other strings or frets: {_load(way)}."
    if move.stay:
        return f"Keeps {fingers_named(move.stay)} from {old}, so little is new: {_load(way)}."
    if move.slide:
        slide = "slides" if len(move.slide) == 1 else "slide"
        return f"From {old}, {fingers_named(move.slide)} only {slide}: {_load(way)}."
    return f"New for the hand, nearest to {old}: {_load(way)}."


def _is_moved(old: Played, new: Played) -> bool:
    """Whether the same fingers keep their form, on other strings or frets."""
    a, b = old.fingering.places(), new.fingering.places()
    if len(a) < 2 or a.keys() != b.keys() or a == b:
        return False
    frets = {b[f][0] - a[f][0] for f in a}
    strings = {b[f][1][0] - a[f][1][0] for f in a}
    return len(frets) == len(strings) == 1 and all(len(a[f][1]) == len(b[f][1]) for f in a)


# ---------------------------------------------------------------- drawing


def draw_order(order: LearningOrder, style: SheetStyle) -> tuple[Drawing, ...]:
    """The pages of a learning order."""
    width = style.paper.content.right - style.paper.content.left
    columns = 1 if style.large else 2
    cells = [_cell(n, lesson, order, style, width / columns - 4.0) for n, lesson in enumerate(order.lessons, 1)]
    names = ", ".join(str(lesson.played.chord.chord) for lesson in order.lessons)
    head = Head(order.title, subtitle(order.book.tuning, style, order.book.from_library), f"Learning order: {names}.")
    return lay_out(head, in_rows(cells, columns, width), style)


def _cell(number: int, lesson: Lesson, order: LearningOrder, style: SheetStyle, width: float) -> Drawing:
    """Number, diagram, reason."""
    sizes = style.sizes
    mark = computed_mark(lesson.played.shape) if order.book.from_library else ""
    caption = " ".join(part for part in (mark, lesson.played.shape.remark) if part)
    diagram = draw_chord(drawn(lesson.played), 0, order.book.tuning, style, GAP, (caption,))
    margin = sizes.heading * 1.6
    top = Text(0.0, sizes.heading * CAP_HEIGHT * 1.4, f"{number}.", sizes.heading, bold=True)
    words = paragraph(lesson.reason, width - margin - diagram.width - WORDS_APART, sizes.body)
    lesson_drawn = beside(diagram, words, style, GAP)
    parts = [Drawing(0, 0, (top,)), placed(lesson_drawn, margin, 0.0)]
    return joined(width, lesson_drawn.height, parts, "", "")
