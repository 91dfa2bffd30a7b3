"""The way back in: an exported JSON or CSV as something that can be merged into a library."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from typing import Any

from reader.errors import InputError
from reader.export.csv_ import ShapeLine, parse_csv
from reader.export.json_ import parse_json
from reader.library.entry import Standing, TabStanding
from reader.library.history import now
from reader.library.incoming import Incoming, IncomingPage, IncomingSighting, IncomingTab, PastChange, PastStep
from reader.reading import Corners, PageReading, Reading, diagram_from_object, frame_from_object, tab_from_object

NO_PLACE: Corners = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
"""Corners of a shape that was seen on no page."""


def incoming_from_text(text: str, origin: str, suffix: str) -> Incoming:
    """What an exported file holds.

    Parameters
    ----------
    text : str
    origin : str
        What messages call the file.
    suffix : str
        ``.json`` or ``.csv``.

    Raises
    ------
    InputError
        When the file is of neither form or cannot be understood.
    """
    read = _READERS.get(suffix.lower())
    if read is None:
        raise InputError(f"{origin} is neither a library nor an exported JSON or CSV file: name one of these.")
    try:
        return read(text, origin)
    except (KeyError, TypeError, ValueError) as error:
        reason = f"{type(error).__name__}: {error}"
        raise InputError(f"{origin} is not what an export writes ({reason}): export it again.") from None


def _from_json(text: str, origin: str) -> Incoming:
    data = parse_json(text, origin)
    step = PastStep(0, now(), origin, "import")
    sightings: dict[tuple[str, int], list[IncomingSighting]] = defaultdict(list)
    loose = []
    for entry in data["entries"]:
        for item in entry["sightings"]:
            sighting = _sighting(item, step)
            if item["sha256"] is None:
                loose.append(sighting)
            else:
                sightings[item["sha256"], item["page"]].append(sighting)
    tabs: dict[tuple[str, int], list[IncomingTab]] = defaultdict(list)
    for item in data["tabs"]:
        tabs[item["sha256"], item["page"]].append(_tab(item, step))
    pages = [_page(p, sightings[p["sha256"], p["page"]], tabs[p["sha256"], p["page"]]) for p in data["pages"]]
    return Incoming(origin, tuple(pages), tuple(loose))


def _page(data: dict[str, Any], sightings: list[IncomingSighting], tabs: list[IncomingTab]) -> IncomingPage:
    reading = PageReading(
        data["source"],
        data["page"],
        data["width"],
        data["height"],
        tuple(s.reading for s in sightings if s.origin == "page"),
        tuple(t.reading for t in tabs),
    )
    return IncomingPage(reading, data["sha256"], tuple(sightings), tuple(tabs))


def _sighting(data: dict[str, Any], step: PastStep) -> IncomingSighting:
    said = data["standing"]
    corners = tuple((float(x), float(y)) for x, y in said["corners"])
    standing = Standing(data["state"], frame_from_object(said), said["tuning"], said["label"], corners)
    return IncomingSighting(
        diagram_from_object(data["reading"]), standing, data["origin"], data["confidence"], _came_in(step, standing)
    )


def _tab(data: dict[str, Any], step: PastStep) -> IncomingTab:
    standing = TabStanding(data["state"], tab_from_object(data["standing"]))
    return IncomingTab(tab_from_object(data["reading"]), standing, data["confidence"], _came_in(step, standing))


def _came_in(step: PastStep, standing: Standing | TabStanding) -> tuple[PastChange, ...]:
    return (PastChange(step, None, standing.to_json()),)


def _from_csv(text: str, origin: str) -> Incoming:
    step = PastStep(0, now(), origin, "import")
    return Incoming(origin, loose=tuple(_shape(line, step) for line in parse_csv(text, origin)))


def _shape(line: ShapeLine, step: PastStep) -> IncomingSighting:
    reading = Reading(NO_PLACE, line.frame, line.label, None, (), line.tuning, 1.0)
    standing = Standing(line.state, line.frame, line.tuning, line.label, NO_PLACE)
    return IncomingSighting(reading, standing, "import", 1.0, _came_in(step, standing))


_READERS: dict[str, Callable[[str, str], Incoming]] = {".json": _from_json, ".csv": _from_csv}
