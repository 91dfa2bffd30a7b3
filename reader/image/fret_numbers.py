"""Reads the number of a fret beside a grid, Roman or not, as probabilities."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reader.image.around import Around, Lexicon
from reader.image.crops import Points, on_page
from reader.image.ctc import Tree
from reader.image.lettering import SIDES, Piece, Side
from reader.image.marks import NUMBERS
from reader.image.signs import AROUND_GRID

Floats = NDArray[np.float64]
NO_NUMBER = 0.08
"""Weight of there being none, against a perfect fit of a common one."""
READABLE = 0.02
"""Fit from which a piece counts as read rather than not."""
FURTHEST_NUMBER = 0.65
TALLEST_NUMBER = 0.4
"""Of the grid's longer side: how far off and how tall a fret number is at most."""
CLOSE, SMALL = 0.1, 0.11
"""Of the grid's longer side: a digit this close and this small is more often the finger of an outer stop."""


def _beside(a: Around, piece: Piece) -> float:
    """How much the place of a piece speaks for its being the number of a fret."""
    along = (a.grid[2] + a.grid[3] - a.grid[0] - a.grid[1]) / 2
    lengthwise = abs(along[1]) >= abs(along[0])
    if (piece.side in ("left", "right")) != lengthwise or piece.running:
        return 0.0
    low, high = a.grid.min(0), a.grid.max(0)
    axis = 1 if lengthwise else 0
    v = (piece.centre[axis] - low[axis]) / max(high[axis] - low[axis], 1.0)
    if not -0.3 < v < 1.15:
        return 0.0
    if piece.distance > FURTHEST_NUMBER or piece.height > TALLEST_NUMBER * AROUND_GRID:
        return 0.0
    weight = float(np.exp(-piece.distance / 0.35))
    if piece.distance < CLOSE and piece.height < SMALL * AROUND_GRID:
        weight *= 0.3
    return weight * (0.03 if piece.rival < piece.distance else 1.0)


def usual_number_sides(around: list[Around], lexicon: Lexicon) -> dict[Side, float]:
    """How much each side speaks for a number on this page: where the sure ones stand."""
    votes = dict.fromkeys(SIDES, 0.0)
    for a in around:
        best: dict[Side, float] = {}
        for piece, fits in zip(a.pieces, a.number_fits, strict=True):
            sure = _beside(a, piece) * float((fits * lexicon.numbers.weights).max())
            best[piece.side] = max(best.get(piece.side, 0.0), min(1.0, sure))
        for side, sure in best.items():
            votes[side] += sure
    most = max(votes.values())
    return {side: (v + 0.4) / (most + 0.4) for side, v in votes.items()}


def read_number(a: Around, lexicon: Lexicon, roman: float, sides: dict[Side, float]) -> tuple[Floats, Points, float]:
    """Probabilities of the number, its place on the page, and whether one was left unread."""
    numbers = np.zeros(NUMBERS)
    numbers[0] = 1.0
    centre = on_page(a.grid.mean(0)[None], a.matrix)[0]
    places = np.array([_beside(a, p) * sides[p.side] for p in a.pieces])
    if not len(places) or places.max() <= 0:
        return numbers, centre, 0.0
    by_value = np.array([_values(f, lexicon.numbers, roman) for f in a.number_fits])
    scores = by_value * (places * np.array(a.clear) ** 2)[:, None]
    best = int(scores.sum(1).argmax())
    total = NO_NUMBER + scores[best].sum()
    numbers = scores[best] / total
    numbers[0] = NO_NUMBER / total
    at = on_page(a.pieces[best].centre.reshape(1, 2), a.matrix)[0]
    return numbers, at, _unread(a, places, by_value)


def _unread(a: Around, places: Floats, by_value: Floats) -> float:
    """How sure it is that a piece in a number's place is none of the numbers known."""
    # what reads as no sign at all and stands close by is the end of a line
    apart = np.array([c > 0 or p.distance > CLOSE for c, p in zip(a.clear, a.pieces, strict=True)])
    likely = apart & np.array([0.045 * AROUND_GRID < p.height < 0.3 * AROUND_GRID for p in a.pieces])
    as_number = by_value.sum(1) / (by_value.sum(1) + READABLE) * np.array(a.clear)
    as_label = a.label_fits.max(1)
    as_label = as_label / (as_label + READABLE) * np.array(a.clear)
    return float((np.minimum(1.0, 2 * places) * likely * (1 - as_number) * (1 - as_label)).max())


def _values(fits: Floats, tree: Tree, roman: float) -> Floats:
    """Weights of the values 0 to 24 of one piece."""
    out = np.zeros(NUMBERS)
    for text, score in zip(tree.texts, fits * tree.weights, strict=True):
        is_roman = text.endswith("r")
        value = int(text.removesuffix("r"))
        out[value] = max(out[value], score * (roman if is_roman else 1 - roman) * 2)
    return out


def writes_roman(around: list[Around], lexicon: Lexicon) -> float:
    """Share of Roman numerals on the page, told by those that cannot be mistaken."""
    clear = np.array([not set(t.removesuffix("r")) <= {"1"} and t not in ("2r",) for t in lexicon.numbers.texts])
    is_roman = np.array([t.endswith("r") for t in lexicon.numbers.texts])
    votes = np.zeros(2)
    for a in around:
        for piece, fits in zip(a.pieces, a.number_fits, strict=True):
            scores = fits * lexicon.numbers.weights * clear * _beside(a, piece)
            votes += [float((scores * ~is_roman).max()), float((scores * is_roman).max())]
    return float((votes[1] + 0.05) / (votes.sum() + 0.3))
