from __future__ import annotations

import numpy as np
import pytest
from scipy.special import expit
from scipy.special import softmax as reference_softmax

from reader.image.odds import sigmoid, softmax

SCORES = np.random.default_rng(1).normal(0, 12, (5, 7))


def test_softmax_adds_up_and_does_not_overflow() -> None:
    p = softmax(np.array([[0.0, 0.0], [1000.0, 0.0], [-1000.0, np.log(3) - 1000]]))
    assert np.allclose(p, [[0.5, 0.5], [1, 0], [0.25, 0.75]])


@pytest.mark.parametrize("axis", [0, 1, -1])
def test_softmax_is_that_of_scipy(axis: int) -> None:
    assert np.allclose(softmax(SCORES, axis), reference_softmax(SCORES, axis), rtol=1e-12, atol=0)


def test_sigmoid_is_that_of_scipy() -> None:
    assert np.allclose(sigmoid(SCORES), expit(SCORES), rtol=1e-12, atol=1e-17)


def test_sigmoid_keeps_its_precision_and_does_not_overflow() -> None:
    p = sigmoid(np.array([-1000, 0, 1000], np.float32))
    assert p.dtype == np.float32
    assert np.allclose(p, [0, 0.5, 1])
