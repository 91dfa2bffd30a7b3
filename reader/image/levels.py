"""A page in its own size and halved again and again, so that small pictures of it are made quickly."""

from __future__ import annotations

from threading import RLock

import cv2
import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]


class Levels:
    """A picture with its halves, made when they are first asked for; threads may share it.

    Parameters
    ----------
    pixels : uint8 [row, col] or [row, col, 3]
    """

    def __init__(self, pixels: Pixels) -> None:
        self.pixels = pixels
        self._halves = [pixels]
        self._lock = RLock()

    def finest(self, reduction: float) -> tuple[Pixels, int]:
        """The smallest level that is still as fine as a picture reduced so much, and how much it is reduced."""
        k = 0
        while reduction >= 2 ** (k + 1) and min(self._level(k).shape[:2]) >= 4:
            k += 1
        return self._level(k), 2**k

    def shrunk(self, size: tuple[int, int]) -> Pixels:
        """The whole picture in another size, width and height, without aliasing."""
        height, width = self.pixels.shape[:2]
        picture, _ = self.finest(min(width / size[0], height / size[1]))
        smaller = size[0] <= picture.shape[1] and size[1] <= picture.shape[0]
        return np.asarray(
            cv2.resize(picture, size, interpolation=cv2.INTER_AREA if smaller else cv2.INTER_LINEAR), np.uint8
        )

    def grey(self) -> Levels:
        """The same picture in grey; halves that are there already serve again."""
        out = Levels(as_grey(self.pixels))
        out._halves = [as_grey(p) for p in self._halves]
        return out

    def _level(self, k: int) -> Pixels:
        with self._lock:
            while len(self._halves) <= k:
                last = self._halves[-1]
                height, width = last.shape[0] // 2, last.shape[1] // 2
                half = cv2.resize(last[: 2 * height, : 2 * width], (width, height), interpolation=cv2.INTER_AREA)
                self._halves.append(np.asarray(half, np.uint8))
            return self._halves[k]


def as_grey(pixels: Pixels) -> Pixels:
    """One plane of brightness."""
    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), np.uint8)


def levels_of(pixels: Pixels | Levels) -> Levels:
    """Levels of a picture that may have some already."""
    return pixels if isinstance(pixels, Levels) else Levels(pixels)
