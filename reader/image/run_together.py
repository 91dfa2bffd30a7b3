"""Parts lettering that runs together: a number and a label, or marks of open strings and a label, read as one word."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reader.image.crops import Points
from reader.image.ctc import SIGNS
from reader.image.lettering import PAD, Piece, placed
from reader.image.text import column_of

Floats = NDArray[np.float64]
NUMBER = r"\(?(?:1\d|2[0-4]|[1-9])(?:fr\.?|Fr\.?|FR|st|nd|rd|th|TH)\)?"
ROMAN = r"[I/|lX]{0,2}[VX][I/|l]{0,3}|I{2,3}"
TOGETHER = (
    re.compile(rf"({NUMBER})([A-H].*)"),
    re.compile(rf"([A-H].*?)({NUMBER})"),
    re.compile(rf"([A-H].*?)({ROMAN})"),
    re.compile(r"([1-5TiIl|])((?:fret|fr\.?|Fret|FRET|Fr\.?)(?:1\d|2[0-4]|[1-9]))"),
    re.compile(r"([xXoO0]{1,8})([A-H].*)"),
    re.compile(r"([A-H].*?)([xXoO0]{2,8})"),
)
"""A number of a fret with its sign or a Roman one, whose strokes may look like others, or signs of open and muted
strings, before or behind what may be a label; the finger of an outer stop before a number of a fret."""
LEAST = 5
"""A part is at least so wide, pixels."""

__all__ = ["parts_of"]


def parts_of(piece: Piece, signs: Floats, grid: Points, others: list[Points]) -> list[tuple[Piece, Floats]]:
    """The parts of a piece that may be two that stand too close, however it may be parted.

    Parameters
    ----------
    piece : Piece
    signs : (steps, classes) probabilities, what the text network reports of it
    grid : (4, 2) corners in the crop
    others : list of (4, 2) corners of the other grids of the page, in the crop

    Returns
    -------
    list of pieces, each with its part of ``signs``; empty for one that is not to be parted
    """
    text, begins, ends = _laid_out(signs)
    out: list[tuple[Piece, Floats]] = []
    for pattern in TOGETHER:
        found = pattern.fullmatch(text)
        if not found:
            continue
        at = len(found.group(1))
        step = (ends[at - 1] + begins[at] + 1) // 2
        column = column_of(piece.picture.shape[:2], step / len(signs))
        left, right = _part(piece, 0, column, grid, others), _part(piece, column, piece.picture.shape[1], grid, others)
        if left is not None and right is not None:
            out += [(left, signs[:step]), (right, signs[step:])]
    return out


def _laid_out(signs: Floats) -> tuple[str, list[int], list[int]]:
    """The likeliest signs, and the first step and the step behind the last one of each."""
    top = signs.argmax(1)
    changes = np.flatnonzero(np.concatenate([[True], top[1:] != top[:-1]]))
    runs = list(zip(changes, [*changes[1:], len(top)], strict=True))
    kept = [(int(a), int(b)) for a, b in runs if top[a]]
    return "".join(SIGNS[int(top[a]) - 1] for a, _ in kept), [a for a, _ in kept], [b for _, b in kept]


def _part(piece: Piece, first: int, last: int, grid: Points, others: list[Points]) -> Piece | None:
    """The columns of a piece from the first to before the last, as a piece."""
    part = piece.picture[:, first:last]
    dark = part < 200
    across, down = np.flatnonzero(dark.any(0)), np.flatnonzero(dark.any(1))
    if len(across) < LEAST or len(down) < LEAST:
        return None
    x, y = piece.box[0] - PAD + first, piece.box[1] - PAD
    box = (x + int(across[0]), y + int(down[0]), x + int(across[-1]) + 1, y + int(down[-1]) + 1)
    side, own, rival = placed(box, grid, others)
    return replace(piece, box=box, side=side, distance=own, rival=rival, picture=part, levelled=None)
