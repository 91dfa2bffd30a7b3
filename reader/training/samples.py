"""Cuts training samples out of drawn windows, in the way the reader cuts pages."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image import crops
from reader.training.brush import KIND_DIAGRAM, KIND_EMPTY, KIND_OTHER, Drawn
from reader.training.content import MAX_STRINGS, MUTED
from reader.training.strokes import Points, Rng
from reader.training.windows import Window

TILE = 512
STRIDE = 8
MOST_ON_TILE = 32
ABSENT, STATE_MUTED, STATE_OPEN, STATE_BARE = 0, 1, 2, 3
FIRST_ROW_STATE = 4
IGNORE = -100
NUMBERS = 25
"""Classes of the number beside the grid: 0 none, 1 to 24."""

FINGER_LEGIBLE, NUMBER_LEGIBLE = 5.0, 5.0
"""Heights in picture pixels below which nobody can read a finger or a number: they are not asked for."""
LEAST_SIDE = 14
"""Shorter side of a grid, picture pixels, from which it is read."""
INVERTED = 0.06
"""Share of pictures shown as their negative: boards and dark screens are as legible as paper."""

Sample = dict[str, NDArray[Any]]


def light_or_dark(picture: NDArray[np.uint8], rng: Rng) -> NDArray[np.uint8]:
    """The picture with its planes first, now and then as its negative."""
    if rng.random() < INVERTED:
        picture = 255 - picture
    return np.ascontiguousarray(picture.transpose(2, 0, 1))


def turned_corners(corners: Points, quarters: int) -> Points:
    """The same corners named as if the grid's nut lay ``quarters`` corners further on."""
    return np.roll(corners, -quarters, axis=0)


def way_up(corners: Points) -> int:
    """Which image corner the nut end of the leftmost string is, clockwise from 0 at the top left."""
    box = image_order(corners)
    return int(np.argmin(np.hypot(*(box - corners[0]).T)))


def image_order(corners: Points) -> Points:
    """Corners from the top left of the picture clockwise, whatever the diagram calls them."""
    centre = corners.mean(0)
    angle = np.arctan2(corners[:, 1] - centre[1], corners[:, 0] - centre[0])
    ring = corners[np.argsort(angle, kind="stable")]
    # the corner that best deserves 'top left': the ring's start is chosen so that opposite axes fit best
    want = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / np.sqrt(2)
    d = (ring - centre) / (np.hypot(*(ring - centre).T)[:, None] + 1e-9)
    best = max(range(4), key=lambda k: float((np.roll(d, -k, axis=0) * want).sum()))
    return np.asarray(np.roll(ring, -best, axis=0))


# ---------------------------------------------------------------- finder


def finder_sample(window: Window, rng: Rng) -> Sample:
    """A grey tile with the corners of the diagrams on it.

    Returns
    -------
    picture uint8 [1, TILE, TILE]; corners float32 [MOST_ON_TILE, 4, 2] in image
    order; way int64 [MOST_ON_TILE]; role int64 [MOST_ON_TILE] (0 nothing here,
    1 diagram, 2 neither for nor against)
    """
    grey = cv2.cvtColor(window.picture, cv2.COLOR_RGB2GRAY)
    h, w = grey.shape
    gaps = [crops.side_lengths(d.corners)[0] / (d.strings - 1) for d in window.diagrams]
    gap = float(np.median(gaps)) if gaps else 20.0
    want = float(np.exp(rng.uniform(np.log(max(5.0, gap * 0.3)), np.log(min(120.0, gap * 1.25)))))
    scale = float(np.clip(want / gap, 0.3, 1.5)) if rng.random() < 0.75 else 1.0
    if rng.random() < 0.3:
        scale = min(scale, TILE / max(h, w) * float(rng.uniform(0.8, 1.3)))
    small = cv2.resize(
        grey,
        (max(16, round(w * scale)), max(16, round(h * scale))),
        interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR,
    )
    sx, sy = small.shape[1] / w, small.shape[0] / h
    tile = np.full(
        (TILE, TILE), int(np.median(small[::8, ::8])) if rng.random() < 0.6 else int(rng.integers(0, 256)), np.uint8
    )
    placed: list[tuple[Points, Drawn]] = []
    across, down = max(1, TILE // small.shape[1]), max(1, TILE // small.shape[0])
    for k in rng.permutation(across * down)[:4]:
        cell_w, cell_h = TILE // across, TILE // down
        ox = int(k % across) * cell_w + _offset(rng, small.shape[1], cell_w)
        oy = int(k // across) * cell_h + _offset(rng, small.shape[0], cell_h)
        over = bool(rng.integers(2)) and len(placed) > 0
        copy = small[::-1, ::-1] if over else small
        part = copy[max(0, -oy) : TILE - oy, max(0, -ox) : TILE - ox]
        tile[max(0, oy) : max(0, oy) + part.shape[0], max(0, ox) : max(0, ox) + part.shape[1]] = part
        for d in window.diagrams:
            c = (d.corners + 0.5) * [sx, sy] - 0.5
            if over:
                c = np.array([small.shape[1] - 1, small.shape[0] - 1]) - c
            placed.append((c + [ox, oy], d))
    if rng.random() < INVERTED:
        tile = 255 - tile
    return _finder_targets(tile, placed)


def _finder_targets(tile: NDArray[np.uint8], placed: list[tuple[Points, Drawn]]) -> Sample:
    corners = np.zeros((MOST_ON_TILE, 4, 2), np.float32)
    way = np.zeros(MOST_ON_TILE, np.int64)
    role = np.zeros(MOST_ON_TILE, np.int64)
    inside = [(c, d) for c, d in placed if ((c.mean(0) > -8) & (c.mean(0) < TILE + 8)).all()]
    for k, (c, d) in enumerate(inside[:MOST_ON_TILE]):
        corners[k] = image_order(c)
        way[k] = way_up(c)
        out = np.clip(-c, 0, None).max() + np.clip(c - TILE + 1, 0, None).max()
        size = max(crops.side_lengths(c))
        visible = out < 0.1 * size and not d.extra.get("cut") and min(crops.side_lengths(c)) > 9
        role[k] = 1 if visible and d.kind == KIND_DIAGRAM else 0 if d.kind == KIND_OTHER else 2
    return {"picture": tile[None], "corners": corners, "way": way, "role": role}


def _offset(rng: Rng, size: int, room: int) -> int:
    return int(rng.integers(0, room - size + 1)) if size <= room else -int(rng.integers(0, size - room + 1))


# ---------------------------------------------------------------- reader


def shaken(corners: Points, rng: Rng, rough: bool = True) -> Points:
    """Corners as the finder (``rough``) or the reader gives them."""
    across, along = crops.side_lengths(corners)
    amount = float(rng.choice([0.004, 0.015, 0.03, 0.05], p=[0.2, 0.35, 0.3, 0.15] if rough else [0.5, 0.4, 0.1, 0.0]))
    size = np.array([across, along])
    axes = np.array([corners[1] - corners[0], corners[3] - corners[0]]) / size[:, None]
    out = corners + (rng.normal(0, amount, (4, 2)) * size * 0.7) @ axes
    if rough and rng.random() < 0.12:  # a whole row or string too many or too few
        edge = int(rng.integers(4))
        k = float(rng.normal(0, 0.12))
        a, b = edge, (edge + 1) % 4
        other_a, other_b = (edge + 3) % 4, (edge + 2) % 4
        out[a] += (out[a] - out[other_a]) * k
        out[b] += (out[b] - out[other_b]) * k
    return np.asarray(out + rng.normal(0, amount * 0.6, 2) * size @ axes)


def reader_sample(window: Window, d: Drawn, rng: Rng) -> Sample:
    """A straightened crop of one diagram with all that it shows."""
    quarters = int(rng.integers(1, 4)) if rng.random() < 0.13 else 0
    rough = turned_corners(shaken(d.corners, rng), quarters)
    matrix = crops.reading_matrix(rough)
    picture = crops.cut(window.picture, matrix, crops.READING_SIZE)
    true = cv2.perspectiveTransform(d.corners[None].astype(float), matrix)[0]
    if quarters == 0:
        aim = (true - cv2.perspectiveTransform(rough[None].astype(float), matrix)[0]) / crops.READING_GRID
    else:
        aim = np.zeros((4, 2))
    out = _blank_reader_sample(light_or_dark(picture, rng))
    out["way"][...] = quarters
    out["kind"][...] = d.kind
    if quarters or d.kind == KIND_OTHER:
        return out
    cut_off = bool(d.extra.get("cut"))
    n = d.strings
    out["corners"][...] = aim.reshape(-1)
    out["corners_count"][...] = 1
    out["strings"][...] = n
    out["rows"][...] = d.rows
    if cut_off or d.kind == KIND_EMPTY:
        out["states"][:] = IGNORE
        return out
    out["states"][:] = ABSENT
    for s in range(n):
        state = d.states[s]
        if state == MUTED:
            out["states"][s] = STATE_MUTED
        elif state == 0:
            out["states"][s] = STATE_OPEN if d.open_marks[s] else STATE_BARE
        else:
            out["states"][s] = FIRST_ROW_STATE + state - 1
        out["barre"][s] = d.barre[s]
    out["fingers"][:n] = legible_fingers(d)
    if d.extra["heights"].get("number", NUMBER_LEGIBLE) >= NUMBER_LEGIBLE:
        out["first"][...] = min(d.first_fret, NUMBERS - 1)
    out["nut"][...] = int(d.nut)
    return out


def _blank_reader_sample(planes: NDArray[np.uint8]) -> Sample:
    return {
        "picture": planes,
        "states": np.full(MAX_STRINGS, IGNORE, np.int64),
        "fingers": np.full(MAX_STRINGS, IGNORE, np.int64),
        "barre": np.full(MAX_STRINGS, IGNORE, np.int64),
        "strings": np.array(IGNORE, np.int64),
        "rows": np.array(IGNORE, np.int64),
        "first": np.array(IGNORE, np.int64),
        "nut": np.array(IGNORE, np.int64),
        "kind": np.array(IGNORE, np.int64),
        "way": np.array(IGNORE, np.int64),
        "corners": np.zeros(8, np.float32),
        "corners_count": np.array(0, np.float32),
    }


def other_sample(window: Window, rng: Rng) -> Sample | None:
    """A crop of something that is not a diagram, or of a wrong part of one."""
    h, w = window.picture.shape[:2]
    if window.diagrams and rng.random() < 0.6:
        base = window.diagrams[int(rng.integers(len(window.diagrams)))].corners
        size = np.array(crops.side_lengths(base)).max()
        shift = rng.uniform(0.45, 1.2) * size * np.array([np.cos(a := rng.uniform(0, 6.3)), np.sin(a)])
        quad = base + shift
        if rng.random() < 0.3:
            quad = base.mean(0) + (base - base.mean(0)) * (0.5 if rng.random() < 0.5 else 1.9)
    else:
        side = float(rng.uniform(0.1, 0.45)) * min(h, w)
        ratio = float(np.exp(rng.normal(0, 0.4)))
        x, y = rng.uniform(0, w - side), rng.uniform(0, h - side)
        quad = np.array([[0, 0], [1, 0], [1, ratio], [0, ratio]]) * side + [x, y]
    box = quad.min(0), quad.max(0)
    for d in window.diagrams:
        if _overlap(box, (d.corners.min(0), d.corners.max(0))) > 0.42:
            return None
    if not ((quad.mean(0) > 0) & (quad.mean(0) < [w, h])).all():
        return None
    crop = crops.cut(window.picture, crops.reading_matrix(quad), crops.READING_SIZE)
    out = _blank_reader_sample(light_or_dark(crop, rng))
    out["kind"][...] = KIND_OTHER
    return out


def _overlap(a: tuple[Points, Points], b: tuple[Points, Points]) -> float:
    size = np.clip(np.minimum(a[1], b[1]) - np.maximum(a[0], b[0]), 0, None)
    shared = float(size.prod())
    total = float((a[1] - a[0]).prod() + (b[1] - b[0]).prod()) - shared
    return shared / total if total > 0 else 0.0


# ---------------------------------------------------------------- cells


def cells_sample(window: Window, d: Drawn, rng: Rng) -> Sample:
    """A lattice crop of one diagram with what stands in its cells.

    ``state`` per string: 0 muted, 1 open with a mark, 2 open without, from 3 on stopped in row 1 on.
    """
    corners = shaken(d.corners, rng, rough=False)
    if rng.random() < 0.15:
        corners = shaken(corners, rng, rough=False)
    matrix = crops.lattice_matrix(corners, d.strings, d.rows)
    picture = crops.cut(window.picture, matrix, crops.lattice_size(d.strings, d.rows))
    state = np.full(d.strings, IGNORE, np.int64)
    for s, value in enumerate(d.states):
        state[s] = 0 if value == MUTED else value + 2 if value > 0 else 1 if d.open_marks[s] else 2
    return {
        "picture": light_or_dark(picture, rng),
        "state": state,
        "finger": legible_fingers(d),
        "barre": np.array(d.barre, np.int64),
    }


def legible_fingers(d: Drawn) -> NDArray[np.int64]:
    """Fingers per string as drawn, those too small to be read not asked for."""
    fingers = np.array(d.fingers, np.int64)
    if d.extra["heights"].get("finger", FINGER_LEGIBLE) < FINGER_LEGIBLE:
        fingers[fingers > 0] = IGNORE
    return fingers
