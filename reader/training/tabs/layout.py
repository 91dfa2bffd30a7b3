"""Lays numbers, chords, bars and signs out along a tab system."""

from __future__ import annotations

import random

from reader.training.tabs import signs
from reader.training.tabs.canvas import Canvas
from reader.training.tabs.glyphs import Faces
from reader.training.tabs.look import Look
from reader.training.tabs.systems import Truth, draw_bar, draw_lines, line_rows, put_number

Beat = tuple[float, int, int]


def draw_system(
    canvas: Canvas, faces: Faces, rng: random.Random, look: Look, left: float, top: float, right: float
) -> Truth:
    """Draw a whole system from ``left`` to ``right`` with its first line near ``top``; returns its truth."""
    truth = Truth(look, line_rows(look, canvas.width, left, top, right - left, rng), left, right)
    layer = canvas.layer("lines", look.line_colour)
    canvas.layer("numbers", look.number_colour)
    draw_lines(layer, truth, rng)
    x = left + signs.draw_clef(canvas, truth, faces, rng)
    beats = _fill(canvas, truth, faces, rng, x)
    signs.draw_rhythm(canvas, truth, beats, rng)
    signs.draw_words(canvas, truth, beats, rng)
    signs.draw_rings(canvas, truth, beats, rng)
    return truth


def _fill(canvas: Canvas, truth: Truth, faces: Faces, rng: random.Random, start: float) -> list[Beat]:
    look = truth.look
    gap, beats = look.gap, []
    x, since_bar = start, 0.0
    position, string = rng.choice((0, 0, 2, 5, 7, 10, 12)), rng.randrange(look.lines)
    previous: tuple[float, int, float] | None = None
    if look.bars and rng.random() < 0.15:
        draw_bar(canvas, truth, x, "repeat-start", rng)
        x += gap * 2
    limit = truth.right - gap * 0.7
    while x < limit - gap * 0.8:
        if look.bars and since_bar > look.bars * gap * rng.uniform(0.7, 1.5):
            kind = rng.choices(("single", "double", "repeat-end", "repeat-start"), (0.86, 0.05, 0.05, 0.04))[0]
            draw_bar(canvas, truth, x + gap * (0.5 if kind == "repeat-end" else 0.1), kind, rng)
            x, since_bar = x + gap * rng.uniform(0.6 if rng.random() < 0.25 and kind == "single" else 1.2, 2.4), 0.0
            previous = previous if kind == "single" and rng.random() < 0.4 else None
            continue
        if rng.random() < look.strays:
            signs.draw_stray(canvas, truth, x + gap * 0.1, rng)
            x, since_bar, previous = x + gap * rng.uniform(0.8, 1.3), since_bar + gap, None
            continue
        if rng.random() < 0.02:
            signs.draw_rest(canvas, truth, x, rng)
            x, since_bar, previous = x + gap * 1.5, since_bar + gap * 1.5, None
            continue
        string = min(look.lines - 1, max(0, string + rng.choice((-2, -1, -1, 0, 0, 0, 1, 1, 2))))
        if rng.random() < 0.1:
            string, position = rng.randrange(look.lines), rng.choice((0, 0, 2, 5, 7, 9, 12, 15, 19))
        close = previous is not None and rng.random() < look.tight
        if previous is not None and close:
            string, x = previous[1], previous[0] + previous[2] + gap * rng.uniform(0.3, 0.7)
        width, lines = _event(canvas, truth, faces, rng, x, string, position, alone=close)
        trail = 0.0
        if len(lines) == 1 and look.trails and rng.random() < look.trails:
            trail = signs.draw_after(canvas, truth, x + width / 2, lines[0], rng)
        if previous is not None and len(lines) == 1 and lines[0] == previous[1]:
            _join(canvas, truth, rng, previous, x - width / 2, always=close)
        beats.append((x, min(lines), max(lines)))
        previous = (x, lines[0], width) if len(lines) == 1 and not trail else None
        advance = trail + width * 0.7 + gap * (0.45 + rng.expovariate(1 / look.spacing))
        x, since_bar = x + advance, since_bar + advance
    if look.bars and rng.random() < (0.6 if look.broken_bars is None else 0.9):
        kind = rng.choices(("single", "final", "repeat-end"), (0.6, 0.25, 0.15))[0]
        draw_bar(canvas, truth, truth.right - (gap * 0.1 if kind != "single" else 0), kind, rng)
    return beats


def _join(
    canvas: Canvas, truth: Truth, rng: random.Random, previous: tuple[float, int, float], x: float, *, always: bool
) -> None:
    look = truth.look
    x0, line, w0 = previous
    if always or rng.random() < look.signs:
        signs.draw_between(canvas, truth, x0 + w0 / 2, x, line, rng)
    if rng.random() < look.arcs and x - x0 < 7 * look.gap:
        signs.draw_arc(canvas, truth, x0, x + look.gap * 0.2, line, rng)


def _event(
    canvas: Canvas,
    truth: Truth,
    faces: Faces,
    rng: random.Random,
    x: float,
    string: int,
    position: int,
    *,
    alone: bool,
) -> tuple[float, list[int]]:
    """Numbers struck together; returns the widest number and the lines used."""
    look = truth.look
    lines = [string]
    if not alone and rng.random() < look.chords:
        count = rng.randint(2, look.lines)
        first = rng.randint(0, look.lines - count)
        lines = (
            sorted(rng.sample(range(look.lines), count)) if rng.random() < 0.3 else list(range(first, first + count))
        )
    spread = look.gap * (0.1 if look.kind == "hand" else 0.0)
    same = rng.random() < 0.15
    texts = [_fret(look, rng, position) for _ in lines]
    if same:
        texts = [texts[0]] * len(lines)
    widest = 0.0
    for line, text in zip(lines, texts, strict=True):
        widest = max(widest, put_number(canvas, truth, x + rng.gauss(0, 1) * spread, line, text, faces, rng))
    return widest, lines


def _fret(look: Look, rng: random.Random, position: int) -> str:
    if rng.random() < look.muted:
        return "x"
    if rng.random() < look.two_digits:
        return str(rng.randint(10, 24))
    if rng.random() < 0.35:
        return str(rng.randint(0, 9))
    return str(min(24, max(0, position + rng.choice((0, 0, 0, 1, 2, 3, 4)))))
