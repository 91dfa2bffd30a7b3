"""Reads the lettering around the diagrams of a page, and finds out how its labels name notes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reader.image.around import read_around, relabelled
from reader.image.crops import Points
from reader.image.labels import Lettering, letterings
from reader.image.lettering_way import find_ways
from reader.image.levels import Levels
from reader.lexicon import lexicon
from reader.music.label_style import NoteNames

FEW_LABELS, HARDLY_READ, CLEARLY_MORE = 3, 0.75, 0.1
"""Grids from which a page whose labels read worse than this may write do re mi, and by how much better they must read
then."""
SURELY_NONE, CLEARLY = 0.9, 0.8
"""Probability of there being no label from which other names are tried at one grid; how cleanly a label must read
then."""


def read_lettering(
    page: Levels, corners: list[Points], sure: list[Points], turn: int, names: NoteNames
) -> tuple[list[Lettering], list[NoteNames]]:
    """What is written around each diagram, and how its label names notes: do re mi where English names hardly read.

    Parameters
    ----------
    page : its picture
    corners : list of (4, 2) page pixels, of all finds of the page
    sure : those of ``corners`` that surely are diagrams: what they cover is no lettering of the others
    turn : quarter turns counter-clockwise that bring the page's lettering upright
    names : how the user says that labels name notes
    """
    around = read_around(page, corners, sure, turn, lexicon(names))
    found = letterings(around, lexicon(names))
    named: list[NoteNames] = [names] * len(found)
    surely = [any(c is s for s in sure) for c in corners]
    if names == "english" and any(s and _unlabelled(f) for s, f in zip(surely, found, strict=True)):
        in_other = [relabelled(a, lexicon("solfege")) for a in around]
        others = letterings(in_other, lexicon("solfege"))
        usual, other = _reads(found, surely), _reads(others, surely)
        if sum(surely) >= FEW_LABELS and usual < HARDLY_READ and other > usual + CLEARLY_MORE:
            found, others, around, names = others, found, in_other, "solfege"
        rest: NoteNames = "english" if names == "solfege" else "solfege"
        taken = [_unlabelled(f) and _is_label(o) for f, o in zip(found, others, strict=True)]
        found = [o if t else f for f, o, t in zip(found, others, taken, strict=True)]
        named = [rest if t else names for t in taken]
    ways = find_ways(page, corners, sure, turn, around, lexicon(names))
    return [replace(f, way=way) for f, way in zip(found, ways, strict=True)], named


def _reads(found: list[Lettering], surely: list[bool]) -> float:
    """How cleanly the labels of a page read, on average."""
    return float(np.mean([f.reads for f, s in zip(found, surely, strict=True) if s]))


def _unlabelled(found: Lettering) -> bool:
    """Whether surely no label is read."""
    text, p = found.label
    return not text and p > SURELY_NONE


def _is_label(found: Lettering) -> bool:
    """Whether a label of more than one sign reads clearly."""
    text, p = found.label
    return len(text) > 1 and min(p, found.reads) > CLEARLY
