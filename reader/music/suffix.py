"""What stands between root and bass of a label, read sign by sign into degrees.

Any combination of signs is understood; the table of qualities only names the result.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from reader.music.chord import FIFTH, ROOT
from reader.music.pitch import Degree
from reader.music.quality import get_quality

_NATURAL, _MINOR_THIRD = Degree(3), Degree(3, -1)
_SECOND, _FOURTH = Degree(2), Degree(4)
_AS_ADDED = {2: 9, 4: 11}
"""An added second is written as a ninth, an added fourth as an eleventh (common practice, no source)."""
_UNDER = {7: (), 9: (9,), 11: (9, 11), 13: (9, 11, 13)}
"""What a number after the root stacks on the seventh."""

_SIGN = re.compile(
    r"""
    (?P<space>[\s.:;)\]}]+)
  | (?P<loose>[(\[,/]+)
  | (?P<sus>(?i:sus)(?:\s*\(?(?P<which>2\s*/?\s*(?i:sus)?\s*4|4\s*/?\s*(?i:sus)\s*2|[24](?!\d)))?)
  | (?P<add>(?i:add)\s*\(?(?P<added>[#b+-]?\s*(?:13|11|9|6|4|2)))
  | (?P<no>(?i:no|omit)\s*(?P<gone>3|5|7|9|11|13)(?i:rd|th)?)
  | (?P<alt>(?i:alt(?:ered)?))
  | (?P<halfdim>ø|(?i:half[-\s]?dim(?:inished)?|hdim))
  | (?P<dim>(?i:dim(?:inished)?)|°|o(?![a-z]))
  | (?P<aug>(?i:aug(?:mented)?))
  | (?P<dom>(?i:dom(?:inant)?))
  | (?P<major_after>(?:7|9|11|13)M(?![aiAI]))
  | (?P<major>(?i:major|maj)|(?i:ma)(?!(?i:dd|ug|lt))|Δ|M(?![iI])|j(?=\s*7))
  | (?P<minor>(?i:minor|min)|(?i:mi)|m)
  | (?P<altered>[\#b]\s*(?:13|11|9|6|5|4|2))
  | (?P<plus>[+](?:\s*(?:13|11|9|5)(?!\d))?)
  | (?P<dash>-(?:\s*(?:13|11|9|6|5)(?!\d))?)
  | (?P<number>13|11|9|7|6|5|4|2)
    """,
    re.VERBOSE,
)


@dataclass(slots=True)
class _Suffix:
    """What the signs read so far amount to."""

    third: Degree | None = _NATURAL
    fifth: Degree | None = FIFTH
    suspended: tuple[Degree, ...] = ()
    number: int = 0
    number_implied: int = 0
    major_sign: str = ""
    diminished: bool = False
    added: set[Degree] = field(default_factory=set)
    omitted: set[int] = field(default_factory=set)
    loose: bool = False
    signs: int = 0

    def degrees(self) -> frozenset[Degree]:
        """All degrees, root included."""
        seventh = self._seventh()
        stack = self._stack()
        added = {d for d in self.added if d.alteration or not self._is_altered(d.number)}
        middle = set(self.suspended) if self.suspended else {self.third}
        if _FOURTH in middle and Degree(9) in added and seventh is None:
            middle, added = {_SECOND, _FOURTH}, added - {Degree(9)}
        if len(middle) == 2 and seventh is not None:
            middle, stack = {_FOURTH}, stack | {Degree(9)}
        sixth = {Degree(6)} if self.number == 6 else set()
        found = {ROOT, self.fifth, seventh, *middle, *stack, *sixth, *added}
        return frozenset(d for d in found if d is not None and d.number not in self.omitted)

    def _is_altered(self, number: int) -> bool:
        """Whether an altered tone stands for the plain one of this number."""
        return any(d.number == number and d.alteration for d in self.added)

    def _stack(self) -> set[Degree]:
        """Natural ninth, eleventh and thirteenth, as far as no altered one stands for them."""
        replaced = {d.number for d in self.added}
        altered = bool(self.added) or self.fifth != FIFTH
        clashes = _FOURTH in self.suspended or (self.number == 13 and altered and self.third == _NATURAL)
        if clashes:
            replaced.add(11)
        return {Degree(n) for n in _UNDER.get(self._number(), ()) if n not in replaced}

    def _number(self) -> int:
        return self.number or self.number_implied

    def _seventh(self) -> Degree | None:
        if self._number() in _UNDER:
            if self.major_sign:
                return Degree(7)
            return Degree(7, -2 if self.diminished else -1)
        sign_is_enough = self.major_sign == "Δ" or (self.major_sign and self.third != _NATURAL)
        return Degree(7) if sign_is_enough and self.number == 0 else None


def read_suffix(plain: str, start: int, minor: bool = False) -> frozenset[Degree] | int:
    """The degrees that a suffix means.

    Parameters
    ----------
    plain : str
        With plain accidentals; the suffix goes to its end.
    start : int
        Where the suffix begins.
    minor : bool
        Whether the root has already made the chord minor.

    Returns
    -------
    frozenset of Degree, or int
        The position of the first sign that makes no sense.

    Examples
    --------
    >>> sorted(str(d) for d in read_suffix("Cm7b5", 1))
    ['1', 'b3', 'b5', 'b7']
    >>> read_suffix("Cmaj7x", 1)
    5
    """
    suffix = _Suffix(third=_MINOR_THIRD if minor else _NATURAL)
    position = start
    while position < len(plain):
        found = _SIGN.match(plain, position)
        if not found:
            return position
        kind = next(k for k in _READ if found[k] is not None)
        if not _READ[kind](suffix, found):
            return position
        if kind not in ("space", "loose"):
            suffix.loose = False
            suffix.signs += 1
        position = found.end()
    return suffix.degrees()


def _read_space(suffix: _Suffix, found: re.Match[str]) -> bool:
    return True


def _read_loose(suffix: _Suffix, found: re.Match[str]) -> bool:
    suffix.loose = True
    return found.end() < len(found.string)


def _read_sus(suffix: _Suffix, found: re.Match[str]) -> bool:
    which = found["which"] or "4"
    suffix.suspended = tuple(d for d in (_SECOND, _FOURTH) if str(d) in which)
    return True


def _read_add(suffix: _Suffix, found: re.Match[str]) -> bool:
    return _add(suffix, *_alteration_and_number(found["added"]))


def _read_no(suffix: _Suffix, found: re.Match[str]) -> bool:
    suffix.omitted.add(int(found["gone"]))
    return True


def _read_alt(suffix: _Suffix, found: re.Match[str]) -> bool:
    suffix.number_implied = 7
    suffix.fifth = None
    suffix.added |= {d for d in get_quality("7alt").degrees if d.number in (5, 9)}
    return True


def _read_halfdim(suffix: _Suffix, found: re.Match[str]) -> bool:
    suffix.third, suffix.fifth, suffix.number_implied = _MINOR_THIRD, Degree(5, -1), 7
    return True


def _read_dim(suffix: _Suffix, found: re.Match[str]) -> bool:
    suffix.third, suffix.fifth, suffix.diminished = _MINOR_THIRD, Degree(5, -1), True
    return True


def _read_aug(suffix: _Suffix, found: re.Match[str]) -> bool:
    suffix.fifth = Degree(5, 1)
    return True


def _read_dom(suffix: _Suffix, found: re.Match[str]) -> bool:
    suffix.number_implied = 7
    return True


def _read_major_after(suffix: _Suffix, found: re.Match[str]) -> bool:
    suffix.major_sign = "M"
    suffix.number = int(found["major_after"][:-1])
    return True


def _read_major(suffix: _Suffix, found: re.Match[str]) -> bool:
    suffix.major_sign = found["major"]
    return not suffix.number


def _read_minor(suffix: _Suffix, found: re.Match[str]) -> bool:
    suffix.third = _MINOR_THIRD
    return not suffix.signs


def _read_altered(suffix: _Suffix, found: re.Match[str]) -> bool:
    return _add(suffix, *_alteration_and_number(found["altered"]))


def _read_plus(suffix: _Suffix, found: re.Match[str]) -> bool:
    """A plus before 5, 9, 11 raises it after a number; first of all it means an augmented fifth (C+9)."""
    digits = found["plus"][1:].strip()
    if digits and (suffix.number or suffix.loose or digits == "5"):
        return _add(suffix, 1, int(digits))
    suffix.fifth = Degree(5, 1)
    return not digits or _number(suffix, int(digits))


def _read_dash(suffix: _Suffix, found: re.Match[str]) -> bool:
    """A dash first of all means minor (C-9); after a number, or before 5, it lowers (C7-9)."""
    digits = found["dash"][1:].strip()
    if digits and (suffix.number or suffix.loose or digits == "5"):
        return _add(suffix, -1, int(digits))
    if suffix.signs:
        return False
    suffix.third = _MINOR_THIRD
    return not digits or _number(suffix, int(digits))


def _read_number(suffix: _Suffix, found: re.Match[str]) -> bool:
    return _number(suffix, int(found["number"]))


def _number(suffix: _Suffix, number: int) -> bool:
    if number == 5:
        suffix.omitted.add(3)
        return not suffix.signs
    if number == 4 and (not suffix.signs or _is_dominant(suffix)):
        suffix.suspended = (_FOURTH,)  # C4, C7/4: players never mean a fourth beside a major third here
        return True
    stacked = number in _UNDER or number == 6
    added_in_brackets = suffix.loose and number > 7 and not suffix.major_sign
    if stacked and not suffix.number and not added_in_brackets:
        suffix.number = number
        return True
    if (suffix.number, number) == (6, 7):
        suffix.number = 7
        return _add(suffix, 0, 13)
    return number not in (suffix.number, 7) and _add(suffix, 0, number)


def _is_dominant(suffix: _Suffix) -> bool:
    return suffix.number in _UNDER and suffix.third == _NATURAL and not suffix.major_sign


def _add(suffix: _Suffix, alteration: int, number: int) -> bool:
    number = _AS_ADDED.get(number, number)
    has_seventh = suffix.number in _UNDER
    if number == 5:
        return _alter_fifth(suffix, Degree(5, alteration))
    if number == 6 and alteration == 0 and not has_seventh:
        suffix.number = suffix.number or 6
        return True
    if number == 6:
        number = 13
    suffix.added.add(Degree(number, alteration))
    return True


def _alter_fifth(suffix: _Suffix, degree: Degree) -> bool:
    if suffix.fifth in (FIFTH, degree):
        suffix.fifth = degree
    else:
        suffix.added.add(degree)
    return True


def _alteration_and_number(text: str) -> tuple[int, int]:
    digits = text.lstrip("#b+- ")
    return {"": 0, "#": 1, "+": 1, "b": -1, "-": -1}[text[: len(text) - len(digits)].strip()], int(digits)


_READ: dict[str, Callable[[_Suffix, re.Match[str]], bool]] = {
    "space": _read_space,
    "loose": _read_loose,
    "sus": _read_sus,
    "add": _read_add,
    "no": _read_no,
    "alt": _read_alt,
    "halfdim": _read_halfdim,
    "dim": _read_dim,
    "aug": _read_aug,
    "dom": _read_dom,
    "major_after": _read_major_after,
    "major": _read_major,
    "minor": _read_minor,
    "altered": _read_altered,
    "plus": _read_plus,
    "dash": _read_dash,
    "number": _read_number,
}
