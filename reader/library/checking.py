"""Is a library whole? Every promise that the tables do not keep by themselves, looked at once more."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator

from reader.library.entry import Problem, Standing, TabStanding
from reader.library.tally import tally_entry

MOST_NAMED = 20
"""Damaged rows that SQLite names one by one before it stops looking."""


def find_problems(db: sqlite3.Connection) -> list[Problem]:
    """All that is wrong, in one go; an empty list means that the library is sound.

    Returns
    -------
    list of Problem
        Codes: ``damaged`` (the file), ``dangling`` (a row that belongs to nothing), ``history`` (a standing that
        its decisions do not lead to), ``misfiled`` (a sighting under the wrong entry), ``tally`` (an entry that is
        not what its sightings add up to), ``unreadable`` (a stored reading).
    """
    damage = list(_damage(db))
    # On a damaged file the other questions would only fail one by one.
    return damage or [problem for look in _LOOKS for problem in look(db)]


def _damage(db: sqlite3.Connection) -> Iterator[Problem]:
    try:
        for (message,) in db.execute(f"PRAGMA integrity_check({MOST_NAMED})").fetchall():
            if message != "ok":
                yield Problem("damaged", f"The file is damaged: {message}.")
    except sqlite3.DatabaseError as error:
        yield Problem("damaged", f"The file is damaged so badly that it cannot be looked through ({error}).")


def _dangling(db: sqlite3.Connection) -> Iterator[Problem]:
    for row in db.execute("PRAGMA foreign_key_check"):
        yield Problem("dangling", f"Row {row[1]} of {row[0]} belongs to a {row[2]} that is missing.")
    crops = "SELECT kind, item FROM crop WHERE item NOT IN (SELECT id FROM {}) AND kind = '{}'"
    for table, kind in (("sighting", "diagram"), ("tab", "tab")):
        for row in db.execute(crops.format(table, kind)):
            yield Problem("dangling", f"The picture of {kind} {row['item']} belongs to nothing.")


def _history(db: sqlite3.Connection) -> Iterator[Problem]:
    for table, kind in (("sighting", "diagram"), ("tab", "tab")):
        rows = db.execute(
            f"SELECT id, standing, step_id, (SELECT max(step_id) FROM change WHERE kind = '{kind}' "
            f"AND item = {table}.id) AS last FROM {table}"
        )
        for row in rows:
            found = db.execute(
                "SELECT after FROM change WHERE kind = ? AND item = ? AND step_id = ?", (kind, row["id"], row["last"])
            ).fetchone()
            if found is None or found["after"] != row["standing"] or row["last"] != row["step_id"]:
                yield Problem("history", f"{kind.capitalize()} {row['id']} does not stand where its history leads.")


def _readings(db: sqlite3.Connection) -> Iterator[Problem]:
    parsers: dict[str, Callable[[str], Standing | TabStanding]] = {
        "sighting": Standing.from_json,
        "tab": TabStanding.from_json,
    }
    for table, parse in parsers.items():
        for row in db.execute(f"SELECT id, state, standing FROM {table}"):
            try:
                standing = parse(row["standing"])
            except (ValueError, KeyError, TypeError) as error:
                yield Problem("unreadable", f"The standing of {table} {row['id']} cannot be read ({error}).")
                continue
            if standing.state != row["state"]:
                yield Problem("history", f"{table.capitalize()} {row['id']} is listed under the wrong state.")


def _misfiled(db: sqlite3.Connection) -> Iterator[Problem]:
    rows = db.execute(
        "SELECT sighting.id, standing, entry.tuning, entry.shape FROM sighting LEFT JOIN entry ON entry.id = entry_id"
    )
    for row in rows:
        standing = Standing.from_json(row["standing"])
        if (standing.tuning, str(standing.frame.shape)) != (row["tuning"], row["shape"]):
            yield Problem("misfiled", f"Sighting {row['id']} is filed under another shape than it shows.")


def _tallies(db: sqlite3.Connection) -> Iterator[Problem]:
    for row in db.execute("SELECT * FROM entry").fetchall():
        wanted = tally_entry(db, row["id"])
        wrong = [column for column, value in wanted.items() if row[column] != value]
        if wrong:
            yield Problem("tally", f"Entry {row['id']} ({row['shape']}) has an old {', '.join(wrong)}.")


_LOOKS = (_dangling, _readings, _history, _misfiled, _tallies)
