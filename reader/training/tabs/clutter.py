"""What stands on a page beside tab: staves with note heads, ruled and squared paper, words, tables, chord grids."""

from __future__ import annotations

import random

import cv2
import numpy as np

from reader.training.tabs.canvas import Canvas, Picture, draw_line, ellipse, grain_patch, wobble
from reader.training.tabs.glyphs import Faces
from reader.training.tabs.look import Look
from reader.training.tabs.signs import CHORDS, WORDS, put_text
from reader.training.tabs.systems import Truth, line_rows

NOTE_NAMES = ("A", "A#", "B", "Bb", "C", "C#", "D", "D#", "Eb", "E", "F", "F#", "G", "G#", "Ab")
DEGREES = ("R", "1", "2", "b3", "3", "4", "b5", "5", "6", "b7", "7")


def draw_staff(
    canvas: Canvas, rng: random.Random, look: Look, left: float, top: float, right: float, pen: str = "staff"
) -> Truth:
    """Five lines with note heads, stems, beams and bars: not a tab."""
    gap = look.gap
    truth = Truth(look, line_rows(look, canvas.width, left, top, right - left, rng), left, right)
    layer = canvas.layer(pen, look.line_colour)
    xs = np.arange(max(0, int(left)), min(canvas.width, int(right)), max(2, int(gap / 3)))
    for i in range(look.lines):
        draw_line(layer, np.column_stack([xs, truth.rows[i, xs]]), look.pen_px)
    habit = (rng.uniform(0.4, 0.66), rng.uniform(0.3, 0.46), rng.choice((0.0, 0.0, 0.4)), rng.uniform(0.04, 0.14))
    if rng.random() < 0.5:
        _draw_treble(canvas, truth, rng, pen)
    x = left + gap * rng.uniform(1, 5)
    previous: tuple[float, float] | None = None
    while x < right - gap:
        if rng.random() < 0.12:
            draw_line(layer, np.array([(x, truth.y(x, 0)), (x, truth.y(x, look.lines - 1))]), look.pen_px * 1.2)
            x, previous = x + gap * 1.5, None
            continue
        place = rng.randint(-2, 2 * look.lines) / 2
        tip = _draw_note(canvas, truth, x, place, rng, pen, habit)
        if previous is not None and rng.random() < habit[2] and x - previous[0] < 5 * gap:
            draw_line(layer, np.array([previous, tip]), gap * 0.4)
        previous = tip
        x += gap * rng.uniform(1.4, 4)
    return truth


def _draw_treble(canvas: Canvas, truth: Truth, rng: random.Random, pen: str) -> None:
    gap, x = truth.look.gap, truth.left + truth.look.gap * 1.3
    t = np.linspace(0, 4.5 * np.pi, 40)
    radius = gap * (0.3 + t / t[-1] * 1.1)
    y = truth.y(x, truth.look.lines - 2)
    points = np.column_stack([x + radius * np.cos(t), y + radius * np.sin(t)])
    layer = canvas.layer(pen, truth.look.line_colour)
    draw_line(layer, points, max(1.0, gap * 0.15))
    draw_line(
        layer,
        np.array([(x + gap * 0.3, y + gap * 2.5), (x, y - gap * 3.5), (x + gap * 0.7, y - gap * 4)]),
        max(1.0, gap * 0.14),
    )


def _draw_note(
    canvas: Canvas,
    truth: Truth,
    x: float,
    place: float,
    rng: random.Random,
    pen: str,
    habit: tuple[float, float, float, float],
) -> tuple[float, float]:
    """A note head with its stem; ``habit`` is half its width, half its height, the share of beams, the stem's pen."""
    gap = truth.look.gap
    y = truth.y(x, place)
    layer = canvas.layer(pen, truth.look.line_colour)
    a, b = gap * habit[0], gap * habit[1]
    filled = rng.random() < 0.75
    for shrink in (1.0, 0.7, 0.4, 0.15) if filled else (1.0,):
        draw_line(layer, ellipse(x, y, a * shrink, b * shrink), max(1.0, gap * (0.24 if filled else 0.14)), closed=True)
    up = place > (truth.look.lines - 1) / 2
    tip = (x + a if up else x - a, y - gap * 3.3 if up else y + gap * 3.3)
    if rng.random() < 0.9:
        draw_line(layer, np.array([(tip[0], y), tip]), max(0.5, gap * habit[3]))
    if rng.random() < 0.12:
        for dx in (-1.4, -1.1):
            draw_line(
                layer, np.array([(x + dx * gap, y - gap * 0.8), (x + dx * gap, y + gap * 0.8)]), max(0.7, gap * 0.1)
            )
    return tip


def draw_neck(canvas: Canvas, faces: Faces, rng: random.Random, look: Look, left: float, top: float) -> Truth:
    """A chord diagram lying on its side: lines with evenly spaced frets, dots, marks at the nut, fingers at the end."""
    gap, n = look.gap, look.lines
    cell, frets = gap * rng.uniform(0.9, 2.6), rng.randint(3, 6)
    right = left + cell * frets
    truth = Truth(look, line_rows(look, canvas.width, left, top, right - left, rng), left, right)
    layer = canvas.layer("lines", look.line_colour)
    xs = np.arange(max(0, int(left)), max(2, min(canvas.width, int(right + gap * rng.choice((0, 0, 0.6))))), 2)
    for i in range(n):
        draw_line(layer, np.column_stack([xs, truth.rows[i, xs]]), look.pen_px)
    for j in range(frets + 1):
        x = left + j * cell + rng.gauss(0, 0.05) * gap
        thick = look.pen_px * (rng.uniform(2, 4) if j == 0 and rng.random() < 0.5 else 1.0)
        draw_line(layer, np.array([(x, truth.y(x, 0)), (x, truth.y(x, n - 1))]), thick)
    ink, dotted = canvas.layer("numbers", look.number_colour), rng.random() < 0.75
    size, face = gap * rng.uniform(0.45, 0.8), rng.choice((look.text_face, rng.choice(faces.prints)))
    for i in range(n):
        if rng.random() < 0.5:
            put_text(canvas, left - gap * 0.7, truth.y(left, i), rng.choice("xoXO"), face, size, rng, "numbers")
        if rng.random() < 0.6:
            x = left + (rng.randrange(frets) + 0.5) * cell
            if dotted:
                radius = gap * rng.uniform(0.25, 0.5)
                draw_line(ink, ellipse(x, truth.y(x, i), radius / 2, radius / 2), radius, closed=True)
            if rng.random() < 0.4:
                put_text(canvas, right + gap * 0.7, truth.y(right, i), rng.choice("1234"), face, size, rng, "numbers")
    if rng.random() < 0.3:
        x = left + (rng.randrange(frets) + 0.5) * cell
        draw_line(ink, np.array([(x, truth.y(x, 0)), (x, truth.y(x, n - 1))]), gap * rng.uniform(0.15, 0.5))
    put_text(
        canvas,
        (left + right) / 2,
        truth.y(left, -1.2),
        rng.choice(CHORDS),
        look.text_face,
        gap * rng.uniform(0.7, 1.2),
        rng,
    )
    if rng.random() < 0.4:
        put_text(canvas, left + cell / 2, truth.y(left, n), rng.choice(("5fr", "3", "7", "4fr")), face, size, rng)
    return truth


def draw_chart(canvas: Canvas, faces: Faces, rng: random.Random, look: Look, left: float, top: float) -> Truth:
    """A neck with the names of its notes or their degrees written on the strings, fret by fret: not a tab."""
    gap, n = look.gap, look.lines
    cell, frets = gap * rng.uniform(1.2, 3.2), rng.randint(4, 13)
    right = left + cell * frets
    truth = Truth(look, line_rows(look, canvas.width, left, top, right - left, rng), left, right)
    layer = canvas.layer("lines", look.line_colour)
    xs = np.arange(max(0, int(left)), max(2, min(canvas.width, int(right))), 2)
    for i in range(n):
        draw_line(layer, np.column_stack([xs, truth.rows[i, xs]]), look.pen_px)
    for j in range(frets + 1):
        x = left + j * cell
        draw_line(layer, np.array([(x, truth.y(x, 0)), (x, truth.y(x, n - 1))]), look.pen_px * rng.uniform(0.8, 1.5))
    signs = rng.choice((NOTE_NAMES, DEGREES, tuple("1234")))
    share, size = rng.choice((0.25, 0.5, 1.0)), gap * rng.uniform(0.35, 0.75)
    face, open_too = rng.choice((look.text_face, rng.choice(faces.prints))), rng.random() < 0.5
    ringed = rng.random() < 0.3
    for i in range(n):
        for j in range(0 if open_too else 1, frets + 1):
            if rng.random() < share:
                x, y = left + (j - 0.5) * cell, truth.y(left, i)
                put_text(canvas, x, y, rng.choice(signs), face, size, rng, "numbers")
                if ringed:
                    ring = ellipse(x, y, 0.75 * size, 0.75 * size)
                    draw_line(canvas.layer("numbers"), ring, max(0.7, look.pen_px), closed=True)
    for j in range(1, frets + 1) if rng.random() < 0.6 else ():
        put_text(canvas, left + (j - 0.5) * cell, truth.y(left, n + 0.1), str(j), face, size, rng)
    return truth


def draw_dots(canvas: Canvas, rng: random.Random, step: float) -> None:
    """Dotted paper."""
    layer = canvas.layer("ruling", rng.choice(((170, 170, 170), (200, 205, 215), (140, 140, 150))))
    radius = step * rng.uniform(0.02, 0.08)
    for y in np.arange(rng.uniform(0, step), canvas.height, step):
        for x in np.arange(rng.uniform(0, 0.2) * step, canvas.width, step):
            cv2.circle(layer, (round(x * 16), round(y * 16)), max(4, round(radius * 16)), 255, -1, cv2.LINE_AA, 4)


def draw_ruling(canvas: Canvas, rng: random.Random, step: float, squared: bool, pen: str = "ruling") -> None:
    """Ruled or squared paper over the whole sheet."""
    colour = rng.choice(
        ((170, 190, 225), (200, 205, 215), (150, 170, 210), (215, 180, 180), (120, 130, 150), (225, 225, 225))
    )
    layer = canvas.layer(pen, colour)
    width = max(0.6, step * rng.uniform(0.02, 0.07))
    lean = rng.gauss(0, 0.008)
    for y in np.arange(rng.uniform(0, step), canvas.height + step, step):
        draw_line(layer, np.array([(0, y), (canvas.width, y + lean * canvas.width)]), width)
    if squared:
        for x in np.arange(rng.uniform(0, step), canvas.width + step, step):
            draw_line(layer, np.array([(x, 0), (x - lean * canvas.height, canvas.height)]), width)
    elif rng.random() < 0.3:
        x = rng.uniform(0.05, 0.2) * canvas.width
        draw_line(canvas.layer("margin", (220, 120, 130)), np.array([(x, 0), (x, canvas.height)]), width)


def draw_prose(
    canvas: Canvas, rng: random.Random, face: str, left: float, top: float, right: float, bottom: float, height: float
) -> None:
    """Lines of words, chord names over some of them."""
    y, chords = top, rng.random() < 0.4
    while y < bottom:
        x = left
        while x < right:
            text = rng.choice(CHORDS) if chords and rng.random() < 0.1 else rng.choice(WORDS)
            x += put_text(canvas, x + height * 2, y, text, face, height, rng) * 1.1 + height * rng.uniform(0.3, 1.0)
        y += height * rng.uniform(1.7, 2.6)


def draw_desk(side: int, rng: random.Random) -> Picture:
    """What lies around a sheet: black or plain, wood grain, woven cloth; never a tab."""
    base = np.array([rng.randint(0, 255) for _ in range(3)], np.float32)
    lot = rng.random()
    if lot < 0.4:
        return np.full((side, side, 3), base if lot > 0.15 else 12, np.uint8)
    if lot < 0.8:
        grain = grain_patch(max(8, side // rng.randint(1, 6)), max(3, side // rng.randint(12, 60)), rng)[:, :, 0]
        grain = grain if rng.random() < 0.7 else grain.T
    else:
        step = rng.randint(3, 12)
        ys, xs = np.mgrid[0:side, 0:side]
        grain = ((ys // step + xs // step) % 2).astype(np.float32) * 2 - 1
    field = cv2.resize(np.ascontiguousarray(grain), (side, side), interpolation=cv2.INTER_LINEAR)
    return np.asarray(np.clip(base + field[:, :, None] * rng.uniform(4, 30), 0, 255), np.uint8)


def draw_jottings(canvas: Canvas, rng: random.Random, face: str, step: float) -> None:
    """Words, sums and dates written on the lines of ruled or squared paper: lines with numbers, yet no tab."""
    draw_ruling(canvas, rng, step, rng.random() < 0.5)
    tall = step * rng.uniform(0.35, 0.75)
    first, x0 = rng.uniform(0, step), rng.uniform(0, canvas.width * 0.5)
    for y in np.arange(first, canvas.height, step * rng.choice((1, 1, 2))):
        x, end = x0 + rng.uniform(0, step), rng.uniform(x0, canvas.width * 1.1)
        while x < end:
            lot = rng.random()
            number = str(rng.randint(0, 999)) + rng.choice(("", "", ".", ":", " +", "/", " =", "%"))
            text = number if lot < 0.3 else rng.choice(WORDS)
            x += put_text(canvas, x + step, y, text, face, tall, rng) + tall * rng.uniform(0.4, 2)


def draw_table(
    canvas: Canvas, rng: random.Random, faces: Faces, left: float, top: float, right: float, bottom: float
) -> None:
    """A table with numbers in its cells."""
    layer = canvas.layer("table", (60, 60, 60))
    rows, cols, boxed = rng.randint(3, 9), rng.randint(2, 9), rng.random() < 0.35
    face = rng.choice(faces.prints)
    ys, xs = np.linspace(top, bottom, rows + 1), np.linspace(left, right, cols + 1)
    for y in ys:
        draw_line(layer, np.array([(left, y), (right, y)]), rng.uniform(0.7, 1.5))
    for x in xs:
        draw_line(layer, np.array([(x, top), (x, bottom)]), rng.uniform(0.7, 1.5))
    tall = min(12.0, (bottom - top) / rows * 0.5) if not boxed else (bottom - top) / rows * rng.uniform(0.35, 0.7)
    for y in (ys[:-1] + ys[1:]) / 2:
        for x in (xs[:-1] + xs[1:]) / 2:
            if rng.random() < 0.7:
                text = str(rng.randint(1, 9)) if boxed else rng.choice((str(rng.randint(0, 200)), rng.choice(WORDS)))
                put_text(canvas, x, y, text, face, tall, rng)


def draw_grid(canvas: Canvas, rng: random.Random, faces: Faces, x: float, y: float, step: float) -> None:
    """A chord diagram with dots and a label, upright or lying."""
    layer = canvas.layer("grid", (25, 25, 25))
    strings, frets = rng.choice((4, 6, 6)), rng.choice((3, 4, 5))
    across, along = (frets, strings - 1) if rng.random() < 0.2 else (strings - 1, frets)
    pen = max(0.7, step * rng.uniform(0.05, 0.15))
    tremble = step * 0.06 * rng.random()
    for i in range(across + 1):
        ys = np.linspace(y, y + along * step, 6)
        draw_line(layer, np.column_stack([x + i * step + wobble(6, tremble, rng), ys]), pen)
    for j in range(along + 1):
        xs = np.linspace(x, x + across * step, 6)
        draw_line(
            layer,
            np.column_stack([xs, y + j * step + wobble(6, tremble, rng)]),
            pen * (2.5 if j == 0 and rng.random() < 0.5 else 1),
        )
    for _ in range(rng.randint(1, 4)):
        cx, cy = x + rng.randint(0, across) * step, y + (rng.randint(0, max(0, along - 1)) + 0.5) * step
        radius = step * rng.uniform(0.2, 0.42)
        draw_line(layer, ellipse(cx, cy, radius / 2, radius / 2), radius, closed=True)
    put_text(
        canvas,
        x + across * step / 2,
        y - step * 1.3,
        rng.choice(CHORDS),
        rng.choice(faces.prints + faces.hands),
        step,
        rng,
    )
