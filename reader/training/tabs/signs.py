"""What stands around the numbers of a tab: clef, metre, rhythm, slurs, slides, words. None of it is a fret."""

from __future__ import annotations

import random

import numpy as np

from reader.training.tabs.canvas import Canvas, draw_line, ellipse, stamp
from reader.training.tabs.digit_strokes import STROKES
from reader.training.tabs.glyphs import Faces, Mask, digit_ratio, font_mask, resized, stroke_mask
from reader.training.tabs.look import Look
from reader.training.tabs.systems import SIGN_CODE, Truth, draw_typed_bar

CHORDS = ("Am", "C", "G7", "F#m", "Bb", "Dm7", "E", "Gsus4", "Cmaj7", "A/C#", "N.C.", "D7", "Em", "B7", "Fm6", "Cadd9")
BETWEEN = ("h", "p", "/", "\\", "b", "~", "s", "t")
BETWEEN_WEIGHTS = (0.22, 0.2, 0.22, 0.14, 0.06, 0.08, 0.05, 0.03)
"""What stands between two numbers on one line, and how often."""
LETTER_MEANS = {"h": "h", "p": "p", "/": "/", "\\": "\\", "b": "b", "~": "~", "s": "/"}
"""The sign that each of them is; a tapped note has none of its own."""
TRAILING, TRAILING_WEIGHTS = ("b", "~", "r", "v", "^", "h", "p"), (0.5, 0.15, 0.1, 0.1, 0.05, 0.05, 0.05)
"""What stands close behind a number without another one after it, and how often."""
STEEPEST = 2.6
"""Rise over run of a slide: a steeper one would be a 1 to any reader."""
ABOVE = (
    "let ring",
    "P.M.",
    "Intro",
    "Verse 1",
    "capo 2",
    "x4",
    "riff A",
    "Fill 2",
    "slowly",
    "1.",
    "2.",
    "full",
    "1/2",
)
WORDS = tuple(
    "over the river we go again when morning light is low and every stone remembers rain so hold the lantern "  # noqa: SIM905
    "near to me la la oh some 12 more days till 7 o'clock in May we sing 3 times around".split()
)


def put_text(
    canvas: Canvas, x: float, y: float, text: str, face: str, height: float, rng: random.Random, pen: str = "text"
) -> float:
    """Words with their centre at (x, y), digits ``height`` px tall; returns the width."""
    mask = font_mask(face, text, round(max(4.0, height / max(0.2, digit_ratio(face)))))
    colour = canvas.layers["numbers"][0] if "numbers" in canvas.layers else (20, 20, 20)
    stamp(canvas.layer(pen, colour), mask, x, y, rng.uniform(0.7, 1.0))
    return float(mask.shape[1])


def draw_clef(canvas: Canvas, truth: Truth, faces: Faces, rng: random.Random) -> float:
    """What stands at the left end; returns how many pixels it takes inside the system."""
    look, taken = truth.look, 0.0
    gap, n = look.gap, look.lines
    if look.broken_bars and rng.random() < 0.8:
        layer, width = canvas.layer("lines", look.line_colour), look.pen_px * rng.uniform(0.8, 2.0)
        draw_typed_bar(layer, truth, truth.left, look.broken_bars, width)
    elif rng.random() < (0.75 if look.kind != "hand" else 0.3):
        draw_line(
            canvas.layer("lines", look.line_colour),
            np.array([(truth.left, truth.y(truth.left, 0)), (truth.left, truth.y(truth.left, n - 1))]),
            look.pen_px * rng.uniform(0.8, 2.0),
        )
    if rng.random() < 0.5 and look.kind != "typed":
        tall = gap * (n - 1) / 3 * rng.uniform(0.3, 0.9)
        at, reach = truth.left + gap * rng.uniform(0.6, 1.4), rng.uniform(0.5, 1.0)
        face, pen = (
            rng.choice((look.text_face, rng.choice(faces.prints), look.text_face)),
            rng.choice(("text", "numbers")),
        )
        for k, letter in enumerate("TAB"):
            row = (n - 1) * (0.5 + (k - 1) / 3 * reach)
            put_text(canvas, at, truth.y(truth.left, row), letter, face, tall, rng, pen)
        taken += gap * rng.uniform(1.4, 2.4)
    if rng.random() < 0.4 and look.kind != "typed":
        _draw_metre(canvas, truth, faces, rng, truth.left + taken + gap)
        taken += gap * 2.2
    if rng.random() < (0.6 if look.kind == "typed" else 0.25):
        names = rng.choice(("eBGDAE", "EBGDAE", "AECG", "DBGDG", "eBGDAD", "GDAE"))
        for i in range(n):
            face = look.face if look.kind == "typed" else look.text_face
            put_text(
                canvas,
                truth.left - gap * rng.uniform(0.6, 0.9),
                truth.y(truth.left, i),
                names[i % len(names)],
                face,
                gap * 0.6,
                rng,
            )
    return taken + gap * rng.uniform(0.4, 1.5)


def _draw_metre(canvas: Canvas, truth: Truth, faces: Faces, rng: random.Random, x: float) -> None:
    """Two digits over each other: as large as half the system, or hardly larger than the numbers."""
    look = truth.look
    face = rng.choice((look.text_face, rng.choice(faces.prints)))
    by_pen = look.face == "stroke" and rng.random() < 0.7
    tall = look.gap * (look.lines - 1) / 2 * rng.choice((rng.uniform(0.25, 0.5), rng.uniform(0.55, 0.95)))
    for k, digit in enumerate((rng.choice("2346912"), rng.choice("48"))):
        y = truth.y(truth.left, (look.lines - 1) * (0.5 + (k - 0.5) * rng.uniform(0.45, 0.52)))
        if by_pen:
            mask = stroke_mask(digit, max(5.0, tall), look.number_pen_px, look.writer, rng)
            stamp(canvas.layer("numbers", look.number_colour), mask, x, y, look.faint)
        else:
            put_text(canvas, x, y, digit, face, tall, rng)


def draw_between(canvas: Canvas, truth: Truth, x0: float, x1: float, line: int, rng: random.Random) -> None:
    """A slide, hammer, pull, bend or wave between two numbers on one line."""
    look = truth.look
    middle, gap, room = (x0 + x1) / 2, look.gap, x1 - x0
    if room < gap * 0.16:
        return
    kind = rng.choices(BETWEEN, BETWEEN_WEIGHTS)[0]
    y = truth.y(middle, line)
    layer = canvas.layer("numbers", look.number_colour)
    if kind in "/\\":
        if look.kind == "hand" or rng.random() < 0.5 or not _draw_letter(canvas, truth, middle, y, kind, room, rng):
            _draw_slide(layer, (middle, y), room, look, kind == "/", rng)
    elif kind == "~":
        if room < gap * 0.5:
            return
        half = room / 2 - gap * 0.1
        xs = np.linspace(middle - half, middle + half, 14)
        wave = y + gap * 0.14 * np.sin(np.arange(14) * np.pi / 2)
        draw_line(layer, np.column_stack([xs, wave]), look.number_pen_px)
    elif not _draw_letter(canvas, truth, middle, y, kind, room, rng):
        return
    if kind in LETTER_MEANS:
        truth.signs.append((middle, line, SIGN_CODE[LETTER_MEANS[kind]]))


def draw_after(canvas: Canvas, truth: Truth, x: float, line: int, rng: random.Random) -> float:
    """A letter close behind a number (bent, released, held); returns how much room it takes."""
    look = truth.look
    letter = rng.choices(TRAILING, TRAILING_WEIGHTS)[0]
    room = look.gap * look.size * rng.uniform(0.55, 0.8)
    at = x + room / 2 + look.gap * rng.uniform(-0.02, 0.12)
    if not _draw_letter(canvas, truth, at, truth.y(at, line), letter, room, rng):
        return 0.0
    if letter in LETTER_MEANS:
        truth.signs.append((at, line, SIGN_CODE[LETTER_MEANS[letter]]))
    return at + room / 2 - x


def _draw_slide(
    layer: Mask, at: tuple[float, float], room: float, look: Look, upward: bool, rng: random.Random
) -> None:
    """A stroke from number to number: long and flat, or as tall as they are and steep."""
    if rng.random() < 0.4:
        rise = look.gap * min(look.size * rng.uniform(0.3, 0.6), 0.75)
        half = min(rise / rng.uniform(1.1, STEEPEST), 0.5 * room)
    else:
        half = min(room / 2 * rng.uniform(0.6, 1.0), look.gap * rng.uniform(0.12, 0.9))
        rise = look.gap * rng.uniform(0.1, 0.5)
    rise = min(rise, half * STEEPEST) * (1 if upward else -1)
    ends = [(at[0] - half, at[1] + rise), (at[0] + half, at[1] - rise)]
    draw_line(layer, np.array(ends), look.number_pen_px)


def _draw_letter(
    canvas: Canvas, truth: Truth, x: float, y: float, letter: str, room: float, rng: random.Random
) -> bool:
    """A small letter between two numbers, on their line or over it; False where there is no room for it."""
    look = truth.look
    on_line = look.kind == "typed" or letter in "/\\" or rng.random() < 0.6
    lift = 0.0 if on_line else look.gap * rng.uniform(0.4, 0.7)
    tall = look.gap * look.size * (1.0 if look.kind == "typed" else rng.uniform(0.55, 1.0))
    written = letter.upper() if rng.random() < 0.15 else letter
    if look.face in ("stroke", "real") and letter in STROKES and rng.random() < 0.7:
        mask = stroke_mask(letter, tall, look.number_pen_px, look.writer, rng)
    else:
        face = look.text_face if look.face in ("stroke", "real") else look.face
        mask = font_mask(face, written, round(max(4.0, tall / max(0.2, digit_ratio(face)))))
    fits = room / max(1, mask.shape[1])
    if fits < 0.6:
        return False
    if fits < 1:
        mask = resized(mask, fits)
    layer = canvas.layer("numbers", look.number_colour)
    stamp(layer, mask, x, y - lift, look.faint * rng.uniform(0.8, 1.0))
    return True


def draw_stray(canvas: Canvas, truth: Truth, x: float, rng: random.Random) -> None:
    """A stroke between two beats that is no number: an arrow of a strum, a wave of a rolled chord, a brace, a tick."""
    look = truth.look
    gap, pen = look.gap, look.number_pen_px * rng.uniform(0.6, 1.2)
    top = rng.uniform(-0.5, max(0.0, look.lines - 2.5))
    bottom = rng.uniform(top + 1.2, look.lines - 0.5)
    ends = truth.y(x, top), truth.y(x, bottom)
    layer = canvas.layer("accent", look.accent_colour) if rng.random() < 0.3 else canvas.layer("numbers")
    kind = rng.choice(("arrow", "wave", "brace", "tick"))
    if kind == "tick":
        y, half = truth.y(x, rng.uniform(-0.6, look.lines - 0.4)), gap * rng.uniform(0.1, 0.3)
        draw_line(layer, np.array([(x - half, y), (x - half / 3, y + half), (x + half, y - half)]), pen)
        return
    if kind == "wave":
        ys = np.linspace(*ends, max(8, int((bottom - top) * 6)))
        draw_line(layer, np.column_stack([x + gap * 0.12 * np.sin(np.arange(len(ys)) * np.pi / 2), ys]), pen)
        return
    if kind == "brace":
        bend = gap * rng.uniform(0.15, 0.35) * rng.choice((-1, 1))
        middle = (ends[0] + ends[1]) / 2
        draw_line(
            layer, np.array([(x + bend, ends[0]), (x, ends[0]), (x, middle), (x, ends[1]), (x + bend, ends[1])]), pen
        )
        return
    draw_line(layer, np.array([(x, ends[0]), (x, ends[1])]), pen)
    tip, back = (ends[0], 1) if rng.random() < 0.5 else (ends[1], -1)
    head = gap * rng.uniform(0.2, 0.4)
    draw_line(layer, np.array([(x - head, tip + back * head), (x, tip), (x + head, tip + back * head)]), pen)


def draw_arc(canvas: Canvas, truth: Truth, x0: float, x1: float, line: int, rng: random.Random) -> None:
    """A slur over two numbers."""
    look = truth.look
    rise = look.gap * rng.uniform(0.3, 0.7)
    y = truth.y(x0, line) - look.gap * (0.45 * look.size + rng.uniform(0.05, 0.25) + look.lift)
    layer = canvas.layer("numbers", look.number_colour)
    draw_line(layer, ellipse((x0 + x1) / 2, y, (x1 - x0) / 2, rise, 180, 360), look.pen_px * rng.uniform(0.8, 1.6))
    truth.signs.append(((x0 + x1) / 2, line, SIGN_CODE["("]))


def draw_rhythm(canvas: Canvas, truth: Truth, beats: list[tuple[float, int, int]], rng: random.Random) -> None:
    """Stems, beams and flags under, over or through the system; ``beats`` are (x, first line, last line)."""
    look = truth.look
    if look.rhythm == "none" or not beats:
        return
    gap, n = look.gap, look.lines
    pen, layer = look.pen_px * rng.uniform(0.9, 1.6), canvas.layer("text", look.number_colour)
    sign = -1 if look.rhythm == "above" else 1
    edge = -1.0 if sign < 0 else float(n)
    tip = edge + sign * rng.uniform(0.9, 1.9)
    for k, (x, _, last) in enumerate(beats):
        start = edge - sign * rng.uniform(0.2, 0.5)
        if look.rhythm == "through":
            start = last + 0.5 * look.size
        draw_line(layer, np.array([(x, truth.y(x, start)), (x, truth.y(x, tip))]), pen)
        if k % 2 and x - beats[k - 1][0] < 5 * gap and rng.random() < 0.7:
            for b in range(rng.choice((1, 1, 2))):
                ends = [(q, truth.y(q, tip - sign * b * 0.4)) for q in (beats[k - 1][0], x)]
                draw_line(layer, np.array(ends), max(pen, gap * rng.uniform(0.1, 0.3)))
        elif rng.random() < 0.25:
            draw_line(layer, np.array([(x, truth.y(x, tip)), (x + gap * 0.4, truth.y(x, tip - sign * 0.6))]), pen)
        if rng.random() < 0.04:
            put_text(canvas, x, truth.y(x, tip + sign * 0.6), "3", look.text_face, gap * 0.6, rng)


def draw_words(canvas: Canvas, truth: Truth, beats: list[tuple[float, int, int]], rng: random.Random) -> None:
    """Chord labels and directions above, lyrics, fingers and note names below, measure numbers, dotted joins."""
    look = truth.look
    gap, n = look.gap, look.lines
    tall = gap * rng.uniform(0.6, 1.2)
    room = 1.2 + 0.5 * look.size + max(0.0, look.lift)
    if rng.random() < 0.35:
        for x, _, _ in beats[:: rng.randint(1, 4)]:
            put_text(canvas, x, truth.y(x, -room - 0.3), rng.choice(CHORDS), look.text_face, tall, rng)
    if rng.random() < 0.2:
        x = rng.uniform(truth.left, truth.right)
        w = put_text(canvas, x, truth.y(x, -room - 0.6), rng.choice(ABOVE), look.text_face, tall * 0.8, rng)
        dots = np.arange(x + w / 2, min(truth.right, x + w / 2 + gap * rng.uniform(2, 12)), gap * 0.6)
        for a in dots:
            draw_line(
                canvas.layer("text"),
                np.array([(a, truth.y(a, -room - 0.5)), (a + gap * 0.25, truth.y(a, -room - 0.5))]),
                look.pen_px,
            )
    if rng.random() < 0.4 and look.rhythm in ("none", "above"):
        choice = rng.choice((WORDS, list("pima"), list("gabcdef"), list("1234"), ["↓", "V", "n"]))
        below = n - 1 + 1.1 + 0.5 * look.size
        if choice is WORDS:
            x, y = truth.left, below + rng.uniform(0, 0.8)
            while x < truth.right:
                x += put_text(
                    canvas, x + gap, truth.y(x, y), rng.choice(WORDS), look.text_face, tall, rng
                ) + gap * rng.uniform(0.5, 2)
        else:
            for x, _, _ in beats:
                put_text(canvas, x, truth.y(x, below), rng.choice(choice), look.text_face, tall * 0.8, rng)
    if rng.random() < 0.3:
        _count_bars(canvas, truth, rng)
    if rng.random() < 0.05 and len(beats) > 2:
        (xa, la, _), (xb, lb, _) = beats[0], beats[1]
        for t in np.linspace(0.2, 0.8, 6):
            x, y = xa + (xb - xa) * t, truth.y(xa, la) * (1 - t) + truth.y(xb, lb) * t
            draw_line(canvas.layer("accent", look.accent_colour), np.array([(x, y), (x + 0.1, y)]), max(1.0, gap * 0.1))


def _count_bars(canvas: Canvas, truth: Truth, rng: random.Random) -> None:
    """A small number over the beginning of the system, or over every bar line, close to the first line."""
    look, count = truth.look, rng.randint(1, 60)
    tall, aside = look.gap * rng.uniform(0.4, 0.7), look.gap * rng.uniform(-0.2, 0.4)
    row = -(rng.uniform(0.3, 0.6) + 0.5 * tall / look.gap)
    bars = [x for x, _ in truth.bars] if rng.random() < 0.5 else []
    by_pen = look.face == "stroke" and rng.random() < 0.7
    for k, x in enumerate((truth.left, *bars)):
        y = truth.y(x, row)
        if by_pen:
            mask = stroke_mask(str(count + k), max(5.0, tall), look.number_pen_px * 0.8, look.writer, rng)
            stamp(canvas.layer("numbers", look.number_colour), mask, x + aside, y, look.faint)
        else:
            put_text(canvas, x + aside, y, str(count + k), look.text_face, tall, rng)


def draw_rings(canvas: Canvas, truth: Truth, beats: list[tuple[float, int, int]], rng: random.Random) -> None:
    """Now and then numbers in rings over or under the beats: strings or fingers, not frets."""
    if rng.random() > 0.1:
        return
    look, tall = truth.look, truth.look.gap * rng.uniform(0.4, 0.8)
    away = 1.4 + 0.5 * look.size + max(0.0, look.lift) + rng.uniform(0, 1)
    row = -away if rng.random() < 0.7 else look.lines - 1 + away
    for x, _, _ in beats[:: rng.randint(1, 3)]:
        y, radius = truth.y(x, row), tall * rng.uniform(0.85, 1.1)
        put_text(canvas, x, y, rng.choice("123456"), look.text_face, tall, rng)
        draw_line(canvas.layer("text"), ellipse(x, y, radius, radius), max(0.8, look.pen_px), closed=True)


def draw_rest(canvas: Canvas, truth: Truth, x: float, rng: random.Random) -> None:
    """A rest: a block hanging on a line or a jagged stroke."""
    look = truth.look
    y, gap = truth.y(x, (look.lines - 1) / 2), look.gap
    layer = canvas.layer("text", look.number_colour)
    if rng.random() < 0.4:
        top = truth.y(x, look.lines // 2)
        draw_line(layer, np.array([(x - gap * 0.4, top + gap * 0.2), (x + gap * 0.4, top + gap * 0.2)]), gap * 0.35)
        return
    zig = (
        np.array([(-0.2, -1), (0.25, -0.4), (-0.15, 0), (0.25, 0.5), (-0.2, 0.4), (0.05, 0.95)])
        * gap
        * rng.uniform(0.7, 1.2)
    )
    draw_line(layer, zig + np.array([x, y]), max(1.0, gap * 0.12))
