"""Which way up: the page by its lettering, each grid by its nut and by how grids usually lie."""

from __future__ import annotations

import numpy as np

from reader.image.crops import Points
from reader.image.labels import Lettering
from reader.image.marks import Look

USUAL_WAY = np.array([0.84, 0.01, 0.006, 0.144])
"""How often the nut's left end is the top left, top right, bottom right, bottom left corner on an upright page:
upright grids, and necks lying with the nut at the left (common practice, no source)."""
LEAST_WAY, SURE_WAY = 0.01, 0.002
"""However sure the crop looks: a grid without nut and with dots in the middle looks alike from both ends; with a nut
it does so less."""
TURN_MARGIN = 1.5
"""Log odds by which another way up of the page must win over upright."""


def page_turn(around: list[Lettering]) -> int:
    """Quarter turns counter-clockwise that bring the lettering of the page upright, by vote.

    Parameters
    ----------
    around : lettering of each diagram, read as if the page were upright
    """
    votes = np.zeros(4)
    for a in around:
        # lettering that looks turned by k quarters comes upright by turning the page by -k
        votes += np.log(np.clip(np.roll(a.way[::-1], 1), 0.02, 1))
    votes[0] += TURN_MARGIN
    return int(votes.argmax())


def roll(corners: Points, quarters: int) -> Points:
    """The same corners with the nut ``quarters`` corners further on."""
    return np.roll(corners, -quarters, axis=0)


def corner_on_page(corners: Points, turn: int) -> int:
    """Corner at which the nut's left end lies once the page is upright: 0 top left, then clockwise."""
    centre = corners.mean(0)
    d = corners[0] - centre
    # turning the page counter-clockwise by a quarter sends (x, y) to (y, -x)
    for _ in range(turn % 4):
        d = np.array([d[1], -d[0]])
    return {(True, True): 0, (False, True): 1, (False, False): 2, (True, False): 3}[(bool(d[0] < 0), bool(d[1] < 0))]


def settle_way(corners: Points, look: Look, turn: int) -> Points:
    """Corners named from the nut's left end, weighing what the crop shows against how grids usually lie.

    Parameters
    ----------
    corners : already rolled to the likeliest way of ``look``
    look : of the corners before that roll
    turn : of the page
    """
    base = int(look.way.argmax())
    odds = np.zeros(4)
    least = SURE_WAY if look.nut > 0.5 else LEAST_WAY
    for q in range(4):
        usual = USUAL_WAY[corner_on_page(roll(corners, q), turn)]
        odds[q] = (float(look.way[(base + q) % 4]) + least) * usual
    return roll(corners, int(odds.argmax()))
