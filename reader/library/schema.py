"""The tables of a library file, as numbered steps that are never edited, only added to.

The file says what it is with SQLite's own header fields: ``application_id``
tells a library from any other database, ``user_version`` counts the steps
already taken. Before a step changes an existing file, a copy is kept beside it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

from reader.errors import LibraryError

APPLICATION_ID = 0x494E4B46
"""'INKF' in the four bytes that SQLite keeps for telling files apart."""

STEPS: tuple[str, ...] = (
    # 1: pages, sightings, entries, tabs and the history of decisions.
    """
    CREATE TABLE source (
        id      INTEGER PRIMARY KEY,
        sha256  TEXT NOT NULL UNIQUE,
        name    TEXT NOT NULL               -- as first given
    ) STRICT;
    CREATE TABLE place (                    -- every place where the file was seen
        source_id INTEGER NOT NULL REFERENCES source,
        path      TEXT NOT NULL,            -- absolute
        beside    TEXT NOT NULL,            -- from the folder of the library
        PRIMARY KEY (source_id, path)
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE page (
        id        INTEGER PRIMARY KEY,
        source_id INTEGER NOT NULL REFERENCES source,
        number    INTEGER NOT NULL CHECK (number >= 1),
        width     INTEGER NOT NULL,
        height    INTEGER NOT NULL,
        reading   TEXT NOT NULL CHECK (json_valid(reading)),   -- the page as read; never changed
        added     TEXT NOT NULL,
        UNIQUE (source_id, number)
    ) STRICT;
    CREATE TABLE entry (
        id           INTEGER PRIMARY KEY,
        tuning       TEXT NOT NULL,
        shape        TEXT NOT NULL,
        -- below: worked out from the shape, the tuning and the sightings; can be made anew at any time
        strings      INTEGER NOT NULL,
        highest_fret INTEGER NOT NULL DEFAULT 0,
        lowest_fret  INTEGER NOT NULL DEFAULT 0,    -- of the stopped strings
        stretch      INTEGER NOT NULL DEFAULT 0,
        fingers      INTEGER NOT NULL DEFAULT 0,
        barre        INTEGER NOT NULL DEFAULT 0,
        open_strings INTEGER NOT NULL DEFAULT 0,
        muted        INTEGER NOT NULL DEFAULT 0,
        difficulty   REAL,                          -- of the usual fingering; NULL when nobody can play it
        pitch_set    INTEGER NOT NULL DEFAULT 0,    -- bit n is set when pitch class n sounds
        bass         INTEGER,                       -- MIDI number of the lowest sound
        name         TEXT,
        other_names  TEXT NOT NULL DEFAULT '[]',
        label        TEXT,
        labels       TEXT NOT NULL DEFAULT '',      -- of all sightings, in small letters
        sources      TEXT NOT NULL DEFAULT '',      -- of all sightings, in small letters
        best         INTEGER,                       -- the most trusted sighting, which the frame is taken from
        frame        TEXT,
        flags        TEXT NOT NULL DEFAULT '',
        state        TEXT NOT NULL DEFAULT 'none',
        confidence   REAL NOT NULL DEFAULT 0,
        sightings    INTEGER NOT NULL DEFAULT 0,
        due          INTEGER NOT NULL DEFAULT 0,
        UNIQUE (tuning, shape)
    ) STRICT;
    CREATE TABLE entry_name (                       -- each name an entry can bear
        entry_id INTEGER NOT NULL REFERENCES entry,
        place    INTEGER NOT NULL,                  -- 0 is the best
        text     TEXT NOT NULL,
        root     INTEGER NOT NULL,                  -- pitch class
        quality  TEXT NOT NULL,
        PRIMARY KEY (entry_id, place)
    ) STRICT, WITHOUT ROWID;
    CREATE INDEX entry_name_chord ON entry_name (root, quality);
    CREATE INDEX entry_pitch_set ON entry (tuning, pitch_set);
    CREATE TABLE sighting (
        id         INTEGER PRIMARY KEY,
        page_id    INTEGER REFERENCES page,
        number     INTEGER NOT NULL,                -- order on the page, from 1
        origin     TEXT NOT NULL CHECK (origin IN ('page', 'added', 'import')),
        reading    TEXT NOT NULL CHECK (json_valid(reading)),  -- as read; never changed
        flags      TEXT NOT NULL DEFAULT '',        -- codes, each with a space before and after
        confidence REAL NOT NULL,                   -- as read, until a calibration says otherwise
        priority   REAL NOT NULL,
        -- the standing: where the decisions so far have led
        entry_id   INTEGER REFERENCES entry,
        state      TEXT NOT NULL CHECK (state IN
                   ('absent', 'unchecked', 'accepted', 'confirmed', 'corrected', 'rejected')),
        standing   TEXT NOT NULL CHECK (json_valid(standing)),
        label      TEXT,
        step_id    INTEGER NOT NULL REFERENCES step
    ) STRICT;
    CREATE INDEX sighting_page ON sighting (page_id, number);
    CREATE INDEX sighting_entry ON sighting (entry_id);
    CREATE INDEX sighting_queue ON sighting (state, priority DESC, id);
    CREATE TABLE tab (
        id         INTEGER PRIMARY KEY,
        page_id    INTEGER NOT NULL REFERENCES page,
        number     INTEGER NOT NULL,
        reading    TEXT NOT NULL CHECK (json_valid(reading)),
        flags      TEXT NOT NULL DEFAULT '',
        confidence REAL NOT NULL,
        state      TEXT NOT NULL CHECK (state IN
                   ('absent', 'unchecked', 'accepted', 'confirmed', 'corrected', 'rejected')),
        standing   TEXT NOT NULL CHECK (json_valid(standing)),
        step_id    INTEGER NOT NULL REFERENCES step
    ) STRICT;
    CREATE INDEX tab_page ON tab (page_id, number);
    CREATE TABLE crop (
        kind TEXT NOT NULL CHECK (kind IN ('diagram', 'tab')),
        item INTEGER NOT NULL,
        image BLOB NOT NULL,                        -- JPEG or PNG
        PRIMARY KEY (kind, item)
    ) STRICT;
    CREATE TABLE step (                             -- one decision, or one page read; only ever added to
        id      INTEGER PRIMARY KEY AUTOINCREMENT,
        at      TEXT NOT NULL,
        who     TEXT NOT NULL,
        action  TEXT NOT NULL,
        note    TEXT NOT NULL DEFAULT '',
        reverts INTEGER REFERENCES step,            -- the step that an undo or redo is about
        live    INTEGER                             -- 1 in force, 0 undone, -1 undone for good; NULL: not a decision
    ) STRICT;
    CREATE INDEX step_live ON step (live, id);
    CREATE TABLE change (                           -- what a step did to one sighting, tab or setting
        step_id INTEGER NOT NULL REFERENCES step,
        kind    TEXT NOT NULL CHECK (kind IN ('diagram', 'tab', 'calibration')),
        item    INTEGER NOT NULL,
        before  TEXT,
        after   TEXT,
        PRIMARY KEY (step_id, kind, item)
    ) STRICT, WITHOUT ROWID;
    CREATE INDEX change_item ON change (kind, item, step_id);
    CREATE TABLE calibration (
        id        INTEGER PRIMARY KEY,
        model     TEXT NOT NULL CHECK (json_valid(model)),
        accept_at REAL NOT NULL
    ) STRICT;
    CREATE TABLE estimate (                         -- confidence of a sighting under a calibration
        calibration_id INTEGER NOT NULL REFERENCES calibration,
        sighting_id    INTEGER NOT NULL REFERENCES sighting,
        confidence     REAL NOT NULL,
        PRIMARY KEY (calibration_id, sighting_id)
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE spot_check (
        id          INTEGER PRIMARY KEY,
        at          TEXT NOT NULL,
        who         TEXT NOT NULL,
        sample      TEXT NOT NULL,
        sighting_id INTEGER NOT NULL REFERENCES sighting,
        given       TEXT NOT NULL CHECK (json_valid(given)),
        agrees      INTEGER NOT NULL
    ) STRICT;
    CREATE TABLE setting (
        key   TEXT PRIMARY KEY,
        value TEXT NOT NULL CHECK (json_valid(value))
    ) STRICT, WITHOUT ROWID;
    """,
    # 2: what a desk with 20,000 readings asks at every step is answered from an index, without the wide rows.
    """
    DROP INDEX sighting_queue;
    DROP INDEX sighting_page;
    CREATE INDEX sighting_state ON sighting (state, origin, flags, label, page_id, confidence, priority);
    CREATE INDEX sighting_page ON sighting (page_id, number, state, flags, label, entry_id);
    CREATE INDEX tab_state ON tab (state, page_id, number);
    """,
)


def migrate(connection: sqlite3.Connection, path: Path, steps: Sequence[str] = STEPS) -> list[Path]:
    """Bring a library file up to date, one numbered step at a time.

    Parameters
    ----------
    connection : sqlite3.Connection
        In autocommit mode.
    path : Path
        The file, to name the copies after.
    steps : sequence of str
        One script of SQL per version.

    Returns
    -------
    list of Path
        The copies that were kept, one before each step taken on a file that already held something.

    Raises
    ------
    LibraryError
        When the file is newer than this program or is not a library.
    """
    copies = []
    while (version := check_version(connection, path, len(steps))) < len(steps):
        if version > 0:
            copies.append(_keep_copy(connection, path, version + 1))
        connection.execute("BEGIN IMMEDIATE")
        try:
            # Somebody else may have taken the step while this process waited for its turn.
            if check_version(connection, path, len(steps)) == version:
                # A new file takes all steps at once: nobody sees it half made, or keeps a copy of nothing.
                reached = version + 1 if version else len(steps)
                for statement in _statements("".join(steps[version:reached])):
                    connection.execute(statement)
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                connection.execute(f"PRAGMA user_version = {reached}")
            connection.execute("COMMIT")
        except BaseException:
            connection.execute("ROLLBACK")
            raise
    return copies


def check_version(connection: sqlite3.Connection, path: Path, newest: int) -> int:
    """The number of steps a file has taken; 0 for a new, empty file.

    Raises
    ------
    LibraryError
        When the file is newer than this program or is some other database.
    """
    # In this order: another process may make the library meanwhile, all at once, and whoever sees its
    # tables then sees its mark as well.
    (tables,) = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    (kind,) = connection.execute("PRAGMA application_id").fetchone()
    if kind != APPLICATION_ID and (tables or version):
        raise LibraryError(f"{path} is a database, but not a library of shapes: name another file.")
    if version > newest:
        raise LibraryError(
            f"{path} was written by a newer version of this program (its format is {version}, "
            f"this version knows up to {newest}): install the newer version, or open a copy kept before the change."
        )
    return int(version)


def _keep_copy(connection: sqlite3.Connection, path: Path, version: int) -> Path:
    copy = path.with_name(f"{path.name}.before-{version}")
    unfinished = copy.with_name(f"{copy.name}.part")
    unfinished.unlink(missing_ok=True)
    with closing(sqlite3.connect(unfinished)) as target:
        connection.backup(target)
    return unfinished.replace(copy)


def _statements(script: str) -> list[str]:
    """The statements of a script: ``executescript`` would commit the transaction under way."""
    found, pending = [], ""
    for line in script.splitlines(keepends=True):
        pending += line
        if sqlite3.complete_statement(pending):
            found.append(pending)
            pending = ""
    return found
