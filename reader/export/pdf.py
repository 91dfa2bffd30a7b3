"""Drawings as PDF pages: fonts embedded, text selectable, the same bytes for the same drawings."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from reader.errors import ExportError
from reader.export.drawing import Circle, Drawing, Item, Line, Path, Picture, Rect, Text
from reader.export.lettering import font_bytes

POINTS_PER_MM = 72 / 25.4
_FONTS = {False: "InkfretLettering", True: "InkfretLettering-Bold"}


def to_pdf(pages: Sequence[Drawing], title: str = "") -> bytes:
    """Write drawings as a PDF file, one page each, each page as large as its drawing.

    Parameters
    ----------
    pages : sequence of Drawing
        At least one.
    title : str
        Document title; by default that of the first page.

    Returns
    -------
    bytes
        Byte-identical for equal drawings: no date and no random mark goes in.

    Raises
    ------
    ExportError
        When there is no page to write.
    """
    if not pages:
        raise ExportError("There is nothing to draw, so no PDF was made: give at least one chord.")
    from reportlab.pdfgen.canvas import Canvas

    _register_fonts()
    out = io.BytesIO()
    canvas = Canvas(out, invariant=1, pageCompression=1, lang="en")
    canvas.setTitle(title or pages[0].title or "Chord diagrams")
    canvas.setSubject(pages[0].description[:500])
    canvas.setCreator("Inkfret")
    for page in pages:
        _draw_page(canvas, page)
    canvas.save()
    return out.getvalue()


def _register_fonts() -> None:
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    known = pdfmetrics.getRegisteredFontNames()
    for bold, name in _FONTS.items():
        if name not in known:
            pdfmetrics.registerFont(TTFont(name, io.BytesIO(font_bytes(bold))))


def _draw_page(canvas: Any, page: Drawing) -> None:
    """One page: the coordinate system is turned once, so that items keep millimetres from the top left."""
    canvas.setPageSize((page.width * POINTS_PER_MM, page.height * POINTS_PER_MM))
    canvas.setLineJoin(1)
    for item in page.items:
        _draw_item(canvas, item, page.height)
    canvas.showPage()


def _draw_item(canvas: Any, item: Item, height: float) -> None:
    k = POINTS_PER_MM
    match item:
        case Line():
            _draw_line(canvas, item, height)
        case Rect():
            how = _paint(canvas, item.fill, item.stroke, item.stroke_width)
            y = (height - item.y - item.height) * k
            if item.radius:
                canvas.roundRect(item.x * k, y, item.width * k, item.height * k, item.radius * k, **how)
            else:
                canvas.rect(item.x * k, y, item.width * k, item.height * k, **how)
        case Circle():
            how = _paint(canvas, item.fill, item.stroke, item.stroke_width)
            canvas.circle(item.x * k, (height - item.y) * k, item.radius * k, **how)
        case Path():
            _draw_path(canvas, item, height)
        case Text():
            _draw_text(canvas, item, height)
        case Picture():
            _draw_picture(canvas, item, height)


def _paint(canvas: Any, fill: str | None, stroke: str | None, width: float) -> dict[str, int]:
    if fill:
        canvas.setFillColor(fill)
    if stroke:
        canvas.setStrokeColor(stroke)
        canvas.setLineWidth(width * POINTS_PER_MM)
    return {"fill": int(fill is not None), "stroke": int(stroke is not None)}


def _draw_line(canvas: Any, item: Line, height: float) -> None:
    k = POINTS_PER_MM
    canvas.setStrokeColor(item.ink)
    canvas.setLineWidth(item.width * k)
    canvas.setLineCap(0 if item.dash else 1)
    canvas.setDash([item.dash * k] if item.dash else [])
    canvas.line(item.x1 * k, (height - item.y1) * k, item.x2 * k, (height - item.y2) * k)
    canvas.setDash([])


def _draw_path(canvas: Any, item: Path, height: float) -> None:
    k = POINTS_PER_MM
    path = canvas.beginPath()
    draw = {"M": path.moveTo, "L": path.lineTo, "C": path.curveTo, "Z": path.close}
    for letter, numbers in item.steps:
        draw[letter](*(n * k if i % 2 == 0 else (height - n) * k for i, n in enumerate(numbers)))
    canvas.drawPath(path, **_paint(canvas, item.fill, item.stroke, item.stroke_width))


def _draw_text(canvas: Any, item: Text, height: float) -> None:
    k = POINTS_PER_MM
    draw = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}[item.anchor]
    canvas.setFillColor(item.ink)
    canvas.setFont(_FONTS[item.bold], item.size * k)
    draw(item.x * k, (height - item.y) * k, item.text)


def _draw_picture(canvas: Any, item: Picture, height: float) -> None:
    from reportlab.lib.utils import ImageReader

    k = POINTS_PER_MM
    y = (height - item.y - item.height) * k
    canvas.drawImage(ImageReader(io.BytesIO(item.data)), item.x * k, y, item.width * k, item.height * k)
