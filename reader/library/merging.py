"""Two collections become one: pages are told apart by checksum, diagrams on the same page by where they lie.

    theirs is new                             it comes in with its whole history
    both have it, only they settled it        their decision is taken over
    both settled it, and differently          a conflict: listed, ours kept unless asked otherwise
    everything else                           stays as it is

All of it is one step that can be undone.
"""

from __future__ import annotations

import math
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

from reader.library.adding import add_source, insert_page_row, insert_sighting_row, insert_tab_row
from reader.library.entry import COUNTED, SETTLED, Sighting, Standing, TabRecord, TabStanding
from reader.library.history import Change, add_past_step, add_step, make_changes
from reader.library.incoming import Incoming, IncomingPage, IncomingSighting, IncomingTab, PastChange, PastStep
from reader.library.rows import SightingQuery, select_pages, select_sightings, select_tabs
from reader.library.store import Library
from reader.library.tally import refresh_entries
from reader.reading import Corners

Prefer = Literal["ours", "theirs"]

SAME_PLACE = 0.3
"""Two diagrams are one when their middles are closer than this share of the smaller one's size."""

Theirs = TypeVar("Theirs", IncomingSighting, IncomingTab)
Ours = TypeVar("Ours", Sighting, TabRecord)


@dataclass(frozen=True, slots=True)
class Conflict:
    """Something that was settled differently on both sides."""

    source: str
    page: int
    number: int
    ours: str
    theirs: str
    kept: Prefer


@dataclass(frozen=True, slots=True)
class MergeReport:
    """What a merge did; ``adopted`` counts decisions of theirs on what we had not settled."""

    pages: int
    sightings: int
    tabs: int
    adopted: int
    conflicts: tuple[Conflict, ...]


class _Merge:
    """One merge under way: the numbers of steps taken over, and what the closing step has to record."""

    def __init__(self, db: sqlite3.Connection, who: str, prefer: Prefer) -> None:
        self.db = db
        self.who = who
        self.prefer = prefer
        self.steps: dict[PastStep, int] = {}
        self.changes: list[Change] = []
        self.entries: set[int] = set()
        self.pages = self.sightings = self.tabs = self.adopted = 0
        self.conflicts: list[Conflict] = []

    # ------------------------------------------------------------ what is new

    def add_page(self, page: IncomingPage) -> int:
        """A page that we do not have."""
        self.pages += 1
        source = add_source(self.db, page.sha256, page.reading.source, page.places)
        return insert_page_row(self.db, source, page.reading)

    def add_sighting(self, page_id: int | None, theirs: IncomingSighting) -> None:
        """A diagram that we do not have, with everything that was decided about it."""
        step = self._take_over(theirs.history)
        sighting, entry = insert_sighting_row(
            self.db,
            step,
            page_id,
            theirs.reading,
            theirs.standing,
            theirs.load_crop(),
            theirs.origin,
            theirs.confidence,
        )
        self._record("diagram", sighting, theirs.history)
        self.entries.add(entry)
        self.sightings += 1
        absent = replace(theirs.standing, state="absent")
        self.changes.append(Change("diagram", sighting, absent.to_json(), theirs.standing.to_json()))

    def add_tab(self, page_id: int, theirs: IncomingTab) -> None:
        """A tab that we do not have, with everything that was decided about it."""
        step = self._take_over(theirs.history)
        tab = insert_tab_row(
            self.db, step, page_id, theirs.reading, theirs.standing, theirs.load_crop(), theirs.confidence
        )
        self._record("tab", tab, theirs.history)
        self.tabs += 1
        absent = replace(theirs.standing, state="absent")
        self.changes.append(Change("tab", tab, absent.to_json(), theirs.standing.to_json()))

    def _take_over(self, history: Sequence[PastChange]) -> int:
        for change in history:
            if change.step not in self.steps:
                past = change.step
                self.steps[past] = add_past_step(self.db, past.at, past.who, past.action, past.note)
        return self.steps[history[-1].step]

    def _record(self, kind: Literal["diagram", "tab"], item: int, history: Sequence[PastChange]) -> None:
        rows = [(self.steps[c.step], kind, item, c.before, c.after) for c in history]
        self.db.executemany("INSERT INTO change (step_id, kind, item, before, after) VALUES (?, ?, ?, ?, ?)", rows)

    # ------------------------------------------------------------ what both have

    def settle(
        self, kind: Literal["diagram", "tab"], ours: Sighting | TabRecord, theirs: IncomingSighting | IncomingTab
    ) -> None:
        """One thing that both have: take their decision over, or note that the two disagree."""
        mine, other = ours.standing, theirs.standing
        if other.state not in SETTLED or mine == other:
            return
        if mine.state in SETTLED:
            if _meaning(mine) == _meaning(other):
                return
            conflict = Conflict(ours.source, ours.page, ours.number, _says(mine), _says(other), self.prefer)
            self.conflicts.append(conflict)
            if self.prefer == "ours":
                return
        else:
            self.adopted += 1
        self.changes.append(Change(kind, ours.id, mine.to_json(), other.to_json()))


def merge_into(library: Library, incoming: Incoming, who: str, prefer: Prefer = "ours") -> MergeReport:
    """Merge pages, sightings and decisions into a library; all or nothing, and one step to undo.

    Parameters
    ----------
    library : Library
    incoming : Incoming
        From another library, or from an exported file.
    who : str
        Noted as the one who merged.
    prefer : {'ours', 'theirs'}
        Whose decision stands where both sides settled a sighting differently.
    """
    with library.deciding() as db:
        merge = _Merge(db, who, prefer)
        for page in incoming.pages:
            _merge_page(merge, page)
        _merge_loose(merge, incoming.loose)
        refresh_entries(db, merge.entries)
        if merge.changes:
            step = add_step(db, who, "merge", incoming.origin)
            make_changes(db, step, merge.changes)
    return MergeReport(merge.pages, merge.sightings, merge.tabs, merge.adopted, tuple(merge.conflicts))


def _merge_page(merge: _Merge, page: IncomingPage) -> None:
    known = select_pages(merge.db, "source.sha256 = ? AND page.number = ?", page.key)
    if known:
        add_source(merge.db, page.sha256, page.reading.source, page.places)
    page_id = known[0].id if known else merge.add_page(page)
    sightings = select_sightings(merge.db, SightingQuery(page=page_id))
    tabs = select_tabs(merge.db, "tab.page_id = ? AND tab.state != 'absent'", (page_id,))
    for theirs, ours in _paired([s for s in page.sightings if s.standing.state != "absent"], sightings):
        if ours is None:
            merge.add_sighting(page_id, theirs)
        else:
            merge.settle("diagram", ours, theirs)
    for their_tab, our_tab in _paired([t for t in page.tabs if t.standing.state != "absent"], tabs):
        if our_tab is None:
            merge.add_tab(page_id, their_tab)
        else:
            merge.settle("tab", our_tab, their_tab)


def _merge_loose(merge: _Merge, loose: Iterable[IncomingSighting]) -> None:
    """Shapes without a page: one is enough of each shape, tuning and label."""
    rows = merge.db.execute("SELECT standing FROM sighting WHERE page_id IS NULL AND state != 'absent'")
    known = {_meaning(Standing.from_json(row["standing"])) for row in rows.fetchall()}
    for theirs in loose:
        if theirs.standing.state in COUNTED and _meaning(theirs.standing) not in known:
            known.add(_meaning(theirs.standing))
            merge.add_sighting(None, theirs)


def _paired(theirs: Sequence[Theirs], ours: Sequence[Ours]) -> list[tuple[Theirs, Ours | None]]:
    """Each of theirs with the nearest of ours that lies at the same place, each of ours given once."""
    free = list(ours)
    pairs: list[tuple[Theirs, Ours | None]] = []
    for one in theirs:
        near = [o for o in free if _same_place(one.reading.corners, o.reading.corners)]
        best = min(near, key=lambda o: _apart(one.reading.corners, o.reading.corners), default=None)
        if best is not None:
            free.remove(best)
        pairs.append((one, best))
    return pairs


def _same_place(left: Corners, right: Corners) -> bool:
    return _apart(left, right) < SAME_PLACE * min(_size(left), _size(right))


def _apart(left: Corners, right: Corners) -> float:
    return math.dist(_middle(left), _middle(right))


def _middle(corners: Corners) -> tuple[float, float]:
    return sum(x for x, _ in corners) / len(corners), sum(y for _, y in corners) / len(corners)


def _size(corners: Corners) -> float:
    """The shorter side."""
    return min(math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2]))


def _meaning(standing: Standing | TabStanding) -> object:
    """What a decision comes to; two of them are in conflict when this differs."""
    if standing.state == "rejected":
        return None
    if isinstance(standing, TabStanding):
        return standing.tab.events, standing.tab.bar_lines, standing.tab.tuning
    return standing.frame, standing.tuning, standing.label


def _says(standing: Standing | TabStanding) -> str:
    """A decision in a few words, for people."""
    if standing.state == "rejected":
        return "rejected"
    if isinstance(standing, TabStanding):
        return f"tab of {len(standing.tab.events)} events and {len(standing.tab.bar_lines)} bar lines"
    fingers = "".join("-" if f is None else str(f) for f in standing.frame.fingers)
    label = f" '{standing.label}'" if standing.label else ""
    return f"{standing.frame.shape} from fret {standing.frame.first_fret}, fingers {fingers}, {standing.tuning}{label}"
