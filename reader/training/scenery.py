"""What stands around diagrams and what only looks like one: words, staves, tables, boxes of other kinds."""

from __future__ import annotations

import numpy as np

from reader.training.brush import Sheet
from reader.training.strokes import (
    Points,
    Rng,
    choice,
    draw_area,
    draw_line,
    draw_pressed,
    ellipse,
    paste,
    smooth,
    wobble,
)
from reader.training.style import Style

_SYLLABLES = (
    "ba", "be", "bo", "da", "de", "du", "fi", "fo", "ga", "gen", "ha", "il", "ka", "la", "le", "lo", "ma", "mi", "mon",
    "na", "no", "pel", "ra", "ri", "ro", "sa", "sel", "ta", "ti", "tor", "ul", "va", "vi", "wen",
)  # fmt: skip
_SMALL_WORDS = ("or", "and", "the", "then", "slow", "repeat", "(2x)", "end", "intro", "part", "or:", "=", "+")


def word(rng: Rng) -> str:
    """An invented word."""
    text = "".join(str(rng.choice(_SYLLABLES)) for _ in range(int(rng.integers(1, 4))))
    return text.capitalize() if rng.random() < 0.2 else text


def words(rng: Rng, count: int) -> str:
    """A few invented words."""
    return " ".join(word(rng) for _ in range(count))


class Scenery:
    """Draws everything that is not a diagram; lengths in sheet pixels, ``gap`` is the string gap of the page."""

    def __init__(self, sheet: Sheet, style: Style, gap: float, rng: Rng) -> None:
        self.sheet, self.style, self.gap, self.rng = sheet, style, gap, rng
        self.free = style.medium not in ("print", "inverse")

    def line(self, a: tuple[float, float], b: tuple[float, float], width: float, pen: str = "grid") -> None:
        """One straight line as this page's hand draws it."""
        path: Points = np.array([a, b], float)
        if self.free:
            draw_pressed(
                self.sheet.masks[pen], wobble(path, self.style.wobble * self.gap, self.rng, 10), width, self.rng, 0.15
            )
        else:
            draw_line(self.sheet.masks[pen], path, width)

    def text(self, x: float, y: float, height: float, text: str, pen: str = "text") -> float:
        """Write a line of text; returns its width."""
        stamp = self.style.hand.stamp(text, max(5.0, height), self.rng)
        paste(self.sheet.masks[pen], stamp, x, y)
        return float(stamp.shape[1])

    def small_word(self, x: float, y: float) -> float:
        """A short word that often stands between diagrams; returns its width."""
        return self.text(x, y, self.gap * self.rng.uniform(0.5, 1.0), str(self.rng.choice(_SMALL_WORDS)))

    def word_lines(self, x: float, y: float, w: float, h: float) -> None:
        """Lines of words in a box."""
        height = self.gap * self.rng.uniform(0.4, 1.2)
        pitch = height * self.rng.uniform(1.6, 2.4)
        row = y
        while row + height < y + h:
            count = max(1, int(w / height / 3.4 * self.rng.uniform(0.5, 1)))
            self.text(x + self.rng.uniform(0, height), row, height, words(self.rng, min(count, 9)))
            row += pitch

    def staff(self, x: float, y: float, w: float) -> None:
        """A five-line staff with note heads."""
        rng, step = self.rng, self.gap * self.rng.uniform(0.35, 0.8)
        pen = max(0.8, step * 0.1)
        for k in range(5):
            self.line((x, y + k * step), (x + w, y + k * step), pen)
        for bar in np.arange(0, w, step * rng.uniform(8, 14)):
            self.line((x + bar, y), (x + bar, y + 4 * step), pen)
        at = float(x + step * 3)
        while at < x + w - step:
            row = y + step * int(rng.integers(-1, 10)) / 2
            head = ellipse(np.array([at, row]), step * 0.62, step * 0.45)
            if rng.random() < 0.7:
                draw_area(self.sheet.masks["grid"], head)
            else:
                draw_line(self.sheet.masks["grid"], head, max(1, pen * 1.3))
            up = row > y + 2 * step
            self.line(
                (at + (0.55 if up else -0.55) * step, row),
                (at + (0.55 if up else -0.55) * step, row + (-3.2 if up else 3.2) * step),
                pen,
            )
            at += step * rng.uniform(1.8, 5)

    def tab(self, x: float, y: float, w: float) -> None:
        """A tablature system."""
        rng, step = self.rng, self.gap * self.rng.uniform(0.4, 1.0)
        lines = int(rng.choice([4, 6, 6]))
        pen = max(0.8, step * 0.07)
        for k in range(lines):
            self.line((x, y + k * step), (x + w, y + k * step), pen)
        if rng.random() < 0.8:
            for bar in np.arange(0, w, step * rng.uniform(8, 18)):
                self.line((x + bar, y), (x + bar, y + (lines - 1) * step), pen)
        at = float(x + step)
        while at < x + w - step:
            stamp = self.style.digit_hand.stamp(str(rng.integers(0, 13)), max(5.0, step * 0.75), rng)
            row = y + step * int(rng.integers(0, lines))
            if not self.free:
                box = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]]) * [stamp.shape[1], stamp.shape[0]]
                draw_area(self.sheet.masks["grid"], box + [at, row], 0)
            paste(self.sheet.masks["digit"], stamp, at - stamp.shape[1] / 2, row - stamp.shape[0] / 2)
            at += step * rng.uniform(1.2, 4)

    def lattice(self, x: float, y: float, cols: int, rows: int, cell: float, pen: float, border: bool = True) -> None:
        """Ruled cells: the bones of tables, calendars, crosswords, noughts-and-crosses."""
        for c in range(cols + 1):
            if border or 0 < c < cols:
                self.line((x + c * cell, y), (x + c * cell, y + rows * cell), pen)
        for r in range(rows + 1):
            if border or 0 < r < rows:
                self.line((x, y + r * cell), (x + cols * cell, y + r * cell), pen)

    def impostor(self, x: float, y: float, w: float, h: float) -> None:
        """Something that looks like a diagram and is none, in a box of this size."""
        rng = self.rng
        kind = choice(
            rng,
            {
                "noughts": 16,
                "table": 16,
                "calendar": 10,
                "crossword": 9,
                "sudoku": 7,
                "scale": 14,
                "onestring": 5,
                "boxes": 6,
                "ladder": 4,
                "doodle": 8,
                "hash": 5,
                "chart": 5,
                "tuning": 5,
                "neck": 6,
                "keys": 3,
            },
        )
        getattr(self, "_" + kind)(x, y, w, h)

    def _pen(self) -> float:
        return max(0.8, self.style.pen * self.gap * float(self.rng.uniform(0.7, 1.5)))

    def _noughts(self, x: float, y: float, w: float, h: float) -> None:
        rng, cell, pen = self.rng, min(w, h) / 3, self._pen()
        self.lattice(x, y, 3, 3, cell, pen, border=rng.random() < 0.25)
        for c in range(3):
            for r in range(3):
                at, k = np.array([x + (c + 0.5) * cell, y + (r + 0.5) * cell]), cell * 0.28
                roll = rng.random()
                if roll < 0.3:
                    draw_line(self.sheet.masks["mark"], ellipse(at, k, k, rng, 0.08, 1.04), pen)
                elif roll < 0.6:
                    for sx in (1, -1):
                        draw_line(
                            self.sheet.masks["mark"],
                            wobble(np.array([at - [k * sx, k], at + [k * sx, k]]), 0.05 * k, rng, 6),
                            pen,
                        )

    def _table(self, x: float, y: float, w: float, h: float) -> None:
        rng = self.rng
        cols, rows = int(rng.integers(2, 6)), int(rng.integers(2, 7))
        cw, ch = w / cols, h / rows
        for c in range(cols + 1):
            self.line((x + c * cw, y), (x + c * cw, y + h), self._pen())
        for r in range(rows + 1):
            self.line((x, y + r * ch), (x + w, y + r * ch), self._pen())
        for c in range(cols):
            for r in range(rows):
                if rng.random() < 0.8:
                    text = word(rng)[: max(1, int(cw / ch * 2))] if rng.random() < 0.6 else str(rng.integers(0, 100))
                    self.text(x + (c + 0.12) * cw, y + (r + 0.28) * ch, ch * 0.42, text)

    def _calendar(self, x: float, y: float, w: float, h: float) -> None:
        rng, cell = self.rng, min(w / 7, h / 5)
        self.lattice(x, y, 7, 5, cell, self._pen())
        if rng.random() < 0.7:
            for k in range(35):
                self.text(x + (k % 7 + 0.12) * cell, y + (k // 7 + 0.12) * cell, cell * 0.35, str(k % 31 + 1))

    def _crossword(self, x: float, y: float, w: float, h: float) -> None:
        rng, n = self.rng, int(self.rng.integers(4, 9))
        cell = min(w, h) / n
        self.lattice(x, y, n, n, cell, self._pen())
        for c in range(n):
            for r in range(n):
                box = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * cell + [x + c * cell, y + r * cell]
                if rng.random() < 0.25:
                    draw_area(self.sheet.masks["grid"], box)
                elif rng.random() < 0.3:
                    self.text(
                        box[0, 0] + 0.3 * cell,
                        box[0, 1] + 0.25 * cell,
                        cell * 0.5,
                        str(rng.choice(list("ABCDEFGHILMNORST"))),
                    )

    def _sudoku(self, x: float, y: float, w: float, h: float) -> None:
        rng, cell = self.rng, min(w, h) / 9
        self.lattice(x, y, 9, 9, cell, self._pen() * 0.7)
        self.lattice(x, y, 3, 3, cell * 3, self._pen() * 1.8)
        for _ in range(28):
            c, r = rng.integers(0, 9, 2)
            self.text(x + (c + 0.28) * cell, y + (r + 0.2) * cell, cell * 0.55, str(rng.integers(1, 10)))

    def _scale(self, x: float, y: float, w: float, h: float) -> None:
        """A scale box: two or three notes on every string."""
        rng = self.rng
        strings, rows = int(rng.choice([4, 6, 6])), int(rng.integers(4, 8))
        across = rng.random() < 0.5
        cols, lines = (strings - 1, rows) if not across else (rows, strings - 1)
        cw, ch = w / cols, h / lines
        pen = self._pen()
        for c in range(cols + 1):
            self.line((x + c * cw, y), (x + c * cw, y + h), pen)
        for r in range(lines + 1):
            self.line((x, y + r * ch), (x + w, y + r * ch), pen)
        for s in range(strings):
            for f in rng.permutation(rows)[: int(rng.integers(2, 4))]:
                at = (
                    np.array([x + s * cw, y + (f + 0.5) * ch])
                    if not across
                    else np.array([x + (f + 0.5) * cw, y + s * ch])
                )
                r0 = 0.33 * min(cw, ch)
                draw_area(self.sheet.masks["mark"], ellipse(at, r0, r0, rng, 0.05 if self.free else 0))

    def _onestring(self, x: float, y: float, w: float, h: float) -> None:
        rng, n = self.rng, int(self.rng.integers(5, 12))
        self.line((x, y + h / 2), (x + w, y + h / 2), self._pen())
        for k in range(n + 1):
            self.line((x + k * w / n, y + h * 0.35), (x + k * w / n, y + h * 0.65), self._pen())
            self.text(x + (k + 0.3) * w / n, y + h * 0.1, min(h * 0.2, w / n * 0.5), str(rng.choice(list("ABCDEFG"))))

    def _boxes(self, x: float, y: float, w: float, h: float) -> None:
        for _ in range(int(self.rng.integers(1, 4))):
            a, b = self.rng.uniform(0, 0.5, 2)
            bw, bh = w * self.rng.uniform(0.3, 0.5), h * self.rng.uniform(0.3, 0.5)
            self.lattice(x + a * w, y + b * h, 1, 1, min(bw, bh), self._pen())
            self.text(x + (a + 0.1) * w, y + (b + 0.1) * h, min(bw, bh) * 0.3, word(self.rng))

    def _ladder(self, x: float, y: float, w: float, h: float) -> None:
        cols = int(self.rng.integers(1, 3))
        cell = min(w / cols, h / 5)
        self.lattice(x, y, cols, 5, cell, self._pen())

    def _doodle(self, x: float, y: float, w: float, h: float) -> None:
        for _ in range(int(self.rng.integers(1, 5))):
            p = self.rng.uniform(0, 1, (int(self.rng.integers(3, 9)), 2)) * [w, h] + [x, y]
            draw_pressed(self.sheet.masks["mark"], smooth(p, 60), self._pen() * 1.5, self.rng, 0.2)

    def _hash(self, x: float, y: float, w: float, h: float) -> None:
        for k in range(int(self.rng.integers(2, 4))):
            self.line((x + (k + 1) * w / 4, y), (x + (k + 0.8) * w / 4, y + h), self._pen())
            self.line((x, y + (k + 1) * h / 4), (x + w, y + (k + 0.9) * h / 4), self._pen())

    def _chart(self, x: float, y: float, w: float, h: float) -> None:
        self.line((x, y), (x, y + h), self._pen())
        self.line((x, y + h), (x + w, y + h), self._pen())
        for k in range(1, 6):
            self.line((x, y + h * k / 6), (x + w, y + h * k / 6), max(0.8, self._pen() * 0.5))
        p = np.stack([np.linspace(x, x + w, 7), y + h * self.rng.uniform(0.1, 0.9, 7)], axis=1)
        draw_line(self.sheet.masks["mark"], p, self._pen() * 1.5)
        for at in p:
            draw_area(self.sheet.masks["mark"], ellipse(at, self._pen() * 2.5, self._pen() * 2.5))

    def _tuning(self, x: float, y: float, w: float, h: float) -> None:
        """Strings under their names, without frets."""
        rng, names = self.rng, list("EADGBE" if self.rng.random() < 0.5 else "GCEA")
        pitch, pen = w / len(names), self._pen()
        if rng.random() < 0.6:
            self.line((x, y + 0.2 * h), (x + pitch * (len(names) - 1), y + 0.2 * h), pen * 2)
        for k, name in enumerate(names):
            self.line((x + k * pitch, y + 0.2 * h), (x + k * pitch, y + h), pen)
            self.text(x + (k - 0.2) * pitch, y, min(0.15 * h, 0.6 * pitch), name)

    def _neck(self, x: float, y: float, w: float, h: float) -> None:
        """A whole neck with note names in its cells."""
        rng, strings, frets = self.rng, int(self.rng.choice([4, 6])), int(self.rng.integers(7, 13))
        cw, ch = w / frets, min(h / strings, w / frets)
        for k in range(strings):
            self.line((x, y + k * ch), (x + w, y + k * ch), self._pen())
        for k in range(frets + 1):
            self.line((x + k * cw, y), (x + k * cw, y + (strings - 1) * ch), self._pen())
        for k in range(strings):
            for f in range(frets):
                if rng.random() < 0.7:
                    self.text(x + (f + 0.3) * cw, y + (k - 0.25) * ch, 0.45 * ch, str(rng.choice(list("ABCDEFG"))))

    def _keys(self, x: float, y: float, w: float, h: float) -> None:
        """Piano keys."""
        n = int(self.rng.integers(5, 12))
        key, tall = w / n, min(h, w / n * 4)
        self.line((x, y), (x + w, y), self._pen())
        self.line((x, y + tall), (x + w, y + tall), self._pen())
        for k in range(n + 1):
            self.line((x + k * key, y), (x + k * key, y + tall), self._pen())
            if 0 < k < n and k % 7 not in (0, 3):
                box = np.array([[-0.28, 0], [0.28, 0], [0.28, 0.6], [-0.28, 0.6]]) * [key, tall]
                draw_area(self.sheet.masks["grid"], box + [x + k * key, y])
