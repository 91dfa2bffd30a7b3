"""How one tab system is drawn: habits of engravers, typists and hands, drawn by lot."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace

from reader.training.tabs.canvas import Colour, Paper, ink_colour
from reader.training.tabs.glyphs import Faces, Writer, sample_writer

MONOSPACED = ("courier-prime", "cousine", "inconsolata", "ibm-plex-mono", "fira-mono")

LEAST_COPIED = 130
"""Grey levels between paper and pen under which a copier would lose the numbers."""


@dataclass(frozen=True)
class Look:
    """The habits of one system; lengths in gaps unless the name says px.

    Parameters
    ----------
    kind : 'print', 'typed' or 'hand'
    lines : int
        Lines of the system, 4 to 8.
    gap : float
        Pixels between neighbouring lines.
    pen_px, number_pen_px : float
        Width of the line pen and of the pen that writes.
    tremble, slope, narrowing, unevenness, ragged : float
        Freehand lines: wave height, rise over run, change of the gap over the
        length, spread of single gaps, spread of the line ends.
    face : 'stroke', 'real' or the path of a font
    size, size_spread : float
        Height of a number and its spread.
    lift : float
        Systematic distance of the numbers above their line.
    scatter : float
        Random distance of a number from its line.
    knock : 'none', 'box' or 'tight'
        What is cleared of the line under a number.
    dash, dash_ink : float
        Length of a dash with its gap, 0 for solid lines; the inked share of it.
    broken_bars : (float, float) or None
        Bar lines typed row by row: how far each piece reaches up and down from its line.
    italic : float
        Slant of printed numbers.
    muted_sign : str
        What a font writes for a muted note.
    spelling : str
        What a font writes for a nought and for a one: old machines have letters for both.
    tight : float
        How often a number stands as close behind another as the sign between them allows.
    bold : float
        What is added around printed numbers, in their height.
    strays : float
        How often a stroke that is no number crosses the lines between two beats.
    faint : float
        Strength of the writing against the lines.
    least_px : float
        Pixels below which no number is written: smaller ones nobody could read.
    """

    kind: str
    lines: int
    gap: float
    pen_px: float
    number_pen_px: float
    line_colour: Colour
    number_colour: Colour
    accent_colour: Colour
    tremble: float
    slope: float
    narrowing: float
    unevenness: float
    ragged: float
    face: str
    text_face: str
    writer: Writer
    size: float
    size_spread: float
    lift: float
    scatter: float
    knock: str
    turn: float
    spacing: float
    two_digits: float
    chords: float
    muted: float
    ghosts: float
    signs: float
    arcs: float
    circled: float
    rhythm: str
    bars: float
    dash: float
    dash_ink: float
    broken_bars: tuple[float, float] | None
    italic: float
    muted_sign: str
    spelling: str
    tight: float
    trails: float
    bold: float
    strays: float
    faint: float
    least_px: float


def legible(look: Look, paper: Paper) -> Paper:
    """The paper caught sharply enough that the numbers of a system can be read, and copied only if they are dark."""
    height = max(look.least_px, look.size * look.gap)
    contrast = abs(sum(look.number_colour) - sum(paper.base)) / 3 * look.faint
    return replace(
        paper,
        blur=min(paper.blur, 0.11 * height),
        shake=(min(paper.shake[0], 0.2 * height), paper.shake[1]),
        copied=paper.copied and contrast > LEAST_COPIED,
    )


def line_count(rng: random.Random) -> int:
    """Mostly six and four lines."""
    return rng.choices((4, 5, 6, 7, 8), (30, 9, 48, 7, 6))[0]


def sample_look(rng: random.Random, faces: Faces, gap: float, paper: Colour, lines: int | None = None) -> Look:
    """Draw the habits of a system by lot."""
    kind = rng.choices(("print", "typed", "hand"), (0.28, 0.2, 0.52))[0]
    maker = {"print": _print_look, "typed": _typed_look, "hand": _hand_look}[kind]
    base: dict[str, object] = {
        "kind": kind,
        "lines": lines or line_count(rng),
        "gap": gap,
        "writer": sample_writer(rng),
        "two_digits": rng.choice((0.0, 0.12, 0.3, 0.6)),
        "chords": rng.choice((0.05, 0.3, 0.7)),
        "muted": rng.choice((0.0, 0.04, 0.25)),
        "faint": rng.uniform(0.5, 1.0) if rng.random() < 0.4 else 1.0,
        "least_px": 6.5 if kind == "hand" else 5.5,
        "muted_sign": rng.choice(("x", "x", "X", "×")),
        "spelling": rng.choices(("01", "0I", "0l", "O1", "o1"), (88, 4, 3, 3, 2))[0],
        "tight": rng.uniform(0.1, 0.4) if rng.random() < 0.3 else 0.0,
        "trails": rng.choices((0.0, 0.1, 0.3), (0.8, 0.12, 0.08))[0],
        "bold": rng.uniform(0.02, 0.06) if kind == "print" and rng.random() < 0.25 else 0.0,
        "strays": rng.uniform(0.02, 0.15) if rng.random() < 0.3 else 0.0,
        "ghosts": rng.uniform(0.1, 0.4) if rng.random() < 0.2 else 0.0,
        "signs": rng.choice((0.0, 0.15, 0.4)),
        "arcs": rng.choice((0.0, 0.1, 0.3)),
        "bars": rng.choice((0.0, 4.0, 8.0, 14.0)),
        "rhythm": rng.choices(("none", "below", "above", "through"), (0.55, 0.25, 0.08, 0.12))[0],
    }
    drawn = {**base, **maker(rng, faces, gap, paper)}
    if drawn["chords"] != 0.05:
        drawn["size"] = min(float(str(drawn["size"])), 1.3)
    return Look(**drawn)  # type: ignore[arg-type]


def _print_look(rng: random.Random, faces: Faces, gap: float, paper: Colour) -> dict[str, object]:
    dark = sum(paper) < 300
    grey = rng.randint(0, 150) if rng.random() < 0.4 else rng.randint(0, 40)
    line = (255 - grey,) * 3 if dark else (grey,) * 3
    ink = (240,) * 3 if dark else (rng.randint(0, 40),) * 3
    size = rng.uniform(0.5, 1.15)
    return {
        "pen_px": max(0.3, gap * rng.uniform(0.03, 0.12 if rng.random() < 0.8 else 0.22)),
        "number_pen_px": max(0.6, gap * rng.uniform(0.06, 0.14)),
        "line_colour": line,
        "number_colour": ink if rng.random() < 0.9 else ink_colour(rng, paper),
        "accent_colour": ink_colour(rng, paper),
        "tremble": 0.0,
        "slope": 0.0,
        "narrowing": 0.0,
        "unevenness": 0.0,
        "ragged": 0.0,
        "face": rng.choice(faces.prints),
        "text_face": rng.choice(faces.prints),
        "size": size,
        "size_spread": 0.0,
        "lift": rng.choice((0.0, 0.0, 0.0, rng.uniform(-0.08, 0.12))),
        "scatter": 0.0,
        "knock": rng.choices(("none", "box", "tight"), (0.4, 0.35, 0.25))[0],
        "turn": 0.0,
        "spacing": rng.choice((0.9, 1.4, 2.2, 3.5)),
        "circled": 0.2 if rng.random() < 0.05 else 0.0,
        "dash": rng.uniform(0.12, 0.8) if rng.random() < 0.12 else 0.0,
        "dash_ink": rng.uniform(0.4, 0.88),
        "broken_bars": None,
        "italic": rng.uniform(0.1, 0.25) if rng.random() < 0.2 else 0.0,
    }


def _typed_look(rng: random.Random, faces: Faces, gap: float, paper: Colour) -> dict[str, object]:
    mono = [p for p in faces.prints if any(name in p for name in MONOSPACED)]
    look = _print_look(rng, faces, gap, paper)
    ink = (235,) * 3 if sum(paper) < 300 else (rng.randint(0, 60),) * 3
    return look | {
        "face": rng.choice(mono) if mono and rng.random() < 0.8 else rng.choice(faces.prints),
        "line_colour": ink,
        "number_colour": ink,
        "pen_px": max(0.6, gap * rng.uniform(0.05, 0.12)),
        "size": rng.uniform(0.5, 0.8),
        "lift": rng.uniform(-0.02, 0.14),
        "knock": "box",
        "spacing": rng.choice((0.3, 0.5, 0.8, 1.4, 2.5)),
        "signs": rng.choice((0.0, 0.3, 0.7)),
        "tight": rng.uniform(0.1, 0.5) if rng.random() < 0.6 else 0.0,
        "trails": rng.choices((0.0, 0.12, 0.4), (0.65, 0.2, 0.15))[0],
        "rhythm": "none",
        "dash": rng.uniform(0.25, 0.75),
        "dash_ink": rng.uniform(0.4, 0.92),
        "broken_bars": _typed_strokes(rng),
        "italic": rng.uniform(0.1, 0.22) if rng.random() < 0.15 else 0.0,
    }


def _typed_strokes(rng: random.Random) -> tuple[float, float]:
    """How far a typed upright stroke reaches up and down from the hyphens."""
    up = rng.uniform(0.18, 0.5)
    return up, min(0.62, up * rng.uniform(0.7, 1.8))


def _hand_look(rng: random.Random, faces: Faces, gap: float, paper: Colour) -> dict[str, object]:
    ruled = rng.random() < 0.4
    face = rng.choices(("stroke", "real", "font"), (0.5, 0.18, 0.32))[0]
    line = ink_colour(rng, paper, strong=True)
    pen = gap * rng.choice((rng.uniform(0.02, 0.08), rng.uniform(0.03, 0.12), rng.uniform(0.08, 0.24)))
    sizes = ((0.36, 0.55), (0.42, 0.75), (0.6, 1.0), (0.8, 1.35), (1.2, 1.8))
    size = rng.uniform(*rng.choices(sizes, (1.4, 1.4, 1.2, 1.0, 0.6))[0])
    return {
        "pen_px": max(0.6, pen),
        "number_pen_px": max(0.8, gap * min(rng.uniform(0.05, 0.22), 0.17 * size)),
        "line_colour": line,
        "number_colour": line if rng.random() < 0.6 else ink_colour(rng, paper),
        "accent_colour": ink_colour(rng, paper),
        "tremble": 0.0 if ruled else rng.choice((0.02, 0.06, 0.14, 0.26)),
        "slope": rng.gauss(0, 0.015),
        "narrowing": rng.gauss(0, 0.05 if ruled else 0.12),
        "unevenness": 0.0 if ruled and rng.random() < 0.6 else rng.choice((0.03, 0.08, 0.16)),
        "ragged": rng.choice((0.0, 0.15, 0.6, 1.5)),
        "face": rng.choice(faces.hands) if face == "font" else face,
        "text_face": rng.choice(faces.hands),
        "size": size,
        "size_spread": rng.uniform(0.03, 0.16),
        "lift": rng.choice((0.0, 0.0, rng.uniform(-0.15, 0.2), rng.uniform(0.0, 0.38))),
        "scatter": rng.uniform(0.02, 0.11),
        "knock": rng.choices(("none", "tight"), (0.85, 0.15))[0],
        "turn": rng.uniform(0, 7),
        "spacing": rng.choice((0.7, 1.3, 2.2, 3.5)),
        "circled": rng.choice((rng.uniform(0.1, 0.5), rng.uniform(0.5, 1.0), 1.0)) if rng.random() < 0.14 else 0.0,
        "dash": rng.choice((rng.uniform(0.15, 0.5), rng.uniform(0.5, 2.0))) if rng.random() < 0.08 else 0.0,
        "dash_ink": rng.uniform(0.5, 0.92),
        "broken_bars": None,
        "italic": 0.0,
    }
