"""Numbers written in another colour than the lines, without the lines."""

from __future__ import annotations

import cv2
import numpy as np

from reader.image.levels import Pixels
from reader.image.tab_lines import FINE, GAP
from reader.image.tab_strip import Spot

FEWEST = 3
"""Numbers from which their colour can be told."""
APART = 0.25
"""Least difference of colour between numbers and lines, in parts of their darkness. Of 206 strips of proving pages and
other drawings 10 have as much; in all of these the numbers are in another ink."""
DARK = 50
"""Darkness (0–255) below which there is no ink."""
ON_LINE, OFF_LINE, ASIDE = 2, (6, 18), 10
"""Pixels from the middle of a line that are the line, that may be a number, and from a number's middle to its side."""
COARSE = 10
"""Pixels to one of the picture in which the paper is measured."""


def numbers_alone(fine: Pixels, spots: tuple[Spot, ...]) -> Pixels | None:
    """The ink that has the numbers' colour, black on white; None where numbers and lines are of one colour.

    Parameters
    ----------
    fine : (40·(lines+4), width, 3) uint8
        The strip at twice its size, dark ink on light paper.
    spots : tuple of Spot
        Where numbers may stand.
    """
    places = [s for s in spots if s.here > 0]
    if len(places) < FEWEST:
        return None
    dark, colour = darkness_and_colour(fine)
    scale = GAP * FINE
    lines, numbers = [], []
    for spot in places:
        row, column = int((spot.block + 0.5) * scale), int(spot.column * FINE)
        beside = slice(max(0, column - scale), column + scale)
        on = slice(row - ON_LINE, row + ON_LINE)
        lines.append(share_of_colour(dark[on, beside], colour[on, beside]))
        within = slice(max(0, column - ASIDE), column + ASIDE)
        for off in (slice(row - OFF_LINE[1], row - OFF_LINE[0]), slice(row + OFF_LINE[0], row + OFF_LINE[1])):
            numbers.append(share_of_colour(dark[off, within], colour[off, within]))
    if np.isnan(lines).all() or np.isnan(numbers).all():
        return None
    low, high = float(np.nanmedian(lines)), float(np.nanmedian(numbers))
    if high - low < APART:
        return None
    ink = (colour.astype(np.float32) - low * dark) / (high - low)
    return np.asarray(cv2.merge([255 - np.clip(ink, 0, 255).astype(np.uint8)] * 3), np.uint8)


def darkness_and_colour(fine: Pixels) -> tuple[Pixels, Pixels]:
    """How dark the darkest channel is against the local paper, and how far the channels lie apart, each 0–255."""
    size = (max(1, fine.shape[1] // COARSE), max(1, fine.shape[0] // COARSE))
    small = cv2.resize(fine, size, interpolation=cv2.INTER_AREA)
    paper = cv2.max(cv2.blur(cv2.dilate(small, np.ones((9, 9), np.uint8)), (9, 9)), np.full_like(small, 8))
    light = cv2.divide(fine, cv2.resize(paper, fine.shape[1::-1]), scale=255)
    red, green, blue = cv2.split(light)
    least, most = cv2.min(cv2.min(red, green), blue), cv2.max(cv2.max(red, green), blue)
    return np.asarray(255 - least, np.uint8), np.asarray(most - least, np.uint8)


def share_of_colour(dark: Pixels, colour: Pixels) -> float:
    """How coloured the ink of a piece is, as a part of its darkness; not a number where there is no ink."""
    if not dark.size or dark.max() < DARK:
        return float("nan")
    ink = dark > 0.5 * dark.max()
    return float(np.median(colour[ink] / dark[ink]))
