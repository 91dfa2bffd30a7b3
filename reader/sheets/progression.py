"""The progression sheet: chords in the order played, and what the hand does at every change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from reader.errors import NotationError
from reader.export.drawing import Drawing, Text, joined, placed
from reader.export.lettering import CAP_HEIGHT
from reader.music.chord import Chord
from reader.music.fingering import Change, change, usual_fingerings
from reader.music.harmony import likely_keys, role
from reader.music.key import Key
from reader.music.label import NoChord, parse_label
from reader.music.label_style import LabelStyle, NoteNames, chord_text, note_text
from reader.music.numeral import is_numeral, parse_numeral
from reader.music.shapes import frame_of
from reader.sheets.book import Book, sheet_chord
from reader.sheets.chords import SheetChord, computed_mark, draw_chord
from reader.sheets.hands import Played, change_sentences, choices, easiest
from reader.sheets.page import SIGNED, Head, SheetStyle, heading, in_rows, lay_out, paragraph, stacked
from reader.sheets.practice import subtitle
from reader.sheets.standins import StandIn, stand_ins
from reader.sheets.words import CHANGES, CHANGES_REMARK, EASIER, HARDEST, IN_ORDER, NO_BREAK

COLUMNS, LARGE_COLUMNS = 4, 2
GAP, SMALL_GAP = 4.2, 2.7  # millimetres between strings
WORD_SPACE = 0.8  # millimetres between sentences
MORE_SILENT = 2  # strings that another way may silence beyond the first
NEARLY_USUAL = 0.1
WORTH_MENTIONING = 0.4
"""How much another way must lighten the two changes around a chord, in the unit of `Change.cost`."""


@dataclass(frozen=True, slots=True)
class Move:
    """One change, and a lighter way to make it if there is one.

    Parameters
    ----------
    before, after : Played
    change : Change
    hardest : bool
        Whether no other change of the sheet asks more of the hand.
    easier : Played, optional
        Another way to play one of the two chords; only with the hardest change.
    stand_in : StandIn, optional
        A lighter chord for one of the two; only with the hardest change.
    """

    before: Played
    after: Played
    change: Change
    hardest: bool = False
    easier: Played | None = None
    stand_in: StandIn | None = None


@dataclass(frozen=True, slots=True)
class Progression:
    """Chords in the order played.

    Parameters
    ----------
    steps : tuple of Played
        One per chord played; the same chord always in the same shape.
    moves : tuple of Move
        Every change once, in the order met; the way back to the beginning is the last.
    book : Book
    key : Key, optional
        For the numerals.
    title : str
    """

    steps: tuple[Played, ...]
    moves: tuple[Move, ...]
    book: Book
    key: Key | None = None
    title: str = "Chord progression"


def read_progression(text: str, key: Key | None, note_names: NoteNames = "english") -> tuple[Chord, ...]:
    """Chords by name or by Roman numeral, separated by spaces, dashes or bar lines.

    Raises
    ------
    NotationError
        Naming what is neither, or a numeral without a key.

    Examples
    --------
    >>> from reader.music.key import parse_key
    >>> [str(c) for c in read_progression("I vi IV V7", parse_key("C"))]
    ['C', 'Am', 'F', 'G7']
    """
    words = text.replace("|", " ").replace(" - ", " ").replace(",", " ").split()
    chords = [read_chord(word, key, note_names) for word in words]
    if not chords:
        raise NotationError("The progression is empty: write chords or numerals, as in 'I vi IV V7' or 'C Am F G7'.")
    return tuple(chords)


def read_chord(word: str, key: Key | None, note_names: NoteNames = "english") -> Chord:
    """One chord by name, or by numeral where a key is given.

    Raises
    ------
    NotationError
        When it is neither.
    """
    if is_numeral(word):
        if key is None:
            raise NotationError(f"'{word}' is a numeral and there is no key: add one, as in --key C.")
        return parse_numeral(word, key)
    found = parse_label(word, note_names)
    if isinstance(found, Chord):
        return found
    if isinstance(found, NoChord):
        raise NotationError(f"'{word}' means that nothing is played: leave it out.")
    raise NotationError(f"{found.reason} Write it as in C, F#m7 or Bb.")


def progression(
    chords: Sequence[Chord],
    book: Book,
    key: Key | None = None,
    title: str = "Chord progression",
    goes_round: bool = True,
    labels: LabelStyle = SIGNED,
) -> Progression:
    """Choose shapes so that the changes are easy, and say what each change asks.

    Parameters
    ----------
    chords : sequence of Chord
        At least one, in the order played.
    book : Book
    key : Key, optional
    title : str
    goes_round : bool
        Whether the last chord is followed by the first again.
    labels : LabelStyle
        Spelling of the notes named in the words about stand-ins.
    """
    each = tuple(dict.fromkeys(chords))
    items = [sheet_chord(chord, book) for chord in each]
    order = [each.index(chord) for chord in chords]
    round_trip = [*order, order[0]] if goes_round else order
    chosen = easiest(items, round_trip, book.tuning)
    steps = tuple(chosen[index] for index in order)
    home = key or likely_keys(chords)[0].key
    return Progression(steps, _moves(chosen, round_trip, book, home, labels), book, key, title)


def _moves(
    chosen: Sequence[Played], order: Sequence[int], book: Book, key: Key, labels: LabelStyle
) -> tuple[Move, ...]:
    pairs = dict.fromkeys((a, b) for a, b in pairwise(order) if a != b)
    moves = [_move(chosen[a], chosen[b]) for a, b in pairs]
    worst = max((m.change.cost for m in moves), default=0.0)
    hardest = next((n for n, m in enumerate(moves) if m.change.cost == worst), None)
    return tuple(_with_help(m, book, key, labels) if n == hardest else m for n, m in enumerate(moves))


def _with_help(move: Move, book: Book, key: Key, labels: LabelStyle) -> Move:
    harder = max((move.before, move.after), key=lambda played: played.fingering.difficulty.score)
    lighter = next(iter(stand_ins(harder.chord, key, book, labels, same_root=True)), None)
    return replace(move, hardest=True, easier=_easier(move, book), stand_in=lighter)


def _move(before: Played, after: Played) -> Move:
    return Move(before, after, change(before.fingering, after.fingering))


def _easier(move: Move, book: Book) -> Played | None:
    """Another way to play one of the two chords that makes this change lighter; the lightest there is."""
    before, after = move.before.fingering, move.after.fingering
    ways = [(change(before, way.fingering).cost, way) for way in _other_ways(move.after, book)]
    ways += [(change(way.fingering, after).cost, way) for way in _other_ways(move.before, book)]
    cost, way = min(ways, key=lambda pair: pair[0], default=(move.change.cost, move.after))
    return way if cost <= move.change.cost - WORTH_MENTIONING else None


def _other_ways(played: Played, book: Book) -> list[Played]:
    """Usual ways to play the same chord that are no heavier themselves and do not leave out much more of it."""
    weight = played.fingering.difficulty.score
    silent = played.fingering.shape.frets.count(None) + MORE_SILENT
    return [
        way
        for way in choices(played.chord, book.tuning)
        if way != played
        and way.fingering.difficulty.score <= weight
        and way.fingering.shape.frets.count(None) <= silent
        and way.fingering.cost <= usual_fingerings(way.fingering.shape, book.tuning, most=1)[0].cost + NEARLY_USUAL
    ]


# ---------------------------------------------------------------- drawing


def draw_progression(sheet: Progression, style: SheetStyle) -> tuple[Drawing, ...]:
    """The pages of a progression sheet."""
    width = style.paper.content.right - style.paper.content.left
    columns = LARGE_COLUMNS if style.large else COLUMNS
    cells = [_step(step, sheet, style, width / columns - 2.0) for step in sheet.steps]
    rows = in_rows(cells, columns, width)
    blocks = [stacked([heading(IN_ORDER, width, style), rows[0]], width, 1.0), *rows[1:]]
    moves = [_move_block(move, sheet, style, width / (1 if style.large else 2) - 3.0) for move in sheet.moves]
    if moves:
        change_rows = in_rows(moves, 1 if style.large else 2, width)
        title = heading(CHANGES, width, style, CHANGES_REMARK)
        blocks += [stacked([title, change_rows[0]], width, 1.0), *change_rows[1:]]
    names = " ".join(str(step.chord.chord) for step in sheet.steps)
    words = subtitle(sheet.book.tuning, style, sheet.book.from_library)
    if sheet.key is not None:
        words = f"{note_text(sheet.key.tonic, style.labels)} {sheet.key.mode} · {words}"
    head = Head(sheet.title, words, f"Chord progression: {names}.")
    return lay_out(head, blocks, style)


def drawn(played: Played) -> SheetChord:
    """The chord with the shape and fingers chosen, ready to draw."""
    frame = played.shape.frame
    if frame.fingers != played.fingering.fingers:
        frame = frame_of(played.fingering)
    return SheetChord(played.chord.chord, (replace(played.shape, frame=frame),))


def _step(step: Played, sheet: Progression, style: SheetStyle, width: float) -> Drawing:
    """A chord with its numeral above."""
    sizes = style.sizes
    mark = computed_mark(step.shape) if sheet.book.from_library else ""
    caption = " ".join(part for part in (mark, step.shape.remark) if part)
    gap = min(GAP, width / (sheet.book.tuning.string_count + 2.5) / sizes.diagram)
    diagram = draw_chord(drawn(step), 0, sheet.book.tuning, style, gap, (caption,))
    if sheet.key is None:
        return diagram
    numeral = role(step.chord.chord, sheet.key).numeral.replace("b", "♭").replace("#", "♯")
    top = Text(diagram.width / 2, sizes.heading * CAP_HEIGHT, numeral, sizes.heading * 0.9, "middle", bold=True)
    y = sizes.heading * 1.2
    return joined(diagram.width, y + diagram.height, [Drawing(0, 0, (top,)), placed(diagram, 0.0, y)], "", "")


def _move_block(move: Move, sheet: Progression, style: SheetStyle, width: float) -> Drawing:
    """The two diagrams of a change, small, beside them what each finger does, and under them what makes it easier."""
    pair = [draw_chord(drawn(p), 0, sheet.book.tuning, style, SMALL_GAP) for p in (move.before, move.after)]
    left, right = pair
    diagrams = joined(
        left.width + right.width, max(left.height, right.height), [left, placed(right, left.width, 0.0)], "", ""
    )
    room = width - diagrams.width - 2.0
    words = stacked(_move_words(move, style, room), room, WORD_SPACE)
    parts = [diagrams, placed(words, diagrams.width + 2.0, 1.0)]
    block = joined(width, max(diagrams.height, words.height + 1.0), parts, "", "")
    return stacked([block, *_help_words(move, style, width)], width, WORD_SPACE)


def _move_words(move: Move, style: SheetStyle, width: float) -> list[Drawing]:
    sizes = style.sizes
    names = [chord_text(p.chord.chord, style.labels) for p in (move.before, move.after)]
    out = [paragraph(f"{names[0]} → {names[1]}", width, sizes.body, bold=True)]
    if move.hardest:
        out.append(paragraph(HARDEST, width, sizes.small, bold=True))
    return out + [paragraph(sentence, width, sizes.small) for sentence in change_sentences(move.change)]


def _help_words(move: Move, style: SheetStyle, width: float) -> list[Drawing]:
    size, out = style.sizes.small, []
    if move.easier is not None:
        name = chord_text(move.easier.chord.chord, style.labels)
        fingers = NO_BREAK.join("–" if f is None else str(f) for f in move.easier.fingering.fingers)
        words = EASIER.format(chord=name, shape=move.easier.fingering.shape, fingers=fingers)
        out.append(paragraph(words, width, size))
    if move.stand_in is not None:
        out.append(paragraph(move.stand_in.sentence(style.labels), width, size))
    return out
