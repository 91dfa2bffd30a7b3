"""Ruled lines of the paper are told from the lines of a tab, and taken away without them."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from reader.image.ruling import erased, find_ruling
from reader.image.tab_lines import darkness_in_bytes

HEIGHT, WIDTH, APART = 900, 700, 37.0
PAPER, PALE, PEN = (245, 243, 236), (150, 170, 215), (30, 30, 45)
Page = NDArray[np.uint8]


def ruled(lean: float = 0.0, ink: tuple[int, int, int] = PALE, thick: int = 2) -> Page:
    page = np.full((HEIGHT, WIDTH, 3), PAPER, np.uint8)
    for y in np.arange(60, HEIGHT - 40, APART):
        ends = (10, round(16 * (y - lean * WIDTH / 2))), (WIDTH - 10, round(16 * (y + lean * WIDTH / 2)))
        cv2.line(page, (ends[0][0] * 16, ends[0][1]), (ends[1][0] * 16, ends[1][1]), ink, thick, cv2.LINE_AA, 4)
    return page


def with_tab(page: Page, top: int = 300) -> tuple[Page, Page]:
    """The page with four lines, bars and a stroke drawn over it, and a mask of these."""
    mask = np.zeros(page.shape[:2], np.uint8)
    for k in range(4):
        cv2.line(mask, (80, top + 26 * k), (620, top + 26 * k), 1, 5)
    for x in (80, 350, 620):
        cv2.line(mask, (x, top), (x, top + 78), 1, 5)
    cv2.line(mask, (200, top + 40), (215, top + 66), 1, 6)
    page = page.copy()
    page[mask > 0] = PEN
    return page, mask


@pytest.mark.parametrize(("lean", "ink", "thick"), [(0.0, PALE, 2), (0.06, PALE, 2), (-0.04, PEN, 1)])
def test_ruled_lines_go_and_what_is_drawn_over_them_stays(lean: float, ink: tuple[int, int, int], thick: int) -> None:
    bare = ruled(lean, ink, thick)
    page, drawn = with_tab(bare)
    dark = darkness_in_bytes(page)
    ruling = find_ruling(dark)
    assert ruling is not None
    clean = erased(page, dark, ruling)
    left = darkness_in_bytes(clean)
    lines = (darkness_in_bytes(bare) > 38) & (cv2.dilate(drawn, np.ones((5, 5), np.uint8)) == 0)
    assert (left[lines] > 38).mean() < 0.05
    assert (left[drawn > 0] > 127).mean() > 0.97


def test_a_page_without_ruled_lines_has_none() -> None:
    blank = np.full((HEIGHT, WIDTH, 3), PAPER, np.uint8)
    assert find_ruling(darkness_in_bytes(blank)) is None
    page = blank
    for top in (80, 260, 470, 700):
        page, _ = with_tab(page, top)
    assert find_ruling(darkness_in_bytes(page)) is None
