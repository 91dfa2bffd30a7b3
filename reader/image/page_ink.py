"""How strong the ink of a page and of its parts is: what shows through from the other side of the paper is paler."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.crops import Points
from reader.image.levels import Levels

Floats = NDArray[np.float64]
LONG_SIDE, TILE = 1400, 24
"""Longer side of the page at which ink is measured, and side of the tiles it is measured in, pixels: all strokes at one
size, for a thin line drawn large looks pale where it is shrunk."""
FEW_TILES, LEAST_STRONG = 8, 20.0
"""How many tiles tell how strong ink is, and the ink of a tile with something on it, grey levels, at least."""


@dataclass(frozen=True)
class PageInk:
    """Difference from the paper of the strongest ink in each tile of a page.

    Parameters
    ----------
    strong : float [row, col] grey levels
    scale : pixels of the page to a tile
    """

    strong: Floats
    scale: float

    @cached_property
    def usual(self) -> float:
        """How strong ink usually is where there is some; 0 on an empty page."""
        # a page that shows through all over has much pale ink and little of its own
        return max(share * self._usual(at) for share, at in ((1.0, 10), (0.5, 50)))

    def _usual(self, at: float) -> float:
        """The middle of what is twice as strong as this percentile, 0 where hardly anything is."""
        strong = self.strong.ravel()
        inked = strong[strong > max(LEAST_STRONG, 2 * float(np.percentile(strong, at)))]
        return float(np.median(inked)) if len(inked) > FEW_TILES else 0.0

    def around(self, corners: Points) -> float:
        """How strong the ink in the box around a figure, (n, 2) page pixels, mostly is; 0 without any."""
        box = corners / self.scale
        end = np.array(self.strong.shape[::-1])
        low = np.clip(np.floor(box.min(0)), 0, end - 1).astype(int)
        high = np.clip(np.ceil(box.max(0)), low + 1, end).astype(int)
        part = self.strong[low[1] : high[1], low[0] : high[0]]
        inked = part[part > LEAST_STRONG]
        return float(np.median(inked)) if len(inked) else 0.0


def ink_of_page(page: Levels) -> PageInk:
    """Measure a page, whatever the colours of ink and paper."""
    height, width = page.pixels.shape[:2]
    k = min(1.0, LONG_SIDE / max(height, width))
    size = (max(TILE, round(width * k)), max(TILE, round(height * k)))
    grey = cv2.cvtColor(page.shrunk(size), cv2.COLOR_RGB2GRAY)
    ink = cv2.absdiff(grey, cv2.medianBlur(grey, 41))
    down, across = ink.shape[0] // TILE, ink.shape[1] // TILE
    tiles = ink[: down * TILE, : across * TILE].reshape(down, TILE, across, TILE).transpose(0, 2, 1, 3)
    strong = np.percentile(tiles.reshape(down, across, TILE * TILE), 97, axis=2)
    return PageInk(np.asarray(strong, float), TILE / k)
