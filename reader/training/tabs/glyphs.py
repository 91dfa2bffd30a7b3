"""Numbers and words as ink: print and handwriting fonts, own strokes, real handwritten digits.

Everything comes back as a coverage mask (uint8, 0 blank to 255 full ink), cut
tight to the ink, so that a caller only has to stamp it where it belongs.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ImageFont

from reader.training.tabs.digit_strokes import STROKES

Mask = NDArray[np.uint8]
WEAK = 0.07
"""How often one stroke of a digit is paler than the others: a pen skips, a copier loses it."""


@dataclass(frozen=True)
class Faces:
    """The font files and real digits at hand.

    Parameters
    ----------
    hands, prints : tuple of str
        Paths of handwriting and print fonts.
    digits : tuple of arrays
        Real handwritten digits by value: index 0–9, each (count, 28, 28) uint8.
    """

    hands: tuple[str, ...]
    prints: tuple[str, ...]
    digits: tuple[NDArray[np.uint8], ...]


def open_faces(folder: Path) -> Faces:
    """Find the fonts under ``hands`` and ``prints`` and the digits in ``digits.npz``."""
    found = [tuple(sorted(str(p) for p in (folder / kind).glob("*.ttf"))) for kind in ("hands", "prints")]
    if not all(found):
        raise FileNotFoundError(f"{folder} holds no fonts: run python -m reader.training.fonts first.")
    store = np.load(folder / "digits.npz")
    pictures, values = store["pictures"], store["values"]
    usable = tuple(path for path in found[0] if digit_ratio(path) > 0.2)
    return Faces(usable, found[1], tuple(pictures[values == v] for v in range(10)))


@lru_cache(maxsize=4096)
def _font(path: str, size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(path, size)


@lru_cache(maxsize=512)
def digit_ratio(path: str) -> float:
    """Height of the digit 0 over the nominal size of a font."""
    mask = font_mask(path, "0", 80)
    return float(mask.shape[0]) / 80.0


@lru_cache(maxsize=60000)
def font_mask(path: str, text: str, size: int) -> Mask:
    """Ink of a text at a nominal font size, cut tight; shared between callers, so not to be written to."""
    raw = _font(path, max(4, size)).getmask(text, mode="L")
    if 0 in raw.size:
        return np.zeros((1, 1), np.uint8)
    mask = np.asarray(raw, dtype=np.uint8).reshape(raw.size[1], raw.size[0])
    return trimmed(mask)


def trimmed(mask: Mask) -> Mask:
    """The part of a mask that holds ink."""
    rows, cols = np.flatnonzero(mask.max(axis=1)), np.flatnonzero(mask.max(axis=0))
    if not len(rows):
        return np.zeros((1, 1), np.uint8)
    return mask[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1]


def smoothed(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """A polyline with its corners cut twice (Chaikin's subdivision); the ends stay."""
    for _ in range(2):
        a, b = points[:-1], points[1:]
        cut = np.empty((2 * len(a), 2))
        cut[0::2], cut[1::2] = 0.75 * a + 0.25 * b, 0.25 * a + 0.75 * b
        points = np.vstack([points[:1], cut, points[-1:]])
    return points


@dataclass(frozen=True)
class Writer:
    """One hand: which variant of each digit it writes, how slanted, wide and shaky, how unevenly it presses.

    ``nought`` is how tall its noughts are against its other digits.
    """

    variants: dict[str, int]
    slant: float
    width: float
    shake: float
    loose: bool
    pressure: float
    bend: float
    bold: float
    nought: float


def sample_writer(rng: random.Random) -> Writer:
    """Draw a hand by lot."""
    return Writer(
        {c: rng.randrange(len(v)) for c, v in STROKES.items()},
        rng.gauss(0.05, 0.14),
        rng.uniform(0.75, 1.45),
        rng.uniform(0.01, 0.05),
        rng.random() < 0.25,
        rng.uniform(0.1, 0.5) if rng.random() < 0.4 else 0.0,
        rng.uniform(0.01, 0.06) if rng.random() < 0.6 else 0.0,
        rng.uniform(0.25, 0.8),
        rng.uniform(0.55, 1.0) if rng.random() < 0.3 else 1.0,
    )


def stroke_mask(text: str, height: float, pen: float, writer: Writer, rng: random.Random) -> Mask:
    """Digits (and x) written in strokes ``height`` px tall with a pen ``pen`` px wide, cut tight."""
    advance, lines, press = 0.0, [], []
    for char in text:
        variants = STROKES[char]
        index = rng.randrange(len(variants)) if writer.loose else writer.variants[char]
        right, tall = 0.0, writer.nought if char == "0" else 1.0
        weak = rng.randrange(len(variants[index])) if len(variants[index]) > 1 and rng.random() < WEAK else -1
        for stroke, (smooth, points) in enumerate(variants[index]):
            press.append(rng.uniform(0.25, 0.6) if stroke == weak else 1.0)
            p = (np.array(points, dtype=np.float64) - 0.5) * tall + 0.5
            p += np.array([rng.gauss(0, writer.shake) for _ in range(p.size)]).reshape(p.shape)
            p = smoothed(p) if smooth and len(p) > 2 else p
            right = max(right, float(p[:, 0].max()))
            lines.append(
                np.column_stack(
                    [(p[:, 0] * writer.width + advance - writer.slant * (p[:, 1] - 0.5)) * height, p[:, 1] * height]
                )
            )
        advance += right * writer.width + rng.uniform(-0.02, 0.26) + pen / height * 0.6
    return polyline_mask(lines, pen, writer.pressure, rng, press)


def polyline_mask(
    lines: list[NDArray[np.float64]],
    pen: float,
    pressure: float,
    rng: random.Random,
    press: list[float] | None = None,
) -> Mask:
    """Strokes drawn with a round pen that is pressed now more, now less, cut tight; ``press`` is how dark each is."""
    everything = np.vstack(lines)
    low = everything.min(axis=0) - 1.5 * pen - 2
    size = np.ceil(everything.max(axis=0) - low + 1.5 * pen + 3).astype(int)
    mask = np.zeros((size[1], size[0]), np.uint8)
    value = int(255 * max(0.35, min(1.0, pen)))
    fixed = [np.round((line - low) * 16).astype(np.int32) for line in lines]
    shades = [int(value * p) for p in press] if press else [value] * len(fixed)
    for line, shade in sorted(zip(fixed, shades, strict=True), key=lambda pair: pair[1]):
        if pressure <= 0 or pen < 1.5:
            cv2.polylines(mask, [line], False, shade, max(1, round(pen)), cv2.LINE_AA, 4)
            continue
        step = max(1, len(line) // 4)
        for k in range(0, len(line) - 1, step):
            here = pen * (1 + pressure * rng.uniform(-1, 1))
            cv2.polylines(mask, [line[k : k + step + 1]], False, shade, max(1, round(here)), cv2.LINE_AA, 4)
    return trimmed(mask)


def real_mask(text: str, height: float, writer: Writer, faces: Faces, rng: random.Random) -> Mask:
    """Real handwritten digits set side by side, scaled to ``height`` px, as bold as the writer's pen."""
    parts = []
    for char in text:
        bank = faces.digits[int(char)]
        part = trimmed(bank[rng.randrange(len(bank))])
        parts.append(inked(resized(part, 48 / part.shape[0]), writer.bold))
    return joined([resized(p, height / p.shape[0]) for p in parts], height, rng)


def inked(mask: Mask, bold: float) -> Mask:
    """A soft mask with clear edges: 0 keeps all of its ink, 1 only the core."""
    steep = (mask.astype(np.float32) / 255 - 0.1 - 0.75 * bold) * 5 + 0.5
    out = np.asarray(np.clip(steep * 255, 0, 255), np.uint8)
    return out if int(out.max()) > 200 else mask


def joined(parts: list[Mask], height: float, rng: random.Random) -> Mask:
    """Digits side by side on one baseline, close enough to touch now and then."""
    gaps = [round(height * rng.uniform(-0.06, 0.2)) for _ in parts[1:]]
    lefts = np.concatenate([[0], np.cumsum([p.shape[1] + gap for p, gap in zip(parts, gaps, strict=False)])]).astype(
        int
    )
    lefts -= lefts.min()
    tall, wide = max(p.shape[0] for p in parts), max(x + p.shape[1] for x, p in zip(lefts, parts, strict=True))
    out = np.zeros((tall, wide), np.uint8)
    for x, p in zip(lefts, parts, strict=True):
        place = out[tall - p.shape[0] :, x : x + p.shape[1]]
        np.maximum(place, p, out=place)
    return out


def bolder(mask: Mask, more: float) -> Mask:
    """The same writing with strokes that are so many pixels wider on each side."""
    side = max(2, round(2 * more))
    out = cv2.copyMakeBorder(mask, side, side, side, side, cv2.BORDER_CONSTANT, value=0)
    return np.asarray(cv2.dilate(out, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side + 1, side + 1))), np.uint8)


def bent(mask: Mask, amount: float, rng: random.Random) -> Mask:
    """A mask pulled about by a smooth random field, ``amount`` of its height at most or so."""
    h, w = mask.shape
    pull = np.array([rng.gauss(0, amount * h) for _ in range(24)], np.float32).reshape(2, 4, 3)
    pad = int(2 * amount * h) + 1
    ys, xs = np.mgrid[-pad : h + pad, -pad : w + pad].astype(np.float32)
    size = (w + 2 * pad, h + 2 * pad)
    map_x, map_y = (g + cv2.resize(p, size, interpolation=cv2.INTER_CUBIC) for g, p in zip((xs, ys), pull, strict=True))
    return trimmed(np.asarray(cv2.remap(mask, map_x, map_y, cv2.INTER_LINEAR, borderValue=0), np.uint8))


def resized(mask: Mask, scale: float) -> Mask:
    """A mask scaled without aliasing."""
    size = (max(1, round(mask.shape[1] * scale)), max(1, round(mask.shape[0] * scale)))
    return np.asarray(cv2.resize(mask, size, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC), np.uint8)


def turned(mask: Mask, degrees: float, slant: float) -> Mask:
    """A mask rotated and slanted about its centre, cut tight."""
    h, w = mask.shape
    reach = int(np.hypot(h, w) + abs(slant) * h) + 2
    turn = cv2.getRotationMatrix2D((w / 2, h / 2), degrees, 1.0)
    lean = np.array([[1, -slant, slant * h / 2], [0, 1, 0], [0, 0, 1]])
    both = turn @ lean
    both[:, 2] += (reach / 2 - w / 2, reach / 2 - h / 2)
    return trimmed(np.asarray(cv2.warpAffine(mask, both, (reach, reach)), np.uint8))
