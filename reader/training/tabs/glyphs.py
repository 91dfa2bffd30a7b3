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
    """One hand: which variant of each digit it writes, how slanted, wide and shaky."""

    variants: dict[str, int]
    slant: float
    width: float
    shake: float
    loose: bool


def sample_writer(rng: random.Random) -> Writer:
    """Draw a hand by lot."""
    return Writer(
        {c: rng.randrange(len(v)) for c, v in STROKES.items()},
        rng.gauss(0.05, 0.14),
        rng.uniform(0.75, 1.45),
        rng.uniform(0.01, 0.05),
        rng.random() < 0.25,
    )


def stroke_mask(text: str, height: float, pen: float, writer: Writer, rng: random.Random) -> Mask:
    """Digits (and x) written in strokes ``height`` px tall with a pen ``pen`` px wide, cut tight."""
    advance, lines = 0.0, []
    for char in text:
        variants = STROKES[char]
        index = rng.randrange(len(variants)) if writer.loose else writer.variants[char]
        right = 0.0
        for smooth, points in variants[index]:
            p = np.array(points, dtype=np.float64)
            p += np.array([rng.gauss(0, writer.shake) for _ in range(p.size)]).reshape(p.shape)
            p = smoothed(p) if smooth and len(p) > 2 else p
            right = max(right, float(p[:, 0].max()))
            lines.append(
                np.column_stack(
                    [(p[:, 0] * writer.width + advance - writer.slant * (p[:, 1] - 0.5)) * height, p[:, 1] * height]
                )
            )
        advance += right * writer.width + rng.uniform(0.06, 0.28) + pen / height * 0.6
    return polyline_mask(lines, pen)


def polyline_mask(lines: list[NDArray[np.float64]], pen: float) -> Mask:
    """Strokes drawn with a round pen, cut tight."""
    everything = np.vstack(lines)
    low = everything.min(axis=0) - pen - 2
    size = np.ceil(everything.max(axis=0) - low + pen + 3).astype(int)
    mask = np.zeros((size[1], size[0]), np.uint8)
    faint = min(1.0, pen)
    fixed = [np.round((line - low) * 16).astype(np.int32) for line in lines]
    cv2.polylines(mask, fixed, False, int(255 * max(0.35, faint)), max(1, round(pen)), cv2.LINE_AA, 4)
    return trimmed(mask)


def real_mask(text: str, height: float, faces: Faces, rng: random.Random) -> Mask:
    """Real handwritten digits set side by side, scaled to ``height`` px."""
    parts = []
    for char in text:
        bank = faces.digits[int(char)]
        parts.append(trimmed(bank[rng.randrange(len(bank))]))
    scale = height / max(p.shape[0] for p in parts)
    sized = [resized(p, scale) for p in parts]
    tall = max(p.shape[0] for p in sized)
    gap = np.zeros((tall, max(1, round(height * rng.uniform(0.02, 0.15)))), np.uint8)
    out: list[Mask] = []
    for p in sized:
        lead = np.zeros((tall - p.shape[0], p.shape[1]), np.uint8)
        out += [np.vstack([lead, p]), gap]
    return np.hstack(out[:-1])


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
