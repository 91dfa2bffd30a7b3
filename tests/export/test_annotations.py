"""Web Annotations: the keys that the W3C data model requires, and boxes that lie where the ink is."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from reader.export.annotations import to_annotations
from reader.library.collection import Collection


@pytest.fixture(scope="module")
def page(collection: Collection) -> dict[str, Any]:
    return dict(json.loads(to_annotations(collection).text))


def test_required_keys_of_the_data_model(page: dict[str, Any]) -> None:
    # W3C Recommendation 'Web Annotation Data Model' (2017), sections 3.1, 3.2.4, 4.2.1, 4.2.8 and 5.2
    assert page["@context"] == "http://www.w3.org/ns/anno.jsonld"
    assert page["type"] == "AnnotationPage"
    assert page["items"]
    for item in page["items"]:
        assert item["type"] == "Annotation"
        assert re.fullmatch(r"urn:uuid:[0-9a-f-]{36}", item["id"])
        assert isinstance(item["target"]["source"], str)
        for body in item["body"]:
            assert body["type"] == "TextualBody"
            assert isinstance(body["value"], str)
        for selector in item["target"]["selector"]:
            inner = selector.get("refinedBy", selector)
            assert inner["type"] in ("FragmentSelector", "SvgSelector")
            assert inner["value"]
            if inner["type"] == "FragmentSelector":
                assert inner["conformsTo"] == "http://www.w3.org/TR/media-frags/"


def test_each_sighting_and_tab_has_one_name_of_its_own(page: dict[str, Any], collection: Collection) -> None:
    names = [item["id"] for item in page["items"]]
    assert len(set(names)) == len(names) == len(collection.sightings) + len(collection.tabs)
    assert names == [item["id"] for item in json.loads(to_annotations(collection).text)["items"]]


def test_boxes_and_polygons_are_the_corners(page: dict[str, Any]) -> None:
    item = next(i for i in page["items"] if i["body"][0]["value"] == "Am 2000")
    box, polygon = item["target"]["selector"]
    assert item["target"]["source"] == "sheet.png"
    assert box["value"] == "xywh=pixel:10,20,60,80"
    assert 'points="10,20 70,20 70,100 10,100"' in polygon["value"]


def test_pages_of_a_pdf_are_named_first_and_spaces_are_encoded(page: dict[str, Any]) -> None:
    item = next(i for i in page["items"] if i["body"][0]["value"] == "E 4442")
    assert item["target"]["source"] == "term%201/b.pdf"
    selector = item["target"]["selector"][0]
    assert (selector["value"], selector["conformsTo"]) == ("page=3", "http://tools.ietf.org/rfc/rfc8118")
    assert selector["refinedBy"]["value"].startswith("xywh=pixel:")
    assert any(b["purpose"] == "questioning" for b in item["body"])
