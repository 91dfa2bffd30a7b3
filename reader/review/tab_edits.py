"""Changes of one tab, as values: a tab and an edit give a new tab."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any, Literal

from reader.errors import NotationError
from reader.music.tab import FEWEST_LINES, HIGHEST_FRET, MOST_LINES
from reader.music.tuning import default_tuning, get_tuning
from reader.reading import TabEvent, TabNote, TabReading, tab_from_object
from reader.review.edits import carry_out

Edge = Literal["top", "bottom"]


def tab_from(data: Mapping[str, Any]) -> TabReading:
    """A tab as the page sent it back.

    Raises
    ------
    NotationError
        When it is no tab.
    """
    try:
        tab = tab_from_object(dict(data))
    except (KeyError, TypeError, ValueError, AttributeError, IndexError) as error:
        raise NotationError(f"The tab sent is not complete ({error}): load the page again.") from None
    frets = [n.fret for e in tab.events for n in e.notes if n.fret is not None]
    strings = [n.string for e in tab.events for n in e.notes]
    if len(tab.corners) != 4 or not all(0 <= f <= HIGHEST_FRET for f in frets):
        raise NotationError(f"The tab sent has no four corners, or frets outside 0 to {HIGHEST_FRET}.")
    if not FEWEST_LINES <= tab.line_count <= MOST_LINES or not all(1 <= s <= tab.line_count for s in strings):
        raise NotationError(f"The tab sent has numbers beside its lines, or not {FEWEST_LINES} to {MOST_LINES} lines.")
    return tab


def without_empty(tab: TabReading) -> TabReading:
    """The tab without events that no note is left in."""
    return replace(tab, events=tuple(e for e in tab.events if e.notes))


# ---------------------------------------------------------------- numbers


def set_number(tab: TabReading, event: int, string: int, text: str) -> TabReading:
    """The number at one place: a fret, x for a muted note, nothing to take it away; brackets make a ghost note."""
    stood = note_at(tab, event, string)
    bare = text.strip().lower()
    ghost = bare.startswith("(") and bare.endswith(")")
    bare = bare.strip("() ")
    if not bare:
        return _with_note(tab, event, string, None)
    at = stood.at if stood is not None else None
    return _with_note(tab, event, string, TabNote(string, _fret(bare), ghost=ghost, at=at))


def toggle_ghost(tab: TabReading, event: int, string: int) -> TabReading:
    """A number into brackets, or out of them."""
    note = note_at(tab, event, string)
    if note is None:
        raise NotationError("No number stands here to put in brackets.")
    return _with_note(tab, event, string, replace(note, ghost=not note.ghost))


def add_event(tab: TabReading, x: float) -> TabReading:
    """Room for numbers that were missed, at a page column."""
    events = sorted((*tab.events, TabEvent(float(x), ())), key=lambda e: tab.part(e.x))
    return replace(tab, events=tuple(events))


def note_at(tab: TabReading, event: int, string: int) -> TabNote | None:
    """The note at one place.

    Raises
    ------
    NotationError
        When the tab has no such place.
    """
    if not 0 <= event < len(tab.events) or not 1 <= string <= tab.line_count:
        raise NotationError("This place lies outside the tab: load the page again.")
    return next((n for n in tab.events[event].notes if n.string == string), None)


def _with_note(tab: TabReading, event: int, string: int, note: TabNote | None) -> TabReading:
    stood = note_at(tab, event, string)
    if note is not None and stood is not None and (stood.fret, stood.ghost) == (note.fret, note.ghost):
        return tab
    notes = [n for n in tab.events[event].notes if n.string != string]
    notes += [] if note is None else [note]
    changed = replace(tab.events[event], notes=tuple(sorted(notes, key=lambda n: n.string)))
    return replace(tab, events=(*tab.events[:event], changed, *tab.events[event + 1 :]))


def _fret(text: str) -> int | None:
    if text == "x":
        return None
    if not text.isascii() or not text.isdigit() or int(text) > HIGHEST_FRET:
        raise NotationError(f"'{text}' is no fret: write 0 to {HIGHEST_FRET}, x for a muted note, nothing for no note.")
    return int(text)


# ---------------------------------------------------------------- lines


def add_line(tab: TabReading, edge: Edge) -> TabReading:
    """One line more above the top line or below the bottom one, where the page has it."""
    if tab.line_count >= MOST_LINES:
        raise NotationError(f"A tab has at most {MOST_LINES} lines.")
    return _with_lines(tab, edge, 1)


def drop_line(tab: TabReading, edge: Edge) -> TabReading:
    """The top or the bottom line was none."""
    if tab.line_count <= FEWEST_LINES:
        raise NotationError(f"A tab has at least {FEWEST_LINES} lines.")
    line = 1 if edge == "top" else tab.line_count
    if any(n.string == line for e in tab.events for n in e.notes):
        raise NotationError(f"Numbers stand on line {line}: take them away first.")
    return _with_lines(tab, edge, -1)


def _with_lines(tab: TabReading, edge: Edge, more: int) -> TabReading:
    a, b, c, d = tab.corners
    share = more / (tab.line_count - 1)
    if edge == "top":
        a, b = _beyond(d, a, share), _beyond(c, b, share)
    else:
        d, c = _beyond(a, d, share), _beyond(b, c, share)
    shift = more if edge == "top" else 0
    events = tuple(replace(e, notes=tuple(replace(n, string=n.string + shift) for n in e.notes)) for e in tab.events)
    count = tab.line_count + more
    return replace(tab, corners=(a, b, c, d), events=events, line_count=count, tuning=_fitting(tab.tuning, count))


def _beyond(start: tuple[float, float], end: tuple[float, float], share: float) -> tuple[float, float]:
    return end[0] + (end[0] - start[0]) * share, end[1] + (end[1] - start[1]) * share


def _fitting(tuning: str, count: int) -> str:
    """The tuning where it has so many strings, else the usual one, else none."""
    try:
        return tuning if tuning and get_tuning(tuning).string_count == count else default_tuning(count).id
    except NotationError:
        return ""


def set_tuning(tab: TabReading, text: str) -> TabReading:
    """Another tuning, by its id, name or notes."""
    tuning = get_tuning(text)
    if tuning.string_count != tab.line_count:
        raise NotationError(f"{tuning.name} has {tuning.string_count} strings, this tab has {tab.line_count} lines.")
    return replace(tab, tuning=tuning.id)


EDITS: dict[str, Callable[..., TabReading]] = {
    "number": set_number,
    "ghost": toggle_ghost,
    "event": add_event,
    "add-line": add_line,
    "drop-line": drop_line,
    "tuning": set_tuning,
}
"""What the page may ask for; each takes the tab and the values named in its signature."""


def apply_edit(tab: TabReading, name: str, values: Mapping[str, Any]) -> TabReading:
    """Carry out one edit.

    Raises
    ------
    NotationError
        When there is no such edit, or it makes no tab.
    """
    return carry_out(EDITS, tab, name, values)
