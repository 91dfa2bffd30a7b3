"""What happens when something is pressed: one decision, and what the page shows next."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from reader.errors import InputError, NotationError
from reader.library.entry import Sighting, Step
from reader.library.history import StaleError
from reader.music.frame import Frame
from reader.music.shape import Shape
from reader.reading import Corners, tab_to_object
from reader.review.desk import Desk, halves
from reader.review.edits import Draft, apply_edit, draft_from, type_fingers, with_frets
from reader.review.pages import Pages, filter_from
from reader.review.tab_edits import apply_edit as apply_tab_edit
from reader.review.tab_edits import tab_from, without_empty
from reader.review.tab_laying import LaidTab, places_of

Data = Mapping[str, Any]
Answer = Mapping[str, Any]


class Answers:
    """Actions of one desk.

    Parameters
    ----------
    desk : Desk
    pages : Pages
    """

    def __init__(self, desk: Desk, pages: Pages) -> None:
        self._desk = desk
        self._pages = pages
        self._t = desk.texts

    # ------------------------------------------------------------ one reading

    def next(self, data: Data) -> Answer:
        """The next reading that is due, or the one asked for; nothing is decided."""
        if data.get("id") is not None:
            return self._shown(self._desk.library.sighting(int(data["id"])), data)
        return self._next(data)

    def edit(self, data: Data) -> Answer:
        """One change of the draft."""
        sighting = self._desk.library.sighting(int(data["id"]))
        draft = draft_from(data["draft"])
        if data["edit"] != "show":
            draft = apply_edit(draft, str(data["edit"]), data.get("values", {}))
        return {**self._pages.drawn(sighting, draft), "draft": draft.to_object()}

    def accept(self, data: Data) -> Answer:
        """The reading is as the draft says; on to the next."""
        draft = draft_from(data["draft"])
        return self._decided(data, lambda i, step: self._desk.accept(i, draft, step), draft)

    def reject(self, data: Data) -> Answer:
        """No diagram; on to the next."""
        return self._decided(data, lambda i, step: self._desk.reject([i], step), None)

    def _decided(self, data: Data, decide: Callable[[int, int], Step], draft: Draft | None) -> Answer:
        number = int(data["id"])
        try:
            step = decide(number, int(data["step"]))
        except StaleError:
            # somebody else's decision is shown beneath the draft, which is kept: nothing is lost on either side
            sighting = self._desk.library.sighting(number)
            html = self._pages.reading(sighting, filter_from(data), draft)
            return {"html": html, "id": number, "said": self._t("said.stale"), "trouble": True}
        return {**self._next(data), "said": self._t(f"said.{step.action}"), "decided": number}

    def _next(self, data: Data) -> Answer:
        later = [int(i) for i in data.get("later", ())]
        return self._shown(self._desk.next_due(filter_from(data), later), data)

    def _shown(self, sighting: Sighting | None, data: Data) -> Answer:
        wanted = filter_from(data)
        return {"html": self._pages.reading(sighting, wanted), "id": None if sighting is None else sighting.id}

    # ------------------------------------------------------------ back and forth

    def undo(self, data: Data) -> Answer:
        """Take the last decision back and show what it was about."""
        return self._turned(self._desk.library.undo(self._desk.who), "undo", data)

    def redo(self, data: Data) -> Answer:
        """Put it in force again."""
        return self._turned(self._desk.library.redo(self._desk.who), "redo", data)

    def _turned(self, step: Step | None, way: str, data: Data) -> Answer:
        if step is None:
            return {"said": self._t(f"said.nothing-to-{way}")}
        said = self._t(f"said.{way}", action=self._t(f"action.{step.action}"))
        sighting = self._desk.touched_last()
        if sighting is None:
            tab = next(iter(self._desk.library.touched_by(self._desk.last_step(), "tab")), None)
            shown = {"go": f"/tabs?id={tab}"} if tab is not None else self._next(data)
        else:
            shown = self._shown(sighting, data)
        return {**shown, "said": said, "step": self._desk.last_step()}

    def restore(self, data: Data) -> Answer:
        """Back to how all stood after a step."""
        self._desk.library.restore(int(data["step"]), self._desk.who)
        return {"said": self._t("said.restore"), "go": "/history"}

    # ------------------------------------------------------------ many

    def accept_many(self, data: Data) -> Answer:
        """Several are right as they stand."""
        return self._many(data, self._desk.accept_many, "said.accept-many")

    def reject_many(self, data: Data) -> Answer:
        """Several are no diagrams."""
        return self._many(data, self._desk.reject, "said.reject-many")

    def _many(self, data: Data, decide: Callable[[Sequence[int], int], Step], told: str) -> Answer:
        try:
            said, trouble = self._t(told, count=decide(_ids(data), int(data["step"])).size), False
        except StaleError:
            said, trouble = self._t("said.stale-many"), True
        return {"said": said, "trouble": trouble, "step": self._desk.last_step()}

    # ------------------------------------------------------------ boxes on a page

    def read_box(self, data: Data) -> Answer:
        """Read what was drawn around."""
        number = self._desk.add_box(int(data["id"]), _corners(data["corners"]))
        return {"said": self._t("said.add"), "go": f"/?id={number}"}

    def split(self, data: Data) -> Answer:
        """One reading becomes two."""
        sighting = self._desk.library.sighting(int(data["sighting"]))
        at = min(0.9, max(0.1, float(data["at"])))
        boxes = halves(sighting.standing.corners, at, bool(data["across"]))
        first, *_ = self._desk.split(sighting.id, boxes, int(data["step"]))
        return {"said": self._t("said.split"), "go": f"/?id={first}"}

    def merge(self, data: Data) -> Answer:
        """Several readings become one."""
        number = self._desk.merge(_ids(data), int(data["step"]))
        return {"said": self._t("said.merge"), "go": f"/?id={number}"}

    # ------------------------------------------------------------ tabs

    def edit_tab(self, data: Data) -> Answer:
        """One change of the draft."""
        record, draft = self._desk.library.tab(int(data["id"])), tab_from(data["draft"])
        values = dict(data.get("values", {}))
        if data["edit"] == "event":
            # a place on the picture is sent, not one on the page
            values["x"] = LaidTab(draft, places_of(record.reading)).page_x(float(values["x"]))
        draft = apply_tab_edit(draft, str(data["edit"]), values)
        added = next((i for i, e in enumerate(draft.events) if e.x == values.get("x")), None)
        return {**self._pages.tab_drawn(record, draft), "draft": tab_to_object(draft), "added": added}

    def accept_tab(self, data: Data) -> Answer:
        """A tablature system is as the draft says; on to the next."""
        record, draft = self._desk.library.tab(int(data["id"])), without_empty(tab_from(data["draft"]))
        said = {name: getattr(draft, name) for name in ("corners", "line_count", "events", "tuning")}
        tab = replace(record.standing.tab, **said)
        return self._tab_decided(
            record.id,
            lambda step: self._desk.library.settle_tab(record.id, self._desk.who, tab=tab, expected=step),
            data,
        )

    def reject_tab(self, data: Data) -> Answer:
        """No tablature."""
        number = int(data["id"])
        return self._tab_decided(
            number, lambda step: self._desk.library.reject_tabs([number], self._desk.who, expected=step), data
        )

    def _tab_decided(self, number: int, decide: Callable[[int], Step], data: Data) -> Answer:
        try:
            step = decide(int(data["step"]))
        except StaleError:
            # decided again, it replaces what stands now
            return {"said": self._t("said.stale-tab"), "trouble": True, "step": self._desk.last_step()}
        return {"said": self._t(f"said.{step.action}"), "go": "/tabs"}

    # ------------------------------------------------------------ spot check

    def draw(self, data: Data) -> Answer:
        """A fresh draw."""
        sample = self._desk.draw_sample(int(data["count"]), float(data["target"]))
        if not sample.drawn:
            raise InputError(self._t("check.nothing-accepted"))
        return {"said": self._t("said.draw", count=len(sample.drawn)), "go": "/check"}

    def check(self, data: Data) -> Answer:
        """An answer: kept when it agrees, else both are shown until one of them is kept."""
        sample, sighting, given = self._asked(data)
        read = sighting.reading.frame
        said_fingers = any(f is not None for f in given.fingers)
        agrees = given.frets == read.frets and (not said_fingers or given.fingers == read.fingers)
        if data.get("keep") == "mine":
            keep = given if said_fingers else with_frets(read, given.frets)
        elif data.get("keep") == "read" or agrees:
            keep = read
        else:
            return {"compare": self._pages.compared(sighting, given)}
        self._desk.answer(sample, sighting, given, keep)
        right = keep.frets == read.frets
        return {"said": self._t("said.check-right" if right else "said.check-wrong"), "go": "/check"}

    def _asked(self, data: Data) -> tuple[Any, Sighting, Frame]:
        sample = self._desk.sample()
        if sample is None:
            raise InputError(self._t("check.no-draw"))
        sighting = self._desk.library.sighting(int(data["id"]))
        frame = with_frets(sighting.reading.frame, Shape.parse(str(data["frets"])).frets)
        draft = Draft(frame, None, sighting.reading.tuning)
        return sample, sighting, type_fingers(draft, str(data.get("fingers", ""))).frame

    def check_no_diagram(self, data: Data) -> Answer:
        """The picture shows none."""
        sample = self._desk.sample()
        if sample is None:
            raise InputError(self._t("check.no-draw"))
        self._desk.answer_no_diagram(sample, self._desk.library.sighting(int(data["id"])))
        return {"said": self._t("said.check-wrong"), "go": "/check"}

    # ------------------------------------------------------------ learning

    def learn(self, data: Data) -> Answer:
        """Put a recalibration in force."""
        change = self._desk.recalibrate()
        said = self._t("said.learn", more=change.newly_due, fewer=change.no_longer_due)
        return {"said": said, "go": "/learn"}


def _ids(data: Data) -> list[int]:
    ids = [int(i) for i in data["ids"]]
    if not ids:
        raise InputError("Nothing is chosen: choose at least one reading.")
    return ids


def _corners(points: Sequence[Sequence[float]]) -> Corners:
    if len(points) != 4:
        raise NotationError("A box has four corners: draw it again.")
    return tuple((float(x), float(y)) for x, y in points)
