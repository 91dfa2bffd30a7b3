"""Ways to fill a page with diagrams."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from reader.proving.artist import Artist
from reader.proving.dice import Dice
from reader.proving.draft import Box, Draft, borrow_staff, draw_in
from reader.proving.paper import staves
from reader.proving.printer import Printer
from reader.proving.tabs import staff_above
from reader.proving.tool import Tool
from reader.proving.words import phrase, title, word


@dataclass(frozen=True)
class Job:
    """What a layout needs: the page so far, who draws (now and then somebody else), and on what."""

    draft: Draft
    artist: Artist
    others: tuple[Artist, ...]
    dice: Dice
    form: Printer | None = None  # prints empty grids that the artist fills

    def who(self, dice: Dice) -> Artist:
        """Mostly the main artist."""
        return dice.pick(self.others) if self.others and dice.chance(0.4) else self.artist

    @property
    def tool(self) -> Tool:
        """For words."""
        return self.artist.tool(self.draft.sheet, self.dice.child("words"))


def write_lines(tool: Tool, box: Box, cap: float, leading: float, dice: Dice) -> None:
    """Fill a box with lines of invented text."""
    y = box[1] + cap
    while y + cap < box[3]:
        length = dice.between(0.45, 1.0) * (box[2] - box[0])
        text = phrase(dice, 2)
        while tool.width(text + " abcdefg", cap) < length:
            text += " " + word(dice)
        tool.write(text, (box[0], y), cap, "l", "label")
        y += cap * leading


def _heading(job: Job, box: Box) -> Box:
    """Write a title; returns the room that is left."""
    d = job.dice.child("heading")
    high = box[3] - box[1]
    if d.chance(0.35):
        return box
    cap = high * d.between(0.016, 0.03)
    if d.chance(0.5):
        job.tool.write(title(d), ((box[0] + box[2]) / 2, box[1] + cap), cap, "c", "label")
    else:
        job.tool.write(title(d), (box[0], box[1] + cap), cap, "l", "label")
    return box[0], box[1] + 3.2 * cap, box[2], box[3]


def _page_box(job: Job, margin: float = 0.06) -> Box:
    wide, high = job.draft.sheet.size
    return margin * wide, margin * high, (1 - margin) * wide, (1 - margin) * high


def _one(job: Job, box: Box, dice: Dice, fill: float, most: float) -> None:
    """A diagram in one cell; on printed forms the grid is there already, sometimes left empty."""
    artist = job.who(dice)
    if artist.unrest and job.form is None and dice.chance(0.012):
        return _half_grid(job, box, dice)
    chart = artist.chart(dice)
    if job.form is not None:
        chart = replace(
            chart, nut="thick" if chart.first_fret == 1 or dice.chance(0.6) else chart.nut, extras=frozenset()
        )
        chart = replace(chart, open_end=False, tops=tuple(t if t != "wavy" else "x" for t in chart.tops))
        if dice.chance(0.12):
            chart = replace(
                chart, dots=(), bars=(), sides=(), tops=(), under=(), label=None, label_read=None, hard=False
            )
    draw_in(job.draft, artist, chart, box, dice, fill, most, job.form)
    return None


def _ground(job: Job, cell: Box, style: str, column: tuple[int, int], dice: Dice) -> None:
    """What a diagram stands on: a frame, a rule above, or a slip pasted to the sheet."""
    x0, y0, x1, y1 = cell
    if style == "cards":
        for a, b in (((x0, y0), (x1, y0)), ((x1, y0), (x1, y1)), ((x1, y1), (x0, y1)), ((x0, y1), (x0, y0))):
            job.tool.line(a, b, 0.7)
    elif style == "rows" and column[0] == 0:
        job.tool.line((x0, y0), (x0 + (x1 - x0) * column[1] * 1.1, y0), 0.6)
    elif style == "pasted":
        grey = dice.whole(228, 255)
        slip = np.full((max(int(y1 - y0), 1), max(int(x1 - x0), 1)), 1.0, np.float32)
        job.draft.sheet.lay(int(x0) + 2, int(y0) + 2, slip, (150, 150, 150), True)
        job.draft.sheet.lay(int(x0), int(y0), slip, (grey, grey, grey - dice.whole(0, 10)), True)


def _half_grid(job: Job, box: Box, dice: Dice) -> None:
    """A grid that somebody began and gave up."""
    wide, high = box[2] - box[0], box[3] - box[1]
    gap = min(wide, high) / 6
    x, y, n = box[0] + gap, box[1] + 1.5 * gap, dice.whole(2, 4)
    for k in range(n):
        job.tool.line((x + k * gap, y), (x + k * gap, y + gap * dice.between(2.0, 3.4)))
    for k in range(dice.whole(1, 2)):
        job.tool.line((x, y + k * gap), (x + (n - 1) * gap, y + k * gap))
    far_x, far_y = x + (n - 1) * gap, y + 3.4 * gap
    job.draft.ignore.append([(x, y), (far_x, y), (far_x, far_y), (x, far_y)])


def lay_grid(job: Job, columns: int, rows: int, box: Box) -> None:
    """Diagrams in even columns and rows, some left out at the end."""
    d = job.dice.child("grid")
    wide, high = (box[2] - box[0]) / columns, (box[3] - box[1]) / rows
    last = columns * rows - (d.whole(0, columns - 1) if rows > 1 and d.chance(0.5) else 0)
    fill, scatter = d.between(0.72, 0.97), job.artist.unrest * d.between(0, 0.06)
    pad = d.between(0.03, 0.1)
    most = 0.11 * max(job.draft.sheet.size) if columns * rows > 1 else 1e9
    style = d.weigh({"plain": 0.87, "cards": 0.08, "rows": 0.05})
    style = "pasted" if job.others and d.chance(0.6) else style
    for k in range(last):
        c = d.child(k)
        x = box[0] + (k % columns) * wide + c.bell(0, scatter) * wide
        y = box[1] + (k // columns) * high + c.bell(0, scatter) * high
        cell = (x + pad * wide, y + pad * high, x + (1 - pad) * wide, y + (1 - pad) * high)
        _ground(job, cell, style, (k % columns, columns), c.child("ground"))
        _one(job, cell, c, fill * c.between(1 - 0.12 * job.artist.unrest, 1), most)


def chart_page(job: Job) -> None:
    """A title over an even grid of diagrams."""
    d = job.dice.child("chart")
    box = _heading(job, _page_box(job, d.between(0.03, 0.08)))
    aspect = (box[2] - box[0]) / (box[3] - box[1])
    columns = d.weigh({1: 0.04, 2: 0.12, 3: 0.22, 4: 0.28, 5: 0.18, 6: 0.1, 7: 0.04, 8: 0.02})
    rows = int(np.clip(round(columns / aspect * d.between(0.55, 1.1)), 1, 8))
    if job.artist.sideways:
        columns, rows = max(1, min(columns, 3)), max(1, min(rows + 1, 6))
    while columns * rows > 40:
        rows -= 1
    lay_grid(job, columns, rows, box)


def lesson_page(job: Job) -> None:
    """Rows of a few diagrams between lines of text."""
    d = job.dice.child("lesson")
    left, y, right, low = _heading(job, _page_box(job, 0.07))
    cap = (low - y) * d.between(0.009, 0.014)
    while y < low - 0.12 * (low - left):
        lines = d.whole(0, 3)
        if lines:
            write_lines(job.tool, (left, y, right, y + cap * 2.2 * lines + cap), cap, 2.1, d)
            y += cap * (2.2 * lines + 2)
        count = d.weigh({1: 0.2, 2: 0.2, 3: 0.25, 4: 0.2, 5: 0.1, 6: 0.05})
        high = (low - left) * d.between(0.11, 0.2)
        if y + high > low:
            break
        wide = min((right - left) / count, high * (2.0 if job.artist.sideways else 1.1))
        start = left if d.chance(0.6) else (left + right - wide * count) / 2
        for k in range(count):
            x = start + k * wide
            _one(job, (x + 0.05 * wide, y, x + 0.95 * wide, y + high), d.child(int(y), k), 0.95, 1e9)
        y += high * 1.06


def margin_page(job: Job) -> None:
    """Text with a column of diagrams beside it."""
    d = job.dice.child("margin")
    left, top, right, low = _heading(job, _page_box(job, 0.07))
    on_right = d.chance(0.6)
    split = (right - left) * d.between(0.17, 0.3)
    column = (right - split, top, right, low) if on_right else (left, top, left + split, low)
    text = (left, top, right - split * 1.15, low) if on_right else (left + split * 1.15, top, right, low)
    write_lines(job.tool, text, (low - top) * d.between(0.009, 0.013), d.between(2.0, 3.2), d)
    lay_grid(job, 1, d.whole(3, 7), column)


def scatter_page(job: Job) -> None:
    """Diagrams here and there, of different sizes."""
    d = job.dice.child("scatter")
    box = _page_box(job, 0.04)
    columns, rows = d.whole(2, 4), d.whole(2, 4)
    wide, high = (box[2] - box[0]) / columns, (box[3] - box[1]) / rows
    cells = d.shuffled([(c, r) for c in range(columns) for r in range(rows)])
    for n, (c, r) in enumerate(cells[: d.whole(2, columns * rows)]):
        k = d.child(n)
        size = k.between(0.55, 1.0)
        x = box[0] + (c + k.between(0, 1 - size)) * wide
        y = box[1] + (r + k.between(0, 1 - size)) * high
        if k.chance(0.12):
            job.tool.write(phrase(k, 2), (x, y + 0.3 * high), high * 0.05, "l", "label")
            continue
        _one(job, (x + 0.03 * wide, y + 0.03 * high, x + size * wide * 0.97, y + size * high * 0.97), k, 1.0, 1e9)


def closeup_page(job: Job) -> None:
    """A single diagram that fills most of the picture."""
    d = job.dice.child("close")
    wide, high = job.draft.sheet.size
    m = d.between(0.03, 0.12)
    _one(job, (m * wide, m * high, (1 - m) * wide, (1 - m) * high), d, d.between(0.7, 1.0), 1e9)


def strip_page(job: Job) -> None:
    """One or two rows on a wide slip of paper."""
    d = job.dice.child("strip")
    box = _page_box(job, 0.04)
    aspect = (box[2] - box[0]) / (box[3] - box[1])
    rows = 1 if aspect > 1.3 or d.chance(0.5) else 2
    lay_grid(job, int(np.clip(round(aspect * rows * d.between(0.8, 1.5)), 1, 9)), rows, box)


def either_page(job: Job) -> None:
    """Pairs of diagrams joined by a word: this one or that one."""
    d = job.dice.child("either")
    left, top, right, low = _heading(job, _page_box(job, 0.07))
    rows = d.whole(2, 4)
    high = (low - top) / rows
    for r in range(rows):
        wide = (right - left) / 2
        y = top + r * high
        for c in (0, 1):
            x = left + c * wide
            _one(job, (x + 0.1 * wide, y, x + 0.8 * wide, y + 0.9 * high), d.child(r, c), 0.9, 1e9)
        job.tool.write(d.pick(["or", "OR", "or:"]), (left + 0.95 * wide, y + 0.5 * high), 0.07 * high, "c", "label")


def staff_page(job: Job) -> None:
    """Strings drawn across the staves of music paper, the staff lines serving as frets."""
    d = job.dice.child("staff")
    sheet = job.draft.sheet
    wide, high = sheet.size
    gap = high * d.between(0.013, 0.02)
    x0, x1 = 0.06 * wide, 0.94 * wide
    y = 0.1 * high
    while y + 5 * gap < 0.95 * high:
        ys = staves(sheet, y, gap, x0, x1)
        x = x0 + 2 * gap
        while x + 9 * gap < x1 and d.chance(0.75):
            string_gap = gap * d.between(0.8, 1.2)
            chart = job.artist.chart(d.child(int(x), int(y)))
            rows = [e.row for e in chart.dots] + [b.row for b in chart.bars]
            if max(rows, default=0) < 4 and chart.strings < 7 and not chart.sides:
                chart = replace(chart, spaces=4, open_end=False, nut="thin", under=(), under_fingers=False)
                borrow_staff(job.draft, job.artist, chart, x, ys, string_gap, (x0, x1), d.child(int(x), int(y), "b"))
            x += string_gap * (chart.strings + d.between(2.5, 5))
        y += gap * d.between(9, 12)


def song_page(job: Job) -> None:
    """Lines of words with tiny grids above, between or after them."""
    d = job.dice.child("song")
    sheet = job.draft.sheet
    wide, _ = sheet.size
    left, y, right, low = _heading(job, _page_box(job, 0.07))
    cap = wide * d.between(0.0085, 0.013)
    grid = d.between(30, 60)
    lettered, between = d.chance(0.2), d.chance(0.15)
    repertoire = [job.artist.chart(d.child("chord", k)) for k in range(d.whole(3, 6))]
    while y < low - 5 * grid:
        tall = 0.0
        x = left + d.between(0, 0.1) * wide
        if d.chance(0.85) and not lettered:
            count = d.weigh({1: 0.15, 2: 0.4, 3: 0.3, 4: 0.15})
            for k in range(count):
                chart = d.pick(repertoire)
                gap = grid / (chart.strings - 1)
                room = (x, y, x + grid * 3.2, y + grid * 3.2)
                box = draw_in(job.draft, job.artist, chart, room, d.child(int(y), k), 1.0, gap * d.between(0.92, 1.08))
                tall = max(tall, box[3] - y)
                x += max(grid * 1.9, (right - left) / count * d.between(0.6, 1.0))
                if x + grid * 3 > right:
                    break
        y += tall + cap * d.between(0.9, 1.6)
        text = phrase(d, 4)
        while job.tool.width(text, cap) < (right - left) * d.between(0.55, 0.85):
            text += " " + word(d)
        job.tool.write(text, (left, y), cap, "l", "label")
        y += cap * d.between(1.6, 3.0)
        if between and d.chance(0.3) and y < low - 8 * grid:
            y += 2 * cap
        if d.chance(0.12):
            y += cap * 2.5
            job.tool.write(d.pick(["Chorus", "Verse", "Intro", "2.", "x2"]), (left, y), cap * 1.1, "l", "label")
            y += cap * 2
    if lettered or not job.draft.charts:
        _foot_row(job, (left, y, right, low + 0.05 * (low - left)), repertoire, grid, d)


def _foot_row(job: Job, box: Box, charts: list, grid: float, dice: Dice) -> None:  # type: ignore[type-arg]
    """The chords of a song in one row below it."""
    step = (box[2] - box[0]) / max(len(charts), 4)
    for k, chart in enumerate(charts):
        x = box[0] + k * step
        draw_in(
            job.draft,
            job.artist,
            chart,
            (x, box[1], x + step * 0.9, box[1] + grid * 3.4),
            dice.child("foot", k),
            1.0,
            grid / (chart.strings - 1),
        )


def lead_page(job: Job) -> None:
    """Staves with notes, diagrams above them and words below."""
    d = job.dice.child("lead")
    left, y, right, low = _heading(job, _page_box(job, 0.07))
    gap = (low - y) * d.between(0.007, 0.011)
    size = gap * d.between(6, 9)
    while y + size * 1.6 + 9 * gap < low:
        count = d.whole(1, 5)
        for k in range(count):
            x = left + (right - left) * (k + d.between(0, 0.3)) / count
            if d.chance(0.85):
                _one(
                    job,
                    (x, y, x + min(size * 1.1, (right - left) / count), y + size * 1.5),
                    d.child(int(y), k),
                    1.0,
                    1e9,
                )
        y += size * 1.55
        staff_above(job.tool, job.draft.sheet, left, right, y, gap, d.child("staff", int(y)))
        y += 7.5 * gap
        if d.chance(0.7):
            job.tool.write(phrase(d, 6), (left + 2 * gap, y), 1.1 * gap, "l", "label")
        y += gap * d.between(2.5, 5)


def blank_page(job: Job) -> None:
    """Chord paper: printed grids that nobody has filled in."""
    d = job.dice.child("blank")
    left, top, right, low = _page_box(job, 0.07)
    columns, rows = d.whole(3, 6), d.whole(3, 6)
    wide, high = (right - left) / columns, (low - top) / rows
    printer = Printer(job.draft.sheet, "", "")
    strings, spaces = d.pick([4, 4, 6]), d.pick([4, 5])
    gap, row = 0.62 * wide / (strings - 1), 0.62 * high / spaces
    for k in range(columns * rows):
        x, y = left + k % columns * wide, top + k // columns * high
        for s in range(strings):
            printer.line((x + s * gap, y), (x + s * gap, y + spaces * row))
        for f in range(spaces + 1):
            printer.line((x, y + f * row), (x + (strings - 1) * gap, y + f * row), 2.5 if f == 0 else 1.0)
        far_x, far_y = x + (strings - 1) * gap, y + spaces * row
        job.draft.ignore.append([(x, y), (far_x, y), (far_x, far_y), (x, far_y)])


PAGES: dict[str, Callable[[Job], None]] = {
    "chart": chart_page,
    "lesson": lesson_page,
    "margin": margin_page,
    "scatter": scatter_page,
    "closeup": closeup_page,
    "strip": strip_page,
    "either": either_page,
    "staff": staff_page,
    "song": song_page,
    "lead": lead_page,
    "blank": blank_page,
}
