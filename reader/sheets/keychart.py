"""The key chart: the chords of a key with their numerals, what each does, and what may replace the hard ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reader.export.drawing import Drawing, Text, joined, placed
from reader.export.lettering import CAP_HEIGHT, wrapped
from reader.music.chord import Chord
from reader.music.harmony import diatonic_chords, role, secondary_dominants
from reader.music.key import Key, Mode
from reader.music.label_style import LabelStyle, chord_text, note_text
from reader.music.pitch import Degree
from reader.sheets.book import Book, sheet_chord
from reader.sheets.chords import WORDS_APART, SheetChord, beside, captioned, computed_mark, draw_chord
from reader.sheets.hands import main_fingering
from reader.sheets.page import SIGNED, Head, SheetStyle, fitted, heading, in_rows, lay_out, paragraph, stacked
from reader.sheets.practice import subtitle
from reader.sheets.standins import StandIn, stand_ins
from reader.sheets.words import LEADS_HOME, LEADS_ON, OFFICES, STAND_INS, STAND_INS_REMARK

COLUMNS, LARGE_COLUMNS = 7, 3
MAX_GAP, LARGE_GAP, STAND_IN_GAP = 3.8, 4.4, 3.0  # millimetres between strings
CELL_ROOM = 1.5  # millimetres between neighbouring cells
HARD = 1.6
"""From this `Difficulty.score` a chord gets a stand-in: what `Difficulty.level` no longer calls easy."""


@dataclass(frozen=True, slots=True)
class KeyChord:
    """A chord of a key: its numeral, what it does in a few words, and the chord that it leads to, if any."""

    item: SheetChord
    numeral: str
    office: str
    goal: Chord | None = None


@dataclass(frozen=True, slots=True)
class KeyChart:
    """The chords of a key.

    Parameters
    ----------
    key : Key
    book : Book
    triads : tuple of KeyChord
        From the tonic, seven.
    dominants : tuple of KeyChord
        The dominant seventh of the key, then those of its other degrees.
    relative : Key
        The minor key with the same notes, or the major one.
    relative_chords : tuple of KeyChord
        Its tonic, subdominant and dominant.
    stand_ins : tuple of StandIn
        For the chords that are not easy.
    """

    key: Key
    book: Book
    triads: tuple[KeyChord, ...]
    dominants: tuple[KeyChord, ...]
    relative: Key
    relative_chords: tuple[KeyChord, ...]
    stand_ins: tuple[StandIn, ...]


def key_chart(key: Key, book: Book, labels: LabelStyle = SIGNED) -> KeyChart:
    """Build the chart of a key.

    Parameters
    ----------
    key : Key
    book : Book
        Tuning, and the library whose shapes come first.
    labels : LabelStyle
        Spelling of the notes named in the words about stand-ins.
    """
    offices = OFFICES[key.mode]
    triads = tuple(_key_chord(c, key, book, words) for c, words in zip(diatonic_chords(key), offices, strict=True))
    dominants = _dominants(key, book)
    relative = relative_key(key)
    return KeyChart(
        key,
        book,
        triads,
        dominants,
        relative,
        _relative_chords(relative, book),
        _all_stand_ins([*triads, dominants[0]], key, book, labels),
    )


def relative_key(key: Key) -> Key:
    """The key of the other mode with the same signature: E minor of G major, and back."""
    other: Mode = "minor" if key.mode == "major" else "major"
    return Key(key.tonic.above(Degree(6) if key.mode == "major" else Degree(3, -1)), other)


def _key_chord(chord: Chord, key: Key, book: Book, office: str) -> KeyChord:
    return KeyChord(sheet_chord(chord, book), role(chord, key).numeral, office)


def dominant_seventh(key: Key) -> Chord:
    """V7; in minor with the raised leading note."""
    return diatonic_chords(Key(key.tonic, "major"), sevenths=True)[4]


def _dominants(key: Key, book: Book) -> tuple[KeyChord, ...]:
    triads = {role(c, key).numeral: c for c in diatonic_chords(key)}
    seventh = dominant_seventh(key)
    own = KeyChord(sheet_chord(seventh, book), role(seventh, key).numeral, LEADS_HOME, diatonic_chords(key)[0])
    others = tuple(
        KeyChord(sheet_chord(chord, book), numeral, LEADS_ON, triads[numeral.split("/")[1]])
        for chord, numeral in secondary_dominants(key)
    )
    return (own, *others)


def _relative_chords(relative: Key, book: Book) -> tuple[KeyChord, ...]:
    triads = diatonic_chords(relative)
    words = ("its home", "away from it", "back to it")
    chords = (triads[0], triads[3], dominant_seventh(relative))
    return tuple(_key_chord(c, relative, book, w) for c, w in zip(chords, words, strict=True))


def _all_stand_ins(chords: Sequence[KeyChord], key: Key, book: Book, labels: LabelStyle) -> tuple[StandIn, ...]:
    found: list[StandIn] = []
    for chord in chords:
        fingering = main_fingering(chord.item, book.tuning)
        if fingering is None or fingering.difficulty.score >= HARD:
            found += stand_ins(chord.item, key, book, labels)
    return tuple(found)


# ---------------------------------------------------------------- drawing


def draw_key(chart: KeyChart, style: SheetStyle) -> tuple[Drawing, ...]:
    """The pages of a key chart."""
    width = style.paper.content.right - style.paper.content.left
    blocks: list[Drawing] = []
    name, other = _key_name(chart.key, style.labels), _key_name(chart.relative, style.labels)
    sections = (
        (f"The chords of {name}", "", chart.triads),
        ("Sevenths that lead on", "Each wants to go to the chord named under it.", chart.dominants),
        (f"The relative {chart.relative.mode}: {other}", "The same notes with another home.", chart.relative_chords),
    )
    for title, remark, chords in sections:
        rows = _rows(chords, chart, style, width)
        blocks += [stacked([heading(title, width, style, remark), rows[0]], width, 1.0), *rows[1:]]
    blocks += _stand_in_blocks(chart, style, width)
    numerals = ", ".join(f"{c.numeral} {c.item.chord}" for c in chart.triads)
    head = Head(f"Key of {name}", subtitle(chart.book.tuning, style, chart.book.from_library), f"{name}: {numerals}.")
    return lay_out(head, blocks, style)


def _key_name(key: Key, labels: LabelStyle) -> str:
    return f"{note_text(key.tonic, labels)} {key.mode}"


def _rows(chords: Sequence[KeyChord], chart: KeyChart, style: SheetStyle, width: float) -> list[Drawing]:
    columns = LARGE_COLUMNS if style.large else COLUMNS
    cells = [_cell(chord, chart, style, width / columns - CELL_ROOM) for chord in chords]
    return in_rows(cells, columns, width)


def _cell(chord: KeyChord, chart: KeyChart, style: SheetStyle, width: float) -> Drawing:
    """Numeral, diagram, what the chord does."""
    sizes = style.sizes
    numeral = chord.numeral.replace("b", "♭").replace("#", "♯")
    top = Text(width / 2, sizes.heading * CAP_HEIGHT, numeral, sizes.heading * 0.9, "middle", bold=True)
    gap = width / (chart.book.tuning.string_count + 2.5) / sizes.diagram
    most = LARGE_GAP if style.large else MAX_GAP
    diagram = fitted(draw_chord(chord.item, 0, chart.book.tuning, style, min(gap, most)), width, 200.0)
    y = sizes.heading * 1.25
    drawn = placed(diagram, (width - diagram.width) / 2, y)
    mark = computed_mark(chord.item.main) if chart.book.from_library else ""
    words = captioned(
        Drawing(width, y + diagram.height, ()),
        (*_wrapped_office(chord, width, style), " ".join(p for p in (mark, chord.item.main.remark) if p)),
        style,
    )
    return joined(width, words.height, [Drawing(width, y, (top,)), drawn, words], "", "")


def _wrapped_office(chord: KeyChord, width: float, style: SheetStyle) -> tuple[str, ...]:
    goal = f" {chord_text(chord.goal, style.labels)}" if chord.goal else ""
    return wrapped(chord.office + goal, width, style.sizes.small)


def _stand_in_blocks(chart: KeyChart, style: SheetStyle, width: float) -> list[Drawing]:
    if not chart.stand_ins:
        return []
    columns = 1 if style.large else 2
    cells = [_stand_in(item, chart, style, width / columns - 4.0) for item in chart.stand_ins]
    rows = in_rows(cells, columns, width)
    title = heading(STAND_INS, width, style, STAND_INS_REMARK)
    return [stacked([title, rows[0]], width, 1.0), *rows[1:]]


def _stand_in(item: StandIn, chart: KeyChart, style: SheetStyle, width: float) -> Drawing:
    """The lighter chord, and beside it what it replaces and how that sounds."""
    diagram = draw_chord(item.easy, 0, chart.book.tuning, style, STAND_IN_GAP)
    room = width - diagram.width - WORDS_APART
    words = stacked(
        [
            paragraph(item.title(style.labels), room, style.sizes.body, bold=True),
            paragraph(item.words, room, style.sizes.small),
        ],
        room,
        1.0,
    )
    return beside(diagram, words, style, STAND_IN_GAP)
