"""What stands around the grids of a page: pieces of lettering, and how well each known spelling fits each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from reader.image.abreast import abreast
from reader.image.crops import Points, cut, in_crop
from reader.image.ctc import Tree, best_path, fit, unframed, unnumbered
from reader.image.lettering import Piece, find_pieces
from reader.image.levels import Levels, Pixels
from reader.image.run_together import parts_of
from reader.image.signs import AROUND_SIZE, around_matrix
from reader.image.text import read_lines

Floats = NDArray[np.float64]
CLEAR, FITS, NEAR = 0.8, 0.3, 0.45
"""How surely signs read, how well they fit a label and how near they stand, in grid sides, for it to be one."""
FURTHEST_LETTERING = 1.0
"""Of the grid's longer side: what stands further off, or in a line of text, is neither a label nor a number."""
HARDLY, SMALLER = 0.3, 0.12
"""How clearly a piece reads below which it is looked at again, and the room around it then, share of its height."""
NOTHING = 0.1
"""Fit up to which a piece is read as nothing."""
FEW_PIECES = 5
"""Pieces of lettering that are read around a find which is not surely a diagram."""
MOSTLY = 0.6
"""Share of its height from which lettering that may lie at a right angle is taken to stand upright."""
ASIDE = 160.0
"""How far aside a crop is moved for lettering that runs off it, pixels."""
FRET = "fr"
"""What the word behind a first-fret number has in it, whole or cut short."""
SURELY = (0.92, 0.7)
"""The first two for lettering so pale that it may be the paper's grain."""


@dataclass(frozen=True, slots=True)
class Lexicon:
    """What can be written: spellings of labels, and of fret numbers as value and form, ``5 plain`` (``NumberForm``)."""

    labels: Tree
    numbers: Tree


@dataclass(frozen=True, slots=True)
class Around:
    """What stands round one grid, and what it reads as.

    Parameters
    ----------
    grid : (4, 2) corners in the crop
    matrix : (3, 3) page to crop
    pieces : list of Piece
    label_fits, number_fits : (pieces, spellings), how well each spelling fits each piece
    clear : how clearly each piece reads at all
    signs : what the text network reports of each piece, and of the same with its raised signs brought down
    turned : pieces that read as numbers when they are turned by a quarter, with their fits and how clearly they read
    runs_off : 1 or -1 where lettering close to the right or to the left of the grid runs off the crop
    """

    grid: Points
    matrix: Floats
    pieces: list[Piece]
    label_fits: Floats
    number_fits: Floats
    clear: tuple[float, ...]
    signs: tuple[tuple[Floats, Floats | None], ...] = ()
    turned: tuple[tuple[Piece, Floats, float], ...] = ()
    runs_off: int = 0


def read_around(
    pixels: Pixels | Levels, corners: list[Points], everyone: list[Points], turn: int, lexicon: Lexicon
) -> list[Around]:
    """Find the pieces round some of the diagrams of a page, and fit all spellings to them.

    Parameters
    ----------
    pixels : uint8 [row, col, 3]
    corners : list of (4, 2) page pixels, of the diagrams asked for
    everyone : of all that surely are diagrams of the page
    turn : quarter turns counter-clockwise that bring the page's lettering upright
    lexicon : Lexicon
    """
    places = [_place(c, everyone, turn) for c in corners]
    around = _read_pieces(pixels, places, lexicon, pale=False)
    unread = [i for i, a in enumerate(around) if places[i].sure and not _labelled(a)]
    for i, again in zip(unread, _read_pieces(pixels, [places[i] for i in unread], lexicon, pale=True), strict=True):
        if _labelled(again, *SURELY):
            around[i] = again
    cut_off = {i: ASIDE * a.runs_off for i, a in enumerate(around) if places[i].sure and a.runs_off and _is_part(a)}
    beside = [_place(corners[i], everyone, turn, aside) for i, aside in cut_off.items()]
    for (i, aside), more in zip(cut_off.items(), _read_pieces(pixels, beside, lexicon, pale=False), strict=True):
        around[i] = _with_beyond(around[i], more, aside)
    return around


@dataclass(frozen=True, slots=True)
class _Spot:
    """A grid and the sure grids near it, in the crop around it; whether it is one of the sure ones itself."""

    grid: Points
    matrix: Floats
    near: list[Points]
    sure: bool


def _place(corners: Points, everyone: list[Points], turn: int, aside: float = 0.0) -> _Spot:
    """The crop around a grid, or one that lies ``aside`` pixels to its right."""
    m = np.array([[1.0, 0, -aside], [0, 1, 0], [0, 0, 1]]) @ around_matrix(corners, turn)
    on_crop = [in_crop(o, m) for o in everyone if o is not corners]
    near = [o for o in on_crop if (o.max(0) > 0).all() and (o.min(0) < AROUND_SIZE).all()]
    return _Spot(in_crop(corners, m), m, near, any(c is corners for c in everyone))


def _with_beyond(a: Around, more: Around, aside: float) -> Around:
    """The same with what reaches beyond its own crop, as it stands in one ``aside`` of it, instead of parts of that."""
    boxes = [(p.box[0] + round(aside), p.box[1], p.box[2] + round(aside), p.box[3]) for p in more.pieces]
    pieces = [replace(piece, box=box) for piece, box in zip(more.pieces, boxes, strict=True)]
    new = [k for k, box in enumerate(boxes) if box[0] < 0 or box[2] > AROUND_SIZE]
    if not new:
        return a
    old = [k for k, piece in enumerate(a.pieces) if not any(pieces[n].holds(piece) for n in new)]
    both = [(a, k) for k in old] + [(more, k) for k in new]
    return replace(
        a,
        pieces=[*(a.pieces[k] for k in old), *(pieces[k] for k in new)],
        label_fits=np.array([one.label_fits[k] for one, k in both]),
        number_fits=np.array([one.number_fits[k] for one, k in both]),
        clear=tuple(one.clear[k] for one, k in both),
        signs=tuple(one.signs[k] for one, k in both),
    )


def _is_part(a: Around) -> bool:
    """Whether what reads as a label near the grid, or as the word behind a number, ends where its crop does; or nothing
    reads as a label."""
    ends = [min(p.box[0], AROUND_SIZE - p.box[2]) < 0.5 * p.height for p in a.pieces]
    read = [c > CLEAR and f.max() > FITS for c, f in zip(a.clear, a.label_fits, strict=True)]
    words = [FRET in best_path(signs)[0].lower() for signs, _ in a.signs]
    return not _labelled(a) or any(e and (r or w) for e, r, w in zip(ends, read, words, strict=True))


def _labelled(a: Around, clear: float = CLEAR, fits: float = FITS) -> bool:
    """Whether anything near the grid reads so clearly, and so well as a label."""
    near = [p.distance < NEAR for p in a.pieces]
    return any(n and c > clear and f.max() > fits for n, c, f in zip(near, a.clear, a.label_fits, strict=True))


def _read_pieces(pixels: Pixels | Levels, places: list[_Spot], lexicon: Lexicon, *, pale: bool) -> list[Around]:
    found = abreast(lambda p: find_pieces(cut(pixels, p.matrix, AROUND_SIZE), p.grid, p.near, pale), places)
    # of what hardly is a diagram, and there may be hundreds on a bad copy, only the nearest lettering is read
    found = [f if p.sure else (f[0][:FEW_PIECES], [], 0) for f, p in zip(found, places, strict=True)]
    every = [p for pieces, _, _ in found for p in pieces]
    signs = iter(_read_again(every, read_lines([p.picture for p in every])))
    levelled = iter(read_lines([p.levelled for p in every if p.levelled is not None]))
    out = []
    for place, (pieces, _, off) in zip(places, found, strict=True):
        read = [(p, next(signs), None if p.levelled is None else next(levelled)) for p in pieces]
        fitted = _parted(_fitted(place.grid, place.matrix, read, lexicon), place, lexicon)
        out.append(replace(fitted, runs_off=off))
    return _with_turned(out, [upended for _, upended, _ in found], lexicon)


def _read_again(pieces: list[Piece], signs: list[Floats]) -> list[Floats]:
    """The same with another look, at a little less than their size, at what stands near a grid and hardly reads.

    A lone sign may read well or not at all, whichever way it lies on the network's steps.
    """
    unclear = [i for i, (p, s) in enumerate(zip(pieces, signs, strict=True)) if p.distance < NEAR and _hardly(s)]
    pictures = [pieces[i].picture for i in unclear]
    smaller = read_lines([np.pad(p, round(SMALLER * p.shape[0]), constant_values=255) for p in pictures])
    out = list(signs)
    for i, again in zip(unclear, smaller, strict=True):
        if best_path(again)[1] > best_path(signs[i])[1]:
            out[i] = again
    return out


def _hardly(signs: Floats) -> bool:
    return best_path(signs)[1] < HARDLY


def relabelled(a: Around, lexicon: Lexicon) -> Around:
    """The same with other spellings of labels."""
    read = zip(a.pieces, a.signs, strict=True)
    fits = [_label_fits(piece, signs, raised, lexicon) for piece, (signs, raised) in read]
    return replace(a, label_fits=np.array(fits))


def _fitted(grid: Points, matrix: Floats, read: list[tuple[Piece, Floats, Floats | None]], lexicon: Lexicon) -> Around:
    """What stands round a grid, from its pieces and what the text network reports of them."""
    labels = np.array([_label_fits(*r, lexicon) for r in read])
    numbers = np.array([_number_fits(piece, signs, lexicon) for piece, signs, _ in read])
    clear = tuple(best_path(signs)[1] for _, signs, _ in read)
    return Around(grid, matrix, [p for p, _, _ in read], labels, numbers, clear, tuple((s, r) for _, s, r in read))


def _label_fits(piece: Piece, signs: Floats, raised: Floats | None, lexicon: Lexicon) -> Floats:
    """``raised``: what the network reports of the piece with its raised signs brought down."""
    if piece.distance >= FURTHEST_LETTERING:
        return np.zeros(len(lexicon.labels.texts))
    fits = fit_label(lexicon.labels, signs)
    if raised is not None:
        fits = np.maximum(0.6 * fits, fit_label(lexicon.labels, raised))
    # a word of a line of text may be a label, a letter in it hardly
    return fits * several_signs(lexicon.labels.texts) if piece.running else fits


def fit_label(tree: Tree, signs: Floats) -> Floats:
    """How well each spelling of a label fits, also in a frame of which the sides are left, or behind a number."""
    alone = [part for part in (unframed(signs), unnumbered(signs)) if part is not None]
    return np.asarray(np.max([fit(tree, part) for part in (signs, *alone)], axis=0))


def _number_fits(piece: Piece, signs: Floats, lexicon: Lexicon) -> Floats:
    if piece.distance >= FURTHEST_LETTERING or piece.running:
        return np.zeros(len(lexicon.numbers.texts))
    return fit(lexicon.numbers, signs)


@cache
def several_signs(texts: tuple[str, ...]) -> NDArray[np.bool_]:
    """Which spellings have more signs than one."""
    return np.array([len(text) > 1 for text in texts])


def _parted(a: Around, place: _Spot, lexicon: Lexicon) -> Around:
    """The same with what is read as nothing also as the two pieces that it may be."""
    parts: list[tuple[Piece, Floats, Floats | None]] = []
    for piece, (signs, _), labels, numbers in zip(a.pieces, a.signs, a.label_fits, a.number_fits, strict=True):
        if not piece.running and max(float(labels.max()), float(numbers.max())) < NOTHING:
            parts += [(p, s, None) for p, s in parts_of(piece, signs, place.grid, place.near)]
    if not parts:
        return a
    more = _fitted(a.grid, a.matrix, parts, lexicon)
    return replace(
        a,
        pieces=a.pieces + more.pieces,
        label_fits=np.concatenate([a.label_fits, more.label_fits]),
        number_fits=np.concatenate([a.number_fits, more.number_fits]),
        clear=a.clear + more.clear,
        signs=a.signs + more.signs,
    )


def _with_turned(around: list[Around], upended: list[list[Piece]], lexicon: Lexicon) -> list[Around]:
    """The same with the numbers written at a right angle to the other lettering."""
    asked = [
        (i, p) for i, (a, pieces) in enumerate(zip(around, upended, strict=True)) for p in pieces if not _read(a, p)
    ]
    ways = [np.ascontiguousarray(np.rot90(p.picture, k)) for _, p in asked for k in (1, -1)]
    signs = read_lines(ways)
    turned: dict[int, list[tuple[Piece, Floats, float]]] = {}
    for (i, piece), one, other in zip(asked, signs[::2], signs[1::2], strict=True):
        tried = [(best_path(s)[1], fit(lexicon.numbers, s)) for s in (one, other)]
        sure, fits = max(tried, key=lambda t: t[0] * float((t[1] * lexicon.numbers.weights).max()))
        turned.setdefault(i, []).append((piece, fits, sure))
    return [replace(a, turned=tuple(turned.get(i, ()))) for i, a in enumerate(around)]


def _read(a: Around, upended: Piece) -> bool:
    """Whether most of what stands there reads clearly as it stands."""
    x0, y0, x1, y1 = upended.box
    tall = 0
    for piece, clear in zip(a.pieces, a.clear, strict=True):
        if clear > CLEAR and piece.holds(upended):
            return True
        x, y = piece.centre
        if clear > CLEAR and x0 <= x <= x1 and y0 <= y <= y1:
            tall += piece.height
    return tall > MOSTLY * upended.height
