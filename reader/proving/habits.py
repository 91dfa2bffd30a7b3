"""How one writer or one program draws diagrams: the habits, and the way from a chord to the marks of one diagram."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reader.proving.chart import MUTED_TOPS, Bar, Chart, Dot, Side
from reader.proving.dice import Dice
from reader.proving.shapes import Chord, Fret
from reader.proving.spelling import Speller, make_speller, spell

_ROMAN = [
    "I",
    "II",
    "III",
    "IV",
    "V",
    "VI",
    "VII",
    "VIII",
    "IX",
    "X",
    "XI",
    "XII",
    "XIII",
    "XIV",
    "XV",
    "XVI",
    "XVII",
    "XVIII",
]


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
        speller=make_speller(dice, raised=0.2),
    )


def number_text(form: str, fret: int) -> str:
    """The number of a fret in one of its forms."""
    ending = {1: "st", 2: "nd", 3: "rd"}.get(fret % 10 if fret not in (11, 12, 13) else 0, "th")
    return {
        "n": f"{fret}",
        "nfr": f"{fret}fr",
        "(n)": f"({fret})",
        "roman": _ROMAN[fret - 1],
        "nth": f"{fret}{ending}",
        "words": f"{fret}{ending} fret",
        "n.": f"{fret}.",
        "all": f"{fret}",
    }[form]


def _window(frets: tuple[Fret, ...], habit: Habit, dice: Dice) -> tuple[int, int]:
    """First fret and number of spaces drawn."""
    stopped = [f for f in frets if f]
    low, high = (min(stopped), max(stopped)) if stopped else (1, 1)
    if high <= max(habit.rows, 4) and not (low > 2 and dice.chance(0.25)):
        return 1, max(habit.rows, high)
    if high <= habit.rows + 1 and dice.chance(0.5):
        return 1, high
    first = low - dice.weigh({0: 0.84, 1: 0.12, 2: 0.04})
    first = max(first, 1)
    return first, max(habit.rows, high - first + 1)


def _tops(frets: tuple[Fret, ...], habit: Habit, dice: Dice) -> tuple[str, ...]:
    shown = {"none": "", "x": "x", "o": "o", "both": "xo", "zero": "x0", "sparse": "o"}[habit.tops]
    out = []
    for f in frets:
        mark = {None: "x", 0: "o"}.get(f, "")
        if mark == "o" and habit.tops == "zero":
            mark = "0"
        if (mark and mark not in shown) or (habit.tops == "sparse" and dice.chance(0.6)):
            mark = ""
        out.append(habit.top_forms.get(mark, mark))
    return tuple(out)


def _sides(first: int, spaces: int, rows: list[int], habit: Habit, dice: Dice) -> tuple[Side, ...]:
    if first == 1 and not dice.chance(0.02):
        return ()
    if first > 1 and dice.chance(habit.unnumbered):
        return ()
    form = dice.weigh(habit.numbers)
    if form == "all":
        return tuple(Side(r, f"{first + r}", first + r) for r in range(spaces))
    top = min(rows) if rows else 0
    row = {"first": 0, "dotted": top, "any": dice.weigh({0: 0.5, 1: 0.3, 2: 0.2})}[habit.number_rows]
    row = min(row, spaces - 1)
    return (Side(row, number_text(form, first + row), first + row),)


def _lettered(chord: Chord, string: int, row: int, first: int, habit: Habit, dice: Dice) -> Dot:
    finger = chord.fingers[string]
    if habit.fingers == "frets":
        return Dot(string, row, None, str(first + row), bare=True)
    if habit.fingers in ("in", "on", "beside", "beneath") and not dice.chance(0.03):
        return Dot(string, row, finger, None, bare=habit.fingers == "on")
    return Dot(string, row)


def _stops(chord: Chord, first: int, habit: Habit, dice: Dice) -> tuple[list[Dot], tuple[Bar, ...]]:
    """Dots and barres of a chord in a window."""
    form = dice.weigh(habit.bars) if chord.bar else "dots"
    bars: tuple[Bar, ...] = ()
    covered: range = range(0)
    if chord.bar and form != "dots":
        bars = (Bar(chord.bar[0] - first, chord.bar[1], chord.bar[2], form),)
        covered = range(chord.bar[1], chord.bar[2] + 1)
    dots = []
    for k, fret in enumerate(chord.frets):
        if not fret:
            continue
        dot = _lettered(chord, k, fret - first, first, habit, dice)
        if bars and k in covered and fret - first == bars[0].row:
            ends = k in (covered[0], covered[-1])
            with_dots = form in ("arc", "oval", "pale") or (form in ("longarc", "hairline") and ends)
            marked = form == "band" and habit.fingers == "in" and k == covered[0]
            if not with_dots and not marked:
                continue
        dots.append(dot)
    if chord.bar and dice.chance(0.06) and form in ("arc", "oval", "dots"):
        # the row is dotted right through, and the higher dots count
        have, row = {(d.string, d.row) for d in dots}, chord.bar[0] - first
        dots += [Dot(k, row) for k in range(chord.bar[1], chord.bar[2] + 1) if (k, row) not in have]
    return dots, bars


def _sure(dots: list[Dot], first: int) -> bool:
    """Whether fret numbers written on the strings cannot be taken for fingers."""
    values = [first + d.row for d in dots if d.text]
    return not values or max(values) > 4 or len(set(values)) < len(values) - 1


def _under(chord: Chord, bars: tuple[Bar, ...], habit: Habit, dice: Dice) -> tuple[tuple[str, ...], bool]:
    if habit.fingers == "under" and not dice.chance(0.03):
        zero, bar_too = dice.chance(0.25), dice.chance(0.6)
        out = []
        for k, (f, finger) in enumerate(zip(chord.frets, chord.fingers, strict=True)):
            held = bool(bars) and bars[0].left <= k <= bars[0].right and finger == 1
            if held and not bar_too:
                out.append("")
                continue
            out.append(str(finger) if f and finger else "0" if f == 0 and zero else "")
        return tuple(out), True
    return (), False


def make_chart(chord: Chord, habit: Habit, dice: Dice, notes: tuple[str, ...] = ()) -> Chart:
    """The marks with which somebody of these habits draws a chord."""
    first, spaces = _window(chord.frets, habit, dice)
    dots, bars = _stops(chord, first, habit, dice)
    tops = _tops(chord.frets, habit, dice)
    rows = [d.row for d in dots] + [b.row for b in bars]
    sides = _sides(first, spaces, rows, habit, dice)
    under, are_fingers = _under(chord, bars, habit, dice)
    if not under and habit.notes_under and notes:
        under = notes
    written = spell(chord, habit.speller) if habit.label_at != "none" else None
    if written and dice.chance(0.03):
        written = None
    nut = habit.nut if first == 1 or habit.nut_up == "same" else habit.nut_up
    chart = Chart(
        strings=len(chord.frets),
        spaces=spaces,
        dots=tuple(dots),
        bars=bars,
        sides=sides,
        tops=tops,
        under=under,
        under_fingers=are_fingers,
        nut=nut,
        open_end=habit.open_end,
        label=written.drawn if written else None,
        label_read=written.read if written else None,
        label_scored=written.scored if written else True,
        fingers_sure=_sure(dots, first)
        and not any(d.finger and b.form == "band" and d.row == b.row for d in dots for b in bars),
        hard="nutdot" in tops and any(f is None for f in chord.frets) and not any(t in MUTED_TOPS for t in tops),
    )
    return _odd_things(chart, habit, dice)


def _odd_things(chart: Chart, habit: Habit, dice: Dice) -> Chart:
    """Now and then a correction, an optional dot, inlays, a label that is wrong."""
    extras = set()
    hard = chart.hard
    if habit.inlays and chart.first_fret == 1:
        extras.add("inlays")
    if dice.chance(0.008) and chart.dots:
        extras.add("crossed")
    if dice.chance(0.004) and chart.dots:
        extras.add("optional")
        hard = True
    if dice.chance(0.01):
        extras.add("ghost")
    out = replace(chart, extras=frozenset(extras), hard=hard)
    if chart.label_read and dice.chance(0.02):
        wrong = dice.pick(["C", "G7", "Dm", "A", "E7", "F#m", "Bb", "Em"])
        out = replace(out, label=wrong, label_read=wrong, label_scored=True)
    return out
