"""Papers: white, cream, recycled, squared, ruled, staves, blackboard; and what happens to them before they are read."""

from __future__ import annotations

import cv2
import numpy as np

from reader.proving.dice import Dice
from reader.proving.sheet import Colour, Cover, Pixels, Sheet, grain

_TINTS: dict[str, Colour] = {
    "white": (252, 252, 251),
    "office": (244, 244, 240),
    "cream": (246, 238, 218),
    "pink": (247, 214, 219),
    "yellow": (250, 242, 180),
    "blue": (214, 228, 241),
    "grey": (214, 211, 204),
    "kraft": (196, 166, 126),
}


def clean_sheet(size: tuple[int, int], fine: float, dice: Dice, colour: Colour = (255, 255, 255)) -> Sheet:
    """A sheet of one even colour."""
    pixels = np.empty((size[1], size[0], 3), np.uint8)
    pixels[:] = colour
    return Sheet(pixels, grain(dice.child("tooth"), max(0.7, 0.55 * fine)), fine)


def real_sheet(size: tuple[int, int], fine: float, dice: Dice) -> Sheet:
    """A sheet of paper with its tint, fibres and lines."""
    tint = dice.weigh(
        {
            "white": 0.4,
            "office": 0.28,
            "cream": 0.12,
            "pink": 0.04,
            "yellow": 0.05,
            "blue": 0.03,
            "grey": 0.06,
            "kraft": 0.02,
        }
    )
    sheet = clean_sheet(size, fine, dice, _TINTS[tint])
    mottle = cv2.resize(dice.np.normal(0, 1, (40, 40)).astype(np.float32), size, interpolation=cv2.INTER_CUBIC)
    strength = {"grey": 5.0, "kraft": 6.0}.get(tint, 1.2)
    fibres = (
        (np.tile(sheet.tooth, (size[1] // 512 + 1, size[0] // 512 + 1))[: size[1], : size[0]] - 0.5) * strength * 1.6
    )
    sheet.pixels[:] = np.clip(sheet.pixels + (mottle * strength * 0.5 + fibres)[..., None], 0, 255).astype(np.uint8)
    ruling = dice.weigh({"none": 0.6, "squares": 0.16, "lines": 0.16, "dots": 0.03, "margin": 0.05})
    rule(sheet, ruling, dice.child("rule"))
    return sheet


def rule(sheet: Sheet, ruling: str, dice: Dice) -> None:
    """Print squares, lines or dots on a sheet."""
    if ruling == "none":
        return
    wide, high = sheet.size
    step = max(wide, high) / dice.between(34, 62) * (1.0 if ruling != "lines" else 1.4)
    colour: Colour = dice.pick([(150, 180, 220), (180, 190, 205), (205, 205, 205), (170, 205, 190), (190, 160, 200)])
    amount = np.full((high, wide), dice.between(0.35, 0.8), np.float32)
    ys = np.arange(dice.between(0, step), high, step)
    xs = np.arange(dice.between(0, step), wide, step)
    thick = max(1, round(0.45 * sheet.fine))
    mask = np.zeros((high, wide), np.uint8)
    if ruling in ("squares", "lines"):
        for y in ys:
            mask[round(y) : round(y) + thick] = 1
    if ruling == "squares":
        for x in xs:
            mask[:, round(x) : round(x) + thick] = 1
    if ruling == "dots":
        for y in ys:
            for x in xs:
                cv2.circle(mask, (round(x), round(y)), thick, 1, -1)
    sheet.lay(0, 0, amount * mask, colour)
    if ruling in ("lines", "margin"):
        x = round(wide * dice.between(0.07, 0.12))
        red = np.full((high, thick), 0.6, np.float32)
        sheet.lay(x, 0, red, (225, 110, 120))


def staves(sheet: Sheet, top: float, gap: float, x0: float, x1: float, weight: float = 0.6) -> list[float]:
    """Print one staff of five lines; returns their heights."""
    ys = [top + k * gap for k in range(5)]
    thick = max(1, round(weight * sheet.fine))
    for y in ys:
        sheet.lay(round(x0), round(y - (thick - 1) / 2), np.full((thick, int(x1 - x0)), 0.8, np.float32), (60, 60, 60))
    return ys


def punch(sheet: Sheet, dice: Dice, beyond: Colour) -> None:
    """Punch holes along one edge."""
    wide, high = sheet.size
    radius = max(wide, high) * dice.between(0.008, 0.012)
    count = dice.pick([2, 3, 4])
    at = wide * dice.between(0.03, 0.045)
    for k in range(count):
        y = high * (k + 1) / (count + 1) if count > 2 else high * (0.36 + 0.28 * k)
        for pixels in (sheet.pixels, *sheet.shots.without.values()):
            cv2.circle(pixels, (round(at), round(y)), round(radius), beyond, -1, cv2.LINE_AA)
            cv2.circle(pixels, (round(at), round(y)), round(radius), (150, 150, 150), 1, cv2.LINE_AA)


def stain(sheet: Sheet, dice: Dice) -> None:
    """Leave the ring of a cup, or some drops."""
    wide, high = sheet.size
    radius = max(wide, high) * dice.between(0.05, 0.08)
    x, y = dice.between(0, wide), dice.between(0, high)
    mask = np.zeros((high // 2, wide // 2), np.float32)
    centre = (round(x / 2), round(y / 2))
    cv2.circle(mask, centre, round(radius / 2), 0.12, -1, cv2.LINE_AA)
    cv2.circle(mask, centre, round(radius / 2), 0.4, max(2, round(radius * 0.04)), cv2.LINE_AA)
    mask = cv2.GaussianBlur(mask, (0, 0), 1.5 * sheet.fine) * dice.between(0.4, 1.0)
    sheet.lay(0, 0, cv2.resize(mask, (wide, high)), (150, 105, 60))


def show_through(sheet: Sheet, other: Pixels, dice: Dice) -> None:
    """Let the writing on the back of the sheet be seen, mirrored, faint and soft."""
    back = cv2.GaussianBlur(other[:, ::-1], (0, 0), 0.9 * sheet.fine)
    darkness = 1 - back.astype(np.float32) / 255
    strength = dice.between(0.08, 0.24)
    sheet.pixels[:] = np.clip(sheet.pixels * (1 - strength * darkness), 0, 255).astype(np.uint8)


def crease(shape: tuple[int, int], dice: Dice) -> Cover:
    """Light on a sheet that was folded: one or two soft steps and bright or dark lines, as a factor per pixel."""
    high, wide = shape
    light = np.ones((high, wide), np.float32)
    for upright in dice.pick([(True,), (False,), (True, False), (False, False)]):
        length = wide if upright else high
        at = length * dice.pick([0.33, 0.5, 0.5, 0.67]) + dice.bell(0, 0.01 * length)
        offset = np.arange(length, dtype=np.float32) - at
        width = 0.004 * length
        step = 1 + dice.bell(0, 0.05) * np.tanh(offset / (20 * width))
        step += dice.pick([-0.18, 0.1, -0.1]) * np.exp(-((offset / (0.5 * width)) ** 2))
        light *= step[None, :] if upright else step[:, None]
    return light
