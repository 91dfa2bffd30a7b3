"""The side of a library that only looks: pages, entries, sightings, tabs, the history, counts."""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, Self, TypeVar

from reader.errors import LibraryError
from reader.library import history, rows, search
from reader.library.collection import Collected, Collection
from reader.library.database import Database
from reader.library.entry import (
    COUNTED,
    ENTRY_STATES,
    SETTLED,
    Entry,
    Origin,
    Outcome,
    PageRecord,
    Sighting,
    SpotCheck,
    State,
    Step,
    Summary,
    TabRecord,
)
from reader.library.history import Kind
from reader.library.rows import SightingQuery
from reader.library.search import Query, Similar
from reader.music.frame import Frame
from reader.music.shape import Shape
from reader.reading import PageReading, from_object

Item = TypeVar("Item")


class LibraryView:
    """An open library, as far as it can be looked at.

    Parameters
    ----------
    database : Database
    """

    def __init__(self, database: Database) -> None:
        self._database = database

    @property
    def path(self) -> Path:
        """The file."""
        return self._database.path

    def close(self) -> None:
        """Let go of the file."""
        self._database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextmanager
    def looking(self) -> Iterator[sqlite3.Connection]:
        """The tables themselves, for other modules of the library."""
        with self._database.read() as db:
            yield db

    # ------------------------------------------------------------ pages

    def has_page(self, sha256: str, number: int) -> bool:
        """Whether a page of a file with this checksum has been read into the library."""
        return self.find_page(sha256, number) is not None

    def find_page(self, sha256: str, number: int) -> PageRecord | None:
        """A page by the checksum of its file and its number there; None when it has not been read."""
        with self._database.read() as db:
            found = rows.select_pages(db, "source.sha256 = ? AND page.number = ?", (sha256, number))
        return found[0] if found else None

    def pages(self, source: str | None = None) -> list[PageRecord]:
        """All pages, or those of files whose name contains a text."""
        with self._database.read() as db:
            if source is None:
                return rows.select_pages(db)
            return rows.select_pages(db, "instr(lower(source.name), ?)", (source.lower(),))

    def sources(self) -> list[str]:
        """Names of all files, in the order in which they came in."""
        with self._database.read() as db:
            return [str(row["name"]) for row in db.execute("SELECT name FROM source ORDER BY id")]

    def page(self, page_id: int) -> PageRecord:
        """One page."""
        with self._database.read() as db:
            return _only(rows.select_pages(db, "page.id = ?", (page_id,)), "page", page_id)

    def page_reading(self, page_id: int) -> PageReading:
        """A page exactly as it was read."""
        with self._database.read() as db:
            row = db.execute("SELECT reading FROM page WHERE id = ?", (page_id,)).fetchone()
        if row is None:
            raise LibraryError(f"The library has no page {page_id}.")
        return from_object(json.loads(row["reading"]))

    def picture_path(self, page_id: int) -> Path | None:
        """Where the file of a page is now; None when it is in none of the places it was seen at.

        A file that moved together with the library is found as well.
        """
        with self._database.read() as db:
            places = db.execute(
                "SELECT place.path, place.beside FROM place JOIN page USING (source_id) WHERE page.id = ?", (page_id,)
            ).fetchall()
        folder = self.path.absolute().parent
        candidates = [Path(p["path"]) for p in places] + [folder / p["beside"] for p in places]
        candidates += [folder / Path(p["path"]).name for p in places]
        return next((c for c in candidates if c.is_file()), None)

    # ------------------------------------------------------------ entries, sightings, tabs

    def entries(self, query: Query | None = None) -> list[Entry]:
        """Entries that match a query; all but rejected ones by default."""
        with self._database.read() as db:
            return search.select_entries(db, query or Query())

    def count(self, query: Query | None = None) -> int:
        """How many entries match a query, its limit aside."""
        with self._database.read() as db:
            return search.count_entries(db, query or Query())

    def entry(self, entry_id: int) -> Entry:
        """One entry."""
        with self._database.read() as db:
            found = db.execute("SELECT * FROM entry WHERE id = ? AND frame IS NOT NULL", (entry_id,)).fetchone()
        if found is None:
            raise LibraryError(f"The library has no entry {entry_id}.")
        return rows.to_entry(found)

    def places(self, ids: Sequence[int]) -> dict[int, list[tuple[str, int]]]:
        """File and page of every counted sighting of some entries, each once, in the order in which they came in."""
        with self._database.read() as db:
            found = db.execute(
                "SELECT entry_id, source.name, page.number FROM sighting JOIN page ON page.id = page_id "
                "JOIN source ON source.id = source_id "
                f"WHERE entry_id IN ({rows.marks(ids)}) AND sighting.state IN ({rows.marks(COUNTED)}) "
                "ORDER BY sighting.id",
                (*ids, *COUNTED),
            ).fetchall()
        seen: dict[int, list[tuple[str, int]]] = {i: [] for i in ids}
        for entry, source, page in dict.fromkeys(tuple(row) for row in found):
            seen[entry].append((source, page))
        return seen

    def similar(self, entry_id: int) -> Similar:
        """The same chord elsewhere on the neck, and shapes one finger away."""
        entry = self.entry(entry_id)
        with self._database.read() as db:
            return search.find_similar(db, entry.frame, entry.tuning)

    def similar_to(self, shape: Shape, tuning: str) -> Similar:
        """Neighbours of any shape, in the library or not."""
        frame = Frame(shape.frets, (None,) * shape.string_count, fret_count=max(1, *shape.stopped, 1))
        with self._database.read() as db:
            return search.find_similar(db, frame, tuning)

    def sightings(self, query: SightingQuery | None = None) -> list[Sighting]:
        """Sightings that match a query, page by page by default."""
        with self._database.read() as db:
            return rows.select_sightings(db, query or SightingQuery())

    def count_sightings(self, query: SightingQuery | None = None) -> int:
        """How many sightings match a query, its limit aside."""
        with self._database.read() as db:
            return rows.count_sightings(db, query or SightingQuery())

    def queue(self, query: SightingQuery | None = None) -> list[Sighting]:
        """Sightings that a person still has to look at, most pressing first."""
        return self.sightings(replace(query or SightingQuery(), states=("unchecked",), order="priority"))

    def sighting(self, sighting_id: int) -> Sighting:
        """One sighting."""
        return _only(self.sightings(SightingQuery(ids=(sighting_id,))), "sighting", sighting_id)

    def tabs(self, page: int | None = None, states: Sequence[State] = ()) -> list[TabRecord]:
        """Tablature systems, page by page."""
        conditions: dict[str, tuple[Any, ...]] = {"tab.state != 'absent'": ()}
        if page is not None:
            conditions["tab.page_id = ?"] = (page,)
        if states:
            conditions[f"tab.state IN ({rows.marks(states)})"] = tuple(states)
        with self._database.read() as db:
            return rows.select_tabs(db, " AND ".join(conditions), [v for values in conditions.values() for v in values])

    def tab_ids(self, states: Sequence[State]) -> list[int]:
        """Numbers of the tablature systems in some states, page by page; quick, for what is left to do."""
        with self._database.read() as db:
            found = db.execute(
                f"SELECT id FROM tab WHERE state IN ({rows.marks(states)}) ORDER BY page_id, number, id", tuple(states)
            )
            return [int(row["id"]) for row in found]

    def tab(self, tab_id: int) -> TabRecord:
        """One tablature system."""
        with self._database.read() as db:
            return _only(rows.select_tabs(db, "tab.id = ?", (tab_id,)), "tab", tab_id)

    def crop(self, sighting_id: int) -> bytes | None:
        """The picture of a diagram as an encoded picture; None when none was kept."""
        return self._crop("diagram", sighting_id)

    def current_crop(self, sighting_id: int) -> bytes | None:
        """The same, but None as well when it was cut by other corners than those that stand."""
        with self._database.read() as db:
            row = db.execute(
                "SELECT image FROM crop JOIN sighting ON sighting.id = crop.item "
                "WHERE kind = 'diagram' AND item = ? AND standing -> 'corners' = reading -> 'corners'",
                (sighting_id,),
            ).fetchone()
        return None if row is None else bytes(row["image"])

    def tab_crop(self, tab_id: int) -> bytes | None:
        """The picture of a tablature system as an encoded picture; None when none was kept."""
        return self._crop("tab", tab_id)

    def _crop(self, kind: str, item: int) -> bytes | None:
        with self._database.read() as db:
            row = db.execute("SELECT image FROM crop WHERE kind = ? AND item = ?", (kind, item)).fetchone()
        return None if row is None else bytes(row["image"])

    def collect(self, query: Query | None = None, *, title: str = "", crops: bool = False) -> Collection:
        """Entries with everything around them, for the exporters.

        Parameters
        ----------
        query : Query, optional
            With one, tabs are left out: they have no shape to ask for.
        title : str
            The name of the library's file by default.
        crops : bool
            Bring one kept picture per entry.
        """
        entries = self.entries(query)
        seen: dict[int | None, list[Sighting]] = {}
        for sighting in self.sightings(SightingQuery(states=COUNTED)):
            seen.setdefault(sighting.entry_id, []).append(sighting)
        collected = [
            Collected(e, tuple(seen.get(e.id, ())), self._best_crop(e, seen.get(e.id, [])) if crops else b"")
            for e in entries
        ]
        tabs = self.tabs(states=COUNTED) if query is None else []
        wanted = {s.page_id for c in collected for s in c.sightings} | {t.page_id for t in tabs}
        pages = [p for p in self.pages() if query is None or p.id in wanted]
        return Collection(title or self.path.stem, tuple(collected), tuple(pages), tuple(tabs))

    def _best_crop(self, entry: Entry, sightings: list[Sighting]) -> bytes:
        by_trust = sorted(
            sightings, key=lambda s: (s.standing.frame != entry.frame, ENTRY_STATES.index(s.state), -s.confidence)
        )
        return next((crop for s in by_trust if (crop := self.crop(s.id))), b"")

    def state_counts(self) -> dict[str, int]:
        """How many sightings stand in each state; quick, for progress after every decision."""
        with self._database.read() as db:
            found = db.execute("SELECT state, count(*) FROM sighting GROUP BY state ORDER BY state").fetchall()
        return {state: count for state, count in found if state != "absent"}

    def flag_counts(self, states: Sequence[State], origin: Origin | None = None) -> dict[tuple[str, ...], int]:
        """How many sightings in some states bear the same flags, by the codes of these flags."""
        with self._database.read() as db:
            found = db.execute(
                f"SELECT flags, count(*) FROM sighting WHERE state IN ({rows.marks(states)}) "
                "AND (? IS NULL OR origin = ?) GROUP BY flags",
                (*states, origin, origin),
            )
            return {tuple(codes.split()): count for codes, count in found}

    def outcomes(self) -> list[Outcome]:
        """What became of every sighting, without the readings themselves."""
        decided = f"WHEN state IN ({rows.marks(tuple(SETTLED))})"
        right = "state != 'rejected' AND standing -> 'frets' = reading -> 'frets'"
        with self._database.read() as db:
            found = db.execute(
                f"SELECT id, state, origin, confidence, flags, CASE {decided} THEN {right} END AS right "
                "FROM sighting WHERE state != 'absent' ORDER BY id",
                tuple(SETTLED),
            )
            return [rows.to_outcome(row) for row in found]

    def summary(self) -> Summary:
        """Counts over the whole library."""
        flags: Counter[str] = Counter()
        for codes, count in self.flag_counts(("unchecked", "accepted")).items():
            flags.update(dict.fromkeys(codes, count))
        with self._database.read() as db:
            (pages,) = db.execute("SELECT count(*) FROM page").fetchone()
            (tabs,) = db.execute("SELECT count(*) FROM tab WHERE state NOT IN ('absent', 'rejected')").fetchone()
            (tabs_due,) = db.execute("SELECT count(*) FROM tab WHERE state = 'unchecked'").fetchone()
        states = self.state_counts()
        return Summary(
            pages=pages,
            entries=self.count(),
            sightings=sum(n for state, n in states.items() if state != "rejected"),
            tabs=tabs,
            due=states.get("unchecked", 0) + tabs_due,
            by_state=states,
            flags=dict(flags.most_common()),
        )

    # ------------------------------------------------------------ history, settings, spot checks

    def next_undo(self) -> Step | None:
        """What undo would take back."""
        with self._database.read() as db:
            step = history.next_undo(db)
            return None if step is None else history.get_step(db, step)

    def next_redo(self) -> Step | None:
        """What redo would put in force again."""
        with self._database.read() as db:
            step = history.next_redo(db)
            return None if step is None else history.get_step(db, step)

    def history(self, limit: int = 100, *, before: int | None = None, sighting: int | None = None) -> list[Step]:
        """Steps, latest first: all, those before a step, or those that touched one sighting."""
        item: tuple[history.Kind, int] | None = None if sighting is None else ("diagram", sighting)
        with self._database.read() as db:
            return history.list_steps(db, limit, before, item)

    def touched_by(self, step_id: int, kind: Kind = "diagram") -> list[int]:
        """Sightings that a step changed, or tablature systems."""
        with self._database.read() as db:
            found = db.execute("SELECT item FROM change WHERE step_id = ? AND kind = ? ORDER BY item", (step_id, kind))
            return [int(row["item"]) for row in found]

    def setting(self, key: str, default: Any = None) -> Any:
        """A stored value; anything that JSON can hold."""
        with self._database.read() as db:
            row = db.execute("SELECT value FROM setting WHERE key = ?", (key,)).fetchone()
        return default if row is None else json.loads(row["value"])

    def calibration(self) -> dict[str, Any] | None:
        """The calibration in force, as it was given to `calibrate`; None when none is."""
        with self._database.read() as db:
            row = db.execute(
                "SELECT model FROM calibration JOIN setting ON setting.key = ? AND calibration.id = value ->> '$'",
                (history.CALIBRATION_KEY,),
            ).fetchone()
        return None if row is None else dict(json.loads(row["model"]))

    def checks(self, sample: str | None = None) -> list[SpotCheck]:
        """Spot checks, in the order in which they were answered; all, or those of one sample."""
        with self._database.read() as db:
            found = db.execute("SELECT * FROM spot_check WHERE ? IS NULL OR sample = ? ORDER BY id", (sample, sample))
            return [rows.to_spot_check(row) for row in found]


def _only(found: list[Item], what: str, number: int) -> Item:
    if not found:
        raise LibraryError(f"The library has no {what} {number}.")
    return found[0]
