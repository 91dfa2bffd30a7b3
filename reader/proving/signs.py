"""The signs of a line of lettering: which ink belongs to which, and which of them must be made out to read it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from reader.proving.sheet import Trace
from reader.proving.tool import Place

_SLACK = 0.3  # of a sign's width: how far off a boundary may lie
_WORD = re.compile(r"major|minor|maj|min|dim|aug|sus|add|ma|mi", re.IGNORECASE)
_NUMBER = re.compile(r"[0-9]+|[IVX]+", re.IGNORECASE)
_NEEDLESS = " ()/^"


@dataclass(frozen=True)
class Sign:
    """One sign of a line: its ink, and the number of the word that it helps to read."""

    text: str
    word: int
    trace: Trace


def label_words(text: str) -> list[int | None]:
    """The word of each sign of a label: words are letters that explain each other, other signs stand alone.

    Parameters
    ----------
    text : str
        ``^`` included; it counts as a sign.

    Returns
    -------
    list of int or None
        None for signs that need not be read.
    """
    words: list[int | None] = list(range(len(text)))
    for found in _WORD.finditer(text, 1):  # a label starts with its note
        words[found.start() : found.end()] = [found.start()] * len(found.group())
    return [None if sign in _NEEDLESS else word for sign, word in zip(text, words, strict=True)]


def number_words(text: str) -> list[int | None]:
    """The word of each sign of a fret number: only its figures need be read, each of them."""
    found = _NUMBER.search(text)
    inside = range(*found.span()) if found else range(0)
    return [k if k in inside else None for k in range(len(text))]


def _boundaries(profile: list[float], edges: list[float]) -> list[int]:
    """Where to cut: near each edge where there is least ink."""
    cuts = [0]
    for left, edge, right in zip(edges, edges[1:], edges[2:], strict=False):
        reach = max(1.0, _SLACK * min(edge - left, right - edge))
        low = max(cuts[-1], int(np.ceil(edge - reach)))
        places = range(low, max(low, min(len(profile), int(edge + reach))) + 1)
        cuts.append(min(places, key=lambda k: (profile[k] if k < len(profile) else 0.0, abs(k - edge))))
    return [*cuts, len(profile)]


def signs_of(
    trace: Trace, text: str, words: list[int | None], width: Callable[[str], float], at: Place, turn: float
) -> Iterator[Sign]:
    """Part the ink of a line into its signs.

    Parameters
    ----------
    trace : Trace
        The whole line.
    text : str
    words : list of int or None
        One for each sign of the text.
    width : callable
        Width of the first signs of the text; only its proportions matter.
    at, turn : point, float
        Where the line stands on the sheet, and by how much it is turned.

    Yields
    ------
    Sign
        Those that need be read.
    """
    rows, columns = np.mgrid[0 : trace.cover.shape[0], 0 : trace.cover.shape[1]]
    along = (columns + trace.x - at[0]) * np.cos(turn) + (rows + trace.y - at[1]) * np.sin(turn)
    inked = trace.cover > 0.1 * trace.cover.max()
    if not inked.any():
        return
    low, high = along[inked].min(), along[inked].max()
    place = np.floor(along - low).astype(int)
    size = int(high - low) + 1
    within = (place >= 0) & (place < size)
    profile = np.bincount(place[within], trace.cover[within], size).tolist()
    shares = np.array([width(text[:k]) for k in range(len(text) + 1)]) / width(text)
    cuts = _boundaries(profile, (shares * size).tolist())
    for k, word in enumerate(words):
        own = np.where((place >= cuts[k]) & (place < cuts[k + 1]), trace.cover, np.float32(0))
        ink = own > 0.1 * trace.cover.max()
        if word is not None and ink.any():
            ys, xs = np.flatnonzero(ink.any(axis=1)), np.flatnonzero(ink.any(axis=0))
            part = own[ys[0] : ys[-1] + 1, xs[0] : xs[-1] + 1]
            yield Sign(text[k], word, Trace(trace.x + int(xs[0]), trace.y + int(ys[0]), part.copy()))
