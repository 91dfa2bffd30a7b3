"""What can be done at the desk, each one decision of the library that can be undone."""

from __future__ import annotations

import random
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from reader.confidence import DEFAULT_ACCEPT_ERROR, judge
from reader.errors import InputError, LibraryError
from reader.library.entry import SETTLED, CalibrationChange, Sighting, SpotCheck, Step
from reader.library.history import now
from reader.library.rows import SightingQuery
from reader.library.store import Library
from reader.music.frame import Frame
from reader.music.tuning import default_tuning
from reader.reading import Corners, Flag, Reading
from reader.review.edits import Draft
from reader.review.learning import LEAST_SETTLED, Proposal, may_be_let_through, propose
from reader.review.pictures import Pictures, cut_out
from reader.review.sampling import Sample, Verdict, draw, judge_answers
from reader.review.texts import Texts, english

if TYPE_CHECKING:
    from numpy.typing import NDArray

ReadRegion = Callable[[Any, "NDArray[Any]"], Reading | None]
"""Pixels of a page and four corners on it to a reading, or None when there is no diagram."""

ONLY_WITNESS = 0.15
"""How much earlier a reading is asked for whose shape nobody saw elsewhere: wrong, it would be a new wrong shape."""
SAMPLE_KEY = "spot-check"


@dataclass(frozen=True, slots=True)
class Filter:
    """Which readings are wanted; None for any."""

    flag: str | None = None
    source: str | None = None
    label: str | None = None

    def __bool__(self) -> bool:
        """Whether anything is asked for."""
        return bool(self.flag or self.source or self.label)

    def query(self, **more: Any) -> SightingQuery:
        """As a query of the library."""
        return SightingQuery(flag=self.flag, source=self.source, label=self.label, **more)


class Desk:
    """An open library on the desk of one person.

    Parameters
    ----------
    library : Library
    read_region : function
        Reads what lies within a box that a person drew.
    who : str
        Written beside every decision.
    texts : Texts
    chance : random.Random
        Draws spot checks.
    """

    def __init__(
        self,
        library: Library,
        read_region: ReadRegion,
        *,
        who: str,
        texts: Texts | None = None,
        chance: random.Random | None = None,
    ) -> None:
        self.library = library
        self.who = who
        self.texts = texts or english()
        self.pictures = Pictures(library)
        self._read_region = read_region
        self._chance = chance or random.SystemRandom()

    # ------------------------------------------------------------ the queue

    def order_queue(self) -> None:
        """Let readings of shapes that were seen nowhere else come earlier."""
        lonely = {e.id for e in self.library.entries() if e.sighting_count == 1 and e.due_count == 1}
        self.library.set_priorities({s.id: ONLY_WITNESS if s.entry_id in lonely else 0.0 for s in self.library.queue()})

    def next_due(self, wanted: Filter, left_for_later: Sequence[int] = ()) -> Sighting | None:
        """The most valuable reading that is due and was not left for later."""
        later = frozenset(left_for_later)
        queue = self.library.queue(wanted.query(limit=len(later) + 1))
        return next((s for s in queue if s.id not in later), None)

    def last_step(self) -> int:
        """Number of the latest step of the history."""
        return next((s.id for s in self.library.history(1)), 0)

    def touched_last(self) -> Sighting | None:
        """The first reading that the latest step changed and that is still there."""
        ids = tuple(self.library.touched_by(self.last_step())[:1])
        return next(iter(self.library.sightings(SightingQuery(ids=ids))), None) if ids else None

    # ------------------------------------------------------------ decisions

    def accept(self, sighting_id: int, draft: Draft, expected: int) -> Step:
        """The reading is as the draft says."""
        return self.library.settle(
            sighting_id, self.who, frame=draft.frame, label=draft.label, tuning=draft.tuning, expected=expected
        )

    def accept_many(self, ids: Sequence[int], expected: int) -> Step:
        """All of them are right as they stand."""
        return self.library.confirm(ids, self.who, expected=expected)

    def reject(self, ids: Sequence[int], expected: int) -> Step:
        """They are no diagrams."""
        return self.library.reject(ids, self.who, expected=expected)

    # ------------------------------------------------------------ boxes on a page

    def add_box(self, page_id: int, corners: Corners) -> int:
        """Read what a person drew a box around; returns the new sighting, due."""
        reading = self._read(page_id, corners)
        with self.library.many(self.who, "add"):
            return self._add(page_id, reading)

    def split(self, sighting_id: int, boxes: Sequence[Corners], expected: int) -> list[int]:
        """One reading was several diagrams: read each box anew in its place."""
        sighting = self.library.sighting(sighting_id)
        page_id = _page_of(sighting)
        readings = [self._read(page_id, box) for box in boxes]
        with self.library.many(self.who, "split"):
            self.library.reject([sighting_id], self.who, expected=expected)
            return [self._add(page_id, reading) for reading in readings]

    def merge(self, ids: Sequence[int], expected: int) -> int:
        """Several readings were one diagram: read the box around them anew in their place."""
        found = [self.library.sighting(i) for i in ids]
        page_id = _page_of(found[0])
        if len(found) < 2 or {s.page_id for s in found} != {page_id}:
            raise InputError("Only readings of one page can become one: choose two or more on the same page.")
        reading = self._read(page_id, box_around([s.standing.corners for s in found]))
        with self.library.many(self.who, "merge"):
            self.library.reject(ids, self.who, expected=expected)
            return self._add(page_id, reading)

    def _read(self, page_id: int, corners: Corners) -> Reading:
        import numpy as np

        reading = self._read_region(self.pictures.page_pixels(page_id), np.array(corners, float))
        return reading or self._blank(page_id, corners)

    def _blank(self, page_id: int, corners: Corners) -> Reading:
        """Where nothing can be read: an empty grid like the others of the page, for a person to fill in."""
        beside = self.library.sightings(SightingQuery(page=page_id, limit=1))
        tuning = beside[0].standing.tuning if beside else default_tuning(4).id
        count = beside[0].standing.frame.string_count if beside else 4
        flag = Flag("unread", self.texts("page.unread"))
        frame = Frame((0,) * count, (None,) * count, 4)
        return Reading(corners, frame, None, None, (), tuning, 0.0, (flag,))

    def _add(self, page_id: int, reading: Reading) -> int:
        crop = cut_out(self.pictures.page_pixels(page_id), reading.corners)
        return self.library.add_sighting(page_id, reading, crop, self.who, state="unchecked")

    # ------------------------------------------------------------ spot check

    def sample(self) -> Sample | None:
        """The draw that is being answered."""
        data = self.library.setting(SAMPLE_KEY)
        return None if data is None else Sample.from_object(data)

    def draw_sample(self, count: int, target: float) -> Sample:
        """A fresh draw among all accepted readings."""
        by_page: dict[int | None, list[int]] = {}
        for s in self.library.sightings(SightingQuery(states=("accepted",))):
            by_page.setdefault(s.page_id, []).append(s.id)
        population = sum(map(len, by_page.values()))
        name = uuid.uuid4().hex[:12]
        drawn = draw(by_page, count, self._chance)
        sample = Sample(name, drawn, population, len(by_page), target, now())
        self.library.set_setting(SAMPLE_KEY, sample.to_object())
        return sample

    def answers(self, sample: Sample) -> dict[int, SpotCheck]:
        """The answer to each sighting of a draw so far; a later one replaces an earlier one."""
        return {c.sighting_id: c for c in self.library.checks(sample.name)}

    def verdict(self, sample: Sample) -> Verdict:
        """What the answers so far say."""
        return judge_answers(sample, {i: c.agrees for i, c in self.answers(sample).items()})

    def next_check(self, sample: Sample) -> Sighting | None:
        """The next reading of a draw that has no answer yet."""
        answered = self.answers(sample)
        waiting = next((i for i in sample.drawn if i not in answered), None)
        return None if waiting is None else self.library.sighting(waiting)

    def answer(self, sample: Sample, sighting: Sighting, given: Frame, keep: Frame) -> None:
        """Keep an answer, and put the reading right where the two differ.

        Parameters
        ----------
        given : Frame
            The answer as first given.
        keep : Frame
            What is right after both were compared.
        """
        agrees = keep.frets == sighting.reading.frame.frets
        with self.library.many(self.who, "spot-check"):
            self.library.add_check(sighting.id, given, agrees, self.who, sample=sample.name)
            self.library.settle(sighting.id, self.who, frame=keep)

    def answer_no_diagram(self, sample: Sample, sighting: Sighting) -> None:
        """The picture shows no diagram: a wrong reading, taken out of the library."""
        with self.library.many(self.who, "spot-check"):
            self.library.add_check(sighting.id, sighting.reading.frame, False, self.who, sample=sample.name)
            self.library.reject([sighting.id], self.who)

    # ------------------------------------------------------------ recalibration

    def proposal(self) -> Proposal:
        """What this library's settled readings say about the open ones."""
        return propose(self.library.outcomes(), judge().least(DEFAULT_ACCEPT_ERROR))

    def recalibrate(self) -> CalibrationChange:
        """Put the proposal in force."""
        proposal = self.proposal()
        if not proposal.enough:
            raise LibraryError(self.texts("learn.too-few", settled=proposal.settled, least=LEAST_SETTLED))
        return self.library.calibrate(proposal.model(), proposal.estimates, proposal.accept_at, self.who)

    def telling_since(self) -> int:
        """How many decisions since the recalibration in force say something about the confidence."""
        counts = self.library.flag_counts(tuple(SETTLED), origin="page")
        telling = sum(count for codes, count in counts.items() if may_be_let_through(codes))
        return telling - int((self.library.calibration() or {}).get("settled", 0))


def _page_of(sighting: Sighting) -> int:
    if sighting.page_id is None:
        raise InputError("This shape was brought in without its page: there is nothing to read again.")
    return sighting.page_id


def box_around(corners: Sequence[Corners]) -> Corners:
    """The upright box around several grids."""
    xs = [x for c in corners for x, _ in c]
    ys = [y for c in corners for _, y in c]
    return (min(xs), min(ys)), (max(xs), min(ys)), (max(xs), max(ys)), (min(xs), max(ys))


def halves(corners: Corners, at: float, across: bool) -> tuple[Corners, Corners]:
    """A grid's box cut in two.

    Parameters
    ----------
    corners : four (x, y)
        As in a reading.
    at : float
        Where, 0 to 1 along the cut side.
    across : bool
        True for two diagrams beside each other, False for one above the other.
    """
    a, b, c, d = corners
    if across:
        top, bottom = _between(a, b, at), _between(d, c, at)
        return (a, top, bottom, d), (top, b, c, bottom)
    left, right = _between(a, d, at), _between(b, c, at)
    return (a, b, right, left), (left, right, c, d)


def _between(p: tuple[float, float], q: tuple[float, float], at: float) -> tuple[float, float]:
    return p[0] + (q[0] - p[0]) * at, p[1] + (q[1] - p[1]) * at
