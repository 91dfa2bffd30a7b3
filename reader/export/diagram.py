"""From a frame to its drawing: strings, frets, stops, barres, marks, lettering.

The look, and why. Fret wires reach a little past the outer strings and stops sit just behind the fret, as on a real
neck. Lower strings are drawn thicker. Without a nut the strings run on upward for a little, so that a missing nut
cannot be overlooked. A barre is a bar with a bead on every string that it really sounds. Everything is said by form
alone: filled, hollow, crossed, numbered; nothing by colour.

All lengths below are in gaps, the distance between neighbouring strings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from reader.export.drawing import INK, PAPER, SOFT, Box, Circle, Drawing, DrawnGrid, Item, Line, Point, Rect, Text
from reader.export.lettering import CAP_HEIGHT, fitted_size
from reader.music.frame import Barre, Finger, Frame

SIDE = 1.75  # room left and right of the grid: a first-fret number of two digits must fit
TITLE_BAND, TITLE_SIZE = 1.85, 1.6
MARK_BAND, MARK_HEIGHT = 1.25, 0.8
ROW = 1.25
STOP_AT = 0.56  # where in its space a stop sits, 0 at the nut side
BOTTOM = 0.4
FOOT_BAND, FOOT_SIZE = 1.05, 0.8

STOP_RADIUS, DIGIT_SIZE = 0.42, 0.8
RING_RADIUS, RING_WIDTH = 0.27, 0.12
CROSS_ARM, CROSS_WIDTH = 0.24, 0.14
BAR_HEIGHT = 0.46
NUT_HEIGHT, NUT_REACH = 0.27, 0.2
FRET_WIDTH, FRET_REACH = 0.07, 0.14
STRING_WIDTHS = (0.055, 0.12)  # thinnest and thickest string
STUB = 0.24
NUMBER_SIZE, NUMBER_AT = 0.86, 0.66


@dataclass(frozen=True, slots=True)
class FrameStyle:
    """How to draw frames.

    Parameters
    ----------
    gap : float
        Millimetres between neighbouring strings.
    fingers : {'in', 'below', 'none'}
        Where finger numbers go: white in the stops, under the strings, or nowhere.
    left_handed : bool
        Mirror the frame for a player who stops strings with the right hand.
    """

    gap: float = 4.0
    fingers: Literal["in", "below", "none"] = "in"
    left_handed: bool = False

    def width(self, string_count: int) -> float:
        """How wide a diagram of so many strings is, margins included."""
        return (string_count - 1 + 2 * SIDE) * self.gap

    @classmethod
    def for_width(cls, width: float, string_count: int, **options: object) -> FrameStyle:
        """The style at which a drawing is ``width`` millimetres wide, margins included."""
        return replace(cls(**options), gap=width / (string_count - 1 + 2 * SIDE))  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class _Board:
    """Where things are, in millimetres."""

    frame: Frame
    gap: float
    top: float  # the line that the first space hangs from
    style: FrameStyle

    def x(self, index: int) -> float:
        return (SIDE + index) * self.gap

    def y(self, row: float) -> float:
        return self.top + row * ROW * self.gap

    def stop(self, index: int, fret: int) -> Point:
        return self.x(index), self.y(fret - self.frame.first_fret + STOP_AT)

    @property
    def right(self) -> float:
        return self.x(self.frame.string_count - 1)

    @property
    def bottom(self) -> float:
        return self.y(self.frame.fret_count)


def draw_frame(
    frame: Frame,
    title: str = "",
    *,
    under: Sequence[str] = (),
    pitches: Sequence[int] = (),
    style: FrameStyle = FrameStyle(),
) -> Drawing:
    """Draw one chord diagram.

    Parameters
    ----------
    frame : Frame
    title : str
        Chord label above the grid, as it shall be printed; shrinks to fit.
    under : sequence of str
        One short text per string, leftmost first, printed under the strings: string names, notes or degrees.
    pitches : sequence of int
        MIDI number of each open string; lower ones are drawn thicker. Without them all strings are alike.
    style : FrameStyle

    Returns
    -------
    Drawing
        As wide as ``(strings - 1 + 2 * SIDE) * gap``; ``grids`` holds this frame as it looks, mirrored if asked for.
    """
    frame = _with_full_window(frame)
    description = describe_frame(frame, title, under)
    if style.left_handed:
        frame, under, pitches = mirrored(frame), tuple(reversed(under)), tuple(reversed(pitches))
    gap = style.gap
    top = (MARK_BAND + (TITLE_BAND if title else 0.0)) * gap
    board = _Board(frame, gap, top, style)
    items = [*_title(board, title), *_neck(board, pitches), *_marks(board), *_stops(board)]
    feet = [row for row in (_finger_row(frame, style), tuple(under)) if any(row)]
    for number, row in enumerate(feet):
        items += _foot(board, row, number)
    height = board.bottom + (BOTTOM + FOOT_BAND * len(feet)) * gap
    corners = (
        (board.x(0), board.top),
        (board.right, board.top),
        (board.right, board.bottom),
        (board.x(0), board.bottom),
    )
    grid = DrawnGrid(corners, frame, title)
    return Drawing(board.right + SIDE * gap, height, tuple(items), title, description, (grid,))


def draw_blank(
    string_count: int, fret_count: int = 4, style: FrameStyle = FrameStyle(), titled: bool = True
) -> Drawing:
    """An empty neck to fill in, of the size of a diagram; with ``titled`` there is a line to write the name on."""
    nothing = Frame((None,) * string_count, (None,) * string_count, fret_count)
    gap = style.gap
    board = _Board(nothing, gap, nut_line(style), style)
    width = board.right + SIDE * gap
    y = TITLE_SIZE * 0.9 * gap
    items = [*_neck(board, ()), Line(width / 2 - 1.6 * gap, y, width / 2 + 1.6 * gap, y, FRET_WIDTH * gap, SOFT)]
    height = board.bottom + (BOTTOM + FOOT_BAND) * gap
    words = f"Empty chord diagram of {string_count} strings and {fret_count} frets, to fill in."
    return Drawing(width, height, tuple(items), "Empty diagram", words)


def nut_line(style: FrameStyle) -> float:
    """How far below the top of a titled diagram its first line lies, in millimetres: for lining diagrams up."""
    return (MARK_BAND + TITLE_BAND) * style.gap


def mirrored(frame: Frame) -> Frame:
    """The frame as a left-handed player's neck shows it: strings in the opposite order."""
    count = frame.string_count
    barres = tuple(Barre(b.fret, count + 1 - b.to_string, count + 1 - b.from_string) for b in frame.barres)
    return replace(frame, frets=frame.frets[::-1], fingers=frame.fingers[::-1], barres=barres)


def describe_frame(frame: Frame, title: str = "", names: Sequence[str] = ()) -> str:
    """What the diagram shows, in words, string by string from the leftmost: for people who cannot see it."""
    count = frame.string_count
    parts = [f"{title + ': ' if title else ''}chord diagram of {count} strings, frets {frame.first_fret} to "]
    parts[0] += f"{frame.last_fret}, shape {frame.shape}."
    for index, (fret, finger) in enumerate(zip(frame.frets, frame.fingers, strict=True)):
        name = f" ({names[index]})" if index < len(names) and names[index] else ""
        parts.append(f"String {count - index}{name}: {_played(fret, finger)}.")
    parts += [f"Barre at fret {b.fret} from string {b.from_string} to string {b.to_string}." for b in frame.barres]
    return " ".join(parts)


def _played(fret: int | None, finger: Finger) -> str:
    if not fret:
        return "not played" if fret is None else "open"
    return f"fret {fret}" + ("" if finger is None else ", thumb" if finger == "T" else f", finger {finger}")


def _with_full_window(frame: Frame) -> Frame:
    """Widen the window until every stop lies in it: a stop must never vanish from a drawing."""
    used = [*frame.shape.stopped, *(b.fret for b in frame.barres)]
    first = min([frame.first_fret, *used])
    last = max([frame.last_fret, *used])
    return replace(frame, first_fret=first, fret_count=last - first + 1)


# ---------------------------------------------------------------- the parts


def _title(board: _Board, title: str) -> list[Item]:
    if not title:
        return []
    width = board.right + SIDE * board.gap
    size = fitted_size(title, 0.94 * width, TITLE_SIZE * board.gap, bold=True)
    return [Text(width / 2, TITLE_SIZE * 0.82 * board.gap, title, size, "middle", bold=True)]


def _neck(board: _Board, pitches: Sequence[int]) -> list[Item]:
    frame, gap, top = board.frame, board.gap, board.top
    left, right = board.x(0), board.right
    has_nut = frame.first_fret == 1
    reach = FRET_REACH * gap
    wires: list[Item] = [
        Line(left - reach, board.y(row), right + reach, board.y(row), FRET_WIDTH * gap)
        for row in range(frame.fret_count + 1)
    ]
    stub = 0.0 if has_nut else STUB * gap
    strings: list[Item] = [
        Line(board.x(i), top - stub, board.x(i), board.bottom, width * gap)
        for i, width in enumerate(_string_widths(frame.string_count, pitches))
    ]
    return [*wires, *strings, _nut(board) if has_nut else _first_fret(board)]


def _string_widths(count: int, pitches: Sequence[int]) -> list[float]:
    thin, thick = STRING_WIDTHS
    low, high = (min(pitches), max(pitches)) if pitches else (0, 0)
    if low == high:
        return [(thin + thick) / 2] * count
    return [thick + (thin - thick) * (pitch - low) / (high - low) for pitch in pitches]


def _nut(board: _Board) -> Item:
    gap = board.gap
    reach, height = NUT_REACH * gap, NUT_HEIGHT * gap
    y = board.top - height + FRET_WIDTH * gap / 2
    return Rect(board.x(0) - reach, y, board.right - board.x(0) + 2 * reach, height, 0.08 * gap)


def _first_fret(board: _Board) -> Item:
    gap, size = board.gap, NUMBER_SIZE * board.gap
    y = board.y(0.5) + CAP_HEIGHT * size / 2
    number = str(board.frame.first_fret)
    if board.style.left_handed:
        return Text(board.right + NUMBER_AT * gap, y, number, size, "start", bold=True)
    return Text(board.x(0) - NUMBER_AT * gap, y, number, size, "end", bold=True)


def _marks(board: _Board) -> list[Item]:
    gap = board.gap
    y = board.top - MARK_HEIGHT * gap
    out: list[Item] = []
    for index, fret in enumerate(board.frame.frets):
        x, arm = board.x(index), CROSS_ARM * gap
        if fret == 0:
            out.append(Circle(x, y, RING_RADIUS * gap, None, INK, RING_WIDTH * gap))
        elif fret is None:
            out.append(Line(x - arm, y - arm, x + arm, y + arm, CROSS_WIDTH * gap))
            out.append(Line(x - arm, y + arm, x + arm, y - arm, CROSS_WIDTH * gap))
    return out


def _stops(board: _Board) -> list[Item]:
    frame, gap = board.frame, board.gap
    out: list[Item] = []
    for barre in frame.barres:
        left, y = board.stop(frame.string_count - barre.from_string, barre.fret)
        right, _ = board.stop(frame.string_count - barre.to_string, barre.fret)
        out.append(Line(left, y, right, y, BAR_HEIGHT * gap))
    size = DIGIT_SIZE * gap
    for index, (fret, finger) in enumerate(zip(frame.frets, frame.fingers, strict=True)):
        if not fret:
            continue
        x, y = board.stop(index, fret)
        out.append(Circle(x, y, STOP_RADIUS * gap))
        if finger is not None and board.style.fingers == "in":
            out.append(Text(x, y + CAP_HEIGHT * size / 2, str(finger), size, "middle", bold=True, ink=PAPER))
    return out


def _finger_row(frame: Frame, style: FrameStyle) -> tuple[str, ...]:
    if style.fingers != "below":
        return ()
    return tuple(
        "" if finger is None or not fret else str(finger)
        for fret, finger in zip(frame.frets, frame.fingers, strict=True)
    )


def _foot(board: _Board, row: Sequence[str], number: int) -> list[Item]:
    gap = board.gap
    y = board.bottom + (BOTTOM + FOOT_BAND * number + 0.72) * gap
    bold = number == 0 and board.style.fingers == "below"
    out: list[Item] = []
    for index, text in enumerate(row):
        if text:
            size = fitted_size(text, 0.92 * gap, FOOT_SIZE * gap, bold)
            out.append(Text(board.x(index), y, text, size, "middle", bold, INK if bold else SOFT))
    return out


def grid_box(grid: DrawnGrid) -> Box:
    """The upright box around the four corners of a drawn grid."""
    xs, ys = [x for x, _ in grid.corners], [y for _, y in grid.corners]
    return Box(min(xs), min(ys), max(xs), max(ys))
