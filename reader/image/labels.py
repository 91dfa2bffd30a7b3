"""What the lettering around the diagrams of a page says: labels, and numbers beside the grids."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from reader.image.around import NEAR, Around, Lexicon
from reader.image.crops import Points, in_crop, on_page
from reader.image.ctc import best_path
from reader.image.fret_numbers import LABEL_SIDE, SAME_PLACE, read_number, usual_number_sides, writes_numbers
from reader.image.lettering import SIDES, Piece, Side

Floats = NDArray[np.float64]
NumberRead = tuple[Floats, Points, float]
"""Probabilities of the number beside a grid, its place on the page, and what is left unread."""
Corners = tuple[tuple[float, float], ...]
LabelRead = tuple[tuple[tuple[str, float], ...], dict[str, Corners]]
"""Texts with their probabilities, best first, and the places where each is read."""
CLAIMED = 0.05
"""Probability from which a diagram asks for the number at a place."""
ELSEWHERE = 0.03
"""Weight of a number or a label on another side, where all of a page are taken to stand on one."""
WORDS = ("fret", "fr", "fre", "ret", "et")
"""What the word beside a first-fret number reads as, whole or as the part of it that stands nearer to one grid."""
BESIDE = 0.3
"""Share of the labels of a page that stand beside their grids from which it is asked on which side (judged by hand)."""
IN_ROW = 0.06
"""Of the grid's longer side: signs whose distances from it differ by less stand in one row."""
LABEL_SIDES: dict[Side, float] = {"above": 1.0, "below": 0.3, "left": 0.15, "right": 0.1}
"""How usual it is that a label stands on this side (common practice, no source)."""
NO_LABEL = 0.004
"""Weight of there being none, against a perfect fit of a common one."""
IN_LINE = 0.3
"""Weight of a word right above a grid that stands in a line: a large label beside others, seldom a song's words."""
MUCH_BETTER, AS_NUMBER = 2.5, 0.1
"""What fits a number so many times as well is one; its weight as a label."""
MARK_SMALLER = 2.0
"""A lone sign over a grid is a mark where so many times as tall lettering stands under it."""
PART_OF_LABEL = 0.05
"""A pair of words that reads at least as well as this is one label."""


@dataclass(frozen=True, slots=True)
class Lettering:
    """What stands around a diagram.

    Parameters
    ----------
    labels : texts with their probabilities, best first; an empty text: no label
    numbers : (25,) probabilities of the number beside the grid, 0 none
    number_at : (2,) page pixels
    unread : probability that something stands where a number would and could not be read
    way : (4,) probabilities of the quarter turns by which the lettering is off upright
    label_places : by text, four corners on the page where this label stands
    reads : how cleanly the best piece nearby reads as a label of these spellings, 0 to 1
    labels_beside : ``labels`` and ``label_places``, were all labels of the page to stand left of their grids, and
        right of them; empty where hardly any stands beside its grid
    one_sided : number, its place and what is unread, were all numbers of the page to stand to the left of (or above)
        their grids, and to the right of (or below) them; empty where that changes nothing on the page
    words_alone : (2,) page pixels of each word ``fret`` beside the grid to which no number belongs
    """

    labels: tuple[tuple[str, float], ...]
    numbers: Floats
    number_at: Points
    unread: float
    way: Floats
    label_places: dict[str, Corners] = field(default_factory=dict)
    reads: float = 0.0
    one_sided: tuple[NumberRead, ...] = ()
    labels_beside: tuple[LabelRead, ...] = ()
    words_alone: tuple[Points, ...] = ()

    @property
    def label(self) -> tuple[str, float]:
        """The likeliest text and its probability."""
        return self.labels[0] if self.labels else ("", 1.0)


def letterings(around: list[Around], lexicon: Lexicon) -> list[Lettering]:
    """What the lettering around each diagram of a page says; how it lies is left open."""
    sides = _usual_sides(around, lexicon)
    forms = writes_numbers(around, lexicon)
    number_sides = usual_number_sides(around, lexicon)
    theirs = next((side for side, share in _shares(sides).items() if share > LABEL_SIDE), None)
    labels = [_labels(a, lexicon, sides) for a in around]
    beside = [None if found[0][0] else theirs for found, _ in labels]
    read = partial(read_number, lexicon=lexicon, forms=forms, sides=number_sides)
    numbers = _numbers(around, beside, read)
    one_sided = [
        _numbers(around, beside, partial(read, sides={s: 1.0 if s in theirs_alone else ELSEWHERE for s in SIDES}))
        for theirs_alone in (("left", "above"), ("right", "below"))
    ]
    labels_beside = [[_labels(a, lexicon, alone) for a in around] for alone in _sides_alone(sides)]
    told = [values.argmax() for values, _, _ in numbers]
    if all([values.argmax() for values, _, _ in sided] == told for sided in one_sided):
        one_sided = []
    ways = np.full(4, 0.25)
    return [
        Lettering(
            said,
            values,
            at,
            unread,
            ways,
            places,
            _reads(a),
            tuple(sided[i] for sided in one_sided),
            tuple(sided[i] for sided in labels_beside),
            _words_alone(a),
        )
        for i, (a, (said, places), (values, at, unread)) in enumerate(zip(around, labels, numbers, strict=True))
    ]


def _words_alone(a: Around) -> tuple[Points, ...]:
    """Where the word of a first fret stands beside a grid without its number."""
    return tuple(
        on_page(piece.centre[None], a.matrix)[0]
        for piece, (signs, _) in zip(a.pieces, a.signs, strict=True)
        if piece.side in ("left", "right")
        and piece.distance < NEAR
        and best_path(signs)[0].lower().rstrip(".") in WORDS
        and not any(other.holds(piece) for other in a.pieces)
    )


def _sides_alone(sides: dict[Side, float]) -> list[dict[Side, float]]:
    """Weights of the sides were all labels to stand on the left, and on the right, where many stand beside grids."""
    shares = _shares(sides)
    if shares["left"] + shares["right"] < BESIDE:
        return []
    return [{s: 1.0 if s == side else ELSEWHERE for s in SIDES} for side in ("left", "right")]


def _numbers(around: list[Around], beside: list[Side | None], read: Callable[..., NumberRead]) -> list[NumberRead]:
    """The number at each diagram of a page, none given to two."""
    numbers = [read(a, label_side=side) for a, side in zip(around, beside, strict=True)]
    for i, at in _claimed_twice(around, numbers):
        numbers[i] = read(around[i], label_side=beside[i], taken=at)
    return numbers


def _claimed_twice(around: list[Around], numbers: list[NumberRead]) -> list[tuple[int, Points]]:
    """Diagrams whose number is more likely that of a neighbour, with its place on the page."""
    sure = [1.0 - float(values[0]) for values, _, _ in numbers]
    asked = [i for i, share in enumerate(sure) if share > CLAIMED]
    out = []
    for i, k in combinations(asked, 2):
        loser, winner = (i, k) if sure[i] < sure[k] else (k, i)
        at = numbers[winner][1]
        mine, theirs = in_crop(np.stack([numbers[loser][1], at]), around[loser].matrix)
        if np.hypot(*(mine - theirs)) <= SAME_PLACE:
            out.append((loser, at))
    return out


def _shares(sides: dict[Side, float]) -> dict[Side, float]:
    """Share of the labels of the page on each side, from how much each speaks for one."""
    votes = {side: weight / LABEL_SIDES[side] for side, weight in sides.items()}
    return {side: v / sum(votes.values()) for side, v in votes.items()}


def _reads(a: Around) -> float:
    """How cleanly the best piece near a grid reads as a label."""
    by_piece = zip(a.pieces, a.clear, a.label_fits, strict=True)
    return max((c**2 * min(1.0, float(f.max())) for p, c, f in by_piece if p.stands_within(NEAR)), default=0.0)


def _label_place(piece: Piece, sides: dict[Side, float]) -> float:
    """How much the place of a piece speaks for its being the label."""
    weight = sides[piece.side] * float(np.exp(-piece.distance / 0.3))
    if piece.rival < piece.distance:
        weight *= 0.25 * sides[piece.side]
    return weight * (IN_LINE if piece.running else 1.0)


def not_mark(piece: Piece, pieces: list[Piece]) -> float:
    """Little weight for a lone sign that is an open or muted string, or one of the names under the strings."""
    if piece.width >= 1.3 * piece.height:
        return 1.0
    beside = [p for p in pieces if p is not piece and p.side == piece.side and not p.running]
    beyond = [p for p in beside if p.distance > piece.distance + 0.02]
    if any(p.height > 1.2 * piece.height for p in beyond):
        return 0.05
    below = [p for p in pieces if p.side == "below" and p.distance < NEAR and not p.running]
    if piece.side == "above" and any(p.height > MARK_SMALLER * piece.height for p in below):
        return 0.05
    alike = [
        p
        for p in beside
        if p.width < 1.3 * p.height and abs(p.distance - piece.distance) < IN_ROW and not _over_each_other(p, piece)
    ]
    return 1.0 if len(alike) < 2 else 0.002 if len(alike) < 3 else 0.0002


def _over_each_other(one: Piece, other: Piece) -> bool:
    """Whether two pieces share columns: they are parts of one word or of one label."""
    return min(one.box[2], other.box[2]) > max(one.box[0], other.box[0])


def _label_scores(a: Around, lexicon: Lexicon, sides: dict[Side, float]) -> Floats:
    """(pieces, spellings)"""
    place = np.array([_label_place(p, sides) * not_mark(p, a.pieces) for p in a.pieces])
    reads = (a.label_fits * lexicon.labels.weights).max(1)
    for k, piece in enumerate(a.pieces):
        # what is part of a longer label is no label by itself
        if any(p.holds(piece) and reads[i] > PART_OF_LABEL for i, p in enumerate(a.pieces)):
            place[k] *= 0.05
    place[a.number_fits.max(1) > MUCH_BETTER * a.label_fits.max(1)] *= AS_NUMBER
    # specks and grain fit some letter as well as any, but the network is sure of none
    place *= np.array(a.clear) ** 2
    return np.asarray(a.label_fits * lexicon.labels.weights * place[:, None])


def _labels(a: Around, lexicon: Lexicon, sides: dict[Side, float]) -> LabelRead:
    """Texts with their probabilities, best first, and the places where each is read."""
    if not a.pieces:
        return (("", 1.0),), {}
    by_piece = _label_scores(a, lexicon, sides)
    scores = by_piece.max(0)
    total = float(scores.sum()) + NO_LABEL
    best: dict[str, float] = {"": NO_LABEL / total}
    places: dict[str, Corners] = {}
    for i in np.argsort(scores)[::-1][:8]:
        text = lexicon.labels.texts[int(i)]
        best[text] = best.get(text, 0.0) + float(scores[i]) / total
        places.setdefault(text, _place(a, a.pieces[int(by_piece[:, i].argmax())]))
    return tuple(sorted(best.items(), key=lambda t: -t[1])[:6]), places


def _place(a: Around, piece: Piece) -> Corners:
    x0, y0, x1, y1 = piece.box
    found = on_page(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]), a.matrix)
    return tuple((float(x), float(y)) for x, y in found)


def _usual_sides(around: list[Around], lexicon: Lexicon) -> dict[Side, float]:
    """How much each side speaks for a label on this page: what is usual, and where the others stand."""
    votes = dict.fromkeys(LABEL_SIDES, 0.0)
    for a in around:
        if not a.pieces:
            continue
        scores = _label_scores(a, lexicon, LABEL_SIDES).max(1)
        best = int(scores.argmax())
        votes[a.pieces[best].side] += float(scores[best]) / (float(scores.sum()) + 0.02)
    total = sum(votes.values())
    return {s: usual * (0.3 + votes[s]) / (0.3 + total) for s, usual in LABEL_SIDES.items()}
