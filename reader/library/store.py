"""The library: one file that remembers every shape, where it was seen and who decided what.

>>> with Library.open("studio.inkfret", create=True) as library:      # doctest: +SKIP
...     library.add_page(page, sha256, crops)
...     for sighting in library.queue():
...         library.confirm([sighting.id], who="mara")
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Self

from reader.library import checking, history
from reader.library.adding import insert_page, place_of
from reader.library.database import Database
from reader.library.deciding import LibraryDesk
from reader.library.entry import CalibrationChange, PageAdded, Problem, Standing, State, compact
from reader.library.history import CALIBRATION_KEY, Change, now
from reader.library.tally import refresh_entries
from reader.music.frame import Frame
from reader.reading import PageReading, frame_to_object


class Library(LibraryDesk):
    """An open library; may be shared by threads, and the file by processes.

    Looking is described in `LibraryView`, deciding in `LibraryDesk`.
    """

    @classmethod
    def open(cls, path: str | Path, *, create: bool = False, read_only: bool = False) -> Self:
        """Open a library file.

        Parameters
        ----------
        path : path-like
        create : bool
            Make it when it does not exist.
        read_only : bool
            Never write; works on media that cannot be written.

        Raises
        ------
        LibraryError
            When it is missing, newer than this program, not a library, busy, damaged, or cannot be written.
        """
        return cls(Database(Path(path), create=create, read_only=read_only))

    def add_page(
        self,
        page: PageReading,
        sha256: str,
        crops: Sequence[bytes] = (),
        tab_crops: Sequence[bytes] = (),
        *,
        path: str | Path | None = None,
        who: str = "reader",
    ) -> PageAdded:
        """Store all that was read of a page; a page that is already there is left as it is.

        Parameters
        ----------
        page : PageReading
        sha256 : str
            Checksum of the whole file, in hexadecimal.
        crops, tab_crops : sequence of bytes
            One encoded picture (JPEG or PNG) per diagram, and per tablature system; or none at all.
        path : path-like, optional
            Where the file is; ``page.source`` by default.
        who : str
            What read it, with its version.
        """
        place = place_of(path or page.source, self.path)
        with self._database.write() as db:
            return insert_page(db, page, sha256, (crops, tab_crops), place, who)

    def set_setting(self, key: str, value: Any) -> None:
        """Store a value under a key; anything that JSON can hold."""
        if key == CALIBRATION_KEY:
            raise ValueError(f"the setting {CALIBRATION_KEY!r} is kept by calibrate()")
        with self._database.write() as db:
            db.execute(
                "INSERT INTO setting (key, value) VALUES (?, ?) ON CONFLICT DO UPDATE SET value = excluded.value",
                (key, compact(value)),
            )

    def set_priorities(self, priorities: Mapping[int, float]) -> None:
        """Move sightings up (above 0) or down in the queue; 0 leaves the order to the confidence."""
        with self._database.write() as db:
            db.executemany("UPDATE sighting SET priority = ? WHERE id = ?", [(p, i) for i, p in priorities.items()])

    def calibrate(
        self, model: Mapping[str, Any], estimates: Mapping[int, float], accept_at: float, who: str
    ) -> CalibrationChange:
        """Put new confidences in force and re-sort what nobody has settled, as one step that can be undone.

        Parameters
        ----------
        model : mapping
            How the estimates were made; given back by `calibration`.
        estimates : mapping of sighting id to confidence
            Sightings left out keep the confidence and the state they have.
        accept_at : float
            Unsettled sightings from this confidence up become accepted, those below unchecked.
        """
        with self._database.write() as db:
            cursor = db.execute(
                "INSERT INTO calibration (model, accept_at) VALUES (?, ?)", (compact(dict(model)), accept_at)
            )
            number = int(cursor.lastrowid or 0)
            db.executemany("INSERT INTO estimate VALUES (?, ?, ?)", [(number, i, p) for i, p in estimates.items()])
            moved = db.execute(_MOVED, {"calibration": number, "accept_at": accept_at}).fetchall()
            step = history.add_step(db, who, "recalibrate")
            changes = [_sent_over(row["id"], Standing.from_json(row["standing"])) for row in moved]
            before = self.setting(CALIBRATION_KEY)
            switch = Change("calibration", 0, None if before is None else str(before), str(number))
            history.make_changes(db, step, [switch, *changes])
        newly_due = sum(row["state"] == "accepted" for row in moved)
        return CalibrationChange(step, newly_due, len(moved) - newly_due)

    def add_check(self, sighting_id: int, given: Frame, agrees: bool, who: str, *, sample: str = "") -> int:
        """Keep a fresh answer to one sighting; returns its id."""
        self.sighting(sighting_id)
        with self._database.write() as db:
            cursor = db.execute(
                "INSERT INTO spot_check (at, who, sample, sighting_id, given, agrees) VALUES (?, ?, ?, ?, ?, ?)",
                (now(), who, sample, sighting_id, compact(frame_to_object(given)), int(agrees)),
            )
        return int(cursor.lastrowid or 0)

    def check(self) -> list[Problem]:
        """All that is wrong with the library; an empty list means that it is sound."""
        with self._database.read() as db:
            return checking.find_problems(db)

    def refresh(self) -> int:
        """Work out names and counts of all entries anew, as after a change of the naming; returns how many."""
        with self._database.write() as db:
            entries = [row["id"] for row in db.execute("SELECT id FROM entry ORDER BY id").fetchall()]
            refresh_entries(db, entries)
        return len(entries)


_MOVED = """
    SELECT sighting.id, sighting.state, sighting.standing FROM sighting
    JOIN estimate ON estimate.sighting_id = sighting.id AND estimate.calibration_id = :calibration
    WHERE sighting.state = 'accepted' AND estimate.confidence < :accept_at
       OR sighting.state = 'unchecked' AND estimate.confidence >= :accept_at
    ORDER BY sighting.id
"""
"""Sightings that nobody has settled and that a calibration sends to the other side."""


def _sent_over(sighting: int, standing: Standing) -> Change:
    """Accepted becomes unchecked, unchecked accepted."""
    state: State = "unchecked" if standing.state == "accepted" else "accepted"
    return Change("diagram", sighting, standing.to_json(), replace(standing, state=state).to_json())
