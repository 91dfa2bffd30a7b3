"""Reads the lettering around the diagrams of a page: labels, numbers beside the grids, the way up."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.crops import Points, cut
from reader.image.ctc import Tree, best_path, fit
from reader.image.engines import load_engine
from reader.image.lettering import AROUND_GRID, AROUND_SIZE, Piece, Side, around_matrix, find_pieces
from reader.image.levels import Levels, Pixels
from reader.image.marks import NUMBERS

Floats = NDArray[np.float64]
LINE = 48
"""Height of what the text network reads, pixels."""
LETTER_SHARE = 0.8
"""Share of that height that the lettering takes."""
WIDEST_LINE = 400
LABEL_SIDES: dict[Side, float] = {"above": 1.0, "below": 0.3, "left": 0.15, "right": 0.1}
"""How usual it is that a label stands on this side (common practice, no source)."""
NO_LABEL, NO_NUMBER = 0.004, 0.08
"""Weight of there being none, against a perfect fit of a common one."""
READABLE = 0.02
"""Fit from which a piece counts as read rather than not."""
FURTHEST_NUMBER = 0.65
TALLEST_NUMBER = 0.4
"""Of the grid's longer side: how far off and how tall a fret number is at most."""
PART_OF_LABEL = 0.05
"""A pair of words that reads at least as well as this is one label."""
CLOSE, SMALL = 0.1, 0.11
"""Of the grid's longer side: a digit this close and this small is more often the finger of an outer stop."""
WAY_SAMPLE = 5
READ_WELL = 0.7


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
    """

    labels: tuple[tuple[str, float], ...]
    numbers: Floats
    number_at: Points
    unread: float
    way: Floats

    @property
    def label(self) -> tuple[str, float]:
        """The likeliest text and its probability."""
        return self.labels[0] if self.labels else ("", 1.0)


@dataclass(frozen=True, slots=True)
class Lexicon:
    """What can be written: spellings of labels and of fret numbers (``5``, ``5r`` for Roman V)."""

    labels: Tree
    numbers: Tree


@dataclass(frozen=True, slots=True)
class _Around:
    """The pieces round one grid, how well each spelling fits each of them, how clearly each reads at all."""

    grid: Points
    matrix: Floats
    pieces: list[Piece]
    label_fits: Floats
    number_fits: Floats
    clear: tuple[float, ...]


def look_around(pixels: Pixels | Levels, corners: list[Points], turn: int, lexicon: Lexicon) -> list[Lettering]:
    """Read the lettering of each diagram of a page.

    Parameters
    ----------
    pixels : uint8 [row, col, 3]
    corners : list of (4, 2) page pixels, of all diagrams of the page
    turn : quarter turns counter-clockwise that bring the page's lettering upright
    lexicon : Lexicon
    """
    around = _read_pieces(pixels, corners, corners, turn, lexicon)
    sides = _usual_sides(around, lexicon)
    roman = _writes_roman(around, lexicon)
    number_sides = _usual_number_sides(around, lexicon)
    ways = _ways(pixels, corners, turn, around, lexicon)
    out = []
    for a, way in zip(around, ways, strict=True):
        numbers, at, unread = _number(a, lexicon, roman, number_sides)
        out.append(Lettering(_labels(a, lexicon, sides), numbers, at, unread, way))
    return out


# ---------------------------------------------------------------- pieces and what they read as


def _read_pieces(
    pixels: Pixels | Levels, corners: list[Points], everyone: list[Points], turn: int, lexicon: Lexicon
) -> list[_Around]:
    found = []
    for c in corners:
        m = around_matrix(c, turn)
        on_crop = [cv2.perspectiveTransform(o[None].astype(float), m)[0] for o in everyone if o is not c]
        near = [o for o in on_crop if (o.max(0) > 0).all() and (o.min(0) < AROUND_SIZE).all()]
        grid = np.asarray(cv2.perspectiveTransform(c[None].astype(float), m)[0])
        found.append((grid, m, find_pieces(cut(pixels, m, AROUND_SIZE), grid, near)))
    every = [p for _, _, pieces in found for p in pieces]
    signs = iter(read_lines([p.picture for p in every]))
    levelled = iter(read_lines([p.levelled for p in every if p.levelled is not None]))
    out = []
    for grid, m, pieces in found:
        label_fits, number_fits, clear = [], [], []
        for piece in pieces:
            as_written = next(signs)
            clear.append(best_path(as_written)[1])
            label_fits.append(fit(lexicon.labels, as_written))
            number_fits.append(fit(lexicon.numbers, as_written))
            if piece.levelled is not None:
                label_fits[-1] = np.maximum(0.6 * label_fits[-1], fit(lexicon.labels, next(levelled)))
        out.append(_Around(grid, m, pieces, np.array(label_fits), np.array(number_fits), tuple(clear)))
    return out


def read_lines(pictures: list[NDArray[np.uint8]]) -> list[Floats]:
    """What the text network reports of each picture of a word.

    Parameters
    ----------
    pictures : uint8 [row, col], dark on white

    Returns
    -------
    list of (steps, classes) probabilities; see ``reader.image.ctc``
    """
    lines = [_line(p) for p in pictures]
    out: list[Floats] = [np.zeros((0, 0))] * len(lines)
    order = sorted(range(len(lines)), key=lambda i: lines[i].shape[1])
    while order:
        width = lines[order[0]].shape[1]
        part = [i for i in order[:16] if lines[i].shape[1] <= width + 32]
        order = order[len(part) :]
        widest = max(lines[i].shape[1] for i in part)
        batch = np.full((len(part), 3, LINE, widest), 1.0, np.float32)
        for k, i in enumerate(part):
            batch[k, :, :, : lines[i].shape[1]] = lines[i]
        got = load_engine("text").run({"picture": batch})["signs"]
        for k, i in enumerate(part):
            out[i] = np.asarray(got[k], float)
    return out


def _line(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    h, w = picture.shape
    scale = min(LINE * LETTER_SHARE / h, (WIDEST_LINE - 16) / w)
    size = (max(2, round(w * scale)), max(2, round(h * scale)))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC)
    width = -(-(size[0] + 12) // 16) * 16
    out = np.full((LINE, max(width, 32)), 255, np.uint8)
    y, x = (LINE - size[1]) // 2, (out.shape[1] - size[0]) // 2
    out[y : y + size[1], x : x + size[0]] = small
    return np.asarray(out.astype(np.float32) / 127.5 - 1)


# ---------------------------------------------------------------- labels


def _label_place(piece: Piece, sides: dict[Side, float]) -> float:
    """How much the place of a piece speaks for its being the label."""
    weight = sides[piece.side] * float(np.exp(-piece.distance / 0.3))
    if piece.rival < piece.distance:
        weight *= 0.25 * sides[piece.side]
    return weight * (0.01 if piece.running else 1.0)


def _not_mark(piece: Piece, pieces: list[Piece]) -> float:
    """Little weight for a lone sign that stands between the grid and larger lettering: an open or muted string."""
    beyond = [p for p in pieces if p.side == piece.side and p.distance > piece.distance + 0.02 and not p.running]
    lone = piece.width < 1.3 * piece.height
    return 0.05 if lone and any(p.height > 1.2 * piece.height for p in beyond) else 1.0


def _label_scores(a: _Around, lexicon: Lexicon, sides: dict[Side, float]) -> Floats:
    """(pieces, spellings)"""
    place = np.array([_label_place(p, sides) * _not_mark(p, a.pieces) for p in a.pieces])
    reads = (a.label_fits * lexicon.labels.weights).max(1)
    for k, piece in enumerate(a.pieces):
        # what is part of a longer label is no label by itself
        if any(p.holds(piece) and reads[i] > PART_OF_LABEL for i, p in enumerate(a.pieces)):
            place[k] *= 0.05
    return np.asarray(a.label_fits * lexicon.labels.weights * place[:, None])


def _labels(a: _Around, lexicon: Lexicon, sides: dict[Side, float]) -> tuple[tuple[str, float], ...]:
    if not a.pieces:
        return (("", 1.0),)
    scores = _label_scores(a, lexicon, sides).max(0)
    total = float(scores.sum()) + NO_LABEL
    best: dict[str, float] = {"": NO_LABEL / total}
    for i in np.argsort(scores)[::-1][:8]:
        text = lexicon.labels.texts[int(i)]
        best[text] = best.get(text, 0.0) + float(scores[i]) / total
    return tuple(sorted(best.items(), key=lambda t: -t[1])[:6])


def _usual_sides(around: list[_Around], lexicon: Lexicon) -> dict[Side, float]:
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


# ---------------------------------------------------------------- numbers


def _beside(a: _Around, piece: Piece) -> float:
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


def _usual_number_sides(around: list[_Around], lexicon: Lexicon) -> dict[Side, float]:
    """How much each side speaks for a number on this page: where the sure ones stand."""
    votes = dict.fromkeys(LABEL_SIDES, 0.0)
    for a in around:
        best: dict[Side, float] = {}
        for piece, fits in zip(a.pieces, a.number_fits, strict=True):
            sure = _beside(a, piece) * float((fits * lexicon.numbers.weights).max())
            best[piece.side] = max(best.get(piece.side, 0.0), min(1.0, sure))
        for side, sure in best.items():
            votes[side] += sure
    most = max(votes.values())
    return {side: (v + 0.4) / (most + 0.4) for side, v in votes.items()}


def _number(a: _Around, lexicon: Lexicon, roman: float, sides: dict[Side, float]) -> tuple[Floats, Points, float]:
    """Probabilities of the number, its place on the page, and whether one was left unread."""
    numbers = np.zeros(NUMBERS)
    numbers[0] = 1.0
    centre = np.asarray(cv2.perspectiveTransform(a.grid.mean(0).reshape(1, 1, 2), np.linalg.inv(a.matrix))[0, 0])
    places = np.array([_beside(a, p) * sides[p.side] for p in a.pieces])
    if not len(places) or places.max() <= 0:
        return numbers, centre, 0.0
    by_value = np.array([_values(f, lexicon.numbers, roman) for f in a.number_fits])
    scores = by_value * (places * np.array(a.clear) ** 2)[:, None]
    best = int(scores.sum(1).argmax())
    total = NO_NUMBER + scores[best].sum()
    numbers = scores[best] / total
    numbers[0] = NO_NUMBER / total
    spot = a.pieces[best].centre.reshape(1, 1, 2)
    at = np.asarray(cv2.perspectiveTransform(spot, np.linalg.inv(a.matrix))[0, 0])
    return numbers, at, _unread(a, places, by_value)


def _unread(a: _Around, places: Floats, by_value: Floats) -> float:
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


def _writes_roman(around: list[_Around], lexicon: Lexicon) -> float:
    """Share of Roman numerals on the page, told by those that cannot be mistaken."""
    clear = np.array([not set(t.removesuffix("r")) <= {"1"} and t not in ("2r",) for t in lexicon.numbers.texts])
    is_roman = np.array([t.endswith("r") for t in lexicon.numbers.texts])
    votes = np.zeros(2)
    for a in around:
        for piece, fits in zip(a.pieces, a.number_fits, strict=True):
            scores = fits * lexicon.numbers.weights * clear * _beside(a, piece)
            votes += [float((scores * ~is_roman).max()), float((scores * is_roman).max())]
    return float((votes[1] + 0.05) / (votes.sum() + 0.3))


# ---------------------------------------------------------------- way up


def _goodness(a: _Around, texts: tuple[str, ...]) -> float:
    """How cleanly the best of the pieces reads as a label, single letters counting less."""
    best = 0.0
    for piece, fits, clear in zip(a.pieces, a.label_fits, a.clear, strict=True):
        if not piece.running and piece.distance < FURTHEST_NUMBER and piece.distance < piece.rival:
            # one letter alone often reads as another when it lies on its side
            several = piece.width > 1.2 * piece.height and len(texts[int(fits.argmax())]) > 1
            best = max(best, min(1.0, float(fits.max())) * clear**2 * (1.0 if several else 0.4))
    return best


def _is_word(piece: Piece) -> bool:
    """Whether a piece of several signs stands near its grid: turned by a quarter it is tall."""
    long = max(piece.width, piece.height) > 1.2 * min(piece.width, piece.height)
    return long and not piece.running and piece.distance < min(FURTHEST_NUMBER, piece.rival)


def _ways(
    pixels: Pixels | Levels, corners: list[Points], turn: int, around: list[_Around], lexicon: Lexicon
) -> list[Floats]:
    """Evidence of the way up; other ways are tried on a few diagrams, and only where this one reads badly."""
    even = np.full(4, 0.25)
    good = np.array([_goodness(a, lexicon.labels.texts) for a in around])
    if turn or not len(good):
        return [even] * len(around)
    if (good > READ_WELL).mean() >= 0.45:
        upright = np.array([0.94, 0.02, 0.02, 0.02])
        return [upright if g > READ_WELL else even for g in good]
    worded = [i for i, a in enumerate(around) if any(_is_word(p) for p in a.pieces)] or list(range(len(corners)))
    sample = [worded[int(k)] for k in np.linspace(0, len(worded) - 1, min(WAY_SAMPLE, len(worded)))]
    ways = [even] * len(around)
    for i in sample:
        tries = [good[i]]
        for t in (1, 2, 3):
            tries.append(_goodness(_read_pieces(pixels, [corners[i]], corners, t, lexicon)[0], lexicon.labels.texts))
        odds = np.exp(5.0 * np.array(tries))
        # a page that reads upright after t quarter turns has lettering that lies -t quarters off
        ways[i] = np.asarray(np.roll(odds[::-1], 1) / odds.sum())
    return ways
