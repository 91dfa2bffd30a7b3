"""Samples for the strip network: a straightened piece of a tab system and what stands where on it.

A strip is 20 px to a gap: block ``k`` covers rows 20k to 20k+19 and, where the
cut is right, its middle lies on a line. Two blocks above the first line and two
below the last belong to it. Its picture has ``FINE`` times as many pixels each way.
The same layout is cut by ``reader/image/tab_lines.py``.
"""

from __future__ import annotations

import random
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.training.tabs import clutter
from reader.training.tabs.canvas import Canvas, Picture, caught, composed, sample_paper, wobble
from reader.training.tabs.glyphs import Faces
from reader.training.tabs.layout import draw_system
from reader.training.tabs.look import Look, legible, sample_look
from reader.training.tabs.systems import BAR_KINDS, SIGNS, Truth

GAP = 20
FINE = 2
"""Pixels of a sample's picture to a pixel of the strip: numbers are looked at in full, the strip at half the size."""
MARGIN = 2
STRIDE = 4
WIDTH = 320
IGNORE = 255
GAPS = ((4.8, 9.0), (8.0, 22.0), (20.0, 42.0))
"""Pixels between the lines as drawn: small on screens, usual, large on photos of small pages."""

Arrays = dict[str, NDArray[np.generic]]


def sample_strips(rng: random.Random, faces: Faces, lines: int, views: int = 2) -> list[Arrays]:
    """One drawing, caught and straightened ``views`` times, each with its targets.

    Returns
    -------
    list of dict of arrays
        image (40·(lines+4), 640, 3) uint8; over blocks R and columns C = 80:
        heat (R, C) uint8, units, tens, ghost, line (R, C) uint8 with 255 for 'does not
        count', offset (R, C) float16, signs (7, R, C) uint8, bar (C) uint8,
        bar_kind (C), inside (C).
    """
    low, high = rng.choices(GAPS, (0.18, 0.52, 0.3))[0]
    gap = float(np.exp(rng.uniform(np.log(low), np.log(high))))
    kind = rng.choices(("screen", "scan", "photo", "board"), (0.2, 0.35, 0.35, 0.1))[0]
    paper = sample_paper(rng, kind, gap)
    look = sample_look(rng, faces, gap, paper.base, lines)
    paper = legible(look, paper)
    width, height = int(gap * (WIDTH / GAP) * 1.35) + 24, int(gap * (lines + 9)) + 16
    canvas = Canvas(width, height)
    if look.kind == "hand" and rng.random() < 0.22:
        clutter.draw_ruling(canvas, rng, gap * rng.choice((1.0, rng.uniform(0.5, 3.0))), rng.random() < 0.6)
    elif look.kind == "hand" and rng.random() < 0.1:
        clutter.draw_dots(canvas, rng, gap * rng.uniform(0.5, 2.5))
    top = (height - gap * (lines - 1)) / 2
    left = rng.uniform(0.05, 0.5) * width if rng.random() < 0.25 else -rng.uniform(0, 4) * gap
    right = rng.uniform(0.5, 0.95) * width if rng.random() < 0.2 else width + gap
    negative = rng.random() < 0.17
    if negative:
        truth = _draw_foreign(canvas, faces, rng, look, left, top, right)
    else:
        truth = draw_system(canvas, faces, rng, look, left, top, right)
        _draw_neighbours(canvas, faces, rng, look, top)
    sheet = composed(canvas, paper, rng, rng.uniform(0.72, 1.0))
    if negative and rng.random() < 0.3:
        sheet = np.ascontiguousarray(sheet[::-1, ::-1])
    out = []
    for _ in range(views):
        picture = caught(sheet, paper, rng)
        out.append(cut_strip(255 - picture if paper.dark else picture, truth, negative, rng))
        again = legible(look, sample_paper(rng, kind, gap))
        paper = replace(paper, light=again.light, blur=again.blur, noise=again.noise, jpeg=again.jpeg)
    return out


def _draw_neighbours(canvas: Canvas, faces: Faces, rng: random.Random, look: Look, top: float) -> None:
    gap = look.gap
    for side in (-1, 1):
        lot = rng.random()
        if lot < 0.2:
            far = top - gap * rng.uniform(2.5, 5) - gap * (look.lines - 1)
            y = far if side < 0 else top + gap * (look.lines - 1) + gap * rng.uniform(2.5, 5)
            if rng.random() < 0.5:
                draw_system(canvas, faces, rng, look, -gap, y, canvas.width + gap)
            else:
                clutter.draw_staff(canvas, rng, look, -gap, y, canvas.width + gap)
        elif lot < 0.3:
            y = top - 3.2 * gap if side < 0 else top + gap * (look.lines + 1.2)
            clutter.draw_prose(canvas, rng, look.text_face, 0, y, canvas.width, y + 1, gap * rng.uniform(0.5, 0.9))


def _draw_foreign(
    canvas: Canvas, faces: Faces, rng: random.Random, look: Look, left: float, top: float, right: float
) -> Truth:
    lot = rng.random()
    canvas.layer("numbers", look.number_colour)
    if lot < 0.25:
        return clutter.draw_staff(canvas, rng, look, left, top, right)
    if lot < 0.55:
        return clutter.draw_neck(canvas, faces, rng, look, rng.uniform(0, 0.4) * canvas.width, top)
    if lot < 0.75:
        return clutter.draw_chart(canvas, faces, rng, look, rng.uniform(-0.6, 0.4) * canvas.width, top)
    if lot < 0.92:
        clutter.draw_jottings(canvas, rng, look.text_face, look.gap)
    else:
        for _ in range(3):
            x, y = rng.uniform(-2, canvas.width), rng.uniform(0, canvas.height * 0.6)
            clutter.draw_grid(canvas, rng, faces, x, y, look.gap)
    rows = np.repeat((top + look.gap * np.arange(look.lines))[:, None], canvas.width, axis=1)
    canvas.layer("text", look.number_colour)
    return Truth(look, rows, left, right)


def block_heights(truth: Truth, shift: int, rng: random.Random) -> NDArray[np.float64]:
    """Canvas heights of all block middles, with the errors that a line tracker makes, (blocks, width)."""
    n, width = truth.rows.shape
    gap = truth.look.gap
    small = 0.03 if rng.random() < 0.75 else 0.1
    common = wobble(width, gap * small, rng, 4) + rng.gauss(0, gap * small)
    own = np.stack([wobble(width, gap * small, rng, 5) for _ in range(n)])
    true = truth.rows
    if rng.random() < 0.25:
        # a tracker that fails half-way leaves the lines where evenly spaced ones would run
        share = np.arange(n)[:, None] / (n - 1)
        even = true[:1] * (1 - share) + true[-1:] * share
        true = true + (even - true) * rng.uniform(0.2, 1.0)
    rows = true + common + own
    first, last = rows[1] - rows[0], rows[-1] - rows[-2]
    blocks = []
    for k in range(n + 2 * MARGIN):
        i = k - MARGIN + shift
        if i < 0:
            blocks.append(rows[0] + i * first)
        elif i >= n:
            blocks.append(rows[-1] + (i - n + 1) * last)
        else:
            blocks.append(rows[i])
    return np.stack(blocks)


def cut_strip(picture: Picture, truth: Truth, negative: bool, rng: random.Random) -> Arrays:
    """Straighten a picture along slightly wrong lines and write the targets."""
    n, width = truth.rows.shape
    blocks = n + 2 * MARGIN
    shift = rng.choice((-1, 1)) if rng.random() < 0.1 else 0
    heights = block_heights(truth, shift, rng)
    scale = GAP / truth.look.gap * rng.uniform(0.88, 1.14)
    spare = width - WIDTH / scale
    x0 = spare * rng.random()
    lean = rng.gauss(0, 0.1) if rng.random() < 0.6 else 0.0
    middle = blocks * GAP / 2
    u, v = ((np.arange(n * FINE) + 0.5) / FINE - 0.5 for n in (WIDTH, blocks * GAP))
    columns = np.clip(np.round(x0 + u / scale), 0, width - 1).astype(int)
    at = (v - GAP / 2 + 0.5) / GAP
    low = np.clip(np.floor(at).astype(int), 0, blocks - 2)
    part = (at - low)[:, None]
    picked = heights[:, columns]
    map_y = picked[low] * (1 - part) + picked[low + 1] * part
    map_x = x0 + (u[None, :] + lean * (v[:, None] - middle)) / scale
    image = cv2.remap(
        picture, map_x.astype(np.float32), map_y.astype(np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )

    def column(x: float, line: float) -> float:
        row = (line - shift + MARGIN) * GAP + GAP / 2
        return float((x - x0) * scale - lean * (row - middle))

    targets = strip_targets(truth, negative, column, shift)
    return {"image": np.asarray(image, np.uint8), **targets}


def strip_targets(truth: Truth, negative: bool, column: object, shift: int) -> Arrays:
    """Targets over blocks and columns; ``column(x, line)`` gives the strip column of a canvas place."""
    place = column
    assert callable(place)
    n = truth.look.lines
    blocks, cols = n + 2 * MARGIN, WIDTH // STRIDE
    out: Arrays = {
        "heat": np.zeros((blocks, cols), np.uint8),
        "units": np.full((blocks, cols), IGNORE, np.uint8),
        "tens": np.full((blocks, cols), IGNORE, np.uint8),
        "ghost": np.full((blocks, cols), IGNORE, np.uint8),
        "offset": np.zeros((blocks, cols), np.float16),
        "line": np.zeros((blocks, cols), np.uint8),
        "signs": np.zeros((len(SIGNS), blocks, cols), np.uint8),
        "bar": np.zeros(cols, np.uint8),
        "bar_kind": np.full(cols, IGNORE, np.uint8),
        "inside": np.zeros(cols, np.uint8),
    }
    if negative:
        return out
    centres = np.arange(cols) + 0.5
    ends = [place(x, (n - 1) / 2) / STRIDE for x in (truth.left, truth.right)]
    within = (centres > ends[0]) & (centres < ends[1])
    near = np.minimum(np.abs(centres - ends[0]), np.abs(centres - ends[1])) < 2 + 4 * truth.look.ragged
    out["inside"][:] = np.where(near, IGNORE, within)
    lines = [k for k in range(blocks) if 0 <= k - MARGIN + shift < n]
    out["line"][lines] = out["inside"]
    for x, line, tens, units, ghost in truth.numbers:
        k, c = line - shift + MARGIN, place(x, line) / STRIDE
        if not (0 <= k < blocks and 0 <= c < cols):
            continue
        peak = np.exp(-((centres - c) ** 2) / (2 * 0.9**2)) * 255
        j = min(cols - 1, int(c))
        peak[j] = 255
        np.maximum(out["heat"][k], peak.astype(np.uint8), out=out["heat"][k])
        for a in range(max(0, j - 1), min(cols, j + 2)):
            out["units"][k, a], out["tens"][k, a], out["ghost"][k, a] = units, tens, ghost
            out["offset"][k, a] = c - a - 0.5
    for x, line, code in truth.signs:
        k, c = line - shift + MARGIN, place(x, line) / STRIDE
        if 0 <= k < blocks and 0 <= c < cols:
            spot = (np.exp(-((centres - c) ** 2) / (2 * 0.9**2)) * 255).astype(np.uint8)
            spot[min(cols - 1, int(c))] = 255
            np.maximum(out["signs"][code, k], spot, out=out["signs"][code, k])
    for x, code in truth.bars:
        c = place(x, (n - 1) / 2) / STRIDE
        if 0 <= c < cols and code < len(BAR_KINDS):
            spot = (np.exp(-((centres - c) ** 2) / (2 * 0.9**2)) * 255).astype(np.uint8)
            j = min(cols - 1, int(c))
            spot[j] = 255
            np.maximum(out["bar"], spot, out=out["bar"])
            out["bar_kind"][max(0, j - 1) : j + 2] = code
    return out


def stacked(samples: list[Arrays]) -> Arrays:
    """Samples of equal size as one batch."""
    return {name: np.stack([s[name] for s in samples]) for name in samples[0]}


def preview(sample: Arrays) -> Picture:
    """A strip with its targets written on it, for a person to check."""
    image = cv2.resize(np.ascontiguousarray(sample["image"]).astype(np.uint8), None, fx=3 / FINE, fy=3 / FINE)
    heat, units, tens = sample["heat"], sample["units"], sample["tens"]
    for k, j in zip(*np.nonzero(heat == 255), strict=True):
        x = int((j + 0.5 + float(sample["offset"][k, j])) * STRIDE * 3)
        text = "x" if units[k, j] == 10 else str(int(tens[k, j]) * 10 + int(units[k, j]))
        cv2.putText(image, text, (x - 8, int((k + 0.5) * GAP * 3) - 14), cv2.FONT_HERSHEY_SIMPLEX, 0.6, (255, 0, 0), 2)
    for j in np.flatnonzero(sample["bar"] == 255):
        cv2.line(image, (int((j + 0.5) * 12), 0), (int((j + 0.5) * 12), image.shape[0]), (0, 160, 0), 1)
    for c, k, j in zip(*np.nonzero(sample["signs"] == 255), strict=True):
        at = (int((j + 0.5) * 12), int((k + 0.5) * GAP * 3) + 24)
        cv2.putText(image, SIGNS[int(c)], at, cv2.FONT_HERSHEY_SIMPLEX, 0.5, (200, 0, 200), 1)
    for j in np.flatnonzero(sample["inside"] == 1):
        cv2.line(image, (int(j * 12), 2), (int(j * 12 + 12), 2), (0, 0, 255), 3)
    return np.asarray(image, np.uint8)
