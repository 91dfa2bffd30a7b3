"""From a drawn sheet to a picture file with its truth: scanning, photographing, cutting, turning."""

from __future__ import annotations

import io
from dataclasses import dataclass, replace
from typing import Any

import cv2
import numpy as np
from PIL import Image

from reader.proving.camera import aim, lay_on_glass, photocopy, photograph, scan
from reader.proving.dice import Dice
from reader.proving.draft import Box, Draft, Drawn, System
from reader.proving.sheet import Pixels, Shots
from reader.proving.warp import Points, Warp, flat, projected

_SMALL_DIGIT = 6.0  # pixels of height below which digits and labels are guesses
_NO_DIGIT = 4.5  # pixels of height on the sheet below which a digit has no shape, however large the picture
_STRIKE_GAP = 30.0  # pixels between strings below which a struck-out dot looks like a dot
_TOO_SMALL = 5.0  # pixels between strings below which a person cannot tell dots apart


@dataclass(frozen=True)
class Picture:
    """A finished page: pixels, file kind, stored orientation (EXIF number) and truth."""

    pixels: Pixels
    suffix: str
    quality: int
    orientation: int
    truth: dict[str, Any]

    def encoded(self) -> bytes:
        """The bytes of the file."""
        turns = {3: Image.Transpose.ROTATE_180, 6: Image.Transpose.ROTATE_90, 8: Image.Transpose.ROTATE_270}
        image = Image.fromarray(self.pixels)
        out = io.BytesIO()
        if self.suffix == "png":
            image.save(out, "PNG", compress_level=3)
            return out.getvalue()
        exif = Image.Exif()
        if self.orientation != 1:
            image = image.transpose(turns[self.orientation])
            exif[0x0112] = self.orientation
        image.save(out, "JPEG", quality=self.quality, exif=exif)
        return out.getvalue()


def as_stored(pixels: Pixels, suffix: str, quality: int) -> Pixels:
    """The pixels that whoever opens the file will see."""
    if suffix == "png":
        return pixels
    stored = Image.open(io.BytesIO(Picture(pixels, suffix, quality, 1, {}).encoded()))
    return np.asarray(stored.convert("RGB"), np.uint8)


def content_of(draft: Draft) -> Points:
    """Sheet points that must not fall out of the picture: all grids with a rim, else the middle of the sheet."""
    wide, high = draft.sheet.size
    points = [p for d in draft.charts for p in _box_corners(d.ink)]
    for s in draft.systems:
        q = np.array(s.corners)
        points += [tuple(p) for p in q.mean(axis=0) + (q - q.mean(axis=0)) * [1.04, 1.3]]
    if not points:
        return np.array([[0.2 * wide, 0.2 * high], [0.8 * wide, 0.8 * high]])
    return np.asarray(np.clip(np.array(points, float), 0, [wide - 1, high - 1]), float)


def _box_corners(box: Box) -> list[tuple[float, float]]:
    return [(box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3])]


def through_camera(
    draft: Draft, dice: Dice, long_side: int, tilt: float, dark: float, board: bool, turns: bool = True
) -> tuple[Shots, Warp]:
    """A phone photo of the sheet."""
    sheet = draft.sheet.size
    aspect = dice.weigh({0.75: 0.7, 0.5625: 0.25, 1.0: 0.05})
    quarter = dice.weigh({0: 0.92, 1: 0.03, 2: 0.02, 3: 0.03}) if turns else 0
    upright = (sheet[1] >= sheet[0]) != bool(quarter % 2)
    if dice.chance(0.08):
        upright = not upright
    short = round(long_side * aspect)
    size = (short, long_side) if upright else (long_side, short)
    warp = aim(sheet, content_of(draft), size, dice.child("aim"), tilt, quarter, not board and dice.chance(0.5))
    gap = _smallest(draft, warp)
    return draft.sheet.shots.each(lambda p: photograph(p, warp, dice.child("photo"), gap, dark, board)), warp


def through_scanner(draft: Draft, dice: Dice, scale: float, copied: bool, turns: bool = True) -> tuple[Shots, Warp]:
    """A scan of the sheet, or of a copy of it."""
    quarter = dice.weigh({0: 0.93, 1: 0.025, 2: 0.02, 3: 0.025}) if turns else 0
    warp = lay_on_glass(draft.sheet.size, dice.child("glass"), quarter, scale)
    gap = _smallest(draft, warp)
    shots = draft.sheet.shots
    if copied:
        shots = shots.each(lambda p: photocopy(p, dice.child("copy"), draft.smallest))
    return shots.each(lambda p: scan(p, warp, dice.child("scan"), gap)), warp


def as_is(draft: Draft, dice: Dice) -> tuple[Shots, Warp]:
    """The sheet itself, now and then turned."""
    quarter = dice.weigh({0: 0.95, 1: 0.015, 2: 0.02, 3: 0.015})
    if quarter == 0:
        return draft.sheet.shots, flat(draft.sheet.size)
    wide, high = draft.sheet.size
    moves = {
        1: ([[0, -1, high - 1], [1, 0, 0], [0, 0, 1]], (high, wide)),
        2: ([[-1, 0, wide - 1], [0, -1, high - 1], [0, 0, 1]], (wide, high)),
        3: ([[0, 1, 0], [-1, 0, wide - 1], [0, 0, 1]], (high, wide)),
    }
    matrix, size = moves[quarter]
    turned = draft.sheet.shots.each(lambda p: np.ascontiguousarray(np.rot90(p, -quarter)))
    return turned, projected(np.array(matrix, float), size)


def _smallest(draft: Draft, warp: Warp) -> float:
    """Smallest distance of strings or lines in the picture."""
    gaps = []
    for d in draft.charts:
        q = warp.forth(np.array(d.corners, float))
        gaps.append(float(np.hypot(*(q[1] - q[0]))) / (d.chart.strings - 1))
    for s in draft.systems:
        q = warp.forth(np.array(s.corners, float))
        gaps.append(float(np.hypot(*(q[3] - q[0]))) / (s.lines - 1))
    return min(gaps, default=20.0)


def crop(shots: Shots, warp: Warp, dice: Dice) -> tuple[Shots, Warp]:
    """Cut a strip off one side, as a bad scan would."""
    wide, high = warp.size
    side, share = dice.whole(0, 3), dice.between(0.04, 0.14)
    x0 = round(wide * share) if side == 0 else 0
    y0 = round(high * share) if side == 1 else 0
    x1 = wide - (round(wide * share) if side == 2 else 0)
    y1 = high - (round(high * share) if side == 3 else 0)
    shift = np.array([x0, y0], float)
    back, start = warp.back, warp.start
    cut = Warp((x1 - x0, y1 - y0), lambda p: back(p + shift), lambda p: start(p) - shift)
    return shots.each(lambda p: np.ascontiguousarray(p[y0:y1, x0:x1])), cut


def _visible(corners: Points, size: tuple[int, int]) -> float:
    """Share of a box that lies inside the picture."""
    low, high = corners.min(axis=0), corners.max(axis=0)
    seen = np.clip(high, 0, size) - np.clip(low, 0, size)
    return float(np.prod(seen) / max(np.prod(high - low), 1e-9))


def _reading_order(entries: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """By rows from top to bottom, in each row from left to right."""
    boxes = [np.array(e["corners"], float) for e in entries]
    order = sorted(range(len(entries)), key=lambda k: float(boxes[k][:, 1].mean()))
    rows: list[list[int]] = []
    for k in order:
        middle = float(boxes[k][:, 1].mean())
        if rows and middle <= float(boxes[rows[-1][0]][:, 1].max()):
            rows[-1].append(k)
        else:
            rows.append([k])
    return [entries[k] for row in rows for k in sorted(row, key=lambda k: float(boxes[k][:, 0].mean()))]


def _chart_truth(drawn: Drawn, warp: Warp, corners: Points) -> dict[str, Any]:
    """One diagram in the picture; what is cut off or too small to read is marked."""
    chart = drawn.chart
    gap = float(np.hypot(*(corners[1] - corners[0]))) / (chart.strings - 1)
    row = float(np.hypot(*(corners[3] - corners[0]))) / chart.spaces
    sheet_gap = float(np.hypot(*np.subtract(drawn.corners[1], drawn.corners[0]))) / (chart.strings - 1)
    digits, label, side = (c * gap / sheet_gap for c in (drawn.digit_cap, drawn.label_cap, drawn.side_cap))
    ink = warp.forth(np.array(_box_corners(drawn.ink), float))
    cut = _visible(corners, warp.size) < 0.999 or _visible(ink, warp.size) < 0.985
    blotted = "crossed" in chart.extras and gap < _STRIKE_GAP
    if min(gap, row) < _TOO_SMALL or cut or blotted or side < _SMALL_DIGIT:
        chart = replace(chart, hard=True)
    if digits < _SMALL_DIGIT or drawn.digit_cap < _NO_DIGIT:
        chart = replace(chart, fingers_sure=False)
    if label < _SMALL_DIGIT:
        chart = replace(chart, label_scored=False)
    return chart.truth([(float(x), float(y)) for x, y in corners])


def _system_truth(system: System, warp: Warp) -> dict[str, Any]:
    corners = warp.forth(np.array(system.corners, float))
    events = []
    if system.events:
        at = warp.forth(np.array([e.at for e in system.events], float))
        for (x, _), event in zip(at, system.events, strict=True):
            notes = [{"string": n.line, "fret": n.fret} for n in event.notes]
            events.append({"x": round(float(x), 1), "notes": notes})
    bars = warp.forth(np.array(system.bars, float))[:, 0] if system.bars else np.array([])
    out: dict[str, Any] = {
        "corners": [[round(float(x), 1), round(float(y), 1)] for x, y in corners],
        "line_count": system.lines,
        "events": sorted(events, key=lambda e: float(e["x"])),
        "bar_lines": sorted(round(float(x), 1) for x in bars),
    }
    sheet_high = float(np.hypot(*np.subtract(system.corners[3], system.corners[0])))
    cap = system.cap * float(np.hypot(*(corners[3] - corners[0]))) / sheet_high
    if system.hard or cap < _SMALL_DIGIT or _visible(corners, warp.size) < 0.999:
        out["hard"] = True
    return out


def page_truth(draft: Draft, warp: Warp, kind: str, source: str) -> dict[str, Any]:
    """One line of the truth file."""
    diagrams, ignore = [], [warp.forth(np.array(q, float)) for q in draft.ignore]
    for drawn in draft.charts:
        q = warp.forth(np.array(drawn.corners, float))
        seen = _visible(q, warp.size)
        if seen > 0.5:
            diagrams.append(_chart_truth(drawn, warp, q))
        elif seen > 0:
            ignore.append(q)
    tabs = [_system_truth(s, warp) for s in draft.systems]
    kept = [q for q in ignore if _visible(q, warp.size) > 0]
    return {
        "source": source,
        "page": 1,
        "width": warp.size[0],
        "height": warp.size[1],
        "kind": kind,
        "writer": draft.writer,
        "diagrams": _reading_order(diagrams),
        "tabs": [t for t in tabs if _visible(np.array(t["corners"], float), warp.size) > 0.5],
        "ignore": [[[round(float(x), 1), round(float(y), 1)] for x, y in q] for q in kept],
    }


def glare(pixels: Pixels, dice: Dice) -> Pixels:
    """Lamps mirrored in a shiny board."""
    high, wide = pixels.shape[:2]
    shine = np.zeros((high // 8 + 1, wide // 8 + 1), np.float32)
    for _ in range(dice.whole(1, 3)):
        centre = (int(dice.between(0, wide / 8)), int(dice.between(0, high / 8)))
        axes = (int(wide / 8 * dice.between(0.03, 0.1)), int(high / 8 * dice.between(0.02, 0.07)))
        cv2.ellipse(shine, centre, axes, dice.between(0, 180), 0, 360, dice.between(30, 75), -1)
    shine = cv2.GaussianBlur(shine, (0, 0), wide / 8 / 25)
    return np.asarray(np.clip(pixels + cv2.resize(shine, (wide, high))[..., None], 0, 255), np.uint8)
