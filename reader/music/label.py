"""Chord labels as people write them: the root first, a bass note after the last slash, a suffix between them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from reader.music.chord import Chord, chord_of
from reader.music.label_style import NoteNames
from reader.music.pitch import NoteName
from reader.music.suffix import read_suffix


@dataclass(frozen=True, slots=True)
class Unparsed:
    """A label that is no chord, and where it stops making sense.

    Parameters
    ----------
    text : str
    position : int
        Index of the first character that does not belong; the length of the
        text when something is missing at its end.
    reason : str
        One sentence.
    """

    text: str
    position: int
    reason: str


@dataclass(frozen=True, slots=True)
class NoChord:
    """The label N.C.: nothing is played."""

    def __str__(self) -> str:
        return "N.C."


NO_CHORD = NoChord()

_SAME_SIGN = str.maketrans("♯♭＃⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻–−‐‑∆△º˚Ø", "#b#0123456789+-----ΔΔ°°ø")
_BEFORE_THE_ROOT = " \t([{"
_NO_CHORD = re.compile(r"\s*(n\.?\s*c\.?|no\s+chord)\s*$", re.IGNORECASE)

_ALTERED_FIFTH_FOLLOWS = r"(?:5|6|9|11|13)(?!\d)"
_ACCIDENTAL = rf"(##(?!{_ALTERED_FIFTH_FOLLOWS})|#|bb(?!{_ALTERED_FIFTH_FOLLOWS})|b|)"
_SPACE_BEFORE_ACCIDENTAL = rf"(?:[ ](?=[#b](?![ ]*{_ALTERED_FIFTH_FOLLOWS})))?"
_ROOTS: dict[NoteNames, re.Pattern[str]] = {
    "english": re.compile(rf"([A-Ga-g]){_SPACE_BEFORE_ACCIDENTAL}{_ACCIDENTAL}"),
    "german": re.compile(r"([AaEe](?=s(?!us))|[A-Ha-h])(ses|s(?!us)|isis|is|eses|es|#|b|)"),
    "solfege": re.compile(rf"(do|re|ré|mi|fa|sol|la|si){_ACCIDENTAL}", re.IGNORECASE),
}
_STEPS_OF_SOLFEGE = {"do": "C", "re": "D", "ré": "D", "mi": "E", "fa": "F", "sol": "G", "la": "A", "si": "B"}
_ALTERATION_OF = {
    **{"": 0, "#": 1, "##": 2, "b": -1, "bb": -2},
    **{"is": 1, "isis": 2, "es": -1, "s": -1, "eses": -2, "ses": -2},
}
_NEVER_A_POWER_CHORD = re.compile(r"([CFcf]b|[EBeb]#)(?=5(?!\d))")


@lru_cache(maxsize=4096)
def parse_label(text: str, note_names: NoteNames = "english") -> Chord | NoChord | Unparsed:
    """The chord that a label means.

    Parameters
    ----------
    text : str
        ``Bbmaj7``, ``f#m``, ``C°7``, ``G/B``, ``A 7 (b9)``, ``N.C.``
    note_names : {'english', 'german', 'solfege'}
        How roots and basses are named. In German a small letter is a minor
        chord.

    Returns
    -------
    Chord, NoChord or Unparsed
        Never raises.

    Examples
    --------
    >>> str(parse_label("F#-7b5")), str(parse_label("Solm/Sib", "solfege"))
    ('F#m7b5', 'Gm/Bb')
    >>> parse_label("Cmaj7x").position
    5
    """
    plain = text.translate(_SAME_SIGN)
    if _NO_CHORD.match(plain):
        return NO_CHORD
    start = len(plain) - len(plain.lstrip(_BEFORE_THE_ROOT))
    found = _read_root(plain, start, note_names)
    if found is None:
        problem = "it is empty" if start == len(plain) else "it does not begin with the name of a note"
        return Unparsed(text, start, f"The label '{text}' cannot be read: {problem}.")
    root, end, minor = found
    slash, bass = _read_bass(plain, end, note_names)
    degrees = read_suffix(plain[:slash], end, minor)
    if isinstance(degrees, int):
        return Unparsed(text, degrees, f"The label '{text}' cannot be read from '{text[degrees:]}' on.")
    return chord_of(root, degrees, bass)


def _read_root(plain: str, start: int, note_names: NoteNames) -> tuple[NoteName, int, bool] | None:
    """Root, where it ends, and whether a small German letter makes it minor."""
    found = _ROOTS[note_names].match(plain, start)
    if not found:
        return None
    letter, accidental = found[1], (found[2] or "").lower()
    if note_names == "solfege":
        return NoteName(_STEPS_OF_SOLFEGE[letter.lower()], _ALTERATION_OF[accidental]), found.end(), False
    if note_names == "german":
        german = _german_note(letter.upper(), accidental)
        return None if german is None else (german, found.end(), letter.islower())
    if _NEVER_A_POWER_CHORD.match(plain, start):
        return NoteName(letter.upper()), start + 1, False
    return NoteName(letter.upper(), _ALTERATION_OF[accidental]), found.end(), False


def _german_note(letter: str, accidental: str) -> NoteName | None:
    if accidental in ("s", "ses") and letter not in "AE":
        return None
    if letter == "B":
        return NoteName("B", -1)
    return NoteName("B" if letter == "H" else letter, _ALTERATION_OF[accidental])


def _read_bass(plain: str, end: int, note_names: NoteNames) -> tuple[int, NoteName | None]:
    """Where the suffix ends, and the note after the last slash."""
    slash = plain.rfind("/")
    if slash < end:
        return len(plain), None
    after = len(plain) - len(plain[slash + 1 :].lstrip())
    found = _read_root(plain, after, note_names)
    if found is None or plain[found[1] :].strip(" )"):
        return len(plain), None
    return slash, found[0]
