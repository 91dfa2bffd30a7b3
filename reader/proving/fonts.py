"""Typefaces and single-stroke lettering from outside: found once, then drawn as cover patches or strokes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from reader.errors import InputError
from reader.proving.sheet import Cover

Points = NDArray[np.float64]
Font = ImageFont.FreeTypeFont

BUILTIN = "builtin"
FOLDER = Path(__file__).parents[2] / ".fonts" / "proving"
_FALLBACK = FOLDER / "signs" / "DejaVuSans.ttf"
_SMALL_CAPITALS = ("permanent-marker", "rock-salt", "walter-turncoat")
HERSHEY = ("futural", "futuram", "scripts", "cursive")


@dataclass(frozen=True, slots=True)
class FontBox:
    """Which lettering there is: files of handwriting faces, of printed faces, and Hershey alphabets."""

    hand: tuple[str, ...]
    printed: tuple[str, ...]
    hershey: tuple[str, ...]


def find_fonts(folder: Path = FOLDER) -> FontBox:
    """All faces below `folder`; raises InputError when they have not been fetched."""
    hand = tuple(sorted(str(p) for p in (folder / "hand").glob("*-400-normal.woff2")))
    printed = tuple(sorted(str(p) for p in (folder / "print").glob("*.woff2")))
    if not hand or not printed:
        raise InputError(f"{folder}: no typefaces here. Run python -m reader.proving.fetch_fonts first.")
    return FontBox(hand, printed, HERSHEY)


def builtin_fonts() -> FontBox:
    """Only what is always there: the face inside Pillow and the letters drawn for this project."""
    return FontBox((), (BUILTIN,), ())


@lru_cache(maxsize=400)
def open_font(path: str, pixels: int) -> Font:
    """One face at one size."""
    if path == BUILTIN:
        built = ImageFont.load_default(pixels)
        assert isinstance(built, ImageFont.FreeTypeFont)
        return built
    return ImageFont.truetype(path, pixels)


@cache
def _blank(path: str) -> bytes:
    return bytes(open_font(path, 40).getmask("\uffff"))


@cache
def has_sign(path: str, sign: str) -> bool:
    """Whether a face draws a sign of its own for this character."""
    return sign == " " or bytes(open_font(path, 40).getmask(sign)) != _blank(path)


def one_case(path: str) -> bool:
    """Whether the small letters of a face are small capitals: there Cm7 could be taken for CM7."""
    return any(name in path for name in _SMALL_CAPITALS)


@cache
def cap_share(path: str) -> float:
    """Height of a capital as a share of the nominal size."""
    box = open_font(path, 200).getbbox("H")
    return float(box[3] - box[1]) / 200


def face_for(path: str, sign: str) -> str:
    """The face itself, or one that has the sign."""
    return path if has_sign(path, sign) or not _FALLBACK.exists() else str(_FALLBACK)


def text_width(path: str, text: str, cap: float) -> float:
    """Width of a line of text in pixels when capitals are `cap` pixels high."""
    return sum(
        open_font(f, max(4, round(cap / cap_share(f)))).getlength(s) for s, f in ((s, face_for(path, s)) for s in text)
    )


def draw_text(path: str, text: str, cap: float, jitter: Points | None = None, fold: int = 2) -> tuple[Cover, float]:
    """A line of text as a patch.

    Parameters
    ----------
    path : str
        The face.
    text : str
    cap : float
        Height of capitals in pixels.
    jitter : (len(text), 2) float, optional
        Displacement of each sign in cap heights.
    fold : int
        Drawn so many times larger and reduced.

    Returns
    -------
    cover : (3 * cap, width + 2 * cap) float32
        The base line lies 2 caps below the upper edge, the text starts 1 cap from the left.
    width : float
        Of the text, pixels.
    """
    wide = int(np.ceil(text_width(path, text, cap) + 2 * cap))
    high = int(np.ceil(3 * cap))
    image = Image.new("L", (wide * fold, high * fold), 0)
    pen = ImageDraw.Draw(image)
    x = cap
    for k, sign in enumerate(text):
        face = face_for(path, sign)
        font = open_font(face, max(4, round(fold * cap / cap_share(face))))
        dx, dy = (0.0, 0.0) if jitter is None else jitter[k] * cap
        pen.text(((x + dx) * fold, (2 * cap + dy) * fold), sign, fill=255, font=font, anchor="ls")
        x += font.getlength(sign) / fold
    cover = np.asarray(image.resize((wide, high), Image.Resampling.BOX), np.float32) / np.float32(255)
    return cover.astype(np.float32), x - cap


@cache
def _hershey(name: str) -> object:
    from HersheyFonts import HersheyFonts  # type: ignore[import-untyped,import-not-found,unused-ignore]

    alphabet = HersheyFonts()
    alphabet.load_default_font(name)
    alphabet.normalize_rendering(10)
    return alphabet


@cache
def hershey_glyph(name: str, sign: str) -> tuple[float, tuple[tuple[Points, bool], ...]] | None:
    """Width and strokes of a Hershey sign at ten units cap height, y growing upwards; None when there is none.

    The alphabets are A. V. Hershey's of 1967, free for any use, as carried by the package Hershey-Fonts.
    """
    if not sign.isascii():
        return None
    strokes = [np.asarray(s, float) for s in _hershey(name).strokes_for_text(sign)]  # type: ignore[attr-defined]
    strokes = [s for s in strokes if len(s) > 1]
    if not strokes:
        return None
    capital = np.vstack([np.asarray(s, float) for s in _hershey(name).strokes_for_text("H")])  # type: ignore[attr-defined]
    scale = 10 / float(np.ptp(capital[:, 1]))
    every = np.vstack(strokes)
    shift = np.array([every[:, 0].min(), capital[:, 1].min()])
    parts = tuple(((s - shift) * scale, False) for s in strokes)
    return float(np.ptp(every[:, 0])) * scale, parts
