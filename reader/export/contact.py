"""The contact sheet: every shape's crop beside its redrawing, with name, frets and what to look at."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, field

from reader.errors import ExportError
from reader.export.diagram import FrameStyle, draw_frame
from reader.export.drawing import INK, SOFT, Box, Drawing, Item, Line, Picture, Text, joined, placed
from reader.export.lettering import clipped, wrapped
from reader.export.paper import A4, POINT, Paper
from reader.export.pdf import to_pdf
from reader.music.frame import Frame

COLUMNS, ROWS = 2, 6
HEAD, FOOT = 11.0, 6.0
PADDING = 3.0
RULE = 0.15  # width of the line above a card
CROP_SHARE, DRAWING_SHARE = 0.34, 0.27  # of a card's width; the text takes the rest
NAME_SIZE, TEXT_SIZE, HEAD_SIZE = 13 * POINT, 7.5 * POINT, 14 * POINT
LEADING = 1.28


@dataclass(frozen=True, slots=True)
class ContactItem:
    """One shape for the contact sheet.

    Parameters
    ----------
    frame : Frame
    name : str
        As it shall be printed.
    flags : tuple of str
        A sentence each; empty when nobody needs to look.
    state : str
        One or two words: accepted, confirmed, to review.
    source : str
        Where the ink is: file and page.
    crop : bytes
        PNG or JPEG of the ink; empty when there is none.
    pitches : tuple of int
        Open strings, for the thickness of the strings drawn.
    """

    frame: Frame
    name: str = ""
    flags: tuple[str, ...] = ()
    state: str = ""
    source: str = ""
    crop: bytes = field(default=b"", repr=False)
    pitches: tuple[int, ...] = ()


def contact_sheet(items: Sequence[ContactItem], title: str = "Contact sheet", paper: Paper = A4) -> bytes:
    """All shapes as a PDF file.

    Parameters
    ----------
    items : sequence of ContactItem
        In the order of printing.
    title : str
    paper : Paper

    Returns
    -------
    bytes
        A PDF file of at least one page.
    """
    return to_pdf(contact_pages(items, title, paper), title)


def contact_pages(items: Sequence[ContactItem], title: str = "Contact sheet", paper: Paper = A4) -> list[Drawing]:
    """The pages of the contact sheet as drawings."""
    size = COLUMNS * ROWS
    chunks = [items[start : start + size] for start in range(0, len(items), size)] or [()]
    return [_page(chunk, title, f"{n} / {len(chunks)}", len(items), paper) for n, chunk in enumerate(chunks, 1)]


def _page(items: Sequence[ContactItem], title: str, number: str, total: int, paper: Paper) -> Drawing:
    area = paper.content
    flagged = sum(bool(item.flags) for item in items)
    count = f"{total} shapes" if total != 1 else "1 shape"
    head: list[Item] = [
        Text(area.left, area.top + HEAD_SIZE * 0.8, title, HEAD_SIZE, bold=True),
        Text(area.right, area.top + HEAD_SIZE * 0.8, count, TEXT_SIZE, "end"),
        Text((area.left + area.right) / 2, area.bottom - 1.5, number, TEXT_SIZE, "middle"),
    ]
    if not items:
        head.append(Text(area.left, area.top + HEAD + 4, "No shapes yet.", NAME_SIZE))
    width = (area.right - area.left + PADDING) / COLUMNS
    height = (area.bottom - area.top - HEAD - FOOT) / ROWS
    parts = [Drawing(paper.width, paper.height, tuple(head))]
    for index, item in enumerate(items):
        row, column = divmod(index, COLUMNS)
        card = _card(item, width - PADDING, height)
        parts.append(placed(card, area.left + column * width, area.top + HEAD + row * height))
    words = f"Page {number}: {len(items)} shapes, {flagged} of them to look at."
    return joined(paper.width, paper.height, parts, title, words)


def _card(item: ContactItem, width: float, height: float) -> Drawing:
    inner = height - 2 * PADDING
    crop_width, drawing_width = width * CROP_SHARE, width * DRAWING_SHARE
    items: list[Item] = [Line(RULE, RULE, width - RULE, RULE, RULE, SOFT)]
    if item.crop:
        items.append(_crop(item, Box(0.0, PADDING, crop_width - PADDING / 2, PADDING + inner)))
    text_left = crop_width + drawing_width + PADDING
    items += _words(item, text_left, width - text_left, PADDING, inner)
    redrawn = draw_frame(item.frame, pitches=item.pitches, style=FrameStyle())
    scale = min(drawing_width / redrawn.width, inner / redrawn.height)
    left = crop_width + (drawing_width - redrawn.width * scale) / 2
    drawn = placed(redrawn, left, PADDING + (inner - redrawn.height * scale) / 2, scale)
    return Drawing(width, height, (*items, *drawn.items), grids=drawn.grids)


def _crop(item: ContactItem, room: Box) -> Item:
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(io.BytesIO(item.crop)) as picture:
            across, down = picture.size
    except UnidentifiedImageError:
        raise ExportError(
            f"The stored crop of {item.name or item.frame.shape} ({item.source or 'source unknown'}) is not a picture: "
            "run a check on the library."
        ) from None
    scale = min((room.right - room.left) / across, (room.bottom - room.top) / down)
    x = (room.left + room.right - across * scale) / 2
    y = (room.top + room.bottom - down * scale) / 2
    words = f"The ink that {item.name or item.frame.shape} was read from"
    return Picture(x, y, across * scale, down * scale, item.crop, words)


def _words(item: ContactItem, left: float, width: float, top: float, room: float) -> list[Item]:
    """Name, frets, state, source, then flags as far as there is room; the rest is counted, never dropped unsaid."""
    frets = str(item.frame.shape)
    y = top + NAME_SIZE * 0.85
    out: list[Item] = [Text(left, y, clipped(item.name or frets, width, NAME_SIZE, True), NAME_SIZE, bold=True)]
    step = TEXT_SIZE * LEADING
    said = [(frets if item.name else "", INK), (item.state, INK)]
    said += [(line, SOFT) for line in _source_lines(item.source, width)]
    for text, ink in said:
        if text:
            y += step
            out.append(Text(left, y, clipped(text, width, TEXT_SIZE), TEXT_SIZE, ink=ink))
    for line in _flag_lines(item.flags, width, int((top + room - y) / step)):
        y += step
        out.append(Text(left, y, line, TEXT_SIZE))
    return out


def _source_lines(source: str, width: float) -> tuple[str, ...]:
    """File and page on at most two lines."""
    lines = wrapped(source, width, TEXT_SIZE)
    return lines if len(lines) < 3 else (lines[0], " ".join(lines[1:]))


def _flag_lines(flags: Sequence[str], width: float, room: int) -> list[str]:
    lines = [line for flag in flags for line in wrapped(f"△ {flag}", width, TEXT_SIZE)]
    if len(lines) <= room:
        return lines
    kept = lines[: max(room - 1, 0)]
    shown = sum(line.startswith("△") for line in kept)
    more = len(flags) - shown
    return [*kept, f"… and {more} more" if more else "…"] if room > 0 else []
