"""Rings and boxes drawn around lettering: taken away, and parted from the letters that touch them."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

LEAST, WITHIN = 20, 0.25
"""A frame is at least so high and wide, pixels, and what it holds has this share of its height at least."""
OPEN = 0.2
"""A gap that somebody left in a ring, in heights of the ring, at most."""
STROKES = 1.5
"""How far a frame's ink reaches in from its outline, in widths of its stroke."""
SPECK, LEAST_SIGN = 10, 5
"""Ink and size of the smallest piece of lettering, pixels."""
Ints = NDArray[np.int64]
Mask = NDArray[np.uint8]


def without_frames(boxes: Ints, labels: NDArray[np.int32]) -> Ints:
    """Signs less the rings and boxes that are drawn around others.

    Where letters touch a frame, they become signs of their own; the map is changed to show it.

    Parameters
    ----------
    boxes : (signs, 5) x, y, w, h and number
    labels : [row, col] map of those numbers

    Returns
    -------
    (signs, 5)
    """
    x, y, w, h = boxes[:, :4].T
    frames = np.zeros(len(boxes), bool)
    freed: list[tuple[int, ...]] = []
    for k in np.flatnonzero(np.minimum(w, h) >= LEAST):
        inner = (x > x[k]) & (y > y[k]) & (x + w < x[k] + w[k]) & (y + h < y[k] + h[k]) & (h > WITHIN * h[k])
        if not inner.any():
            continue
        view = labels[y[k] : y[k] + h[k], x[k] : x[k] + w[k]]
        room = _room_within((view == boxes[k, 4]).astype(np.uint8))
        middles = boxes[inner, :2] + boxes[inner, 2:4] // 2 - boxes[k, :2]
        if room[middles[:, 1], middles[:, 0]].all():
            frames[k] = True
            freed += _freed(view, room, boxes[k])
    kept = boxes[~frames]
    return np.concatenate([kept, np.array(freed, np.int64)]) if freed else kept


def _room_within(frame: Mask) -> Mask:
    """Where a frame has room for lettering, 1; all 0 if it goes round nothing."""
    gap = max(3, int(OPEN * frame.shape[0])) | 1
    closed = cv2.morphologyEx(np.pad(frame, gap), cv2.MORPH_CLOSE, np.ones((gap, gap), np.uint8))
    outlines, _ = cv2.findContours(closed, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outer = max(outlines, key=cv2.contourArea)
    filled = cv2.fillPoly(np.zeros_like(closed), [outer], 1)
    stroke = float(frame.sum()) / max(1.0, cv2.arcLength(outer, True))
    reach = 2 * int(np.ceil(STROKES * stroke)) + 3
    room = cv2.erode(filled, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach)))
    return np.asarray(room[gap:-gap, gap:-gap], np.uint8)


def _freed(view: NDArray[np.int32], room: Mask, frame: Ints) -> list[tuple[int, ...]]:
    """Boxes of what hangs on a frame within it; gets numbers of its own on the map."""
    hanging = ((view == frame[4]) & (room > 0)).astype(np.uint8)
    count, parts, stats, _ = cv2.connectedComponentsWithStats(hanging, connectivity=8)
    out: list[tuple[int, ...]] = []
    for part in range(1, count):
        left, top, wide, high, ink = (int(v) for v in stats[part])
        if ink >= SPECK and max(wide, high) >= LEAST_SIGN:
            number = -(int(frame[4]) * 100 + part)
            view[parts == part] = number
            out.append((int(frame[0]) + left, int(frame[1]) + top, wide, high, number))
    return out
