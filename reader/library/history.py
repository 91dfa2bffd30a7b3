"""Every decision as a step that can be undone: who, when, and each thing before and after.

    step      read    correct   reject   undo     redo     confirm
    live      NULL    1         1 → 0    NULL     NULL     1          (0 → -1 once a new decision overtakes it)

Steps are only ever added. Undo applies the `before` of the last step in force and
is itself written down; so is redo; `restore` leads back to any moment, also one
that lies on a branch that was undone and overtaken.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

from reader.errors import LibraryError
from reader.library.entry import Standing, Step, TabStanding
from reader.library.tally import find_entry, refresh_confidences, refresh_entries

Kind = Literal["diagram", "tab", "calibration"]

CALIBRATION_KEY = "calibration"
"""The setting that holds the number of the calibration in force."""

_STEP_COLUMNS = """
    SELECT step.*, (SELECT count(*) FROM change WHERE change.step_id = step.id) AS size FROM step
"""


class StaleError(LibraryError):
    """Somebody else decided on the same reading in the meantime."""


@dataclass(frozen=True, slots=True)
class Change:
    """What a step does to one thing; `before` and `after` are JSON, None where there was or is nothing."""

    kind: Kind
    item: int
    before: str | None
    after: str | None


def now() -> str:
    """This moment in UTC, ISO 8601, to the millisecond."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def add_step(
    connection: sqlite3.Connection,
    who: str,
    action: str,
    note: str = "",
    live: bool | None = True,
    reverts: int | None = None,
) -> int:
    """Open a step; a live one overtakes whatever was undone before it."""
    if live:
        connection.execute("UPDATE step SET live = -1 WHERE live = 0")
    cursor = connection.execute(
        "INSERT INTO step (at, who, action, note, reverts, live) VALUES (?, ?, ?, ?, ?, ?)",
        (now(), who, action, note, reverts, None if live is None else int(live)),
    )
    return int(cursor.lastrowid or 0)


def add_past_step(connection: sqlite3.Connection, at: str, who: str, action: str, note: str) -> int:
    """A step that was taken elsewhere, at its own time; it cannot be undone here."""
    cursor = connection.execute(
        "INSERT INTO step (at, who, action, note, live) VALUES (?, ?, ?, ?, NULL)", (at, who, action, note)
    )
    return int(cursor.lastrowid or 0)


def make_changes(connection: sqlite3.Connection, step: int, changes: Iterable[Change]) -> None:
    """Carry changes out and write them down.

    A second change of the same thing within one step keeps the first `before`.
    """
    touched: set[int] = set()
    for change in changes:
        connection.execute(
            "INSERT INTO change (step_id, kind, item, before, after) VALUES (?, ?, ?, ?, ?) "
            "ON CONFLICT DO UPDATE SET after = excluded.after",
            (step, change.kind, change.item, change.before, change.after),
        )
        touched |= _carry_out(connection, step, change)
    refresh_entries(connection, touched)


def _carry_out(connection: sqlite3.Connection, step: int, change: Change) -> set[int]:
    """Put one thing into its new state; returns the entries that need a new tally."""
    if change.kind == "calibration":
        connection.execute(
            "INSERT INTO setting (key, value) VALUES (?, ?) ON CONFLICT DO UPDATE SET value = excluded.value",
            (CALIBRATION_KEY, change.after or "null"),
        )
        refresh_confidences(connection)
        return set()
    if change.after is None:
        raise ValueError(f"change of {change.kind} {change.item} in step {step} leads nowhere")
    if change.kind == "tab":
        state = TabStanding.from_json(change.after).state
        connection.execute(
            "UPDATE tab SET state = ?, standing = ?, step_id = ? WHERE id = ?", (state, change.after, step, change.item)
        )
        return set()
    standing = Standing.from_json(change.after)
    (before,) = connection.execute("SELECT entry_id FROM sighting WHERE id = ?", (change.item,)).fetchone()
    entry = find_entry(connection, standing.tuning, standing.frame)
    connection.execute(
        "UPDATE sighting SET state = ?, standing = ?, label = ?, entry_id = ?, step_id = ? WHERE id = ?",
        (standing.state, change.after, standing.label, entry, step, change.item),
    )
    return {entry} | ({before} if before is not None else set())


# ---------------------------------------------------------------- back and forth


def undo(connection: sqlite3.Connection, who: str) -> int | None:
    """Take back the last decision in force; returns the step that was taken back."""
    return _reverse(connection, who, "undo")


def redo(connection: sqlite3.Connection, who: str) -> int | None:
    """Put the decision last taken back in force again; returns that step."""
    return _reverse(connection, who, "redo")


def _reverse(connection: sqlite3.Connection, who: str, action: Literal["undo", "redo"]) -> int | None:
    step = next_undo(connection) if action == "undo" else next_redo(connection)
    if step is None:
        return None
    wanted = "before" if action == "undo" else "after"
    rows = connection.execute(
        f"SELECT kind, item, before, {wanted} AS wanted FROM change WHERE step_id = ?", (step,)
    ).fetchall()
    own = add_step(connection, who, action, live=None, reverts=step)
    changes = [Change(r["kind"], r["item"], _current(connection, r["kind"], r["item"]), r["wanted"]) for r in rows]
    make_changes(connection, own, changes)
    connection.execute("UPDATE step SET live = ? WHERE id = ?", (int(action == "redo"), step))
    return step


def next_undo(connection: sqlite3.Connection) -> int | None:
    """The step that undo would take back."""
    (step,) = connection.execute("SELECT max(id) FROM step WHERE live = 1").fetchone()
    return None if step is None else int(step)


def next_redo(connection: sqlite3.Connection) -> int | None:
    """The step that redo would put in force again."""
    (step,) = connection.execute("SELECT min(id) FROM step WHERE live = 0").fetchone()
    return None if step is None else int(step)


def restore(connection: sqlite3.Connection, moment: int, who: str) -> int:
    """Lead everything back to how it stood right after a step, as a new decision.

    What was read from pages after that moment stands as read; what people
    added after it is absent.

    Raises
    ------
    LibraryError
        When there is no such step.
    """
    if connection.execute("SELECT 1 FROM step WHERE id = ?", (moment,)).fetchone() is None:
        raise LibraryError(f"The history has no step {moment}: choose one from the list.")
    rows = connection.execute(
        "SELECT kind, item, min(step_id) AS first, max(step_id) FILTER (WHERE step_id <= ?) AS last_kept FROM change "
        "GROUP BY kind, item HAVING max(step_id) > ?",
        (moment, moment),
    ).fetchall()
    changes = []
    for row in rows:
        wanted = _stood(connection, row)
        current = _current(connection, row["kind"], row["item"])
        if wanted != current:
            changes.append(Change(row["kind"], row["item"], current, wanted))
    own = add_step(connection, who, "restore", reverts=moment)
    make_changes(connection, own, changes)
    return own


def _stood(connection: sqlite3.Connection, row: sqlite3.Row) -> str | None:
    step = row["last_kept"] if row["last_kept"] is not None else row["first"]
    before, after = connection.execute(
        "SELECT before, after FROM change WHERE step_id = ? AND kind = ? AND item = ?", (step, row["kind"], row["item"])
    ).fetchone()
    if row["last_kept"] is not None or (before is None and row["kind"] != "calibration"):
        return None if after is None else str(after)
    return None if before is None else str(before)


def _current(connection: sqlite3.Connection, kind: Kind, item: int) -> str | None:
    if kind == "calibration":
        row = connection.execute("SELECT value FROM setting WHERE key = ?", (CALIBRATION_KEY,)).fetchone()
        return None if row is None or json.loads(row["value"]) is None else str(row["value"])
    table = {"diagram": "sighting", "tab": "tab"}[kind]
    (standing,) = connection.execute(f"SELECT standing FROM {table} WHERE id = ?", (item,)).fetchone()
    return str(standing)


# ---------------------------------------------------------------- looking at it


def get_step(connection: sqlite3.Connection, step: int) -> Step:
    """One step of the history."""
    row = connection.execute(f"{_STEP_COLUMNS} WHERE step.id = ?", (step,)).fetchone()
    if row is None:
        raise LibraryError(f"The history has no step {step}: choose one from the list.")
    return _to_step(row)


def list_steps(
    connection: sqlite3.Connection, limit: int, before: int | None = None, item: tuple[Kind, int] | None = None
) -> list[Step]:
    """Steps, latest first; those before a step, or those that touched one thing."""
    wheres, values = ["step.id < ?"], [before if before is not None else 1 << 62]
    if item is not None:
        wheres.append("step.id IN (SELECT step_id FROM change WHERE kind = ? AND item = ?)")
        values += list(item)  # type: ignore[arg-type]
    rows = connection.execute(
        f"{_STEP_COLUMNS} WHERE {' AND '.join(wheres)} ORDER BY step.id DESC LIMIT ?", (*values, limit)
    )
    return [_to_step(row) for row in rows]


def _to_step(row: sqlite3.Row) -> Step:
    live = {1: True, 0: False, -1: False}.get(row["live"])
    return Step(row["id"], row["at"], row["who"], row["action"], row["note"], live, row["size"], row["reverts"])
