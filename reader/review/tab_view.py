"""One tablature system for the templates: its picture, our reading laid over it, and the same as a table."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reader.interpret_tabs import SURE_NOTE
from reader.library.entry import TabRecord
from reader.music.tuning import tunings_with
from reader.reading import Flag, TabNote, TabReading, tab_to_object
from reader.review.tab_laying import HALF_HEIGHT, HALF_WIDTH, LaidTab, Spot, path_of, places_of
from reader.review.texts import NOTE_NAMES, Texts


@dataclass(frozen=True, slots=True)
class TabCell:
    """The place of one number: where it lies on the picture, and what stands there."""

    event: int
    string: int
    x: float
    y: float
    text: str
    unsure: bool
    words: str


@dataclass(frozen=True, slots=True)
class TabRing:
    """A place that flags point at; ``numbers`` are those of the flags in the list, from 1."""

    numbers: tuple[int, ...]
    left: float
    top: float
    width: float
    height: float


def tab_view(record: TabRecord, texts: Texts, draft: TabReading | None = None) -> dict[str, Any]:
    """A tab as it stands, or as a person is about to say."""
    tab = draft or record.standing.tab
    laid = LaidTab(tab, places_of(record.reading))
    cells = [_cell(spot, tab, texts) for spot in laid.spots()]
    strings = range(1, tab.line_count + 1)
    return {
        "record": record,
        "draft_json": json.dumps(tab_to_object(tab)),
        "changed": tab != record.standing.tab,
        "places": laid.places,
        "half_width": HALF_WIDTH * laid.places.gap,
        "half_height": HALF_HEIGHT * laid.places.gap,
        "lines": [path_of(line) for line in laid.lines()],
        "bars": [(x, laid.line_y(1, x), laid.line_y(tab.line_count, x)) for x in laid.bars],
        "signs": [(x, laid.line_y(1, x), e.text) for x, e in zip(laid.event_x, tab.events, strict=True) if e.text],
        "cells": cells,
        "rows": [[c for c in cells if c.string == string] for string in strings],
        "heads": [_line_words(string, tab, texts) for string in strings],
        "reasons": [f.detail for f in record.reading.flags],
        "rings": tab_rings(record.reading.flags, LaidTab(record.reading, laid.places)),
        "tunings": tunings_with(tab.line_count),
        "tuning": tab.tuning,
    }


def number_text(note: TabNote | None) -> str:
    """A number as a person types it."""
    if note is None:
        return ""
    bare = "x" if note.fret is None else str(note.fret)
    return f"({bare})" if note.ghost else bare


def _cell(spot: Spot, tab: TabReading, texts: Texts) -> TabCell:
    note, text = spot.note, number_text(spot.note)
    unsure = note is not None and note.confidence < SURE_NOTE
    line = _line_words(spot.string, tab, texts)
    words = texts("tab.place", group=spot.event + 1, count=len(tab.events), line=line)
    return TabCell(spot.event, spot.string, spot.x, spot.y, text, unsure, words)


def _line_words(string: int, tab: TabReading, texts: Texts) -> str:
    """A line by its number and the note of its open string."""
    tuning = next((t for t in tunings_with(tab.line_count) if t.id == tab.tuning), None)
    if tuning is None:
        return texts("tab.line", string=string)
    # the top line is string 1, the last as drawn on a diagram
    return texts("tab.line-note", string=string, note=NOTE_NAMES[tuning.pitches[tab.line_count - string] % 12])


def tab_rings(flags: Sequence[Flag], laid: LaidTab) -> list[TabRing]:
    """Where those flags point that say where."""
    gap, found = laid.places.gap, dict[tuple[int, int | None], tuple[int, ...]]()
    for number, flag in enumerate(flags, 1):
        if flag.group is not None and flag.group < len(laid.tab.events):
            key = (flag.group, flag.string)
            found[key] = (*found.get(key, ()), number)
    rings = []
    for (group, string), numbers in found.items():
        spots = [s for s in laid.spots() if s.event == group and string in (None, s.string - 1)]
        left, top = min(s.x for s in spots) - 0.9 * gap, min(s.y for s in spots) - 0.8 * gap
        width = max(s.x for s in spots) + 0.9 * gap - left
        rings.append(TabRing(numbers, left, top, width, max(s.y for s in spots) + 0.8 * gap - top))
    return rings
