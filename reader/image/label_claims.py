"""Labels that are none: marks of open strings that read as letters, and what belongs to the grid next to it."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.crops import Points, grid_unit, on_grid
from reader.image.labels import Lettering
from reader.image.marks import MUTED, OPEN_MARKED, Look

SAME_PLACE = 0.5
"""Of a label's height: how far apart two readings of one label lie at most."""
NEARER = 1.3
"""A label is that of a grid to which it is so many times as near."""
HIGH = 1.3
"""Units of the grid above the nut in which its marks stand."""
IN_LINE, AS_WIDE, LEAST_WIDE = 0.3, 1.1, 0.8
"""Gaps beside its string in which a mark stands, and how wide it is, at most; how wide several are for each gap between
their strings, at least."""
MARKED = 0.5
"""Probability of a mark at a string from which what stands there is that mark."""
MIDDLE = 0.15
"""Of the grid's width: what stands so near its middle may be a label, if it is over one string only."""
ROUNDS = 3
"""How often grids turn to what else may be their label."""
NO_LABEL = (("", 1.0),)


def parted(found: list[Lettering], corners: list[Points], surely: list[bool]) -> list[Lettering]:
    """The lettering of a page, no label given to two grids of which one is clearly nearer to it.

    The other one keeps what else may be its label.

    Parameters
    ----------
    found : of each grid
    corners : of each grid, page pixels
    surely : whether each surely is a diagram: another find takes no label from one
    """
    out = list(found)
    for _ in range(ROUNDS):
        claimed = [c for pair in combinations(range(len(out)), 2) if (c := _claimed(*pair, out, corners, surely))]
        for far, place in claimed:
            out[far] = _without(out[far], place)
        if not claimed:
            break
    return out


def _claimed(
    i: int, k: int, found: list[Lettering], corners: list[Points], surely: list[bool]
) -> tuple[int, NDArray[np.float32]] | None:
    """Which of two grids has a label that is the other one's, and where that stands; None for neither."""
    one, other = _place(found[i]), _place(found[k])
    if one is None or other is None or not _same(one, other):
        return None
    near, far = sorted((i, k), key=lambda n: _distance(corners[n], one))
    if surely[near] and _distance(corners[far], one) > NEARER * max(_distance(corners[near], one), 1.0):
        return far, one
    return None


def _same(one: NDArray[np.float32], other: NDArray[np.float32]) -> bool:
    """Whether two places are that of one label."""
    tall = float(min(np.hypot(*(one[3] - one[0])), np.hypot(*(other[3] - other[0]))))
    return bool(np.hypot(*(one.mean(0) - other.mean(0))) <= SAME_PLACE * tall)


def _without(found: Lettering, place: NDArray[np.float32]) -> Lettering:
    """The lettering without what is read at a place."""
    places = {t: at for t, at in found.label_places.items() if not _same(np.array(at, np.float32), place)}
    kept = [(text, p) for text, p in found.labels if not text or text in places]
    total = sum(p for _, p in kept)
    if total <= 0:
        return replace(found, labels=NO_LABEL, label_places={})
    labels = sorted(((text, p / total) for text, p in kept), key=lambda label: -label[1])
    return replace(found, labels=tuple(labels), label_places=places)


def without_marks(found: Lettering, look: Look, strings: int, rows: int) -> Lettering:
    """The lettering of a grid without a label that is only the marks over its strings.

    Parameters
    ----------
    look : what is seen of the grid
    strings, rows : counted on it
    """
    place = _place(found)
    if place is None:
        return found
    u, v = on_grid(place.astype(float), look.corners).T
    gap, (unit, cell) = 1 / max(strings - 1, 1), grid_unit(look.corners, strings, rows)
    if v.max() > 0.1 / rows or v.min() < -HIGH * unit / cell / rows:
        return found
    marked = look.states[:strings, [MUTED, OPEN_MARKED]].sum(1) > MARKED
    over = [s for s in range(strings) if u.min() - IN_LINE * gap < s * gap < u.max() + IN_LINE * gap]
    wide = float(np.ptp(u)) / gap
    if not over or not marked[over].all() or not LEAST_WIDE * (len(over) - 1) <= wide <= AS_WIDE * len(over):
        return found
    if len(over) == 1 and abs(u.mean() - 0.5) < MIDDLE:
        return found
    return replace(found, labels=NO_LABEL, label_places={})


def _place(found: Lettering) -> NDArray[np.float32] | None:
    """Where the likeliest label stands."""
    at = found.label_places.get(found.label[0]) if found.label[0] else None
    return None if at is None else np.array(at, np.float32)


def _distance(grid: Points, place: NDArray[np.float32]) -> float:
    """From the nearest corner or the middle of a label to a grid, pixels; 0 inside."""
    spots = np.vstack([place, place.mean(0)[None]])
    figure = grid.astype(np.float32)
    return max(0.0, min(-cv2.pointPolygonTest(figure, (float(x), float(y)), True) for x, y in spots))
