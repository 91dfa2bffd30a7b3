"""How people write the same chord name."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reader.proving.dice import Dice
from reader.proving.shapes import Chord

# spelling of a quality -> how common it is; '^' starts raised signs
_QUALITIES: dict[str, dict[str, float]] = {
    "m": {"m": 0.8, "-": 0.06, "min": 0.08, "mi": 0.06},
    "maj7": {"maj7": 0.5, "M7": 0.12, "Δ": 0.1, "Δ7": 0.06, "ma7": 0.08, "Maj7": 0.1},
    "m7": {"m7": 0.8, "-7": 0.07, "min7": 0.08, "mi7": 0.05},
    "dim7": {"dim7": 0.35, "°7": 0.25, "°": 0.2, "dim": 0.2},
    "aug": {"aug": 0.4, "+": 0.6},
    "m7b5": {"m7b5": 0.5, "ø": 0.2, "ø7": 0.1, "m7-5": 0.08, "m7(b5)": 0.1},
    "sus4": {"sus4": 0.75, "sus": 0.25},
    "7sus4": {"7sus4": 0.8, "7sus": 0.2},
    "add9": {"add9": 0.85, "(add9)": 0.15},
    "m6": {"m6": 0.9, "-6": 0.1},
    "m9": {"m9": 0.9, "-9": 0.1},
}
_WORDS = {"": "Major", "m": "minor"}
_SOLFEGE = {"C": "DO", "D": "RE", "E": "MI", "F": "FA", "G": "SOL", "A": "LA", "B": "SI"}


@dataclass(frozen=True, slots=True)
class Speller:
    """One person's way to write chord names.

    Parameters
    ----------
    table : dict
        The spelling chosen for each quality.
    raised : bool
        Everything behind the note and a small m is written high.
    signs : bool
        ♯ and ♭ instead of # and b.
    capitals : bool
        Words in capitals (MAJ7, SUS4).
    style : str
        ``plain``, ``words`` (C Major), ``solfege`` (DO) or ``star`` (F* for F#).
    """

    table: dict[str, str]
    raised: bool
    signs: bool
    capitals: bool
    style: str


def make_speller(dice: Dice, raised: float = 0.2) -> Speller:
    """Invent a way of spelling."""
    table = {q: dice.weigh(forms) for q, forms in _QUALITIES.items()}
    style = dice.weigh({"plain": 0.946, "words": 0.034, "solfege": 0.01, "star": 0.01})
    return Speller(table, dice.chance(raised), dice.chance(0.15), dice.chance(0.1), style)


def without_small_m(speller: Speller) -> Speller:
    """The same speller for letters of one case, where a minor m would read as a major M."""
    minor = {"m": "min", "m7": "min7", "m7b5": "ø", "m6": "-6", "m9": "-9", "maj7": "maj7"}
    return replace(speller, table=speller.table | minor, capitals=True)


@dataclass(frozen=True, slots=True)
class Written:
    """A label as drawn (with ``^`` before raised signs) and as read; `scored` is false for odd spellings."""

    drawn: str
    read: str
    scored: bool = True


def _words(chord: Chord, speller: Speller) -> str | None:
    if speller.style == "words" and chord.quality in _WORDS and chord.bass is None:
        word = _WORDS[chord.quality]
        return " " + (word.upper() if speller.capitals else word)
    return None


def spell(chord: Chord, speller: Speller) -> Written | None:
    """The label of a chord, or None when it has no name."""
    if chord.root is None or chord.quality is None:
        return None
    quality = _words(chord, speller) or speller.table.get(chord.quality, chord.quality)
    root = chord.root
    if speller.style == "solfege":
        root = _SOLFEGE[root[0]] + root[1:]
    bass = f"/{chord.bass}" if chord.bass else ""
    read = root + quality + bass
    drawn = quality
    if speller.capitals:
        for word in ("maj", "add", "sus", "dim", "aug", "min"):
            drawn = drawn.replace(word, word.upper())
    if speller.raised and not drawn.startswith(" "):
        small = 1 if drawn[:1] == "m" and drawn[1:2] not in ("a", "i") else 0
        drawn = drawn[:small] + "^" + drawn[small:] if drawn[small:] and not bass else drawn
    shown = root + drawn + bass
    if speller.style == "star":
        shown = shown.replace("#", "*")
    if speller.signs:
        shown = shown.replace("#", "♯")
        shown = shown[0] + shown[1:].replace("b", "♭")
    return Written(shown, read, speller.style not in ("solfege", "star"))
