"""Reads the letters that stand left of the lines of a tab: names of the open strings."""

from __future__ import annotations

from functools import cache

import numpy as np

from reader.image.ctc import Spelling, Tree, fit, grow_tree
from reader.image.levels import Pixels
from reader.image.tab_find import Floats
from reader.image.tab_lines import GAP, MARGIN, darkness
from reader.image.text import read_lines

NAMES = tuple(letter + sign for letter in "ABCDEFG" for sign in ("", "#", "b"))
WIDE, NEAR = 1.9, 0.12
"""Gaps left of the lines' beginning between which a letter is looked for."""
LEAST_INK = 0.3
"""Height in gaps of the smallest letter."""
INK = 0.25

Letters = tuple[dict[str, float], ...]


@cache
def names_tree() -> Tree:
    """Letters A to G, large or small, with or without an accidental."""
    signs = {"": (), "#": ("#♯",), "b": ("b♭",)}
    return grow_tree(
        Spelling((name[0] + name[0].lower(), *signs[name[1:]]), name, 1.0 if len(name) == 1 else 0.3) for name in NAMES
    )


def read_letters(strip: Pixels, start: float, lines: int) -> Letters:
    """Probabilities of note names beside each line, top line first; empty unless something stands beside all of them.

    Parameters
    ----------
    strip : (20·(lines+4), width, 3) uint8
    start : float
        Strip column at which the lines begin.
    """
    left, right = max(0, int(start - WIDE * GAP)), int(start - NEAR * GAP)
    if right - left < GAP // 2:
        return ()
    dark = darkness(strip)
    pictures = []
    for i in range(lines):
        top = (MARGIN + i) * GAP - 1
        letter = _trimmed(dark[top : top + GAP + 2, left:right])
        if letter is None:
            return ()
        pictures.append(letter)
    tree = names_tree()
    out = []
    for signs in read_lines(pictures):
        shares = np.maximum(fit(tree, signs), 0)
        out.append(
            {name: float(s) for name, s in zip(tree.texts, shares / max(float(shares.sum()), 1e-9), strict=True)}
        )
    return tuple(out)


def _trimmed(dark: Floats) -> Pixels | None:
    """The ink in a piece of strip, dark on white and cut with a small rim; None when there is none."""
    ink = dark > max(INK, 0.5 * float(dark.max()))
    rows, cols = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
    if not len(rows) or rows[-1] - rows[0] < LEAST_INK * GAP or cols[-1] - cols[0] < 2:
        return None
    piece = dark[max(0, rows[0] - 1) : rows[-1] + 2, max(0, cols[0] - 1) : cols[-1] + 2]
    return np.asarray(255 * (1 - np.clip(piece / max(float(piece.max()), 0.1), 0, 1)), np.uint8)
