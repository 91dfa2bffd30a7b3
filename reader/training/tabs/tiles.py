"""Samples for the tab finder: pieces of pages under perspective and curl, and where their tab systems lie.

The finder answers on a grid of cells 8 px wide: what the cell belongs to, how
far above it the first line and how far below it the last line runs, and how
many lines there are.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.training.tabs import clutter
from reader.training.tabs.canvas import Canvas, Picture, caught, composed, sample_paper, wobble
from reader.training.tabs.glyphs import Faces
from reader.training.tabs.layout import draw_system
from reader.training.tabs.look import Look, legible, sample_look
from reader.training.tabs.strips import IGNORE, Arrays
from reader.training.tabs.systems import Truth

SIDE = 512
CELL = 8
SHEET = 600
NOTHING, TAB, STAFF, OTHER = 0, 1, 2, 3
GAPS_LEARNED = (4.2, 15.0)
DISTANCE_UNIT = 16.0
LEAST_PX = 1.5
"""Height of the smallest number on a tile: systems are found on pages too small to be read."""


@dataclass(frozen=True)
class Warp:
    """Sheet to tile: a vertical bend of every column, then a homography."""

    bend: NDArray[np.float64]
    homography: NDArray[np.float64]

    def forward(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Sheet points (n, 2) to tile points."""
        columns = np.clip(points[:, 0].round().astype(int), 0, len(self.bend) - 1)
        bent = np.column_stack([points[:, 0], points[:, 1] + self.bend[columns]])
        return np.asarray(cv2.perspectiveTransform(bent[None].astype(np.float64), self.homography)[0], np.float64)

    def backward(
        self, xs: NDArray[np.float64], ys: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Tile coordinates to sheet coordinates."""
        back = np.linalg.inv(self.homography)
        w = back[2, 0] * xs + back[2, 1] * ys + back[2, 2]
        sheet_x = (back[0, 0] * xs + back[0, 1] * ys + back[0, 2]) / w
        sheet_y = (back[1, 0] * xs + back[1, 1] * ys + back[1, 2]) / w
        columns = np.clip(sheet_x.round().astype(int), 0, len(self.bend) - 1)
        return sheet_x, sheet_y - self.bend[columns]

    def picture(self, sheet: Picture, outside: Picture) -> Picture:
        """The sheet as seen on the tile; ``outside`` is what lies around it."""
        ys, xs = np.mgrid[0:SIDE, 0:SIDE].astype(np.float64)
        map_x, map_y = self.backward(xs, ys)
        seen = outside.copy()
        cv2.remap(
            sheet,
            map_x.astype(np.float32),
            map_y.astype(np.float32),
            cv2.INTER_LINEAR,
            dst=seen,
            borderMode=cv2.BORDER_TRANSPARENT,
        )
        return seen


def sample_warp(rng: random.Random, kind: str) -> Warp:
    """A view of the sheet: flat for screens and scans, tilted and curled for photos."""
    strength = {"screen": 0.0, "scan": 0.15}.get(kind, 1.0)
    bend = wobble(SHEET, 5.0 * strength * rng.random(), rng, rng.randint(3, 5))
    degrees = rng.gauss(0, 1.2) if kind == "scan" else rng.gauss(0, 5) * strength
    scale = rng.uniform(0.92, 1.08)
    turn = np.vstack([cv2.getRotationMatrix2D((SHEET / 2, SHEET / 2), degrees, scale), [0, 0, 1]])
    slide = (SHEET - SIDE) / 2
    room = slide if rng.random() < 0.75 else slide * rng.uniform(2, 7)
    move = np.array([[1, 0, -slide + rng.uniform(-room, room)], [0, 1, -slide + rng.uniform(-room, room)], [0, 0, 1]])
    tilt = np.eye(3)
    tilt[2, 0], tilt[2, 1] = (rng.gauss(0, 2e-4) * strength for _ in range(2))
    centre = np.array([[1, 0, -SIDE / 2], [0, 1, -SIDE / 2], [0, 0, 1.0]])
    return Warp(bend, np.linalg.inv(centre) @ tilt @ centre @ move @ turn)


def sample_tile(rng: random.Random, faces: Faces) -> Arrays:
    """One tile and its targets.

    Returns
    -------
    dict of arrays
        image (512, 512, 3) uint8; over 64 × 64 cells: kind uint8 (0 nothing, 1 tab,
        2 staff, 3 other lines, 255 does not count), lines uint8 (0 for 4 lines … 4 for
        8), above and below float16 in units of 16 px (to the first and last line).
    """
    gap = float(np.exp(rng.uniform(np.log(4.0), np.log(16.5))))
    kind = rng.choices(("screen", "scan", "photo", "board"), (0.15, 0.35, 0.4, 0.1))[0]
    paper = sample_paper(rng, kind, gap * 1.6)
    look = sample_look(rng, faces, gap, paper.base)
    paper = legible(look, paper)
    look = seen_small(look, rng)
    canvas = Canvas(SHEET, SHEET)
    if rng.random() < 0.06:
        clutter.draw_dots(canvas, rng, gap * rng.uniform(0.4, 2.0))
    elif rng.random() < 0.32:
        clutter.draw_ruling(
            canvas, rng, gap * rng.choice((rng.uniform(0.5, 1.3), rng.uniform(0.8, 4.0))), rng.random() < 0.65
        )
    canvas.layer("lines", look.line_colour)
    canvas.layer("numbers", look.number_colour)
    drawn: list[tuple[int, Truth]] = []
    lot = rng.random()
    if lot < 0.07:
        clutter.draw_jottings(canvas, rng, rng.choice(faces.hands), gap * rng.uniform(0.9, 2.0))
    elif lot < 0.12:
        clutter.draw_ruling(canvas, rng, gap * rng.uniform(0.6, 2.0), rng.random() < 0.8)
    else:
        drawn = _fill_sheet(canvas, faces, rng, look, paper.base)
    warp = sample_warp(rng, kind)
    plain = np.full((SIDE, SIDE, 3), paper.base, np.uint8)
    outside = clutter.draw_desk(SIDE, rng) if kind in ("photo", "scan") else plain
    sheet = composed(canvas, paper, rng, rng.uniform(0.65, 1.0))
    if all(what != TAB for what, _ in drawn) and rng.random() < 0.35:
        sheet, drawn = np.ascontiguousarray(sheet[::-1, ::-1]), []
    seen = warp.picture(sheet, outside)
    return {"image": caught(seen, paper, rng), **tile_targets(drawn, warp)}


def seen_small(look: Look, rng: random.Random) -> Look:
    """The look of a system on a page shown too small for its numbers to be read: often sparse, often in thick lines."""
    return replace(
        look,
        least_px=LEAST_PX,
        size=look.size * rng.uniform(0.7, 1.0),
        spacing=look.spacing * rng.choice((1.0, 1.0, 2.0, 4.0)),
        pen_px=max(look.pen_px, look.gap * rng.uniform(0.05, 0.3) if rng.random() < 0.4 else 0.0),
    )


def _fill_sheet(
    canvas: Canvas, faces: Faces, rng: random.Random, look: Look, paper: tuple[int, int, int]
) -> list[tuple[int, Truth]]:
    drawn: list[tuple[int, Truth]] = []
    gap, y = look.gap, -rng.uniform(0, 12) * look.gap
    tabs = rng.random() < 0.75
    left = -30.0 if rng.random() < 0.45 else rng.uniform(10, 260)
    right = SHEET + 30.0 if rng.random() < 0.5 else rng.uniform(340, SHEET - 10)
    while y < SHEET:
        y += gap * rng.uniform(2.2, 6)
        what = rng.choices(
            ("tab", "staff", "prose", "table", "grids", "necks", "charts", "blank"),
            (1.0 if tabs else 0.0, 0.22, 0.18, 0.05, 0.12, 0.22, 0.08, 0.1),
        )[0]
        if what == "tab":
            here = look if rng.random() < 0.9 else seen_small(sample_look(rng, faces, gap, paper), rng)
            end = right if rng.random() < 0.85 else rng.uniform(left + 8 * gap, right + 1)
            drawn.append((TAB, draw_system(canvas, faces, rng, here, left, y, max(end, left + 8 * gap))))
            y += gap * (here.lines - 1)
        elif what == "staff":
            drawn.append((STAFF, clutter.draw_staff(canvas, rng, _five(look, rng), left, y, right)))
            y += gap * 4
        else:
            y = _put_other(canvas, faces, rng, look, what, left, y, right, drawn)
    return drawn


def _five(look: Look, rng: random.Random) -> Look:
    return replace(look, lines=5, dash=0.0, pen_px=max(0.5, look.pen_px * rng.uniform(0.5, 1.0)))


def _put_other(
    canvas: Canvas,
    faces: Faces,
    rng: random.Random,
    look: Look,
    what: str,
    left: float,
    y: float,
    right: float,
    drawn: list[tuple[int, Truth]],
) -> float:
    gap = look.gap
    if what == "prose":
        tall = max(3.5, gap * rng.uniform(0.5, 1.2))
        bottom = y + tall * rng.uniform(1, 12)
        clutter.draw_prose(canvas, rng, look.text_face, max(5.0, left), y, right, bottom, tall)
        return bottom + gap
    if what == "table":
        bottom = y + rng.uniform(5, 12) * max(gap, 8)
        clutter.draw_table(canvas, rng, faces, max(5.0, left), y, right, bottom)
        return bottom + gap
    if what in ("necks", "charts"):
        here = replace(look, gap=gap * rng.uniform(0.7, 1.3), dash=0.0, tremble=min(look.tremble, 0.06))
        draw = clutter.draw_neck if what == "necks" else clutter.draw_chart
        x = max(8.0, left)
        while x < right:
            truth = draw(canvas, faces, rng, here, x, y + 2 * gap)
            x = truth.right + gap * rng.uniform(1.5, 6)
        return y + gap * (here.lines + 3) * 1.2
    if what == "grids":
        step = max(4.0, gap * rng.uniform(0.6, 2.0))
        x = max(8.0, left)
        while x < right:
            clutter.draw_grid(canvas, rng, faces, x, y + 2 * step, step)
            x += step * rng.uniform(8, 14)
        return y + 8 * step
    return y + rng.uniform(2, 15) * gap


def tile_targets(drawn: list[tuple[int, Truth]], warp: Warp) -> Arrays:
    """Cell targets of all systems and staves on the tile."""
    cells = SIDE // CELL
    kind = np.zeros((cells, cells), np.uint8)
    lines = np.full((cells, cells), IGNORE, np.uint8)
    above, below = np.zeros((cells, cells), np.float16), np.zeros((cells, cells), np.float16)
    centres = np.arange(cells, dtype=np.float64) * CELL + CELL / 2
    for what, truth in drawn:
        edges = edge_heights(truth, warp, centres)
        if edges is None:
            continue
        first, last, inside = edges
        gap = (last - first) / (truth.look.lines - 1)
        dist_first = centres[:, None] - first[None, :]
        dist_last = last[None, :] - centres[:, None]
        hit = (dist_first > -0.4 * gap) & (dist_last > -0.4 * gap) & inside[None, :]
        learned = (gap > GAPS_LEARNED[0]) & (gap < GAPS_LEARNED[1]) & (gap > 0)
        kind[hit] = np.where(np.broadcast_to(learned, hit.shape)[hit], what, IGNORE)
        lines[hit] = truth.look.lines - 4
        above[hit], below[hit] = dist_first[hit] / DISTANCE_UNIT, dist_last[hit] / DISTANCE_UNIT
    sheet_x, sheet_y = warp.backward(*np.meshgrid(centres, centres))
    kind[(sheet_x < 0) | (sheet_x >= SHEET) | (sheet_y < 0) | (sheet_y >= SHEET)] = NOTHING
    return {"kind": kind, "lines": lines, "above": above, "below": below}


def edge_heights(
    truth: Truth, warp: Warp, centres: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.bool_]] | None:
    """First and last line on the tile at each cell column, and which columns the system covers."""
    xs = np.arange(max(0, int(truth.left)), min(truth.rows.shape[1] - 1, int(truth.right)) + 1, 3)
    if len(xs) < 8:
        return None
    ends = [warp.forward(np.column_stack([xs, truth.rows[i, xs]]).astype(np.float64)) for i in (0, -1)]
    heights = [np.interp(centres, line[:, 0], line[:, 1]) for line in ends]
    low = (ends[0][0, 0] + ends[1][0, 0]) / 2
    high = (ends[0][-1, 0] + ends[1][-1, 0]) / 2
    return heights[0], heights[1], (centres > low - CELL / 4) & (centres < high + CELL / 4)


def preview(sample: Arrays) -> Picture:
    """A tile with its targets drawn in, for a person to check."""
    image = np.ascontiguousarray(sample["image"]).astype(np.uint8)
    image = np.repeat(np.repeat(image, 2, 0), 2, 1)
    colours = {TAB: (255, 0, 0), STAFF: (0, 0, 255), IGNORE: (160, 160, 160)}
    for r, c in zip(*np.nonzero(sample["kind"]), strict=True):
        y, x = (r + 0.5) * CELL, (c + 0.5) * CELL
        what = int(sample["kind"][r, c])
        cv2.circle(image, (int(2 * x), int(2 * y)), 2, colours[what], -1)
        for d in (-float(sample["above"][r, c]), float(sample["below"][r, c])):
            cv2.circle(image, (int(2 * x), int(2 * (y + d * DISTANCE_UNIT))), 1, (0, 160, 0), -1)
    return image
