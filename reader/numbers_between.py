"""A fret number between two grids may be of either: where it stands tells less than what the labels say."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from reader.image.crops import Points, on_grid, side_lengths
from reader.image.labels import Lettering
from reader.image.marks import NUMBERS, Look

AS_FAR = 3.0
"""A number may be that of a grid which is so many times as far from it as the grid that has it."""
ALONG = (-0.3, 1.15)
"""Where a number may stand along a grid, of its length from the nut."""
HANDED_ON = 0.9
"""Probability of a number once both labels speak for its being the neighbour's (judged by hand)."""
SAME_SPOT = 0.15
"""Of a grid's longer side: two numbers nearer to each other are one."""
_NONE = np.eye(NUMBERS)[0]


def find_between(looks: list[Look], around: list[Lettering]) -> list[tuple[int, int]]:
    """Pairs of a grid with a number and the nearest one without a number of its own at the number's other side.

    Parameters
    ----------
    looks, around : of each diagram of a page
    """
    out = []
    for i, (look, mine) in enumerate(zip(looks, around, strict=True)):
        if mine.numbers[0] > 0.5 or not _side(look.corners, mine.number_at):
            continue
        reach = AS_FAR * max(_away(look.corners, mine.number_at), 1.0)
        others = [
            (_away(other.corners, mine.number_at), k)
            for k, other in enumerate(looks)
            if (around[k].numbers[0] > 0.5 or _is_shared(k, looks, around))
            and _side(other.corners, mine.number_at) == -_side(look.corners, mine.number_at)
        ]
        far, k = min(others, default=(reach, -1))
        if far < reach:
            out.append((i, k))
    return out


def on_one_side(look: Look, around: Lettering, side: int) -> tuple[Look, Lettering]:
    """A diagram whose number stands on one side of it, if it has one at all.

    Parameters
    ----------
    look, around : of the diagram
    side : which of ``Lettering.one_sided``
    """
    numbers, at, unread = around.one_sided[side]
    lost = numbers[0] > 0.5 >= around.numbers[0]
    return without_number(look) if lost else look, replace(around, numbers=numbers, number_at=at, unread=unread)


def _is_shared(k: int, looks: list[Look], around: list[Lettering]) -> bool:
    """Whether the number of a grid is another grid's as well."""
    at, side = around[k].number_at, max(side_lengths(looks[k].corners))
    rest = (a for i, a in enumerate(around) if i != k and a.numbers[0] < 0.5)
    return any(np.hypot(*(a.number_at - at)) < SAME_SPOT * side for a in rest)


def without_number(look: Look) -> Look:
    """The look at a grid whose number is another's: what it tells of the first fret comes from that number."""
    first = np.full_like(look.first, 0.5 / (len(look.first) - 1))
    first[1] = 0.5
    return replace(look, first=first)


def handed_on(giver: Lettering, taker: Lettering) -> tuple[Lettering, Lettering]:
    """The lettering of both grids once the number of the first is that of the second."""
    return (
        replace(giver, numbers=HANDED_ON * _NONE + (1 - HANDED_ON) * giver.numbers, unread=0.0),
        replace(
            taker,
            numbers=HANDED_ON * giver.numbers + (1 - HANDED_ON) * taker.numbers,
            number_at=giver.number_at,
            unread=0.0,
        ),
    )


def _away(grid: Points, at: Points) -> float:
    """From a point to a grid, pixels; 0 inside."""
    return max(0.0, -cv2.pointPolygonTest(grid.astype(np.float32), (float(at[0]), float(at[1])), True))


def _side(grid: Points, at: Points) -> int:
    """-1 for a point to the left of a grid whose nut is above, 1 to its right, 0 elsewhere."""
    u, v = on_grid(at[None], grid)[0]
    if not ALONG[0] < v < ALONG[1]:
        return 0
    return -1 if u < 0 else 1 if u > 1 else 0
