"""Light, lenses and sensors: what a phone makes of a sheet on a table."""

from __future__ import annotations

import cv2
import numpy as np

from reader.proving.dice import Dice
from reader.proving.sheet import Cover, Pixels

_LOW = 96  # side of the coarse raster that light is worked out on


def uneven_light(size: tuple[int, int], strength: float, dice: Dice) -> Cover:
    """Brightness over the picture, about 1: a slope, a lamp, a vignette and one or two soft shadows."""
    y, x = np.mgrid[0:_LOW, 0:_LOW].astype(np.float32) / _LOW
    angle = dice.between(0, 2 * np.pi)
    light = 1 + strength * 0.5 * ((x - 0.5) * np.cos(angle) + (y - 0.5) * np.sin(angle))
    cx, cy = dice.between(0.1, 0.9), dice.between(0.1, 0.9)
    light += strength * 0.35 * (np.exp(-((x - cx) ** 2 + (y - cy) ** 2) / dice.between(0.1, 0.5)) - 0.5)
    light -= strength * dice.between(0, 0.5) * ((x - 0.5) ** 2 + (y - 0.5) ** 2)
    for _ in range(dice.weigh({0: 0.4, 1: 0.45, 2: 0.15})):
        light *= _shadow(strength, dice)
    grown = cv2.resize(light, size, interpolation=cv2.INTER_CUBIC)
    return np.asarray(np.clip(grown, 0.25, 1.25), np.float32)


def _shadow(strength: float, dice: Dice) -> Cover:
    """The shadow of a head, a hand or the phone: a blob from one edge, with a soft rim."""
    mask = np.zeros((_LOW, _LOW), np.float32)
    at = dice.pick([(0.0, 0.5), (1.0, 0.5), (0.5, 1.0), (0.5, 0.0), (0.0, 1.0), (1.0, 1.0)])
    centre = (int((at[0] + dice.bell(0, 0.2)) * _LOW), int((at[1] + dice.bell(0, 0.2)) * _LOW))
    axes = (int(dice.between(0.2, 0.6) * _LOW), int(dice.between(0.15, 0.4) * _LOW))
    cv2.ellipse(mask, centre, axes, dice.between(0, 180), 0, 360, 1.0, -1)
    if dice.chance(0.3):
        for k in range(4):
            tip = (int(centre[0] + (k - 1.5) * 6), int(_LOW * dice.between(0.3, 0.6)))
            cv2.line(mask, centre, tip, 1.0, 5)
    mask = cv2.GaussianBlur(mask, (0, 0), dice.between(1.5, 9))
    return np.asarray(1 - strength * dice.between(0.3, 0.8) * mask, np.float32)


def apply_light(pixels: Pixels, light: Cover, cast: tuple[float, float, float]) -> Pixels:
    """Multiply a picture with light of a colour cast."""
    out = pixels.astype(np.float32)
    for k in range(3):
        out[..., k] *= light * cast[k]
    return np.asarray(np.clip(out, 0, 255), np.uint8)


def colour_cast(dice: Dice) -> tuple[float, float, float]:
    """Warm lamp, cool window or neither, as a factor per channel."""
    warmth = dice.bell(0.02, 0.06)
    green = dice.bell(0, 0.015)
    level = dice.between(0.78, 1.04)
    return level * (1 + warmth), level * (1 + green), level * (1 - 1.4 * warmth)


def blur(pixels: Pixels, sigma: float, shake: float, dice: Dice) -> Pixels:
    """Out of focus by `sigma` pixels, shaken by `shake` pixels."""
    if sigma > 0.2:
        pixels = cv2.GaussianBlur(pixels, (0, 0), sigma)
    if shake > 1.0:
        side = int(np.ceil(shake)) * 2 + 1
        kernel = np.zeros((side, side), np.float32)
        angle = dice.between(0, np.pi)
        tip = np.array([np.cos(angle), np.sin(angle)]) * shake / 2
        middle = side // 2
        start = (int((middle - tip[0]) * 16), int((middle - tip[1]) * 16))
        end = (int((middle + tip[0]) * 16), int((middle + tip[1]) * 16))
        cv2.line(kernel, start, end, 1.0, 1, cv2.LINE_AA, 4)
        pixels = cv2.filter2D(pixels, -1, kernel / kernel.sum())
    return np.asarray(pixels, np.uint8)


def sensor(pixels: Pixels, noise: float, dice: Dice) -> Pixels:
    """Grainy as a small sensor: noise in brightness and, coarser, in colour."""
    tile = dice.np.normal(0, noise, (512, 512, 1)) + 0.6 * cv2.GaussianBlur(
        dice.np.normal(0, 2.5 * noise, (512, 512, 3)).astype(np.float32), (0, 0), 1.2
    )
    tile16 = np.clip(np.round(tile), -60, 60).astype(np.int16)
    high, wide = pixels.shape[:2]
    out = np.empty_like(pixels)
    for y in range(0, high, 512):
        for x in range(0, wide, 512):
            part = pixels[y : y + 512, x : x + 512]
            turned = np.rot90(tile16, dice.whole(0, 3))
            out[y : y + 512, x : x + 512] = np.clip(part + turned[: part.shape[0], : part.shape[1]], 0, 255)
    return out


def sharpen(pixels: Pixels, amount: float, radius: float) -> Pixels:
    """The crisp rims that phones add."""
    soft = cv2.GaussianBlur(pixels, (0, 0), radius)
    return np.asarray(cv2.addWeighted(pixels, 1 + amount, soft, -amount, 0), np.uint8)
