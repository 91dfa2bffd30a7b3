"""From a chord to the marks with which somebody of certain habits draws it."""

from __future__ import annotations

from dataclasses import replace

from reader.proving.chart import MUTED_TOPS, Bar, Chart, Dot, Side
from reader.proving.dice import Dice
from reader.proving.habits import Habit
from reader.proving.shapes import Chord, Fret
from reader.proving.spelling import spell

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
    shown = bool(chart.dots) and not any(d.bare for d in chart.dots)
    if dice.chance(0.012) and shown and habit.by_hand:
        extras.add("crossed")
    if dice.chance(0.005) and shown:
        extras.add("optional")
        hard = True
    if dice.chance(0.015) and habit.by_hand:
        extras.add("ghost")
    out = replace(chart, extras=frozenset(extras), hard=hard)
    if chart.label_read and dice.chance(0.02):
        wrong = dice.pick(["C", "G7", "Dm", "A", "E7", "F#m", "Bb", "Em"])
        out = replace(out, label=wrong, label_read=wrong, label_scored=True)
    return out
