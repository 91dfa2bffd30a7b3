"""W3C Web Annotation Data Model: where each shape and tab lies on its page, as annotations on the picture.

The target is the file as it was given, with a `FragmentSelector` of Media Fragments (a box in pixels) and an
`SvgSelector` (the four corners). For a page of a PDF or TIFF the box refines the page, which is named by the fragment
of RFC 8118.
"""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import quote
from uuid import NAMESPACE_OID, uuid5

from reader.export import Exported
from reader.export.titles import listed
from reader.interpret_tabs import as_tab
from reader.library.collection import Collected, Collection
from reader.library.entry import Sighting, TabRecord
from reader.reading import Corners

CONTEXT = "http://www.w3.org/ns/anno.jsonld"
MEDIA_FRAGMENTS = "http://www.w3.org/TR/media-frags/"
PDF_FRAGMENTS = "http://tools.ietf.org/rfc/rfc8118"
_MANY_PAGES = (".pdf", ".tif", ".tiff")


def to_annotations(collection: Collection) -> Exported:
    """A collection as one annotation page in JSON-LD."""
    items = [_of_sighting(c, s) for c in collection.entries for s in c.sightings if s.page_id is not None]
    items += [_of_tab(tab) for tab in collection.tabs]
    page = {
        "@context": CONTEXT,
        "id": _name(" ".join(item["id"] for item in items)),
        "type": "AnnotationPage",
        "label": collection.title,
        "items": items,
    }
    homeless = [str(c.entry.shape) for c in collection.entries if not any(s.page_id for s in c.sightings)]
    notes = (f"left out, seen on no page: {listed(homeless)}.",) if homeless else ()
    text = json.dumps(page, ensure_ascii=False, indent=1) + "\n"
    return Exported({"annotations.jsonld": text.encode("utf-8")}, notes)


def _of_sighting(collected: Collected, sighting: Sighting) -> dict[str, Any]:
    name = collected.entry.name or sighting.standing.label or ""
    shape = str(sighting.standing.frame.shape)
    body = [_text(f"{name} {shape}".strip(), "describing"), _text(shape, "identifying")]
    body += [_text(f"flag: {flag.detail}", "questioning") for flag in sighting.reading.flags if not sighting.settled]
    return {
        "id": _name(f"{sighting.sha256} page {sighting.page} diagram {sighting.number}"),
        "type": "Annotation",
        "motivation": "describing",
        "body": body,
        "target": _target(sighting.source, sighting.page, sighting.standing.corners),
    }


def _of_tab(tab: TabRecord) -> dict[str, Any]:
    words = "; ".join(str(group) for group in as_tab((tab.standing.tab,)).groups)
    return {
        "id": _name(f"{tab.sha256} page {tab.page} tab {tab.number}"),
        "type": "Annotation",
        "motivation": "describing",
        "body": [_text(f"tab: {words}" if words else "tab without notes", "describing")],
        "target": _target(tab.source, tab.page, tab.standing.tab.corners),
    }


def _name(what: str) -> str:
    """A name made from checksum and place (RFC 9562, version 5), so that it is the same at every export."""
    return uuid5(NAMESPACE_OID, what).urn


def _text(value: str, purpose: str) -> dict[str, Any]:
    return {"type": "TextualBody", "value": value, "format": "text/plain", "purpose": purpose}


def _target(source: str, page: int, corners: Corners) -> dict[str, Any]:
    selectors: list[dict[str, Any]] = [_box(corners), _polygon(corners)]
    if source.lower().endswith(_MANY_PAGES):
        on_page = {"type": "FragmentSelector", "conformsTo": PDF_FRAGMENTS, "value": f"page={page}"}
        selectors = [{**on_page, "refinedBy": selector} for selector in selectors]
    return {
        "type": "SpecificResource",
        "source": _iri(source),
        "selector": selectors,
    }


def _iri(source: str) -> str:
    """A path as a reference that may stand where an IRI is expected."""
    return quote(source.replace("\\", "/"), safe="/:~")


def _box(corners: Corners) -> dict[str, Any]:
    left, top = (min(c[axis] for c in corners) for axis in (0, 1))
    right, bottom = (max(c[axis] for c in corners) for axis in (0, 1))
    x, y = round(left), round(top)
    value = f"xywh=pixel:{x},{y},{max(1, round(right) - x)},{max(1, round(bottom) - y)}"
    return {"type": "FragmentSelector", "conformsTo": MEDIA_FRAGMENTS, "value": value}


def _polygon(corners: Corners) -> dict[str, Any]:
    points = " ".join(f"{x:g},{y:g}" for x, y in corners)
    svg = f'<svg xmlns="http://www.w3.org/2000/svg"><polygon points="{points}"/></svg>'
    return {"type": "SvgSelector", "value": svg}
