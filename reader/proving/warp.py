"""Where points of the flat sheet come to lie in the picture: one chain of mappings moves pixels and truth alike."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Back = Callable[[Points], Points]

_GRID = 8  # pixels between exact values of the mapping; between them it is interpolated


@dataclass(frozen=True)
class Warp:
    """A picture of a sheet.

    Parameters
    ----------
    size : (width, height)
        Of the picture, pixels.
    back : callable
        Picture points (N, 2) to sheet points (N, 2).
    start : callable
        First guess for the other way.
    """

    size: tuple[int, int]
    back: Back
    start: Back

    def forth(self, points: Points) -> Points:
        """Sheet points to picture points, by Newton's method on `back`."""
        at = self.start(points)
        step = 0.5
        across, down = np.array([step, 0.0]), np.array([0.0, step])
        for _ in range(12):
            miss = self.back(at) - points
            dx = (self.back(at + across) - self.back(at - across)) / (2 * step)
            dy = (self.back(at + down) - self.back(at - down)) / (2 * step)
            det = dx[:, 0] * dy[:, 1] - dx[:, 1] * dy[:, 0]
            det = np.where(np.abs(det) < 1e-9, 1e-9, det)
            move = np.column_stack(
                [
                    (miss[:, 0] * dy[:, 1] - miss[:, 1] * dy[:, 0]) / det,
                    (dx[:, 0] * miss[:, 1] - dx[:, 1] * miss[:, 0]) / det,
                ]
            )
            at = at - np.clip(move, -400, 400)
            if np.abs(move).max() < 1e-3:
                break
        return at

    def maps(self) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Sheet x and y for every pixel of the picture."""
        wide, high = self.size
        across, down = wide // _GRID + 2, high // _GRID + 2
        xs, ys = np.meshgrid(np.arange(across) * _GRID, np.arange(down) * _GRID)
        coarse = self.back(np.column_stack([xs.ravel(), ys.ravel()]).astype(float)).reshape(down, across, 2)
        grow = np.array([[1 / _GRID, 0, 0], [0, 1 / _GRID, 0]])
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        x, y = (cv2.warpAffine(coarse[..., k].astype(np.float32), grow, (wide, high), flags=flags) for k in (0, 1))
        return x, y

    def take(self, pixels: NDArray[np.uint8], blank: tuple[int, int, int]) -> NDArray[np.uint8]:
        """The picture of a sheet; `blank` lies around it."""
        x, y = self.maps()
        return np.asarray(
            cv2.remap(pixels, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=blank), np.uint8
        )


def flat(size: tuple[int, int]) -> Warp:
    """The sheet itself."""
    return Warp(size, lambda p: p, lambda p: p)


def projected(matrix: Points, size: tuple[int, int], bends: tuple[Back, ...] = ()) -> Warp:
    """A flat sheet seen from anywhere.

    Parameters
    ----------
    matrix : (3, 3)
        Homography from sheet to picture.
    size : (width, height)
        Of the picture.
    bends : callables
        Further displacements on the way back, in picture coordinates first: lens, then paper.
    """
    inverse = np.asarray(np.linalg.inv(matrix), np.float64)

    def back(points: Points) -> Points:
        for bend in bends[:1]:
            points = bend(points)
        points = _apply(inverse, points)
        for bend in bends[1:]:
            points = bend(points)
        return points

    return Warp(size, back, lambda p: _apply(matrix, p))


def _apply(matrix: Points, points: Points) -> Points:
    out = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray(out[:, :2] / out[:, 2:], float)


def lens(size: tuple[int, int], amount: float) -> Back:
    """Barrel (positive) or cushion distortion about the middle of the picture."""
    middle = np.array(size) / 2
    radius = float(np.hypot(*middle))

    def bend(points: Points) -> Points:
        away = (points - middle) / radius
        return np.asarray(middle + (points - middle) * (1 + amount * (away**2).sum(axis=1, keepdims=True)), float)

    return bend


def curl(size: tuple[int, int], amount: float, wave: float, phase: float, across: bool) -> Back:
    """A sheet that does not lie flat: it sways by `amount` pixels, `wave` sheet lengths from crest to crest."""
    length = float(max(size)) * wave

    def bend(points: Points) -> Points:
        along = points[:, 0] if across else points[:, 1]
        sway = amount * np.sin(2 * np.pi * along / length + phase)
        out = points.copy()
        out[:, 1 if across else 0] += sway
        return out

    return bend


def chain(*steps: Back) -> Back:
    """One mapping after the other."""

    def bend(points: Points) -> Points:
        for step in steps:
            points = step(points)
        return points

    return bend
