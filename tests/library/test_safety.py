"""Files that are too new, damaged, full, shared, or left behind by a killed process."""

from __future__ import annotations

import os
import random
import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest
from killing import kill_a_writer, start_writer
from library_samples import FAINT, make_page, make_reading

from reader.errors import LibraryError
from reader.library import schema
from reader.library.database import Database
from reader.library.schema import check_version, migrate
from reader.library.store import Library

# ---------------------------------------------------------------- opening


def test_a_missing_library_is_not_made_by_accident(tmp_path: Path) -> None:
    with pytest.raises(LibraryError, match=r"There is no library .*lib\.inkfret"):
        Library.open(tmp_path / "lib.inkfret")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("place", "sentence"),
    [(".", "is a folder, not a library"), ("no/such/folder/lib.inkfret", "its folder does not exist")],
)
def test_places_where_no_library_can_be(tmp_path: Path, place: str, sentence: str) -> None:
    with pytest.raises(LibraryError, match=sentence):
        Library.open(tmp_path / place, create=True)


def test_a_file_that_is_no_database(tmp_path: Path) -> None:
    path = tmp_path / "lib.inkfret"
    path.write_text("C 0003, Am 2000, F 2010. " * 100)
    with pytest.raises(LibraryError, match="is not a library of shapes"):
        Library.open(path)


def test_a_database_of_something_else(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite"
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE stamps (id)")
    with pytest.raises(LibraryError, match="a database, but not a library"):
        Library.open(path, create=True)


def test_a_newer_library_is_refused_and_left_alone(library: Library) -> None:
    library.close()
    with closing(sqlite3.connect(library.path)) as newer:
        newer.execute("PRAGMA user_version = 99")
    before = library.path.read_bytes()
    for read_only in (False, True):
        with pytest.raises(LibraryError, match=r"written by a newer version .*its format is 99"):
            Library.open(library.path, read_only=read_only)
    assert library.path.read_bytes() == before


def test_a_read_only_library_can_be_looked_at_but_not_changed(filled: Library) -> None:
    with Library.open(filled.path, read_only=True) as library:
        assert len(library.entries()) == 3
        with pytest.raises(LibraryError, match="cannot be written"):
            library.confirm([1], "mara")


def test_a_library_on_a_medium_that_cannot_be_written(filled: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("reader.library.database.os.access", lambda path, mode: False)
    with pytest.raises(LibraryError, match="was not closed properly"):
        Library.open(filled.path, read_only=True)
    filled.close()
    beside = sorted(filled.path.parent.iterdir())
    with Library.open(filled.path, read_only=True) as library:
        assert len(library.entries()) == 3
        assert sorted(filled.path.parent.iterdir()) == beside


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_library_without_write_permission(filled: Library) -> None:
    filled.close()
    filled.path.chmod(0o444)
    with pytest.raises(LibraryError, match="cannot be written"):
        Library.open(filled.path)


def test_a_full_disk_is_one_sentence_and_changes_nothing(library: Library) -> None:
    library.add_page(make_page(make_reading("0003")), "a" * 64)
    with library._database.read() as db:  # the only way to have a full disk without filling one
        (pages,) = db.execute("PRAGMA page_count").fetchone()
        db.execute(f"PRAGMA max_page_count = {pages + 2}")
    with pytest.raises(LibraryError, match="the disk is full"):
        library.add_page(make_page(make_reading("2010"), number=2), "a" * 64, crops=[os.urandom(100_000)])
    assert [p.number for p in library.pages()] == [1]
    assert library.check() == []


def test_a_library_locked_for_good_is_said_to_be_busy(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    with closing(sqlite3.connect(library.path, isolation_level=None)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        with library._database.read() as db:
            db.execute("PRAGMA busy_timeout = 50")
        with pytest.raises(LibraryError, match="in use by another program"):
            library.add_page(make_page(), "a" * 64)


# ---------------------------------------------------------------- migrations


def test_each_step_keeps_a_copy_of_the_file_as_it_was(filled: Library) -> None:
    filled.close()
    steps = (*schema.STEPS, "ALTER TABLE page ADD COLUMN note TEXT;", "CREATE TABLE extra (id INTEGER) STRICT;")
    with closing(sqlite3.connect(filled.path, isolation_level=None)) as db:
        copies = migrate(db, filled.path, steps)
        assert db.execute("PRAGMA user_version").fetchone() == (len(steps),)
        assert db.execute("SELECT note FROM page").fetchall() == [(None,), (None,)]
    first = len(schema.STEPS) + 1
    assert [c.name for c in copies] == [f"studio.inkfret.before-{first}", f"studio.inkfret.before-{first + 1}"]
    with Library.open(copies[0]) as copy:
        assert len(copy.entries()) == 3
        assert copy.check() == []


def test_a_new_library_takes_all_steps_at_once(tmp_path: Path) -> None:
    Library.open(tmp_path / "new.inkfret", create=True).close()
    assert [p.name for p in tmp_path.glob("*before*")] == []


def test_a_library_without_the_indexes_of_step_2_is_brought_up_to_date(filled: Library) -> None:
    before = filled.summary()
    filled.close()
    with closing(sqlite3.connect(filled.path, isolation_level=None)) as db:
        for name in ("sighting_state", "sighting_page", "tab_state"):
            db.execute(f"DROP INDEX {name}")
        db.execute("CREATE INDEX sighting_page ON sighting (page_id, number)")
        db.execute("CREATE INDEX sighting_queue ON sighting (state, priority DESC, id)")
        db.execute("PRAGMA user_version = 1")
    with Library.open(filled.path) as library:
        assert (library.summary(), library.check()) == (before, [])
    assert filled.path.with_name(f"{filled.path.name}.before-2").is_file()


def test_a_step_that_fails_leaves_the_file_as_it_was(filled: Library) -> None:
    filled.close()
    broken = (*schema.STEPS, "CREATE TABLE half (id INTEGER) STRICT;\n" * 2)
    with closing(sqlite3.connect(filled.path, isolation_level=None)) as db:
        with pytest.raises(sqlite3.OperationalError, match="already exists"):
            migrate(db, filled.path, broken)
        assert db.execute("SELECT name FROM sqlite_schema WHERE name = 'half'").fetchall() == []
    with Library.open(filled.path) as library:
        assert library.check() == []


def test_an_older_library_is_not_brought_up_to_date_when_it_must_not_be_written(
    filled: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    filled.close()
    monkeypatch.setattr("reader.library.database.STEPS", (*schema.STEPS, "CREATE TABLE extra (id INTEGER);"))
    with pytest.raises(LibraryError, match="from an older version"):
        Database(filled.path, read_only=True)


# ---------------------------------------------------------------- several processes, and killed ones


def test_two_processes_fill_one_library_at_once(tmp_path: Path) -> None:
    path = tmp_path / "lib.inkfret"
    writers = [start_writer(path, name, 25) for name in ("a1", "b2")]
    for writer in writers:
        writer.communicate(timeout=60)
    assert [w.returncode for w in writers] == [0, 0]
    with Library.open(path) as library:
        assert len(library.pages()) == 50
        assert library.summary().sightings == 150
        assert library.check() == []


def test_a_library_waits_for_the_process_that_is_making_it(tmp_path: Path) -> None:
    # SQLite does not wait by itself where two processes want a new file alone.
    path = tmp_path / "lib.inkfret"
    holder = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    holder.execute("BEGIN IMMEDIATE")
    holder.execute("CREATE TABLE half (id INTEGER) STRICT")
    release = threading.Timer(0.3, holder.rollback)
    release.start()
    with Library.open(path, create=True) as library:
        assert library.check() == []
    release.join()
    holder.close()


def test_a_library_that_another_process_makes_while_it_is_opened(tmp_path: Path) -> None:
    path = tmp_path / "lib.inkfret"
    statements: list[str] = []

    def trace(statement: str) -> None:
        statements.append(statement)
        if len(statements) == 2:  # after the first look at the file, before the second
            Library.open(path, create=True).close()

    with closing(sqlite3.connect(path, isolation_level=None)) as early:
        early.set_trace_callback(trace)
        assert check_version(early, path, len(schema.STEPS)) == len(schema.STEPS)


@pytest.mark.parametrize("trial", range(6))
def test_a_killed_process_loses_nothing_that_it_had_reported(tmp_path: Path, trial: int) -> None:
    path = tmp_path / "lib.inkfret"
    reported, pages = kill_a_writer(path, random.Random(trial))
    assert reported <= pages <= reported + 1


# ---------------------------------------------------------------- check


@pytest.mark.parametrize(
    ("damage", "code"),
    [
        ("UPDATE sighting SET state = 'rejected' WHERE id = 1", "history"),
        ("UPDATE sighting SET standing = json_set(standing, '$.label', 'G') WHERE id = 1", "history"),
        ("UPDATE sighting SET entry_id = 2 WHERE id = 1", "misfiled"),
        ("UPDATE entry SET sightings = 7 WHERE id = 1", "tally"),
        ("UPDATE entry SET name = 'H' WHERE id = 1", "tally"),
        ("DELETE FROM sighting WHERE id = 1", "dangling"),
        ("UPDATE tab SET standing = '{}' WHERE id = 1", "unreadable"),
    ],
)
def test_check_finds_what_is_wrong(filled: Library, damage: str, code: str) -> None:
    assert filled.check() == []
    filled.close()
    with closing(sqlite3.connect(filled.path)) as db:
        db.execute(damage)
        db.commit()
    with Library.open(filled.path) as library:
        assert code in {p.code for p in library.check()}


def test_refresh_puts_old_names_right(filled: Library) -> None:
    with filled._database.write() as db:
        db.execute("UPDATE entry SET name = 'H', sightings = 0")
    assert filled.refresh() == 3
    assert filled.check() == []


def test_a_file_damaged_in_the_middle_is_reported(library: Library) -> None:
    for number in range(1, 40):
        page = make_page(make_reading("0003", "C", (FAINT,)), number=number)
        library.add_page(page, "a" * 64, crops=[os.urandom(3000)])
    library.close()
    data = bytearray(library.path.read_bytes())
    data[-40960:] = os.urandom(40960)
    library.path.write_bytes(bytes(data))
    with Library.open(library.path) as damaged:
        assert {p.code for p in damaged.check()} == {"damaged"}
