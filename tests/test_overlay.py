"""Pictures of every stage, drawn from a page and its reading alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from reading_samples import page_of, plain_frame, song_page

from reader.export.truth import page_truth
from reader.image.pages import Page
from reader.overlay import CARD, LONG_SIDE, STAGES, draw_diagram_report, draw_redrawn, on_grid
from reader.reading import Flag, PageReading, from_object, to_object

DRAWN_ON = ("3-regions", "4-grid", "5-marks", "6-lettering")


def song() -> tuple[Page, PageReading]:
    """Four chords and what they are, from the drawing itself, through the JSON form."""
    drawing, pixels = song_page()
    page = page_of(pixels)
    return page, from_object(to_object(page_truth(drawing, page.dpi)))


@pytest.mark.parametrize("stage", STAGES)
def test_every_stage_is_a_picture_of_the_page(stage: str) -> None:
    page, reading = song()
    picture = STAGES[stage](page, reading)
    assert picture.dtype == np.uint8
    assert picture.ndim == 3
    if stage != "7-redrawn":
        assert picture.shape == page.pixels.shape
    assert picture.std() > 0


@pytest.mark.parametrize("stage", STAGES)
def test_every_stage_shows_a_page_without_diagrams(stage: str) -> None:
    blank = page_of(np.full((200, 300, 3), 250, np.uint8))
    picture = STAGES[stage](blank, PageReading("blank.png", 1, 300, 200))
    assert picture.shape == ((120, 480, 3) if stage == "7-redrawn" else (200, 300, 3))


@pytest.mark.parametrize("stage", DRAWN_ON)
def test_what_is_drawn_lies_on_the_diagrams_and_leaves_the_page_alone(stage: str) -> None:
    page, reading = song()
    before = page.pixels.copy()
    changed = (STAGES[stage](page, reading) != page.pixels).any(-1)
    assert np.array_equal(page.pixels, before)
    for d in reading.diagrams:
        x0, y0 = np.array(d.corners).min(0).astype(int)
        x1, y1 = np.array(d.corners).max(0).astype(int)
        assert changed[y0 : y1 + 1, x0 : x1 + 1].any()


def test_flagged_diagrams_are_drawn_in_another_ink() -> None:
    page, reading = song()
    doubtful = replace(reading.diagrams[0], flags=(Flag("unsure", "Look."),))
    flagged = replace(reading, diagrams=(doubtful, *reading.diagrams[1:]))
    differs = (STAGES["5-marks"](page, reading) != STAGES["5-marks"](page, flagged)).any(-1)
    rows, cols = np.nonzero(differs)
    right, bottom = np.array(reading.diagrams[0].corners).max(0)
    assert differs.any()
    assert cols.max() < right + 15
    assert rows.max() < bottom + 15


def test_large_pages_are_reduced_and_the_corners_with_them() -> None:
    page, reading = song()
    k = 2500 / page.width
    large = page_of(np.full((round(page.height * k), 2500, 3), 250, np.uint8))
    moved = tuple(replace(d, corners=tuple((x * k, y * k) for x, y in d.corners)) for d in reading.diagrams)
    picture = STAGES["4-grid"](large, replace(reading, diagrams=moved))
    assert max(picture.shape[:2]) == LONG_SIDE
    scale = LONG_SIDE / max(large.width, large.height)
    x, y = np.array(moved[0].corners[3]) * scale
    around = picture[int(y) - 2 : int(y) + 3, int(x) - 2 : int(x) + 3]
    assert (around < 200).any(), "a corner of the first grid is drawn where it lies on the reduced page"


def test_a_place_on_the_grid() -> None:
    corners = np.array([[0.0, 0], [30, 0], [30, 80], [0, 80]])
    frame = plain_frame("0003")
    assert np.allclose(on_grid(corners, frame, 0, 0), [0, 0])
    assert np.allclose(on_grid(corners, frame, 3, 2.5), [30, 50])
    assert np.allclose(on_grid(corners, frame, 1, 4), [10, 80])


def test_a_report_shows_crop_reading_and_truth_side_by_side() -> None:
    page, reading = song()
    d = reading.diagrams[0]
    widths = [draw_diagram_report(page, *pair).shape[1] // CARD for pair in ((d, d), (None, d), (d, None))]
    assert widths == [4, 3, 2]


def test_a_missed_diagram_is_reported_with_its_truth() -> None:
    page, reading = song()
    missed = draw_diagram_report(page, reading.diagrams[1], None)
    assert missed.shape[1] == 2 * CARD
    assert missed.shape[0] > CARD
    crop, redrawn, foot = missed[:CARD, :CARD], missed[:CARD, CARD:], missed[CARD:]
    assert crop.std() > 5
    assert redrawn.std() > 5
    assert foot.std() > 1, "words say what was drawn"


def test_a_report_needs_something_to_tell() -> None:
    page, _ = song()
    with pytest.raises(AssertionError, match="needs a reading or a truth"):
        draw_diagram_report(page, None, None)


@pytest.mark.parametrize("count", [1, 2, 4])
def test_the_redrawn_sheet_has_a_card_for_every_diagram(count: int) -> None:
    page, reading = song()
    sheet = draw_redrawn(page, replace(reading, diagrams=reading.diagrams[:count]))
    card = draw_diagram_report(page, None, reading.diagrams[0])
    columns = 2 if count > 3 else 1
    assert sheet.shape[1] == columns * card.shape[1]
    assert sheet.shape[0] >= count // columns * CARD
