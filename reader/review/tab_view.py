"""One tablature system as a table of numbers that can be changed, and the changes carried out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from reader.errors import NotationError
from reader.library.entry import TabRecord
from reader.music.shape import MAX_FRET
from reader.reading import TabNote, TabReading


@dataclass(frozen=True, slots=True)
class TabCell:
    """What one event has on one line: its text, and whether the reader was unsure of it."""

    event: int
    string: int
    text: str
    unsure: bool


UNSURE_BELOW = 0.9


def tab_view(record: TabRecord) -> dict[str, Any]:
    """A tab for the template: rows of cells, top line first."""
    tab = record.standing.tab
    rows = [[_cell(tab, event, string) for event in range(len(tab.events))] for string in range(1, tab.line_count + 1)]
    return {"record": record, "rows": rows, "reasons": [f.detail for f in record.reading.flags]}


def _cell(tab: TabReading, event: int, string: int) -> TabCell:
    note = next((n for n in tab.events[event].notes if n.string == string), None)
    if note is None:
        return TabCell(event, string, "", False)
    text = "x" if note.fret is None else str(note.fret)
    return TabCell(event, string, text, note.confidence < UNSURE_BELOW)


def changed_tab(tab: TabReading, changes: Iterable[Mapping[str, Any]]) -> TabReading:
    """The tab with some of its cells rewritten; an empty text takes the note away.

    Raises
    ------
    NotationError
        When a text is no fret.
    """
    events = list(tab.events)
    for change in changes:
        at, string, text = int(change["event"]), int(change["string"]), str(change["text"]).strip().lower()
        if not 0 <= at < len(events) or not 1 <= string <= tab.line_count:
            raise NotationError("A change lies outside this tab: load the page again.")
        notes = [n for n in events[at].notes if n.string != string]
        if text:
            notes.append(TabNote(string, _fret(text)))
        events[at] = replace(events[at], notes=tuple(sorted(notes, key=lambda n: n.string)))
    return replace(tab, events=tuple(e for e in events if e.notes))


def _fret(text: str) -> int | None:
    if text == "x":
        return None
    if not text.isascii() or not text.isdigit() or int(text) > MAX_FRET:
        raise NotationError(f"'{text}' is no fret: write 0 to {MAX_FRET}, x for a muted note, nothing for no note.")
    return int(text)
