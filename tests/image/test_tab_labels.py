"""Chord labels above a tab: found by their place, read where nothing else is likely."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from reader.image.tab_find import TabRegion
from reader.image.tab_labels import band_above, find_words, read_labels
from reader.image.tab_lines import GAP, rough_frame
from reader.lexicon import lexicon

TOP, LINES = 160.0, 6


def page_with(words: dict[float, str], gap: float, slope: float, light: bool) -> tuple[np.ndarray, TabRegion]:
    """Six lines on a page, and words about two gaps above the first."""
    page = np.full((480, 900, 3), 255, np.uint8)
    xs = np.linspace(40, 860, 30)
    first = TOP + slope * (xs - xs[0])
    for i in range(LINES):
        points = np.round(np.column_stack([xs, first + i * gap]) * 16).astype(np.int32)
        cv2.polylines(page, [points], False, (0, 0, 0), 2, cv2.LINE_AA, 4)
    for x, word in words.items():
        y = TOP + slope * (x - xs[0]) - 1.8 * gap
        cv2.putText(page, word, (int(x), int(y)), cv2.FONT_HERSHEY_DUPLEX, 0.045 * gap, (0, 0, 0), 2, cv2.LINE_AA)
    votes = tuple(float(n == LINES) for n in range(4, 9))
    region = TabRegion(tuple(xs), tuple(first), tuple(first + gap * (LINES - 1)), LINES, 0.95, votes)
    return (255 - page if light else page), region


@pytest.mark.parametrize("light", [False, True])
@pytest.mark.parametrize(("gap", "slope"), [(20.0, 0.0), (26.0, 0.05), (17.0, -0.04)])
def test_labels_are_read_above_their_places(gap: float, slope: float, light: bool) -> None:
    page, region = page_with({150.0: "Am", 420.0: "G7", 700.0: "D"}, gap, slope, light)
    frame = rough_frame(region, LINES)
    places = [float(np.interp(x, frame.xs, np.arange(frame.width))) for x in (160.0, 290.0, 432.0, 706.0)]
    assert read_labels(page, frame, places, lexicon().labels) == ["Am", None, "G7", "D"]


def test_what_is_no_label_is_left() -> None:
    page, region = page_with({150.0: "lento", 420.0: "|", 700.0: "= = ="}, 20.0, 0.0, False)
    frame = rough_frame(region, LINES)
    places = [float(np.interp(x, frame.xs, np.arange(frame.width))) for x in (160.0, 422.0, 706.0)]
    assert read_labels(page, frame, places, lexicon().labels) == [None, None, None]


def test_nothing_is_looked_for_where_there_is_no_chord() -> None:
    page, region = page_with({150.0: "Am"}, 20.0, 0.0, False)
    assert read_labels(page, rough_frame(region, LINES), [], lexicon().labels) == []


def test_signs_near_each_other_are_one_word() -> None:
    page, region = page_with({150.0: "F#m7", 420.0: "Bb"}, 20.0, 0.0, False)
    frame = rough_frame(region, LINES)
    words = sorted(find_words(band_above(page, frame)), key=lambda w: w.left)
    assert len(words) == 2
    start = float(np.interp(150.0, frame.xs, np.arange(frame.width)))
    assert words[0].left == pytest.approx(start, abs=0.4 * GAP)
    assert words[0].away(start) < 0.6
