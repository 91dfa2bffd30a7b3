"""Ink layers on paper: what a pen leaves, and what light, camera, scanner and copier make of it."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.uint8]
Picture = NDArray[np.uint8]
Line = NDArray[np.float64]
Colour = tuple[int, int, int]

_NOISE = np.random.default_rng(7).standard_normal((1400, 1400, 3)).astype(np.float32)


@dataclass
class Canvas:
    """Coverage masks of several pens on one sheet; later pens lie on top.

    Parameters
    ----------
    width, height : int
        Pixels.
    layers : dict of pen name to (colour, mask)
    """

    width: int
    height: int
    layers: dict[str, tuple[Colour, Mask]] = field(default_factory=dict)

    def layer(self, pen: str, colour: Colour = (0, 0, 0)) -> Mask:
        """The mask of a pen; the first call settles its colour."""
        if pen not in self.layers:
            self.layers[pen] = (colour, np.zeros((self.height, self.width), np.uint8))
        return self.layers[pen][1]


def stamp(layer: Mask, mask: Mask, x: float, y: float, strength: float = 1.0) -> None:
    """Press a mask onto a layer with its centre at (x, y)."""
    h, w = mask.shape
    left, top = round(x - w / 2), round(y - h / 2)
    x0, y0 = max(0, left), max(0, top)
    x1, y1 = min(layer.shape[1], left + w), min(layer.shape[0], top + h)
    if x1 <= x0 or y1 <= y0:
        return
    part = mask[y0 - top : y1 - top, x0 - left : x1 - left]
    if strength < 1:
        part = (part * strength).astype(np.uint8)
    np.maximum(layer[y0:y1, x0:x1], part, out=layer[y0:y1, x0:x1])


def erase(layer: Mask, x: float, y: float, w: float, h: float) -> None:
    """Clear a box centred at (x, y)."""
    x0, x1 = max(0, round(x - w / 2)), round(x + w / 2)
    y0, y1 = max(0, round(y - h / 2)), round(y + h / 2)
    if x1 > 0 and y1 > 0:
        layer[y0:y1, x0:x1] = 0


def draw_line(layer: Mask, points: Line, pen: float, strength: float = 1.0, closed: bool = False) -> None:
    """A polyline of (x, y) points with a pen ``pen`` px wide; pens thinner than a pixel get fainter."""
    value = int(255 * strength * min(1.0, max(0.22, pen)))
    fixed = np.round(np.asarray(points) * 16).astype(np.int32)
    cv2.polylines(layer, [fixed], closed, value, max(1, round(pen)), cv2.LINE_AA, 4)


def ellipse(x: float, y: float, a: float, b: float, start: float = 0.0, end: float = 360.0) -> Line:
    """Points of an ellipse or an arc of it, in degrees, clockwise on the page."""
    t = np.radians(np.linspace(start, end, max(6, int(abs(end - start) / 18))))
    return np.column_stack([x + a * np.cos(t), y + b * np.sin(t)])


def wobble(length: int, amplitude: float, rng: random.Random, knots: int = 6) -> NDArray[np.float64]:
    """A smooth random curve around zero, ``length`` samples."""
    if amplitude <= 0:
        return np.zeros(length)
    heights = [rng.gauss(0, amplitude) for _ in range(max(2, knots))]
    at = np.linspace(0, len(heights) - 1, length)
    low = np.clip(at.astype(int), 0, len(heights) - 2)
    part = at - low
    part = part * part * (3 - 2 * part)
    ys = np.asarray(heights)
    return np.asarray(ys[low] * (1 - part) + ys[low + 1] * part)


# ---------------------------------------------------------------- paper and ink


@dataclass(frozen=True)
class Paper:
    """How a sheet looks and is caught: colours, light, optics, compression.

    ``grain`` is the tooth of the paper and ``tooth`` its size in px, ``worn`` how far ink has rubbed off in patches,
    ``copied`` a photocopy, ``shake`` the length in px and the direction in degrees that the camera moved through.
    """

    base: Colour
    dark: bool
    grain: float
    tooth: float
    light: float
    blur: float
    noise: float
    jpeg: int | None
    copied: bool
    worn: float
    grey: bool
    shake: tuple[float, float]


PAPERS: dict[str, dict[str, tuple[float, float]]] = {
    # kind: light fall-off, blur in px, noise in grey levels, jpeg quality (low, high)
    "screen": {"light": (0, 0), "blur": (0, 0.4), "noise": (0, 1), "jpeg": (70, 100)},
    "scan": {"light": (0, 0.08), "blur": (0.2, 0.9), "noise": (0, 6), "jpeg": (40, 95)},
    "photo": {"light": (0.1, 0.6), "blur": (0.3, 1.5), "noise": (1, 10), "jpeg": (30, 92)},
    "board": {"light": (0.1, 0.5), "blur": (0.3, 1.4), "noise": (1, 10), "jpeg": (30, 92)},
}


def sample_paper(rng: random.Random, kind: str, gap: float) -> Paper:
    """Draw paper, light and optics of a kind by lot; ``gap`` px between the lines bounds the blur."""
    ranges = {k: rng.uniform(*v) for k, v in PAPERS[kind].items()}
    dark = rng.random() < {"screen": 0.06, "board": 0.25}.get(kind, 0.01)
    if dark:
        level = rng.randint(5, 70)
        base = (level, level + rng.randint(-4, 18), level + rng.randint(-4, 12))
    elif kind == "screen" and rng.random() < 0.7:
        base = (255, 255, 255)
    else:
        level = rng.randint(165, 255)
        base = (level, level - rng.randint(0, 14), level - rng.randint(-6, 40))
    clipped = tuple(int(min(255, max(0, c))) for c in base)
    return Paper(
        base=(clipped[0], clipped[1], clipped[2]),
        dark=dark,
        grain=0.0 if kind == "screen" else rng.uniform(0.4, 1.4) if rng.random() < 0.3 else rng.uniform(0, 0.5),
        tooth=rng.choice((1.0, rng.uniform(1.0, 1.0 + gap / 12))),
        light=ranges["light"],
        blur=min(ranges["blur"] * max(1.0, gap / 18), gap * 0.065),
        noise=ranges["noise"] * min(1.0, gap / 12),
        jpeg=int(max(ranges["jpeg"], 70 - 2 * gap)) if rng.random() < 0.6 else None,
        worn=rng.uniform(0.3, 1.3) if rng.random() < 0.1 else 0.0,
        copied=kind == "scan" and rng.random() < 0.22,
        grey=kind == "scan" and rng.random() < 0.4,
        shake=(gap * rng.uniform(0.08, 0.2) if kind == "photo" and rng.random() < 0.12 else 0.0, rng.uniform(0, 180)),
    )


def ink_colour(rng: random.Random, paper: Colour, strong: bool = False) -> Colour:
    """Black, pencil grey, blue, red, green, orange or anything that shows on the paper."""
    dark = sum(paper) < 300
    for _ in range(6):
        lot = rng.random()
        if lot < (0.7 if strong else 0.45):
            level = rng.randint(0, 60)
            colour = (level, level, level + rng.randint(0, 12))
        elif lot < 0.6:
            level = rng.randint(60, 130)
            colour = (level, level, level)
        elif lot < 0.75:
            colour = (rng.randint(0, 70), rng.randint(20, 140), rng.randint(140, 255))
        elif lot < 0.86:
            colour = (rng.randint(170, 255), rng.randint(0, 90), rng.randint(0, 90))
        elif lot < 0.92:
            colour = (rng.randint(200, 250), rng.randint(110, 170), rng.randint(20, 90))
        else:
            colour = (rng.randint(0, 170), rng.randint(0, 170), rng.randint(0, 170))
        if dark:
            colour = (255 - colour[0], 255 - colour[1], 255 - colour[2])
        if max(abs(a - b) for a, b in zip(colour, paper, strict=True)) > 90:
            return colour
    return (245, 245, 245) if dark else (15, 15, 15)


def grain_patch(height: int, width: int, rng: random.Random) -> NDArray[np.float32]:
    """A random cut of one fixed field of normal noise, (height, width, 3)."""
    top, left = rng.randint(0, max(0, 1400 - height)), rng.randint(0, max(0, 1400 - width))
    cut = _NOISE[top : top + height, left : left + width]
    if cut.shape[:2] != (height, width):
        cut = np.resize(cut, (height, width, 3))
    return cut


def lit(width: int, height: int, fall: float, rng: random.Random) -> NDArray[np.float32]:
    """A smooth field of light, brightest 1, with a soft shadow edge now and then."""
    coarse = np.array([[1 - fall * rng.random() * 0.7 for _ in range(4)] for _ in range(3)], np.float32)
    field_ = cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC)
    if fall > 0.15 and rng.random() < 0.35:
        angle, at = rng.uniform(0, 2 * np.pi), rng.uniform(-0.4, 0.4)
        ys, xs = np.mgrid[0:9, 0:9].astype(np.float32) / 8 - 0.5
        side = (np.cos(angle) * xs + np.sin(angle) * ys - at) * rng.uniform(3, 25)
        shade = 1 - rng.uniform(0.15, 0.5) / (1 + np.exp(-side))
        field_ = field_ * cv2.resize(shade.astype(np.float32), (width, height), interpolation=cv2.INTER_CUBIC)
    return np.clip(np.asarray(field_, np.float32), 0.05, 1.1)


def composed(canvas: Canvas, paper: Paper, rng: random.Random, fade: float = 1.0) -> Picture:
    """The sheet with its inks, before the camera."""
    shape = (canvas.height, canvas.width, 3)
    picture, solid = np.full(shape, paper.base, np.uint8), np.empty(shape, np.uint8)
    rough = None
    if paper.grain > 0:
        side = [max(2, round(s / paper.tooth)) for s in (canvas.height, canvas.width)]
        noise = np.abs(np.ascontiguousarray(grain_patch(side[0], side[1], rng)[:, :, 0]))
        if paper.tooth > 1:
            noise = np.asarray(cv2.resize(noise, (canvas.width, canvas.height), interpolation=cv2.INTER_LINEAR))
        rough = np.maximum(1 - 0.7 * paper.grain * np.minimum(noise, 1), 0)
    if paper.worn > 0:
        small = grain_patch(max(2, canvas.height // 4), max(2, canvas.width // rng.randint(5, 20)), rng)[:, :, 0]
        field_ = cv2.resize(np.ascontiguousarray(small), (canvas.width, canvas.height), interpolation=cv2.INTER_LINEAR)
        kept = np.clip((field_ + 2 - paper.worn) * 3, 0, 1)
        rough = kept if rough is None else rough * kept
    for colour, mask in canvas.layers.values():
        cover = mask.astype(np.float32) * np.float32(fade / 255)
        if rough is not None:
            cover *= rough
        solid[:] = colour
        picture = np.asarray(cv2.blendLinear(picture, solid, 1 - cover, cover), np.uint8)
    return picture


def shaken_by(picture: Picture, length: float, degrees: float) -> Picture:
    """The picture as a camera sees it that moves ``length`` px in a direction while it looks."""
    side = 2 * int(np.ceil(length / 2)) + 1
    kernel, middle = np.zeros((side, side), np.uint8), side // 2
    reach = np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))]) * length / 2
    a, b = (np.round((middle + sign * reach) * 16).astype(int) for sign in (-1, 1))
    cv2.line(kernel, (int(a[0]), int(a[1])), (int(b[0]), int(b[1])), 255, 1, cv2.LINE_AA, 4)
    weights = kernel.astype(np.float32)
    return np.asarray(cv2.filter2D(picture, -1, weights / max(1.0, float(weights.sum()))), np.uint8)


def caught(picture: Picture, paper: Paper, rng: random.Random) -> Picture:
    """The sheet as camera, scanner or copier delivers it."""
    h, w = picture.shape[:2]
    out = picture
    if paper.blur > 0.25:
        out = np.asarray(cv2.GaussianBlur(out, (0, 0), paper.blur), np.uint8)
    if paper.shake[0] > 1.5:
        out = shaken_by(out, *paper.shake)
    if paper.light > 0:
        light = lit(w, h, paper.light, rng)
        out = np.asarray(cv2.multiply(out, cv2.merge([light, light, light]), dtype=cv2.CV_8U), np.uint8)
    if paper.grey or paper.copied:
        out = np.asarray(cv2.merge([cv2.cvtColor(out, cv2.COLOR_RGB2GRAY)] * 3), np.uint8)
    if paper.noise > 0.3 or paper.copied:
        out = _speckled(out, paper, rng)
    elif rng.random() < 0.3:
        slope = rng.uniform(0.5, 1.2)
        out = np.asarray(cv2.convertScaleAbs(out, alpha=slope, beta=max(0.0, 128 - 128 * slope)), np.uint8)
    if paper.jpeg is not None:
        good, packed = cv2.imencode(".jpg", out, [cv2.IMWRITE_JPEG_QUALITY, paper.jpeg])
        if good:
            out = np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR), np.uint8)
    return out


def _speckled(picture: Picture, paper: Paper, rng: random.Random) -> Picture:
    """Noise of the sensor, or toner: speckles, blotches and the copier's steep curve."""
    h, w = picture.shape[:2]
    values = picture.astype(np.float32)
    cv2.scaleAdd(grain_patch(h, w, rng), paper.noise, values, dst=values)
    if not paper.copied:
        return np.asarray(cv2.add(values, 0.0, dtype=cv2.CV_8U), np.uint8)
    level = float(np.percentile(values[::6, ::6, 0], 70))
    middle = level * rng.uniform(0.5, 0.88)
    room = 0.4 * (level - middle)
    speckle = np.ascontiguousarray(grain_patch(h, w, rng)[:, :, 0]) * rng.uniform(0, room)
    side = rng.randint(3, 24)
    coarse = np.ascontiguousarray(grain_patch(max(2, h // side), max(2, w // side), rng)[:, :, 0])
    speckle += cv2.resize(coarse, (w, h), interpolation=cv2.INTER_LINEAR) * rng.uniform(0, room)
    slope = rng.uniform(2, 12)
    steep = (values[:, :, 0] + speckle - middle) * slope + 128
    return np.asarray(cv2.merge([cv2.add(steep, 0.0, dtype=cv2.CV_8U)] * 3), np.uint8)
