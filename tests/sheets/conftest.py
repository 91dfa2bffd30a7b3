"""What every sheet must keep to, as checks on the drawn pages."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest

from reader.export.diagram import grid_box
from reader.export.drawing import PAPER, SOFT, Box, Drawing, Line, Text, bounds
from reader.export.paper import Paper

PageCheck = Callable[[Sequence[Drawing], Paper], None]


def _inside_margins(page: Drawing, paper: Paper) -> None:
    assert (page.width, page.height) == (paper.width, paper.height)
    for item in page.items:
        assert bounds(item).inside(paper.content, slack=0.05), item


def _black_and_white(page: Drawing) -> None:
    """Only greys, and none too light to read: WCAG 2 asks for a contrast of 4.5 to 1 against white."""
    for item in page.items:
        for ink in {getattr(item, name, None) for name in ("ink", "fill", "stroke")} - {None, PAPER}:
            assert ink is not None
            red, green, blue = (int(ink[n : n + 2], 16) / 255 for n in (1, 3, 5))
            assert red == green == blue
            light = ((red + 0.055) / 1.055) ** 2.4
            assert 1.05 / (light + 0.05) >= 4.5


def _clear_of_each_other(page: Drawing) -> None:
    grids = [grid_box(grid) for grid in page.grids]
    for n, grid in enumerate(grids):
        assert not any(grid.overlaps(other) for other in grids[n + 1 :])
    words = [(item, bounds(item)) for item in page.items if isinstance(item, Text) and item.ink != PAPER]
    for n, (item, box) in enumerate(words):
        for other, other_box in words[n + 1 :]:
            assert not box.overlaps(other_box, slack=0.15), (item, other)
        assert not any(box.overlaps(grid, slack=0.15) for grid in grids), item
    for line in (bounds(item) for item in page.items if isinstance(item, Line) and _is_rule(item)):
        assert not any(line.overlaps(grid) for grid in grids)
        assert not any(line.overlaps(_capitals(item)) for item, _ in words)


def _is_rule(line: Line) -> bool:
    """A rule to write on, as opposed to a string or a fret."""
    return line.ink == SOFT and line.y1 == line.y2


def _capitals(item: Text) -> Box:
    box = bounds(item)
    return Box(box.left, box.top, box.right, item.y)


@pytest.fixture(scope="session")
def check_pages() -> PageCheck:
    """Asserts that nothing lies outside the margins and that no diagram, text or rule runs into another."""

    def check(pages: Sequence[Drawing], paper: Paper) -> None:
        assert pages
        for page in pages:
            _inside_margins(page, paper)
            _clear_of_each_other(page)
            _black_and_white(page)
            assert page.title
            assert page.description

    return check
