"""Open and muted marks at the foot of a grid: some draw them there instead of beside the nut.

The networks know them best beside the nut. A grid that seems to have none is shown a
second time, mirrored foot to nut, and what is then seen beside the nut stands at the foot.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reader.image.abreast import abreast
from reader.image.crops import Points
from reader.image.levels import Levels
from reader.image.marks import MUTED, OPEN_BARE, OPEN_MARKED, Look, at_places, ink_of_crop, look_at

SURE_MARK = 0.95
"""Probability that one mark of a grid must have for its foot to be believed: in a first count on drawn pages all of 59
true ones had more than 0.99, and the surest of what is none 0.76 for a muted string."""
MIRRORED = [3, 2, 1, 0]
"""The corners of a grid from its foot."""
INK_AT_FOOT = 0.4
"""Ink under the end of a string, as a share of a full stroke's, from which it is looked at (judged by hand)."""
FROM, TO = 0.12, 0.75
"""Where under the foot a mark may stand, in rows."""
ASIDE = np.array([-0.28, -0.22, -0.16, 0.16, 0.22, 0.28])
"""Where it has ink that a string drawn on beyond the foot has not, in string distances."""


def with_foot_marks(
    page: Levels, whole: list[Look], cells: list[Look], counts: list[tuple[int, int]]
) -> tuple[list[Look], list[Look]]:
    """Both looks at each diagram, with the marks that stand at the foot of its bare strings.

    Parameters
    ----------
    whole, cells : one look of each kind per diagram
    counts : strings and rows of each
    """
    every = list(zip(cells, counts, strict=True))
    asked = [i for i, a in enumerate(abreast(lambda pair: _may_have_marks(page, *pair), every)) if a]
    whole, cells = list(whole), list(cells)
    for i, below in zip(asked, look_at(page, [cells[i].corners[MIRRORED] for i in asked]), strict=True):
        if _has_marks(below, cells[i], counts[i][0]):
            whole[i], cells[i] = _marked(whole[i], below), _marked(cells[i], below)
    return whole, cells


def _may_have_marks(page: Levels, look: Look, count: tuple[int, int]) -> bool:
    """Whether no mark stands beside the nut, and something under the end of a string without a stop."""
    strings, rows = count
    states = look.states[:strings].argmax(1)
    bare = states == OPEN_BARE
    if not bare.any() or np.isin(states, (MUTED, OPEN_MARKED)).any():
        return False
    return bool(_ink_at_foot(page, look.corners, strings, rows)[bare].max() > INK_AT_FOOT)


def _ink_at_foot(page: Levels, corners: Points, strings: int, rows: int) -> NDArray[np.float64]:
    """(strings,) strongest ink under the end of each string, 0 to about 1."""
    ink, box = ink_of_crop(page, corners)
    u = (np.arange(strings)[:, None] + ASIDE) / max(strings - 1, 1)
    v = 1 + np.linspace(FROM, TO, 9) / rows
    around = at_places(ink, box, u[:, :, None, None], v[None, None, :, None])
    return np.asarray(around.max(axis=(1, 2)), np.float64)


def _has_marks(below: Look, look: Look, strings: int) -> bool:
    """Whether the foot shows the strings that the grid has, and surely a mark at one that has none beside the nut."""
    bare = look.states[:strings].argmax(1) == OPEN_BARE
    marks = below.states[:strings, [MUTED, OPEN_MARKED]].max(1)
    return int(below.strings.argmax()) == strings and bool((marks[bare] > SURE_MARK).any())


def _marked(look: Look, below: Look) -> Look:
    """The look with what is seen at the foot of each string that it takes for one without a mark."""
    states = look.states.copy()
    bare = states[:, OPEN_BARE].copy()
    for mark in (MUTED, OPEN_MARKED):
        states[:, mark] += bare * below.states[:, mark]
        states[:, OPEN_BARE] -= bare * below.states[:, mark]
    return replace(look, states=states)
