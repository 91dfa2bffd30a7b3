"""Rows of a library file as values, and the SELECTs that fetch them."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from reader.library.entry import (
    Entry,
    Facts,
    Outcome,
    PageRecord,
    Sighting,
    SpotCheck,
    Standing,
    State,
    TabRecord,
    TabStanding,
)
from reader.music.shape import Shape
from reader.reading import diagram_from_object, frame_from_object, tab_from_object

Order = Literal["page", "priority", "recent"]

_ORDERS: dict[Order, str] = {
    "page": "sighting.page_id, sighting.number, sighting.id",
    "priority": "sighting.priority + 1.0 - COALESCE(estimate.confidence, sighting.confidence) DESC, sighting.id",
    "recent": "sighting.step_id DESC, sighting.id DESC",
}

_SIGHTING = """
    SELECT sighting.*, source.name AS source, source.sha256 AS sha256, page.number AS page,
           COALESCE(estimate.confidence, sighting.confidence) AS confidence_now,
           sighting.priority + 1.0 - COALESCE(estimate.confidence, sighting.confidence) AS priority_now,
           step.at AS changed, step.who AS changed_by
    FROM sighting
    JOIN step ON step.id = sighting.step_id
    LEFT JOIN page ON page.id = sighting.page_id
    LEFT JOIN source ON source.id = page.source_id
    LEFT JOIN setting ON setting.key = 'calibration'
    LEFT JOIN estimate ON estimate.sighting_id = sighting.id AND estimate.calibration_id = setting.value ->> '$'
"""

_FILES = " LEFT JOIN page ON page.id = sighting.page_id LEFT JOIN source ON source.id = page.source_id"
_ESTIMATES = (
    " LEFT JOIN setting ON setting.key = 'calibration' LEFT JOIN estimate"
    " ON estimate.sighting_id = sighting.id AND estimate.calibration_id = setting.value ->> '$'"
)

_PAGE = """
    SELECT page.id, page.number, page.width, page.height, page.added, source.name AS source, source.sha256,
           (SELECT count(*) FROM sighting WHERE page_id = page.id AND state NOT IN ('absent', 'rejected')) AS diagrams,
           (SELECT count(*) FROM tab WHERE page_id = page.id AND state NOT IN ('absent', 'rejected')) AS tabs,
           (SELECT count(*) FROM sighting WHERE page_id = page.id AND state = 'unchecked')
         + (SELECT count(*) FROM tab WHERE page_id = page.id AND state = 'unchecked') AS due
    FROM page JOIN source ON source.id = page.source_id
"""

_TAB = """
    SELECT tab.*, source.name AS source, source.sha256 AS sha256, page.number AS page
    FROM tab JOIN page ON page.id = tab.page_id JOIN source ON source.id = page.source_id
"""


@dataclass(frozen=True, slots=True)
class SightingQuery:
    """Which sightings, in which order.

    Parameters
    ----------
    ids, entry, page : ids
        None for any.
    states : tuple of State
        Empty for all but absent ones.
    flag : str
        Code of a flag that the reading bears.
    source, label : str
        Part of the file name; of the label as it stands. Capitals do not matter.
    order : {'page', 'priority', 'recent'}
    limit : int or None
    offset : int
        Counts only with a limit.
    """

    ids: tuple[int, ...] | None = None
    entry: int | None = None
    page: int | None = None
    states: tuple[State, ...] = ()
    flag: str | None = None
    source: str | None = None
    label: str | None = None
    order: Order = "page"
    limit: int | None = None
    offset: int = 0

    def where(self) -> tuple[str, list[Any]]:
        """As the condition of a SELECT, with its values."""
        parts: list[tuple[str, list[Any]]] = [("sighting.state != 'absent'", [])]
        if self.ids is not None:
            parts.append((f"sighting.id IN ({marks(self.ids)})", list(self.ids)))
        if self.states:
            parts.append((f"sighting.state IN ({marks(self.states)})", list(self.states)))
        simple: dict[str, Any] = {
            "sighting.entry_id = ?": self.entry,
            "sighting.page_id = ?": self.page,
            "instr(sighting.flags, ?)": None if self.flag is None else f" {self.flag} ",
            "instr(lower(source.name), ?)": None if self.source is None else self.source.lower(),
            "instr(lower(sighting.label), ?)": None if self.label is None else self.label.lower(),
        }
        parts += [(condition, [value]) for condition, value in simple.items() if value is not None]
        return " AND ".join(p for p, _ in parts), [v for _, values in parts for v in values]


def marks(values: Sequence[Any]) -> str:
    """One question mark per value."""
    return ", ".join("?" * len(values))


def select_sightings(connection: sqlite3.Connection, query: SightingQuery) -> list[Sighting]:
    """Sightings of a query."""
    where, values = query.where()
    order = _ORDERS[query.order]
    if query.limit is not None:
        # sorting and skipping go over numbers alone: whole readings are wide
        tables = _joined(query) + (_ESTIMATES if query.order == "priority" else "")
        where = f"sighting.id IN (SELECT sighting.id FROM {tables} WHERE {where} ORDER BY {order} LIMIT ? OFFSET ?)"
        values += [query.limit, query.offset]
    return [to_sighting(row) for row in connection.execute(f"{_SIGHTING} WHERE {where} ORDER BY {order}", values)]


def count_sightings(connection: sqlite3.Connection, query: SightingQuery) -> int:
    """How many sightings a query has, its limit aside."""
    where, values = query.where()
    (count,) = connection.execute(f"SELECT count(*) FROM {_joined(query)} WHERE {where}", values).fetchone()
    return int(count)


def _joined(query: SightingQuery) -> str:
    """The tables that the condition of a query needs."""
    return "sighting" + (_FILES if query.source is not None else "")


def select_pages(connection: sqlite3.Connection, where: str = "1", values: Sequence[Any] = ()) -> list[PageRecord]:
    """Pages under a condition, in the order in which their files came in."""
    rows = connection.execute(f"{_PAGE} WHERE {where} ORDER BY page.source_id, page.number", values)
    return [to_page(row) for row in rows]


def select_tabs(connection: sqlite3.Connection, where: str = "1", values: Sequence[Any] = ()) -> list[TabRecord]:
    """Tablature systems under a condition, page by page."""
    rows = connection.execute(f"{_TAB} WHERE {where} ORDER BY tab.page_id, tab.number, tab.id", values)
    return [to_tab(row) for row in rows]


def to_sighting(row: sqlite3.Row) -> Sighting:
    """One row of `select_sightings`."""
    return Sighting(
        id=row["id"],
        entry_id=row["entry_id"],
        page_id=row["page_id"],
        number=row["number"],
        source=row["source"] or "",
        sha256=row["sha256"] or "",
        page=row["page"] or 0,
        origin=row["origin"],
        reading=diagram_from_object(json.loads(row["reading"])),
        standing=Standing.from_json(row["standing"]),
        confidence=row["confidence_now"],
        priority=row["priority_now"],
        step=row["step_id"],
        changed=row["changed"],
        changed_by=row["changed_by"],
    )


def to_outcome(row: sqlite3.Row) -> Outcome:
    """One row of what became of the sightings."""
    right = None if row["right"] is None else bool(row["right"])
    return Outcome(row["id"], row["state"], row["origin"], row["confidence"], tuple(row["flags"].split()), right)


def to_page(row: sqlite3.Row) -> PageRecord:
    """One row of `select_pages`."""
    return PageRecord(
        id=row["id"],
        source=row["source"],
        sha256=row["sha256"],
        number=row["number"],
        width=row["width"],
        height=row["height"],
        added=row["added"],
        diagram_count=row["diagrams"],
        tab_count=row["tabs"],
        due_count=row["due"],
    )


def to_tab(row: sqlite3.Row) -> TabRecord:
    """One row of `select_tabs`."""
    return TabRecord(
        id=row["id"],
        page_id=row["page_id"],
        number=row["number"],
        source=row["source"],
        sha256=row["sha256"],
        page=row["page"],
        reading=tab_from_object(json.loads(row["reading"])),
        standing=TabStanding.from_json(row["standing"]),
        confidence=row["confidence"],
        step=row["step_id"],
    )


def to_entry(row: sqlite3.Row) -> Entry:
    """One row of the entry table."""
    facts = {name: row[name] for name in Facts.__slots__}
    return Entry(
        id=row["id"],
        tuning=row["tuning"],
        shape=Shape.parse(row["shape"]),
        frame=frame_from_object(json.loads(row["frame"])),
        name=row["name"],
        other_names=tuple(json.loads(row["other_names"])),
        label=row["label"],
        state=row["state"],
        confidence=row["confidence"],
        flags=tuple(row["flags"].split()),
        sighting_count=row["sightings"],
        due_count=row["due"],
        facts=Facts(**{**facts, "barre": bool(facts["barre"])}),
    )


def to_spot_check(row: sqlite3.Row) -> SpotCheck:
    """One row of the spot check table."""
    return SpotCheck(
        id=row["id"],
        at=row["at"],
        who=row["who"],
        sample=row["sample"],
        sighting_id=row["sighting_id"],
        given=frame_from_object(json.loads(row["given"])),
        agrees=bool(row["agrees"]),
    )
