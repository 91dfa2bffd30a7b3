"""JSON: valid by its own published schema, complete, and refused when it is something else."""

from __future__ import annotations

import json

import pytest
from jsonschema import Draft202012Validator

from reader.errors import InputError
from reader.export.json_ import parse_json, to_json
from reader.export.json_schema import SCHEMA
from reader.library.collection import Collection


def test_the_export_is_valid_by_the_schema_beside_it(collection: Collection) -> None:
    files = to_json(collection).files
    schema = json.loads(files["index.schema.json"])
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(json.loads(files["index.json"]))


@pytest.mark.parametrize(
    "path", ["entries.0.frets", "entries.0.sightings.0.reading.corners", "pages.0.sha256", "version"]
)
def test_the_schema_notices_what_is_missing(collection: Collection, path: str) -> None:
    data = json.loads(to_json(collection).text)
    *steps, last = path.split(".")
    place = data
    for step in steps:
        place = place[int(step)] if step.isdigit() else place[step]
    del place[last]
    assert [e.message for e in Draft202012Validator(SCHEMA).iter_errors(data)] == [f"'{last}' is a required property"]


def test_what_was_read_stands_beside_what_was_decided(collection: Collection) -> None:
    data = json.loads(to_json(collection).text)
    entry = next(e for e in data["entries"] if e["shape"] == "0002")
    (sighting,) = entry["sightings"]
    assert (sighting["reading"]["frets"], sighting["reading"]["label"]) == ([0, 0, 0, 3], "C")
    assert (sighting["standing"]["frets"], sighting["standing"]["label"]) == ([0, 0, 0, 2], "Cmaj7")
    assert (sighting["state"], sighting["source"], sighting["page"]) == ("corrected", "sheet.png", 1)


def test_flags_and_confidence_are_in_it(collection: Collection) -> None:
    data = json.loads(to_json(collection).text)
    entry = next(e for e in data["entries"] if e["shape"] == "4442")
    assert (entry["state"], entry["confidence"], entry["flags"]) == ("unchecked", 0.5, ["faint-mark"])
    assert "faint" in entry["sightings"][0]["reading"]["flags"][0]["detail"]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("{", "out.json is not JSON"),
        ("[]", "not an exported collection"),
        ('{"form": "other"}', "not an exported collection"),
        ('{"form": "inkfret-collection", "version": 99}', "is of version 99 and this program reads up to 1"),
    ],
)
def test_what_is_not_an_export_is_refused(text: str, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        parse_json(text, "out.json")
