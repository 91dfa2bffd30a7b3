"""Ink that a reading does not explain: evidence that does not come from the network."""

from __future__ import annotations

import cv2
import numpy as np

from reader.image.levels import Pixels
from reader.image.tab_lines import GAP, MARGIN, darkness
from reader.image.tab_strip import Answer

SMALLEST = 0.4
"""Height in gaps of a blot that might be a number."""
NEAR_LINE = 0.45
"""Gaps from a line within which a number's middle lies."""
CLEF_REACH = 2.8
"""Gaps at the left end where clef and metre stand."""


def unexplained(strip: Pixels, answer: Answer, span: tuple[float, float], lines: int) -> int:
    """Count blots on the lines that are as big as a number and that no number, sign or bar accounts for.

    Parameters
    ----------
    strip : (20·(lines+4), width, 3) uint8
    span : (start, end)
        Strip pixels between which the lines run.
    """
    dark = darkness(strip)
    strong = dark > max(0.12, 0.4 * float(np.quantile(dark, 0.98)))
    ink = strong.astype(np.uint8)
    long_runs = cv2.morphologyEx(ink, cv2.MORPH_OPEN, np.ones((1, int(GAP * 1.1)), np.uint8))
    tall_runs = cv2.morphologyEx(ink, cv2.MORPH_OPEN, np.ones((int(GAP * 1.6), 1), np.uint8))
    ink[cv2.dilate(long_runs, np.ones((3, 1), np.uint8)) > 0] = 0
    ink[cv2.dilate(tall_runs, np.ones((1, 3), np.uint8)) > 0] = 0
    _clear_explained(ink, answer)
    ink[:, : max(0, int(span[0] + CLEF_REACH * GAP))] = 0
    ink[:, int(span[1]) :] = 0
    joined = cv2.morphologyEx(ink, cv2.MORPH_CLOSE, np.ones((8, 3), np.uint8))
    _, _, stats, centres = cv2.connectedComponentsWithStats(joined)
    count = 0
    for (_, _, w, h, area), (_, cy) in zip(stats[1:], centres[1:], strict=True):
        block = (cy - GAP / 2) / GAP - MARGIN
        near = abs(block - round(block)) < NEAR_LINE and -0.3 < block < lines - 0.7
        if near and SMALLEST * GAP <= h <= 2.2 * GAP and 0.25 * GAP <= w <= 2.2 * GAP and area > 0.12 * GAP * GAP:
            count += 1
    return count


def _clear_explained(ink: Pixels, answer: Answer) -> None:
    for number in answer.numbers:
        wide = 0.95 if number.fret is not None and number.fret > 9 else 0.7
        _clear(ink, number.column, number.block, wide + (0.4 if number.ghost else 0.0), 0.95)
    for column, block, _ in answer.signs:
        _clear(ink, column, block, 0.9, 0.8)
    for column, _, _ in answer.bars:
        x = int(column)
        ink[:, max(0, x - GAP) : x + GAP] = 0


def _clear(ink: Pixels, column: float, block: int, wide: float, tall: float) -> None:
    y = block * GAP + GAP / 2
    rows = slice(max(0, int(y - tall * GAP)), int(y + tall * GAP))
    ink[rows, max(0, int(column - wide * GAP)) : int(column + wide * GAP)] = 0
