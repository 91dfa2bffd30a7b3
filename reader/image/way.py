"""Which way up: the page by its lettering, each grid by its nut and by how grids usually lie."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reader.image.crops import Points
from reader.image.labels import Lettering
from reader.image.marks import Look

Floats = NDArray[np.float64]
USUAL_WAY = np.array([0.84, 0.01, 0.006, 0.144])
"""How often the nut's left end is the top left, top right, bottom right, bottom left corner on an upright page:
upright grids, and necks lying with the nut at the left (common practice, no source)."""
USUAL_END = (0, 3, 0, 3)
"""The usual of the two ways that differ by the end at which the nut lies."""
NUT_RIGHT = 1
UNUSUAL_ENDS = [NUT_RIGHT, 2]
"""The other of the two."""
LEAST_WAY, SURE_WAY = 0.01, 0.002
"""However sure the crop looks: a grid without nut and with dots in the middle looks alike from both ends; with a nut
it does so less."""
SEEN_WAY, PAGES_WORTH = 0.98, 2.0
"""How sure a look must be for its grid to tell how the others of the page lie; the usual counts as so many grids."""
CLEAR_WAY = 0.9
"""How sure a look must be of its nut's end to speak against a page that would have it at an unusual one."""
SPLIT = 0.2
"""Share of a page's grids without nut that must seem to stand otherwise than the rest, so that none tells its end."""
TURN_MARGIN, TOLD = 2.0, 3.0
"""Log odds by which another way up of the page must win over upright, and from which one is sure."""


def page_turn(around: list[Lettering], corners: list[Points] | None = None, looks: list[Look] | None = None) -> int:
    """Quarter turns counter-clockwise that bring the lettering of the page upright, by vote.

    Parameters
    ----------
    around : lettering of each diagram, read as if the page were upright
    corners, looks : of each diagram, named as its look sees it: few pages have their nuts at the right or at the foot
    """
    votes = _votes(around) + _ends_vote(corners or [], looks or [])
    votes[0] += TURN_MARGIN
    return int(votes.argmax())


def _ends_vote(corners: list[Points], looks: list[Look]) -> Floats:
    """Log odds against the quarter turns after which nuts lie at the right or at the foot, by the share that would.

    A grid without nut, which looks much the same from both ends, does not speak against the page as it lies.
    """
    clear = [(c, k) for c, k in zip(corners, looks, strict=True) if k.way.max() > CLEAR_WAY]
    if not clear:
        return np.zeros(4)
    unusual = [
        np.mean([corner_on_page(c, turn) in UNUSUAL_ENDS and (turn > 0 or k.nut > 0.5) for c, k in clear])
        for turn in range(4)
    ]
    return np.asarray(np.array(unusual) * np.log(USUAL_WAY[UNUSUAL_ENDS].sum()), np.float64)


def is_told(around: list[Lettering], corners: list[Points] | None = None, looks: list[Look] | None = None) -> bool:
    """Whether the lettering of a page, read as if it were upright, surely tells how it lies, its nuts allowing."""
    second, first = np.sort(_votes(around) + _ends_vote(corners or [], looks or []))[-2:]
    return bool(first - second > TOLD)


def _votes(around: list[Lettering]) -> Floats:
    """Log odds of the quarter turns that bring the page upright."""
    votes = np.zeros(4)
    for a in around:
        # lettering that looks turned by k quarters comes upright by turning the page by -k
        votes += np.log(np.clip(np.roll(a.way[::-1], 1), 0.02, 1))
    return votes


def roll(corners: Points, quarters: int) -> Points:
    """The same corners with the nut ``quarters`` corners further on."""
    return np.roll(corners, -quarters, axis=0)


def lies_across(corners: Points, others: Points) -> bool:
    """Whether the same four corners are named from a nut that lies along another way: strings become frets."""
    return any(np.array_equal(roll(corners, quarters), others) for quarters in (1, 3))


def corner_on_page(corners: Points, turn: int) -> int:
    """Corner at which the nut's left end lies once the page is upright: 0 top left, then clockwise."""
    centre = corners.mean(0)
    d = corners[0] - centre
    # turning the page counter-clockwise by a quarter sends (x, y) to (y, -x)
    for _ in range(turn % 4):
        d = np.array([d[1], -d[0]])
    return {(True, True): 0, (False, True): 1, (False, False): 2, (True, False): 3}[(bool(d[0] < 0), bool(d[1] < 0))]


def settle_ways(corners: list[Points], looks: list[Look], turn: int, told: bool = True) -> list[Points]:
    """Corners named from the nut's left end, weighing what the crops show against how the grids of a page lie.

    Parameters
    ----------
    corners : of each diagram, already rolled to the likeliest way of its look
    looks : of the corners before that roll
    turn : of the page
    told : whether lettering tells it
    """
    lying = np.zeros((len(corners), 4))
    told = told or _are_split(corners, looks, turn)
    for i, (c, look) in enumerate(zip(corners, looks, strict=True)):
        if look.way.max() > SEEN_WAY:
            at = corner_on_page(c, turn)
            # a grid without nut looks much the same from both ends: on a page that lies as its lettering says, and
            # where it lies on its side, or others stand the other way, it only tells which way its strings run
            lying[i, USUAL_END[at] if look.nut < 0.5 and (told or at == NUT_RIGHT) else at] = 1
    others = lying.sum(0) - lying
    # one grid that seems to have its nut at the unusual end does not speak for the others
    others[:, UNUSUAL_ENDS] = np.maximum(others[:, UNUSUAL_ENDS] - 1, 0)
    usual = (PAGES_WORTH * USUAL_WAY + others) / (PAGES_WORTH + others.sum(1, keepdims=True))
    return [_settled(c, look, turn, u) for c, look, u in zip(corners, looks, usual, strict=True)]


def _are_split(corners: list[Points], looks: list[Look], turn: int) -> bool:
    """Whether of the grids without nut some seem to stand upright and others on their heads, as on no page they do."""
    ends = [
        corner_on_page(c, turn) in UNUSUAL_ENDS
        for c, k in zip(corners, looks, strict=True)
        if k.nut < 0.5 and k.way.max() > CLEAR_WAY
    ]
    return len(ends) > 1 and SPLIT < float(np.mean(ends)) < 1 - SPLIT


def _settled(corners: Points, look: Look, turn: int, usual: Floats) -> Points:
    """One diagram's corners named from the nut's left end.

    Parameters
    ----------
    usual : how likely its nut's left end is each corner before it is looked at
    """
    base = int(look.way.argmax())
    odds = np.zeros(4)
    least = SURE_WAY if look.nut > 0.5 else LEAST_WAY
    for q in range(4):
        odds[q] = (float(look.way[(base + q) % 4]) + least) * usual[corner_on_page(roll(corners, q), turn)]
    return roll(corners, int(odds.argmax()))
