"""Reads the number of a fret beside a grid, Roman or not, as probabilities."""

from __future__ import annotations

from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from reader.image.around import Around, Lexicon
from reader.image.crops import Points, in_crop, on_page
from reader.image.ctc import Tree
from reader.image.lettering import SIDES, Piece, Side
from reader.image.marks import NUMBERS
from reader.image.signs import AROUND_GRID

Floats = NDArray[np.float64]
NO_NUMBER = 0.08
"""Weight of there being none, against a perfect fit of a common one."""
SURELY_ONE, HARDLY_NONE = 0.4, 0.15
"""Fit of lettering beside the grid that no digit alone can be mistaken for, from which there surely is a number,
however seldom people write it so; what is left of the weight of there being none."""
READABLE = 0.02
"""Fit from which a piece counts as read rather than not."""
FURTHEST_NUMBER = 0.65
TALLEST_NUMBER, TALLEST_MARKED = 0.4, 0.55
"""Of the grid's longer side: how far off and how tall a fret number is at most; one with a sign has a long f."""
OPPOSITE: dict[Side, Side] = {"left": "right", "right": "left", "above": "below", "below": "above"}
USUAL_SIDE = 0.7
"""Share of the numbers of a page from which one side is the usual one."""
SAME_PLACE, TAKEN = 12, 0.15
"""Crop pixels between two looks at one number, at most; what is left of its weight where another grid has it, so that
a label can still claim it."""
EVEN = 0.05
"""Of the grid's longer side: a number between two grids may be of either, if it is no further than this from the
middle."""
BEYOND_NUT, NEAR_NUT = 0.5, 0.25
"""Weight of a number with a sign that stands beyond the nut, and how close to the grid it stands."""
CLOSE, SMALL = 0.1, 0.11
"""Of the grid's longer side: a digit this close and this small is more often the finger of an outer stop."""


NumberForm = Literal["plain", "marked", "roman", "strokes"]
"""``5``; ``5fr``, ``5th``, ``(5)``; ``V``; ``II``, which may be two strokes or an eleven."""
USUAL_FORMS: dict[NumberForm, float] = {"plain": 0.5, "marked": 0.3, "roman": 0.2, "strokes": 0.1}
"""Votes of a page for each form before any number is read (common practice, no source)."""
LEAST_FORMS: dict[NumberForm, float] = {"plain": 0.04, "marked": 0.3, "roman": 0.5, "strokes": 0.02}
"""However seldom a page has it: what cannot be mistaken for anything else counts all the same."""
FORM_SURE = 0.15
"""Weight from which a number with a sign or a Roman one is the number, and a digit alone beside it is none."""
FINGER = 0.1
"""Weight of a digit alone where such a number stands at the same grid."""
SEVEN, STROKE_AS_SEVEN = 7, 0.3
"""Share of the weight of a 1 that a 7 has where the 1 fits better."""
LABEL_SIDE, AS_LABEL = 0.5, 0.1
"""Share of the labels of a page from which a side is theirs; what is left there of the weight of a digit alone beside a
grid without a label: a G reads as a 6, a B as an 8."""
TURNED, SURE_TURNED = 0.5, 0.9
"""Weight of what may be a number at a right angle to the other lettering; how surely it reads to count as one, whose
parts then are no numbers."""


def _nut_side(a: Around) -> Side:
    """On which side of the grid its nut lies."""
    x, y = a.grid[2] + a.grid[3] - a.grid[0] - a.grid[1]
    if abs(y) >= abs(x):
        return "above" if y > 0 else "below"
    return "left" if x > 0 else "right"


def _beside(a: Around, piece: Piece, sides: dict[Side, float] | None = None, *, turned: bool = False) -> float:
    """How much the place of a piece speaks for its being the number of a fret; ``turned``: written at a right angle."""
    lengthwise = _nut_side(a) in ("above", "below")
    if (piece.side in ("left", "right")) != lengthwise or piece.running:
        return 0.0
    low, high = a.grid.min(0), a.grid.max(0)
    axis = 1 if lengthwise else 0
    v = (piece.centre[axis] - low[axis]) / max(high[axis] - low[axis], 1.0)
    if not -0.3 < v < 1.15:
        return 0.0
    height = piece.width if turned else piece.height
    if piece.distance > FURTHEST_NUMBER or height > TALLEST_MARKED * AROUND_GRID:
        return 0.0
    weight = float(np.exp(-piece.distance / 0.35))
    if piece.distance < CLOSE and piece.height < SMALL * AROUND_GRID:
        weight *= 0.3
    if piece.rival < piece.distance:
        other = OPPOSITE[piece.side]
        # between two grids it belongs to the one on whose usual side it stands
        mine = sides[piece.side] / (sides[piece.side] + sides[other]) if sides else 0.0
        weight *= max(0.03 if mine < USUAL_SIDE else 0.3, mine**2 if piece.distance - piece.rival < EVEN else 0.0)
    return weight


def _beyond_nut(a: Around, piece: Piece) -> float:
    """How much its place beyond the nut speaks for a piece being the number, if it has a sign that says so."""
    near = piece.side == _nut_side(a) and piece.stands_within(NEAR_NUT) and not piece.running
    return BEYOND_NUT if near and piece.height <= TALLEST_NUMBER * AROUND_GRID else 0.0


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


def read_number(
    a: Around,
    lexicon: Lexicon,
    forms: dict[NumberForm, float],
    sides: dict[Side, float],
    label_side: Side | None = None,
    taken: Points | None = None,
) -> tuple[Floats, Points, float]:
    """Probabilities of the number, its place on the page, and whether one was left unread.

    Parameters
    ----------
    a : what stands round the grid
    lexicon : Lexicon
    forms, sides : how usual forms and places of numbers are on the page
    label_side : where its label would stand, if none was read
    taken : (2,) page pixels where a number stands that more likely is another grid's
    """
    numbers = np.zeros(NUMBERS)
    numbers[0] = 1.0
    centre = on_page(a.grid.mean(0)[None], a.matrix)[0]
    pieces = [*a.pieces, *(piece for piece, _, _ in a.turned)]
    turned = [False] * len(a.pieces) + [True] * len(a.turned)
    places = np.array([_beside(a, p, sides, turned=t) * sides[p.side] for p, t in zip(pieces, turned, strict=True)])
    beyond = np.array([0.0 if t else _beyond_nut(a, p) for p, t in zip(pieces, turned, strict=True)])
    if taken is not None:
        at = in_crop(taken[None], a.matrix)[0]
        free = np.array([1.0 if np.hypot(*(p.centre - at)) > SAME_PLACE else TAKEN for p in pieces])
        places, beyond = places * free, beyond * free
    if not len(places) or max(places.max(), beyond.max()) <= 0:
        return numbers, centre, 0.0
    weights, plain = _weights(lexicon.numbers, forms), 2 * lexicon.numbers.weights
    fits = np.array([*a.number_fits, *(fit for _, fit, _ in a.turned)])
    tall = np.array(
        [(p.width if t else p.height) > TALLEST_NUMBER * AROUND_GRID for p, t in zip(pieces, turned, strict=True)]
    )
    fits[(places <= 0) | tall] *= number_forms(lexicon.numbers.texts) == "marked"
    of_label = np.array([p.side == label_side for p in pieces])
    fits[of_label] *= np.where(number_forms(lexicon.numbers.texts) == "marked", 1.0, AS_LABEL)
    surely = [sure > SURE_TURNED and float(fit.max()) > SURE_TURNED for _, fit, sure in a.turned]
    as_turned = [sure**2 * (1.0 if s else TURNED) for (_, _, sure), s in zip(a.turned, surely, strict=True)]
    stands = np.maximum(places, beyond) * np.array([*(c**2 for c in a.clear), *as_turned])
    for whole, _, _ in (t for t, s in zip(a.turned, surely, strict=True) if s):
        # what is part of it is no number by itself
        stands *= [FINGER if whole.holds(p) else 1.0 for p in pieces]
    unmistakable = np.isin(number_forms(lexicon.numbers.texts), ("marked", "roman"))
    clearly = fits[:, unmistakable].max(1) > SURELY_ONE
    for whole in (p for p, c in zip(pieces, clearly, strict=True) if c):
        # a neighbour's digit without its sign stands nearer than with it; so does a numeral without its last stroke
        stands *= [FINGER if p is not whole and whole.holds(p) else 1.0 for p in pieces]
    sure = float((fits[:, unmistakable].max(1) * stands).max()) > SURELY_ONE
    none = NO_NUMBER * (HARDLY_NONE if sure else 1.0)
    usual = fits[:, unmistakable] * lexicon.numbers.weights[unmistakable] * stands[:, None]
    if sure or usual.max() > FORM_SURE:
        weights = np.where(unmistakable, weights, FINGER * weights)
    by_value = np.array([_values(f, lexicon.numbers, weights) for f in fits])
    scores = by_value * stands[:, None]
    best = int(scores.sum(1).argmax())
    total = none + scores[best].sum()
    numbers = scores[best] / total
    numbers[0] = none / total
    at = on_page(pieces[best].centre.reshape(1, 2), a.matrix)[0]
    return numbers, at, _unread(a, places[: len(a.pieces)], [_values(f, lexicon.numbers, plain) for f in a.number_fits])


def _unread(a: Around, places: Floats, by_value: list[Floats]) -> float:
    """How sure it is that a piece in a number's place is none of the numbers known."""
    if not by_value:
        return 0.0
    # what reads as no sign at all and stands close by is the end of a line
    apart = np.array([c > 0 or p.distance > CLOSE for c, p in zip(a.clear, a.pieces, strict=True)])
    likely = apart & np.array([0.045 * AROUND_GRID < p.height < 0.3 * AROUND_GRID for p in a.pieces])
    fit = np.sum(by_value, axis=1)
    as_number = fit / (fit + READABLE) * np.array(a.clear)
    as_label = a.label_fits.max(1)
    as_label = as_label / (as_label + READABLE) * np.array(a.clear)
    return float((np.minimum(1.0, 2 * places) * likely * (1 - as_number) * (1 - as_label)).max())


@cache
def number_values(texts: tuple[str, ...]) -> NDArray[np.int64]:
    """The number that each spelling says."""
    return np.array([int(text.split()[0]) for text in texts])


@cache
def number_forms(texts: tuple[str, ...]) -> NDArray[np.str_]:
    """The form (``NumberForm``) of each spelling."""
    return np.array([text.split()[1] for text in texts])


def _weights(tree: Tree, forms: dict[NumberForm, float]) -> Floats:
    """Weight of each spelling on a page with these forms."""
    written = number_forms(tree.texts)
    return np.asarray(2 * tree.weights * sum(share * (written == form) for form, share in forms.items()))


def _values(fits: Floats, tree: Tree, weights: Floats) -> Floats:
    """Weights of the values 0 to 24 of one piece."""
    out, best = np.zeros(NUMBERS), np.zeros(NUMBERS)
    values = number_values(tree.texts)
    np.maximum.at(out, values, fits * weights)
    np.maximum.at(best, values, fits)
    if best[1] > best[SEVEN]:
        # what is a 1, or the end of a line, only looks like a 7
        out[SEVEN] = min(out[SEVEN], STROKE_AS_SEVEN * out[1])
    return out


def writes_numbers(around: list[Around], lexicon: Lexicon) -> dict[NumberForm, float]:
    """Share of each form of number on the page; a digit beside a number that is surely one is a finger."""
    tree = lexicon.numbers
    form = number_forms(tree.texts)
    votes = dict(USUAL_FORMS)
    for a in around:
        best = dict.fromkeys(USUAL_FORMS, 0.0)
        for piece, fits, clear in zip(a.pieces, a.number_fits, a.clear, strict=True):
            scores = fits * tree.weights * _beside(a, piece) * clear**2
            for f in best:
                best[f] = max(best[f], min(1.0, float(scores[form == f].max())))
        sure = max(best["marked"], best["roman"])
        if sure > FORM_SURE:
            best["plain"] = best["strokes"] = 0.0
        for f, vote in best.items():
            votes[f] += vote
    # strokes are a Roman number where others are
    votes["strokes"] = votes["roman"]
    total = votes["plain"] + votes["marked"] + votes["roman"]
    return {f: max(LEAST_FORMS[f], v / total) for f, v in votes.items()}
