"""What is lettered around grids, sign by sign: labels, fret numbers, and words that are neither."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

from reader.lexicon import AFTER_NUMBER, BEFORE_NUMBER, GERMAN, NUMBERS, ORDINALS, QUALITIES, ROOTS, SOLFEGE, WORDS
from reader.training.captions import as_meant, number_text
from reader.training.content import sample_label
from reader.training.scenery import word
from reader.training.strokes import Rng, choice

SAME = {"♯": "#", "♭": "b", "Ø": "ø", " ": ""}
"""Signs that mean another one, and the gap, which is no sign."""
SHARPS = {"#": 60, "♯": 24, "*": 9}
FLATS = {"b": 64, "♭": 36}
NUMBER_FORMS = {
    "n": 40, "fr": 22, "roman": 13, "ordinal": 8, "ordinal fr": 5, "bracket": 6, "words": 4, "dot": 3, "fr n": 4,
    "roman small": 3, "any": 14,
}  # fmt: skip
_WORDS = (
    "the and you that was for are with his they this have from one had word but not what all were when your can said "
    "there use each which she how their will other about out many then them these some her would make like him into "
    "time has look two more write see number way could people than first water been call who now find long down day "
    "did get come made may part over new sound take only little work know place year live back give most very after "
    "thing our just name good sentence man think say great where help through much before line right too mean old any "
    "same tell boy follow came want show also around form three small set put end does another well large must big "
    "even such because turn here why ask went men read need land different home us move try kind hand picture again "
    "change off play spell air away animal house point page letter mother answer found study still learn should "
    "Verse Chorus Bridge Intro Outro Capo Repeat slow fast swing lesson warm up exercise strum pick rest song tune"
)
COMMON_WORDS = tuple(_WORDS.split())
"""Usual English words (memory), and what teachers write between diagrams."""


@dataclass(frozen=True)
class Part:
    """A piece of a text that is written in one size.

    Parameters
    ----------
    text : signs as drawn
    size : in heights of the first part
    lift : of its foot above the base line, in the same measure
    gap : before it, in the same measure
    """

    text: str
    size: float = 1.0
    lift: float = 0.0
    gap: float = 0.0


@dataclass(frozen=True)
class Words:
    """A text to write: what it is ('label', 'number', 'word'), the signs that it stands for, how it is laid out."""

    what: str
    text: str
    parts: tuple[Part, ...]


def plain_signs(text: str) -> str:
    """The text as the network is to report it: one sign for each meaning, no gaps."""
    for sign, same in SAME.items():
        text = text.replace(sign, same)
    return text


# ---------------------------------------------------------------- labels


@cache
def _weights(names: tuple[str, ...], weights: tuple[float, ...]) -> tuple[list[str], np.ndarray]:
    w = np.array(weights) ** 0.5
    return list(names), np.cumsum(w / w.sum())


def _draw(rng: Rng, table: dict[str, float]) -> str:
    """One key, rare ones more often than their weight says: all are to be learnt."""
    names, upto = _weights(tuple(table), tuple(table.values()))
    return names[min(len(names) - 1, int(np.searchsorted(upto, rng.random())))]


def sample_label_words(rng: Rng) -> Words:
    """A chord label in one of the usual spellings and layouts."""
    if rng.random() < 0.45:
        label = sample_label(rng, capitals=False)
        root, quality, bass = label.base, label.suffix, label.bass
    else:
        roots = choice(rng, {0: 90, 1: 6, 2: 4})
        table = (ROOTS, GERMAN, SOLFEGE)[roots]
        root, quality = _draw(rng, table), _draw(rng, QUALITIES)
        bass = "/" + _draw(rng, table) if rng.random() < 0.13 else ""
    quality = _cased(rng, quality)
    meant = plain_signs(root + as_meant(quality) + bass)
    sharp, flat = str(choice(rng, SHARPS)), str(choice(rng, FLATS))

    def drawn(text: str) -> str:
        text = text.replace("#", sharp).replace("b", flat)
        return text.replace("ø", "Ø") if rng.random() < 0.3 else text

    small_m = quality[:1] == "m" and quality[1:2] not in ("a", "i") and rng.random() < 0.06
    shown = drawn(quality)
    if small_m:
        shown = "M" + shown[1:]
    parts = (
        *_root_parts(rng, root[:1], drawn(root[1:])),
        *_quality_parts(rng, shown, small_m),
        *_bass(rng, bass, drawn),
    )
    return Words("label", meant, parts)


def _cased(rng: Rng, quality: str) -> str:
    """The quality with its words in capitals, with one capital, or as it is."""
    how = choice(rng, {"as it is": 76, "capitals": 16, "title": 8})
    if how == "as it is":
        return quality
    for w in sorted(WORDS, key=len, reverse=True):
        if len(w) > 2 or w == quality[:2]:
            quality = quality.replace(w, w.upper() if how == "capitals" else w.capitalize())
    return quality


def _root_parts(rng: Rng, letter: str, rest: str) -> tuple[Part, ...]:
    """The letter of the note, its sign beside it or small and high."""
    if rest[:1] not in ("#", "♯", "*", "b", "♭") or rng.random() < 0.6:
        return (Part(letter + rest),)
    size = float(rng.uniform(0.45, 0.85))
    return (Part(letter), Part(rest, size, float(rng.uniform(max(0.0, 0.8 - size), 1.15 - size)), _gap(rng)))


def _quality_parts(rng: Rng, shown: str, small_m: bool) -> tuple[Part, ...]:
    """What follows the note: in line, smaller, or raised whole or from its first digit on."""
    if not shown:
        return ()
    word_end = next((i for i, c in enumerate(shown) if c.isdigit() or c in "(/+"), len(shown))
    how = choice(rng, {"in line": 44, "small": 12, "raised": 26, "raised end": 18})
    if small_m:
        how = "small"
    if how == "in line" or shown[0] == " ":
        return (Part(shown, 1.0, _rise(shown), _gap(rng)),)
    size = float(rng.uniform(0.5, 0.85))
    if how == "small":
        return (Part(shown, size, _rise(shown) * size, _gap(rng)),)
    lift = float(rng.uniform(0.25, 0.7))
    start = word_end if how == "raised end" and 0 < word_end < len(shown) else 0
    first = (Part(shown[:start], 1.0, _rise(shown[:start]), _gap(rng)),) if start else ()
    return (*first, Part(shown[start:], size, lift, _gap(rng)))


def _rise(text: str) -> float:
    """Where the foot of a sign that stands alone is: a stroke and a cross in the middle, a ring high."""
    return {"-": 0.4, "+": 0.25, "°": 0.55, "*": 0.5}.get(text, 0.0)


def _bass(rng: Rng, bass: str, drawn: Callable[[str], str]) -> tuple[Part, ...]:
    if not bass:
        return ()
    shown = bass[:2] + drawn(bass[2:])
    if rng.random() < 0.3:
        size = float(rng.uniform(0.6, 0.9))
        return (Part("/", 1.1, -0.1, _gap(rng)), Part(shown[1:], size, float(rng.uniform(-0.35, 0.1)), 0.02))
    return (Part(shown, float(rng.uniform(0.75, 1.0)), 0.0, _gap(rng)),)


def _gap(rng: Rng) -> float:
    return float(rng.uniform(0.02, 0.3))


# ---------------------------------------------------------------- numbers and words


def sample_number_words(rng: Rng) -> Words:
    """A fret number in one of the usual forms."""
    value = int(rng.integers(1, 13)) if rng.random() < 0.85 else int(rng.integers(13, NUMBERS + 1))
    form = choice(rng, NUMBER_FORMS)
    if form == "any":
        endings = {k: v for k, v in AFTER_NUMBER.items() if not k.startswith("th") or value not in ORDINALS}
        text = str(value) + _draw(rng, endings)
        if rng.random() < 0.4:
            text = str(rng.choice(BEFORE_NUMBER)) + (" " if rng.random() < 0.5 else "") + str(value)
    else:
        text = number_text(form, value)
    if form == "roman" and rng.random() < 0.2:
        text += str(rng.choice(["fr", ".", " fr"]))
    digits = len(str(value))
    if form in ("ordinal", "words", "ordinal fr", "fr") and rng.random() < 0.35:
        size, ending = float(rng.uniform(0.5, 0.85)), text[digits:]
        lift = float(rng.uniform(0.1, 0.6)) if form != "fr" else 0.0
        return Words("number", plain_signs(text), (Part(text[:digits]), Part(ending, size, lift, _gap(rng))))
    return Words("number", plain_signs(text), (Part(text),))


def sample_other_words(rng: Rng) -> Words:
    """A word or a few signs that are neither label nor number, so that those do not become all there is."""
    kind = rng.random()
    if kind < 0.6:
        text = str(rng.choice(COMMON_WORDS))
        text = text.capitalize() if rng.random() < 0.3 else text.upper() if rng.random() < 0.12 else text
    elif kind < 0.85:
        text = word(rng)
    else:
        signs = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789#+-/()=!?.&"
        text = "".join(signs[int(rng.integers(len(signs)))] for _ in range(int(rng.integers(2, 7))))
    return Words("word", plain_signs(text), (Part(text),))
