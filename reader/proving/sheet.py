"""The flat sheet that a page is drawn on, before any camera or scanner sees it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.proving.dice import Dice

Cover = NDArray[np.float32]
Pixels = NDArray[np.uint8]
Colour = tuple[int, int, int]

TOOTH = 512  # side of the paper-grain tile, pixels


def grain(dice: Dice, coarse: float) -> Cover:
    """Paper tooth: a tile of heights from 0 to 1 (evenly spread), `coarse` pixels from hill to hill."""
    noise = dice.np.standard_normal((TOOTH, TOOTH)).astype(np.float32)
    fine = cv2.GaussianBlur(noise, (0, 0), 0.45 * coarse, borderType=cv2.BORDER_REFLECT)
    broad = cv2.GaussianBlur(noise[::-1], (0, 0), 1.6 * coarse, borderType=cv2.BORDER_REFLECT)
    heights = fine / fine.std() + 0.5 * broad / broad.std()
    return np.asarray(1 / (1 + np.exp(-1.6 * heights)), np.float32)


class Sheet:
    """A drawing surface; points are (x, y) in pixels, whole numbers at pixel centres.

    Parameters
    ----------
    pixels : (H, W, 3) uint8
        The bare paper, RGB.
    tooth : (TOOTH, TOOTH) float32
        Paper grain that pencils catch on.
    fine : float
        Width in pixels of a thin pen on this sheet; everything else is measured by it.
    """

    def __init__(self, pixels: Pixels, tooth: Cover, fine: float) -> None:
        self.pixels = pixels
        self.tooth = tooth
        self.fine = fine
        self._note: list[tuple[float, float, float, float]] | None = None

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels."""
        return self.pixels.shape[1], self.pixels.shape[0]

    @contextmanager
    def noting(self) -> Iterator[list[tuple[float, float, float, float]]]:
        """Collect the boxes (x0, y0, x1, y1) of all ink laid inside the block."""
        before, self._note = self._note, []
        try:
            yield self._note
        finally:
            boxes, self._note = self._note, before
            if before is not None:
                before.extend(boxes)

    def tooth_at(self, x: int, y: int, height: int, width: int) -> Cover:
        """The grain under one patch."""
        rows = (np.arange(y, y + height) % TOOTH)[:, None]
        return self.tooth[rows, (np.arange(x, x + width) % TOOTH)[None]]

    def lay(self, x: int, y: int, cover: Cover, colour: Colour, opaque: bool = False) -> None:
        """Put ink on the sheet.

        Parameters
        ----------
        x, y : int
            Left and upper pixel of the patch; parts outside the sheet are cut off.
        cover : (h, w) float32
            How much of each pixel is inked, 0 to 1.
        colour : RGB
        opaque : bool
            Paint that hides what lies below; otherwise a dye that darkens it.
        """
        high, wide = cover.shape
        if self._note is not None and cover.size:
            rows, columns = np.flatnonzero(cover.max(axis=1) > 0.1), np.flatnonzero(cover.max(axis=0) > 0.1)
            if len(rows):
                self._note.append((x + int(columns[0]), y + int(rows[0]), x + int(columns[-1]), y + int(rows[-1])))
        x0, y0, x1, y1 = max(x, 0), max(y, 0), min(x + wide, self.size[0]), min(y + high, self.size[1])
        if x0 >= x1 or y0 >= y1:
            return
        amount = cover[y0 - y : y1 - y, x0 - x : x1 - x, None]
        under = self.pixels[y0:y1, x0:x1]
        ink = np.asarray(colour, np.float32)
        mixed = under * (1 - amount) + ink * amount if opaque else under * (1 - amount * (1 - ink / 255))
        under[:] = (mixed + 0.5).astype(np.uint8)
