"""The habits of one writer, drawer program or printed book: everything that stays the same over a page."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from reader.training.lettering import Hand
from reader.training.strokes import Rng, choice

MEDIA = {
    "print": 26,
    "pen": 22,
    "pencil": 16,
    "marker": 12,
    "stylus": 12,
    "chalk": 5,
    "preprinted": 7,
    "inverse": 4,
}


@dataclass
class Style:
    """Habits; lengths are in gaps unless a name says otherwise."""

    medium: str
    hand: Hand
    digit_hand: Hand
    capitals: bool
    sharp: str
    flat: str
    wobble: float
    jitter: float
    pen: float
    mark_pen: float
    inner_pen: float
    outer_pen: float
    fret_pen: float
    inner_light: float
    cell_ratio: float
    sideways: int
    digits_turned: bool
    digit_aside: tuple[float, float]
    digit_stretch: float
    nut: str
    closing: bool
    overshoot: float
    short_inner: float
    run_on: float
    ragged: float
    hooked: float
    rows: int | None
    marks: str
    mark_size: float
    mark_distance: float
    marks_at_foot: bool
    open_form: str
    muted_form: str
    wave_size: float
    wave_length: float
    wave_on_string: bool
    dot: str
    dot_size: float
    dot_at: float
    dot_drift: float
    fingers: str
    finger_size: float
    finger_side: str
    finger_gaps: float
    barre_form: str
    label_place: str
    label_size: float
    label_raised: bool
    label_frame: str
    number_form: str
    number_side: str
    number_row: int
    number_size: float
    number_turned: int
    number_away: float
    number_keeps_nut: bool
    strings_named: bool
    inlays: bool
    banded: int
    dashes: float
    wiped_share: float
    moved_share: float
    label_share: float
    staff_lines: bool
    squared: bool
    one_form: str
    nut_dots: bool
    empty_share: float
    colours: dict[str, tuple[int, int, int]]
    legible: bool = False

    @property
    def fragile(self) -> bool:
        """Whether thin strokes carry the meaning: such pages bear less blur and copying."""
        return self.legible or self.fingers in ("instead", "circled", "frets")

    @property
    def finger_height(self) -> float:
        """About how high fingers are written, in gaps; 0 where they are not."""
        return {
            "none": 0.0, "in": 1.3 * self.dot_size, "beside": 0.75 * self.finger_size, "below": 0.9 * self.finger_size,
            "above": 0.9 * self.finger_size, "circled": 0.15 + 0.7 * self.finger_size,
        }.get(self.fingers, 0.25 + 1.15 * self.finger_size)  # fmt: skip


WRITTEN = {"in": 29, "beside": 14, "below": 13, "above": 13, "instead": 28, "circled": 6, "frets": 6}
"""Where fingers stand on sheets drawn to learn reading them."""


def with_fingers(style: Style, rng: Rng) -> Style:
    """The same habits of one who writes fingers to be read."""
    free = style.medium not in ("print", "inverse")
    hand = Hand("strokes" if rng.random() < 0.65 else "font", rng) if free and rng.random() < 0.8 else style.digit_hand
    return replace(style, fingers=choice(rng, WRITTEN), digit_hand=hand, legible=True)


JOTTED = 0.09
"""Share of the sheets that are jotted down with one pen."""


def sample_style(rng: Rng) -> Style:
    """One set of habits."""
    style = _any_style(rng)
    return _jotted(style, rng) if rng.random() < JOTTED else style


def _jotted(style: Style, rng: Rng) -> Style:
    """The habits of one who jots a grid down with a thin pen and writes the fingers on its strings."""
    medium = choice(rng, {"pen": 60, "pencil": 15, "stylus": 25})
    hand = Hand("strokes" if rng.random() < 0.7 else "font", rng)
    pen = float(rng.uniform(0.03, 0.07))
    return replace(
        style,
        medium=medium,
        hand=hand,
        digit_hand=hand,
        capitals=bool(rng.random() < 0.4),
        wobble=float(rng.uniform(0.01, 0.05)),
        jitter=float(rng.choice([0.05, 0.09, 0.13])),
        pen=pen,
        mark_pen=1.3 * pen,
        inner_pen=1.0,
        outer_pen=1.0,
        fret_pen=1.0,
        inner_light=1.0,
        nut=choice(rng, {"none": 85, "double": 15}),
        overshoot=float(rng.choice([0.05, 0.12, 0.25])),
        ragged=float(rng.choice([0.15, 0.5])),
        hooked=float(rng.choice([0.3, 0.8])),
        marks=choice(rng, {"none": 35, "some": 40, "x": 25}),
        dot=choice(rng, {"filled": 60, "scribble": 40}),
        dot_drift=0.08,
        fingers=choice(rng, {"instead": 80, "in": 5, "beside": 15}),
        barre_form=choice(rng, {"hairline": 40, "line": 30, "arc": 20, "endarc": 10}),
        one_form=choice(rng, {"slash": 40, "backslash": 25, "flat": 20, "plain": 15}),
        inlays=False,
        banded=0,
        dashes=0.0,
        staff_lines=False,
        empty_share=0.0,
        colours=_sample_colours(rng, medium),
    )


def _any_style(rng: Rng) -> Style:
    medium = choice(rng, MEDIA)
    printed = medium in ("print", "inverse")
    free = medium not in ("print", "inverse", "preprinted")
    letter_kind = "print" if printed and rng.random() < 0.85 else choice(rng, {"font": 55, "strokes": 45})
    hand = Hand(letter_kind, rng)
    digit_hand = (
        hand if rng.random() < 0.7 else Hand("print" if printed else choice(rng, {"font": 50, "strokes": 50}), rng)
    )
    if medium == "preprinted":
        digit_hand = Hand(choice(rng, {"font": 40, "strokes": 60}), rng)
        hand = Hand(choice(rng, {"font": 40, "strokes": 60}), rng)
    marks = choice(
        rng, {"none": 52, "both": 23, "x": 13, "o": 6, "some": 6} if free else {"none": 30, "both": 50, "x": 14, "o": 6}
    )
    instead = 0.24 if free else 0.02
    fingers = choice(
        rng,
        {
            "none": 42,
            "in": 16 if not free else 10,
            "beside": 6,
            "below": 11,
            "above": 7,
            "instead": 100 * instead,
            "circled": 3 if free else 1,
            "frets": 3 if free else 0.3,
        },
    )
    pen = float(rng.uniform(0.03, 0.1)) if not printed else float(rng.uniform(0.015, 0.09))
    if medium == "marker":
        pen = float(rng.uniform(0.07, 0.2))
    if medium == "stylus":
        pen = float(rng.uniform(0.025, 0.11))
    bare_digits = fingers in ("instead", "circled", "frets")
    if bare_digits and rng.random() < 0.8:  # who writes digits on the strings mostly draws the strings thin
        pen = min(pen, float(rng.uniform(0.03, 0.085)))
    sideways = choice(rng, {0: 80, 1: 19, 2: 1} if medium != "stylus" else {0: 66, 1: 33, 2: 1})
    nut = choice(
        rng,
        {"none": 68, "thick": 19, "double": 10, "bar": 3}
        if free
        else {"none": 18, "thick": 48, "double": 12, "bar": 22},
    )
    dot = choice(
        rng,
        {
            "filled": 58,
            "hollow": 10,
            "scribble": 16,
            "zigzag": 3,
            "cross": 3,
            "tick": 9,
            "oval": 7,
            "square": 0.8,
            "target": 2.5,
            "hatched": 3,
            "spiral": 2.5,
            "triangle": 1.5,
            "star": 0.8,
            "box": 2.5,
        }
        if free or medium == "preprinted"
        else {
            "filled": 78,
            "hollow": 9,
            "white": 2,
            "oval": 3,
            "square": 3,
            "diamond": 1,
            "target": 1,
            "hatched": 0.7,
            "triangle": 1,
            "box": 1.5,
        },
    )
    return Style(
        medium=medium,
        hand=hand,
        digit_hand=digit_hand,
        capitals=bool(rng.random() < (0.15 if not printed else 0.05)),
        sharp=str(rng.choice(["#", "#", "#", "♯"])),
        flat=str(rng.choice(["b", "b", "♭"])),
        wobble=0.0 if printed else float(_shake(rng) if medium != "preprinted" else rng.uniform(0, 0.01)),
        jitter=0.0
        if printed or medium == "preprinted"
        else float(choice(rng, {0.02: 24, 0.05: 24, 0.09: 24, 0.13: 22, 0.19: 6}) * rng.uniform(0.5, 1.3)),
        pen=pen,
        mark_pen=max(1.25 * pen, float(rng.uniform(0.07, 0.14)))
        if bare_digits
        else float(rng.uniform(0.05, 0.16))
        if medium != "marker"
        else float(rng.uniform(0.09, 0.22)),
        inner_pen=float(rng.choice([1, 1, 1, 0.6, 0.75])),
        outer_pen=float(rng.choice([1, 1, 1, 1.5, 2.0])),
        fret_pen=float(rng.choice([1, 1, 1, 0.6, 1.5])),
        inner_light=float(rng.choice([1, 1, 1, 1, 0.7, 0.5])) if free else float(rng.choice([1, 1, 1, 0.75, 0.45])),
        cell_ratio=float(np.exp(rng.normal(0.15 if not sideways else 0.45, 0.24 if not sideways else 0.3)))
        if free
        else float(np.exp(rng.normal(0.22, 0.2))),
        sideways=sideways,
        digits_turned=bool(rng.random() < 0.2),
        digit_aside=(float(rng.uniform(-0.32, 0.32)), float(rng.uniform(-0.12, 0.12)))
        if free and rng.random() < 0.35
        else (0.0, 0.0),
        digit_stretch=float(np.clip(np.exp(rng.normal(0.03, 0.2)), 0.65, 1.7)) if free else 1.0,
        nut=nut,
        closing=bool(rng.random() > (0.16 if sideways == 0 else 0.55)),
        overshoot=float(rng.choice([0, 0.05, 0.12, 0.25])) if free else 0.0,
        short_inner=float(rng.choice([0, 0, 0, 0.08, 0.2])) if free else 0.0,
        run_on=float(rng.choice([0, 0, 0, 0, 0.3, 0.6])) if free else float(rng.choice([0, 0, 0, 0, 0, 0.4])),
        ragged=float(choice(rng, {0.0: 82, 0.15: 12, 0.5: 6})) if free else 0.0,
        hooked=float(choice(rng, {0.0: 80, 0.3: 14, 0.8: 6})) if free else 0.0,
        rows=None if free and rng.random() < 0.7 else int(choice(rng, {2: 3, 3: 21, 4: 39, 5: 28, 6: 4, 7: 3, 8: 2})),
        marks=marks,
        mark_size=float(rng.uniform(0.22, 0.42)),
        mark_distance=float(rng.uniform(0.35, 0.75) if rng.random() < 0.92 else rng.uniform(0.12, 0.35)),
        marks_at_foot=bool(rng.random() < 0.07),
        open_form=choice(rng, {"ring": 89, "zero": 11}),
        muted_form=choice(rng, {"x": 86, "plus": 5, "bracket": 3, "square": 2, "inside": 4, "wavy": 6}),
        wave_size=float(rng.uniform(0.05, 0.16)),
        wave_length=float(rng.uniform(0.25, 0.8)),
        wave_on_string=bool(rng.random() < 0.3),
        dot=dot,
        dot_size=float(rng.uniform(0.2, 0.46) if rng.random() < 0.85 else rng.uniform(0.13, 0.22)),
        dot_at=float(rng.choice([0.5, 0.5, 0.5, 0.62, 0.4])),
        dot_drift=0.0 if printed else float(rng.choice([0.03, 0.08, 0.14])),
        fingers=fingers,
        finger_size=float(rng.uniform(0.42, 0.75) if rng.random() < 0.8 else rng.uniform(0.28, 0.42)),
        finger_side=choice(rng, {"right": 42, "left": 18, "under": 16, "over": 6, "any": 18}),
        finger_gaps=float(choice(rng, {0.0: 66, 0.1: 20, 0.35: 14})),
        barre_form=choice(
            rng,
            {
                "line": 26,
                "dome": 7,
                "dashed": 4,
                "thick": 20,
                "arc": 18,
                "joined": 6,
                "square arc": 2,
                "dots": 12,
                "double": 3,
                "shaded": 3,
                "oval": 7,
                "pale": 6,
                "block": 5,
                "hairline": 4,
                "endarc": 7,
            }
            if free or medium == "preprinted"
            else {
                "thick": 40,
                "line": 12,
                "arc": 24,
                "joined": 4,
                "square arc": 1,
                "dots": 16,
                "oval": 3,
                "pale": 5,
                "block": 9,
                "hairline": 4,
                "endarc": 5,
                "dome": 3,
            },
        ),
        label_place=choice(
            rng,
            {"above": 79, "below": 12, "left": 5, "above-left": 4}
            if sideways == 0
            else {"above": 70, "left": 12, "below": 8, "above-left": 10},
        ),
        label_size=float(rng.uniform(0.55, 1.35)),
        label_raised=bool(rng.random() < 0.35),
        label_frame=choice(rng, {"": 88, "ring": 4, "box": 4, "line": 4}),
        number_form=choice(
            rng,
            {
                "n": 38,
                "fr": 20,
                "roman": 13,
                "ordinal": 8,
                "ordinal fr": 5,
                "bracket": 5,
                "words": 2,
                "dot": 2,
                "all": 3,
                "fr n": 2,
                "roman small": 2,
                "fret n": 3,
                "dot fret": 1,
                "fr. n": 2,
                "pos": 1.5,
                "pos n": 0.7,
                "equals": 0.8,
            },
        ),
        number_side=choice(rng, {"left": 58, "right": 42}),
        number_row=int(choice(rng, {1: 83, 2: 10, 3: 7})),
        number_size=float(rng.uniform(0.42, 0.9)),
        number_turned=int(choice(rng, {0: 94, -90: 4, 90: 2})),
        number_away=float(rng.uniform(0.15, 0.5) if rng.random() < 0.7 else rng.uniform(0.0, 1.3)),
        number_keeps_nut=bool(rng.random() < (0.6 if medium == "preprinted" else 0.13)),
        strings_named=bool(rng.random() < 0.11),
        inlays=bool(rng.random() < 0.03),
        banded=int(choice(rng, {0: 96, 1: 2, 2: 2})),
        dashes=float(choice(rng, {0.0: 96, 0.12: 1.3, 0.22: 1.7, 0.4: 1})),
        wiped_share=float(choice(rng, {0.0: 88, 0.1: 8, 0.4: 4})),
        moved_share=float(choice(rng, {0.05: 47, 0.3: 38, 0.8: 15})),
        label_share=float(choice(rng, {0.97: 78, 0.5: 12, 0.0: 10})),
        staff_lines=bool(free and rng.random() < 0.04),
        squared=bool(free and sideways == 0 and rng.random() < 0.05),
        one_form=choice(rng, {"slash": 30, "backslash": 10, "flat": 3, "plain": 57} if free else {"plain": 1}),
        nut_dots=bool(rng.random() < 0.012),
        empty_share=float(
            choice(rng, {0.0: 80, 0.15: 12, 0.6: 8} if medium in ("print", "preprinted") else {0.0: 96, 0.15: 4})
        ),
        colours=_sample_colours(rng, medium),
    )


def _shake(rng: Rng) -> float:
    """How far a line of the grid strays from straight, in gaps: a sure hand's, or now and then a shaking one's."""
    return rng.uniform(0.005, 0.055) if rng.random() < 0.94 else rng.uniform(0.055, 0.12)


_INKS = {
    (25, 25, 28): 40, (40, 55, 150): 18, (30, 30, 110): 6, (180, 40, 45): 6, (30, 120, 60): 4, (110, 60, 140): 3,
    (70, 70, 72): 8, (230, 120, 30): 2.5, (40, 140, 220): 4, (215, 60, 140): 2.5, (100, 70, 50): 2,
}  # fmt: skip
_VIVID = {
    (40, 130, 230): 20, (225, 50, 55): 18, (40, 170, 80): 10, (235, 130, 40): 9, (150, 70, 190): 8, (225, 70, 160): 8,
    (30, 160, 170): 6, (30, 30, 30): 18, (190, 150, 30): 3,
    (120, 165, 215): 4, (235, 150, 170): 2, (250, 175, 95): 3, (245, 200, 130): 2, (185, 185, 190): 2,
    (150, 210, 165): 2,
}  # fmt: skip


def _sample_colours(rng: Rng, medium: str) -> dict[str, tuple[int, int, int]]:
    if medium in ("chalk", "inverse"):
        light = int(rng.integers(190, 256))
        base = (light, light, light)
        bright = {base: 60, (240, 230, 120): 12, (150, 220, 250): 10, (250, 170, 170): 10, (160, 240, 170): 8}
        return {"grid": base, "mark": choice(rng, bright), "text": choice(rng, bright), "digit": choice(rng, bright)}
    if medium == "pencil":
        g = int(rng.integers(30, 110))
        grey = (g, g, g + 4)
        return {"grid": grey, "mark": grey if rng.random() < 0.9 else choice(rng, _VIVID), "text": grey, "digit": grey}
    black = (20, 20, 22)
    grid = (
        choice(rng, _INKS)
        if medium != "print"
        else choice(rng, {black: 80, (90, 90, 95): 12, (40, 60, 120): 4, (120, 90, 60): 4})
    )
    same = rng.random() < (0.7 if medium not in ("stylus", "marker", "preprinted") else 0.4)
    mark = grid if same else choice(rng, _VIVID if rng.random() < 0.8 else _INKS)
    text = grid if same or rng.random() < 0.5 else (mark if rng.random() < 0.5 else choice(rng, _INKS))
    digit = mark if rng.random() < 0.75 else choice(rng, _INKS)
    return {"grid": grid, "mark": mark, "text": text, "digit": digit}
