"""Tablature as music: which string is stopped where, struck together or one after the other, between bar lines.

String 1 is the top line, the highest of a usual tuning (common practice; MusicXML 4.0 counts the same way).
Nothing here has a duration: drawn tab rarely says one, and none is made up.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from reader.errors import NotationError
from reader.music.naming import name_shape
from reader.music.shape import Shape
from reader.music.tuning import Tuning

BarKind = Literal["none", "single", "double", "final", "repeat-start", "repeat-end", "repeat-both"]
BAR_KINDS: tuple[BarKind, ...] = ("none", "single", "double", "final", "repeat-start", "repeat-end", "repeat-both")
FEWEST_LINES, MOST_LINES = 4, 8
HIGHEST_FRET = 24

HAND_SPAN_MM = 155.0
"""Widest distance between stopped frets that a hand reaches (memory): about five frets at the nut of a guitar and
eleven on a ukulele, whose frets lie closer."""


@dataclass(frozen=True, slots=True)
class Note:
    """A number on a line: fret None is an x, a ghost note stands in brackets.

    Examples
    --------
    >>> str(Note(2, 12)), str(Note(5, None)), str(Note(1, 3, ghost=True))
    ('2:12', '5:x', '1:(3)')
    """

    string: int
    fret: int | None
    ghost: bool = False

    def __post_init__(self) -> None:
        if not 1 <= self.string <= MOST_LINES:
            raise NotationError(f"String {self.string} is outside 1 to {MOST_LINES}: string 1 is the top line.")
        if self.fret is not None and not 0 <= self.fret <= HIGHEST_FRET:
            raise NotationError(f"Fret {self.fret} on string {self.string} is outside 0 to {HIGHEST_FRET}.")

    def __str__(self) -> str:
        written = "x" if self.fret is None else str(self.fret)
        return f"{self.string}:({written})" if self.ghost else f"{self.string}:{written}"


@dataclass(frozen=True, slots=True)
class Group:
    """Notes struck together, top line first, and what is written at them: ``h``, ``p``, ``/``, ``slur``.

    Examples
    --------
    >>> str(Group((Note(5, 3), Note(6, 3)), "/"))
    '5:3 6:3 [/]'
    """

    notes: tuple[Note, ...]
    text: str | None = None

    def __str__(self) -> str:
        notes = " ".join(str(n) for n in self.notes)
        return f"{notes} [{self.text}]" if self.text else notes


@dataclass(frozen=True, slots=True)
class Measure:
    """Groups up to the bar line that ends them; ``opening`` is a bar line drawn before the first group."""

    groups: tuple[Group, ...]
    bar: BarKind = "single"
    opening: BarKind = "none"


@dataclass(frozen=True, slots=True)
class Tab:
    """A tab: measures on so many lines.

    Parameters
    ----------
    line_count : int
    measures : tuple of Measure
    tuning : str
        Id of a tuning with as many strings.
    """

    line_count: int
    measures: tuple[Measure, ...]
    tuning: str = ""

    @property
    def groups(self) -> tuple[Group, ...]:
        """All groups from left to right."""
        return tuple(g for m in self.measures for g in m.groups)


def tab_of(
    groups: Iterable[tuple[float, Group]], bars: Iterable[tuple[float, BarKind]], line_count: int, tuning: str = ""
) -> Tab:
    """Put groups and bar lines, each with its place from left to right, in order.

    Examples
    --------
    >>> tab = tab_of([(1, Group((Note(1, 0),))), (5, Group((Note(1, 2),)))], [(3, "single")], 6)
    >>> [m.bar for m in tab.measures]
    ['single', 'none']
    """
    marks: list[tuple[float, Group | BarKind]] = sorted([*groups, *bars], key=lambda pair: pair[0])
    measures: list[Measure] = []
    here: list[Group] = []
    opening: BarKind = "none"
    for _, mark in marks:
        if isinstance(mark, Group):
            here.append(mark)
        elif here or measures:
            measures.append(Measure(tuple(here), mark, opening))
            here, opening = [], "none"
        else:
            opening = mark
    if here or opening != "none" or not measures:
        measures.append(Measure(tuple(here), "none", opening))
    return Tab(line_count, tuple(measures), tuning)


# ---------------------------------------------------------------- meaning


def string_index(string: int, line_count: int) -> int:
    """Index of a string as a shape counts, leftmost of an upright diagram first: string 1 is the rightmost."""
    return line_count - string


def note_pitch(note: Note, tuning: Tuning) -> int | None:
    """MIDI number of a note; None for an x.

    Examples
    --------
    >>> from reader.music.tuning import get_tuning
    >>> note_pitch(Note(1, 3), get_tuning("ukulele"))
    72
    """
    if note.string > tuning.string_count:
        raise NotationError(
            f"The tab has a note on string {note.string} and the tuning {tuning.id} has {tuning.string_count} strings: "
            f"choose a tuning of at least {note.string} strings."
        )
    if note.fret is None:
        return None
    return tuning.pitch_at(string_index(note.string, tuning.string_count), note.fret)


def group_shape(group: Group, line_count: int) -> Shape:
    """The shape of a group; strings without a number are not played."""
    frets: list[int | None] = [None] * line_count
    for note in group.notes:
        frets[string_index(note.string, line_count)] = note.fret
    return Shape(tuple(frets))


def group_names(group: Group, tuning: Tuning, label: str | None = None) -> tuple[str, ...]:
    """Chord names of notes struck together, best first; empty for fewer than two pitches."""
    shape = group_shape(group, tuning.string_count)
    if len({p for p in tuning.sounding(shape) if p is not None}) < 2:
        return ()
    return tuple(name.text for name in name_shape(shape, tuning, label))


def group_problem(group: Group, tuning: Tuning) -> str | None:
    """Why no hand can play a group, in one sentence; None when one can.

    Examples
    --------
    >>> from reader.music.tuning import get_tuning
    >>> group_problem(Group((Note(1, 2), Note(1, 5))), get_tuning("guitar"))
    'Two numbers stand on string 1 at once.'
    """
    strings = [n.string for n in group.notes]
    doubled = next((s for s in strings if strings.count(s) > 1), None)
    if doubled is not None:
        return f"Two numbers stand on string {doubled} at once."
    stopped = [n.fret for n in group.notes if n.fret]
    if len(stopped) < 2:
        return None
    low, high = min(stopped), max(stopped)
    if stretch_mm(low, high, tuning) > HAND_SPAN_MM:
        return f"Frets {low} and {high} are too far apart for one hand."
    return None


def stretch_mm(low: int, high: int, tuning: Tuning) -> float:
    """Distance along the neck between two fingers behind their frets; fret n lies L(1 - 2^(-n/12)) from the nut."""
    return float(tuning.sounding_scale_mm * (2.0 ** (-low / 12) - 2.0 ** (-high / 12)))


def problems(tab: Tab, tuning: Tuning) -> Iterator[tuple[int, str]]:
    """Index and sentence of every group that no hand can play."""
    for i, group in enumerate(tab.groups):
        sentence = group_problem(group, tuning)
        if sentence is not None:
            yield i, sentence
