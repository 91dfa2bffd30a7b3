"""The flat sheet that a page is drawn on, before any camera or scanner sees it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.proving.dice import Dice

Cover = NDArray[np.float32]
Pixels = NDArray[np.uint8]
Colour = tuple[int, int, int]
Layer = Literal["signs", "stops"]  # signs: fingers, labels, fret numbers, numbers of a tab

TOOTH = 512  # side of the paper-grain tile, pixels


def grain(dice: Dice, coarse: float) -> Cover:
    """Paper tooth: a tile of heights from 0 to 1 (evenly spread), `coarse` pixels from hill to hill."""
    noise = dice.np.standard_normal((TOOTH, TOOTH)).astype(np.float32)
    fine = cv2.GaussianBlur(noise, (0, 0), 0.45 * coarse, borderType=cv2.BORDER_REFLECT)
    broad = cv2.GaussianBlur(noise[::-1], (0, 0), 1.6 * coarse, borderType=cv2.BORDER_REFLECT)
    heights = fine / fine.std() + 0.5 * broad / broad.std()
    return np.asarray(1 / (1 + np.exp(-1.6 * heights)), np.float32)


@dataclass(frozen=True)
class Shots:
    """A picture of the sheet, and the same picture as it would be without some of the marks.

    Parameters
    ----------
    pixels : (H, W, 3) uint8
    without : mapping of Layer to pixels
        Only for the layers that anything was drawn in.
    """

    pixels: Pixels
    without: Mapping[Layer, Pixels]

    def each(self, change: Callable[[Pixels], Pixels]) -> Shots:
        """Do the same to all of them."""
        return Shots(change(self.pixels), {layer: change(p) for layer, p in self.without.items()})


@dataclass(frozen=True)
class Trace:
    """Where the ink of one mark went: how much of each pixel it covers, 0 to 1, from pixel (x, y) on."""

    x: int
    y: int
    cover: Cover


def joined(patches: list[tuple[int, int, Cover]]) -> Trace:
    """One trace of several patches of ink."""
    x0, y0 = min(x for x, _, _ in patches), min(y for _, y, _ in patches)
    x1 = max(x + cover.shape[1] for x, _, cover in patches)
    y1 = max(y + cover.shape[0] for _, y, cover in patches)
    whole = np.zeros((y1 - y0, x1 - x0), np.float32)
    for x, y, cover in patches:
        part = whole[y - y0 : y - y0 + cover.shape[0], x - x0 : x - x0 + cover.shape[1]]
        np.maximum(part, cover, out=part)
    rows, columns = np.flatnonzero(whole.max(axis=1) > 0.02), np.flatnonzero(whole.max(axis=0) > 0.02)
    if not len(rows):
        return Trace(x0, y0, whole[:1, :1])
    top, left = int(rows[0]), int(columns[0])
    return Trace(x0 + left, y0 + top, whole[top : rows[-1] + 1, left : columns[-1] + 1].copy())


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
        self._without: dict[Layer, Pixels] = {}
        self._apart: tuple[Layer, ...] = ()
        self._patches: list[tuple[int, int, Cover]] | None = None
        self._meant = False
        self._note: list[tuple[float, float, float, float]] | None = None

    @property
    def size(self) -> tuple[int, int]:
        """Width and height in pixels."""
        return self.pixels.shape[1], self.pixels.shape[0]

    @property
    def shots(self) -> Shots:
        """The sheet, and as it would be without the marks that were drawn apart."""
        return Shots(self.pixels, self._without)

    @contextmanager
    def apart(self, *layers: Layer, meant: bool = False) -> Iterator[list[tuple[int, int, Cover]]]:
        """Draw marks of some layers inside the block and collect their patches (x, y, cover).

        With `meant`, their cover is that of the whole strokes, without what the grain of the paper left out.
        """
        for layer in layers:
            if layer not in self._without:
                self._without[layer] = self.pixels.copy()
        before = self._apart, self._patches, self._meant
        self._apart, self._patches, self._meant = layers, [], meant
        try:
            yield self._patches
        finally:
            self._apart, self._patches, self._meant = before

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

    def lay(
        self, x: int, y: int, cover: Cover, colour: Colour, opaque: bool = False, meant: Cover | None = None
    ) -> None:
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
        meant : (h, w) float32, optional
            The cover that paper without grain would have taken.
        """
        high, wide = cover.shape
        if self._note is not None and cover.size:
            rows, columns = np.flatnonzero(cover.max(axis=1) > 0.1), np.flatnonzero(cover.max(axis=0) > 0.1)
            if len(rows):
                self._note.append((x + int(columns[0]), y + int(rows[0]), x + int(columns[-1]), y + int(rows[-1])))
        x0, y0, x1, y1 = max(x, 0), max(y, 0), min(x + wide, self.size[0]), min(y + high, self.size[1])
        if self._patches is not None and cover.size:
            self._patches.append((x, y, meant if self._meant and meant is not None else cover))
        if x0 >= x1 or y0 >= y1:
            return
        amount = cover[y0 - y : y1 - y, x0 - x : x1 - x, None]
        ink = np.asarray(colour, np.float32)
        for pixels in (self.pixels, *(p for layer, p in self._without.items() if layer not in self._apart)):
            under = pixels[y0:y1, x0:x1]
            mixed = under * (1 - amount) + ink * amount if opaque else under * (1 - amount * (1 - ink / 255))
            under[:] = (mixed + 0.5).astype(np.uint8)
