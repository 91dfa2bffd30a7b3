"""Small pages in the page-reading form, for tests of what compares, stores or shows readings."""

from __future__ import annotations

from typing import Any

C_CHORD: dict[str, Any] = {
    "corners": [[100, 100], [160, 100], [160, 180], [100, 180]],
    "string_count": 4,
    "fret_count": 4,
    "first_fret": 1,
    "frets": [0, 0, 0, 3],
    "fingers": [None, None, None, 3],
    "barres": [],
    "label": "C",
    "name": "C",
    "confidence": 0.9,
    "flags": [],
}
"""The ukulele C in a grid of 60 by 80 pixels: fret spaces are 20 pixels high."""

LOOK = [{"code": "faint-mark", "detail": "Look at the dot on the third string."}]


def diagram(**changes: Any) -> dict[str, Any]:
    """The C chord with some fields changed."""
    return {**C_CHORD, **changes}


def moved(x: float, y: float = 0.0, **changes: Any) -> dict[str, Any]:
    """The C chord somewhere else on the page, with some fields changed."""
    return diagram(corners=[[cx + x, cy + y] for cx, cy in C_CHORD["corners"]], **changes)


def page(*diagrams: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """A page of 1000 by 800 pixels with some diagrams on it."""
    plain = {"source": "a.png", "page": 1, "width": 1000, "height": 800, "diagrams": list(diagrams), "tabs": []}
    return {**plain, **changes}


def tab(*events: dict[int, int | None], **changes: Any) -> dict[str, Any]:
    """A four-line system; each event maps a string to the fret struck on it, None for a muted one."""
    plain = {
        "corners": [[50, 300], [450, 300], [450, 360], [50, 360]],
        "line_count": 4,
        "events": [
            {"x": 60.0 + 20 * i, "notes": [{"string": s, "fret": f} for s, f in event.items()]}
            for i, event in enumerate(events)
        ],
        "bar_lines": [],
        "confidence": 0.9,
        "flags": [],
    }
    return {**plain, **changes}
