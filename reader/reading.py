"""All that was seen on a page, and its JSON form (one page, one line)."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from reader.music.frame import Barre, Finger, Frame

Corners = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Flag:
    """A reason for a person to look.

    Parameters
    ----------
    code : str
        Short and stable, for programs: ``first-fret-unread``.
    detail : str
        One sentence that tells what to look at.
    string, fret : int, optional
        Where on the diagram: string as drawn (0 is leftmost), fret counted from the nut. On a tab string 0 is the
        top line.
    group : int, optional
        On a tab: which of its events, 0 is the first.
    """

    code: str
    detail: str
    string: int | None = None
    fret: int | None = None
    group: int | None = None


@dataclass(frozen=True, slots=True)
class Alternative:
    """Another reading of the same ink, with its probability and what speaks for it."""

    frame: Frame
    probability: float
    reason: str


@dataclass(frozen=True, slots=True)
class Reading:
    """One chord diagram as read.

    Parameters
    ----------
    corners : four (x, y), page pixels
        Nut end of the leftmost string, nut end of the rightmost string, far
        end of the rightmost, far end of the leftmost.
    frame : Frame
    label : str or None
        As written, in plain characters.
    name : str or None
        From the pitch classes alone.
    other_names : tuple of str
        Further names of the same pitch classes, best first.
    tuning : str
        Id of the tuning that the pitches were computed with.
    confidence : float
        Calibrated probability that all frets are right.
    flags : tuple of Flag
        Empty means accepted without review.
    alternatives : tuple of Alternative
        Best first.
    evidence : dict of str to float
        What the confidence was computed from.
    label_at : four (x, y), page pixels
        Where the label stands; empty where that is not known.
    """

    corners: Corners
    frame: Frame
    label: str | None
    name: str | None
    other_names: tuple[str, ...]
    tuning: str
    confidence: float
    flags: tuple[Flag, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    evidence: dict[str, float] = field(default_factory=dict)
    label_at: Corners = ()

    @property
    def accepted(self) -> bool:
        """Whether nobody needs to look."""
        return not self.flags


@dataclass(frozen=True, slots=True)
class TabNote:
    """One number on one line: string 1 is the top line; fret None is a muted note; a ghost note stands in brackets.

    ``at`` is its middle in page pixels, None where that is not known.
    """

    string: int
    fret: int | None
    confidence: float = 1.0
    ghost: bool = False
    at: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class TabEvent:
    """Notes struck together, at ``x`` page pixels, with the text that stands at it."""

    x: float
    notes: tuple[TabNote, ...]
    text: str | None = None


@dataclass(frozen=True, slots=True)
class TabReading:
    """One tablature system as read; corners are top left, top right, bottom right, bottom left.

    ``bar_kinds`` says for each bar line whether it is single, double, final, repeat-start or repeat-end; empty where
    that is not known. Places along a system (``x`` of events, bar lines) are page columns; where it runs up or
    down the page they are page rows.
    """

    corners: Corners
    line_count: int
    events: tuple[TabEvent, ...]
    bar_lines: tuple[float, ...]
    tuning: str
    confidence: float
    flags: tuple[Flag, ...] = ()
    bar_kinds: tuple[str, ...] = ()
    evidence: dict[str, float] = field(default_factory=dict)

    @property
    def accepted(self) -> bool:
        """Whether nobody needs to look."""
        return not self.flags

    @property
    def axis(self) -> int:
        """Which page coordinate tells a place along the system: 0 its column, 1 its row."""
        (x0, y0), (x1, y1) = self.corners[:2]
        return int(abs(y1 - y0) > abs(x1 - x0))

    def part(self, x: float) -> float:
        """How much of the system lies before a place along it, 0 to 1."""
        a, b, c, d = (corner[self.axis] for corner in self.corners)
        start, end = (a + d) / 2, (b + c) / 2
        return (x - start) / (end - start) if end != start else 0.5


@dataclass(frozen=True, slots=True)
class PageReading:
    """One page as read: one line of the JSON Lines form."""

    source: str
    page: int
    width: int
    height: int
    diagrams: tuple[Reading, ...] = ()
    tabs: tuple[TabReading, ...] = ()
    error: str | None = None

    def with_source(self, source: str) -> PageReading:
        """The same page under another file name."""
        return replace(self, source=source)


# ---------------------------------------------------------------- to JSON


def to_object(page: PageReading) -> dict[str, Any]:
    """A page as plain lists and dictionaries, ready for ``json.dumps``."""
    out: dict[str, Any] = {
        "source": page.source,
        "page": page.page,
        "width": page.width,
        "height": page.height,
        "diagrams": [diagram_to_object(d) for d in page.diagrams],
        "tabs": [tab_to_object(t) for t in page.tabs],
    }
    if page.error is not None:
        out["error"] = page.error
    return out


def diagram_to_object(reading: Reading) -> dict[str, Any]:
    """One diagram as plain lists and dictionaries."""
    out = {
        "corners": _points(reading.corners),
        **frame_to_object(reading.frame),
        "label": reading.label,
        "name": reading.name,
        "other_names": list(reading.other_names),
        "tuning": reading.tuning,
        "confidence": round(reading.confidence, 4),
        "flags": [_flag_to_object(f) for f in reading.flags],
        "alternatives": [
            {**frame_to_object(a.frame), "probability": round(a.probability, 4), "reason": a.reason}
            for a in reading.alternatives
        ],
        "evidence": {k: round(v, 4) for k, v in reading.evidence.items()},
    }
    if reading.label_at:
        out["label_at"] = _points(reading.label_at)
    return out


def tab_to_object(tab: TabReading) -> dict[str, Any]:
    """One tablature system as plain lists and dictionaries."""
    out = {
        "corners": _points(tab.corners),
        "line_count": tab.line_count,
        "events": [_event_to_object(e) for e in tab.events],
        "bar_lines": [round(x, 1) for x in tab.bar_lines],
        "tuning": tab.tuning,
        "confidence": round(tab.confidence, 4),
        "flags": [_flag_to_object(f) for f in tab.flags],
    }
    if tab.bar_kinds:
        out["bar_kinds"] = list(tab.bar_kinds)
    if tab.evidence:
        out["evidence"] = {k: round(v, 4) for k, v in tab.evidence.items()}
    return out


def to_line(page: PageReading) -> str:
    """A page as one line of JSON, without the line break."""
    return json.dumps(to_object(page), ensure_ascii=False, separators=(", ", ": "))


def _points(corners: Corners) -> list[list[float]]:
    return [[round(float(x), 1), round(float(y), 1)] for x, y in corners]


def frame_to_object(frame: Frame) -> dict[str, Any]:
    """A frame in the words of the reading form."""
    return {
        "string_count": frame.string_count,
        "fret_count": frame.fret_count,
        "first_fret": frame.first_fret,
        "frets": list(frame.frets),
        "fingers": list(frame.fingers),
        "barres": [{"fret": b.fret, "from_string": b.from_string, "to_string": b.to_string} for b in frame.barres],
    }


def _flag_to_object(flag: Flag) -> dict[str, Any]:
    out: dict[str, Any] = {"code": flag.code, "detail": flag.detail}
    if flag.string is not None:
        out["string"] = flag.string
    if flag.fret is not None:
        out["fret"] = flag.fret
    if flag.group is not None:
        out["group"] = flag.group
    return out


def _tab_note_to_object(note: TabNote) -> dict[str, Any]:
    out: dict[str, Any] = {"string": note.string, "fret": note.fret, "confidence": round(note.confidence, 4)}
    if note.ghost:
        out["ghost"] = True
    if note.at is not None:
        out["at"] = [round(v, 1) for v in note.at]
    return out


def _event_to_object(event: TabEvent) -> dict[str, Any]:
    out: dict[str, Any] = {
        "x": round(event.x, 1),
        "notes": [_tab_note_to_object(n) for n in event.notes],
    }
    if event.text is not None:
        out["text"] = event.text
    return out


# ---------------------------------------------------------------- from JSON


def from_object(data: dict[str, Any]) -> PageReading:
    """A page from its JSON form; fields that may be missing in a truth file get their empty value."""
    return PageReading(
        source=str(data["source"]),
        page=int(data.get("page", 1)),
        width=int(data["width"]),
        height=int(data["height"]),
        diagrams=tuple(diagram_from_object(d) for d in data.get("diagrams", ())),
        tabs=tuple(tab_from_object(t) for t in data.get("tabs", ())),
        error=data.get("error"),
    )


def diagram_from_object(data: dict[str, Any]) -> Reading:
    """One diagram from its JSON form."""
    return Reading(
        corners=_corners(data["corners"]),
        frame=frame_from_object(data),
        label=data.get("label"),
        name=data.get("name"),
        other_names=tuple(data.get("other_names", ())),
        tuning=data.get("tuning", ""),
        confidence=float(data.get("confidence", 1.0)),
        flags=_flags(data),
        alternatives=tuple(
            Alternative(frame_from_object(a), float(a["probability"]), str(a["reason"]))
            for a in data.get("alternatives", ())
        ),
        evidence={str(k): float(v) for k, v in data.get("evidence", {}).items()},
        label_at=_corners(data.get("label_at", [])),
    )


def tab_from_object(data: dict[str, Any]) -> TabReading:
    """One tablature system from its JSON form."""
    return TabReading(
        corners=_corners(data["corners"]),
        line_count=int(data["line_count"]),
        events=tuple(
            TabEvent(
                x=float(e["x"]),
                notes=tuple(_tab_note_from_object(n) for n in e["notes"]),
                text=e.get("text"),
            )
            for e in data.get("events", ())
        ),
        bar_lines=tuple(float(x) for x in data.get("bar_lines", ())),
        tuning=data.get("tuning", ""),
        confidence=float(data.get("confidence", 1.0)),
        flags=_flags(data),
        bar_kinds=tuple(str(k) for k in data.get("bar_kinds", ())),
        evidence={str(k): float(v) for k, v in data.get("evidence", {}).items()},
    )


def _tab_note_from_object(data: dict[str, Any]) -> TabNote:
    fret, at = data["fret"], data.get("at")
    return TabNote(
        int(data["string"]),
        None if fret is None else int(fret),
        float(data.get("confidence", 1.0)),
        bool(data.get("ghost", False)),
        None if at is None else (float(at[0]), float(at[1])),
    )


def read_lines(lines: Iterable[str]) -> Iterator[PageReading]:
    """Pages from JSON Lines; blank lines are skipped."""
    for line in lines:
        if line.strip():
            yield from_object(json.loads(line))


def _corners(data: list[list[float]]) -> Corners:
    return tuple((float(x), float(y)) for x, y in data)


def _flags(data: dict[str, Any]) -> tuple[Flag, ...]:
    return tuple(
        Flag(f["code"], f["detail"], f.get("string"), f.get("fret"), f.get("group")) for f in data.get("flags", ())
    )


def frame_from_object(data: dict[str, Any]) -> Frame:
    """A frame from the words of the reading form."""
    fingers: list[Finger] = list(data.get("fingers") or [None] * len(data["frets"]))
    return Frame(
        frets=tuple(data["frets"]),
        fingers=tuple(fingers),
        fret_count=int(data["fret_count"]),
        first_fret=int(data.get("first_fret", 1)),
        barres=tuple(Barre(int(b["fret"]), int(b["from_string"]), int(b["to_string"])) for b in data.get("barres", ())),
    )
