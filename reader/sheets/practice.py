"""The practice sheet: each chord large, other ways to play it, grids to fill in, room for notes."""

from __future__ import annotations

from dataclasses import dataclass

from reader.export.diagram import draw_blank, nut_line
from reader.export.drawing import Drawing, joined, placed
from reader.export.lettering import text_width
from reader.music.chord import Chord
from reader.music.label_style import note_text
from reader.music.tuning import Tuning
from reader.sheets.chords import SheetChord, computed_mark, draw_chord, string_names
from reader.sheets.page import NOTE_LINE, Head, SheetStyle, heading, in_rows, lay_out, ruled, stacked
from reader.sheets.words import BLANKS, COMPUTED_LEGEND, NO_BREAK

MAIN_WIDTHS = {1: 58.0, 2: 50.0, 3: 42.0, 4: 36.0}
"""Widest main diagram in millimetres, by number of chords: few chords, large diagrams."""
CELL_MAIN_WIDTH = 34.0  # with more chords than that, in two columns
MAIN_GAPS = {1: 7.0, 2: 6.0, 3: 5.2, 4: 4.2}
CELL_GAP = 4.7
VARIANT_SCALE = 0.68
COLUMN_SPACE = 5.0
WRITING_ROOM = 24.0  # less than this beside a chord is not worth lines to write on
WRITING_HEIGHT = 4 * NOTE_LINE
"""Three lines to write on: four or more beside a diagram look like the strings of a tab."""


@dataclass(frozen=True, slots=True)
class PracticeSheet:
    """Chords to practise.

    Parameters
    ----------
    chords : tuple of SheetChord
    tuning : Tuning
    title : str
    variants : int
        How many further shapes of each chord are printed, if there are any.
    blanks : int
        Empty grids to fill in.
    from_library : bool
        Whether a library was asked: then shapes that it lacks are marked.
    """

    chords: tuple[SheetChord, ...]
    tuning: Tuning
    title: str = "Practice sheet"
    variants: int = 2
    blanks: int = 4
    from_library: bool = False


def draw_practice(sheet: PracticeSheet, style: SheetStyle) -> tuple[Drawing, ...]:
    """The pages of a practice sheet."""
    width = style.paper.content.right - style.paper.content.left
    count = len(sheet.chords)
    columns = 1 if count in MAIN_GAPS or style.large else 2
    cell_width = width / columns - (COLUMN_SPACE if columns > 1 else 0.0)
    gap = _main_gap(count, sheet.tuning.string_count)
    cells = [_cell(chord, sheet, style, gap, cell_width) for chord in sheet.chords]
    blocks = in_rows(cells, columns, width)
    if sheet.blanks:
        blocks += blank_rows(sheet.tuning.string_count, sheet.blanks, width, style)
    head = Head(sheet.title, subtitle(sheet.tuning, style, sheet.from_library), _description(sheet))
    return lay_out(head, blocks, style)


def _main_gap(count: int, strings: int) -> float:
    """Millimetres between strings: what the number of chords allows, and what keeps a wide neck in its column."""
    return min(MAIN_GAPS.get(count, CELL_GAP), MAIN_WIDTHS.get(count, CELL_MAIN_WIDTH) / (strings + 2.5))


def subtitle(tuning: Tuning, style: SheetStyle, from_library: bool) -> str:
    """Tuning, hand and what the signs mean, in one line."""
    parts = [tuning.name]
    if style.left_handed:
        strings = NO_BREAK.join(reversed(string_names(tuning, style.labels)))
        parts.append(f"drawn for left-handed players, strings {strings}")
    if from_library:
        parts.append(COMPUTED_LEGEND)
    return " · ".join(parts)


def _description(sheet: PracticeSheet) -> str:
    names = ", ".join(str(c.chord) for c in sheet.chords)
    return f"Practice sheet for {sheet.tuning.name}: {names}."


def notes_and_degrees(chord: Chord, style: SheetStyle, width: float) -> tuple[str, ...]:
    """``C E♭ G · 1 ♭3 5``, on two lines when one would be wider than ``width`` millimetres."""
    notes = " ".join(note_text(n, style.labels) for n in chord.notes)
    degrees = " ".join(str(d) for d in chord.degrees).replace("b", "♭").replace("#", "♯")
    line = f"{notes} · {degrees}"
    return (line,) if text_width(line, style.sizes.small) <= width else (notes, degrees)


def _captions(chord: SheetChord, number: int, sheet: PracticeSheet) -> tuple[str, ...]:
    shape = chord.shapes[number]
    mark = computed_mark(shape) if sheet.from_library else ""
    return (" ".join(part for part in (mark, shape.remark) if part),)


def _cell(chord: SheetChord, sheet: PracticeSheet, style: SheetStyle, gap: float, width: float) -> Drawing:
    """One chord: diagram with its notes, other ways, lines to write on where there is room; nuts lined up."""
    main_width = style.frames(gap).width(sheet.tuning.string_count)
    words = (*notes_and_degrees(chord.chord, style, main_width), *_captions(chord, 0, sheet))
    main = draw_chord(chord, 0, sheet.tuning, style, gap, words)
    small = gap if style.large else gap * VARIANT_SCALE
    level = nut_line(style.frames(gap)) - nut_line(style.frames(small))
    parts, x = [main], main.width + 1.0
    for number in range(1, min(sheet.variants + 1, len(chord.shapes))):
        other = draw_chord(chord, number, sheet.tuning, style, small, _captions(chord, number, sheet))
        if x + other.width <= width:
            parts.append(placed(other, x, level))
            x += other.width + 1.0
    if width - x >= WRITING_ROOM:
        top = nut_line(style.frames(gap)) - NOTE_LINE
        lines = ruled(width - x - 2.0, min(main.height - top, WRITING_HEIGHT), "", style)
        parts.append(placed(lines, x + 2.0, top))
    return joined(width, max(part.height for part in (main, *parts[1:])), parts, "", "")


def blank_rows(string_count: int, count: int, width: float, style: SheetStyle) -> list[Drawing]:
    """Empty grids under a heading; the heading stays with the first row."""
    grids = [draw_blank(string_count, 4, style.frames(3.6)) for _ in range(count)]
    columns = max(1, min(count, int(width // (grids[0].width + 2.0))))
    rows = in_rows(grids, columns, width)
    title = heading(BLANKS, width, style)
    return [stacked([title, rows[0]], width), *rows[1:]]
