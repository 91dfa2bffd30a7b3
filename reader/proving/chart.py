"""One diagram as drawn, and what it reads as: the truth is worked out from the marks, never from the intention."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from reader.proving.shapes import Finger, Fret

MUTED_TOPS = ("x", "X", "(x)", "boxed", "cell", "wavy")
OPEN_TOPS = ("o", "0", "O", "nutdot")


@dataclass(frozen=True, slots=True)
class Dot:
    """A stop on one string.

    Parameters
    ----------
    string : int
        As drawn, 0 leftmost.
    row : int
        Fret space drawn, 0 uppermost.
    finger : int, "T" or None
        Finger number that is drawn with it.
    text : str or None
        Other lettering in or on it (a note name, a fret number), never a finger.
    bare : bool
        Only the lettering is drawn.
    """

    string: int
    row: int
    finger: Finger = None
    text: str | None = None
    bare: bool = False


@dataclass(frozen=True, slots=True)
class Bar:
    """A barre drawn as one thing, over the strings `left` to `right` (0 leftmost)."""

    row: int
    left: int
    right: int
    form: str


@dataclass(frozen=True, slots=True)
class Side:
    """Lettering beside one row that names its fret."""

    row: int
    text: str
    fret: int


@dataclass(frozen=True)
class Chart:
    """Everything that is drawn of one diagram.

    Parameters
    ----------
    strings, spaces : int
    dots, bars, sides : tuples
    tops : tuple of str
        Mark above each string, empty where there is none.
    under : tuple of str
        Lettering below each string.
    under_fingers : bool
        The lettering below is fingers (or 0 for open).
    nut : str
        ``thin``, ``thick``, ``double`` or ``heavy``.
    open_end : bool
        No line closes the last space.
    label : str or None
        As drawn; ``^`` starts raised signs.
    label_read : str or None
    label_scored : bool
    fingers_sure : bool
        False where digits could also be fret numbers.
    extras : frozenset of str
        ``inlays``, ``crossed`` (a dot struck out), ``optional`` (a dot in brackets), ``ghost`` (rubbed-out lines).
    hard : bool
        A person could not be sure.
    """

    strings: int
    spaces: int
    dots: tuple[Dot, ...]
    bars: tuple[Bar, ...] = ()
    sides: tuple[Side, ...] = ()
    tops: tuple[str, ...] = ()
    under: tuple[str, ...] = ()
    under_fingers: bool = False
    nut: str = "thin"
    open_end: bool = False
    label: str | None = None
    label_read: str | None = None
    label_scored: bool = True
    fingers_sure: bool = True
    extras: frozenset[str] = field(default_factory=frozenset)
    hard: bool = False

    @property
    def first_fret(self) -> int:
        """Number of the first fret space, worked back from the lettering beside a row."""
        return self.sides[0].fret - self.sides[0].row if self.sides else 1

    @property
    def empty(self) -> bool:
        """Nothing at all is drawn on the grid, and it has no label."""
        marks = self.dots or self.bars or any(self.tops) or any(self.under)
        return not marks and self.label is None

    def fret_of(self, string: int) -> Fret:
        """How one string is played."""
        if self.tops and self.tops[string] in MUTED_TOPS:
            return None
        rows = [d.row for d in self.dots if d.string == string]
        rows += [b.row for b in self.bars if b.left <= string <= b.right]
        return self.first_fret + max(rows) if rows else 0

    def finger_of(self, string: int) -> Finger:
        """Which finger is drawn for one string."""
        if self.fret_of(string) in (None, 0):
            return None
        if self.under_fingers and self.under[string] not in ("", "0", "o", "x"):
            text = self.under[string]
            return "T" if text == "T" else int(text)
        dots = sorted((d for d in self.dots if d.string == string), key=lambda d: d.row)
        return dots[-1].finger if dots and dots[-1].row + self.first_fret == self.fret_of(string) else None

    def truth(self, corners: list[tuple[float, float]]) -> dict[str, Any]:
        """The diagram in the page-reading form."""
        n = self.strings
        out: dict[str, Any] = {
            "corners": [[round(float(x), 1), round(float(y), 1)] for x, y in corners],
            "string_count": n,
            "fret_count": self.spaces,
            "first_fret": self.first_fret,
            "frets": [self.fret_of(k) for k in range(n)],
            "fingers": [self.finger_of(k) for k in range(n)],
            "barres": [
                {"fret": self.first_fret + b.row, "from_string": n - b.left, "to_string": n - b.right}
                for b in sorted(self.bars, key=lambda b: b.row)
            ],
            "label": self.label_read,
        }
        if not self.label_scored:
            out["label_unscored"] = True
        if not self.fingers_sure:
            out["fingers_small"] = True
        if self.hard:
            out["hard"] = True
        return out
