"""Lettering that somebody has gone over with a highlighter, lifted out of the coloured patch."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

LEAST, FILLED = 24, 0.72
"""A patch is at least so high and wide, pixels, and so much of its box is inked."""
STRONGER = 1.8
"""Strokes of the lettering have so many times the ink of the patch at least."""
FEWEST, MOST = 0.02, 0.5
"""Share of a patch that is lettering."""
Map = NDArray[np.int32]


def lifted(ink: NDArray[np.float32], labels: Map, stats: Map) -> tuple[Map, Map]:
    """Connected ink with the lettering on coloured patches each by itself, and the patches gone.

    Parameters
    ----------
    ink : [row, col] grey levels; the colour of the patches is taken out of it
    labels, stats : as of ``cv2.connectedComponentsWithStats``
    """
    w, h, area = stats[:, cv2.CC_STAT_WIDTH], stats[:, cv2.CC_STAT_HEIGHT], stats[:, cv2.CC_STAT_AREA]
    patches = (np.minimum(w, h) >= LEAST) & (area > FILLED * w * h)
    patches[0] = False
    for k in np.flatnonzero(patches):
        x, y = stats[k, cv2.CC_STAT_LEFT], stats[k, cv2.CC_STAT_TOP]
        part = np.s_[y : y + h[k], x : x + w[k]]
        inside = labels[part] == k
        colour, strokes = np.percentile(ink[part][inside], [50, 98])
        letters = inside & (ink[part] > (colour + strokes) / 2)
        if strokes < STRONGER * colour or not FEWEST < letters.sum() / inside.sum() < MOST:
            continue
        around = cv2.dilate(inside.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
        lifted_ink = np.maximum(ink[part] - colour, 0) * strokes / (strokes - colour)
        ink[part] = np.where(around, lifted_ink, ink[part])
        labels[part][inside] = 0
        stats[k, cv2.CC_STAT_AREA] = 0
        _, found, parts, _ = cv2.connectedComponentsWithStats(letters.astype(np.uint8), connectivity=8)
        parts[:, [cv2.CC_STAT_LEFT, cv2.CC_STAT_TOP]] += np.array([x, y], parts.dtype)
        labels[part][found > 0] = found[found > 0] + len(stats) - 1
        stats = np.concatenate([stats, parts[1:]])
    return labels, stats
