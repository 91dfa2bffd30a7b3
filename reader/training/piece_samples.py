"""Cuts pieces around single places of drawn grids, in the way the reader cuts them."""

from __future__ import annotations

import numpy as np

from reader.image import crops
from reader.image.marks import OTHER_NUMBERS, THUMB
from reader.training.brush import Drawn
from reader.training.samples import IGNORE, Sample, legible_fingers, light_or_dark, shaken
from reader.training.strokes import Rng
from reader.training.windows import Window

BESIDE = 3
"""Places without a stop that are shown of each diagram."""
MOST = 64
"""Pieces of one take at most."""


def pieces_of_take(window: Window, drawn: list[Drawn], rng: Rng) -> list[Sample]:
    """Pieces of all diagrams of one take, as many as ``MOST``."""
    out = [piece for d in drawn for piece in _pieces(window, d, rng)]
    return [out[int(k)] for k in rng.permutation(len(out))[:MOST]]


def _pieces(window: Window, d: Drawn, rng: Rng) -> list[Sample]:
    corners = shaken(d.corners, rng, rough=False)
    fingers = legible_fingers(d)
    row_at = str(d.extra.get("row", ""))
    spots: list[tuple[float, float, int, int]] = []
    empty: list[tuple[int, int]] = []
    for s, state in enumerate(d.states):
        for row in range(1, d.rows + 1):
            if row == state:
                spots.append((s, row - 0.5, 1, 0 if row_at else _sign(d, s, int(fingers[s]))))
            elif d.barre[s] != row:
                empty.append((s, row))
    spots += [(*_middle(empty[int(k)]), 0, 0) for k in rng.permutation(len(empty))[:BESIDE]]
    for place, line in crops.finger_rows(corners, d.strings, d.rows).items():
        here = place == row_at
        shown = range(d.strings) if here else rng.permutation(d.strings)[:1]
        spots += [(int(s), line, IGNORE, int(fingers[s]) if here else 0) for s in shown]
    return [_piece(window, d, corners, *spot, rng) for spot in spots]


def _middle(place: tuple[int, int]) -> tuple[float, float]:
    return place[0], place[1] - 0.5


def _sign(d: Drawn, string: int, finger: int) -> int:
    """The class of what is written at a stop."""
    number = int(d.extra["frets"].get(string, 0))
    if number:
        return number if number < 5 else min(number, OTHER_NUMBERS[-1]) - OTHER_NUMBERS[0] + THUMB + 1
    return finger


def _piece(
    window: Window, d: Drawn, corners: crops.Points, string: float, row: float, here: int, sign: int, rng: Rng
) -> Sample:
    matrix = crops.piece_matrix(corners, d.strings, d.rows, string, row, window.turn)
    half = crops.PIECE_SIZE / 2
    size, angle = float(np.exp(rng.normal(0, 0.06))), float(rng.normal(0, 0.04))
    c, s = np.cos(angle) * size, np.sin(angle) * size
    shake = np.array([[c, -s, half - c * half + s * half], [s, c, half - s * half - c * half], [0, 0, 1]])
    shake[:2, 2] += rng.normal(0, 1.2, 2)
    picture = crops.cut(window.picture, shake @ matrix, crops.PIECE_SIZE)
    height, width = window.picture.shape[:2]
    x, y = crops.on_page(np.array([[half, half]]), matrix)[0]
    if not (0 < x < width and 0 < y < height):
        here = sign = IGNORE  # off the page
    return {"picture": light_or_dark(picture, rng), "here": np.array(here), "sign": np.array(sign)}
