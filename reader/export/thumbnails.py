"""Many shapes on one page: small diagrams with their names, for looking through what a search found."""

from __future__ import annotations

from collections.abc import Sequence

from reader.export.contact import ContactItem
from reader.export.diagram import FrameStyle, draw_frame
from reader.export.drawing import SOFT, Drawing, Item, Text, joined, placed
from reader.export.lettering import CAP_HEIGHT, clipped
from reader.export.paper import A4, POINT, Paper

COLUMNS, ROWS = 6, 7
HEAD, FOOT, ROOM = 9.0, 6.0, 2.0  # millimetres
HEAD_SIZE, TEXT_SIZE = 12 * POINT, 7 * POINT


def thumbnail_pages(items: Sequence[ContactItem], title: str = "Shapes", paper: Paper = A4) -> list[Drawing]:
    """Pages of small diagrams, each with its name above and its frets below; at least one page.

    Parameters
    ----------
    items : sequence of ContactItem
        Crops, flags and sources are not shown; a shape with flags has a triangle before its frets.
    title : str
    paper : Paper
    """
    size = COLUMNS * ROWS
    chunks = [items[start : start + size] for start in range(0, len(items), size)] or [()]
    return [_page(chunk, title, f"{n} / {len(chunks)}", paper) for n, chunk in enumerate(chunks, 1)]


def _page(items: Sequence[ContactItem], title: str, number: str, paper: Paper) -> Drawing:
    area = paper.content
    width = (area.right - area.left) / COLUMNS
    height = (area.bottom - area.top - HEAD - FOOT) / ROWS
    head: tuple[Item, ...] = (
        Text(area.left, area.top + HEAD_SIZE * CAP_HEIGHT, title, HEAD_SIZE, bold=True),
        Text((area.left + area.right) / 2, area.bottom - 1.0, number, TEXT_SIZE, "middle"),
    )
    parts = [Drawing(paper.width, paper.height, head)]
    for index, item in enumerate(items):
        row, column = divmod(index, COLUMNS)
        cell = _cell(item, width - ROOM, height - ROOM)
        parts.append(placed(cell, area.left + column * width + ROOM / 2, area.top + HEAD + row * height))
    return joined(paper.width, paper.height, parts, title, f"Page {number}: {len(items)} shapes.")


def _cell(item: ContactItem, width: float, height: float) -> Drawing:
    frets = f"{'△ ' if item.flags else ''}{item.frame.shape}"
    drawing = draw_frame(item.frame, item.name, pitches=item.pitches, style=FrameStyle())
    scale = min(width / drawing.width, (height - TEXT_SIZE * 1.4) / drawing.height)
    drawn = placed(drawing, (width - drawing.width * scale) / 2, 0.0, scale)
    line = Text(width / 2, height - TEXT_SIZE * 0.3, clipped(frets, width, TEXT_SIZE), TEXT_SIZE, "middle", ink=SOFT)
    return Drawing(width, height, (*drawn.items, line), grids=drawn.grids)
