"""What a diagram shows, as probabilities: stops, open and muted strings, fingers, barres, rows, way up."""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.abreast import abreast
from reader.image.crops import READING_GRID, READING_SIZE, Points, cut, in_crop, on_page, reading_matrix, side_lengths
from reader.image.engines import load_engine
from reader.image.levels import Levels, Pixels
from reader.image.odds import softmax

STATES = 12
"""Per string: 0 no such string, 1 muted, 2 open with a mark, 3 open without one, 4 to 11 stopped in row 1 to 8."""
MUTED, OPEN_MARKED, OPEN_BARE, FIRST_ROW = 1, 2, 3, 4
FINGERS = 6
THUMB = 5
OTHER_NUMBERS = tuple(range(5, 16))
"""Numbers that no finger has: where they stand on strings, the numbers are frets."""
SIGNS = FINGERS + len(OTHER_NUMBERS)
ROWS = 9
NUMBERS = 25
AT_ONCE = 4
"""Diagrams looked at in one pass: more take more memory and little less time."""
KINDS = ("diagram", "empty", "other")
WHOLE = {"strings": 9, "rows": 9, "first": NUMBERS, "nut": 2, "kind": 3, "way": 4}
Floats = NDArray[np.float64]


def no_signs() -> Floats:
    """Nothing is written at any string."""
    return np.eye(1, SIGNS).repeat(8, axis=0)


@dataclass(frozen=True, slots=True)
class Look:
    """What the network sees in one straightened crop.

    Parameters
    ----------
    corners : (4, 2) page pixels, corrected
    states : (8, 12) probabilities per string
    fingers : (8, 6) none, 1 to 4, thumb
    barre : (8, 9) none, row 1 to 8
    strings, rows : (9,) probabilities of a count
    first : (25,) probabilities of the first fret as seen from the crop
    nut : float
    kind : (3,) diagram, empty grid, something else
    way : (4,) quarter turns by which the nut lies further on
    moved : float
        How far the corners were corrected, in grid sides.
    on_ink : share of the lattice's lines that lie on ink
    close : least probability that the close look gives to a stop that was seen, or to a place without one
    signs : (8, 17) what is written at the stop of a string or below it: nothing, 1 to 4, thumb, numbers 5 to 15
    """

    corners: Points
    states: Floats
    fingers: Floats
    barre: Floats
    strings: Floats
    rows: Floats
    first: Floats
    nut: float
    kind: Floats
    way: Floats
    moved: float
    signs: Floats = field(default_factory=no_signs)
    on_ink: float = 0.0
    close: float = 1.0


def look_at(pixels: Pixels | Levels, corners: list[Points]) -> list[Look]:
    """Look once at each diagram.

    Parameters
    ----------
    pixels : uint8 [row, col, 3]
    corners : list of (4, 2) page pixels
    """
    looks: list[Look] = []
    for start in range(0, len(corners), AT_ONCE):
        part = corners[start : start + AT_ONCE]
        matrices = [reading_matrix(c) for c in part]
        planes = abreast(lambda m: cut(pixels, m, READING_SIZE).transpose(2, 0, 1), matrices)
        crops = np.stack(planes).astype(np.float32)
        out = load_engine("reader").run({"picture": crops})
        for i, (c, m) in enumerate(zip(part, matrices, strict=True)):
            looks.append(_read(c, m, out["strings"][i], out["whole"][i], out["corners"][i]))
    return looks


def _read(
    corners: Points,
    matrix: Floats,
    strings: NDArray[np.float32],
    whole: NDArray[np.float32],
    shift: NDArray[np.float32],
) -> Look:
    state, finger, barre = np.split(strings, [STATES, STATES + FINGERS], axis=-1)
    cuts = np.cumsum(list(WHOLE.values()))[:-1]
    parts = dict(zip(WHOLE, (softmax(p) for p in np.split(whole, cuts)), strict=True))
    seen = in_crop(corners, matrix) + shift.reshape(4, 2) * READING_GRID
    return Look(
        corners=on_page(seen, matrix),
        states=softmax(state),
        fingers=softmax(finger),
        barre=softmax(barre),
        strings=parts["strings"],
        rows=parts["rows"],
        first=parts["first"],
        nut=float(parts["nut"][1]),
        kind=parts["kind"],
        way=parts["way"],
        moved=float(np.abs(shift).max()),
    )


def widened(corners: Points, factor: float) -> Points:
    """The same figure, larger or smaller about its middle."""
    centre = corners.mean(0)
    return np.asarray(centre + (corners - centre) * factor)


# ---------------------------------------------------------------- ink against marks

OFF_MIDDLE = np.array([-0.18, 0.0, 0.18])
"""Where in its fret space a stop may stand, from the middle."""


def ink_of_crop(pixels: Pixels | Levels, corners: Points) -> tuple[NDArray[np.float32], Points]:
    """Ink in the reading crop, 0 to 1 or a little more, and the grid's corners in it."""
    matrix = reading_matrix(corners)
    grey = cv2.cvtColor(cut(pixels, matrix, READING_SIZE), cv2.COLOR_RGB2GRAY).astype(np.float32)
    paper = cv2.medianBlur(grey.astype(np.uint8), 41).astype(np.float32)
    ink = np.abs(grey - paper)
    ink /= max(12.0, float(np.percentile(ink, 97)))
    return ink, in_crop(corners, matrix)


def at_places(ink: NDArray[np.float32], box: Points, u: Floats, v: Floats) -> NDArray[np.float32]:
    """What a crop has at places of the grid, ``u`` across the strings and ``v`` down from the nut, both 0 to 1."""
    places = (1 - v) * ((1 - u) * box[0] + u * box[1]) + v * ((1 - u) * box[3] + u * box[2])
    x, y = np.moveaxis(np.clip(places, 0, READING_SIZE - 1).astype(int), -1, 0)
    return np.asarray(ink[y, x])


def ink_at_cells(pixels: Pixels | Levels, corners: Points, strings: int, rows: int) -> Floats:
    """Ink beyond the grid's own lines around each place where a stop can stand.

    Returns
    -------
    (strings, rows) 0 (only lines) to about 1 (a full dot)
    """
    ink, box = ink_of_crop(pixels, corners)
    across, along = side_lengths(box)
    radius = max(2.0, 0.27 * min(across / max(strings - 1, 1), along / rows))
    soft = cv2.GaussianBlur(np.minimum(ink, 1.2), (0, 0), radius * 0.8)
    u = (np.arange(strings) / max(strings - 1, 1))[:, None, None, None]
    v = ((np.arange(rows) + 0.5)[:, None] + OFF_MIDDLE)[None, :, :, None] / rows
    out = at_places(soft, box, u, v).max(2).astype(float)
    return np.asarray(out - np.median(out))


def count_ink(pixels: Pixels | Levels, look: Look) -> Floats:
    """``ink_at_cells`` with the counts that the look gives."""
    return ink_at_cells(pixels, look.corners, max(2, int(look.strings.argmax())), max(1, int(look.rows.argmax())))
