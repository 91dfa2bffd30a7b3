"""Looks closely at single places of a diagram: the piece of page around each, large enough to read a digit in a dot."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reader.image.abreast import abreast
from reader.image.crops import PIECE_SIZE, cut, finger_row, piece_matrix
from reader.image.engines import load_engine
from reader.image.levels import Levels, Pixels
from reader.image.marks import FINGERS, FIRST_ROW, Look, no_signs
from reader.image.odds import sigmoid, softmax

Floats = NDArray[np.float64]
WORTH_A_LOOK = 0.01
"""A place where a stop may be with this probability is looked at closely."""
HERE_SHARE = 0.15
"""Weight of what the close look says of a stop, in log odds."""
SIGN_SHARE, NO_SIGN = 0.3, -0.25
"""Weight of the sign that it reads against what the cells say of the finger, and what no sign gets besides. The
cells see how all of the diagram is written, the close look sees the digit; fitted on the pages written apart."""
AT_ONCE = 16


@dataclass(frozen=True, slots=True)
class Place:
    """One place to look at: diagram, string, and row (from 1) or 0 for the line of fingers below."""

    diagram: int
    string: int
    row: int


def look_closely(pixels: Pixels | Levels, looks: list[Look], counts: list[tuple[int, int]], turn: int) -> list[Look]:
    """The same looks with each possible stop, and what is written at it or below its string, looked at closely.

    Parameters
    ----------
    pixels : uint8 [row, col, 3]
    looks : of whole diagrams
    counts : strings and rows of each
    turn : quarter turns (counter-clockwise) that bring the page's lettering upright
    """
    places = [p for i, (look, count) in enumerate(zip(looks, counts, strict=True)) for p in _places(i, look, *count)]
    seen = dict(zip(places, _looked_at(pixels, looks, counts, turn, places), strict=True))
    return [_told(i, look, {p: v for p, v in seen.items() if p.diagram == i}) for i, look in enumerate(looks)]


def _places(diagram: int, look: Look, strings: int, rows: int) -> list[Place]:
    out = []
    for s in range(strings):
        stops = look.states[s, FIRST_ROW : FIRST_ROW + rows]
        out += [Place(diagram, s, r + 1) for r in range(rows) if stops[r] > WORTH_A_LOOK]
        if stops.max() > WORTH_A_LOOK:
            out.append(Place(diagram, s, 0))
    return out


def _looked_at(
    pixels: Pixels | Levels, looks: list[Look], counts: list[tuple[int, int]], turn: int, places: list[Place]
) -> list[NDArray[np.float32]]:
    def piece(p: Place) -> Pixels:
        corners, (strings, rows) = looks[p.diagram].corners, counts[p.diagram]
        row = p.row - 0.5 if p.row else finger_row(corners, strings, rows)
        matrix = piece_matrix(corners, strings, rows, p.string, row, turn)
        return cut(pixels, matrix, PIECE_SIZE).transpose(2, 0, 1)

    out: list[NDArray[np.float32]] = []
    for start in range(0, len(places), AT_ONCE):
        pieces = abreast(piece, places[start : start + AT_ONCE])
        out += list(load_engine("pieces").run({"picture": np.stack(pieces).astype(np.float32)})["signs"])
    return out


def _told(diagram: int, look: Look, seen: dict[Place, NDArray[np.float32]]) -> Look:
    """One look with what its close looks tell."""
    states, signs = look.states.copy(), no_signs()
    here = {p: float(np.clip(sigmoid(said[:1].astype(float))[0], 1e-4, 1 - 1e-4)) for p, said in seen.items() if p.row}
    for place, p in here.items():
        states[place.string, FIRST_ROW + place.row - 1] *= (p / (1 - p)) ** HERE_SHARE
    states /= states.sum(1, keepdims=True)
    state = states.argmax(1)
    close = min((p if state[q.string] == FIRST_ROW + q.row - 1 else 1 - p for q, p in here.items()), default=1.0)
    for s in range(len(states)):
        stop = int(states[s, FIRST_ROW:].argmax()) + 1
        at, below = seen.get(Place(diagram, s, stop)), seen.get(Place(diagram, s, 0))
        if at is not None and below is not None:
            signs[s] = _either(softmax(at[1:].astype(float)), softmax(below[1:].astype(float)))
    return replace(look, states=states, fingers=_fingers(look.fingers, signs), signs=signs, close=close)


def _fingers(cells: Floats, signs: Floats) -> Floats:
    """The finger of each string, of what the cells and what the close look say."""
    close = signs[:, :FINGERS] / signs[:, :FINGERS].sum(1, keepdims=True)
    log = SIGN_SHARE * np.log(close + 1e-5) + (1 - SIGN_SHARE) * np.log(cells + 1e-5)
    log[:, 0] += NO_SIGN
    return softmax(log)


def _either(at: Floats, below: Floats) -> Floats:
    """What is written at a stop or below its string: a sign may stand in either place."""
    out = at + below - at * below
    out[0] = at[0] * below[0]
    return np.asarray(out / out.sum())
