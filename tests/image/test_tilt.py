"""Pages that lie askew are searched straightened, and their grids reported where they are."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from reading_samples import song_page

from reader.image.levels import Levels
from reader.image.regions import Region, find_regions
from reader.image.tilt import find_askew, lean_of, turned_by


def askew(degrees: float) -> tuple[np.ndarray, np.ndarray]:
    """The page of four chords on a desk, turned clockwise, and the corners of its grids there, sure ones first."""
    _, page = song_page()
    margin = 60
    desk = cv2.copyMakeBorder(page, margin, margin, margin, margin, cv2.BORDER_CONSTANT, value=(255, 255, 255))
    grids = np.array([r.corners for r in find_regions(desk)[:4]])
    turned, m = turned_by(desk, -degrees)
    return turned, cv2.transform(grids.astype(float), m)


@pytest.mark.parametrize("degrees", [0.0, 20.0, -20.0, 32.0])
def test_grids_are_found_where_they_are(degrees: float) -> None:
    picture, truth = askew(degrees)
    found = find_askew(Levels(picture))[:4]
    assert all(r.confidence > 0.8 for r in found)
    middles = np.array([r.corners.mean(0) for r in found])
    for grid in truth:
        near = found[int(np.hypot(*(middles - grid.mean(0)).T).argmin())]
        assert np.hypot(*(near.corners - grid).T).max() < 0.06 * np.hypot(*(grid[2] - grid[0]))


@pytest.mark.parametrize("degrees", [0.0, 12.0, -30.0])
def test_how_much_a_page_leans(degrees: float) -> None:
    picture, grids = askew(degrees)
    page = Levels(picture)
    assert lean_of(page, [Region(g, 0.9) for g in grids]) == pytest.approx(degrees, abs=2)
    assert lean_of(page, []) == pytest.approx(degrees, abs=2), "of all that stands on the page"
    assert lean_of(Levels(np.full((80, 60, 3), 200, np.uint8)), []) == 0


def test_a_turned_picture_holds_all_of_the_page() -> None:
    picture = np.zeros((60, 100, 3), np.uint8)
    turned, m = turned_by(picture, 30)
    corners = cv2.transform(np.array([[[0.0, 0], [99, 0], [99, 59], [0, 59]]]), m)[0]
    assert (corners > -1).all()
    assert (corners < [turned.shape[1], turned.shape[0]]).all()
