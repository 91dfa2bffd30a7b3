"""Probabilities out of the raw scores of a network."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Scores = TypeVar("Scores", bound=np.floating)
STEEPEST = 40.0
"""Log odds beyond which a probability is as good as 0 or 1; e to that power fits every float."""


def softmax(scores: NDArray[np.floating], axis: int = -1) -> NDArray[np.float64]:
    """Probabilities that add up to 1 along an axis.

    Parameters
    ----------
    scores : log odds of the choices, up to a constant
    axis : along which the choices lie

    Examples
    --------
    >>> softmax(np.log([1.0, 3.0])).tolist()
    [0.25, 0.75]
    """
    powers = np.exp(np.asarray(scores, float) - scores.max(axis, keepdims=True))
    return np.asarray(powers / powers.sum(axis, keepdims=True))


def sigmoid(scores: NDArray[Scores]) -> NDArray[Scores]:
    """Probability of each log odds by itself, in the precision of the scores.

    Examples
    --------
    >>> sigmoid(np.log([1.0, 3.0])).tolist()
    [0.5, 0.75]
    """
    return np.asarray(1 / (1 + np.exp(-np.clip(scores, -STEEPEST, STEEPEST))))
