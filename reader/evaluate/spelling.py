"""When two written chord labels say the same: Am = A- = Amin, Gmaj7 = GM7 = GΔ, Ddim = D°.

A label is brought to one spelling by a table of rules, applied from top to bottom. The table is kept
apart from `reader.music`, so that the yardstick does not share a mistake with what it measures.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

_SIGNS = str.maketrans(
    {
        "♭": "b",
        "♯": "#",
        "△": "Δ",  # white up-pointing triangle
        "∆": "Δ",  # increment sign
        "º": "°",  # masculine ordinal
        "⁰": "°",  # raised zero
        "Ø": "ø",
        "∅": "ø",  # empty set
        "–": "-",  # en dash
        "−": "-",  # minus sign
        "·": "",  # middle dot
    }
)
_PUNCTUATION = re.compile(r"[\s()\[\],.:;]")
_LABEL = re.compile(r"(?P<root>[A-Ga-g][#b]?)(?P<quality>.*?)(?:/(?P<bass>[A-Ga-g][#b]?))?")


@dataclass(frozen=True, slots=True)
class Rule:
    """Spellings that mean the same, and the one that stands for them."""

    written: re.Pattern[str]
    instead: str


def _rule(written: str, instead: str) -> Rule:
    return Rule(re.compile(written), instead)


RULES: tuple[Rule, ...] = (
    _rule(r"^(?i:minor|min|mi(?!x)|-)", "m"),  # Amin, Ami, A-; 'mix' is a mode, not a minor
    _rule(r"major|maj|ma|Maj|MAJ|MA", "M"),
    _rule(r"^m[MΔ]7?$", "mM7"),  # Am(maj7), AmΔ
    _rule(r"^M$", ""),  # Cmaj is C
    _rule(r"^Δ$", "M7"),  # a lone triangle is a major seventh
    _rule(r"Δ", "M"),
    _rule(r"^[jJ]7$", "M7"),  # Cj7
    _rule(r"^(dim|°|o|O)", "dim"),
    _rule(r"^(aug|\+)", "aug"),
    _rule(r"^(ø|0/)7?$", "m7b5"),
    _rule(r"^m7(-5|o5)$", "m7b5"),
    _rule(r"sus$", "sus4"),
    _rule(r"^(9add|2|add2)$", "add9"),
)


def spelling_class(label: str | None) -> str | None:
    """One spelling for all labels that say the same.

    Parameters
    ----------
    label : str or None
        As written.

    Returns
    -------
    str or None
        Only good for comparing; None where there is no label. What does not
        start with a note letter keeps its letters, marked by ``?``.

    Examples
    --------
    >>> spelling_class("A♭ maj7") == spelling_class("AbM7")
    True
    """
    signs = (label or "").strip().translate(_SIGNS)
    if not signs:
        return None
    plain = _PUNCTUATION.sub("", signs)
    parts = _LABEL.fullmatch(plain)
    if parts is None:
        return "?" + plain.lower()
    quality = parts["quality"]
    for rule in RULES:
        quality = rule.written.sub(rule.instead, quality)
    bass = f"/{_capital(parts['bass'])}" if parts["bass"] else ""
    return _capital(parts["root"]) + quality + bass


def _capital(note: str) -> str:
    return note[:1].upper() + note[1:]
