"""Letters, digits and signs: open fonts, an own stroke alphabet with variants, real handwritten digits."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from reader.training import fonts
from reader.training.alphabet import ALPHABET
from reader.training.strokes import Mask, Points, Rng, draw_pressed, smooth, wobble

_FALLBACK = {"♯": "#", "♭": "b"}
_SIZE_STEP = np.log(1.04)
_TRIES = 3
"""How many times a hand draws a sign of one size anew."""


@lru_cache(maxsize=1)
def font_files() -> tuple[tuple[Path, ...], tuple[Path, ...], tuple[Path, ...]]:
    """Handwriting fonts, printing fonts, and fonts that have every sign."""
    hands = tuple(sorted((fonts.FOLDER / "hands").glob("*.ttf")))
    prints = tuple(sorted((fonts.FOLDER / "prints").glob("*.ttf")))
    signs = tuple(sorted(fonts.FOLDER.glob("signs*.ttf")))
    return hands, prints, signs


@lru_cache(maxsize=1)
def real_digits() -> dict[int, NDArray[np.uint8]]:
    """The real handwritten digits by value, or nothing where they were not fetched."""
    path = fonts.FOLDER / "digits.npz"
    if not path.exists():
        return {}
    data = np.load(path)
    return {d: data["pictures"][data["values"] == d] for d in range(10)}


@lru_cache(maxsize=400)
def _font(path: str, size: int) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(path, size)


@lru_cache(maxsize=400)
def _has(path: str, sign: str) -> bool:
    font = _font(path, 24)
    blank = bytes(font.getmask("\uffff"))
    return bytes(font.getmask(sign)) not in (blank, b"")


class Hand:
    """How one writer or one machine letters a page.

    Parameters
    ----------
    kind : 'font', 'print' or 'strokes'
    """

    def __init__(self, kind: str, rng: Rng) -> None:
        self.kind = kind
        hands, prints, signs = font_files()
        pool = prints if kind == "print" else hands
        self.path = str(pool[int(rng.integers(len(pool)))]) if pool else None
        self.signs = str(signs[int(rng.integers(len(signs)))]) if signs else self.path
        self.variant = {c: int(rng.integers(len(v))) for c, v in ALPHABET.items()}
        self.slant = float(rng.normal(0, 0.12)) if kind != "print" else float(rng.choice([0, 0, 0, 0.2]))
        self.aspect = float(rng.uniform(0.75, 1.2))
        self.spacing = float(rng.uniform(0.08, 0.3))
        self.shake = float(rng.uniform(0.01, 0.05))
        self.pen = float(rng.uniform(0.06, 0.16))
        self._drawn: dict[tuple[str, float, float], list[tuple[Mask, float]]] = {}
        self.real_digit_share = float(rng.choice([0.0, 0.35, 1.0], p=[0.3, 0.3, 0.4])) if kind == "strokes" else 0.0
        self.real_weight = float(rng.uniform(-0.35, 0.55))

    def knows(self, text: str) -> bool:
        """Whether this hand can write the text; others' letters it draws as an ``o``."""
        return self.lettered or all(c == " " or c in ALPHABET or _FALLBACK.get(c) in ALPHABET for c in text)

    @property
    def lettered(self) -> bool:
        """Whether the letters come from a font."""
        return self.kind != "strokes" and self.path is not None

    def stamp(self, text: str, height: float, rng: Rng, pen: float | None = None) -> Mask:
        """A coverage stamp of one line of text whose capitals are about ``height`` pixels high."""
        if not self.lettered:
            return self._stroke_stamp(text, height, rng, pen)
        return self._font_stamp(text, height)

    def _font_stamp(self, text: str, height: float) -> Mask:
        size = max(6, round(height * 1.4))
        parts: list[tuple[str, ImageFont.FreeTypeFont]] = []
        for piece in [text] if text.isascii() else text:
            path = self.path
            if not piece.isascii() and not (path and _has(path, piece)):
                path = self.signs
            parts.append((piece, _font(str(path), size)))
        widths = [font.getlength(piece) for piece, font in parts]
        image = Image.new("L", (int(sum(widths)) + size, int(size * 1.9)))
        pen = ImageDraw.Draw(image)
        x = size * 0.25
        for (piece, font), width in zip(parts, widths, strict=True):
            pen.text((x, size * 1.35), piece, fill=255, font=font, anchor="ls")
            x += width
        out = np.asarray(image)
        if abs(self.slant) > 0.03:
            m = np.array([[1, self.slant, -self.slant * out.shape[0] / 2], [0, 1, 0]])
            out = cv2.warpAffine(out, m, (out.shape[1], out.shape[0]))
        return trim(out)

    def _stroke_stamp(self, text: str, height: float, rng: Rng, pen: float | None) -> Mask:
        # sizes in steps of about 4 %, so that signs once drawn serve again
        height = float(1.04 ** round(np.log(height) / _SIZE_STEP))
        width = round(2 * max(1.0, height * self.pen if pen is None else pen)) / 2
        pad = round(height * 0.6)
        glyphs: list[tuple[int, Mask]] = []
        x = float(pad)
        digits = real_digits()
        for sign in text:
            if sign == " ":
                x += height * 0.45
                continue
            if sign.isdigit() and digits and rng.random() < self.real_digit_share:
                glyph, reach = self._real_glyph(digits[int(sign)], pad, height, rng)
            else:
                glyph, reach = self._stroke_glyph(sign, height, width, rng)
            glyphs.append((round(x) - pad, glyph))
            x += reach + self.spacing * height
        image = np.zeros((int(height * 2.4), max([2] + [at + g.shape[1] for at, g in glyphs])), np.uint8)
        for at, glyph in glyphs:
            view = image[:, at : at + glyph.shape[1]]
            np.maximum(view, glyph, out=view)
        return trim(image)

    def _stroke_glyph(self, sign: str, height: float, width: float, rng: Rng) -> tuple[Mask, float]:
        """One sign on a strip with a margin at the left and above, and how far it reaches from the margin."""
        known = self._drawn.setdefault((sign, height, width), [])
        if len(known) >= _TRIES:
            return known[int(rng.integers(_TRIES))]
        pad = round(height * 0.6)
        image = np.zeros((int(height * 2.4), int(height * 1.9) + pad), np.uint8)
        variants = ALPHABET.get(sign) or ALPHABET.get(_FALLBACK.get(sign, "")) or ALPHABET["o"]
        right = 0.0
        for kind, points in variants[self.variant.get(sign, 0) % len(variants)]:
            p: Points = np.asarray(points, float) + rng.standard_normal((len(points), 2)) * self.shake
            if kind == "c":
                path = smooth(p)
            else:
                path = np.vstack([wobble(p[i : i + 2], self.shake * 0.4, rng, 6) for i in range(len(p) - 1)])
            path = path * [self.aspect, 1]
            path[:, 0] += (1 - path[:, 1]) * self.slant
            right = max(right, float(path[:, 0].max()))
            draw_pressed(image, path * height + pad, width, rng, 0.12)
        known.append((image, right * height))
        return known[-1]

    def _real_glyph(self, pool: NDArray[np.uint8], pad: int, height: float, rng: Rng) -> tuple[Mask, float]:
        digit = trim(pool[int(rng.integers(len(pool)))])
        w = max(2, round(digit.shape[1] * height / digit.shape[0]))
        big = cv2.resize(digit, (w, max(2, round(height))), interpolation=cv2.INTER_CUBIC)
        # a finer or a broader pen; paper stays paper
        weight = self.real_weight
        big = np.clip((big.astype(np.float32) - 255 * max(weight, 0.0)) / (1 - abs(weight)), 0, 255)
        big = big.astype(np.uint8)
        image = np.zeros((int(height * 2.4), pad + w), np.uint8)
        image[pad : pad + big.shape[0], pad:] = big[: image.shape[0] - pad]
        return image, float(w)


def trim(image: Mask) -> Mask:
    """Cut the empty border off a stamp."""
    x, y, w, h = cv2.boundingRect(cv2.compare(image, 20, cv2.CMP_GT))
    return np.ascontiguousarray(image[y : y + h, x : x + w]) if w and h else image[:2, :2]


def raised(base: Mask, suffix: Mask, lift: float, gap: float) -> Mask:
    """One stamp of a base and a suffix that stands higher, as in a raised 7."""
    drop = round(base.shape[0] * lift)
    top = max(0, suffix.shape[0] - (base.shape[0] - drop))
    h = base.shape[0] + top
    out = np.zeros((h, base.shape[1] + round(gap) + suffix.shape[1]), np.uint8)
    out[top : top + base.shape[0], : base.shape[1]] = base
    y = max(0, h - drop - suffix.shape[0])
    part = suffix[: h - y]
    out[y : y + part.shape[0], out.shape[1] - suffix.shape[1] :] = part
    return out


def bent(stamp: Mask, amount: float, rng: Rng) -> Mask:
    """The stamp bent by a smooth field whose shifts are about ``amount`` of its height: no hand writes a sign twice."""
    h = stamp.shape[0]
    pad = int(h * amount * 2.5) + 1
    wide = cv2.copyMakeBorder(stamp, pad, pad, pad, pad, cv2.BORDER_CONSTANT, value=0)
    field = cv2.resize(
        rng.normal(0, amount * h, (4, 3, 2)).astype(np.float32), wide.shape[::-1], interpolation=cv2.INTER_CUBIC
    )
    grid = np.stack(np.meshgrid(np.arange(wide.shape[1]), np.arange(wide.shape[0])), -1).astype(np.float32)
    return trim(cv2.remap(wide, grid + field, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT))


def stretched(stamp: Mask, factor: float) -> Mask:
    """The stamp made wider or narrower."""
    if abs(factor - 1) < 0.04:
        return stamp
    wide = max(2, round(stamp.shape[1] * factor))
    method = cv2.INTER_AREA if factor < 1 else cv2.INTER_LINEAR
    return np.asarray(cv2.resize(stamp, (wide, stamp.shape[0]), interpolation=method), np.uint8)


def turned(stamp: Mask, degrees: float) -> Mask:
    """The stamp turned clockwise on the page, trimmed."""
    if abs(degrees) < 0.5:
        return stamp
    if degrees % 90 == 0:
        return np.ascontiguousarray(np.rot90(stamp, -int(degrees // 90)))
    h, w = stamp.shape
    side = int(np.hypot(h, w)) + 4
    m = cv2.getRotationMatrix2D((w / 2, h / 2), -degrees, 1)
    m[:, 2] += [(side - w) / 2, (side - h) / 2]
    return trim(cv2.warpAffine(stamp, m, (side, side)))
