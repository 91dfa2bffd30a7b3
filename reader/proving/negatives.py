"""Pages with nothing to read on them, and things on them that look as if there were."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from reader.proving.dice import Dice
from reader.proving.draft import Box, Draft
from reader.proving.layouts import write_lines
from reader.proving.paper import rule, staves
from reader.proving.tabs import staff_above
from reader.proving.tool import Tool
from reader.proving.words import phrase, title, word


@dataclass(frozen=True)
class Leaf:
    """A page to be filled with things that are no diagrams."""

    draft: Draft
    tool: Tool
    dice: Dice

    @property
    def box(self) -> Box:
        """The page less its margin."""
        wide, high = self.draft.sheet.size
        return 0.08 * wide, 0.07 * high, 0.92 * wide, 0.93 * high

    @property
    def unit(self) -> float:
        """A sixtieth of the longer side."""
        return max(self.draft.sheet.size) / 60


def lattice(
    leaf: Leaf, x: float, y: float, columns: int, rows: int, wide: float, high: float, weight: float = 1.0
) -> None:
    """A grid of equal cells."""
    for c in range(columns + 1):
        leaf.tool.line((x + c * wide, y), (x + c * wide, y + rows * high), weight)
    for r in range(rows + 1):
        leaf.tool.line((x, y + r * high), (x + columns * wide, y + r * high), weight)


def text_leaf(leaf: Leaf) -> None:
    """Words only."""
    left, top, right, low = leaf.box
    leaf.tool.write(title(leaf.dice), (left, top), leaf.unit, "l")
    write_lines(
        leaf.tool, (left, top + 3 * leaf.unit, right, low), leaf.unit * leaf.dice.between(0.45, 0.8), 2.3, leaf.dice
    )


def staves_leaf(leaf: Leaf) -> None:
    """Music in ordinary notation, or empty music paper."""
    left, y, right, low = leaf.box
    gap, empty = leaf.unit * leaf.dice.between(0.45, 0.7), leaf.dice.chance(0.3)
    while y + 6 * gap < low:
        if empty:
            staves(leaf.draft.sheet, y, gap, left, right)
        else:
            staff_above(leaf.tool, leaf.draft.sheet, left, right, y, gap, leaf.dice.child(int(y)))
            if leaf.dice.chance(0.6):
                leaf.tool.write(phrase(leaf.dice, 6), (left, y + 7 * gap), gap, "l")
        y += gap * leaf.dice.between(9, 12)


def table_leaf(leaf: Leaf) -> None:
    """A table with words or figures."""
    d, u = leaf.dice, leaf.unit
    left, y, right, low = leaf.box
    while y < low - 10 * u:
        columns, rows = d.whole(2, 7), d.whole(3, 9)
        wide, high = min((right - left) / columns, 9 * u), u * d.between(1.4, 2.4)
        lattice(leaf, left, y, columns, rows, wide, high)
        for c in range(columns):
            for r in range(rows):
                text = word(d)[:7] if d.chance(0.4) else str(d.whole(0, 999))
                if d.chance(0.75):
                    leaf.tool.write(text, (left + (c + 0.5) * wide, y + (r + 0.5) * high), 0.4 * high)
        y += rows * high + 4 * u


def crossword_leaf(leaf: Leaf) -> None:
    """A crossword, or a sudoku."""
    d, u = leaf.dice, leaf.unit
    left, top, right, _ = leaf.box
    side = min(right - left, 34 * u)
    if d.chance(0.5):
        cell = side / 9
        for c in range(10):
            weight = 2.2 if c % 3 == 0 else 0.8
            leaf.tool.line((left + c * cell, top), (left + c * cell, top + side), weight)
            leaf.tool.line((left, top + c * cell), (left + side, top + c * cell), weight)
        for k in range(81):
            if d.chance(0.35):
                spot = (left + (k % 9 + 0.5) * cell, top + (k // 9 + 0.5) * cell)
                leaf.tool.write(str(d.whole(1, 9)), spot, 0.5 * cell, "c", "number")
    else:
        count = d.whole(7, 13)
        cell = side / count
        lattice(leaf, left, top, count, count, cell, cell)
        for k in range(count * count):
            x, y = left + k % count * cell, top + k // count * cell
            if d.chance(0.3):
                leaf.tool.fill(np.array([[x, y], [x + cell, y], [x + cell, y + cell], [x, y + cell]]), "grid")
            elif d.chance(0.4):
                leaf.tool.write(word(d)[0].upper(), (x + 0.5 * cell, y + 0.5 * cell), 0.5 * cell)
    write_lines(leaf.tool, (left, top + side + 2 * u, right, leaf.box[3]), 0.6 * u, 2.2, d)


def calendar_leaf(leaf: Leaf) -> None:
    """Months of numbered days, some crossed or ringed."""
    d, u = leaf.dice, leaf.unit
    left, y, right, low = leaf.box
    big = d.chance(0.5)
    cell = (right - left) / 7 if big else 2.6 * u
    x = left
    while y + 7 * cell < low:
        leaf.tool.write(word(d).capitalize(), (x, y), 0.9 * u, "l")
        boxed = d.chance(0.7)
        if boxed:
            lattice(leaf, x, y + 2 * u, 7, 5, cell, cell * 0.8, 0.8)
        start = d.whole(0, 6)
        for day in range(31):
            k = day + start
            spot = (x + (k % 7 + 0.35) * cell, y + 2 * u + (k // 7 + 0.4) * cell * 0.8)
            if k < 35 and not (big and d.chance(0.3)):
                leaf.tool.write(str(day + 1), spot, min(0.35 * cell, 1.2 * u), "c", "number")
                if d.chance(0.06):
                    leaf.tool.ring(spot, 0.4 * cell, 0.34 * cell)
                elif d.chance(0.05):
                    leaf.tool.cross(spot, 0.3 * cell)
        x += 7.8 * cell
        if x + 7 * cell > right:
            x, y = left, y + 6.5 * cell


def noughts_leaf(leaf: Leaf) -> None:
    """Games of noughts and crosses among doodles."""
    d, u = leaf.dice, leaf.unit
    left, top, right, low = leaf.box
    for k in range(d.whole(2, 9)):
        e = d.child(k)
        cell = u * e.between(1.6, 4.5)
        x, y = e.between(left, right - 3.2 * cell), e.between(top, low - 3.2 * cell)
        for n in (1, 2):
            leaf.tool.line((x + n * cell, y), (x + n * cell, y + 3 * cell))
            leaf.tool.line((x, y + n * cell), (x + 3 * cell, y + n * cell))
        for n in range(9):
            spot = (x + (n % 3 + 0.5) * cell, y + (n // 3 + 0.5) * cell)
            mark = e.weigh({"": 0.35, "x": 0.33, "o": 0.32})
            if mark == "x":
                leaf.tool.cross(spot, 0.3 * cell)
            elif mark:
                leaf.tool.ring(spot, 0.3 * cell, 0.3 * cell)
    if d.chance(0.5):
        leaf.tool.write(phrase(d, 3), (left, top), u, "l")


def squares_leaf(leaf: Leaf) -> None:
    """Squared paper with sums and scribbles."""
    rule(leaf.draft.sheet, leaf.dice.pick(["squares", "squares", "dots", "lines"]), leaf.dice)
    left, top, right, low = leaf.box
    for k in range(leaf.dice.whole(0, 14)):
        e = leaf.dice.child(k)
        spot = (e.between(left, right), e.between(top, low))
        if e.chance(0.6):
            leaf.tool.write(f"{e.whole(1, 99)}+{e.whole(1, 99)}={e.whole(2, 198)}", spot, leaf.unit, "l", "number")
        else:
            leaf.tool.blob(spot, leaf.unit, "loops" if e.chance(0.5) else "ring")


def texture_leaf(leaf: Leaf) -> None:
    """Something photographed: a wall, leaves, stripes, a fence, with no writing on it."""
    sheet, d = leaf.draft.sheet, leaf.dice
    wide, high = sheet.size
    noise = np.zeros((high, wide), np.float32)
    for octave in range(2, 8):
        rough = d.np.normal(0, 1, (2**octave, 2**octave)).astype(np.float32)
        noise += cv2.resize(rough, (wide, high), interpolation=cv2.INTER_CUBIC) / octave
    base, other = (
        np.array(d.pick([(150, 120, 90), (90, 120, 80), (180, 180, 175), (120, 60, 50), (70, 90, 120)])) for _ in "ab"
    )
    share = 1 / (1 + np.exp(-2 * noise))
    pixels = base * share[..., None] + other * (1 - share[..., None])
    if d.chance(0.6):
        y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
        pitch = max(wide, high) / d.between(6, 30)
        lines = (np.mod(x, pitch) < 0.08 * pitch) | (np.mod(y, pitch * d.between(0.5, 2)) < 0.08 * pitch)
        pixels = np.where(lines[..., None], pixels * d.between(0.3, 0.7), pixels)
    sheet.pixels[:] = np.clip(pixels, 0, 255)


def tuning_leaf(leaf: Leaf) -> None:
    """A chart of tunings: instruments, strings, notes."""
    d, u = leaf.dice, leaf.unit
    left, y, _right, low = leaf.box
    leaf.tool.write("Tuning", (left, y), 1.2 * u, "l")
    y += 4 * u
    while y < low - 6 * u:
        strings = d.pick([4, 4, 5, 6])
        leaf.tool.write(phrase(d, 1), (left, y), 0.9 * u, "l")
        step = u * d.between(1.4, 2.2)
        for k in range(strings):
            x = left + 14 * u + k * step
            leaf.tool.write(d.pick("GCEADB"), (x, y), 0.8 * u)
            if d.chance(0.8):
                leaf.tool.line((x, y + 1.2 * u), (x, y + 6 * u))
        y += 8.5 * u


def scale_leaf(leaf: Leaf) -> None:
    """Boxes of a scale: several dots on every string."""
    d, u = leaf.dice, leaf.unit
    left, top, right, low = leaf.box
    y = top
    while y < low - 16 * u:
        x = left
        while x < right - 10 * u:
            strings, rows = d.pick([4, 6, 6]), d.pick([5, 5, 6, 7])
            gap, row = u * d.between(1.0, 1.5), u * d.between(1.3, 1.9)
            leaf.tool.write(
                d.pick(["C scale", "A minor pentatonic", "G major scale", "Blues in E", "Position 2"]),
                (x, y),
                0.7 * u,
                "l",
            )
            for k in range(strings):
                leaf.tool.line((x + k * gap, y + 2 * u), (x + k * gap, y + 2 * u + rows * row))
                for r in sorted(d.shuffled(range(rows))[: d.pick([2, 3, 3])]):
                    spot = (x + k * gap, y + 2 * u + (r + 0.5) * row)
                    leaf.tool.blob(spot, 0.32 * gap, d.weigh({"solid": 0.85, "ring": 0.15}))
            for r in range(rows + 1):
                leaf.tool.line((x, y + 2 * u + r * row), (x + (strings - 1) * gap, y + 2 * u + r * row))
            x += strings * gap + 5 * u
        y += 17 * u


def map_leaf(leaf: Leaf) -> None:
    """Necks with a note name at every fret, one string or all of them."""
    d, u = leaf.dice, leaf.unit
    left, y, right, low = leaf.box
    while y < low - 8 * u:
        strings, frets = d.pick([1, 1, 4, 6]), d.whole(9, 13)
        step, gap = (right - left) / (frets + 1), 1.6 * u
        for k in range(strings):
            leaf.tool.line((left, y + k * gap), (right - step, y + k * gap))
        for f in range(frets + 1):
            x = left + f * step
            leaf.tool.line(
                (x, y - (0.5 * gap if strings == 1 else 0)),
                (x, y + (strings - 1) * gap + (0.5 * gap if strings == 1 else 0)),
            )
            for k in range(strings):
                name = d.pick(["A", "A#", "B", "C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#"])
                if f < frets and d.chance(0.85):
                    leaf.tool.write(name, (x + 0.5 * step, y + k * gap - 0.1 * gap), 0.5 * gap, "c", "number")
            if f < frets:
                leaf.tool.write(str(f + 1), (x + 0.5 * step, y + strings * gap), 0.45 * gap, "c", "number")
        y += (strings + 4) * gap


def form_leaf(leaf: Leaf) -> None:
    """A form with boxes to fill and to tick."""
    d, u = leaf.dice, leaf.unit
    left, y, right, low = leaf.box
    leaf.tool.write(title(d), (left, y), 1.2 * u, "l")
    y += 4 * u
    while y < low:
        leaf.tool.write(phrase(d, 2), (left, y), 0.7 * u, "l")
        x = left + 16 * u
        kind = d.pick(["line", "box", "ticks", "letters"])
        if kind == "line":
            leaf.tool.line((x, y + 0.6 * u), (right, y + 0.6 * u), 0.7)
        elif kind == "box":
            lattice(leaf, x, y - u, 1, 1, right - x, 2 * u, 0.8)
        elif kind == "letters":
            lattice(leaf, x, y - 0.8 * u, d.whole(6, 12), 1, 1.5 * u, 1.7 * u, 0.8)
        else:
            for k in range(d.whole(2, 4)):
                lattice(leaf, x + k * 5 * u, y - 0.5 * u, 1, 1, u, u, 0.9)
                if d.chance(0.5):
                    leaf.tool.cross((x + k * 5 * u + 0.5 * u, y), 0.4 * u)
        y += 2.9 * u


def first_note_leaf(leaf: Leaf) -> None:
    """A song sheet without grids whose head tells the first note in a box."""
    d, u = leaf.dice, leaf.unit
    _left, top, right, _ = leaf.box
    text_leaf(leaf)
    lattice(leaf, right - 9 * u, top - u, 1, 1, 9 * u, 2.6 * u)
    leaf.tool.write(f"first note: {d.pick('GCEA')}", (right - 4.5 * u, top + 0.3 * u), 0.7 * u)


LEAVES: dict[str, Callable[[Leaf], None]] = {
    "text": text_leaf,
    "staves": staves_leaf,
    "table": table_leaf,
    "crossword": crossword_leaf,
    "calendar": calendar_leaf,
    "noughts": noughts_leaf,
    "squares": squares_leaf,
    "texture": texture_leaf,
    "tuning": tuning_leaf,
    "scale": scale_leaf,
    "map": map_leaf,
    "form": form_leaf,
    "first note": first_note_leaf,
}
