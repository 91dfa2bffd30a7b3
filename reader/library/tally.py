"""What the sightings of an entry add up to, kept beside the entry so that searching is quick."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from typing import Any

from reader.library.entry import ENTRY_STATES, SETTLED, Standing, compact
from reader.library.facts import chord_name, facts_of, names_of
from reader.music.frame import Frame
from reader.reading import frame_to_object

_TRUST = {state: rank for rank, state in enumerate(ENTRY_STATES)}
_NOT_COUNTED = ("absent", "rejected")
_CERTAIN = ("confirmed", "corrected")

_SIGHTINGS = """
    SELECT sighting.id, sighting.state, sighting.label, sighting.flags,
           COALESCE(estimate.confidence, sighting.confidence) AS confidence,
           COALESCE(source.name, '') AS source
    FROM sighting
    LEFT JOIN page ON page.id = sighting.page_id
    LEFT JOIN source ON source.id = page.source_id
    LEFT JOIN setting ON setting.key = 'calibration'
    LEFT JOIN estimate ON estimate.sighting_id = sighting.id AND estimate.calibration_id = setting.value ->> '$'
    WHERE sighting.entry_id = ? AND sighting.state != 'absent'
    ORDER BY sighting.id
"""


def find_entry(connection: sqlite3.Connection, tuning: str, frame: Frame) -> int:
    """The entry of a shape in a tuning; made when it is not there yet."""
    shape = str(frame.shape)
    row = connection.execute("SELECT id FROM entry WHERE tuning = ? AND shape = ?", (tuning, shape)).fetchone()
    if row is not None:
        return int(row["id"])
    cursor = connection.execute(
        "INSERT INTO entry (tuning, shape, strings) VALUES (?, ?, ?)", (tuning, shape, frame.string_count)
    )
    return int(cursor.lastrowid or 0)


def refresh_entries(connection: sqlite3.Connection, entries: Iterable[int]) -> None:
    """Tally entries anew after their sightings have changed."""
    for entry in entries:
        columns = tally_entry(connection, entry)
        assignments = ", ".join(f"{column} = :{column}" for column in columns)
        connection.execute(f"UPDATE entry SET {assignments} WHERE id = :id", {**columns, "id": entry})
        _write_names(connection, entry, columns)


def tally_entry(connection: sqlite3.Connection, entry: int) -> dict[str, Any]:
    """The columns of an entry that follow from its sightings; few for one that all sightings have left."""
    found = connection.execute(_SIGHTINGS, (entry,)).fetchall()
    if not found:
        return {"state": "none", "sightings": 0, "due": 0}
    best = min(found, key=lambda r: (_TRUST[r["state"]], -r["confidence"], r["id"]))
    (text,) = connection.execute("SELECT standing FROM sighting WHERE id = ?", (best["id"],)).fetchone()
    standing = Standing.from_json(text)
    counted = [r for r in found if r["state"] not in _NOT_COUNTED]
    labels = [label for label in dict.fromkeys(r["label"] for r in [best, *counted]) if label]
    sources = [name for name in dict.fromkeys(r["source"] for r in counted) if name]
    open_flags = {code for r in counted if r["state"] not in SETTLED for code in r["flags"].split()}
    names = names_of(standing.frame.shape, standing.tuning, labels[0] if labels else None)
    facts = facts_of(standing.frame, standing.tuning)
    return {
        **{name: getattr(facts, name) for name in facts.__slots__},
        "barre": int(facts.barre),
        "name": names[0] if names else None,
        "other_names": compact(names[1:]),
        "label": labels[0] if labels else None,
        "labels": "\n".join(labels).casefold(),
        "sources": "\n".join(sources).casefold(),
        "best": best["id"],
        "frame": compact(frame_to_object(standing.frame)),
        "flags": f" {' '.join(sorted(open_flags))} " if open_flags else "",
        "state": best["state"],
        "confidence": 1.0 if best["state"] in _CERTAIN else best["confidence"],
        "sightings": len(counted),
        "due": sum(r["state"] == "unchecked" for r in counted),
    }


def refresh_confidences(connection: sqlite3.Connection) -> None:
    """Take changed confidences over into all entries; only where another sighting is now the best is more to do."""
    trust = " ".join(f"WHEN '{state}' THEN {rank}" for state, rank in _TRUST.items())
    rows = connection.execute(
        f"""
        SELECT entry.id, entry.best AS old, ranked.id AS new, ranked.confidence, ranked.state FROM (
            SELECT sighting.id, sighting.entry_id, sighting.state,
                   COALESCE(estimate.confidence, sighting.confidence) AS confidence,
                   ROW_NUMBER() OVER (
                       PARTITION BY sighting.entry_id
                       ORDER BY CASE sighting.state {trust} END,
                                COALESCE(estimate.confidence, sighting.confidence) DESC, sighting.id
                   ) AS place
            FROM sighting
            LEFT JOIN setting ON setting.key = 'calibration'
            LEFT JOIN estimate
                ON estimate.sighting_id = sighting.id AND estimate.calibration_id = setting.value ->> '$'
            WHERE sighting.state != 'absent'
        ) AS ranked JOIN entry ON entry.id = ranked.entry_id WHERE ranked.place = 1
        """
    ).fetchall()
    kept = [(r["confidence"], r["id"]) for r in rows if r["old"] == r["new"] and r["state"] not in _CERTAIN]
    connection.executemany("UPDATE entry SET confidence = ? WHERE id = ?", kept)
    refresh_entries(connection, [r["id"] for r in rows if r["old"] != r["new"]])


def _write_names(connection: sqlite3.Connection, entry: int, columns: dict[str, Any]) -> None:
    connection.execute("DELETE FROM entry_name WHERE entry_id = ?", (entry,))
    if columns.get("name") is None:
        return
    names = [columns["name"], *json.loads(columns["other_names"])]
    rows = [(entry, place, n.text, n.root, n.quality) for place, n in enumerate(map(chord_name, names)) if n]
    connection.executemany("INSERT INTO entry_name VALUES (?, ?, ?, ?, ?)", rows)
