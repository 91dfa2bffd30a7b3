"""What can be written around a diagram: chord labels and fret numbers, in the ways people write them."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import product

from reader.image.around import Lexicon
from reader.image.ctc import Spelling, grow_tree
from reader.music.label_style import NoteNames

ROOTS = {
    **dict.fromkeys(("C", "D", "E", "F", "G", "A", "B"), 1.0),
    **dict.fromkeys(("F#", "Bb", "Eb", "Ab", "C#", "G#", "Db", "D#", "Gb", "A#"), 0.5),
    **dict.fromkeys(("Cb", "Fb", "E#", "B#"), 0.01),
}
"""How common a root is in a label (common practice, no source)."""
GERMAN = {
    **dict.fromkeys(("C", "D", "E", "F", "G", "A", "H"), 1.0),
    **dict.fromkeys(("B", "Fis", "Es", "As", "Cis", "Gis", "Des", "Dis", "Ges", "F#", "Eb", "C#", "G#"), 0.5),
    **dict.fromkeys(("c", "d", "e", "f", "g", "a", "h", "fis", "cis", "gis"), 0.3),
}
SOLFEGE = {
    **dict.fromkeys(("Do", "Re", "Mi", "Fa", "Sol", "La", "Si"), 1.0),
    **dict.fromkeys(("Fa#", "Sib", "Mib", "Lab", "Do#", "Sol#", "Reb", "Re#", "Solb", "La#"), 0.5),
    **dict.fromkeys(("Dob", "Fab", "Mi#", "Si#"), 0.01),
}
ROOTS_BY_NAMES: dict[NoteNames, dict[str, float]] = {"english": ROOTS, "german": GERMAN, "solfege": SOLFEGE}
QUALITIES = {
    **{"": 1.0, "m": 1.0, "7": 1.0},
    **dict.fromkeys(("m7", "maj7", "sus4", "sus2", "6", "9", "5", "dim", "add9", "7sus4", "m6", "+", "aug"), 0.5),
    **dict.fromkeys(("mi", "min", "-", "-7", "mi7", "min7", "M7", "ma7", "°", "°7", "dim7", "m7b5"), 0.3),
    **dict.fromkeys(("ø", "ø7", "sus", "7sus", "m9", "maj9", "7#9", "7b9", "13", "11", "Δ", "Δ7", "6/9", "69"), 0.2),
    **dict.fromkeys((" Major", " minor"), 0.1),
    **dict.fromkeys(("maj", "M", "(add9)", "m7-5", "m7(b5)", "mmaj7", "m(maj7)", "mM7", "-6", "-9", "min9"), 0.1),
    **dict.fromkeys(("add2", "add4", "(add2)", "madd9", "m(add9)", "7b5", "7#5", "7+", "+7", "aug7", "7alt"), 0.1),
    **dict.fromkeys(("m11", "m13", "maj13", "maj11", "9sus4", "9sus", "13sus4", "2", "maj6", "min6", "mi6"), 0.06),
    **dict.fromkeys(("mi9", "-7b5", "min7b5", "mi7b5", "ma9", "M9", "Δ9", "7(b9)", "7(#9)", "7-9", "7+9", "7-5"), 0.06),
    **dict.fromkeys(("maj7#11", "maj7#5", "maj7b5", "9b5", "9#5", "13b9", "7b13", "7#11", "9#11", "m6/9", "m69"), 0.04),
    **dict.fromkeys(("7/6", "6add9", "add11", "7add11", "sus2sus4", "7sus2", "maj9#11", "(b5)", "no3"), 0.02),
}
"""What follows the root, as written, and how common it is (common practice, no source)."""
WITH_BASS = ("", "m", "7", "m7", "maj7", "mi", "min", "6", "9", "sus4", "add9", "dim", "m6", "M7", "-", "-7", "°")
BASS_WEIGHT = 0.1
NO_SLASH_WEIGHT = 0.03
"""A long slash that runs into the grid is taken for one of its lines."""
SHAPES = {
    **{"#": "#♯", "b": "b♭", "°": "°", "Δ": "Δ", "ø": "øØ", "-": "-", "/": "/", "(": "(", ")": ")", "+": "+"},
}
"""Signs that mean the same."""
WORDS = ("maj", "Maj", "min", "dim", "aug", "sus", "add", "alt", "mi", "ma", "Major", "major", "Minor", "minor", "no")
ROMAN = (
    *("I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X"),
    *("XI", "XII", "XIII", "XIV", "XV"),
)
LONE_ROMAN = {"I": 0.03, "V": 0.2, "X": 0.04}
"""How common a numeral of one sign is: a stroke, a tick or a cross mostly is something else."""
STROKE = "Il1|i!/"
NUMBERS = 24
AFTER_NUMBER = {"": 1.0, "fr": 0.7, "fr.": 0.5, "FR": 0.3, "Fr": 0.3, "th": 0.7, "TH": 0.1, "thfr": 0.3, "thfr.": 0.2,
                "thfret": 0.3, "THFRET": 0.05, "fret": 0.3, "FRET": 0.1, ".": 0.1, ")": 0.03, "°": 0.03, "f": 0.03,
                "-": 0.03, ".fret": 0.1}  # fmt: skip
"""What follows a number, and how common it is (common practice, no source)."""
BEFORE_POSITION = ("pos", "pos.", "Pos", "Pos.", "POS", "POS.")
"""What stands before a Roman numeral, in print or by hand (common practice, no source)."""
BEFORE_NUMBER = ("fr", "fr.", "Fr", "fret", "Fret", "FRET", "capo", "Capo", *BEFORE_POSITION, "=")
ORDINALS = {1: "st", 2: "nd", 3: "rd", 21: "st", 22: "nd", 23: "rd"}


@cache
def lexicon(names: NoteNames = "english") -> Lexicon:
    """Spellings of chord labels, each with its plain text, and of fret numbers with their form (see ``NumberForm``)."""
    return Lexicon(grow_tree(_labels(ROOTS_BY_NAMES[names])), grow_tree(_numbers()))


def _labels(roots: dict[str, float]) -> Iterator[Spelling]:
    for (root, often), (quality, usual) in product(roots.items(), QUALITIES.items()):
        weight = (often * usual) ** 0.5
        yield Spelling((*_root_shapes(root), *_quality_shapes(quality)), root + quality, weight)
        if quality in WITH_BASS and often > 0.1:
            for bass, how_often in roots.items():
                if bass != root and how_often > 0.1:
                    shapes = (*_root_shapes(root), *_quality_shapes(quality), "/", *_root_shapes(bass))
                    yield Spelling(shapes, f"{root}{quality}/{bass}", weight * how_often * BASS_WEIGHT)
                    if not quality and len(root) == len(bass) == 1:
                        yield Spelling((root, bass), f"{root}/{bass}", weight * how_often * NO_SLASH_WEIGHT)
    yield Spelling(("Nn", ".", "Cc", "."), "N.C.", 0.05)
    yield Spelling(("Nn", "Cc"), "N.C.", 0.02)


def _root_shapes(root: str) -> tuple[str, ...]:
    """A letter for a note in either size where both look alike, then its sign."""
    if len(root) == 1 or root[1] in "#b":
        letter = root[0] if root[0] not in "CFG" else root[0] + root[0].lower()
        return (letter, *(SHAPES[c] for c in root[1:]))
    return (root[0], *(SHAPES.get(c, c + c.upper()) for c in root[1:]))


def _quality_shapes(quality: str) -> tuple[str, ...]:
    """Words in capitals or small letters; single letters and signs as they stand."""
    out: list[str] = []
    at = 0
    while at < len(quality):
        word = next((w for w in sorted(WORDS, key=len, reverse=True) if quality.startswith(w, at)), None)
        if word:
            out += [c.lower() + c.upper() for c in word]
            at += len(word)
            continue
        sign = quality[at]
        if sign != " ":
            out.append(SHAPES.get(sign, sign))
        at += 1
    return tuple(out)


def _numbers() -> Iterator[Spelling]:
    for value in range(1, NUMBERS + 1):
        digits = tuple(str(value))
        weight = 1.0 if value <= 12 else 0.15
        for ending, usual in AFTER_NUMBER.items():
            order = ORDINALS.get(value, "th")
            after = ending.replace("th", order).replace("TH", order.upper())
            # a lone stroke is more often the end of a line than a number
            alone = 0.15 if value == 1 and not ending else 1.0
            form = "plain" if not ending else "marked"
            yield Spelling((*digits, *after), f"{value} {form}", weight * usual * alone)
        yield Spelling(("(", *digits, ")"), f"{value} marked", weight * 0.5)
        for word in BEFORE_NUMBER:
            yield Spelling((*word, *digits), f"{value} marked", weight * 0.1)
    for value, roman in enumerate(ROMAN, 1):
        form = "strokes" if roman in ("I", "II") else "roman"
        usual = 0.5 if len(roman) > 1 else LONE_ROMAN[roman]
        shapes = tuple(STROKE if c == "I" else c + c.lower() for c in roman)
        for ending in ("", "fr", "."):
            yield Spelling((*shapes, *ending), f"{value} {form}", usual)
        for word in BEFORE_POSITION:
            yield Spelling((*word, *shapes), f"{value} marked", 0.3)
