"""Looks closely at single places of a diagram: the piece of page around each, large enough to read a digit in a dot."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reader.image.abreast import abreast
from reader.image.crops import PIECE_SIZE, cut, finger_rows, piece_matrix
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
BELOW, ABOVE = 0, -1
MAY_BE_ABOVE = 0.05
"""Probability of a finger, as the cells see it, from which it is looked for above the nut too."""


@dataclass(frozen=True, slots=True)
class Place:
    """One place to look at: diagram, string, and row (from 1), or ``BELOW`` or ``ABOVE`` for a line of fingers."""

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
            out.append(Place(diagram, s, BELOW))
            if 1 - look.fingers[s, 0] > MAY_BE_ABOVE:
                out.append(Place(diagram, s, ABOVE))
    return out


def _looked_at(
    pixels: Pixels | Levels, looks: list[Look], counts: list[tuple[int, int]], turn: int, places: list[Place]
) -> list[NDArray[np.float32]]:
    def piece(p: Place) -> Pixels:
        corners, (strings, rows) = looks[p.diagram].corners, counts[p.diagram]
        beyond = finger_rows(corners, strings, rows)
        row = {BELOW: beyond["below"], ABOVE: beyond["above"]}.get(p.row, p.row - 0.5)
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
    on_strings = {p: sigmoid(said[:1].astype(float))[0] for p, said in seen.items() if p.row not in (BELOW, ABOVE)}
    here = {p: float(np.clip(is_stop, 1e-4, 1 - 1e-4)) for p, is_stop in on_strings.items()}
    for place, p in here.items():
        states[place.string, FIRST_ROW + place.row - 1] *= (p / (1 - p)) ** HERE_SHARE
    states /= states.sum(1, keepdims=True)
    state = states.argmax(1)
    close = min((p if state[q.string] == FIRST_ROW + q.row - 1 else 1 - p for q, p in here.items()), default=1.0)
    for s in range(len(states)):
        stop = int(states[s, FIRST_ROW:].argmax()) + 1
        where = [seen.get(Place(diagram, s, row)) for row in (stop, BELOW, ABOVE)]
        if where[0] is not None:
            signs[s] = _either([softmax(said[1:].astype(float)) for said in where if said is not None])
    return replace(look, states=states, fingers=_fingers(look.fingers, signs), signs=signs, close=close)


def _fingers(cells: Floats, signs: Floats) -> Floats:
    """The finger of each string, of what the cells and what the close look say."""
    close = signs[:, :FINGERS] / signs[:, :FINGERS].sum(1, keepdims=True)
    log = SIGN_SHARE * np.log(close + 1e-5) + (1 - SIGN_SHARE) * np.log(cells + 1e-5)
    log[:, 0] += NO_SIGN
    return softmax(log)


def _either(places: list[Floats]) -> Floats:
    """What is written at a stop or at either end of its string: a sign may stand in any of these places."""
    out = 1 - np.prod([1 - p for p in places], axis=0)
    out[0] = np.prod([p[0] for p in places])
    return np.asarray(out / out.sum())
