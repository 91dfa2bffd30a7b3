"""The JSON Schema (draft 2020-12) of an exported collection."""

from __future__ import annotations

from typing import Any

FORM = "inkfret-collection"
VERSION = 1

Schema = dict[str, Any]

_STATES = ["confirmed", "corrected", "accepted", "unchecked"]
_CONFIDENCE: Schema = {"type": "number", "minimum": 0, "maximum": 1}
_SHA256: Schema = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
_TEXT: Schema = {"type": "string"}
_TEXT_OR_NULL: Schema = {"type": ["string", "null"]}
_COUNT: Schema = {"type": "integer", "minimum": 1}


def _object(properties: Schema, optional: tuple[str, ...] = (), open_ended: bool = False) -> Schema:
    return {
        "type": "object",
        "properties": properties,
        "required": [name for name in properties if name not in optional],
        "additionalProperties": open_ended,
    }


def _list_of(items: Schema, **limits: Any) -> Schema:
    return {"type": "array", "items": items, **limits}


def _described(schema: Schema, words: str) -> Schema:
    return {**schema, "description": words}


_CORNERS = _list_of(_list_of({"type": "number"}, minItems=2, maxItems=2), minItems=4, maxItems=4)
_BARRE = _object({"fret": _COUNT, "from_string": _COUNT, "to_string": _COUNT})
_FRAME: Schema = {
    "string_count": _COUNT,
    "fret_count": _described(_COUNT, "fret spaces drawn"),
    "first_fret": _described(_COUNT, "number of the first fret space drawn"),
    "frets": _described(
        _list_of({"type": ["integer", "null"], "minimum": 0}),
        "one per string, leftmost of an upright diagram first, counted from the nut: 0 open, null not played",
    ),
    "fingers": _described(
        _list_of({"enum": [1, 2, 3, 4, "T", None]}), "one per string: 1 index to 4 little finger, T thumb"
    ),
    "barres": _described(_list_of(_BARRE), "string 1 is the rightmost of an upright diagram"),
}
_FLAG = _object(
    {"code": _TEXT, "detail": _TEXT, "string": {"type": "integer"}, "fret": {"type": "integer"}}, ("string", "fret")
)
_READING = _described(
    _object(
        {
            "corners": _CORNERS,
            **_FRAME,
            "label": _TEXT_OR_NULL,
            "name": _TEXT_OR_NULL,
            "other_names": _list_of(_TEXT),
            "tuning": _TEXT,
            "confidence": _CONFIDENCE,
            "flags": _list_of(_FLAG),
        },
        open_ended=True,
    ),
    "exactly what was read, before any decision",
)
_STANDING = _described(
    _object({"corners": _CORNERS, **_FRAME, "label": _TEXT_OR_NULL, "tuning": _TEXT}),
    "what it is held to be after all decisions",
)
_SIGHTING = _object(
    {
        "source": _TEXT_OR_NULL,
        "sha256": {"anyOf": [_SHA256, {"type": "null"}]},
        "page": {"type": ["integer", "null"], "minimum": 1},
        "origin": {"enum": ["page", "added", "import"]},
        "state": {"enum": _STATES},
        "confidence": _CONFIDENCE,
        "standing": _STANDING,
        "reading": _READING,
    }
)
_ENTRY = _object(
    {
        "shape": _described(_TEXT, "the frets in one line, as in 0003, x32010 or x-10-12-12-11-x"),
        "tuning": _TEXT,
        **_FRAME,
        "name": _described(_TEXT_OR_NULL, "from the pitch classes"),
        "other_names": _list_of(_TEXT),
        "label": _described(_TEXT_OR_NULL, "as written on the page"),
        "state": {"enum": _STATES},
        "confidence": _CONFIDENCE,
        "flags": _described(_list_of(_TEXT), "codes of reasons to look that nobody has settled"),
        "difficulty": {"type": ["number", "null"]},
        "sightings": _list_of(_SIGHTING),
    }
)
_TAB_FORM = _object({"corners": _CORNERS, "line_count": _COUNT, "events": {"type": "array"}}, open_ended=True)
_TAB = _object(
    {
        "source": _TEXT,
        "sha256": _SHA256,
        "page": _COUNT,
        "state": {"enum": _STATES},
        "confidence": _CONFIDENCE,
        "standing": _TAB_FORM,
        "reading": _TAB_FORM,
    }
)
_SIZE: Schema = {"type": "integer", "minimum": 0}
_PAGE = _object({"source": _TEXT, "sha256": _SHA256, "page": _COUNT, "width": _SIZE, "height": _SIZE})

SCHEMA: Schema = {
    "$schema": "https://json-schema.org/draft/2020-12/schema",
    "title": "A collection of chord shapes and tabs, with where each was seen",
    **_object(
        {
            "form": {"const": FORM},
            "version": {"const": VERSION},
            "title": _TEXT,
            "pages": _list_of(_PAGE),
            "entries": _list_of(_ENTRY),
            "tabs": _list_of(_TAB),
        }
    ),
}
