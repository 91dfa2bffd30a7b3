"""How far two drawn quadrilaterals cover each other, and which of two lists belong together.

Points are ``(x, y)`` in page pixels; a polygon is a sequence of points in either direction.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

Point = tuple[float, float]
Polygon = Sequence[Point]
Box = tuple[float, float, float, float]

SAME_REGION_LEAST = 0.5
"""Overlap from which a reading and a true region are taken for the same one."""


def signed_area(polygon: Polygon) -> float:
    """Area by the shoelace formula; positive where x grows first and y after it (clockwise on a page).

    Examples
    --------
    >>> signed_area([(0, 0), (2, 0), (2, 3), (0, 3)])
    6.0
    """
    pairs = zip(polygon, [*polygon[1:], polygon[0]], strict=True)
    return sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in pairs) / 2


def is_convex(polygon: Polygon) -> bool:
    """Whether every corner turns the same way, straight corners excluded."""
    count = len(polygon)
    turns = set()
    for i in range(count):
        (ax, ay), (bx, by), (cx, cy) = (polygon[(i + k) % count] for k in range(3))
        cross = (bx - ax) * (cy - by) - (by - ay) * (cx - bx)
        turns.add(math.copysign(1, cross) if cross else 0)
    return len(turns) == 1 and 0 not in turns


def intersection(a: Polygon, b: Polygon) -> list[Point]:
    """The part that two convex polygons share, cut out edge by edge (Sutherland and Hodgman, CACM 1974).

    Returns
    -------
    list of Point
        Empty where they do not meet.
    """
    edges = list(b) if signed_area(b) > 0 else list(b)[::-1]
    left = list(a)
    for start, end in zip(edges, [*edges[1:], edges[0]], strict=True):
        left = _keep_inside(left, start, end)
    return left


def _keep_inside(polygon: list[Point], start: Point, end: Point) -> list[Point]:
    """What lies on the inner side of the line from ``start`` to ``end``."""
    along_x, along_y = end[0] - start[0], end[1] - start[1]
    heights = [along_x * (y - start[1]) - along_y * (x - start[0]) for x, y in polygon]
    kept: list[Point] = []
    for i, (point, height) in enumerate(zip(polygon, heights, strict=True)):
        before, height_before = polygon[i - 1], heights[i - 1]
        if (height >= 0) != (height_before >= 0):
            part = height_before / (height_before - height)
            kept.append((before[0] + part * (point[0] - before[0]), before[1] + part * (point[1] - before[1])))
        if height >= 0:
            kept.append(point)
    return kept


def bounding_box(polygon: Polygon) -> Box:
    """Smallest upright box: left, top, right, bottom."""
    xs, ys = [p[0] for p in polygon], [p[1] for p in polygon]
    return min(xs), min(ys), max(xs), max(ys)


def box_overlap(a: Box, b: Box) -> float:
    """Shared area of two upright boxes over the area that either covers, 0 to 1."""
    width = min(a[2], b[2]) - max(a[0], b[0])
    height = min(a[3], b[3]) - max(a[1], b[1])
    if width <= 0 or height <= 0:
        return 0.0
    shared = width * height
    either = (a[2] - a[0]) * (a[3] - a[1]) + (b[2] - b[0]) * (b[3] - b[1]) - shared
    return shared / either


def overlap(a: Polygon, b: Polygon) -> float:
    """Shared area of two quadrilaterals over the area that either covers (intersection over union), 0 to 1.

    That of the bounding boxes where it is larger, or where a corner list
    crosses itself: corners may be named in another order than drawn, the place
    is still the same.

    Examples
    --------
    >>> overlap([(0, 0), (2, 0), (2, 2), (0, 2)], [(1, 0), (3, 0), (3, 2), (1, 2)])
    0.3333333333333333
    """
    if len(a) != 4 or len(b) != 4 or not all(math.isfinite(v) for p in (*a, *b) for v in p):
        return 0.0
    of_boxes = box_overlap(bounding_box(a), bounding_box(b))
    if of_boxes <= 0 or not (is_convex(a) and is_convex(b)):
        return of_boxes
    meeting = intersection(a, b)
    shared = abs(signed_area(meeting)) if len(meeting) > 2 else 0.0
    either = abs(signed_area(a)) + abs(signed_area(b)) - shared
    return max(of_boxes, shared / either)


def match_one_to_one(
    truth: Sequence[Polygon], readings: Sequence[Polygon], overlap_least: float = SAME_REGION_LEAST
) -> dict[int, int]:
    """Pair regions, the best overlap first; each is used once.

    Parameters
    ----------
    truth, readings : sequences of quadrilaterals
    overlap_least : float
        Smallest overlap of a pair.

    Returns
    -------
    dict of int to int
        Index in ``truth`` to index in ``readings``.
    """
    candidates = [(overlap(t, r), i, j) for i, t in enumerate(truth) for j, r in enumerate(readings)]
    candidates.sort(key=lambda c: (-c[0], c[1], c[2]))
    pairs: dict[int, int] = {}
    taken: set[int] = set()
    for value, i, j in candidates:
        if value >= overlap_least and i not in pairs and j not in taken:
            pairs[i] = j
            taken.add(j)
    return pairs
