"""JSON: everything that is known of every shape, in a form with a published schema; `parse_json` reads it back.

Times and names of who decided, and the kept pictures, stay in the library file.
"""

from __future__ import annotations

import json
from typing import Any

from reader.errors import InputError
from reader.export import Exported
from reader.export.json_schema import FORM, SCHEMA, VERSION
from reader.library.collection import Collected, Collection
from reader.library.entry import PageRecord, Sighting, TabRecord, entry_to_object
from reader.reading import diagram_to_object, frame_to_object, tab_to_object


def to_json(collection: Collection) -> Exported:
    """A collection as JSON, and the schema that describes it."""
    files = {"index.json": _encode(to_object(collection)), "index.schema.json": _encode(SCHEMA)}
    return Exported(files, ("pictures of the ink and the history of decisions stay in the library file.",))


def to_object(collection: Collection) -> dict[str, Any]:
    """A collection as plain lists and dictionaries, as `SCHEMA` describes them."""
    return {
        "form": FORM,
        "version": VERSION,
        "title": collection.title,
        "pages": [_page(page) for page in collection.pages],
        "entries": [_entry(collected) for collected in collection.entries],
        "tabs": [_tab(tab) for tab in collection.tabs],
    }


def parse_json(text: str, origin: str) -> dict[str, Any]:
    """The object that `to_json` wrote.

    Parameters
    ----------
    text : str
    origin : str
        Where it is from, for messages.

    Raises
    ------
    InputError
        When it is not JSON, not of this form, or of a newer version.
    """
    try:
        data = json.loads(text)
    except ValueError as error:
        raise InputError(f"{origin} is not JSON ({error}): export it again.") from None
    if not isinstance(data, dict) or data.get("form") != FORM:
        raise InputError(f'{origin} is JSON, but not an exported collection: it should begin with "form": "{FORM}".')
    if not isinstance(data.get("version"), int) or data["version"] > VERSION:
        raise InputError(
            f"{origin} is of version {data.get('version')} and this program reads up to {VERSION}: update it."
        )
    return data


def _encode(data: dict[str, Any]) -> bytes:
    return (json.dumps(data, ensure_ascii=False, indent=1) + "\n").encode("utf-8")


def _page(page: PageRecord) -> dict[str, Any]:
    return {
        "source": page.source,
        "sha256": page.sha256,
        "page": page.number,
        "width": page.width,
        "height": page.height,
    }


def _entry(collected: Collected) -> dict[str, Any]:
    return {
        **entry_to_object(collected.entry),
        "difficulty": collected.entry.facts.difficulty,
        "sightings": [_sighting(s) for s in collected.sightings],
    }


def _sighting(sighting: Sighting) -> dict[str, Any]:
    standing = sighting.standing
    return {
        "source": sighting.source or None,
        "sha256": sighting.sha256 or None,
        "page": sighting.page or None,
        "origin": sighting.origin,
        "state": sighting.state,
        "confidence": round(sighting.confidence, 4),
        "standing": {
            "corners": [list(c) for c in standing.corners],
            **frame_to_object(standing.frame),
            "label": standing.label,
            "tuning": standing.tuning,
        },
        "reading": diagram_to_object(sighting.reading),
    }


def _tab(tab: TabRecord) -> dict[str, Any]:
    return {
        "source": tab.source,
        "sha256": tab.sha256,
        "page": tab.page,
        "state": tab.state,
        "confidence": round(tab.confidence, 4),
        "standing": tab_to_object(tab.standing.tab),
        "reading": tab_to_object(tab.reading),
    }
