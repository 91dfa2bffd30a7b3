"""Letters beside the lines of a tab."""

from __future__ import annotations

import cv2
import numpy as np

from reader.image.tab_letters import NAMES, read_letters
from reader.image.tab_lines import GAP, MARGIN

START = 60


def strip_with(names: str, lines: int = 6) -> np.ndarray:
    strip = np.full(((lines + 2 * MARGIN) * GAP, 300, 3), 255, np.uint8)
    for i in range(lines):
        y = (MARGIN + i) * GAP + GAP // 2
        strip[y - 1 : y + 1, START:] = 0
        if i < len(names):
            cv2.putText(strip, names[i], (34, y + 6), cv2.FONT_HERSHEY_SIMPLEX, 0.5, (0, 0, 0), 1, cv2.LINE_AA)
    return strip


def test_drawn_letters_are_read() -> None:
    letters = read_letters(strip_with("EBGDAE"), START, 6)
    assert [max(p, key=p.__getitem__) for p in letters] == list("EBGDAE")


def test_probabilities_cover_all_names() -> None:
    for shares in read_letters(strip_with("EBGDAE"), START, 6):
        assert set(shares) == set(NAMES)
        assert abs(sum(shares.values()) - 1) < 1e-6


def test_nothing_is_read_where_a_line_has_no_letter() -> None:
    assert read_letters(strip_with("EBG"), START, 6) == ()


def test_a_strip_that_begins_with_its_lines_has_no_letters() -> None:
    assert read_letters(strip_with("EBGDAE"), 4, 6) == ()
