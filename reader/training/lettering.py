"""Letters, digits and signs: open fonts, an own stroke alphabet with variants, real handwritten digits."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from reader.training import fonts
from reader.training.strokes import Mask, Points, Rng, draw_pressed, smooth, wobble

# Strokes in a box of height 1 (baseline y = 1, top y = 0); several variants a sign.
# A stroke whose first element is "c" is a smooth curve through its points, "l" a polyline.
_O = (
    "c",
    [(0.5, 0.02), (0.15, 0.2), (0.05, 0.55), (0.25, 0.95), (0.6, 0.95), (0.85, 0.55), (0.75, 0.15), (0.45, 0.02)],
)
Stroke = tuple[str, list[tuple[float, float]]]
ALPHABET: dict[str, list[list[Stroke]]] = {
    "0": [[_O], [("c", [(0.6, 0.05), (0.2, 0.15), (0.1, 0.6), (0.4, 1), (0.75, 0.7), (0.7, 0.2), (0.4, 0.05)])]],
    "1": [
        [("l", [(0.3, 0), (0.3, 1)])],
        [("l", [(0.1, 0.25), (0.4, 0), (0.4, 1)])],
        [("l", [(0.45, 0), (0.2, 1)])],
        [("l", [(0.1, 0.25), (0.4, 0), (0.4, 1)]), ("l", [(0.1, 1), (0.7, 1)])],
        [("l", [(0.15, 0), (0.4, 1)])],
        [("c", [(0.05, 0.3), (0.25, 0.15), (0.38, 0.0), (0.36, 0.5), (0.3, 1)])],
    ],
    "2": [
        [("c", [(0.1, 0.25), (0.35, 0), (0.7, 0.2), (0.55, 0.55), (0.08, 1)]), ("l", [(0.08, 1), (0.8, 1)])],
        [("c", [(0.1, 0.2), (0.4, 0), (0.7, 0.25), (0.4, 0.7), (0.1, 0.98), (0.2, 0.85), (0.45, 0.95), (0.85, 0.95)])],
        [("l", [(0.05, 0.05), (0.65, 0.05), (0.1, 0.95), (0.75, 0.95)])],
        [("c", [(0.02, 0.2), (0.3, 0.02), (0.62, 0.12), (0.6, 0.4), (0.3, 0.75), (0.0, 0.95), (0.35, 0.88), (0.9, 1)])],
        [("c", [(0.1, 0.3), (0.2, 0.05), (0.6, 0.05), (0.65, 0.35), (0.05, 0.92), (0.0, 1), (0.15, 0.9), (0.8, 0.9)])],
    ],
    "3": [
        [
            ("c", [(0.1, 0.1), (0.45, 0), (0.65, 0.22), (0.3, 0.47)]),
            ("c", [(0.3, 0.47), (0.7, 0.65), (0.5, 1), (0.05, 0.9)]),
        ],
        [("l", [(0.1, 0.02), (0.65, 0.02), (0.3, 0.42)]), ("c", [(0.3, 0.42), (0.7, 0.6), (0.55, 0.98), (0.05, 0.92)])],
        [
            (
                "c",
                [(0.0, 0.12), (0.4, 0.0), (0.5, 0.25), (0.15, 0.45), (0.6, 0.5), (0.65, 0.85), (0.3, 1.02), (0.0, 0.9)],
            )
        ],
        [("c", [(0.1, 0.05), (0.6, 0.1), (0.3, 0.4), (0.15, 0.5), (0.5, 0.55), (0.7, 0.8), (0.3, 1.0), (-0.1, 0.95)])],
    ],
    "4": [
        [("l", [(0.55, 0), (0.05, 0.65), (0.8, 0.65)]), ("l", [(0.6, 0.3), (0.55, 1)])],
        [("l", [(0.15, 0), (0.12, 0.55), (0.75, 0.55)]), ("l", [(0.65, 0.02), (0.6, 1)])],
        [("l", [(0.2, 0.05), (0.05, 0.6), (0.8, 0.55)]), ("l", [(0.5, 0.25), (0.5, 1)])],
        [("l", [(0.15, 0.1), (0.1, 0.5), (0.75, 0.5)]), ("l", [(0.75, 0.05), (0.3, 1)])],
        [("c", [(0.1, 0.05), (0.05, 0.5), (0.3, 0.6), (0.8, 0.4)]), ("l", [(0.7, 0.0), (0.2, 1.05)])],
        [("l", [(0.1, 0.0), (0.2, 0.5), (0.7, 0.4)]), ("c", [(0.65, 0.0), (0.6, 0.5), (0.5, 0.9), (0.55, 1.1)])],
        [("l", [(0.6, 1), (0.6, 0), (0.02, 0.68), (0.85, 0.68)])],
    ],
    "5": [
        [("l", [(0.65, 0), (0.15, 0), (0.12, 0.42)]), ("c", [(0.12, 0.42), (0.6, 0.45), (0.6, 0.9), (0.05, 0.95)])],
        [
            ("c", [(0.15, 0.02), (0.12, 0.42), (0.55, 0.42), (0.65, 0.75), (0.35, 1), (0.05, 0.9)]),
            ("l", [(0.15, 0.02), (0.7, 0)]),
        ],
    ],
    "6": [[("c", [(0.6, 0), (0.2, 0.35), (0.1, 0.75), (0.4, 1), (0.7, 0.75), (0.4, 0.5), (0.12, 0.7)])]],
    "7": [
        [("l", [(0.05, 0.02), (0.7, 0.02), (0.25, 1)])],
        [("l", [(0.05, 0.05), (0.7, 0.02), (0.3, 1)]), ("l", [(0.2, 0.5), (0.65, 0.48)])],
        [("l", [(0.08, 0.15), (0.08, 0.02), (0.7, 0.02), (0.35, 1)])],
    ],
    "8": [
        [
            (
                "c",
                [
                    (0.6, 0.12),
                    (0.3, 0),
                    (0.12, 0.22),
                    (0.4, 0.48),
                    (0.65, 0.78),
                    (0.35, 1),
                    (0.08, 0.78),
                    (0.38, 0.48),
                    (0.62, 0.2),
                    (0.5, 0.02),
                ],
            )
        ]
    ],
    "9": [
        [("c", [(0.65, 0.15), (0.3, 0), (0.1, 0.28), (0.35, 0.5), (0.65, 0.2), (0.62, 0.5), (0.5, 1)])],
        [("c", [(0.62, 0.1), (0.3, 0), (0.1, 0.25), (0.3, 0.48), (0.62, 0.3)]), ("l", [(0.62, 0.05), (0.6, 1)])],
    ],
    "A": [
        [("l", [(0, 1), (0.4, 0), (0.8, 1)]), ("l", [(0.15, 0.62), (0.65, 0.62)])],
        [("c", [(0.02, 1), (0.1, 0.4), (0.4, 0), (0.65, 0.4), (0.7, 1)]), ("l", [(0.08, 0.6), (0.7, 0.55)])],
    ],
    "B": [
        [
            ("l", [(0.1, 0), (0.1, 1)]),
            ("c", [(0.1, 0.02), (0.6, 0.1), (0.5, 0.42), (0.1, 0.48)]),
            ("c", [(0.1, 0.48), (0.7, 0.6), (0.6, 0.95), (0.08, 1)]),
        ]
    ],
    "C": [
        [("c", [(0.75, 0.15), (0.45, 0), (0.1, 0.3), (0.08, 0.7), (0.4, 1), (0.75, 0.88)])],
        [("c", [(0.7, 0.05), (0.25, 0.1), (0.05, 0.5), (0.25, 0.95), (0.75, 0.95)])],
    ],
    "D": [[("l", [(0.1, 0), (0.1, 1)]), ("c", [(0.05, 0.02), (0.6, 0.1), (0.78, 0.5), (0.55, 0.92), (0.05, 1)])]],
    "E": [
        [("l", [(0.65, 0), (0.1, 0), (0.1, 1), (0.7, 1)]), ("l", [(0.1, 0.5), (0.55, 0.5)])],
        [
            ("c", [(0.65, 0.08), (0.3, 0), (0.12, 0.25), (0.4, 0.48)]),
            ("c", [(0.4, 0.48), (0.05, 0.72), (0.3, 1), (0.7, 0.9)]),
        ],
    ],
    "F": [[("l", [(0.1, 0), (0.1, 1)]), ("l", [(0.05, 0.02), (0.7, 0)]), ("l", [(0.1, 0.48), (0.55, 0.46)])]],
    "G": [
        [
            ("c", [(0.72, 0.15), (0.4, 0), (0.08, 0.35), (0.12, 0.8), (0.45, 1), (0.75, 0.8)]),
            ("l", [(0.75, 0.9), (0.75, 0.55), (0.45, 0.55)]),
        ],
        [
            (
                "c",
                [
                    (0.7, 0.1),
                    (0.35, 0.02),
                    (0.05, 0.5),
                    (0.35, 0.98),
                    (0.7, 0.6),
                    (0.4, 0.58),
                    (0.75, 0.58),
                    (0.72, 1.05),
                ],
            )
        ],
    ],
    "H": [[("l", [(0.1, 0), (0.1, 1)]), ("l", [(0.7, 0), (0.7, 1)]), ("l", [(0.1, 0.5), (0.7, 0.5)])]],
    "I": [
        [("l", [(0.2, 0), (0.2, 1)])],
        [("l", [(0.2, 0), (0.2, 1)]), ("l", [(0.02, 0), (0.4, 0)]), ("l", [(0.02, 1), (0.4, 1)])],
    ],
    "J": [[("c", [(0.6, 0), (0.6, 0.8), (0.35, 1), (0.08, 0.8)])]],
    "M": [[("l", [(0.05, 1), (0.12, 0), (0.45, 0.7), (0.8, 0), (0.88, 1)])]],
    "N": [[("l", [(0.1, 1), (0.1, 0), (0.7, 1), (0.7, 0)])]],
    "O": [[_O]],
    "R": [
        [
            ("l", [(0.1, 0), (0.1, 1)]),
            ("c", [(0.1, 0.02), (0.65, 0.12), (0.5, 0.45), (0.1, 0.5)]),
            ("l", [(0.3, 0.5), (0.7, 1)]),
        ]
    ],
    "S": [[("c", [(0.65, 0.1), (0.3, 0), (0.12, 0.25), (0.6, 0.65), (0.5, 0.98), (0.05, 0.9)])]],
    "U": [[("c", [(0.1, 0), (0.12, 0.75), (0.4, 1), (0.68, 0.75), (0.7, 0)])]],
    "V": [[("l", [(0.02, 0), (0.38, 1), (0.72, 0)])]],
    "X": [[("l", [(0.05, 0), (0.7, 1)]), ("l", [(0.7, 0), (0.05, 1)])]],
    "a": [
        [("c", [(0.6, 0.45), (0.3, 0.38), (0.08, 0.7), (0.3, 1), (0.6, 0.75)]), ("l", [(0.62, 0.42), (0.65, 1)])],
        [
            ("c", [(0.1, 0.5), (0.4, 0.4), (0.6, 0.55), (0.6, 1)]),
            ("c", [(0.6, 0.65), (0.2, 0.65), (0.1, 0.9), (0.4, 1), (0.6, 0.85)]),
        ],
    ],
    "b": [[("l", [(0.1, 0), (0.1, 1)]), ("c", [(0.1, 0.6), (0.45, 0.45), (0.6, 0.75), (0.35, 1), (0.1, 0.95)])]],
    "d": [[("c", [(0.58, 0.5), (0.25, 0.42), (0.08, 0.75), (0.3, 1), (0.58, 0.85)]), ("l", [(0.6, 0), (0.6, 1)])]],
    "e": [[("c", [(0.1, 0.7), (0.6, 0.65), (0.4, 0.4), (0.1, 0.65), (0.25, 1), (0.62, 0.9)])]],
    "f": [[("c", [(0.55, 0.08), (0.3, 0.05), (0.25, 0.3), (0.25, 1)]), ("l", [(0.05, 0.45), (0.5, 0.45)])]],
    "g": [
        [
            ("c", [(0.58, 0.48), (0.2, 0.42), (0.1, 0.75), (0.4, 0.95), (0.58, 0.7)]),
            ("c", [(0.6, 0.42), (0.6, 1.2), (0.3, 1.4), (0.08, 1.25)]),
        ]
    ],
    "h": [[("l", [(0.1, 0), (0.1, 1)]), ("c", [(0.1, 0.65), (0.4, 0.45), (0.55, 0.65), (0.55, 1)])]],
    "i": [[("l", [(0.12, 0.42), (0.12, 1)]), ("l", [(0.12, 0.18), (0.13, 0.22)])]],
    "j": [[("c", [(0.4, 0.42), (0.4, 1.15), (0.2, 1.4), (0.02, 1.25)]), ("l", [(0.4, 0.18), (0.41, 0.22)])]],
    "m": [
        [
            ("l", [(0.08, 0.42), (0.08, 1)]),
            ("c", [(0.08, 0.6), (0.3, 0.42), (0.42, 0.6), (0.42, 1)]),
            ("c", [(0.42, 0.6), (0.65, 0.42), (0.78, 0.6), (0.8, 1)]),
        ],
        [("l", [(0.05, 1), (0.12, 0.45), (0.35, 0.85), (0.55, 0.45), (0.7, 1)])],
        [("c", [(0.05, 0.45), (0.1, 1), (0.15, 0.6), (0.3, 0.45), (0.4, 0.95), (0.45, 0.6), (0.6, 0.45), (0.72, 1)])],
    ],
    "n": [[("l", [(0.08, 0.42), (0.08, 1)]), ("c", [(0.08, 0.62), (0.35, 0.42), (0.52, 0.6), (0.54, 1)])]],
    "o": [[("c", [(0.35, 0.42), (0.08, 0.6), (0.15, 0.95), (0.5, 0.95), (0.58, 0.6), (0.3, 0.42)])]],
    "r": [[("l", [(0.08, 0.42), (0.1, 1)]), ("c", [(0.1, 0.65), (0.25, 0.45), (0.48, 0.48)])]],
    "s": [[("c", [(0.5, 0.48), (0.2, 0.42), (0.15, 0.65), (0.5, 0.8), (0.4, 1), (0.05, 0.95)])]],
    "t": [[("l", [(0.28, 0.1), (0.28, 0.95), (0.45, 1)]), ("l", [(0.05, 0.42), (0.52, 0.4)])]],
    "u": [[("c", [(0.08, 0.42), (0.1, 0.9), (0.35, 1), (0.52, 0.8), (0.54, 0.42)]), ("l", [(0.54, 0.42), (0.56, 1)])]],
    "v": [[("l", [(0.02, 0.42), (0.25, 1), (0.5, 0.42)])]],
    "x": [[("l", [(0.05, 0.42), (0.5, 1)]), ("l", [(0.5, 0.42), (0.05, 1)])]],
    "#": [
        [
            ("l", [(0.22, 0.1), (0.15, 0.95)]),
            ("l", [(0.5, 0.05), (0.43, 0.9)]),
            ("l", [(0.0, 0.4), (0.65, 0.3)]),
            ("l", [(0.0, 0.7), (0.65, 0.6)]),
        ],
        [
            ("l", [(0.25, 0.15), (0.2, 0.8)]),
            ("l", [(0.45, 0.15), (0.4, 0.8)]),
            ("l", [(0.05, 0.38), (0.6, 0.36)]),
            ("l", [(0.05, 0.6), (0.6, 0.58)]),
        ],
    ],
    "/": [[("l", [(0.5, -0.05), (0.0, 1.08)])]],
    "+": [[("l", [(0.3, 0.3), (0.3, 0.85)]), ("l", [(0.02, 0.57), (0.6, 0.57)])]],
    "-": [[("l", [(0.05, 0.6), (0.5, 0.6)])]],
    "°": [[("c", [(0.2, 0.02), (0.05, 0.12), (0.15, 0.3), (0.35, 0.22), (0.3, 0.05), (0.15, 0.03)])]],
    "ø": [
        [
            ("c", [(0.25, 0.3), (0.05, 0.5), (0.15, 0.85), (0.5, 0.8), (0.5, 0.4), (0.2, 0.3)]),
            ("l", [(0.55, 0.2), (0.0, 0.95)]),
        ]
    ],
    "Δ": [[("l", [(0.4, 0.15), (0.0, 0.9), (0.75, 0.9), (0.4, 0.15)])]],
    "(": [[("c", [(0.3, -0.05), (0.08, 0.5), (0.3, 1.05)])]],
    ")": [[("c", [(0.05, -0.05), (0.27, 0.5), (0.05, 1.05)])]],
    ".": [[("l", [(0.1, 0.96), (0.12, 1.0)])]],
    "*": [[("l", [(0.3, 0.1), (0.3, 0.5)]), ("l", [(0.1, 0.2), (0.5, 0.42)]), ("l", [(0.5, 0.2), (0.1, 0.42)])]],
    "♭": [[("l", [(0.1, 0), (0.1, 1)]), ("c", [(0.1, 0.6), (0.42, 0.5), (0.35, 0.8), (0.1, 1)])]],
    "♯": [
        [
            ("l", [(0.2, 0.05), (0.2, 1)]),
            ("l", [(0.42, 0), (0.42, 0.95)]),
            ("l", [(0.02, 0.4), (0.6, 0.28)]),
            ("l", [(0.02, 0.72), (0.6, 0.6)]),
        ]
    ],
}
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
