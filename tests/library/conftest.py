"""Libraries to try things on."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from library_samples import FAINT, make_page, make_reading, make_tab

from reader.library.store import Library


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    with Library.open(tmp_path / "studio.inkfret", create=True) as opened:
        yield opened


@pytest.fixture
def filled(library: Library) -> Library:
    """Page 1: C twice (once flagged) and Am; page 2: F, flagged, with a low confidence, and a tab."""
    first = make_page(
        make_reading("0003", "C"), make_reading("0003", "C", (FAINT,), 0.8), make_reading("2000", "Am", confidence=0.97)
    )
    second = make_page(make_reading("2010", "F", (FAINT,), 0.4), number=2, tabs=(make_tab(),))
    library.add_page(first, "a" * 64, crops=[b"png one", b"png two", b"png three"])
    library.add_page(second, "a" * 64)
    return library


@pytest.fixture
def states(library: Library) -> Callable[[], list[str]]:
    """How all sightings stand: shape and state, page by page."""
    return lambda: [f"{s.standing.frame.shape} {s.state}" for s in library.sightings()]
