"""Values that stand for what the networks report, and small pages of our own drawings."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
from numpy.typing import NDArray

from reader.export.diagram import FrameStyle, draw_frame
from reader.export.drawing import Drawing, joined, placed
from reader.export.png import render_pages
from reader.image.labels import Lettering
from reader.image.marks import FINGERS, FIRST_ROW, KINDS, MUTED, NUMBERS, OPEN_BARE, OPEN_MARKED, ROWS, STATES, Look
from reader.image.pages import Page
from reader.image.regions import Region
from reader.interpret import ReadSettings, Seen, interpret
from reader.music.frame import Frame
from reader.music.shape import Shape
from reader.reading import Reading

SIGNS = {"x": MUTED, "o": OPEN_MARKED, "-": OPEN_BARE}
"""How a string is written in these tests; a digit is the row of its stop."""
GRID = np.array([[100.0, 100], [160, 100], [160, 180], [100, 180]])
"""Gaps of 20 pixels between four strings, rows of 20 pixels in four."""
DPI = 150.0
CARD_WIDTH, CARD_HEIGHT, MARGIN = 38.0, 48.0, 8.0


def one_hot(index: int, count: int, sure: float = 0.999) -> NDArray[np.float64]:
    """Probabilities of which one is sure; the rest is shared."""
    p = np.full(count, (1 - sure) / (count - 1))
    p[index] = sure
    return p


def state_of(sign: str) -> int:
    """The network's class of a string."""
    return SIGNS[sign] if sign in SIGNS else FIRST_ROW + int(sign) - 1


def look(
    signs: str,
    rows: int = 4,
    doubts: dict[int, dict[str, float]] | None = None,
    barre: dict[int, tuple[int, float]] | None = None,
    fingers: dict[int, int] | None = None,
    nut: float = 0.99,
    first: int = 1,
    way: int = 0,
    kind: str = "diagram",
    corners: NDArray[np.float64] = GRID,
    sure: float = 0.999,
) -> Look:
    """A look at a grid whose strings do what ``signs`` says: ``x0`` is written ``xo``, a stop in row 3 is ``3``.

    Parameters
    ----------
    doubts : per string the probabilities of signs, in place of a sure one
    barre : per string its row and the probability of that
    fingers : per string 1 to 4, 5 the thumb
    """
    there = [one_hot(state_of(s), STATES, sure) for s in signs]
    states = np.array(there + [one_hot(0, STATES)] * (8 - len(signs)))
    for s, odds in (doubts or {}).items():
        states[s] = 0
        for sign, p in odds.items():
            states[s, state_of(sign)] = p
    bars = np.array([one_hot(0, ROWS)] * 8)
    for s, (row, p) in (barre or {}).items():
        bars[s] = one_hot(row, ROWS, p)
    hands = np.array([one_hot((fingers or {}).get(s, 0), FINGERS) for s in range(8)])
    return Look(
        corners=corners,
        states=states,
        fingers=hands,
        barre=bars,
        strings=one_hot(len(signs), 9),
        rows=one_hot(rows, 9),
        first=one_hot(first, NUMBERS),
        nut=nut,
        kind=one_hot(KINDS.index(kind), 3),
        way=one_hot(way, 4),
        moved=0.01,
    )


def lettering(
    label: str = "",
    label_p: float = 0.95,
    number: int = 0,
    number_p: float = 0.98,
    row: int = 1,
    unread: float = 0.0,
    way: int = 0,
    way_p: float = 0.94,
) -> Lettering:
    """What stands around ``GRID``: a label, and a number beside one of its four rows."""
    return Lettering(
        labels=((label, label_p), ("", 1 - label_p)) if label else (("", 1.0),),
        numbers=one_hot(number, NUMBERS, number_p),
        number_at=np.array([85.0, 100 + 20 * (row - 0.5)]),
        unread=unread,
        way=one_hot(way, 4, way_p),
    )


def seen(look: Look, around: Lettering | None = None, spread: float = 0.0, cut: bool = False) -> Seen:
    """A diagram whose ink lies where the look says."""
    n, rows = int(look.strings.argmax()), int(look.rows.argmax())
    ink = np.zeros((n, rows))
    for s in range(n):
        state = int(look.states[s].argmax())
        if state >= FIRST_ROW:
            ink[s, state - FIRST_ROW] = 1.0
    return Seen(Region(look.corners, 0.98), look, around or lettering(), spread, ink, 150.0, cut=cut)


def read_one(look: Look, around: Lettering | None = None, settings: ReadSettings | None = None) -> Reading:
    """The reading of a page with this diagram alone."""
    return interpret([seen(look, around)], settings or ReadSettings())[0]


def plain_frame(shape: str, first_fret: int = 1, rows: int = 4) -> Frame:
    """A frame with dots and marks only."""
    frets = Shape.parse(shape).frets
    return Frame(frets, (None,) * len(frets), rows, first_fret, ())


SONG = (("C", "0003"), ("F", "2010"), ("G7", "0212"), ("Am", "2000"))
"""Ukulele shapes (common practice, no source)."""


def drawn_page(cards: Sequence[tuple[str, Frame]], columns: int = 2) -> Drawing:
    """Diagrams of our own, each under its label, row by row."""
    parts = []
    for n, (label, frame) in enumerate(cards):
        row, column = divmod(n, columns)
        drawing = draw_frame(frame, label, style=FrameStyle(5.0))
        parts.append(placed(drawing, MARGIN + column * CARD_WIDTH, MARGIN + row * CARD_HEIGHT))
    rows = -(-len(cards) // columns)
    width, height = MARGIN + columns * CARD_WIDTH, MARGIN + rows * CARD_HEIGHT
    return joined(width, height, parts, "Page", "A page of diagrams")


def picture(drawing: Drawing) -> NDArray[np.uint8]:
    """Pixels of a drawn page, uint8 [row, col, 3]."""
    return np.asarray(next(render_pages([drawing], DPI)).convert("RGB")).copy()


@cache
def song_page() -> tuple[Drawing, NDArray[np.uint8]]:
    """Four ukulele chords and their picture."""
    drawing = drawn_page([(label, plain_frame(shape)) for label, shape in SONG])
    return drawing, picture(drawing)


def page_of(pixels: NDArray[np.uint8], source: str = "song.png") -> Page:
    """One page of a single picture."""
    return Page(np.ascontiguousarray(pixels), source, 1, DPI)
