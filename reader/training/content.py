"""What a drawn diagram says, before any line is drawn: stops, fingers, barres, marks, label."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from reader.training.strokes import Rng, choice

LABEL_LENGTH = 12
MAX_STRINGS = 8
MAX_ROWS = 8
MUTED = -1


@dataclass
class DrawnBarre:
    """One barre: the row it lies in (from 1), the leftmost and rightmost string, how it is drawn."""

    row: int
    left: int
    right: int
    form: str


@dataclass
class Dot:
    """One sign on a string in a row, with its finger and how that finger is written (None: it is not)."""

    string: int
    row: int
    finger: int | str | None = None


@dataclass
class Content:
    """What one diagram says.

    ``states`` holds per string MUTED, 0 (open) or the row of its highest stop.
    """

    strings: int
    rows: int
    first_fret: int
    states: list[int]
    dots: list[Dot]
    barres: list[DrawnBarre] = field(default_factory=list)
    label: LabelText | None = None
    empty: bool = False


@dataclass(frozen=True)
class LabelText:
    """A chord label: what is to be read, and the parts as written (the suffix may stand raised)."""

    truth: str
    base: str
    suffix: str = ""
    bass: str = ""


_QUALITIES: dict[str, float] = {
    "": 24, "m": 15, "7": 14, "m7": 8, "maj7": 5, "sus4": 4, "sus2": 2, "7sus4": 2.5, "add9": 2.5, "6": 3, "m6": 2,
    "9": 3, "m9": 1.2, "maj9": 1, "dim": 2, "dim7": 1.5, "aug": 2, "7#5": 1, "m7b5": 1.8, "5": 1.5, "6/9": 1, "11": 0.6,
    "13": 1, "7b9": 1, "7#9": 1, "7b5": 0.6, "mmaj7": 1, "maj7#11": 0.5, "m11": 0.5, "madd9": 0.6, "add11": 0.3,
    "maj13": 0.3, "9sus4": 0.4, "7#11": 0.3, "m7#5": 0.2, "maj6": 0.2, "13sus4": 0.2, "7alt": 0.1, "sus": 1,
    "major": 0.8,
}  # fmt: skip
_SPELLINGS: dict[str, tuple[str, ...]] = {
    "m": ("m", "m", "m", "m", "min", "mi", "-", "minor"),
    "m7": ("m7", "m7", "m7", "min7", "-7", "mi7"),
    "maj7": ("maj7", "maj7", "M7", "Maj7", "Δ", "Δ7", "ma7", "j7"),
    "maj9": ("maj9", "M9", "Maj9"),
    "dim": ("dim", "°", "dim", "o"),
    "dim7": ("dim7", "°7", "dim7", "o7"),
    "aug": ("aug", "+", "+", "aug"),
    "7#5": ("7#5", "+7", "aug7", "7(#5)"),
    "m7b5": ("m7b5", "ø", "ø7", "m7(b5)", "m7b5"),
    "6/9": ("6/9", "69"),
    "7b9": ("7b9", "7(b9)"),
    "7#9": ("7#9", "7(#9)"),
    "7b5": ("7b5", "7(b5)"),
    "mmaj7": ("mmaj7", "mM7", "m(maj7)"),
    "add9": ("add9", "add9", "(add9)", "add2"),
    "7alt": ("7+9", "7-9", "7-5"),
    "major": ("maj", "major"),
}
_CAPITALS = ("MAJ", "ADD", "SUS", "MIN", "DIM", "AUG")
_SOLFEGE = ("Do", "Re", "Mi", "Fa", "Sol", "La", "Si", "DO", "RE", "MI", "FA", "SOL", "LA", "SI")


def sample_label(rng: Rng, *, capitals: bool, sharp: str = "#", flat: str = "b") -> LabelText:
    """A chord label in one of the usual spellings.

    Parameters
    ----------
    capitals : whether the writer letters everything in capitals (a minor is then a small M)
    sharp, flat : the signs as the writer draws them
    """
    if rng.random() < 0.012:
        name = str(rng.choice(_SOLFEGE))
        return LabelText(name, name)
    quality = choice(rng, _QUALITIES)
    options = _SPELLINGS.get(quality, (quality,))
    written = options[int(rng.integers(len(options)))]
    root = "CDEFGAB"[int(rng.integers(7))]
    accidental = choice(rng, {"": 70, "#": 15, "b": 15})
    bass = ""
    if rng.random() < 0.08:
        bass = "/" + "CDEFGAB"[int(rng.integers(7))] + choice(rng, {"": 75, "#": 15, "b": 10})
    truth = root + accidental + written + bass
    if len(truth) > LABEL_LENGTH:
        return sample_label(rng, capitals=capitals, sharp=sharp, flat=flat)
    truth = truth.replace("Maj", "maj")
    shown = written
    if capitals:
        for word in _CAPITALS:
            shown = shown.replace(word.lower(), word)
        shown = shown.replace("Maj", "MAJ").replace("minor", "MINOR").replace("major", "MAJOR")
    if written in ("minor", "major"):
        shown = " " + shown

    def sign(text: str) -> str:
        return text.replace("#", sharp).replace("b", flat)

    return LabelText(truth, root + sign(accidental), sign(shown), bass[:1] + bass[1:2] + sign(bass[2:]))


def _lowest_row(rng: Rng, rows: int | None) -> int:
    """The last row in which there may be a stop; most shapes lie low."""
    if rows is None:
        return int(choice(rng, {2: 6, 3: 66, 4: 20, 5: 8}))
    return rows if rng.random() < 0.6 else min(5, rows)


def _plan_row(rng: Rng, strings: int, limit: int, states: list[int], dots: list[Dot]) -> None:
    """Dots side by side in one row, now and then others elsewhere."""
    row = int(rng.integers(1, min(3, limit) + 1))
    run = int(rng.integers(2, strings + 1))
    start = int(rng.integers(0, strings - run + 1))
    for s in range(start, start + run):
        states[s] = row
        dots.append(Dot(s, row))
    for s in range(strings):
        if states[s] == 0 and rng.random() < 0.25:
            states[s] = int(rng.integers(1, limit + 1))
            dots.append(Dot(s, states[s]))


def sample_content(rng: Rng, strings: int, rows: int | None, *, moved: bool) -> Content:
    """What to draw on a grid of ``strings``: a shape that a hand might play, or any other.

    Parameters
    ----------
    rows : fret spaces, None: as many as the shape needs (mostly at least three)
    moved : whether the window lies up the neck
    """
    limit = _lowest_row(rng, rows)
    states = [0] * strings
    dots: list[Dot] = []
    barres: list[DrawnBarre] = []
    plan = choice(
        rng, {"open": 55 if not moved else 12, "barre": 16 if not moved else 38, "any": 20, "few": 9, "row": 11}
    )
    if plan == "barre":
        _plan_barre(rng, strings, limit, states, dots, barres)
    elif plan == "row":
        _plan_row(rng, strings, limit, states, dots)
    else:
        most = {"open": min(strings, 4), "any": strings, "few": 1}[plan]
        count = int(rng.integers(1, most + 1)) if rng.random() > 0.05 else 0
        low = int(rng.integers(1, limit + 1)) if plan == "any" else 1
        for s in rng.permutation(strings)[:count]:
            row = int(np.clip(low + rng.integers(0, 4), 1, limit)) if plan != "few" else int(rng.integers(1, limit + 1))
            states[int(s)] = row
            dots.append(Dot(int(s), row))
    mute = choice(rng, {0.0: 55, 0.25: 30, 0.6: 15}) if strings >= 5 else choice(rng, {0.0: 85, 0.25: 15})
    if moved and plan != "barre":
        mute = max(mute, 0.3)
    for s in range(strings):
        if states[s] == 0 and rng.random() < mute and not any(b.left <= s <= b.right for b in barres):
            states[s] = MUTED
    if barres and rng.random() < 0.08:
        # an x over a string that the barre crosses: it is not played all the same
        s = int(rng.integers(strings))
        states[s] = MUTED
        dots[:] = [d for d in dots if d.string != s]
    top = max([*states, 1])
    if rows is None:
        rows = max(top, int(choice(rng, {2: 7, 3: 67, 4: 20, 5: 6})))
    first = 1
    if moved:
        first = int(
            choice(rng, {2: 15, 3: 16, 4: 13, 5: 14, 6: 8, 7: 11, 8: 7, 9: 6, 10: 5, 11: 2, 12: 3, 13: 1, 14: 1, 15: 1})
        )
    content = Content(strings, max(rows, top), first, states, dots, barres)
    _assign_fingers(rng, content)
    return content


def _plan_barre(
    rng: Rng, strings: int, limit: int, states: list[int], dots: list[Dot], barres: list[DrawnBarre]
) -> None:
    row = 1 if rng.random() < 0.6 else int(rng.integers(1, limit + 1))
    if rng.random() < 0.62:
        left, right = 0, strings - 1
    else:
        run = int(rng.integers(2, strings + 1))
        left = int(rng.integers(0, strings - run + 1)) if rng.random() < 0.5 else strings - run
        right = left + run - 1
    barres.append(DrawnBarre(row, left, right, "line"))
    for s in range(left, right + 1):
        states[s] = row
    for s in map(int, rng.permutation(strings)[: int(rng.integers(0, 4))]):
        low = row + 1 if left <= s <= right else max(1, row)
        if low <= limit:
            states[s] = int(rng.integers(low, min(limit, low + 2) + 1))
            dots.append(Dot(s, states[s]))
    if strings >= 5 and row + 2 <= limit and right - left >= 3 and rng.random() < 0.06:
        a = left + 1
        b = min(right, a + 2)
        if all(states[s] == row for s in range(a, b + 1)):
            barres.append(DrawnBarre(row + 2, a, b, "line"))
            for s in range(a, b + 1):
                states[s] = row + 2


def _assign_fingers(rng: Rng, content: Content) -> None:
    """Give every dot a finger, the way a hand would or any other: it is the digit that must be read."""
    finger = 1 if content.barres else 0
    previous = None
    wild = rng.random() < 0.45
    for dot in sorted(content.dots, key=lambda d: (d.row, d.string)):
        if dot.row != previous or finger < 4:
            finger = min(4, finger + 1)
        previous = dot.row
        dot.finger = int(rng.integers(1, 5)) if wild else finger
        if rng.random() < (0.04 if dot.string in (0, content.strings - 1) else 0.004):
            dot.finger = "T"
