"""Photographs and scans of a sheet: geometry first, then light and sensor."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.proving.dice import Dice
from reader.proving.light import apply_light, blur, colour_cast, sensor, sharpen, uneven_light
from reader.proving.paper import crease
from reader.proving.sheet import Cover, Pixels
from reader.proving.table import lay_things, tabletop
from reader.proving.warp import Back, Points, Warp, chain, curl, lens, projected


def _pose(sheet: tuple[int, int], dice: Dice, tilt: float, quarter: int) -> Points:
    """Homography of a sheet held in front of a camera; the sheet's middle comes to lie at (0, 0)."""
    pitch, yaw = dice.bell(0, tilt), dice.bell(0, 0.7 * tilt)
    roll = dice.bell(0, 0.045) + quarter * np.pi / 2
    cp, sp, cy, sy, cr, sr = (f(a) for a in (pitch, yaw, roll) for f in (np.cos, np.sin))
    spin = (
        np.array([[cr, -sr, 0], [sr, cr, 0], [0, 0, 1]])
        @ np.array([[1, 0, 0], [0, cp, -sp], [0, sp, cp]])
        @ np.array([[cy, 0, sy], [0, 1, 0], [-sy, 0, cy]])
    )
    away = max(sheet) * dice.between(1.1, 1.7)
    centre = np.array([[1, 0, -sheet[0] / 2], [0, 1, -sheet[1] / 2], [0, 0, 1]], float)
    plane = np.column_stack([spin[:, 0], spin[:, 1], [0, 0, away]])
    focus = np.diag([away, away, 1.0])
    return np.asarray(focus @ plane @ centre, float)


def _mapped(matrix: Points, points: Points) -> Points:
    out = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray(out[:, :2] / out[:, 2:], float)


def aim(
    sheet: tuple[int, int], content: Points, size: tuple[int, int], dice: Dice, tilt: float, quarter: int, bent: bool
) -> Warp:
    """Point a camera at a sheet so that its content is in the picture.

    Parameters
    ----------
    sheet : (width, height)
    content : (N, 2)
        Sheet points that have to be seen.
    size : (width, height)
        Of the picture.
    tilt : float
        Spread of the tilt, radians.
    quarter : int
        Quarter turns of the sheet.
    bent : bool
        The sheet does not lie flat.
    """
    pose = _pose(sheet, dice, tilt, quarter)
    corners = np.array([[0, 0], [sheet[0], 0], [sheet[0], sheet[1]], [0, sheet[1]]], float)
    whole, inner = _mapped(pose, corners), _mapped(pose, content)
    frame = np.array(size, float)
    low, high = inner.min(axis=0), inner.max(axis=0)
    seen = whole if dice.chance(0.6) else np.vstack([whole * 0.5 + whole.mean(axis=0) * 0.5, inner])
    span = np.ptp(seen, axis=0)
    zoom = float((frame / span).min()) * dice.between(0.86, 1.1)
    zoom = min(zoom, float((frame / (high - low)).min()) * 0.94)
    middle = (seen.min(axis=0) + seen.max(axis=0)) / 2 + span * [dice.bell(0, 0.02), dice.bell(0, 0.02)]
    half = frame / 2 / zoom * 0.98
    middle = np.clip(middle, high - half, low + half)
    shift = np.array(
        [[zoom, 0, frame[0] / 2 - zoom * middle[0]], [0, zoom, frame[1] / 2 - zoom * middle[1]], [0, 0, 1]]
    )
    bends: tuple[Back, ...] = (lens(size, dice.bell(0.0, 0.018)),)
    if bent:
        waves = [
            curl(sheet, max(sheet) * dice.bell(0, 0.006), dice.between(0.7, 1.6), dice.between(0, 6), across)
            for across in (True, False)
        ]
        bends += (chain(*waves),)
    return projected(shift @ pose, size, bends)


def photograph(pixels: Pixels, warp: Warp, dice: Dice, gap: float, dark: float = 1.0, board: bool = False) -> Pixels:
    """A phone photo of a sheet on a table.

    Parameters
    ----------
    pixels : (H, W, 3)
        The flat sheet.
    warp : Warp
    gap : float
        Smallest distance of strings in the picture, pixels: blur stays well below it.
    dark : float
        How uneven the light is, about 1.
    board : bool
        A board on a wall rather than a sheet on a table.
    """
    wide, high = warp.size
    x, y = warp.maps()
    lit = pixels
    if not board and dice.chance(0.3):
        fold = crease(pixels.shape[:2], dice.child("fold"))
        lit = np.asarray(np.clip(pixels * fold[..., None], 0, 255), np.uint8)
    sheet = cv2.remap(lit, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    inside = _inside(x, y, (pixels.shape[1], pixels.shape[0]))
    if inside.min() < 1:
        back = tabletop((wide, high), dice.child("table"), board)
        if not board:
            lay_things(back, dice.child("things"))
        depth = cv2.GaussianBlur(cv2.resize(inside, (wide // 4 + 1, high // 4 + 1)), (0, 0), max(wide, high) / 500)
        rim = np.roll(cv2.resize(depth, (wide, high)), (high // 220, wide // 220), (0, 1))
        back = np.asarray(back * (1 - 0.5 * rim[..., None]), np.uint8)
        sheet = np.asarray(back + (sheet.astype(np.float32) - back) * inside[..., None], np.uint8)
    light = uneven_light((wide, high), dice.between(0.15, 0.75) * dark, dice.child("light"))
    out = apply_light(sheet, light, colour_cast(dice.child("cast")))
    sigma = min(dice.weigh({0.4: 0.4, 0.8: 0.35, 1.4: 0.2, 2.2: 0.05}) * max(wide, high) / 2000, 0.07 * gap)
    shake = dice.between(2, 6) * max(wide, high) / 2000 if dice.chance(0.15) else 0.0
    out = blur(out, sigma, min(shake, 0.18 * gap), dice.child("blur"))
    out = sensor(out, dice.between(0.8, 4.5), dice.child("noise"))
    if dice.chance(0.6):
        out = sharpen(out, dice.between(0.3, 1.0), dice.between(0.8, 1.6))
    return out


def _inside(x: Cover, y: Cover, size: tuple[int, int]) -> Cover:
    """1 on the sheet, 0 off it, soft across one pixel."""
    edge = np.minimum(np.minimum(x + 0.5, size[0] - 0.5 - x), np.minimum(y + 0.5, size[1] - 0.5 - y))
    return np.asarray(np.clip(edge + 0.5, 0, 1), np.float32)


def lay_on_glass(sheet: tuple[int, int], dice: Dice, quarter: int, scale: float) -> Warp:
    """A sheet on a flat-bed: turned a little, cut or with a rim."""
    skew = dice.bell(0, 0.012) + quarter * np.pi / 2
    turned = (sheet[1], sheet[0]) if quarter % 2 else sheet
    rim = 1 + dice.between(-0.01, 0.03)
    size = (round(turned[0] * scale * rim), round(turned[1] * scale * rim))
    c, s = np.cos(skew) * scale, np.sin(skew) * scale
    move = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]]) @ np.array(
        [[1, 0, -sheet[0] / 2], [0, 1, -sheet[1] / 2], [0, 0, 1]]
    )
    centre = np.array([[1, 0, size[0] / 2 + dice.bell(0, 4)], [0, 1, size[1] / 2 + dice.bell(0, 4)], [0, 0, 1]])
    return projected(np.asarray(centre @ move, float), size)


def scan(pixels: Pixels, warp: Warp, dice: Dice, gap: float) -> Pixels:
    """A flat-bed scan: lid, gutter, dust, tone."""
    lid = dice.weigh({(255, 255, 255): 0.5, (235, 235, 232): 0.3, (40, 40, 42): 0.2})
    out = warp.take(pixels, lid)
    wide, high = warp.size
    if dice.chance(0.15):
        edge = np.linspace(0, 1, wide, dtype=np.float32)
        shade = 1 - dice.between(0.2, 0.7) * np.exp(-edge / dice.between(0.015, 0.05))
        out = np.asarray(out * (shade if dice.chance(0.5) else shade[::-1])[None, :, None], np.uint8)
    if dice.chance(0.5):
        for _ in range(dice.whole(3, 40)):
            spot = (dice.whole(0, wide - 1), dice.whole(0, high - 1))
            cv2.circle(out, spot, dice.whole(0, 1), dice.pick([(90, 90, 90), (40, 40, 40), (200, 200, 200)]), -1)
    if dice.chance(0.35):
        out = np.repeat(cv2.cvtColor(out, cv2.COLOR_RGB2GRAY)[..., None], 3, axis=2)
    low, top = dice.between(0, 25), dice.between(228, 252)
    curve = np.clip((np.arange(256) - low) / (top - low), 0, 1) ** dice.between(0.85, 1.2) * 255
    out = cv2.LUT(out, curve.astype(np.uint8))
    out = blur(out, min(dice.between(0.2, 0.9), 0.05 * gap), 0.0, dice)
    return sensor(out, dice.between(0.4, 2.5), dice.child("noise"))


def photocopy(pixels: Pixels, dice: Dice, gap: float) -> Pixels:
    """One or more generations of copies: soft, then hard, with specks and gaps."""
    grey: NDArray[np.float32] = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY).astype(np.float32)
    high, wide = grey.shape
    grey = grey * (238 / max(float(np.percentile(grey[::7, ::7], 90)), 1.0))
    for _ in range(dice.weigh({1: 0.6, 2: 0.3, 3: 0.1})):
        grey = cv2.GaussianBlur(grey, (0, 0), min(dice.between(0.5, 0.9), 0.04 * gap))
        blot = cv2.resize(dice.np.normal(0, 1, (high // 24 + 1, wide // 24 + 1)).astype(np.float32), (wide, high))
        fine = np.tile(dice.np.normal(0, 1, (512, 512)).astype(np.float32), (high // 512 + 1, wide // 512 + 1))[
            :high, :wide
        ]
        grey = grey + blot * dice.between(0, 9) + fine * dice.between(2, 16)
        middle, hard = dice.between(110, 190), dice.between(1.5, 6)
        grey = np.asarray(255 / (1 + np.exp(-(grey - middle) / 255 * 4 * hard)), np.float32)
    if dice.chance(0.4):
        grey = np.asarray(np.where(grey > 128, 255, 0), np.float32)
    return np.repeat(np.clip(grey, 0, 255).astype(np.uint8)[..., None], 3, axis=2)
