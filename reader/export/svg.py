"""Drawings as SVG: one self-contained text, with a title and a description that screen readers speak."""

from __future__ import annotations

from base64 import b64encode
from typing import Literal
from xml.sax.saxutils import escape, quoteattr
from zlib import crc32

from reader.export.drawing import Circle, Drawing, Item, Line, Path, Picture, Rect, Text
from reader.export.lettering import glyphs, text_width

FONT_STACK = "'Inkfret Lettering','DejaVu Sans Condensed','DejaVu Sans',sans-serif"

Lettering = Literal["outlines", "text"]


def to_svg(drawing: Drawing, lettering: Lettering = "outlines", key: str | None = None) -> str:
    """Write a drawing as one SVG element.

    Parameters
    ----------
    drawing : Drawing
    lettering : {'outlines', 'text'}
        'outlines' looks the same on every machine, with or without fonts; 'text' is a third of the size and can be
        selected, in whatever typeface the machine has.
    key : str, optional
        Makes the element's ids unique on a page that holds several; by default it is computed from the drawing.

    Returns
    -------
    str
        Without XML declaration, so that it can stand in a web page; UTF-8 when written to a file.
    """
    key = key or f"d{crc32(f'{drawing.title}|{drawing.description}'.encode()):08x}"
    width, height = _number(drawing.width), _number(drawing.height)
    body = "".join(_item(item, lettering) for item in drawing.items)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" role="img" aria-labelledby="{key}-title {key}-desc">'
        f'<title id="{key}-title">{escape(drawing.title)}</title>'
        f'<desc id="{key}-desc">{escape(drawing.description)}</desc>'
        f'<g aria-hidden="true">{body}</g></svg>'
    )


def _number(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".")


def _paint(fill: str | None, stroke: str | None, width: float) -> str:
    out = f' fill="{fill or "none"}"'
    return out + (f' stroke="{stroke}" stroke-width="{_number(width)}"' if stroke else "")


def _item(item: Item, lettering: Lettering) -> str:
    match item:
        case Line():
            return _line(item)
        case Rect():
            corner = f' rx="{_number(item.radius)}"' if item.radius else ""
            place = f'x="{_number(item.x)}" y="{_number(item.y)}" '
            size = f'width="{_number(item.width)}" height="{_number(item.height)}"'
            return f"<rect {place}{size}{corner}{_paint(item.fill, item.stroke, item.stroke_width)}/>"
        case Circle():
            place = f'cx="{_number(item.x)}" cy="{_number(item.y)}" r="{_number(item.radius)}"'
            return f"<circle {place}{_paint(item.fill, item.stroke, item.stroke_width)}/>"
        case Path():
            data = "".join(letter + " ".join(_number(n) for n in numbers) for letter, numbers in item.steps)
            return f'<path d="{data}"{_paint(item.fill, item.stroke, item.stroke_width)}/>'
        case Picture():
            return _picture(item)
        case Text():
            return _outlined(item) if lettering == "outlines" else _written(item)


def _line(item: Line) -> str:
    dash = f' stroke-dasharray="{_number(item.dash)}"' if item.dash else ""
    cap = "butt" if item.dash else "round"
    return (
        f'<path d="M{_number(item.x1)} {_number(item.y1)}L{_number(item.x2)} {_number(item.y2)}" stroke="{item.ink}" '
        f'stroke-width="{_number(item.width)}" stroke-linecap="{cap}"{dash}/>'
    )


def _picture(item: Picture) -> str:
    data = b64encode(item.data).decode("ascii")
    kind = "png" if item.data.startswith(b"\x89PNG") else "jpeg"
    return (
        f'<image x="{_number(item.x)}" y="{_number(item.y)}" width="{_number(item.width)}" '
        f'height="{_number(item.height)}" preserveAspectRatio="none" href="data:image/{kind};base64,{data}">'
        f"<title>{escape(item.description)}</title></image>"
    )


def _written(item: Text) -> str:
    weight = ' font-weight="bold"' if item.bold else ""
    return (
        f'<text x="{_number(item.x)}" y="{_number(item.y)}" font-size="{_number(item.size)}" '
        f'text-anchor="{item.anchor}" font-family={quoteattr(FONT_STACK)}{weight} fill="{item.ink}">'
        f"{escape(item.text)}</text>"
    )


def _outlined(item: Text) -> str:
    left = item.x - text_width(item.text, item.size, item.bold) * {"start": 0.0, "middle": 0.5, "end": 1.0}[item.anchor]
    scale = item.size / 1000
    shapes = "".join(
        f'<path transform="translate({round(x)})" d="{outline}"/>' if x else f'<path d="{outline}"/>'
        for outline, x in glyphs(item.text, item.bold)
        if outline
    )
    place = f"translate({_number(left)} {_number(item.y)}) scale({scale:.6f})"
    return f'<g transform="{place}" fill="{item.ink}">{shapes}</g>'
