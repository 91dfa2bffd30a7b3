"""What lies under and around a sheet when somebody photographs it: wood, cloth, tiles, other papers, a wall."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.training.strokes import Points, Rng, choice

Picture = NDArray[np.uint8]
Floats = NDArray[np.float32]


def _field(rng: Rng, h: int, w: int, rows: int, cols: int) -> Floats:
    small = rng.normal(0, 1, (max(2, rows), max(2, cols))).astype(np.float32)
    return np.asarray(cv2.resize(small, (w, h), interpolation=cv2.INTER_CUBIC), np.float32)


def _wood(rng: Rng, h: int, w: int) -> Floats:
    y = np.arange(h, dtype=np.float32)[:, None]
    bent = y + _field(rng, h, w, 4, 3) * rng.uniform(2, 14)
    fine, broad = np.sin(bent * rng.uniform(0.15, 0.9)), np.sin(bent * rng.uniform(0.02, 0.1))
    grain = fine * 0.5 + broad + _field(rng, h, w, h // 3, 6) * 0.6
    if rng.random() < 0.5:  # boards
        board = rng.uniform(40, 160)
        grain -= ((y % board) < 2.5) * rng.uniform(2, 5)
    return np.asarray(grain, np.float32)


def _cloth(rng: Rng, h: int, w: int) -> Floats:
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    a, b = rng.uniform(0.3, 1.6, 2)
    return np.asarray(np.sin(x * a) + np.sin(y * b) + _field(rng, h, w, 5, 5), np.float32)


def _tiles(rng: Rng, h: int, w: int) -> Floats:
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    side, tall = rng.uniform(18, 120, 2)
    joint = rng.uniform(1, 4)
    shift = np.floor(y / tall) % 2 * side * rng.choice([0.0, 0.5])
    lines = ((x + shift) % side < joint) | (y % tall < joint)
    clay = _field(rng, h, w, int(h / tall) + 2, int(w / side) + 2)
    return np.asarray(clay * 0.5 + lines * rng.choice([-3.0, 3.0]), np.float32)


def _speckled(rng: Rng, h: int, w: int) -> Floats:
    return np.asarray(_field(rng, h, w, h // 3, w // 3) + _field(rng, h, w, h // 12, w // 12), np.float32)


def _plain(rng: Rng, h: int, w: int) -> Floats:
    return _field(rng, h, w, 3, 3)


def _blocks(rng: Rng, h: int, w: int) -> Floats:
    """Edges of books, boxes, keys, shelves."""
    out = np.zeros((h, w), np.float32)
    for _ in range(int(rng.integers(4, 24))):
        x, y = int(rng.integers(-40, w)), int(rng.integers(-40, h))
        bw, bh = int(rng.integers(10, max(12, w // 2))), int(rng.integers(10, max(12, h // 2)))
        cv2.rectangle(out, (x, y), (x + bw, y + bh), float(rng.normal(0, 1.5)), -1 if rng.random() < 0.7 else 2)
    return out


_KINDS = {_wood: 30, _plain: 25, _cloth: 14, _speckled: 12, _tiles: 9, _blocks: 10}
_COLOURS = {
    (120, 84, 54): 14, (92, 62, 40): 8, (168, 130, 92): 8, (60, 60, 64): 10, (150, 150, 150): 10, (205, 200, 190): 12,
    (86, 104, 128): 8, (130, 60, 60): 4, (70, 100, 70): 5, (228, 226, 220): 8, (30, 30, 32): 6, (190, 170, 140): 7,
}  # fmt: skip


def make_desk(rng: Rng, h: int, w: int) -> Picture:
    """A picture of what lies around the sheet, uint8 [row, col, 3]."""
    pattern = choice(rng, _KINDS)(rng, h, w)
    if rng.random() < 0.4:
        pattern = np.ascontiguousarray(np.rot90(choice(rng, _KINDS)(rng, w, h)))
    colour = np.array(choice(rng, _COLOURS), np.float32)
    strength = rng.uniform(2, 22) if colour.mean() < 180 else rng.uniform(1, 10)
    tint = 1 + rng.normal(0, 0.15, 3).astype(np.float32)
    out = colour + pattern[..., None] * strength * tint
    return np.asarray(np.clip(out, 0, 255), np.uint8)


def lay_on_desk(picture: Picture, points: Points, rng: Rng) -> tuple[Picture, Points]:
    """The sheet on a desk, one to four of its edges in view; the points go along.

    Parameters
    ----------
    picture : uint8 [row, col, 3]
    points : (n, 2) picture pixels
    """
    h, w = picture.shape[:2]
    margins = rng.uniform(0, 0.3, 4) * (rng.random(4) < 0.5)  # left, top, right, bottom
    if not margins.any():
        margins[int(rng.integers(4))] = rng.uniform(0.05, 0.3)
    left, top = int(margins[0] * w), int(margins[1] * h)
    right, bottom = int(margins[2] * w), int(margins[3] * h)
    tall, wide = h + top + bottom, w + left + right
    desk = make_desk(rng, tall, wide)
    if rng.random() < 0.6:  # the sheet's shadow
        soft = np.zeros((tall, wide), np.uint8)
        d = int(rng.integers(2, 9))
        cv2.rectangle(soft, (left + d, top + d), (left + w + d, top + h + d), 255, -1)
        shade = cv2.GaussianBlur(soft, (0, 0), d * 1.2).astype(np.float32) * (rng.uniform(0.2, 0.6) / 255)
        desk = (desk * (1 - shade[..., None])).astype(np.uint8)
    desk[top : top + h, left : left + w] = picture
    return desk, points + [left, top]
