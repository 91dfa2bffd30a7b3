"""What each view says, as HTML: values from `views`, forms from `templates/`."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import asdict, replace
from functools import cache
from pathlib import Path
from typing import Any

import jinja2

from reader.errors import LibraryError
from reader.library.entry import Sighting, State, TabRecord
from reader.library.rows import SightingQuery
from reader.music.frame import Frame
from reader.reading import TabReading
from reader.review.bounds import needed
from reader.review.desk import Desk, Filter
from reader.review.edits import Draft
from reader.review.laying import lattice_of, redrawing
from reader.review.learning import LEAST_SETTLED, bend_of
from reader.review.sampling import TARGETS
from reader.review.tab_view import tab_view
from reader.review.views import (
    card_view,
    crop_address,
    drawn_view,
    file_name,
    flag_choices,
    flag_title,
    progress_view,
    reading_view,
    shape_query,
    source_choices,
)

TEMPLATES = Path(__file__).parent / "templates"
STATIC = Path(__file__).parent / "static"
VIEWS = (
    ("desk", "/", "D"),
    ("many", "/many", "S"),
    ("pages", "/pages", "P"),
    ("tabs", "/tabs", "T"),
    ("check", "/check", "C"),
    ("learn", "/learn", "L"),
    ("history", "/history", "H"),
    ("keys", "/keys", "?"),
)
"""Each view: its name in the texts, its address, and the key that leads there."""
CARDS_AT_ONCE = 60
STATES: tuple[State, ...] = ("unchecked", "accepted", "confirmed", "corrected", "rejected")
STEPS_SHOWN = 100
SHAPES_SHOWN = 100


@cache
def static_address() -> str:
    """Where scripts and styles are fetched: another address whenever one of them changes, so that it is kept."""
    contents = b"".join(path.read_bytes() for path in sorted(STATIC.iterdir()))
    return f"/static/{hashlib.sha256(contents).hexdigest()[:12]}"


@cache
def _environment() -> jinja2.Environment:
    loader = jinja2.FileSystemLoader(TEMPLATES)
    made = jinja2.Environment(
        loader=loader, autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    made.filters["leaf"] = file_name
    return made


class Pages:
    """Views of one desk.

    Parameters
    ----------
    desk : Desk
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def render(self, template: str, **values: Any) -> str:
        """One template with the texts at hand."""
        library = self._desk.library
        frame: dict[str, Any] = {
            "t": self._desk.texts,
            "studio": library.path.stem,
            "title_of": self._flag_title,
            "views": VIEWS,
            "static": static_address(),
        }
        return _environment().get_template(template).render(**frame, **values)

    def _flag_title(self, code: str) -> str:
        return flag_title(code, self._desk.texts)

    def sorry(self, sentence: str) -> str:
        """A page that cannot be shown, and why."""
        return self.render("sorry.html", view="", sentence=sentence)

    # ------------------------------------------------------------ one reading

    def desk(self, asked: Mapping[str, str]) -> str:
        """The reading to look at now: the one asked for, or the most valuable."""
        wanted = filter_from(asked)
        if "id" in asked:
            sighting: Sighting | None = self._desk.library.sighting(int(asked["id"]))
        else:
            sighting = self._desk.next_due(wanted)
        return self.render("desk.html", view="desk", inner=self.reading(sighting, wanted), **self._choices(wanted))

    def _choices(self, wanted: Filter) -> dict[str, Any]:
        return {"filter": wanted, "state": "", "flags": flag_choices(self._desk), "sources": source_choices(self._desk)}

    def reading(self, sighting: Sighting | None, wanted: Filter, draft: Draft | None = None) -> str:
        """The part of the desk that changes from reading to reading."""
        if sighting is None:
            tabs = len(self._desk.library.tab_ids(("unchecked",)))
            return self.render("_empty.html", progress=progress_view(self._desk, wanted), filter=wanted, tabs=tabs)
        return self.render("_reading.html", **reading_view(self._desk, sighting, wanted, draft))

    def drawn(self, sighting: Sighting, draft: Draft) -> dict[str, str]:
        """The parts that change with every edit."""
        values = drawn_view(self._desk, sighting, draft)
        return {"stage": self.render("_stage.html", **values), "says": self.render("_says.html", **values)}

    # ------------------------------------------------------------ many

    def many(self, asked: Mapping[str, str]) -> str:
        """All sightings of one shape, or all that a filter lets through, side by side."""
        wanted, query = filter_from(asked), many_query(asked)
        library = self._desk.library
        shape = library.entry(query.entry) if query.entry is not None else None
        shapes = library.entries(replace(shape_query(wanted), limit=SHAPES_SHOWN))
        return self.render(
            "many.html",
            view="many",
            shape=shape,
            shapes=shapes,
            more_shapes=library.count(shape_query(wanted)) - len(shapes) if len(shapes) == SHAPES_SHOWN else 0,
            count=library.count_sightings(query),
            step=self._desk.last_step(),
            states=STATES,
            asked={k: v for k, v in asked.items() if v},
            **{**self._choices(wanted), "state": asked.get("state", "")},
        )

    def cards(self, asked: Mapping[str, str]) -> str:
        """Some of them, from an offset."""
        offset, count = int(asked.get("offset", 0)), int(asked.get("count", CARDS_AT_ONCE))
        query = replace(many_query(asked), limit=min(count, CARDS_AT_ONCE), offset=offset)
        found = self._desk.library.sightings(query)
        return self.render("_cards.html", cards=[card_view(s, offset + n) for n, s in enumerate(found, 1)])

    # ------------------------------------------------------------ pages and tabs

    def page_list(self, asked: Mapping[str, str]) -> str:
        """All pages, those with something due first."""
        pages = sorted(self._desk.library.pages(asked.get("source")), key=lambda p: (p.due_count == 0, p.id))
        return self.render("pages.html", view="pages", pages=pages)

    def page(self, asked: Mapping[str, str]) -> str:
        """One page with a box around each reading."""
        library, page_id = self._desk.library, int(asked["id"])
        on_page = library.sightings(SightingQuery(page=page_id, states=STATES[:4]))
        chosen = int(asked["choose"]) if asked.get("choose", "").isdigit() else None
        return self.render(
            "page.html",
            view="pages",
            page=library.page(page_id),
            there=library.picture_path(page_id) is not None,
            sightings=on_page,
            tabs=library.tabs(page_id, STATES[:4]),
            chosen=chosen,
            step=self._desk.last_step(),
        )

    def tab(self, asked: Mapping[str, str]) -> str:
        """One tablature system: the one asked for, or the next that is due."""
        library, due = self._desk.library, self._desk.library.tab_ids(("unchecked",))
        number = int(asked["id"]) if "id" in asked else next(iter(due), None)
        if number is None:
            return self.render("tab.html", view="tabs", record=None, left=0)
        record = library.tab(number)
        later = next((i for i in (*due[due.index(number) + 1 :], *due) if i != number), None) if number in due else None
        values = tab_view(record, self._desk.texts)
        return self.render("tab.html", view="tabs", left=len(due), later=later, **values)

    def tab_drawn(self, record: TabRecord, draft: TabReading) -> dict[str, str]:
        """The parts of a tab that change with every edit."""
        values = tab_view(record, self._desk.texts, draft)
        parts = {name: self.render(f"_tab_{name}.html", **values) for name in ("stage", "table")}
        return {**parts, "changed": "yes" if values["changed"] else ""}

    # ------------------------------------------------------------ spot check, learning, history

    def check(self, asked: Mapping[str, str]) -> str:
        """The spot check: draw, answer, compare, and what it says."""
        desk = self._desk
        sample = desk.sample()
        accepted = desk.library.count_sightings(SightingQuery(states=("accepted",)))
        targets = [(t, needed(t)) for t in TARGETS if needed(t) < accepted]
        whole = accepted <= max(map(needed, TARGETS))
        values: dict[str, Any] = {"sample": sample, "accepted": accepted, "targets": targets, "whole": whole}
        if sample is not None:
            values |= self._check_values(asked)
        return self.render("check.html", view="check", **values)

    def _check_values(self, asked: Mapping[str, str]) -> dict[str, Any]:
        desk, sample = self._desk, self._desk.sample()
        assert sample is not None
        answers = desk.answers(sample)
        now = desk.next_check(sample)
        seen = {desk.library.sighting(i).page_id for i in answers}
        wrong = [desk.library.sighting(i) for i, c in answers.items() if not c.agrees]
        slips = sum(
            c.agrees and c.given.frets != desk.library.sighting(i).reading.frame.frets for i, c in answers.items()
        )
        return {
            "verdict": desk.verdict(sample),
            "now": now,
            "crop": crop_address(now) if now is not None else "",
            "spot": desk.pictures.spot(now) if now is not None else None,
            "strings": now.reading.frame.string_count if now is not None else 0,
            "pages_seen": len(seen),
            "wrong": wrong,
            "slips": slips,
        }

    def compared(self, sighting: Sighting, given: Frame) -> str:
        """Two answers that differ, laid over the same picture."""
        both = [self._laid(sighting, f, key) for f, key in ((given, "mine"), (sighting.reading.frame, "read"))]
        spot = self._desk.pictures.spot(sighting)
        return self.render(
            "_compared.html", sighting=sighting, crop=crop_address(sighting), spot=spot, mine=both[0], read=both[1]
        )

    def _laid(self, sighting: Sighting, frame: Frame, key: str) -> dict[str, Any]:
        spot = self._desk.pictures.spot(sighting)
        lattice = lattice_of(sighting.reading.frame, spot)
        fits = frame.string_count == lattice.strings
        own = lattice if fits else lattice_of(frame, spot)
        return {"frame": frame, "svg": redrawing(frame, own, key=key), "fingers": frame.fingers}

    def learn(self, asked: Mapping[str, str]) -> str:
        """What settled readings say about the open ones."""
        proposal, in_force = self._desk.proposal(), self._desk.library.calibration()
        due = self._desk.library.state_counts().get("unchecked", 0)
        limits = [bend.before(proposal.accept_at) for bend in (bend_of(in_force), proposal.bend)]
        return self.render(
            "learn.html",
            view="learn",
            proposal=proposal,
            least=LEAST_SETTLED,
            in_force=in_force,
            due=due,
            limits=limits,
        )

    def history(self, asked: Mapping[str, str]) -> str:
        """Every decision, latest first."""
        before = int(asked["before"]) if asked.get("before") else None
        steps = self._desk.library.history(STEPS_SHOWN, before=before)
        earlier = steps[-1].id if len(steps) == STEPS_SHOWN else None
        undo, redo = self._desk.library.next_undo(), self._desk.library.next_redo()
        return self.render(
            "history.html", view="history", steps=[asdict(s) for s in steps], undo=undo, redo=redo, earlier=earlier
        )

    def keys(self, asked: Mapping[str, str]) -> str:
        """Every key."""
        return self.render("keys.html", view="keys", keys=self._desk.texts.part("keys."))


def filter_from(asked: Mapping[str, Any]) -> Filter:
    """The filter in an address or a request."""
    return Filter(*(str(asked[k]) if asked.get(k) else None for k in ("flag", "source", "label")))


def many_query(asked: Mapping[str, str]) -> SightingQuery:
    """Which sightings the wall shows."""
    state = asked.get("state", "")
    if state and state not in STATES:
        raise LibraryError(f"No reading stands as '{state}': choose from the list.")
    states: tuple[State, ...] = tuple(s for s in STATES if s == state)
    return filter_from(asked).query(states=states, entry=int(asked["shape"]) if asked.get("shape") else None)
