"""What a sheet lies on when it is photographed, and what lies beside it."""

from __future__ import annotations

import cv2
import numpy as np

from reader.proving.dice import Dice
from reader.proving.sheet import Colour, Pixels

_WOODS: list[Colour] = [(150, 105, 65), (190, 150, 105), (105, 70, 48), (205, 175, 140), (90, 62, 45)]
_PLAIN: list[Colour] = [(60, 60, 65), (200, 200, 198), (120, 130, 140), (35, 40, 50), (150, 60, 60), (70, 100, 80)]
_WALLS: list[Colour] = [(215, 208, 190), (196, 205, 200), (225, 224, 220), (170, 180, 190), (200, 180, 150)]


def tabletop(size: tuple[int, int], dice: Dice, wall: bool = False) -> Pixels:
    """A table: wood, plain board, woven cloth or carpet; or a painted wall."""
    wide, high = size
    kind = dice.weigh({"wood": 0.45, "plain": 0.25, "cloth": 0.18, "carpet": 0.12})
    kind = "plain" if wall else kind
    colour = np.array(dice.pick(_WALLS) if wall else dice.pick(_WOODS if kind == "wood" else _PLAIN), np.float32)
    if kind == "wood":
        seed = dice.np.normal(0, 1, (160, 6)).astype(np.float32)
        grain = cv2.resize(seed, (wide, high), interpolation=cv2.INTER_CUBIC)
        fine = cv2.resize(dice.np.normal(0, 1, (max(high // 3, 1), 10)).astype(np.float32), (wide, high))
        pattern = 14 * grain + 6 * fine
        if dice.chance(0.4):
            pattern = cv2.resize(np.ascontiguousarray(pattern.T), (wide, high))
    elif kind == "cloth":
        y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
        pitch = max(size) / dice.between(60, 240)
        pattern = 10 * np.sin(2 * np.pi * x / pitch) + 10 * np.sin(2 * np.pi * y / pitch)
        if dice.chance(0.3):
            pattern = 34 * (np.sign(np.sin(x / pitch / 3)) + np.sign(np.sin(y / pitch / 3))) / 2
    else:
        fleck = dice.np.normal(
            0, 1, (high // (2 if kind == "carpet" else 30) + 1, wide // (2 if kind == "carpet" else 30) + 1)
        )
        pattern = (22 if kind == "carpet" else 3) * cv2.resize(fleck.astype(np.float32), (wide, high))
    return np.asarray(np.clip(colour + pattern[..., None], 0, 255), np.uint8)


def lay_things(pixels: Pixels, dice: Dice) -> None:
    """Put a pencil, a cup, a pick, a cable or another sheet on the table, in place."""
    high, wide = pixels.shape[:2]
    unit = max(wide, high) / 40
    for _ in range(dice.weigh({0: 0.35, 1: 0.35, 2: 0.2, 3: 0.1})):
        thing = dice.pick(["pencil", "cup", "pick", "cable", "sheet", "rubber"])
        x, y = dice.between(0, wide), dice.between(0, high)
        angle = dice.between(0, 2 * np.pi)
        way = np.array([np.cos(angle), np.sin(angle)])
        a, b = np.array([x, y]) - way * 5 * unit, np.array([x, y]) + way * 5 * unit
        p, q = (int(a[0]), int(a[1])), (int(b[0]), int(b[1]))
        if thing == "pencil":
            colour = dice.pick([(210, 160, 40), (40, 80, 150), (170, 40, 40)])
            cv2.line(pixels, p, q, colour, int(0.55 * unit), cv2.LINE_AA)
            tip = b + way * unit
            cv2.line(pixels, q, (int(tip[0]), int(tip[1])), (225, 195, 150), int(0.35 * unit), cv2.LINE_AA)
        elif thing == "cup":
            for radius, colour in ((3.6, (235, 235, 230)), (3.1, (90, 55, 30)), (2.9, (70, 42, 24))):
                cv2.circle(pixels, (int(x), int(y)), int(radius * unit), colour, -1, cv2.LINE_AA)
        elif thing == "pick":
            tri = np.array([[-1, -0.8], [1, -0.8], [0, 1.2]]) * unit + (x, y)
            cv2.fillPoly(
                pixels, [tri.astype(np.int32)], dice.pick([(200, 60, 60), (40, 120, 90), (230, 220, 200)]), cv2.LINE_AA
            )
        elif thing == "cable":
            t = np.linspace(0, 1, 60)
            path = np.column_stack([t * wide, y + 3 * unit * np.sin(t * dice.between(4, 12))]).astype(np.int32)
            cv2.polylines(pixels, [path], False, (30, 30, 30), max(2, int(0.3 * unit)), cv2.LINE_AA)
        else:
            size = (14.0, 20.0) if thing == "sheet" else (1.6, 0.9)
            box = cv2.boxPoints(((x, y), (size[0] * unit, size[1] * unit), dice.between(-40, 40)))
            cv2.fillConvexPoly(pixels, box.astype(np.int32), (238, 238, 235), cv2.LINE_AA)
