"""What cannot be made out in the picture of a proving page may not be asked for by its truth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
import pytest
from proving_samples import drawn, paper, without

from reader.proving.chart import Chart, Dot
from reader.proving.dice import Dice
from reader.proving.draft import Draft
from reader.proving.finish import page_truth
from reader.proving.legible import Sight, as_seen
from reader.proving.sheet import Pixels, Shots, joined
from reader.proving.warp import flat

CHART = Chart(strings=4, spaces=4, dots=(Dot(0, 1, 2, bare=True), Dot(1, 0, 1, bare=True), Dot(3, 2, 3, bare=True)))


def _truth(draft: Draft, change: Callable[[Pixels], Pixels]) -> dict[str, object]:
    """The truth of the diagram when `change` makes the picture of the sheet."""
    warp = flat(draft.sheet.size)
    seen = as_seen(draft, draft.sheet.shots.each(change), warp)
    (diagram,) = page_truth(seen, warp, "printed", "page.png")["diagrams"]
    assert diagram["frets"] == [2, 1, 0, 3]
    assert diagram["fingers"] == [2, 1, None, 3]
    return {k: diagram.get(k, False) for k in ("fingers_small", "hard")}


def _as_they_are(pixels: Pixels) -> Pixels:
    return pixels


def _blurred(pixels: Pixels) -> Pixels:
    return np.asarray(cv2.GaussianBlur(pixels, (0, 0), 9.0), np.uint8)


def _speckled(pixels: Pixels) -> Pixels:
    """A copy that kept two patches of ink in five."""
    kept = cv2.resize((Dice("specks").np.random((66, 52)) < 0.4).astype(np.uint8), (260, 330), interpolation=0)
    return np.asarray(np.where(kept[..., None] > 0, pixels, 250), np.uint8)


def _bleached(pixels: Pixels) -> Pixels:
    return np.asarray(250 - (250 - pixels.astype(float)) * 0.02, np.uint8)


@pytest.mark.parametrize(
    ("change", "fingers_small", "hard"),
    [
        (_as_they_are, False, False),
        (_blurred, True, False),
        (_speckled, True, False),
        (_bleached, True, True),
    ],
)
def test_truth_asks_for_what_the_picture_shows(
    change: Callable[[Pixels], Pixels], fingers_small: bool, hard: bool
) -> None:
    assert _truth(drawn(CHART), change) == {"fingers_small": fingers_small, "hard": hard}


PLAIN = Sight(size=10.0, strength=80.0, contrast=90.0, likeness=0.95, plain=0.9, ratio=1.0, patchy=0.1)


@pytest.mark.parametrize(
    ("changes", "seen", "read"),
    [
        ({}, True, True),
        ({"strength": 9.0}, False, False),
        ({"strength": 9.0, "size": 20.0, "ratio": 3.0}, True, True),  # the larger, the paler it may be
        ({"strength": 20.0, "ratio": 0.1}, False, False),  # lost among lines
        ({"contrast": 20.0}, True, False),
        ({"likeness": 0.7, "plain": 0.7}, True, False),
        ({"likeness": 0.7, "plain": 0.7, "size": 16.0}, True, True),  # the larger, the softer
        ({"likeness": 0.7, "plain": 0.8}, True, True),
        ({"contrast": 45.0, "plain": 0.5}, True, False),
        ({"contrast": 80.0, "plain": 0.1}, True, False),
        ({"contrast": 120.0, "plain": 0.1}, True, True),
        ({"patchy": 0.9}, True, False),
    ],
)
def test_each_measure_can_make_a_mark_illegible(changes: dict[str, float], seen: bool, read: bool) -> None:
    mark = replace(PLAIN, **changes)
    assert (mark.seen, mark.read) == (seen, read)


def test_one_stop_that_vanished_makes_a_diagram_hard() -> None:
    draft = drawn(CHART)
    (gone,) = (m.trace for m in draft.charts[0].marks if m.layer == "stops" and m.of == CHART.dots[2])
    bare = draft.sheet.shots.without["stops"]

    assert _truth(draft, lambda pixels: without(pixels, bare, [gone])) == {"fingers_small": True, "hard": True}


def test_a_lower_stop_that_does_not_count_may_vanish() -> None:
    chart = Chart(strings=4, spaces=4, dots=(Dot(0, 0), Dot(0, 1, 2, bare=True), *CHART.dots[1:]))
    draft = drawn(chart)
    gone = next(m.trace for m in draft.charts[0].marks if m.of == chart.dots[0])
    bare = draft.sheet.shots.without["stops"]

    assert _truth(draft, lambda pixels: without(pixels, bare, [gone]))["hard"] is False


def test_ink_drawn_apart_is_missing_only_where_it_should_be() -> None:
    sheet = paper(20, 20)
    ink = np.ones((4, 4), np.float32)
    sheet.lay(0, 0, ink, (0, 0, 0))
    with sheet.apart("stops"):
        sheet.lay(6, 0, ink, (0, 0, 0))
        with sheet.apart("signs") as patches:
            sheet.lay(12, 0, ink, (0, 0, 0))
    sheet.lay(0, 10, ink, (0, 0, 0))
    at = [(1, 1), (1, 7), (1, 13), (11, 1)]
    assert [sheet.pixels[p][0] for p in at] == [0, 0, 0, 0]
    assert [sheet.shots.without["stops"][p][0] for p in at] == [0, 250, 0, 0]
    assert [sheet.shots.without["signs"][p][0] for p in at] == [0, 0, 250, 0]
    assert [(x, y) for x, y, _ in patches] == [(12, 0)]


def test_patches_of_one_mark_become_one_trace() -> None:
    empty, full = np.zeros((3, 3), np.float32), np.ones((2, 2), np.float32)
    trace = joined([(0, 0, empty), (5, 7, full), (6, 7, full * np.float32(0.5))])
    assert (trace.x, trace.y) == (5, 7)
    assert trace.cover.tolist() == [[1.0, 1.0, 0.5], [1.0, 1.0, 0.5]]


def test_pictures_without_marks_are_changed_like_the_picture() -> None:
    one = np.zeros((2, 2, 3), np.uint8)
    shots = Shots(one, {"stops": one + np.uint8(1)}).each(lambda p: p + np.uint8(5))
    assert (shots.pixels.max(), shots.without["stops"].max()) == (5, 6)
