"""The side of a library that decides: each decision is one transaction and one step that can be undone."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

from reader.library import history
from reader.library.adding import insert_sighting
from reader.library.database import Database
from reader.library.entry import Sighting, Standing, State, Step, TabRecord, TabStanding
from reader.library.history import Change, StaleError
from reader.library.looking import LibraryView
from reader.library.rows import marks
from reader.music.frame import Frame
from reader.reading import Corners, Reading, TabReading

UNCHANGED: Any = object()
"""Stands for 'leave it as it is' where None means something."""


class LibraryDesk(LibraryView):
    """An open library in which decisions can be made.

    Every method that decides takes ``who`` decided. Where it accepts
    ``expected``, that is the `Sighting.step` the decision was based on: if
    somebody else has decided since, `StaleError` is raised and nothing changes.
    """

    def __init__(self, database: Database) -> None:
        super().__init__(database)
        self._group: int | None = None

    @contextmanager
    def deciding(self) -> Iterator[sqlite3.Connection]:
        """The tables themselves inside a transaction, for other modules of the library."""
        with self._database.write() as db:
            yield db

    def confirm(self, ids: Iterable[int], who: str, *, expected: int | None = None) -> Step:
        """The sightings are right as they stand."""
        return self._set_states(ids, "confirmed", "confirm", who, expected)

    def reject(self, ids: Iterable[int], who: str, *, expected: int | None = None, note: str = "") -> Step:
        """The sightings are not diagrams, or not wanted."""
        return self._set_states(ids, "rejected", "reject", who, expected, note)

    def reopen(self, ids: Iterable[int], who: str) -> Step:
        """Back to what was read, as if nobody had decided."""
        with self._database.write():
            found = [self.sighting(i) for i in ids]
            return self._decide([(s, Standing.of_reading(s.reading)) for s in found], "reopen", who)

    def settle(
        self,
        sighting_id: int,
        who: str,
        *,
        frame: Frame | None = None,
        label: str | None = UNCHANGED,
        tuning: str | None = None,
        corners: Corners | None = None,
        expected: int | None = None,
    ) -> Step:
        """Say how a sighting is; whatever is left out stays as it stands.

        The state becomes ``confirmed`` when the result is what was read, else
        ``corrected``. What was read is kept in either case.
        """
        with self._database.write():
            sighting = self.sighting(sighting_id)
            stands = sighting.standing
            wanted = replace(
                stands,
                frame=frame or stands.frame,
                label=stands.label if label is UNCHANGED else label,
                tuning=tuning or stands.tuning,
                corners=corners or stands.corners,
            )
            same = wanted.says_the_same(Standing.of_reading(sighting.reading))
            wanted = replace(wanted, state="confirmed" if same else "corrected")
            return self._decide([(sighting, wanted)], "confirm" if same else "correct", who, expected)

    def add_sighting(
        self, page_id: int, reading: Reading, crop: bytes | None, who: str, *, state: State = "confirmed"
    ) -> int:
        """A diagram that the reader missed, drawn in by a person; returns its id."""
        self.page(page_id)
        with self._database.write() as db:
            step = self._step(db, who, "add")
            return insert_sighting(db, step, page_id, reading, crop, origin="added", state=state)

    def settle_tab(self, tab_id: int, who: str, *, tab: TabReading | None = None, expected: int | None = None) -> Step:
        """Say how a tablature system is: as read, or as given."""
        with self._database.write():
            record = self.tab(tab_id)
            wanted = tab or record.standing.tab
            same = wanted == record.reading
            standing = TabStanding("confirmed" if same else "corrected", wanted)
            return self._decide_tabs([(record, standing)], "confirm" if same else "correct", who, expected)

    def reject_tabs(self, ids: Iterable[int], who: str, *, expected: int | None = None) -> Step:
        """The systems are not tablature, or not wanted."""
        with self._database.write():
            found = [self.tab(i) for i in ids]
            rejected = [(t, TabStanding("rejected", t.standing.tab)) for t in found]
            return self._decide_tabs(rejected, "reject", who, expected)

    @contextmanager
    def many(self, who: str, action: str, note: str = "") -> Iterator[None]:
        """Make all decisions inside one step, undone together; if one fails, none has happened."""
        with self._database.write() as db:
            self._group = history.add_step(db, who, action, note)
            try:
                yield
            finally:
                self._group = None

    def _set_states(
        self, ids: Iterable[int], state: State, action: str, who: str, expected: int | None, note: str = ""
    ) -> Step:
        with self._database.write():
            found = [self.sighting(i) for i in ids]
            return self._decide([(s, replace(s.standing, state=state)) for s in found], action, who, expected, note)

    def _decide(
        self,
        wanted: list[tuple[Sighting, Standing]],
        action: str,
        who: str,
        expected: int | None = None,
        note: str = "",
    ) -> Step:
        with self._database.write() as db:
            _refuse_stale(db, "sighting", [s.id for s, _ in wanted], expected)
            step = self._step(db, who, action, note)
            history.make_changes(
                db, step, [Change("diagram", s.id, s.standing.to_json(), after.to_json()) for s, after in wanted]
            )
            return history.get_step(db, step)

    def _decide_tabs(
        self, wanted: list[tuple[TabRecord, TabStanding]], action: str, who: str, expected: int | None = None
    ) -> Step:
        with self._database.write() as db:
            _refuse_stale(db, "tab", [t.id for t, _ in wanted], expected)
            step = self._step(db, who, action)
            history.make_changes(
                db, step, [Change("tab", t.id, t.standing.to_json(), after.to_json()) for t, after in wanted]
            )
            return history.get_step(db, step)

    def _step(self, db: sqlite3.Connection, who: str, action: str, note: str = "") -> int:
        return self._group or history.add_step(db, who, action, note)

    # ------------------------------------------------------------ back and forth

    def undo(self, who: str) -> Step | None:
        """Take back the last decision in force; None when there is none."""
        with self._database.write() as db:
            step = history.undo(db, who)
            return None if step is None else history.get_step(db, step)

    def redo(self, who: str) -> Step | None:
        """Put the decision last taken back in force again; None when there is none."""
        with self._database.write() as db:
            step = history.redo(db, who)
            return None if step is None else history.get_step(db, step)

    def restore(self, step_id: int, who: str) -> Step:
        """Lead everything back to how it stood after a step; itself a step that can be undone."""
        with self._database.write() as db:
            return history.get_step(db, history.restore(db, step_id, who))


def _refuse_stale(db: sqlite3.Connection, table: str, ids: list[int], expected: int | None) -> None:
    if expected is None:
        return
    rows = db.execute(f"SELECT id FROM {table} WHERE id IN ({marks(ids)}) AND step_id > ?", (*ids, expected))
    if rows.fetchone() is not None:
        raise StaleError("Somebody else has decided on this reading in the meantime: look at it again.")
