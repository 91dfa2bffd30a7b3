"""Every word of the desk, from one file that can be translated."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

NOTE_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
"""Pitch classes as they are written on the desk."""
FILE = Path(__file__).parent / "texts.toml"


@dataclass(frozen=True, slots=True)
class Texts:
    """Words by their dotted name.

    Examples
    --------
    >>> Texts({"place.fret": "at fret {fret}"})("place.fret", fret=2)
    'at fret 2'
    """

    table: dict[str, str]

    def __call__(self, name: str, /, **values: Any) -> str:
        """One text with its values filled in; a name that is not in the file raises KeyError."""
        return self.table[name].format(**values)

    def part(self, prefix: str) -> dict[str, str]:
        """All texts whose name starts with a prefix, under what follows it."""
        return {k.removeprefix(prefix): v for k, v in self.table.items() if k.startswith(prefix)}


@cache
def english() -> Texts:
    """The texts of the file beside this module."""
    data = tomllib.loads(FILE.read_text(encoding="utf-8"))
    return Texts({f"{section}.{key}": text for section, rows in data.items() for key, text in rows.items()})
