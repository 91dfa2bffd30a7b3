"""Rows that come in: a page with all its readings, a sighting drawn in by hand."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Sequence
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
    source = add_source(db, sha256, page.source, [place])
    known = db.execute("SELECT id FROM page WHERE source_id = ? AND number = ?", (source, page.page)).fetchone()
    if known is not None:
        return PageAdded(known["id"], False, _ids(db, "sighting", known["id"]), _ids(db, "tab", known["id"]))
    page_id = insert_page_row(db, source, page)
    step = add_step(db, who, "read", live=None)
    diagrams = _with_crops(page.diagrams, crops[0], "diagrams")
    tabs = _with_crops(page.tabs, crops[1], "tabs")
    sighting_ids = [insert_sighting(db, step, page_id, reading, crop) for reading, crop in diagrams]
    tab_ids = [_insert_tab(db, step, page_id, tab, crop) for tab, crop in tabs]
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
    standing = Standing.of_reading(_as_stored(reading))
    if state is not None:
        standing = replace(standing, state=state)
    before = None if origin == "page" else replace(standing, state="absent")
    sighting, _ = insert_sighting_row(db, step, page_id, reading, before or standing, crop, origin, reading.confidence)
    first = None if before is None else before.to_json()
    make_changes(db, step, [Change("diagram", sighting, first, standing.to_json())])
    return sighting


def _as_stored(reading: Reading) -> Reading:
    """Through its JSON form once, so that what is compared later is what was stored."""
    return diagram_from_object(diagram_to_object(reading))


def _insert_tab(db: sqlite3.Connection, step: int, page_id: int, tab: TabReading, crop: bytes | None) -> int:
    standing = TabStanding.of_reading(tab_from_object(tab_to_object(tab)))
    tab_id = insert_tab_row(db, step, page_id, tab, standing, crop, tab.confidence)
    make_changes(db, step, [Change("tab", tab_id, None, standing.to_json())])
    return tab_id


# ---------------------------------------------------------------- one row each


def add_source(db: sqlite3.Connection, sha256: str, name: str, places: Iterable[tuple[str, str]]) -> int:
    """The file with a checksum, made known when it is new; places where it was seen are added."""
    row = db.execute("SELECT id FROM source WHERE sha256 = ?", (sha256,)).fetchone()
    source = int(row["id"]) if row is not None else _insert(db, "source", sha256=sha256, name=name)
    rows = [(source, *place) for place in places]
    db.executemany("INSERT OR IGNORE INTO place (source_id, path, beside) VALUES (?, ?, ?)", rows)
    return source


def insert_page_row(db: sqlite3.Connection, source: int, page: PageReading) -> int:
    """A page as it was read."""
    return _insert(
        db,
        "page",
        source_id=source,
        number=page.page,
        width=page.width,
        height=page.height,
        reading=compact(to_object(page)),
        added=now(),
    )


def insert_sighting_row(
    db: sqlite3.Connection,
    step: int,
    page_id: int | None,
    reading: Reading,
    standing: Standing,
    crop: bytes | None,
    origin: Origin,
    confidence: float,
) -> tuple[int, int]:
    """A sighting as it stands, without a word in the history; returns its id and that of its entry."""
    entry = find_entry(db, standing.tuning, standing.frame)
    sighting = _insert(
        db,
        "sighting",
        page_id=page_id,
        number=_next_number(db, "sighting", page_id),
        origin=origin,
        reading=compact(diagram_to_object(reading)),
        flags=_codes([f.code for f in reading.flags]),
        confidence=confidence,
        priority=0.0,
        entry_id=entry,
        state=standing.state,
        standing=standing.to_json(),
        label=standing.label,
        step_id=step,
    )
    _insert_crop(db, "diagram", sighting, crop)
    return sighting, entry


def insert_tab_row(
    db: sqlite3.Connection,
    step: int,
    page_id: int,
    tab: TabReading,
    standing: TabStanding,
    crop: bytes | None,
    confidence: float,
) -> int:
    """A tablature system as it stands, without a word in the history; returns its id."""
    tab_id = _insert(
        db,
        "tab",
        page_id=page_id,
        number=_next_number(db, "tab", page_id),
        reading=compact(tab_to_object(tab)),
        flags=_codes([f.code for f in tab.flags]),
        confidence=confidence,
        state=standing.state,
        standing=standing.to_json(),
        step_id=step,
    )
    _insert_crop(db, "tab", tab_id, crop)
    return tab_id


def _next_number(db: sqlite3.Connection, table: str, page_id: int | None) -> int:
    query = f"SELECT 1 + COALESCE(max(number), 0) FROM {table} WHERE page_id IS ?"
    return int(db.execute(query, (page_id,)).fetchone()[0])


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
