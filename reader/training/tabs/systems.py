"""Draws one tab system and keeps what is true of it."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from reader.training.tabs.canvas import Canvas, draw_line, ellipse, erase, stamp, wobble
from reader.training.tabs.glyphs import (
    Faces,
    Mask,
    bent,
    bolder,
    digit_ratio,
    font_mask,
    joined,
    real_mask,
    stroke_mask,
    turned,
)
from reader.training.tabs.look import Look

MUTED = 10
BAR_KINDS = ("single", "double", "final", "repeat-start", "repeat-end")
SIGNS = ("h", "p", "/", "\\", "b", "~", "(")
SIGN_CODE = {kind: i for i, kind in enumerate(SIGNS)}


@dataclass
class Truth:
    """What was drawn, in canvas pixels.

    Parameters
    ----------
    look : Look
    rows : (lines, width) float
        Height of each line at every canvas column.
    left, right : float
        Ends of the system.
    numbers : list of (x, line, tens, units, ghost)
        ``units`` 10 is an x.
    signs : list of (x, line, code)
    bars : list of (x, code)
    """

    look: Look
    rows: NDArray[np.float64]
    left: float
    right: float
    numbers: list[tuple[float, int, int, int, bool]] = field(default_factory=list)
    signs: list[tuple[float, int, int]] = field(default_factory=list)
    bars: list[tuple[float, int]] = field(default_factory=list)

    def y(self, x: float, line: float) -> float:
        """Height of a line (or of a place between or outside the lines) at a column."""
        column = min(self.rows.shape[1] - 1, max(0, round(x)))
        n = self.rows.shape[0]
        low = min(n - 2, max(0, int(np.floor(line))))
        a, b = self.rows[low, column], self.rows[low + 1, column]
        return float(a + (b - a) * (line - low))


def line_rows(
    look: Look, width: int, left: float, top: float, length: float, rng: random.Random
) -> NDArray[np.float64]:
    """Heights of the lines at every canvas column."""
    n, gap = look.lines, look.gap
    steps = np.array([max(0.6, rng.gauss(1, look.unevenness)) for _ in range(n - 1)])
    offsets = np.concatenate([[0.0], np.cumsum(steps)]) * gap * (n - 1) / max(steps.sum(), 1e-6)
    xs = np.arange(width)
    along = (xs - left) / max(1.0, length)
    common = look.slope * (xs - left) + wobble(width, look.tremble * gap * 0.8, rng, 4)
    taper = 1 + look.narrowing * (along - 0.5)
    own = np.stack([wobble(width, look.tremble * gap, rng, max(3, int(length / gap / 6))) for _ in range(n)])
    return np.asarray(top + common + (offsets[:, None] - offsets[-1] / 2) * taper + offsets[-1] / 2 + own)


def draw_lines(layer: Mask, truth: Truth, rng: random.Random) -> None:
    """The lines: ruled or freehand, solid or of hyphens."""
    look = truth.look
    for i in range(look.lines):
        left = truth.left + rng.gauss(0, look.ragged) * look.gap
        right = truth.right + rng.gauss(0, look.ragged) * look.gap
        a, b = max(0, int(left)), min(layer.shape[1] - 1, int(right))
        if b - a < 4:
            continue
        step = 1 if look.dash else max(2, int(look.gap / 3))
        xs = np.unique(np.append(np.arange(a, b, step), b))
        ys = truth.rows[i, xs]
        if look.dash:
            _draw_hyphens(layer, xs, ys, look)
        else:
            draw_line(layer, np.column_stack([xs, ys]), look.pen_px, rng.uniform(0.75, 1.0))


def _draw_hyphens(layer: Mask, xs: NDArray[np.int64], ys: NDArray[np.float64], look: Look) -> None:
    cell = max(2.5, look.gap * look.dash)
    inside = (xs - xs[0]) / cell % 1.0 < look.dash_ink
    starts = np.flatnonzero(inside & ~np.concatenate([[False], inside[:-1]]))
    ends = np.flatnonzero(inside & ~np.concatenate([inside[1:], [False]]))
    for s, e in zip(starts, ends, strict=True):
        draw_line(layer, np.array([[xs[s], ys[s]], [xs[e], ys[e]]]), look.pen_px)


def number_mask(text: str, look: Look, faces: Faces, rng: random.Random) -> Mask:
    """One number in the system's writing."""
    height = max(look.least_px, look.size * look.gap * (1 + rng.gauss(0, look.size_spread)))
    if look.face == "stroke":
        mask = stroke_mask(text, height, look.number_pen_px, look.writer, rng)
    elif look.face == "real" and "x" not in text:
        mask = real_mask(text, height, look.writer, faces, rng)
    elif look.face == "real":
        mask = stroke_mask(text, height * 0.8, look.number_pen_px, look.writer, rng)
    else:
        mask = _lettered(_spelled(text, look), height, look, rng)
    if look.bold and mask.shape[0] > 6:
        mask = bolder(mask, look.bold * height)
    if look.italic and mask.shape[0] > 5:
        mask = turned(mask, 0.0, look.italic)
    if look.kind != "hand" or mask.shape[0] < 6:
        return mask
    if look.writer.bend:
        mask = bent(mask, look.writer.bend, rng)
    return turned(mask, rng.gauss(0, look.turn), rng.gauss(0, 0.04)) if look.turn > 0.5 else mask


def _spelled(text: str, look: Look) -> str:
    """A number in the characters that the system's maker has for it."""
    if look.kind == "print":
        return text.replace("x", look.muted_sign)
    return text.translate({ord("0"): look.spelling[0], ord("1"): look.spelling[1], ord("x"): look.muted_sign})


def _lettered(text: str, height: float, look: Look, rng: random.Random) -> Mask:
    size = round(height / digit_ratio(look.face))
    if look.kind != "hand" or len(text) == 1 or rng.random() < 0.6:
        return font_mask(look.face, text, size)
    return joined([font_mask(look.face, char, max(4, size + rng.randint(-1, 1))) for char in text], height, rng)


def put_number(canvas: Canvas, truth: Truth, x: float, line: int, text: str, faces: Faces, rng: random.Random) -> float:
    """Write one number on its line; returns its width in pixels."""
    look = truth.look
    mask = number_mask(text, look, faces, rng)
    scatter = min(0.33, max(-0.33, rng.gauss(0, look.scatter)))
    y = truth.y(x, line) - (look.lift + scatter) * look.gap
    h, w = int(mask.shape[0]), int(mask.shape[1])
    if look.knock != "none":
        pad = 0.25 * look.gap if look.knock == "box" else 0.08 * look.gap
        erase(canvas.layer("lines"), x, truth.y(x, line), w + 2 * pad, max(h, look.gap * 0.3))
    layer = canvas.layer("numbers", look.number_colour)
    stamp(layer, mask, x, y, look.faint * (rng.uniform(0.8, 1.0) if look.kind == "hand" else 1.0))
    ghost = rng.random() < look.ghosts
    if ghost:
        _draw_brackets(layer, x, y, w, h, look, rng)
    elif rng.random() < look.circled:
        ring = canvas.layer("accent", look.accent_colour)
        radius = max(w, h) * rng.uniform(0.62, 0.85)
        draw_line(
            ring,
            ellipse(x, y, radius * rng.uniform(0.9, 1.2), radius, rng.uniform(0, 90), rng.uniform(420, 470)),
            look.number_pen_px,
        )
    if text == "x":
        truth.numbers.append((x, line, 0, MUTED, ghost))
    else:
        truth.numbers.append((x, line, int(text) // 10, int(text) % 10, ghost))
    return w


def _draw_brackets(layer: Mask, x: float, y: float, w: int, h: int, look: Look, rng: random.Random) -> None:
    tall, reach = max(h, look.gap * 0.7) * rng.uniform(0.5, 0.65), w / 2 + look.gap * rng.uniform(0.12, 0.25)
    bend = look.gap * rng.uniform(0.1, 0.22)
    draw_line(layer, ellipse(x - reach + bend, y, bend, tall, 110, 250), look.number_pen_px)
    draw_line(layer, ellipse(x + reach - bend, y, bend, tall, -70, 70), look.number_pen_px)


def draw_typed_bar(layer: Mask, truth: Truth, x: float, reach: tuple[float, float], pen: float) -> None:
    """An upright stroke on every line, so far up and down from it, in gaps."""
    up, down = (r * truth.look.gap for r in reach)
    aside = truth.look.italic * (up + down) / 2
    for i in range(truth.look.lines):
        y = truth.y(x, i)
        draw_line(layer, np.array([[x + aside, y - up], [x - aside, y + down]]), pen)


def draw_bar(canvas: Canvas, truth: Truth, x: float, kind: str, rng: random.Random) -> None:
    """A bar line of a kind at a column, and its truth."""
    look = truth.look
    layer = canvas.layer("lines")
    thin, thick = look.pen_px * rng.uniform(0.9, 1.4), max(look.pen_px * 2.5, look.gap * 0.3)
    d = look.gap * 0.45
    plan: dict[str, tuple[tuple[float, float], ...]] = {
        "single": ((0, thin),),
        "double": ((-d / 2, thin), (d / 2, thin)),
        "final": ((-d, thin), (0, thick)),
        "repeat-start": ((0, thick), (d, thin)),
        "repeat-end": ((-d, thin), (0, thick)),
    }
    lean = rng.gauss(0, 0.12) * look.gap if look.kind == "hand" else 0.0
    over = rng.uniform(-0.15, 0.35) if look.kind == "hand" else 0.0
    for dx, pen in plan[kind]:
        top, bottom = (x + dx + lean, truth.y(x, -over)), (x + dx - lean, truth.y(x, look.lines - 1 + over))
        if look.broken_bars:
            draw_typed_bar(layer, truth, x + dx, look.broken_bars, pen)
        else:
            draw_line(layer, np.array([top, bottom]), pen)
    if kind.startswith("repeat"):
        side = look.gap * 1.0 if kind == "repeat-start" else -look.gap * 1.0
        middle = (look.lines - 1) / 2
        for k in (-0.5, 0.5) if look.lines % 2 else (-1.0, 1.0):
            radius = max(0.8, look.gap * 0.16)
            draw_line(layer, ellipse(x + side, truth.y(x, middle + k), radius / 2, radius / 2), radius, closed=True)
    truth.bars.append((x, BAR_KINDS.index(kind)))
