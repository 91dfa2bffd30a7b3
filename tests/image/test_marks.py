"""Looks at diagrams: probabilities add up, several looks make one, ink is measured beyond the lines."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from reading_samples import GRID, look, page_of, song_page

from reader.export.truth import page_truth
from reader.image.marks import count_ink, ink_at_cells, look_at, widened


def drawn_grid(*dots: tuple[int, int], ink: int = 30, paper: int = 240) -> np.ndarray:
    """``GRID`` with four strings and four rows, and dots at (string, row)."""
    page = np.full((260, 240, 3), paper, np.uint8)
    for k in range(5):
        if k < 4:
            cv2.line(page, (100 + 20 * k, 100), (100 + 20 * k, 180), (ink,) * 3, 1)
        cv2.line(page, (100, 100 + 20 * k), (160, 100 + 20 * k), (ink,) * 3, 1)
    for s, r in dots:
        cv2.circle(page, (100 + 20 * s, 110 + 20 * r), 6, (ink,) * 3, -1, cv2.LINE_AA)
    return page


def test_a_figure_is_widened_about_its_middle() -> None:
    wide = widened(GRID, 1.5)
    assert np.allclose(wide.mean(0), GRID.mean(0))
    assert np.allclose(wide, [[85, 80], [175, 80], [175, 200], [85, 200]])


@pytest.mark.parametrize("dark", [True, False])
def test_ink_lies_where_the_dots_are(dark: bool) -> None:
    page = drawn_grid((0, 1), (3, 2)) if dark else 255 - drawn_grid((0, 1), (3, 2))
    ink = ink_at_cells(page, GRID, 4, 4)
    assert ink.shape == (4, 4)
    marked = np.zeros((4, 4), bool)
    marked[0, 1] = marked[3, 2] = True
    assert ink[marked].min() > 0.4
    assert ink[~marked].max() < 0.25


def test_lines_alone_are_no_ink() -> None:
    assert np.abs(ink_at_cells(drawn_grid(), GRID, 4, 4)).max() < 0.2


def test_ink_is_counted_on_the_grid_that_the_look_gives() -> None:
    assert count_ink(drawn_grid((1, 0)), look("-1--")).shape == (4, 4)
    assert count_ink(drawn_grid((1, 0)), look("-1--")).argmax() == 4


def test_our_own_drawings_are_seen() -> None:
    drawing, pixels = song_page()
    truth = page_truth(drawing, page_of(pixels).dpi)
    corners = [np.array(d.corners) for d in truth.diagrams]
    looks = look_at(pixels, corners)
    assert look_at(pixels, []) == []
    for k, d, c in zip(looks, truth.diagrams, corners, strict=True):
        assert k.kind.argmax() == 0
        assert k.way.argmax() == 0
        assert int(k.strings.argmax()) == d.frame.string_count
        for p in (k.states, k.fingers, k.barre, k.strings, k.rows, k.first, k.kind, k.way):
            assert np.allclose(p.sum(-1), 1)
        assert np.abs(k.corners - c).max() < 0.1 * np.ptp(c, axis=0).max()


def test_a_look_does_not_depend_on_its_company() -> None:
    drawing, pixels = song_page()
    corners = [np.array(d.corners) for d in page_truth(drawing, page_of(pixels).dpi).diagrams]
    alone, among = look_at(pixels, corners[:1])[0], look_at(pixels, corners)[0]
    assert np.allclose(alone.states, among.states, atol=1e-3)
