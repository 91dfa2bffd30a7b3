"""The scale of confidence is straightened by counting."""

from __future__ import annotations

import numpy as np
import pytest

from reader.training.calibrate import bend


def test_blocks_in_which_all_are_right_count_together() -> None:
    p = np.linspace(0.9, 1.0, 600)
    assert bend(p, np.ones(600)) == [(pytest.approx(0.95, abs=1e-4), pytest.approx(600.5 / 601, abs=1e-5))]


def test_a_block_that_falls_is_pooled_with_the_one_before() -> None:
    p = np.repeat([0.2, 0.5, 0.8], 60)
    right = np.concatenate([np.zeros(60), np.repeat([0.0, 1.0], [20, 40]), np.repeat([0.0, 1.0], [30, 30])])
    pairs = bend(p, right)
    assert [a for a, _ in pairs] == [0.2, pytest.approx(0.65, abs=1e-4)]
    assert pairs[1][1] == pytest.approx(70.5 / 121, abs=1e-5)
