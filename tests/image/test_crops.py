"""Crops of the networks: corners land where they should, nothing is shifted by a pixel, fine patterns turn grey."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from reader.image.crops import (
    CELL_HEIGHT,
    CELL_WIDTH,
    LETTERING_GRID,
    LETTERING_SIZE,
    READING_GRID,
    READING_SIZE,
    cut,
    lattice_matrix,
    lattice_size,
    lettering_matrix,
    reading_matrix,
    side_lengths,
)

GRID = np.array([[100.0, 100], [160, 100], [160, 180], [100, 180]])
NOISE = np.random.default_rng(4).integers(0, 256, (60, 90, 3)).astype(np.uint8)


def through(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    return cv2.perspectiveTransform(np.asarray(points, float).reshape(1, -1, 2), matrix)[0]


def turned(points: np.ndarray, degrees: float, about: np.ndarray) -> np.ndarray:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return (points - about) @ np.array([[c, s], [-s, c]]) + about


def test_sides_are_measured_across_and_along_the_strings() -> None:
    assert side_lengths(GRID) == (60.0, 80.0)
    # a trapezium counts its mean width
    assert side_lengths(np.array([[0.0, 0], [10, 0], [20, 40], [-10, 40]]))[0] == 20.0
    assert side_lengths(np.zeros((4, 2))) == (1.0, 1.0)


def test_the_reading_crop_shows_the_grid_upright_in_the_middle() -> None:
    # 80 pixels long become 136, 60 wide become 102; the middle is 128
    want = [[77, 60], [179, 60], [179, 196], [77, 196]]
    assert READING_SIZE / 2 == 128
    assert READING_GRID == 136
    assert np.allclose(through(reading_matrix(GRID), GRID), want, atol=1e-3)


@pytest.mark.parametrize("degrees", [30, 90, 180, 270])
def test_a_turned_grid_gives_the_same_reading_crop(degrees: float) -> None:
    lying = turned(GRID, degrees, np.array([130.0, 140]))
    assert np.allclose(through(reading_matrix(lying), lying), through(reading_matrix(GRID), GRID), atol=1e-2)


def test_a_very_long_grid_keeps_a_readable_width() -> None:
    long = np.array([[0.0, 0], [10, 0], [10, 400], [0, 400]])
    box = through(reading_matrix(long), long)
    assert np.ptp(box[:, 0]) == pytest.approx(2 * 0.14 * READING_GRID, abs=0.01)


@pytest.mark.parametrize(("degrees", "turn"), [(0, 0), (7, 0), (-12, 0), (90, 0), (90, 3), (180, 2)])
def test_the_lettering_crop_takes_out_skew_and_turns_by_quarters(degrees: float, turn: int) -> None:
    grid = turned(GRID, degrees, np.array([130.0, 140]))
    m = lettering_matrix(grid, turn)
    box = through(m, grid)
    assert np.allclose(box.mean(0), LETTERING_SIZE / 2, atol=1e-6)
    assert max(side_lengths(box)) == pytest.approx(LETTERING_GRID)
    edges = box[1] - box[0]
    assert min(abs(edges)) == pytest.approx(0, abs=1e-6), "the sides run along the crop"
    assert np.linalg.det(m[:2, :2]) > 0, "nothing is mirrored"


def test_a_quarter_turn_counter_clockwise_brings_the_right_to_the_top() -> None:
    m = lettering_matrix(GRID, 1)
    centre = GRID.mean(0)
    right = through(m, centre + [20, 0])[0]
    assert right[1] < LETTERING_SIZE / 2
    assert right[0] == pytest.approx(LETTERING_SIZE / 2)


@pytest.mark.parametrize(("strings", "rows"), [(4, 4), (6, 5), (3, 8)])
def test_every_place_for_a_stop_is_the_middle_of_a_cell(strings: int, rows: int) -> None:
    m = lattice_matrix(GRID, strings, rows)
    assert lattice_size(strings, rows) == ((strings + 2) * 32, (rows + 3) * 40)
    for s in range(strings):
        for r in range(rows):
            on_page = [100 + 60 * s / (strings - 1), 100 + 80 * (r + 0.5) / rows]
            # one cell beside the grid and two above it; pixel centres lie at whole numbers
            want = [(1 + s + 0.5) * CELL_WIDTH - 0.5, (2 + r + 0.5) * CELL_HEIGHT - 0.5]
            assert np.allclose(through(m, np.array(on_page))[0], want, atol=1e-2)


def test_identity_and_whole_shifts_are_exact() -> None:
    assert np.array_equal(cut(NOISE, np.eye(3), (90, 60)), NOISE)
    shift = np.array([[1, 0, -7.0], [0, 1, -11], [0, 0, 1]])
    assert np.array_equal(cut(NOISE, shift, 32), NOISE[11:43, 7:39])


def test_outside_the_page_the_edge_runs_on() -> None:
    shift = np.array([[1, 0, 10.0], [0, 1, 0], [0, 0, 1]])
    out = cut(NOISE, shift, (40, 60))
    assert np.array_equal(out[:, 10:], NOISE[:, :30])
    assert (out[:, :10] == NOISE[:, :1]).all()


@pytest.mark.parametrize("factor", [3, 5, 8])
def test_stripes_too_fine_for_the_crop_turn_grey(factor: int) -> None:
    stripes = np.zeros((800, 800, 3), np.uint8)
    stripes[:, ::2] = 255
    scale = np.diag([1 / factor, 1 / factor, 1.0])
    out = cut(stripes, scale, 800 // factor)[5:-5, 5:-5]
    naive = cv2.warpPerspective(stripes, scale, (800 // factor,) * 2, flags=cv2.INTER_NEAREST)[5:-5, 5:-5]
    assert np.abs(out.astype(int) - 127.5).max() < 55
    assert out.std() < 0.4 * max(naive.std(), 60)


def test_a_reduced_crop_is_not_shifted() -> None:
    # a square of 80 pixels about (200, 120), seen at a fifth: 16 pixels about (40 - 0.4, 24 - 0.4)
    page = np.zeros((240, 400, 3), np.uint8)
    page[80:160, 160:240] = 255
    m = np.array([[0.2, 0, -0.4], [0, 0.2, -0.4], [0, 0, 1]])  # pixel centres: (x + 0.5) / 5 - 0.5
    out = cut(page, m, (80, 48))[..., 0].astype(float)
    y, x = np.mgrid[0:48, 0:80]
    assert (out * x).sum() / out.sum() == pytest.approx(39.5, abs=0.05)
    assert (out * y).sum() / out.sum() == pytest.approx(23.5, abs=0.05)
