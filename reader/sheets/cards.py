"""Cards to cut out: the name in front, the shape behind, printed on both sides of the paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from reader.export.drawing import INK, SOFT, Box, Drawing, Item, Line, Text, joined, placed
from reader.export.lettering import CAP_HEIGHT, fitted_size
from reader.export.paper import POINT
from reader.music.label_style import chord_text, note_text
from reader.music.tuning import Tuning
from reader.sheets.chords import SheetChord, draw_chord
from reader.sheets.page import SheetStyle, fitted

COLUMNS, ROWS = 3, 4
LARGE_COLUMNS, LARGE_ROWS = 2, 3
MARK_ROOM, MARK_LENGTH, MARK_GAP, MARK_WIDTH = 6.0, 4.0, 1.5, 0.15  # crop marks, millimetres
PADDING = 5.0
NAME_SIZE = 40 * POINT

Flip = Literal["long", "short"]


@dataclass(frozen=True, slots=True)
class CardSheet:
    """Cards of chords.

    Parameters
    ----------
    chords : tuple of SheetChord
        One card each, for its first shape.
    tuning : Tuning
    title : str
        Small, on the back of every card.
    flip : {'long', 'short'}
        The edge of the paper round which the printer turns it.
    """

    chords: tuple[SheetChord, ...]
    tuning: Tuning
    title: str = ""
    flip: Flip = "long"


def draw_cards(sheet: CardSheet, style: SheetStyle) -> tuple[Drawing, ...]:
    """The pages: fronts, their backs, next fronts …

    The block of cards is centred on the paper, so a back turned round the edge falls exactly on its front.
    """
    columns, rows = (LARGE_COLUMNS, LARGE_ROWS) if style.large else (COLUMNS, ROWS)
    size = columns * rows
    pages: list[Drawing] = []
    for start in range(0, len(sheet.chords), size):
        chords = sheet.chords[start : start + size]
        fronts = [_front(chord, sheet, style, cell) for chord, cell in zip(chords, cells(style, None), strict=False)]
        backs = [
            _back(chord, sheet, style, cell) for chord, cell in zip(chords, cells(style, sheet.flip), strict=False)
        ]
        names = ", ".join(str(chord.chord) for chord in chords)
        pages.append(_page(fronts, f"Chord cards, fronts: {names}", style))
        pages.append(_page(backs, f"Chord cards, backs: {names}", style))
    return tuple(pages)


def cells(style: SheetStyle, flip: Flip | None) -> list[Box]:
    """Where the cards of one page lie, in their order; ``flip`` gives the backs, None the fronts."""
    columns, rows = (LARGE_COLUMNS, LARGE_ROWS) if style.large else (COLUMNS, ROWS)
    block = _block(style)
    width, height = (block.right - block.left) / columns, (block.bottom - block.top) / rows
    out = []
    for row in range(rows):
        for column in range(columns):
            c = columns - 1 - column if flip == "long" else column
            r = rows - 1 - row if flip == "short" else row
            left, top = block.left + c * width, block.top + r * height
            out.append(Box(left, top, left + width, top + height))
    return out


def _block(style: SheetStyle) -> Box:
    area = style.paper.content
    return Box(area.left + MARK_ROOM, area.top + MARK_ROOM, area.right - MARK_ROOM, area.bottom - MARK_ROOM)


def _page(cards: Sequence[Drawing], title: str, style: SheetStyle) -> Drawing:
    marks = Drawing(style.paper.width, style.paper.height, tuple(_crop_marks(style)))
    return joined(style.paper.width, style.paper.height, [marks, *cards], title, title)


def _crop_marks(style: SheetStyle) -> list[Item]:
    """Short lines outside the block at every cut, so that no ink is left on the cards."""
    block = _block(style)
    columns, rows = (LARGE_COLUMNS, LARGE_ROWS) if style.large else (COLUMNS, ROWS)
    out: list[Item] = []
    for n in range(columns + 1):
        x = block.left + n * (block.right - block.left) / columns
        for start, away in ((block.top, -1), (block.bottom, 1)):
            out.append(Line(x, start + away * MARK_GAP, x, start + away * (MARK_GAP + MARK_LENGTH), MARK_WIDTH))
    for n in range(rows + 1):
        y = block.top + n * (block.bottom - block.top) / rows
        for start, away in ((block.left, -1), (block.right, 1)):
            out.append(Line(start + away * MARK_GAP, y, start + away * (MARK_GAP + MARK_LENGTH), y, MARK_WIDTH))
    return out


def _front(chord: SheetChord, sheet: CardSheet, style: SheetStyle, cell: Box) -> Drawing:
    """The name, large, and the tuning, small."""
    width, middle = cell.right - cell.left, (cell.left + cell.right) / 2
    name = chord_text(chord.chord, style.labels)
    room = width - 2 * PADDING
    size = fitted_size(name, room, NAME_SIZE * (1.5 if style.large else 1.0), bold=True)
    y = (cell.top + cell.bottom) / 2 + size * CAP_HEIGHT / 2
    items = (
        Text(middle, y, name, size, "middle", bold=True, ink=INK),
        _small(sheet.tuning.name, middle, cell.bottom - PADDING, room, style),
    )
    return Drawing(width, cell.bottom - cell.top, items)


def _back(chord: SheetChord, sheet: CardSheet, style: SheetStyle, cell: Box) -> Drawing:
    """The shape, with the notes of the chord under it."""
    width, height = cell.right - cell.left, cell.bottom - cell.top
    middle, room = (cell.left + cell.right) / 2, width - 2 * PADDING
    foot = style.sizes.small * 1.6
    drawing = fitted(draw_chord(chord, 0, sheet.tuning, style, 6.0), room, height - 2 * PADDING - 2 * foot)
    x = middle - drawing.width / 2
    y = cell.top + PADDING + (height - 2 * PADDING - 2 * foot - drawing.height) / 2
    notes = " ".join(note_text(n, style.labels) for n in chord.chord.notes)
    below = " · ".join(part for part in (sheet.title, chord.main.remark) if part)
    lines = ((notes, cell.bottom - PADDING - foot), (below, cell.bottom - PADDING))
    words = tuple(_small(text, middle, line, room, style) for text, line in lines if text)
    return joined(width, height, [placed(drawing, x, y), Drawing(width, height, words)], "", "")


def _small(text: str, x: float, y: float, room: float, style: SheetStyle) -> Text:
    return Text(x, y, text, fitted_size(text, room, style.sizes.small), "middle", ink=SOFT)
