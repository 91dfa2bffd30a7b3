"""Ink of two colours that touches is taken apart."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from reader.image.ink_colours import by_colour
from reader.image.lettering import find_pieces
from reader.image.signs import AROUND_GRID, AROUND_SIZE, ink_of, paper_of

PAPER, BLUE, RED = (244, 242, 236), (40, 60, 150), (180, 50, 60)
LOW, HIGH = (AROUND_SIZE - AROUND_GRID) / 2, (AROUND_SIZE + AROUND_GRID) / 2
GRID = np.array([[LOW, LOW], [HIGH, LOW], [HIGH, HIGH], [LOW, HIGH]])


def ringed(ring: tuple[int, int, int]) -> np.ndarray:
    """A grid with a label above it, and a ring round both that runs through the label."""
    crop = np.full((AROUND_SIZE, AROUND_SIZE, 3), PAPER, np.uint8)
    for at in np.linspace(LOW, HIGH, 4).astype(int):
        cv2.line(crop, (at, int(LOW)), (at, int(HIGH)), BLUE, 3, cv2.LINE_AA)
        cv2.line(crop, (int(LOW), at), (int(HIGH), at), BLUE, 3, cv2.LINE_AA)
    cv2.putText(crop, "Dm", (270, 185), cv2.FONT_HERSHEY_SIMPLEX, 2.2, BLUE, 5, cv2.LINE_AA)
    cv2.ellipse(crop, (320, 320), (190, 155), 0, 0, 360, ring, 4, cv2.LINE_AA)
    return crop


def test_a_label_that_a_ring_of_another_colour_runs_through_is_found() -> None:
    pieces, _, _ = find_pieces(ringed(RED), GRID, [])
    assert any(p.side == "above" and p.box[0] < 285 and p.box[2] > 360 for p in pieces)


def test_ink_of_two_colours_that_are_nearly_one_is_parted_where_both_are_clear() -> None:
    """Black with dark green on a copy; the same black, uneven in colour, stays one."""
    rng = np.random.default_rng(1)
    crop = np.full((60, 90, 3), 225, np.uint8)
    crop[10:50, 10:80] = 15
    mask = np.zeros(crop.shape[:2], np.uint8)
    mask[10:50, 10:80] = 1
    uneven = np.clip(crop + rng.normal(0, 14, crop.shape) * mask[..., None], 0, 255).astype(np.uint8)
    assert by_colour(uneven, paper_of(crop), mask) is None
    crop[24:36, 10:80] = 40, 110, 75
    parts = by_colour(crop, np.full_like(crop, 225), mask)
    assert parts is not None
    assert sorted(int(p.sum()) for p in parts) == [12 * 70, 28 * 70]


def test_a_ring_of_the_same_colour_stays_one_with_the_label() -> None:
    crop = ringed(BLUE)
    mask = (ink_of(crop) > 40).astype(np.uint8)
    assert by_colour(crop, paper_of(crop), mask) is None


@pytest.mark.parametrize("ring", [RED, (30, 130, 70)])
def test_every_pixel_goes_to_its_own_colour(ring: tuple[int, int, int]) -> None:
    crop = ringed(ring)
    mask = (ink_of(crop) > 60).astype(np.uint8)
    parts = by_colour(crop, paper_of(crop), mask)
    assert parts is not None
    assert (parts[0] + parts[1] == mask).all()
    of_ring = np.zeros_like(mask)
    cv2.ellipse(of_ring, (320, 320), (190, 155), 0, 0, 360, 1, 2)
    of_ring &= mask
    share = sorted(float(p[of_ring > 0].mean()) for p in parts)
    assert share[1] > 0.9
