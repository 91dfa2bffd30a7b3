"""Sheets of paper, in millimetres."""

from __future__ import annotations

from dataclasses import dataclass

from reader.errors import NotationError
from reader.export.drawing import Box

POINT = 25.4 / 72
"""A typographic point in millimetres."""


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet and its margins: nothing is printed outside ``content``."""

    name: str
    width: float
    height: float
    margin: float = 14.0

    @property
    def content(self) -> Box:
        """What lies within the margins."""
        return Box(self.margin, self.margin, self.width - self.margin, self.height - self.margin)


A4 = Paper("A4", 210.0, 297.0)  # ISO 216
LETTER = Paper("Letter", 215.9, 279.4)  # 8.5 by 11 inches
PAPERS = {paper.name.lower(): paper for paper in (A4, LETTER)}


def get_paper(name: str) -> Paper:
    """A sheet by its name, in any case."""
    try:
        return PAPERS[name.strip().lower()]
    except KeyError:
        raise NotationError(f"There is no paper called '{name}': choose {' or '.join(PAPERS)}.") from None
