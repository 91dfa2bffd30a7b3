"""Reads the signs of pictures of words: what the text network is shown and what it reports."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.engines import load_engine

Floats = NDArray[np.float64]
LINE = 48
"""Height of what the text network reads, pixels."""
LETTER_SHARE = 0.8
"""Share of that height that the lettering takes."""
WIDEST_LINE = 400
"""Width that longer words are shrunk to, pixels."""


def read_lines(pictures: list[NDArray[np.uint8]]) -> list[Floats]:
    """What the text network reports of each picture of a word.

    Parameters
    ----------
    pictures : uint8 [row, col], dark on white

    Returns
    -------
    list of (steps, classes) probabilities; see ``reader.image.ctc``
    """
    lines = [as_line(p) for p in pictures]
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


def as_line(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """A picture of a word as the text network is shown it.

    Parameters
    ----------
    picture : uint8 [row, col], dark on white

    Returns
    -------
    float32 [LINE, width] from -1 to 1, width a multiple of 16
    """
    h, w = picture.shape
    scale = min(LINE * LETTER_SHARE / h, (WIDEST_LINE - 16) / w)
    size = (max(2, round(w * scale)), max(2, round(h * scale)))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC)
    width = -(-(size[0] + 12) // 16) * 16
    out = np.full((LINE, max(width, 32)), 255, np.uint8)
    y, x = (LINE - size[1]) // 2, (out.shape[1] - size[0]) // 2
    out[y : y + size[1], x : x + size[0]] = small
    return np.asarray(out.astype(np.float32) / 127.5 - 1)
