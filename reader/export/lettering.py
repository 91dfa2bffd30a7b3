"""Measuring and outlining text, from the one typeface that all drawings use."""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from typing import TypedDict, cast

CAP_HEIGHT = 0.73
"""Height of capitals and digits, in font sizes (measured on the typeface)."""

DESCENT = 0.24
"""How far g and p reach below the line of writing, in font sizes."""

ELLIPSIS = "…"
_UNITS = 1000
_MISSING = ""  # key of the glyph that stands for characters the fonts lack


class _Face(TypedDict):
    advances: dict[str, int]
    outlines: dict[str, str]


@cache
def _faces() -> dict[str, _Face]:
    text = files("reader.export").joinpath("fonts/lettering.json").read_text(encoding="utf-8")
    return cast(dict[str, _Face], json.loads(text))


@cache
def font_bytes(bold: bool) -> bytes:
    """The TrueType file of one weight, for embedding."""
    return files("reader.export").joinpath(f"fonts/lettering-{_name(bold)}.ttf").read_bytes()


def _name(bold: bool) -> str:
    return "bold" if bold else "regular"


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width of one line of text, in the unit of ``size``.

    Examples
    --------
    >>> round(text_width("0000", 10.0), 2)  # a digit is 0.573 font sizes wide
    22.92
    """
    advances = _faces()[_name(bold)]["advances"]
    missing = advances[_MISSING]
    return sum(advances.get(char, missing) for char in text) * size / _UNITS


def glyphs(text: str, bold: bool = False) -> list[tuple[str, float]]:
    """SVG path data of each character (y down, 1000 units a font size) and its left edge in the same units."""
    face = _faces()[_name(bold)]
    out, x = [], 0.0
    for char in text:
        key = char if char in face["advances"] else _MISSING
        out.append((face["outlines"][key], x))
        x += face["advances"][key]
    return out


def fitted_size(text: str, width: float, size: float, bold: bool = False) -> float:
    """The largest font size up to ``size`` at which the text is no wider than ``width``."""
    full = text_width(text, size, bold)
    return size if full <= width else size * width / full


def clipped(text: str, width: float, size: float, bold: bool = False) -> str:
    """The text, or as much of its beginning as fits with three dots after it."""
    if text_width(text, size, bold) <= width:
        return text
    room = width - text_width(ELLIPSIS, size, bold)
    end = len(text)
    while end and text_width(text[:end].rstrip(), size, bold) > room:
        end -= 1
    return text[:end].rstrip() + ELLIPSIS


def wrapped(text: str, width: float, size: float, bold: bool = False) -> tuple[str, ...]:
    """The text broken at plain spaces into lines no wider than ``width``; a word that is wider is clipped."""
    lines: list[str] = []
    for word in filter(None, text.split(" ")):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size, bold) <= width:
            lines[-1] = longer
        else:
            lines.append(clipped(word, width, size, bold))
    return tuple(lines)
