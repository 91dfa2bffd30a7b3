"""A tab redrawn clean, in millimetres: lines, numbers on white, bar lines, letters of the tuning."""

from __future__ import annotations

from dataclasses import dataclass

from reader.export.drawing import PAPER, Circle, Drawing, Item, Line, Rect, Text
from reader.export.lettering import CAP_HEIGHT, text_width
from reader.export.paper import A4, Paper
from reader.export.tab_text import line_names
from reader.music.tab import BarKind, Group, Measure, Note, Tab

GAP = 2.6
"""Millimetres between lines."""
NUMBER_SIZE = 3.0
SIGN_SIZE = 2.2
TITLE_SIZE = 5.0
STEP = 5.4
"""Millimetres from one group to the next."""
THIN, BAR, THICK = 0.15, 0.25, 0.9
BETWEEN_SYSTEMS = 9.0
BAR_ROOM: dict[BarKind, float] = {"none": 0.0, "single": 0.0, "double": 1.0, "final": 1.4, "repeat-start": 2.6}
BAR_ROOM |= {"repeat-end": 2.6, "repeat-both": 4.6}
BAR_STROKES: dict[BarKind, tuple[tuple[float, float], ...]] = {
    "none": (),
    "single": ((0.0, BAR),),
    "double": ((0.0, BAR), (1.0, BAR)),
    "final": ((0.0, BAR), (1.0, THICK)),
    "repeat-start": ((0.0, THICK), (1.0, BAR)),
    "repeat-end": ((1.6, BAR), (2.6, THICK)),
    "repeat-both": ((1.6, BAR), (2.6, THICK), (3.6, BAR)),
}
"""Strokes of a bar line: distance from its left edge and width."""
BAR_DOTS: dict[BarKind, tuple[float, ...]] = {"repeat-start": (2.0,), "repeat-end": (0.6,), "repeat-both": (0.6, 4.6)}


@dataclass(frozen=True, slots=True)
class _Pen:
    """Where a system is being drawn."""

    left: float
    top: float
    lines: int

    @property
    def foot(self) -> float:
        return self.top + (self.lines - 1) * GAP

    def y(self, string: int) -> float:
        return self.top + (string - 1) * GAP


def draw_tab(tab: Tab, title: str = "", paper: Paper = A4) -> list[Drawing]:
    """A tab as one drawing a page.

    Parameters
    ----------
    tab : Tab
    title : str
    paper : Paper

    Returns
    -------
    list of Drawing
        At least one; systems break between measures, a measure wider than the page within it.
    """
    area = paper.content
    names = line_names(tab)
    indent = max(text_width(n, SIGN_SIZE) for n in names) + 1.5
    rows = _rows(tab.measures, area.right - area.left - indent)
    tall = (tab.line_count - 1) * GAP + BETWEEN_SYSTEMS
    head = TITLE_SIZE * 2 if title else 4.0
    fitting = max(1, int((area.bottom - area.top - head) // tall))
    pages = []
    for first in range(0, len(rows), fitting):
        items: list[Item] = [Text(area.left, area.top + TITLE_SIZE, title, TITLE_SIZE, bold=True)] if title else []
        for i, row in enumerate(rows[first : first + fitting]):
            pen = _Pen(area.left + indent, area.top + head + i * tall + SIGN_SIZE, tab.line_count)
            items += _system(row, pen, names)
        words = f"Tablature, {tab.line_count} lines, {len(tab.groups)} groups of notes."
        pages.append(Drawing(paper.width, paper.height, tuple(items), title=title, description=words))
    return pages


def _rows(measures: tuple[Measure, ...], width: float) -> list[list[Measure]]:
    rows: list[list[Measure]] = [[]]
    used = 0.0
    for measure in (piece for m in measures for piece in _broken(m, width)):
        need = _width(measure)
        if rows[-1] and used + need > width:
            rows.append([])
            used = 0.0
        rows[-1].append(measure)
        used += need
    return rows


def _broken(measure: Measure, width: float) -> list[Measure]:
    """A measure cut into pieces that fit a line of the page."""
    most = max(1, int((width - 12.0) // STEP))
    pieces = [measure.groups[i : i + most] for i in range(0, len(measure.groups), most)] or [()]
    last = len(pieces) - 1
    return [
        Measure(p, measure.bar if i == last else "none", measure.opening if i == 0 else "none")
        for i, p in enumerate(pieces)
    ]


def _width(measure: Measure) -> float:
    return BAR_ROOM[measure.opening] + BAR_ROOM[measure.bar] + STEP * (len(measure.groups) + 0.4)


def _system(row: list[Measure], pen: _Pen, names: list[str]) -> list[Item]:
    items: list[Item] = [
        Text(pen.left - 1.0, pen.y(s) + SIGN_SIZE * CAP_HEIGHT / 2, name, SIGN_SIZE, "end")
        for s, name in enumerate(names, 1)
        if name
    ]
    end = pen.left + sum(_width(m) for m in row)
    items += [Line(pen.left, pen.y(s), end, pen.y(s), THIN) for s in range(1, pen.lines + 1)]
    items.append(Line(pen.left, pen.top, pen.left, pen.foot, BAR))
    x = pen.left
    for measure in row:
        items += _bar(measure.opening, x, pen)
        x += BAR_ROOM[measure.opening] + STEP * 0.7
        for group in measure.groups:
            items += _group(group, x, pen)
            x += STEP
        x += BAR_ROOM[measure.bar] - STEP * 0.3
        items += _bar(measure.bar, x - BAR_ROOM[measure.bar], pen)
    return items


def _bar(kind: BarKind, x: float, pen: _Pen) -> list[Item]:
    strokes: list[Item] = [Line(x + dx, pen.top, x + dx, pen.foot, width) for dx, width in BAR_STROKES[kind]]
    middle = (pen.top + pen.foot) / 2
    away = GAP if pen.lines % 2 == 0 else GAP / 2
    dots = [Circle(x + dx, middle + d, 0.4) for dx in BAR_DOTS.get(kind, ()) for d in (-away, away)]
    return [*strokes, *dots]


def _group(group: Group, x: float, pen: _Pen) -> list[Item]:
    items: list[Item] = [item for note in group.notes for item in _number(note, x, pen)]
    if group.text:
        items.append(Text(x, pen.top - 1.8, group.text, SIGN_SIZE, "middle"))
    return items


def _number(note: Note, x: float, pen: _Pen) -> list[Item]:
    written = "x" if note.fret is None else str(note.fret)
    text = f"({written})" if note.ghost else written
    wide, tall = text_width(text, NUMBER_SIZE) + 0.5, NUMBER_SIZE * CAP_HEIGHT + 0.3
    y = pen.y(note.string)
    return [
        Rect(x - wide / 2, y - tall / 2, wide, tall, fill=PAPER),
        Text(x, y + NUMBER_SIZE * CAP_HEIGHT / 2, text, NUMBER_SIZE, "middle"),
    ]
