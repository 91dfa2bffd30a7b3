"""Takes ink of two colours apart where it touches: a red ring round a diagram cuts through its blue label."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.levels import Pixels

Mask = NDArray[np.uint8]
APART = 0.18
"""Distance between the directions of two colours, each of length 1, from which they are two inks: black and dark red on
a photo have 0.3, blue and red 0.6 (judged by hand)."""
HARDLY_APART, CLEAR_CUT = 0.1, 5.0
"""The same where the two stand clear of each other: their distance in standard deviations of each about its middle. One
normal cluster cut through its middle has 2.7, black and dark green on a copy 10."""
LEAST_SHARE = 0.04
"""Share of the ink that each of two colours has at least."""
FULL = 0.6
"""Ink against the strongest from which it is none of a stroke's edge."""
ROUNDS = 12


def by_colour(crop: Pixels, paper: Pixels, mask: Mask) -> tuple[Mask, Mask] | None:
    """The parts of some ink that have one colour and the other; None where it has but one.

    Parameters
    ----------
    crop, paper : uint8 [row, col, 3], the drawing and the colour of the paper around each pixel
    mask : uint8 [row, col], 1 where the ink in question is
    """
    ys, xs = np.nonzero(mask)
    darker = paper[ys, xs].astype(np.float32) - crop[ys, xs]
    length = np.linalg.norm(darker, axis=1)
    sure = length > FULL * np.quantile(length, 0.9)
    directions = darker / np.maximum(length, 1.0)[:, None]
    middles = _two_middles(directions[sure])
    if middles is None:
        return None
    second = np.zeros(mask.shape, np.float32)
    nearer = np.linalg.norm(directions - middles[0], axis=1) - np.linalg.norm(directions - middles[1], axis=1)
    second[ys, xs] = nearer * length
    # the edges of a stroke are mixed with the paper: what is around a pixel tells its colour better
    around = cv2.GaussianBlur(second, (0, 0), 1.2)
    second_ink = ((around > 0) & (mask > 0)).astype(np.uint8)
    return mask & (1 - second_ink), second_ink


def _two_middles(directions: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.float32]] | None:
    """The middles of two clusters of directions (n, 3), or None where they are one."""
    if len(directions) < 20:
        return None
    centre = directions.mean(0)
    spread = directions - centre
    _, _, axes = np.linalg.svd(spread.T @ spread)
    second = spread @ axes[0] > 0
    for _ in range(ROUNDS):
        if not LEAST_SHARE < second.mean() < 1 - LEAST_SHARE:
            return None
        first_middle, second_middle = directions[~second].mean(0), directions[second].mean(0)
        nearer = np.linalg.norm(directions - second_middle, axis=1) < np.linalg.norm(directions - first_middle, axis=1)
        if (nearer == second).all():
            break
        second = nearer
    between = second_middle - first_middle
    apart = float(np.linalg.norm(between))
    if apart < HARDLY_APART:
        return None
    along = directions @ (between / apart)
    spread_about = float(np.hypot(along[second].std(), along[~second].std()) / np.sqrt(2))
    if apart < APART and apart < CLEAR_CUT * spread_about:
        return None
    return first_middle, second_middle
