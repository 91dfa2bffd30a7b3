"""What is about to be merged into a library, wherever it comes from: pages, what was seen on them, what was decided."""

from __future__ import annotations

import json
import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import partial
from typing import Literal

from reader.library.entry import Origin, Standing, TabStanding
from reader.library.store import Library
from reader.reading import PageReading, Reading, TabReading, diagram_from_object, from_object, tab_from_object

Key = tuple[str, int]
"""Checksum of a file and page within it."""


LoadCrop = Callable[[], bytes | None]
"""Fetches a kept picture when it is wanted: all of them at once would not fit into memory."""


def no_crop() -> None:
    """For what comes without pictures."""
    return


@dataclass(frozen=True, slots=True)
class PastStep:
    """A decision made elsewhere; equal ones are one step."""

    key: int
    at: str
    who: str
    action: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class PastChange:
    """What a decision made elsewhere did to one sighting or tab; standings in JSON."""

    step: PastStep
    before: str | None
    after: str


@dataclass(frozen=True, slots=True)
class IncomingSighting:
    """One diagram; its history ends with `standing`."""

    reading: Reading
    standing: Standing
    origin: Origin
    confidence: float
    history: tuple[PastChange, ...]
    load_crop: LoadCrop = field(default=no_crop, repr=False)


@dataclass(frozen=True, slots=True)
class IncomingTab:
    """One tablature system; its history ends with `standing`."""

    reading: TabReading
    standing: TabStanding
    confidence: float
    history: tuple[PastChange, ...]
    load_crop: LoadCrop = field(default=no_crop, repr=False)


@dataclass(frozen=True, slots=True)
class IncomingPage:
    """One page with all that was seen on it; ``places`` are pairs as in the table of places."""

    reading: PageReading
    sha256: str
    sightings: tuple[IncomingSighting, ...] = ()
    tabs: tuple[IncomingTab, ...] = ()
    places: tuple[tuple[str, str], ...] = ()

    @property
    def key(self) -> Key:
        """By what it is known everywhere."""
        return self.sha256, self.reading.page


@dataclass(frozen=True, slots=True)
class Incoming:
    """Pages, and shapes that were seen on none; ``origin`` is what messages call it."""

    origin: str
    pages: tuple[IncomingPage, ...] = ()
    loose: tuple[IncomingSighting, ...] = ()


def incoming_from_library(other: Library) -> Incoming:
    """Everything in another library, with its history; spot checks, settings and calibrations stay behind."""
    with other.looking() as db:
        histories = _histories(db)
        sightings = defaultdict(list)
        for row in db.execute("SELECT * FROM sighting ORDER BY page_id, number, id"):
            found = _sighting(row, histories["diagram", row["id"]], partial(other.crop, row["id"]))
            sightings[row["page_id"]].append(found)
        tabs = defaultdict(list)
        for row in db.execute("SELECT * FROM tab ORDER BY page_id, number, id"):
            tabs[row["page_id"]].append(_tab(row, histories["tab", row["id"]], partial(other.tab_crop, row["id"])))
        pages = [
            IncomingPage(
                reading=from_object(json.loads(row["reading"])),
                sha256=row["sha256"],
                sightings=tuple(sightings[row["id"]]),
                tabs=tuple(tabs[row["id"]]),
                places=_places(db, row["source_id"]),
            )
            for row in db.execute(
                "SELECT page.*, sha256 FROM page JOIN source ON source.id = source_id ORDER BY source_id, number"
            )
        ]
    return Incoming(str(other.path), tuple(pages), tuple(sightings[None]))


def _histories(db: sqlite3.Connection) -> defaultdict[tuple[Literal["diagram", "tab"], int], tuple[PastChange, ...]]:
    found: defaultdict[tuple[Literal["diagram", "tab"], int], tuple[PastChange, ...]] = defaultdict(tuple)
    rows = db.execute(
        "SELECT kind, item, before, after, step.* FROM change JOIN step ON step.id = step_id "
        "WHERE kind IN ('diagram', 'tab') ORDER BY step_id"
    )
    for row in rows:
        step = PastStep(row["id"], row["at"], row["who"], row["action"], row["note"])
        found[row["kind"], row["item"]] += (PastChange(step, row["before"], row["after"]),)
    return found


def _sighting(row: sqlite3.Row, history: Iterable[PastChange], load_crop: LoadCrop) -> IncomingSighting:
    return IncomingSighting(
        reading=diagram_from_object(json.loads(row["reading"])),
        standing=Standing.from_json(row["standing"]),
        origin=row["origin"],
        confidence=row["confidence"],
        history=tuple(history),
        load_crop=load_crop,
    )


def _tab(row: sqlite3.Row, history: Iterable[PastChange], load_crop: LoadCrop) -> IncomingTab:
    return IncomingTab(
        reading=tab_from_object(json.loads(row["reading"])),
        standing=TabStanding.from_json(row["standing"]),
        confidence=row["confidence"],
        history=tuple(history),
        load_crop=load_crop,
    )


def _places(db: sqlite3.Connection, source: int) -> tuple[tuple[str, str], ...]:
    rows = db.execute("SELECT path, beside FROM place WHERE source_id = ? ORDER BY path", (source,))
    return tuple((row["path"], row["beside"]) for row in rows)
