"""One SQLite connection, its transactions, and what its failures mean to a person."""

from __future__ import annotations

import os
import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Self
from urllib.parse import quote

from reader.errors import LibraryError
from reader.library.schema import STEPS, check_version, migrate

BUSY_SECONDS = 30.0
"""How long a process waits while another one writes; adding a page takes milliseconds."""

_SENTENCES: dict[int, str] = {
    sqlite3.SQLITE_BUSY: "is in use by another program that does not let go: try again in a moment.",
    sqlite3.SQLITE_LOCKED: "is in use by another program that does not let go: try again in a moment.",
    sqlite3.SQLITE_FULL: "cannot grow because the disk is full: free some space and run the same command again.",
    sqlite3.SQLITE_READONLY: "cannot be written: check its permissions and those of its folder.",
    sqlite3.SQLITE_PERM: "cannot be written: check its permissions and those of its folder.",
    sqlite3.SQLITE_CANTOPEN: "cannot be opened or created: check that its folder exists and can be written.",
    sqlite3.SQLITE_IOERR: "cannot be read or written because the disk reports an error: check the disk.",
    sqlite3.SQLITE_CORRUPT: "is damaged: run 'inkfret check' on it, or go back to a copy.",
    sqlite3.SQLITE_NOTADB: "is not a library of shapes: name another file.",
}


@contextmanager
def clear_errors(path: Path) -> Iterator[None]:
    """Turn failures of SQLite into a `LibraryError` of one sentence.

    Programming errors (wrong SQL, broken constraints) pass through.
    """
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", None)
        sentence = _SENTENCES.get(code & 0xFF) if code is not None else None
        if sentence is None:
            raise
        raise LibraryError(f"The library {path} {sentence}") from error


class Database:
    """An open library file, shared by the threads of a process.

    Parameters
    ----------
    path : Path
    create : bool
        Make the file when it does not exist.
    read_only : bool
        Never write, not even to bring the file up to date.

    Raises
    ------
    LibraryError
        When the file is missing, newer than this program, not a library, busy, or cannot be opened.
    """

    def __init__(self, path: Path, *, create: bool = False, read_only: bool = False) -> None:
        self.path = path
        self._lock = threading.RLock()
        self._depth = 0
        _check_place(path, create)
        with clear_errors(path):
            self._connection = _connect(path, read_only)
            try:
                self._prepare(read_only)
            except BaseException:
                self._connection.close()
                raise

    def _prepare(self, read_only: bool) -> None:
        connection = self._connection
        connection.row_factory = sqlite3.Row
        if not read_only:
            check_version(connection, self.path, len(STEPS))
            # Readers go on while one process writes, and a killed writer leaves no half-written page.
            _journal_ahead(connection)
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            migrate(connection, self.path)
        elif check_version(connection, self.path, len(STEPS)) < len(STEPS):
            raise LibraryError(
                f"The library {self.path} is from an older version of this program and cannot be brought up to date "
                "here: open it once where it can be written."
            )

    @contextmanager
    def read(self) -> Iterator[sqlite3.Connection]:
        """The connection, for looking."""
        with self._lock, clear_errors(self.path):
            yield self._connection

    @contextmanager
    def write(self) -> Iterator[sqlite3.Connection]:
        """The connection inside a transaction: all of it happens or nothing; nested uses join the outer one."""
        with self._lock, clear_errors(self.path):
            if self._depth == 0:
                self._connection.execute("BEGIN IMMEDIATE")
            self._depth += 1
            try:
                yield self._connection
            except BaseException:
                self._depth -= 1
                if self._depth == 0 and self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
                raise
            self._depth -= 1
            if self._depth == 0:
                self._commit()

    def _commit(self) -> None:
        try:
            self._connection.execute("COMMIT")
        except BaseException:
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
            raise

    def close(self) -> None:
        """Let go of the file."""
        with self._lock:
            self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _check_place(path: Path, create: bool) -> None:
    if path.is_dir():
        raise LibraryError(f"{path} is a folder, not a library: name a file in it.")
    if not path.exists() and not create:
        raise LibraryError(f"There is no library {path}: check the path, or make one with 'inkfret read --library'.")
    if not path.exists() and not path.parent.is_dir():
        raise LibraryError(f"The library {path} cannot be made because its folder does not exist: make the folder.")


def _journal_ahead(connection: sqlite3.Connection) -> None:
    """Have changes written ahead into a journal beside the file.

    Two processes that open a new file at once both want it alone for this. SQLite tells the later one
    at once that the file is locked, without its usual waiting, so the waiting is done here.
    """
    until = time.monotonic() + BUSY_SECONDS
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                raise
        time.sleep(0.01)


def _connect(path: Path, read_only: bool) -> sqlite3.Connection:
    location = f"file:{quote(str(path.absolute()))}"
    if read_only:
        # On a medium that cannot be written SQLite has nowhere to put its index of the journal.
        frozen = not os.access(path.parent, os.W_OK)
        journal = path.with_name(f"{path.name}-wal")
        if frozen and journal.exists() and journal.stat().st_size:
            raise LibraryError(f"The library {path} was not closed properly: open it once where it can be written.")
        location += "?mode=ro&immutable=1" if frozen else "?mode=ro"
    return sqlite3.connect(location, uri=True, timeout=BUSY_SECONDS, isolation_level=None, check_same_thread=False)
