"""Pages of a sheet: header, caution, page number, and blocks that flow from page to page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from reader.export.diagram import FrameStyle
from reader.export.drawing import INK, SOFT, Box, Drawing, Item, Line, Text, joined, placed
from reader.export.lettering import CAP_HEIGHT, clipped, text_width, wrapped
from reader.export.paper import A4, POINT, Paper
from reader.music.label_style import LabelStyle
from reader.sheets.words import CAUTION, DATE, NAME, NOTES

SIGNED = LabelStyle(real_accidentals=True)
LEADING = 1.35
RULE = 0.2  # width of rules, millimetres
SPACING = 4.0  # between blocks, millimetres
NOTE_LINE = 8.5  # between ruled lines to write on, millimetres


@dataclass(frozen=True, slots=True)
class Sizes:
    """Letter sizes in millimetres, and how much larger diagrams are drawn."""

    title: float
    heading: float
    body: float
    small: float
    diagram: float


USUAL = Sizes(18 * POINT, 12 * POINT, 9.5 * POINT, 8 * POINT, 1.0)
LARGE = Sizes(26 * POINT, 20 * POINT, 16 * POINT, 16 * POINT, 1.62)
"""Large print: nothing below 16 points (guidance for readers with low vision asks for 16 to 18; memory)."""


@dataclass(frozen=True, slots=True)
class SheetStyle:
    """How a sheet is printed.

    Parameters
    ----------
    paper : Paper
    large : bool
        Large print.
    left_handed : bool
        Diagrams mirrored.
    fingers : {'in', 'below', 'none'}
    under : {'strings', 'notes', 'degrees', 'none'}
        What stands under the strings.
    labels : LabelStyle
        Spelling of chords and notes, German and solfège names among them.
    """

    paper: Paper = A4
    large: bool = False
    left_handed: bool = False
    fingers: Literal["in", "below", "none"] = "in"
    under: Literal["strings", "notes", "degrees", "none"] = "strings"
    labels: LabelStyle = SIGNED

    @property
    def sizes(self) -> Sizes:
        """Letter sizes of this style."""
        return LARGE if self.large else USUAL

    def frames(self, gap: float) -> FrameStyle:
        """The style of diagrams whose strings are ``gap`` millimetres apart on a usual sheet."""
        return FrameStyle(gap * self.sizes.diagram, self.fingers, self.left_handed)


@dataclass(frozen=True, slots=True)
class Head:
    """What stands at the top of a sheet."""

    title: str
    subtitle: str = ""
    description: str = ""


def lay_out(head: Head, blocks: Sequence[Drawing], style: SheetStyle) -> tuple[Drawing, ...]:
    """Let blocks flow over as many pages as they need; lines for notes fill what is left of the last one.

    Parameters
    ----------
    head : Head
    blocks : sequence of Drawing
        Each as wide as the margins allow; never cut in two.
    style : SheetStyle

    Returns
    -------
    tuple of Drawing
        At least one page, each of the size of the paper.
    """
    area = style.paper.content
    foot = _foot_height(style)
    pages: list[list[Drawing]] = []
    y = area.bottom
    for block in blocks:
        if not pages or y + block.height > area.bottom - foot:
            top = _header(head, style, first=not pages)
            pages.append([top])
            y = area.top + top.height + SPACING
        fits = _shrunk(block, area.bottom - foot - y)
        pages[-1].append(placed(fits, area.left, y))
        y += fits.height + SPACING
    if not pages:
        top = _header(head, style, first=True)
        pages.append([top])
        y = area.top + top.height + SPACING
    room = area.bottom - foot - y
    if room >= 2 * NOTE_LINE + style.sizes.heading:
        notes = ruled(area.right - area.left, room - NOTE_LINE, NOTES, style)
        pages[-1].append(placed(notes, area.left, y))
    return tuple(_page(head, parts, n, len(pages), style) for n, parts in enumerate(pages, 1))


def _shrunk(block: Drawing, room: float) -> Drawing:
    """A block higher than a whole page is drawn smaller rather than past the margin."""
    return block if block.height <= room else placed(block, 0.0, 0.0, room / block.height)


def _page(head: Head, parts: Sequence[Drawing], number: int, total: int, style: SheetStyle) -> Drawing:
    paper = style.paper
    foot = _footer(f"{number} / {total}" if total > 1 else "", style)
    title = head.title if total == 1 else f"{head.title}, page {number} of {total}"
    return joined(paper.width, paper.height, [*parts, foot], title, head.description)


def _header(head: Head, style: SheetStyle, first: bool) -> Drawing:
    area, sizes = style.paper.content, style.sizes
    width = area.right - area.left
    if not first:
        title = clipped(head.title, width, sizes.body, True)
        running = Text(area.left, area.top + sizes.body * CAP_HEIGHT, title, sizes.body, bold=True)
        return Drawing(width, sizes.body * LEADING, (running,))
    y = area.top + sizes.title * CAP_HEIGHT
    items: list[Item] = [Text(area.left, y, clipped(head.title, width, sizes.title, True), sizes.title, bold=True)]
    for line in wrapped(head.subtitle, width, sizes.small):
        y += sizes.small * LEADING + (sizes.small * 0.4 if len(items) == 1 else 0.0)
        items.append(Text(area.left, y, line, sizes.small, ink=SOFT))
    y += sizes.body * 2.1
    items += _name_and_date(Box(area.left, area.top, area.right, y), sizes.body)
    return Drawing(width, y - area.top + 1.5, tuple(items))


def _name_and_date(area: Box, size: float) -> list[Item]:
    """Two lines to write on, on the lower edge of the area."""
    items: list[Item] = []
    split = area.left + 0.64 * (area.right - area.left)
    for word, left, right in ((NAME, area.left, split - 6.0), (DATE, split, area.right)):
        items.append(Text(left, area.bottom, word, size))
        start = left + text_width(word, size) + 2.0
        items.append(Line(start, area.bottom + 0.4, right - RULE, area.bottom + 0.4, RULE, SOFT))
    return items


def _caution_lines(style: SheetStyle) -> tuple[str, ...]:
    area, size = style.paper.content, style.sizes.small
    return wrapped(CAUTION, area.right - area.left - text_width("00 / 00", size) - 4.0, size)


def _foot_height(style: SheetStyle) -> float:
    return len(_caution_lines(style)) * style.sizes.small * LEADING + 2.5


def _footer(number: str, style: SheetStyle) -> Drawing:
    area, size = style.paper.content, style.sizes.small
    lines = _caution_lines(style)
    bottom = area.bottom - size * 0.3
    top = area.bottom - _foot_height(style) + 1.0
    items: list[Item] = [Line(area.left + RULE, top, area.right - RULE, top, RULE, SOFT)]
    for n, line in enumerate(reversed(lines)):
        items.append(Text(area.left, bottom - n * size * LEADING, line, size, ink=INK))
    if number:
        items.append(Text(area.right, bottom, number, size, "end"))
    return Drawing(area.right - area.left, area.bottom - top, tuple(items))


# ---------------------------------------------------------------- blocks


def heading(text: str, width: float, style: SheetStyle, remark: str = "") -> Drawing:
    """A heading, with a sentence under it if there is one."""
    sizes = style.sizes
    y = sizes.heading * CAP_HEIGHT
    items: list[Item] = [Text(0.0, y, clipped(text, width, sizes.heading, True), sizes.heading, bold=True)]
    y += sizes.heading * 0.25
    for line in wrapped(remark, width, sizes.small):
        y += sizes.small * LEADING
        items.append(Text(0.0, y, line, sizes.small, ink=SOFT))
    return Drawing(width, y + sizes.small * 0.6, tuple(items))


def paragraph(text: str, width: float, size: float, bold: bool = False, ink: str = INK) -> Drawing:
    """Text broken into lines."""
    lines = wrapped(text, width, size, bold)
    items = tuple(
        Text(0.0, n * size * LEADING + size * CAP_HEIGHT, line, size, "start", bold, ink)
        for n, line in enumerate(lines)
    )
    return Drawing(width, len(lines) * size * LEADING, items)


def stacked(parts: Sequence[Drawing], width: float, gap: float = 0.0) -> Drawing:
    """Drawings under each other, flush left."""
    out, y = [], 0.0
    for part in parts:
        out.append(placed(part, 0.0, y))
        y += part.height + gap
    return joined(width, max(y - gap, 0.0), out, "", "")


def in_row(cells: Sequence[Drawing], columns: int, width: float) -> Drawing:
    """Drawings side by side in equal columns, each centred in its own, tops aligned."""
    column = width / columns
    parts = [placed(cell, n * column + (column - cell.width) / 2, 0.0) for n, cell in enumerate(cells)]
    return joined(width, max((cell.height for cell in cells), default=0.0), parts, "", "")


def in_rows(cells: Sequence[Drawing], columns: int, width: float) -> list[Drawing]:
    """Cells filled into rows of equal columns."""
    return [in_row(cells[n : n + columns], columns, width) for n in range(0, len(cells), columns)]


def fitted(drawing: Drawing, width: float, height: float) -> Drawing:
    """The drawing, made smaller if it would not fit."""
    scale = min(1.0, width / drawing.width, height / drawing.height)
    return drawing if scale == 1.0 else placed(drawing, 0.0, 0.0, scale)


def ruled(width: float, height: float, title: str, style: SheetStyle) -> Drawing:
    """Lines to write on, under a small heading if there is a title."""
    size = style.sizes.body
    step = NOTE_LINE * (1.3 if style.large else 1.0)
    items: list[Item] = [Text(0.0, size * CAP_HEIGHT, title, size, bold=True)] if title else []
    y = (size * CAP_HEIGHT if title else 0.0) + step
    while y <= height - RULE:
        items.append(Line(RULE, y, width - RULE, y, RULE / 1.5, SOFT))
        y += step
    return Drawing(width, height, tuple(items))
