"""The redrawing laid over the straightened picture, line on line, and the places on it that can be pointed at.

The picture shows the grid as an upright rectangle. The display list of the redrawing is stretched so that its strings
and frets fall on those of the picture; discs, rings and letters keep their form.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from reader.export.diagram import FrameStyle, draw_frame
from reader.export.drawing import INK, PAPER, Box, Circle, Drawing, Item, Line, Path, Picture, Rect, Text
from reader.export.svg import to_svg
from reader.music.frame import Frame
from reader.reading import Flag

REDRAWN_INK = "#4a2fb0"
"""Stands out from pencil and print alike, and has a contrast of 9 to 1 on white."""
NEAR_LABEL = frozenset({"label-disagrees", "label-unread"})
HIGHEST_RING = 14.0
"""Pixels from the edge of the picture: the ring and its number stay inside."""
RING_ROOM = 5.0
"""Pixels between a label and the ring around it."""
NEAR_NUMBER = frozenset({"first-fret-unread"})


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a grid lies in a picture of so many pixels, and its label, where that is known."""

    grid: Box
    width: int
    height: int
    label: Box | None = None


@dataclass(frozen=True, slots=True)
class Cell:
    """A place that can be clicked: one string in one fret space, or above the nut (``fret`` 0)."""

    string: int
    fret: int
    box: Box


@dataclass(frozen=True, slots=True)
class Ring:
    """A place that flags point at; ``numbers`` are those of the flags in the list, from 1."""

    numbers: tuple[int, ...]
    box: Box


@dataclass(frozen=True, slots=True)
class Lattice:
    """Where the grid of a picture lies, and which fret its first space was read as.

    Parameters
    ----------
    spot : Spot
        The grid and the size of the picture, in its pixels.
    strings, rows, first_fret : int
        Of the frame that is laid over it.
    """

    spot: Spot
    strings: int
    rows: int
    first_fret: int

    @property
    def grid(self) -> Box:
        """Its outline."""
        return self.spot.grid

    @property
    def gap(self) -> float:
        """Pixels between neighbouring strings."""
        return (self.grid.right - self.grid.left) / max(1, self.strings - 1)

    @property
    def row(self) -> float:
        """Pixels from fret to fret."""
        return (self.grid.bottom - self.grid.top) / self.rows

    def x(self, string: int) -> float:
        """Of a string, 0 the leftmost."""
        return self.grid.left + string * self.gap

    def cell(self, string: int, fret: int) -> Box:
        """Around one place; fret 0 is above the nut."""
        half = self.gap / 2
        if fret == 0:
            top, bottom = self.grid.top - max(0.9 * self.gap, 0.7 * self.row), self.grid.top
        else:
            top = self.grid.top + (fret - self.first_fret) * self.row
            bottom = top + self.row
        return Box(self.x(string) - half, top, self.x(string) + half, bottom)


def lattice_of(frame: Frame, spot: Spot) -> Lattice:
    """The lattice that a frame makes of a grid in a picture."""
    return Lattice(spot, frame.string_count, frame.fret_count, frame.first_fret)


def cells(lattice: Lattice) -> list[Cell]:
    """Every place that can be clicked, string by string from the left."""
    frets = (0, *range(lattice.first_fret, lattice.first_fret + lattice.rows))
    return [Cell(s, f, lattice.cell(s, f)) for s in range(lattice.strings) for f in frets]


def rings(flags: Sequence[Flag], lattice: Lattice) -> list[Ring]:
    """Where the flags point; those that point at the same place share a ring."""
    found: dict[Box, tuple[int, ...]] = {}
    for number, flag in enumerate(flags, 1):
        box = _pointed_at(flag, lattice)
        found[box] = (*found.get(box, ()), number)
    return [Ring(numbers, box) for box, numbers in found.items()]


def _pointed_at(flag: Flag, lattice: Lattice) -> Box:
    grid, gap = lattice.grid, lattice.gap
    if flag.code in NEAR_LABEL and flag.string is None:
        if lattice.spot.label is not None:
            return _within(lattice.spot.label, lattice.spot)
        top = max(HIGHEST_RING, grid.top - 3.4 * gap)
        return Box(grid.left - gap / 2, top, grid.right + gap / 2, max(top + gap, grid.top - 1.1 * gap))
    if flag.code in NEAR_NUMBER:
        return Box(max(HIGHEST_RING, grid.left - 1.9 * gap), grid.top, grid.left - 0.3 * gap, grid.top + lattice.row)
    last = lattice.first_fret + lattice.rows - 1
    if flag.string is not None and flag.string < lattice.strings:
        if flag.fret is None or not (flag.fret == 0 or lattice.first_fret <= flag.fret <= last):
            column = lattice.cell(flag.string, 0)
            return Box(column.left, column.top, column.right, grid.bottom)
        return lattice.cell(flag.string, flag.fret)
    return Box(grid.left - gap / 2, grid.top - gap / 2, grid.right + gap / 2, grid.bottom + gap / 2)


def _within(label: Box, spot: Spot) -> Box:
    """Around a label, as far as the picture shows it."""
    left, right = _kept(label.left - RING_ROOM, label.right + RING_ROOM, spot.width)
    top, bottom = _kept(label.top - RING_ROOM, label.bottom + RING_ROOM, spot.height)
    return Box(left, top, right, bottom)


def _kept(low: float, high: float, side: float) -> tuple[float, float]:
    """A span kept off both edges of a picture, and wide enough to be seen."""
    low = min(max(low, HIGHEST_RING), side - 2 * HIGHEST_RING)
    return low, max(min(high, side - HIGHEST_RING), low + HIGHEST_RING)


# ---------------------------------------------------------------- the redrawing


def redrawing(frame: Frame, lattice: Lattice, pitches: Sequence[int] = (), key: str = "over") -> str:
    """The frame as SVG in the pixels of the picture, lying on its grid.

    Parameters
    ----------
    frame : Frame
    lattice : Lattice
        Of the picture; its first fret and rows need not be those of the frame.
    pitches : sequence of int
        MIDI numbers of the open strings, for their thickness.
    key : str
        Makes ids unique on a page.
    """
    drawing = draw_frame(frame, pitches=pitches, style=FrameStyle(gap=1.0))
    (drawn,) = drawing.grids
    (left, top), _, (_, bottom), _ = drawn.corners
    # the drawing may have a wider window than the frame: rows are counted from the frame's own first fret
    row = (bottom - top) / drawn.frame.fret_count
    kx = lattice.gap if frame.string_count > 1 else lattice.row
    ky = lattice.row / row
    above = (frame.first_fret - drawn.frame.first_fret) * row
    place = _Place(lattice.grid.left - left * kx, lattice.grid.top - (top + above) * ky, kx, ky)
    items = tuple(_laid(item, place) for item in drawing.items)
    return to_svg(Drawing(lattice.spot.width, lattice.spot.height, items, "", drawing.description), "text", key)


@dataclass(frozen=True, slots=True)
class _Place:
    """How the plane of the drawing goes into the picture."""

    dx: float
    dy: float
    kx: float
    ky: float

    @property
    def k(self) -> float:
        return min(self.kx, self.ky)

    def x(self, value: float) -> float:
        return self.dx + value * self.kx

    def y(self, value: float) -> float:
        return self.dy + value * self.ky


def _ink(colour: str | None) -> str | None:
    return REDRAWN_INK if colour is not None and colour != PAPER else colour


def _laid(item: Item, place: _Place) -> Item:
    k = place.k
    match item:
        case Line():
            ends = (place.x(item.x1), place.y(item.y1), place.x(item.x2), place.y(item.y2))
            return Line(*ends, item.width * k, REDRAWN_INK)
        case Circle():
            centre = (place.x(item.x), place.y(item.y), item.radius * k)
            return Circle(*centre, _ink(item.fill), _ink(item.stroke), item.stroke_width * k)
        case Rect():
            # the nut hangs on the first line: its lower edge is what must fall in place
            foot = place.y(item.y + item.height)
            size = (item.width * place.kx, item.height * k)
            return Rect(place.x(item.x), foot - size[1], *size, item.radius * k, _ink(item.fill))
        case Text():
            return _laid_text(item, place)
        case Path() | Picture():
            return item


def _laid_text(item: Text, place: _Place) -> Text:
    """Letters keep their form; their middle goes where it belongs."""
    half = item.size * 0.36
    y = place.y(item.y - half) + half * place.k
    return replace(item, x=place.x(item.x), y=y, size=item.size * place.k, ink=_ink(item.ink) or INK)
