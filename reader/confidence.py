"""From evidence of different kinds to one calibrated probability that all frets are right.

The weights are fitted by ``reader/training/calibrate.py`` on pages of a
generator that the networks never learned from; they lie in
``reader/models/confidence.json`` with their data and scores.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

MODEL = Path(__file__).parent / "models" / "confidence.json"
DEFAULT_ACCEPT_ERROR = 0.002
"""Share of wrong shapes among accepted ones that is aimed at unless the user asks otherwise."""


@dataclass(frozen=True, slots=True)
class Judge:
    """A logistic model of the evidence.

    Parameters
    ----------
    weights : by name of the transformed evidence
    bias : float
    bends : confidence as fitted -> share right, rising pairs that straighten the scale
    thresholds : share wrong among accepted -> least confidence to accept, rising shares
    diagram_weights : the same evidence weighed for whether this is a diagram at all
    diagram_bias : float
    least_diagram : probability of being a diagram below which a find is dropped
    """

    weights: dict[str, float]
    bias: float
    bends: tuple[tuple[float, float], ...]
    thresholds: tuple[tuple[float, float], ...]
    diagram_weights: dict[str, float]
    diagram_bias: float
    least_diagram: float

    def confidence(self, evidence: dict[str, float]) -> float:
        """Probability that all frets are right."""
        return straightened(logistic(self.weights, self.bias, transformed(evidence)), self.bends)

    def is_diagram(self, evidence: dict[str, float]) -> bool:
        """Whether this is a chord diagram rather than something that only looks like one."""
        return logistic(self.diagram_weights, self.diagram_bias, transformed(evidence)) >= self.least_diagram

    def least(self, accept_error: float) -> float:
        """Confidence from which a reading is accepted at this share of wrong ones."""
        fitting = [least for share, least in self.thresholds if share <= accept_error]
        return fitting[-1] if fitting else 1.0


def logistic(weights: dict[str, float], bias: float, parts: dict[str, float]) -> float:
    """A logistic model of the parts that it has weights for."""
    raw = bias + sum(w * parts[name] for name, w in weights.items())
    return 1 / (1 + math.exp(-max(-30.0, min(30.0, raw))))


def straightened(p: float, bends: tuple[tuple[float, float], ...]) -> float:
    """Piecewise linear map through rising pairs."""
    if not bends:
        return p
    if p <= bends[0][0]:
        return bends[0][1] * p / max(bends[0][0], 1e-9)
    for (a, fa), (b, fb) in pairwise(bends):
        if p <= b:
            return fa + (fb - fa) * (p - a) / max(b - a, 1e-9)
    return bends[-1][1]


def logit(p: float) -> float:
    """Log odds, kept within what a network's certainty can mean."""
    p = min(max(p, 0.0005), 0.9995)
    return math.log(p / (1 - p))


def transformed(evidence: dict[str, float]) -> dict[str, float]:
    """Evidence on scales on which it adds up."""
    e = evidence
    agrees, differs = e["label_agrees"], e["label_differs"]
    return {
        "shape": logit(e["shape"]),
        "weakest": logit(e["weakest"]),
        "margin": min(4.0, math.log10(max(e["margin"], 1e-4)) + 4) - 4,
        "strings": logit(e["strings"]),
        "first": logit(e["first"]),
        "first_disputed": -e["first_disputed"],
        "diagram": logit(e["diagram"]),
        "finder": logit(e["finder"]),
        "way": logit(e["way"]),
        "spread": -math.sqrt(max(0.0, e["spread"])),
        "moved": -min(1.0, e["moved"] * 10),
        "agrees": agrees * (0.5 + 0.5 * e["label"]),
        "differs": differs * (0.3 + 0.7 * e["label"]),
        "ink_missing": -max(0.0, 0.35 - e["ink_missing"]) * 3,
        "ink_extra": -max(0.0, e["ink_extra"] - 0.2) * 3,
        "small": -max(0.0, math.log(12 / max(e["gap"], 2.0))),
        "unnumbered": -e["unnumbered"],
        "rows": logit(e["rows"]),
        "unread": -e["number_unread"],
        "pale": -max(0.0, 0.7 - e.get("strength", 1.0)),
        "number_on_nut": -e.get("number_on_nut", 0.0),  # readings made before these were weighed lack them
        "off_ink": -max(0.0, 0.6 - e.get("on_ink", 1.0)),
        "close": logit(e.get("close", 1.0)),
    }


@cache
def judge() -> Judge:
    """The fitted model."""
    data = json.loads(MODEL.read_text(encoding="utf-8"))
    return Judge(
        weights={str(k): float(v) for k, v in data["weights"].items()},
        bias=float(data["bias"]),
        bends=tuple((float(a), float(b)) for a, b in data["bends"]),
        thresholds=tuple((float(a), float(b)) for a, b in data["thresholds"]),
        diagram_weights={str(k): float(v) for k, v in data["diagram"]["weights"].items()},
        diagram_bias=float(data["diagram"]["bias"]),
        least_diagram=float(data["diagram"]["least"]),
    )
