"""A chord diagram as a short list of lines, circles and texts, in millimetres; y grows downward.

One list serves every format: ``svg``, ``pdf`` and ``png`` draw it, the sheets arrange it, and the grids that it
remembers say where on the picture which frame stands, so that a reader of pictures can be checked against it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from reader.export.lettering import CAP_HEIGHT, DESCENT, text_width
from reader.music.frame import Frame

INK = "#111111"
SOFT = "#5a5a5a"
PAPER = "#ffffff"

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle, edges in millimetres."""

    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: Box, slack: float = 0.0) -> bool:
        """Whether the two share more than ``slack`` millimetres both ways."""
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.bottom, other.bottom) - max(self.top, other.top)
        return across > slack and down > slack

    def inside(self, other: Box, slack: float = 0.01) -> bool:
        """Whether this box lies within the other, give or take ``slack`` millimetres."""
        return (
            self.left >= other.left - slack
            and self.top >= other.top - slack
            and self.right <= other.right + slack
            and self.bottom <= other.bottom + slack
        )


@dataclass(frozen=True, slots=True)
class Line:
    """A stroke with round ends; ``dash`` is the length of dashes and gaps, 0 for a solid one."""

    x1: float
    y1: float
    x2: float
    y2: float
    width: float
    ink: str = INK
    dash: float = 0.0


@dataclass(frozen=True, slots=True)
class Rect:
    """A rectangle, filled, stroked or both; ``radius`` rounds its corners."""

    x: float
    y: float
    width: float
    height: float
    radius: float = 0.0
    fill: str | None = INK
    stroke: str | None = None
    stroke_width: float = 0.0


@dataclass(frozen=True, slots=True)
class Circle:
    """A disc, a ring or both."""

    x: float
    y: float
    radius: float
    fill: str | None = INK
    stroke: str | None = None
    stroke_width: float = 0.0


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; ``y`` is the line of writing, ``anchor`` is start, middle or end."""

    x: float
    y: float
    text: str
    size: float
    anchor: str = "start"
    bold: bool = False
    ink: str = INK


@dataclass(frozen=True, slots=True)
class Path:
    """Steps of (letter, numbers) with the letters M, L, C and Z of SVG."""

    steps: tuple[tuple[str, tuple[float, ...]], ...]
    fill: str | None = None
    stroke: str | None = INK
    stroke_width: float = 0.2


@dataclass(frozen=True, slots=True)
class Picture:
    """A PNG or JPEG picture stretched over a rectangle, with a sentence for those who cannot see it."""

    x: float
    y: float
    width: float
    height: float
    data: bytes = field(repr=False)
    description: str = ""


Item = Line | Rect | Circle | Text | Path | Picture


@dataclass(frozen=True, slots=True)
class DrawnGrid:
    """Where a frame stands on a drawing: its corners as in a reading, and the frame as it looks there."""

    corners: tuple[Point, Point, Point, Point]
    frame: Frame
    label: str = ""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A picture of ``width`` by ``height`` millimetres.

    Parameters
    ----------
    width, height : float, millimetres
    items : tuple of Item
        In painting order.
    title, description : str
        For screen readers and document properties.
    grids : tuple of DrawnGrid
        What diagrams stand on it.
    """

    width: float
    height: float
    items: tuple[Item, ...]
    title: str = ""
    description: str = ""
    grids: tuple[DrawnGrid, ...] = ()

    @property
    def box(self) -> Box:
        """The whole drawing, from its top left corner."""
        return Box(0.0, 0.0, self.width, self.height)


def placed(drawing: Drawing, x: float, y: float, scale: float = 1.0) -> Drawing:
    """The drawing scaled and moved so that its top left corner lies at (x, y); its size stays that of its content."""
    grids = tuple(
        replace(g, corners=tuple((x + px * scale, y + py * scale) for px, py in g.corners))  # type: ignore[arg-type]
        for g in drawing.grids
    )
    items = tuple(_placed_item(item, x, y, scale) for item in drawing.items)
    return replace(drawing, width=drawing.width * scale, height=drawing.height * scale, items=items, grids=grids)


def _placed_item(item: Item, x: float, y: float, k: float) -> Item:
    match item:
        case Line():
            ends = (x + item.x1 * k, y + item.y1 * k, x + item.x2 * k, y + item.y2 * k)
            return Line(*ends, item.width * k, item.ink, item.dash * k)
        case Text():
            return replace(item, x=x + item.x * k, y=y + item.y * k, size=item.size * k)
        case Circle():
            place = (x + item.x * k, y + item.y * k, item.radius * k)
            return Circle(*place, item.fill, item.stroke, item.stroke_width * k)
        case Rect():
            place4 = (x + item.x * k, y + item.y * k, item.width * k, item.height * k)
            return Rect(*place4, item.radius * k, item.fill, item.stroke, item.stroke_width * k)
        case Picture():
            return replace(item, x=x + item.x * k, y=y + item.y * k, width=item.width * k, height=item.height * k)
        case Path():
            steps = tuple(
                (letter, tuple((x, y)[i % 2] + v * k for i, v in enumerate(numbers))) for letter, numbers in item.steps
            )
            return replace(item, steps=steps, stroke_width=item.stroke_width * k)


def joined(width: float, height: float, parts: Iterable[Drawing], title: str, description: str) -> Drawing:
    """One drawing out of parts that were already placed."""
    parts = tuple(parts)
    items = tuple(item for part in parts for item in part.items)
    grids = tuple(grid for part in parts for grid in part.grids)
    return Drawing(width, height, items, title, description, grids)


def bounds(item: Item) -> Box:
    """The box that the ink of one item fills; capitals and descenders decide the height of a text."""
    match item:
        case Line():
            h = item.width / 2
            xs, ys = sorted((item.x1, item.x2)), sorted((item.y1, item.y2))
            return Box(xs[0] - h, ys[0] - h, xs[1] + h, ys[1] + h)
        case Rect():
            h = item.stroke_width / 2
            return Box(item.x - h, item.y - h, item.x + item.width + h, item.y + item.height + h)
        case Circle():
            r = item.radius + item.stroke_width / 2
            return Box(item.x - r, item.y - r, item.x + r, item.y + r)
        case Text():
            w = text_width(item.text, item.size, item.bold)
            left = item.x - w * {"start": 0.0, "middle": 0.5, "end": 1.0}[item.anchor]
            return Box(left, item.y - CAP_HEIGHT * item.size, left + w, item.y + DESCENT * item.size)
        case Picture():
            return Box(item.x, item.y, item.x + item.width, item.y + item.height)
        case Path():
            h = item.stroke_width / 2
            numbers = [n for _, step in item.steps for n in step]
            px, py = numbers[0::2], numbers[1::2]
            return Box(min(px) - h, min(py) - h, max(px) + h, max(py) + h)


def ink_box(items: Iterable[Item]) -> Box:
    """The box around all the ink."""
    boxes = [bounds(item) for item in items]
    return Box(
        min(b.left for b in boxes), min(b.top for b in boxes), max(b.right for b in boxes), max(b.bottom for b in boxes)
    )
