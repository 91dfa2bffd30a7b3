"""A close look at each number of a tab: a third network sees one place at twice the strip's size.

The strip network sees a whole system and says where numbers may stand. Here each
such place is cut out, shown to the number network, and both opinions are
weighed. The pieces are cut as in ``reader/training/tabs/numbers.py``.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.levels import Pixels
from reader.image.odds import sigmoid
from reader.image.tab_between import settled, without_letters
from reader.image.tab_colour import numbers_alone
from reader.image.tab_find import Floats, Run
from reader.image.tab_lines import FINE, GAP
from reader.image.tab_strip import HIGHEST_FRET, Number, Spot, logit, parts_of, value_scores

TALL, WIDE = 80, 96
"""Pixels of a piece: 2 gaps high, 2.4 gaps wide."""
NUMBER_PARTS = {"here": 1, "tens": 3, "units": 11, "ghost": 1}
AT_ONCE = 48
"""Pieces in one pass: bounds the memory."""
LOOKS = ((0, 0, 1.0), (3, 2, 1.0), (-3, -2, 1.0))
"""Pixels aside and down, and page pixels to one of the piece, of each look; the first is for all places, the others for
those of which the first leaves a doubt."""
SETTLED = (0.02, 0.995)
"""Confidence below and above which one look is enough."""
VALUE = (0.204, 1.218)
"""Weights of the log probabilities of a value, strip network and close look: the likeliest for the 4,150 numbers of 60
proving pages, which no network saw. Networks trained on since then were weighed anew on 21,152 numbers: as good."""
HERE = (-1.940, 3.245, 0.217, 0.958)
"""Bias and weights of the log odds that a number stands at a place: the strip network's, the close look's, and those of
the close look's likeliest value. Logistic regression on the 4,644 places looked at on the same pages."""
RIGHT = (-1.439, 1.084, 0.043, 1.331)
"""Bias and weights of the log odds that a number is right: that one stands there as the strip network has it, that it
is this one as the strip network and as the close look have it. Logistic regression on the 4,183 likelier places of the
same pages; fitted crosswise, 4 of the 3,970 numbers that came out surer than 0.98 were wrong."""
KEEP_ABOVE = 0.4
"""Confidence below which a number is left out."""
DOUBT_ABOVE = 0.05
"""Probability that a number stands here above which what was left out is a doubt."""


@dataclass(frozen=True, slots=True)
class Opinion:
    """What the close look said of each place.

    Parameters
    ----------
    here : (places,) float
        Log odds that a number stands there.
    values : (places, 26) float
        Log probability of frets 0–24 and, last, of x.
    ghost : (places,) float
        Log odds of brackets.
    """

    here: Floats
    values: Floats
    ghost: Floats


def looked_closely(
    fine: Pixels, spots: tuple[Spot, ...], run: Run, *, on_lines: bool = True
) -> tuple[tuple[Number, ...], tuple[Spot, ...]]:
    """The numbers of a strip, and the places where one may have been overlooked.

    Parameters
    ----------
    fine : (40·(lines+4), width, 3) uint8
        The strip at twice its size, dark ink on light paper.
    spots : tuple of Spot
        Where the strip network saw something.
    run : callable
        The number network: ``picture`` (places, 3, 80, 96) float32 0–255 to ``number`` (places, 16).
    on_lines : bool
        Whether a line runs through the middle of each block.
    """
    alone = numbers_alone(fine, spots)
    pictures = (fine,) if alone is None else (fine, alone)
    opinion = opinion_of(pictures, spots, LOOKS[:1], run)
    judged = [judge(spot, opinion, i) for i, spot in enumerate(spots)]
    again = [i for i, (number, _) in enumerate(judged) if SETTLED[0] < number.confidence < SETTLED[1]]
    doubtful = tuple(spots[i] for i in again)
    if doubtful:
        closer = opinion_of(pictures, doubtful, LOOKS, run)
        for k, i in enumerate(again):
            judged[i] = judge(spots[i], closer, k)
    likely = tuple(n for n, _ in judged if n.confidence > KEEP_ABOVE)
    numbers = settled(fine, likely) if on_lines else tuple(without_letters(list(likely)))
    standing = {(n.column, n.block) for n in numbers}
    doubts = tuple(
        spot
        for spot, (n, here) in zip(spots, judged, strict=True)
        if (n.confidence <= KEEP_ABOVE and here > DOUBT_ABOVE)
        # a stroke taken for a slide may be a one all the same
        or (n.confidence > KEEP_ABOVE and n.fret == 1 and (n.column, n.block) not in standing)
    )
    return numbers, doubts


def opinion_of(
    pictures: tuple[Pixels, ...], spots: tuple[Spot, ...], looks: tuple[tuple[int, int, float], ...], run: Run
) -> Opinion:
    """The mean of several looks at each place, in each of several pictures of the strip."""
    if not spots:
        return Opinion(np.zeros(0), np.zeros((0, HIGHEST_FRET + 2)), np.zeros(0))
    pieces = [cut_piece(fine, spot, look) for fine in pictures for look in looks for spot in spots]
    rows = [ask(pieces[i : i + AT_ONCE], run) for i in range(0, len(pieces), AT_ONCE)]
    part = parts_of(np.concatenate(rows).T, NUMBER_PARTS)
    values = value_scores(part["units"], part["tens"])
    here, ghost = (part[name][0].reshape(-1, len(spots)).mean(axis=0) for name in ("here", "ghost"))
    return Opinion(here, values.reshape(len(values), -1, len(spots)).mean(axis=1).T, ghost)


def ask(pieces: list[Pixels], run: Run) -> NDArray[np.floating]:
    """Raw scores (places, 16) of pieces."""
    picture = np.ascontiguousarray(np.stack(pieces).transpose(0, 3, 1, 2), dtype=np.float32)
    return run({"picture": picture})["number"]


def cut_piece(fine: Pixels, spot: Spot, look: tuple[int, int, float]) -> Pixels:
    """The surroundings of a place, (80, 96, 3)."""
    aside, down, scale = look
    x = spot.column * FINE - 0.5 + aside - scale * (WIDE - 1) / 2
    y = (spot.block + 0.5) * GAP * FINE - 0.5 + down - scale * (TALL - 1) / 2
    there = np.array([[scale, 0, x], [0, scale, y]])
    how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return np.asarray(cv2.warpAffine(fine, there, (WIDE, TALL), flags=how, borderMode=cv2.BORDER_REPLICATE), np.uint8)


def judge(spot: Spot, opinion: Opinion, place: int) -> tuple[Number, float]:
    """The likeliest number at a place from both opinions, and the probability that any number stands there."""
    close, near = opinion.values[place], float(opinion.here[place])
    values = VALUE[0] * spot.values + VALUE[1] * close
    best, second = np.argsort(values)[::-1][:2]
    here = weighed(HERE, spot.here, near, log_odds(close.max()))
    right = weighed(RIGHT, spot.here, log_odds(spot.values[best]), log_odds(close[best]))
    ghost = spot.ghost + float(opinion.ghost[place]) > 0
    return Number(spot.column, spot.block, fret_of(best), ghost, right, fret_of(second)), here


def weighed(weights: tuple[float, ...], *evidence: float) -> float:
    """Probability out of a bias and weights of evidence, all in log odds."""
    return float(sigmoid(np.array(weights[0] + np.dot(weights[1:], evidence))))


def log_odds(log_probability: float) -> float:
    """Log odds of a log probability, kept finite."""
    return logit(float(np.exp(log_probability)))


def fret_of(value: np.intp) -> int | None:
    """The fret of a place in a row of values; the last is an x."""
    return None if value > HIGHEST_FRET else int(value)
