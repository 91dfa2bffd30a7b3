"""Pens: a nib moves along a path with changing pressure and ink flow, and leaves its trace on the paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.proving.dice import Dice
from reader.proving.sheet import Colour, Cover, Sheet

Points = NDArray[np.float64]

_SHIFT = 4  # fractional bits that the raster routines take
_MARGIN = 3  # pixels around a patch, for bleeding ink


@dataclass(frozen=True, slots=True)
class Pen:
    """What a trace looks like.

    Parameters
    ----------
    kind : str
        ``pencil``, ``ball``, ``felt``, ``gel``, ``marker``, ``quill``, ``chalk``, ``crayon``, ``stylus`` or ``print``.
    colour : RGB
    width : float
        Pixels at middle pressure.
    dark : float
        Greatest cover of a pixel, 0 to 1.
    grip : float
        How strongly the paper's tooth breaks the trace, 0 to 1.
    bleed : float
        Spread of the ink into the paper, pixels.
    swing : float
        How much pressure changes width and flow.
    skips : float
        Share of the trace where the ink fails.
    nib : tuple of float, optional
        Half-vector of a broad nib in widths; None is a round tip.
    opaque : bool
        Paint rather than dye.
    """

    kind: str
    colour: Colour
    width: float
    dark: float = 0.95
    grip: float = 0.0
    bleed: float = 0.0
    swing: float = 0.15
    skips: float = 0.0
    nib: tuple[float, float] | None = None
    opaque: bool = False

    def wide(self, factor: float) -> Pen:
        """The same pen with another width."""
        return replace(self, width=self.width * factor)

    def tinted(self, colour: Colour) -> Pen:
        """The same pen with another ink."""
        return replace(self, colour=colour)


def _resample(points: Points, step: float) -> tuple[Points, Points]:
    """Points at even steps along a path, and their distance from its start."""
    lengths = np.hypot(*np.diff(points, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    count = int(np.clip(along[-1] / max(step, 0.5), 2, 400)) + 1
    at = np.linspace(0, along[-1], count)
    return np.column_stack([np.interp(at, along, points[:, k]) for k in (0, 1)]), at


def _drift(dice: Dice, at: Points, wave: float) -> Points:
    """A slow random curve around 0 with spread 1, sampled at the distances `at`; `wave` is its length."""
    phases = dice.np.uniform(0, 2 * np.pi, 3)
    waves = wave * dice.np.uniform(0.6, 1.8, 3)
    return np.asarray(np.sin(2 * np.pi * at[:, None] / waves + phases).sum(axis=1) / 1.225, float)


def _trace(points: Points, pen: Pen, dice: Dice) -> tuple[Points, Points, Points]:
    """Points, half widths and flow (0 to 1) along one stroke."""
    pts, at = _resample(points, max(pen.width * 0.8, 2.0))
    press = 1 + pen.swing * 0.5 * _drift(dice, at, 60 * max(pen.width, 1))
    ends = np.minimum(at, at[-1] - at) / (2.5 * pen.width + 1e-6)
    taper = 1 - pen.swing * 0.9 * np.exp(-ends) * (pen.kind in ("pencil", "ball", "quill", "stylus", "crayon"))
    half = np.clip(0.5 * pen.width * press * taper, 0.3, None)
    flow = np.clip(0.93 + 0.25 * pen.swing * _drift(dice, at, 25 * max(pen.width, 1)), 0.3, 1)
    if pen.skips and len(at) > 3:
        gone = _drift(dice, at, 14 * max(pen.width, 1)) + 0.7 * _drift(dice, at, 5 * max(pen.width, 1))
        limit = 2.4 - 1.6 * min(pen.skips, 1)
        flow = np.where(gone > limit, flow * 0.12, flow)
    return pts, half, flow


def _raster(patch: NDArray[np.uint8], pts: Points, half: Points, flow: Points, pen: Pen) -> None:
    """Sweep the nib over the patch; all lengths in patch pixels."""
    step = np.diff(pts, axis=0)
    length = np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-6)
    if pen.nib is None:
        normal = np.column_stack([-step[:, 1], step[:, 0]]) / length[:, None]
        a, b = normal * half[:-1, None], normal * half[1:, None]
    else:
        a = np.asarray(pen.nib) * half[:-1, None] * 2
        b = np.asarray(pen.nib) * half[1:, None] * 2
    quads = np.stack([pts[:-1] + a, pts[1:] + b, pts[1:] - b, pts[:-1] - a], axis=1)
    fixed = np.round(quads * (1 << _SHIFT)).astype(np.int32)
    centres = np.round(pts * (1 << _SHIFT)).astype(int)
    radii = np.round(half * (1 << _SHIFT) * (1.0 if pen.nib is None else 0.45)).astype(int)
    values = np.round(255 * flow).astype(int)
    for k in range(len(fixed)):
        cv2.fillConvexPoly(patch, fixed[k], int(values[k]), cv2.LINE_8, _SHIFT)
    for (x, y), r, v in zip(centres.tolist(), radii.tolist(), values.tolist(), strict=True):
        cv2.circle(patch, (x, y), max(r, 1), v, -1, cv2.LINE_8, _SHIFT)


def textured(cover: Cover, tooth: Cover, pen: Pen) -> Cover:
    """What the paper makes of a trace: bleeding, grain and streaks."""
    if pen.bleed > 0.05:
        soft = cv2.GaussianBlur(cover, (0, 0), pen.bleed)
        rim = np.clip(cover - cv2.GaussianBlur(cover, (0, 0), pen.bleed * 2.5), 0, 1)
        cover = np.asarray(np.clip(soft * 0.96 + 0.25 * rim, 0, 1), np.float32)
    if pen.grip > 0:
        caught = np.clip((cover * (1.55 - 0.35 * pen.grip) - tooth * 1.15 * pen.grip) * 2.2, 0, 1)
        cover = np.asarray(cover * (1 - pen.grip) + caught * pen.grip, np.float32)
    return np.asarray(cover * pen.dark, np.float32)


def draw_strokes(sheet: Sheet, strokes: Sequence[Points], pen: Pen, dice: Dice) -> None:
    """Draw strokes of one sign with one pen; strokes that cross do not darken each other."""
    traces = [_trace(np.asarray(s, float), pen, dice) for s in strokes if len(s) > 1]
    if not traces:
        return
    reach = max(float(h.max()) for _, h, _ in traces) + _MARGIN + 2 * pen.bleed
    every = np.vstack([p for p, _, _ in traces])
    x0, y0 = (np.floor(every.min(axis=0) - reach)).astype(int)
    x1, y1 = (np.ceil(every.max(axis=0) + reach)).astype(int)
    wide, high = int(x1 - x0 + 1), int(y1 - y0 + 1)
    if wide * high > 60_000_000 or x1 < 0 or y1 < 0 or x0 > sheet.size[0] or y0 > sheet.size[1]:
        return
    fold = 3 if wide * high < 400_000 else 2
    patch = np.zeros((high * fold, wide * fold), np.uint8)
    for pts, half, flow in traces:
        # Pixel centres are whole numbers on the sheet, so the finer raster starts half a pixel further up and left.
        _raster(patch, (pts - (x0, y0) + 0.5) * fold - 0.5, half * fold, flow, pen)
    small = cv2.resize(patch, (wide, high), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    cover = textured(small, sheet.tooth_at(int(x0), int(y0), high, wide), pen)
    sheet.lay(int(x0), int(y0), cover, pen.colour, pen.opaque, small)


def fill_shape(sheet: Sheet, outline: Points, pen: Pen) -> None:
    """Fill a closed outline with a pen's ink and grain."""
    x0, y0 = (np.floor(outline.min(axis=0)) - _MARGIN).astype(int)
    x1, y1 = (np.ceil(outline.max(axis=0)) + _MARGIN).astype(int)
    wide, high = int(x1 - x0 + 1), int(y1 - y0 + 1)
    fold = 3 if wide * high < 400_000 else 1
    patch = np.zeros((high * fold, wide * fold), np.uint8)
    fixed = np.round(((outline - (x0, y0) + 0.5) * fold - 0.5) * (1 << _SHIFT)).astype(np.int32)
    cv2.fillPoly(patch, [fixed], 255, cv2.LINE_8, _SHIFT)
    small = cv2.resize(patch, (wide, high), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    cover = textured(small, sheet.tooth_at(int(x0), int(y0), high, wide), pen)
    sheet.lay(int(x0), int(y0), cover, pen.colour, pen.opaque)
