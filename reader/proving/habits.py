"""How one writer or one program draws diagrams: the habits, and the way from a chord to the marks of one diagram."""

from __future__ import annotations

from dataclasses import dataclass

from reader.proving.dice import Dice
from reader.proving.spelling import Speller, make_speller


@dataclass(frozen=True, slots=True)
class Habit:
    """What stays the same on the diagrams of one writer or program.

    Parameters
    ----------
    rows : int
        Fewest fret spaces drawn; more only where a shape needs them.
    tops : str
        ``none``, ``x``, ``o``, ``both``, ``zero`` (0 and x) or ``sparse`` (now and then an o).
    top_forms : dict
        How x and o are drawn.
    fingers : str
        ``none``, ``in``, ``on`` (instead of a dot), ``beside``, ``beneath`` (the dot), ``under`` (the grid), ``frets``
        (numbers instead of dots, but they are frets).
    bars : dict of str to float
        Forms of barre and how common they are; ``dots`` stands for separate dots.
    numbers : dict of str to float
        Forms of the first-fret number.
    number_rows : str
        ``first``, ``dotted`` (the uppermost row with a dot) or ``any``.
    number_side : str
        ``left`` or ``right``.
    unnumbered : float
        How often a shape up the neck stands without a number.
    nut, nut_up : str
        The nut at fret 1 and the line in its place up the neck.
    open_end : bool
    look : str
        Look of the dots.
    label_at : str
        ``above``, ``below``, ``left``, ``none``.
    label_cap, top_size, dot_size, number_cap : float
        Heights in gaps, in gaps, in gaps, in rows.
    dot_low : float
        Where in its row a dot sits, 0 upper line to 1 lower line.
    row_ratio : float
        Height of a row over the gap of the strings.
    outer, inner : float
        Weights of outer and inner lines.
    fret_weight : float
        Weight of fret lines over strings.
    overshoot : float
        How far lines run on, in gaps.
    run_on : float
        How far strings run on below the last line, in rows.
    inner_stop : float
        How far inner lines stay away from the outer ones, in gaps.
    notes_under : bool
        Names of the open strings below.
    speller : Speller
    """

    rows: int
    tops: str
    top_forms: dict[str, str]
    fingers: str
    bars: dict[str, float]
    numbers: dict[str, float]
    number_rows: str
    number_side: str
    unnumbered: float
    nut: str
    nut_up: str
    open_end: bool
    look: str
    label_at: str
    label_cap: float
    top_size: float
    dot_size: float
    number_cap: float
    dot_low: float
    row_ratio: float
    outer: float
    inner: float
    fret_weight: float
    overshoot: float
    run_on: float
    inner_stop: float
    notes_under: bool
    inlays: bool
    by_hand: bool
    speller: Speller


_NUMBERS = {"n": 0.36, "nfr": 0.2, "(n)": 0.08, "roman": 0.12, "nth": 0.1, "words": 0.03, "n.": 0.03, "all": 0.08}


def _numbers(dice: Dice) -> dict[str, float]:
    main = dice.weigh(_NUMBERS)
    return {main: 0.9, **{k: 0.02 for k in _NUMBERS if k != main}}


def hand_habit(dice: Dice) -> Habit:
    """Habits of somebody who draws by hand."""
    fingers = dice.weigh(
        {"none": 0.5, "in": 0.03, "on": 0.22, "beside": 0.08, "beneath": 0.02, "under": 0.09, "frets": 0.06}
    )
    look = dice.weigh({"solid": 0.6, "scribble": 0.17, "ring": 0.1, "loops": 0.03, "smear": 0.07, "square": 0.03})
    bars = {
        "dots": 0.3, "thick": 0.24, "double": 0.06, "shade": 0.05, "arc": 0.14, "longarc": 0.07, "band": 0.05,
        "hairline": 0.04, "oval": 0.05,
    }  # fmt: skip
    favourite = dice.weigh(bars)
    return Habit(
        rows=dice.weigh({3: 0.5, 4: 0.38, 5: 0.12}),
        tops=dice.weigh({"none": 0.5, "both": 0.18, "x": 0.14, "o": 0.08, "zero": 0.05, "sparse": 0.05}),
        top_forms={
            "x": dice.weigh({"x": 0.8, "X": 0.1, "(x)": 0.03, "cell": 0.07}),
            "o": dice.weigh({"o": 0.88, "O": 0.08, "nutdot": 0.04}),
        },
        fingers=fingers,
        bars={favourite: 0.8, **{k: 0.2 * v for k, v in bars.items() if k != favourite}},
        numbers=_numbers(dice),
        number_rows=dice.weigh({"first": 0.65, "dotted": 0.25, "any": 0.1}),
        number_side=dice.weigh({"left": 0.55, "right": 0.45}),
        unnumbered=dice.weigh({0.0: 0.9, 0.15: 0.1}),
        nut=dice.weigh({"thin": 0.62, "heavy": 0.16, "double": 0.14, "thick": 0.08}),
        nut_up="thin" if dice.chance(0.85) else "same",
        open_end=dice.chance(0.1),
        look="ring" if fingers == "in" else look,
        label_at=dice.weigh({"above": 0.87, "below": 0.06, "left": 0.05, "none": 0.02}),
        label_cap=dice.between(0.6, 1.15),
        top_size=dice.between(0.2, 0.34),
        dot_size=dice.between(0.2, 0.36) if dice.chance(0.95) else 0.48,
        number_cap=dice.between(0.42, 0.72),
        dot_low=dice.between(0.42, 0.62),
        row_ratio=dice.between(0.85, 1.45),
        outer=dice.weigh({1.0: 0.8, 1.35: 0.2}),
        inner=dice.weigh({1.0: 0.75, 0.7: 0.25}),
        fret_weight=dice.between(0.8, 1.15),
        overshoot=dice.bell(0.06, 0.09),
        run_on=dice.weigh({0.0: 0.85, 0.35: 0.15}),
        inner_stop=dice.weigh({0.0: 0.86, 0.08: 0.08, 0.16: 0.06}),
        notes_under=dice.chance(0.025),
        inlays=False,
        by_hand=True,
        speller=make_speller(dice, raised=0.25),
    )


def print_habit(dice: Dice) -> Habit:
    """Habits of a printing program."""
    fingers = dice.weigh(
        {"none": 0.42, "in": 0.27, "beside": 0.05, "beneath": 0.02, "under": 0.2, "on": 0.02, "frets": 0.02}
    )
    look = dice.weigh({"solid": 0.82, "ring": 0.06, "square": 0.04, "diamond": 0.02, "edged": 0.06})
    bars = {"dots": 0.22, "band": 0.4, "arc": 0.22, "arcdots": 0.0, "thick": 0.06, "pale": 0.06, "oval": 0.04}
    favourite = dice.weigh(bars)
    return Habit(
        rows=dice.weigh({3: 0.1, 4: 0.5, 5: 0.4}),
        tops=dice.weigh({"none": 0.2, "both": 0.56, "x": 0.1, "o": 0.06, "zero": 0.08}),
        top_forms={
            "x": dice.weigh({"x": 0.72, "X": 0.16, "(x)": 0.02, "boxed": 0.04, "cell": 0.03, "wavy": 0.03}),
            "o": dice.weigh({"o": 0.9, "O": 0.08, "nutdot": 0.02}),
        },
        fingers=fingers,
        bars={favourite: 1.0},
        numbers=_numbers(dice),
        number_rows=dice.weigh({"first": 0.75, "dotted": 0.2, "any": 0.05}),
        number_side=dice.weigh({"left": 0.5, "right": 0.5}),
        unnumbered=0.0,
        nut=dice.weigh({"thick": 0.62, "thin": 0.16, "double": 0.1, "heavy": 0.12}),
        nut_up=dice.weigh({"thin": 0.85, "same": 0.15}),
        open_end=dice.chance(0.12),
        look=look if fingers != "in" or look not in ("diamond",) else "solid",
        label_at=dice.weigh({"above": 0.88, "below": 0.08, "left": 0.02, "none": 0.02}),
        label_cap=dice.between(0.55, 1.1),
        top_size=dice.between(0.18, 0.32),
        dot_size=dice.between(0.24, 0.42) if dice.chance(0.95) else 0.5,
        number_cap=dice.between(0.4, 0.65),
        dot_low=dice.weigh({0.5: 0.8, 0.62: 0.12, 0.7: 0.08}),
        row_ratio=dice.between(0.9, 1.6),
        outer=dice.weigh({1.0: 0.8, 1.6: 0.2}),
        inner=dice.weigh({1.0: 0.8, 0.6: 0.2}),
        fret_weight=dice.weigh({1.0: 0.75, 0.6: 0.15, 1.5: 0.1}),
        overshoot=0.0,
        run_on=dice.weigh({0.0: 0.93, 0.3: 0.07}),
        inner_stop=0.0,
        notes_under=dice.chance(0.06),
        inlays=dice.chance(0.05),
        by_hand=False,
        speller=make_speller(dice, raised=0.2),
    )
