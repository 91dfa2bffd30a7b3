"""Reads the lettering around a diagram without seeing the inside of its grid: label, number beside it, way up."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.crops import LETTERING_SIZE, Pixels, Points, cut, hide_grid, lettering_matrix
from reader.image.engines import load_engine
from reader.image.marks import NUMBERS, softmax

CHARACTERS = "ABCDEFGHILMORSTabdegijlmnorsu0123456789#/+-°Δø()"
"""Class 0 ends the label, class k is the character k - 1."""
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Lettering:
    """What stands around a diagram.

    Parameters
    ----------
    letters : (13, n) probabilities of the characters of the label, class 0 is its end
    number : (25,) probabilities of the number beside the grid, 0 none
    number_at : (2,) page pixels
    way : (4,) probabilities of the quarter turns by which the lettering is off upright
    """

    letters: Floats
    number: Floats
    number_at: Points
    way: Floats


def look_around(pixels: Pixels, corners: list[Points], turn: int) -> list[Lettering]:
    """Read the lettering of each diagram.

    Parameters
    ----------
    pixels : uint8 [row, col, 3]
    corners : list of (4, 2) page pixels
    turn : quarter turns counter-clockwise that bring the page's lettering upright
    """
    out: list[Lettering] = []
    for start in range(0, len(corners), 4):
        part = corners[start : start + 4]
        matrices = [lettering_matrix(c, turn) for c in part]
        crops = []
        for c, m in zip(part, matrices, strict=True):
            crop = cut(pixels, m, LETTERING_SIZE)
            crops.append(hide_grid(crop, cv2.perspectiveTransform(c[None].astype(float), m)[0]).transpose(2, 0, 1))
        got = load_engine("letterer").run({"picture": np.stack(crops).astype(np.float32)})
        for i, m in enumerate(matrices):
            value, way, at = np.split(got["number"][i], [NUMBERS, NUMBERS + 4])
            place = cv2.perspectiveTransform(at.reshape(1, 1, 2).astype(float) * LETTERING_SIZE, np.linalg.inv(m))[0, 0]
            out.append(Lettering(softmax(got["label"][i]), softmax(value), np.asarray(place), softmax(way)))
    return out


def spell(letters: Floats, sensible: Callable[[str], bool], width: int = 24) -> list[tuple[str, float]]:
    """The likeliest texts of a label, best first; sensible ones first of all.

    Parameters
    ----------
    letters : (positions, classes) probabilities
    sensible : whether a text can be a chord label
    width : texts kept while reading

    Returns
    -------
    list of (text, probability); an empty text means that there is no label
    """
    open_texts: list[tuple[str, float]] = [("", 1.0)]
    done: list[tuple[str, float]] = []
    for row in letters:
        order = np.argsort(row)[::-1][:5]
        grown: list[tuple[str, float]] = []
        for text, p in open_texts:
            for k in order:
                q = p * float(row[k])
                if q < 1e-5:
                    continue
                if k == 0:
                    done.append((text, q))
                else:
                    grown.append((text + CHARACTERS[int(k) - 1], q))
        open_texts = sorted(grown, key=lambda t: -t[1])[:width]
        if not open_texts:
            break
    done.sort(key=lambda t: -t[1])
    good = [t for t in done[:40] if not t[0] or sensible(t[0])]
    return good[:6] if good else done[:3]
