"""What a library holds, as values: sightings, the entries they add up to, pages, tabs, steps.

A **sighting** is one diagram on one page. What was read of it never changes;
its `Standing` says where the decisions so far have led. An **entry** is one
shape in one tuning with all its sightings, and takes its state from them.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from reader.music.frame import Frame
from reader.music.shape import Shape
from reader.reading import (
    Corners,
    Reading,
    TabReading,
    frame_from_object,
    frame_to_object,
    tab_from_object,
    tab_to_object,
)

State = Literal["absent", "unchecked", "accepted", "confirmed", "corrected", "rejected"]
Origin = Literal["page", "added", "import"]

SETTLED: frozenset[State] = frozenset(("confirmed", "corrected", "rejected"))
"""States that a person has decided."""

COUNTED: tuple[State, ...] = ("confirmed", "corrected", "accepted", "unchecked")
"""States in which a sighting counts for its entry."""

ENTRY_STATES: tuple[State, ...] = ("confirmed", "corrected", "accepted", "unchecked", "rejected")
"""An entry has the first of these that one of its sightings has."""


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a sighting stands after all decisions so far.

    Parameters
    ----------
    state : State
        ``absent`` for one that a person added and then took back.
    frame, tuning, label, corners
        As in a `Reading`, with any correction in them.
    """

    state: State
    frame: Frame
    tuning: str
    label: str | None
    corners: Corners

    def to_json(self) -> str:
        """As stored in the history."""
        data = {
            "state": self.state,
            "tuning": self.tuning,
            "label": self.label,
            "corners": [list(c) for c in self.corners],
            **frame_to_object(self.frame),
        }
        return json.dumps(data, ensure_ascii=False, separators=(",", ":"))

    @classmethod
    def from_json(cls, text: str) -> Standing:
        """Inverse of `to_json`."""
        data = json.loads(text)
        corners = tuple((float(x), float(y)) for x, y in data["corners"])
        return cls(data["state"], frame_from_object(data), data["tuning"], data["label"], corners)

    @classmethod
    def of_reading(cls, reading: Reading) -> Standing:
        """As read: accepted without flags, unchecked with."""
        state: State = "accepted" if reading.accepted else "unchecked"
        return cls(state, reading.frame, reading.tuning, reading.label, reading.corners)

    def says_the_same(self, other: Standing) -> bool:
        """Whether two standings differ in nothing but their state."""
        return replace(self, state=other.state) == other


@dataclass(frozen=True, slots=True)
class TabStanding:
    """Where a tablature system stands after all decisions so far."""

    state: State
    tab: TabReading

    def to_json(self) -> str:
        """As stored in the history."""
        data = {"state": self.state, "tab": tab_to_object(self.tab)}
        return json.dumps(data, ensure_ascii=False, separators=(",", ":"))

    @classmethod
    def from_json(cls, text: str) -> TabStanding:
        """Inverse of `to_json`."""
        data = json.loads(text)
        return cls(data["state"], tab_from_object(data["tab"]))

    @classmethod
    def of_reading(cls, tab: TabReading) -> TabStanding:
        """As read: accepted without flags, unchecked with."""
        return cls("accepted" if tab.accepted else "unchecked", tab)


class _Decided:
    """What follows from a standing alone."""

    __slots__ = ()
    standing: Standing | TabStanding

    @property
    def state(self) -> State:
        """Where it stands."""
        return self.standing.state

    @property
    def due(self) -> bool:
        """Whether a person still has to look."""
        return self.standing.state == "unchecked"

    @property
    def settled(self) -> bool:
        """Whether a person has decided."""
        return self.standing.state in SETTLED


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one sighting, as far as it says something about the reader's confidence.

    Parameters
    ----------
    id : int
    state : State
    origin : {'page', 'added', 'import'}
    confidence : float
        As read, whatever calibration is in force.
    flags : tuple of str
        Codes of the flags that the reading bears.
    right : bool or None
        Whether the frets as read are those that a person settled; None where nobody has.
    """

    id: int
    state: State
    origin: Origin
    confidence: float
    flags: tuple[str, ...]
    right: bool | None


@dataclass(frozen=True, slots=True)
class Sighting(_Decided):
    """One diagram on one page.

    Parameters
    ----------
    id, entry_id : int
    page_id : int or None
        None for shapes that came in without a page.
    number : int
        Order on the page, from 1.
    source, sha256 : str
        The file, as first given, and its checksum; empty without a page.
    page : int
        Page within the file, from 1; 0 without a page.
    origin : {'page', 'added', 'import'}
        Found by the reader, drawn in by a person, or brought in from a file of shapes.
    reading : Reading
        As read; never changed.
    standing : Standing
        As decided.
    confidence : float
        Of the reading, recalibrated where a calibration is in force.
    priority : float
        Larger is looked at earlier.
    step, changed, changed_by
        The last step that touched it, when and by whom.
    """

    id: int
    entry_id: int | None
    page_id: int | None
    number: int
    source: str
    sha256: str
    page: int
    origin: Origin
    reading: Reading
    standing: Standing
    confidence: float
    priority: float
    step: int
    changed: str
    changed_by: str


@dataclass(frozen=True, slots=True)
class Facts:
    """What follows from a shape and a tuning alone; the things one searches by.

    ``pitch_set`` has bit n set when pitch class n sounds; ``bass`` is the MIDI
    number of the lowest sound; ``difficulty`` is the score of the usual fingering,
    None where no hand can play the shape or the tuning is unknown.
    """

    highest_fret: int = 0
    lowest_fret: int = 0
    stretch: int = 0
    fingers: int = 0
    barre: bool = False
    open_strings: int = 0
    muted: int = 0
    difficulty: float | None = None
    pitch_set: int = 0
    bass: int | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One shape in one tuning, with what all its sightings add up to.

    Parameters
    ----------
    frame : Frame
        Of the most trusted sighting.
    name, other_names
        From the pitch classes, the label deciding between equals.
    label : str or None
        As written beside the most trusted sighting.
    flags : tuple of str
        Codes of the flags on sightings that nobody has settled.
    confidence : float
        The highest among its sightings; 1 where a person has settled one.
    sighting_count, due_count : int
        Without rejected ones; those that a person still has to look at.
    """

    id: int
    tuning: str
    shape: Shape
    frame: Frame
    name: str | None
    other_names: tuple[str, ...]
    label: str | None
    state: State
    confidence: float
    flags: tuple[str, ...]
    sighting_count: int
    due_count: int
    facts: Facts = field(default_factory=Facts)


def entry_to_object(entry: Entry) -> dict[str, Any]:
    """What an entry says of itself, as plain lists and dictionaries; sightings and facts are for the caller to add."""
    return {
        "shape": str(entry.shape),
        "tuning": entry.tuning,
        **frame_to_object(entry.frame),
        "name": entry.name,
        "other_names": list(entry.other_names),
        "label": entry.label,
        "state": entry.state,
        "confidence": round(entry.confidence, 4),
        "flags": list(entry.flags),
    }


@dataclass(frozen=True, slots=True)
class PageRecord:
    """One page that was read; ``source`` is the file as first given."""

    id: int
    source: str
    sha256: str
    number: int
    width: int
    height: int
    added: str
    diagram_count: int
    tab_count: int
    due_count: int


@dataclass(frozen=True, slots=True)
class TabRecord(_Decided):
    """One tablature system on one page: as read, and as it stands."""

    id: int
    page_id: int
    number: int
    source: str
    sha256: str
    page: int
    reading: TabReading
    standing: TabStanding
    confidence: float
    step: int


@dataclass(frozen=True, slots=True)
class Step:
    """One decision in the history.

    Parameters
    ----------
    live : bool or None
        True in force, False undone, None where undoing means nothing (a page read, an undo).
    size : int
        Sightings and tabs that it changed.
    reverts : int or None
        The step that an undo or redo is about.
    """

    id: int
    at: str
    who: str
    action: str
    note: str
    live: bool | None
    size: int
    reverts: int | None = None


@dataclass(frozen=True, slots=True)
class PageAdded:
    """What `add_page` did; ``added`` is False for a page that the library already held."""

    page_id: int
    added: bool
    sighting_ids: tuple[int, ...]
    tab_ids: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Summary:
    """Counts over a whole library; ``flags`` counts codes on unsettled sightings."""

    pages: int
    entries: int
    sightings: int
    tabs: int
    due: int
    by_state: Mapping[str, int]
    flags: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class SpotCheck:
    """A fresh answer to one sighting, given without seeing the reading."""

    id: int
    at: str
    who: str
    sample: str
    sighting_id: int
    given: Frame
    agrees: bool


@dataclass(frozen=True, slots=True)
class CalibrationChange:
    """What a calibration did to the queue."""

    step: int
    newly_due: int
    no_longer_due: int


@dataclass(frozen=True, slots=True)
class Problem:
    """Something that `check` found wrong."""

    code: str
    detail: str


def compact(value: Any) -> str:
    """JSON without spaces."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
