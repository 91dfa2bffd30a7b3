"""Reads a diagram cell by cell: stretched onto a lattice, every place for a mark has a cell of its own."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from reader.image.abreast import abreast
from reader.image.crops import CELLS_ABOVE, CELLS_BELOW, CELLS_BESIDE, Points, cut, lattice_matrix, lattice_size
from reader.image.engines import load_engine
from reader.image.levels import Levels, Pixels
from reader.image.marks import FINGERS, FIRST_ROW, MUTED, ROWS, STATES, Look, widened
from reader.image.odds import sigmoid, softmax

Floats = NDArray[np.float64]
MOST_STRINGS = 8
TAKES = (0.99, 1.025)
"""The lattice is laid this much smaller or larger."""
AT_ONCE = 2
"""Diagrams read in one pass: more take more memory and little less time."""
CELL_SHARE = 0.8
"""Weight of the cells against the look at the whole diagram, in log odds."""


def look_into_cells(pixels: Pixels | Levels, looks: list[Look], counts: list[tuple[int, int]]) -> list[Look]:
    """The same looks with stops, fingers and barres read cell by cell, on two lattices laid a little apart.

    Parameters
    ----------
    pixels : uint8 [row, col, 3]
    looks : of whole diagrams; their corners place the lattice
    counts : strings and rows of each
    """
    out = list(looks)
    groups: dict[tuple[int, int], list[int]] = defaultdict(list)
    for i, count in enumerate(counts):
        groups[count].append(i)
    for (strings, rows), members in groups.items():
        for start in range(0, len(members), AT_ONCE):
            part = members[start : start + AT_ONCE]
            boxes = [widened(looks[i].corners, k) for i in part for k in TAKES]
            lattices = abreast(partial(_crop, pixels, strings, rows), boxes)
            got = load_engine("cells").run({"picture": np.stack(lattices).astype(np.float32)})["cells"]
            cells = got.reshape(len(part), len(TAKES), *got.shape[1:]).mean(1)
            for i, logits in zip(part, cells, strict=True):
                out[i] = _merged(looks[i], *_odds(logits, strings, rows))
    return out


def _crop(pixels: Pixels | Levels, strings: int, rows: int, corners: Points) -> NDArray[np.uint8]:
    crop = cut(pixels, lattice_matrix(corners, strings, rows), lattice_size(strings, rows))
    return np.ascontiguousarray(crop.transpose(2, 0, 1))


def _odds(cells: NDArray[np.float32], strings: int, rows: int) -> tuple[Floats, Floats, Floats]:
    """Probabilities per string: (8, 12) states, (8, 6) fingers at its stop, (8, 9) barre row."""
    inner = cells[:, :, CELLS_BESIDE:-CELLS_BESIDE].astype(float)
    grid = inner[:, CELLS_ABOVE : CELLS_ABOVE + rows]
    assert inner.shape[1] == CELLS_ABOVE + rows + CELLS_BELOW
    states = np.zeros((MOST_STRINGS, STATES))
    states[strings:, 0] = 1
    ends = inner[:, CELLS_ABOVE - 1] + inner[:, CELLS_ABOVE + rows]
    states[:strings, MUTED : FIRST_ROW + rows] = softmax(np.concatenate([ends[:3], grid[3]]).T)
    fingers = np.zeros((MOST_STRINGS, FINGERS))
    fingers[strings:, 0] = 1
    stop = grid[3].argmax(0)
    for s in range(strings):
        fingers[s] = softmax(grid[4:10, stop[s], s] + ends[4:10, s])
    barre = np.zeros((MOST_STRINGS, ROWS))
    barre[strings:, 0] = 1
    under = sigmoid(grid[10])
    row = under.argmax(0)
    for s in range(strings):
        p = float(under[row[s], s])
        barre[s, 0], barre[s, row[s] + 1] = 1 - p, p
    return states, fingers, barre


def _merged(look: Look, states: Floats, fingers: Floats, barre: Floats) -> Look:
    """Cells and the whole look together, as weighted log odds."""

    def joined(cells: Floats, whole: Floats) -> Floats:
        log = CELL_SHARE * np.log(cells + 1e-5) + (1 - CELL_SHARE) * np.log(whole + 1e-5)
        return softmax(log)

    return replace(
        look, states=joined(states, look.states), fingers=joined(fingers, look.fingers), barre=joined(barre, look.barre)
    )
