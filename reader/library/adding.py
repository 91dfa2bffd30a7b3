"""Rows that come in: a page with all its readings, a sighting drawn in by hand."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from reader.library.entry import Origin, PageAdded, Standing, State, TabStanding, compact
from reader.library.history import Change, add_step, make_changes, now
from reader.library.tally import find_entry
from reader.reading import (
    PageReading,
    Reading,
    TabReading,
    diagram_from_object,
    diagram_to_object,
    tab_from_object,
    tab_to_object,
    to_object,
)

Crops = tuple[Sequence[bytes], Sequence[bytes]]
"""Encoded pictures of the diagrams and of the tablature systems of a page; either may be empty."""


def insert_page(
    db: sqlite3.Connection, page: PageReading, sha256: str, crops: Crops, place: tuple[str, str], who: str
) -> PageAdded:
    """Add a page and all that was read of it, unless it is there already."""
    source = _find_source(db, sha256, page.source, place)
    known = db.execute("SELECT id FROM page WHERE source_id = ? AND number = ?", (source, page.page)).fetchone()
    if known is not None:
        return PageAdded(known["id"], False, _ids(db, "sighting", known["id"]), _ids(db, "tab", known["id"]))
    page_id = _insert(
        db,
        "page",
        source_id=source,
        number=page.page,
        width=page.width,
        height=page.height,
        reading=compact(to_object(page)),
        added=now(),
    )
    step = add_step(db, who, "read", live=None)
    diagrams = _with_crops(page.diagrams, crops[0], "diagrams")
    tabs = _with_crops(page.tabs, crops[1], "tabs")
    sighting_ids = [insert_sighting(db, step, page_id, reading, crop) for reading, crop in diagrams]
    tab_ids = [_insert_tab(db, step, page_id, n, tab, crop) for n, (tab, crop) in enumerate(tabs, start=1)]
    return PageAdded(page_id, True, tuple(sighting_ids), tuple(tab_ids))


def insert_sighting(
    db: sqlite3.Connection,
    step: int,
    page_id: int | None,
    reading: Reading,
    crop: bytes | None,
    *,
    origin: Origin = "page",
    state: State | None = None,
) -> int:
    """Add one sighting within a step; returns its id.

    One that a person adds starts out absent, so that undoing the step takes it away again.
    """
    data = diagram_to_object(reading)
    # Through its JSON form once, so that what is compared later is what was stored.
    standing = Standing.of_reading(diagram_from_object(data))
    if state is not None:
        standing = replace(standing, state=state)
    before = None if origin == "page" else replace(standing, state="absent")
    (number,) = db.execute(
        "SELECT 1 + COALESCE(max(number), 0) FROM sighting WHERE page_id IS ?", (page_id,)
    ).fetchone()
    sighting = _insert(
        db,
        "sighting",
        page_id=page_id,
        number=number,
        origin=origin,
        reading=compact(data),
        flags=_codes([f.code for f in reading.flags]),
        confidence=reading.confidence,
        priority=0.0,
        entry_id=find_entry(db, standing.tuning, standing.frame),
        state=(before or standing).state,
        standing=(before or standing).to_json(),
        label=standing.label,
        step_id=step,
    )
    _insert_crop(db, "diagram", sighting, crop)
    first = None if before is None else before.to_json()
    make_changes(db, step, [Change("diagram", sighting, first, standing.to_json())])
    return sighting


def _insert_tab(
    db: sqlite3.Connection, step: int, page_id: int, number: int, tab: TabReading, crop: bytes | None
) -> int:
    data = tab_to_object(tab)
    standing = TabStanding.of_reading(tab_from_object(data))
    tab_id = _insert(
        db,
        "tab",
        page_id=page_id,
        number=number,
        reading=compact(data),
        flags=_codes([f.code for f in tab.flags]),
        confidence=tab.confidence,
        state=standing.state,
        standing=standing.to_json(),
        step_id=step,
    )
    _insert_crop(db, "tab", tab_id, crop)
    make_changes(db, step, [Change("tab", tab_id, None, standing.to_json())])
    return tab_id


def _find_source(db: sqlite3.Connection, sha256: str, name: str, place: tuple[str, str]) -> int:
    row = db.execute("SELECT id FROM source WHERE sha256 = ?", (sha256,)).fetchone()
    source = int(row["id"]) if row is not None else _insert(db, "source", sha256=sha256, name=name)
    db.execute("INSERT OR IGNORE INTO place (source_id, path, beside) VALUES (?, ?, ?)", (source, *place))
    return source


def place_of(path: str | Path, library: Path) -> tuple[str, str]:
    """Where a file is: absolute, and seen from the folder of the library."""
    absolute = Path(path).absolute()
    return str(absolute), os.path.relpath(absolute, library.absolute().parent)


def _with_crops(items: Sequence[Any], crops: Sequence[bytes], what: str) -> list[tuple[Any, bytes | None]]:
    if crops and len(crops) != len(items):
        raise ValueError(f"{len(items)} {what} but {len(crops)} crops: give one for each, or none at all")
    pictures: Sequence[bytes | None] = crops or [None] * len(items)
    return list(zip(items, pictures, strict=True))


def _insert_crop(db: sqlite3.Connection, kind: str, item: int, image: bytes | None) -> None:
    if image is not None:
        _insert(db, "crop", kind=kind, item=item, image=image)


def _insert(db: sqlite3.Connection, table: str, **columns: Any) -> int:
    names, marks = ", ".join(columns), ", ".join("?" * len(columns))
    cursor = db.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", tuple(columns.values()))
    return int(cursor.lastrowid or 0)


def _ids(db: sqlite3.Connection, table: str, page_id: int) -> tuple[int, ...]:
    return tuple(row["id"] for row in db.execute(f"SELECT id FROM {table} WHERE page_id = ? ORDER BY id", (page_id,)))


def _codes(codes: Sequence[str]) -> str:
    """Codes with a space before and after each, so that a whole one can be searched for."""
    return f" {' '.join(dict.fromkeys(codes))} " if codes else ""
