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
            steps = got[k].shape[0] * lines[i].shape[1] // widest
            out[i] = np.asarray(got[k][:steps], float)
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
    size, width = _line_size(*picture.shape)
    shrinks = size[1] < picture.shape[0]
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA if shrinks else cv2.INTER_CUBIC)
    out = np.full((LINE, width), 255, np.uint8)
    y, x = (LINE - size[1]) // 2, (width - size[0]) // 2
    out[y : y + size[1], x : x + size[0]] = small
    return np.asarray(out.astype(np.float32) / 127.5 - 1)


def _line_size(height: int, width: int) -> tuple[tuple[int, int], int]:
    """Width and height of a picture of a word on its line, and the width of the line, pixels."""
    scale = min(LINE * LETTER_SHARE / height, (WIDEST_LINE - 16) / width)
    size = (max(2, round(width * scale)), max(2, round(height * scale)))
    return size, max(-(-(size[0] + 12) // 16) * 16, 32)


def column_of(shape: tuple[int, int], share: float) -> int:
    """The column of a picture of a word that is this share of the way along its line.

    Parameters
    ----------
    shape : height and width of the picture, pixels
    share : from 0 to 1, of the steps that the text network reports
    """
    (width, _), line = _line_size(*shape)
    return int(np.clip(round((share * line - (line - width) / 2) * shape[1] / width), 0, shape[1]))
