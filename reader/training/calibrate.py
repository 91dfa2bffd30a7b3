"""Fits the confidence of readings on pages of the generator written apart.

    python -m reader.training.calibrate TRUTH.jsonl READINGS.jsonl [TRUTH READINGS …]

The readings must come from ``reader.training.read_apart`` with the networks and
the code as they are: each holds the evidence that the model weighs.  Half of the pages fit the weights, the
other half straighten the scale and set the thresholds; then the halves change
places, and the final model is fitted on all.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from reader.confidence import MODEL, straightened, transformed
from reader.evaluate.judge import PageOutcome, judge_pages
from reader.evaluate.truth import parse_readings, parse_truth
from reader.flags import BY_CONFIDENCE
from reader.image.odds import sigmoid
from reader.reading import Reading

Floats = NDArray[np.float64]
SHARES = (0.0005, 0.001, 0.002, 0.003, 0.005, 0.01, 0.02)
PULL = 3.0
"""Strength of the pull of the weights towards zero."""
LOG_ODDS = ("shape", "weakest", "strings", "first", "diagram", "finder", "way", "rows", "close")
MOST_ODDS = 1.0
"""Parts that are log odds of one thing, and their largest weight: none counts more than as if it told all."""
MOST_PALE = 2.0
"""Largest weight of pale ink: here it mostly shows through, on real pages it may be a pencil beside print."""
LEAST_DIAGRAM = 0.2
"""Probability of being a diagram from which a find is kept: drawings by hands that nobody has drawn for here look less
like one, and a diagram that is dropped is never looked at."""


@dataclass(frozen=True, slots=True)
class Examples:
    """Evidence, whether the shape was right, whether it was a diagram, whether a rule asks for a look whatever the
    confidence; ``page`` keeps those of a page together."""

    names: tuple[str, ...]
    parts: Floats
    right: Floats
    diagram: Floats
    ruled: NDArray[np.bool_]
    page: NDArray[np.int64]

    def only(self, chosen: NDArray[np.bool_]) -> Examples:
        """The chosen ones."""
        c = chosen
        return Examples(self.names, self.parts[c], self.right[c], self.diagram[c], self.ruled[c], self.page[c])


def gather(pairs: Sequence[tuple[Path, Path]]) -> Examples:
    """Examples from truth and readings files; diagrams that are no diagrams count as wrong."""
    rows: list[dict[str, float]] = []
    right: list[float] = []
    diagram: list[float] = []
    ruled: list[bool] = []
    page: list[int] = []
    number = 0
    for truth_path, readings_path in pairs:
        truth = parse_truth(truth_path.read_text(encoding="utf-8").splitlines(), str(truth_path))
        readings = parse_readings(readings_path.read_text(encoding="utf-8").splitlines(), str(readings_path))
        for outcome in judge_pages(truth, readings, {}):
            number += 1
            for reading, ok, real in judged(outcome):
                rows.append(transformed(reading.evidence))
                right.append(float(ok))
                diagram.append(float(real))
                ruled.append(any(flag.code not in BY_CONFIDENCE for flag in reading.flags))
                page.append(number)
    names = tuple(rows[0])
    parts = np.array([[r[n] for n in names] for r in rows])
    return Examples(names, parts, np.array(right), np.array(diagram), np.array(ruled), np.array(page))


def judged(outcome: PageOutcome) -> list[tuple[Reading, bool, bool]]:
    """Every reading of a page that counts, whether it is right and whether there is a diagram."""
    met = [(p.truth, p.reading) for p in outcome.diagrams if p.reading is not None and not p.truth.hard]
    out = [(reading, reading.frame.frets == truth.drawn.frame.frets, True) for truth, reading in met]
    return out + [(reading, False, False) for reading in outcome.false]


def fit(names: Sequence[str], parts: Floats, right: Floats) -> tuple[Floats, float]:
    """Weights (none below zero: every part speaks for the reading as it grows) and bias of a logistic model."""
    most = [MOST_ODDS if name in LOG_ODDS else MOST_PALE if name == "pale" else None for name in names]
    spread = parts.std(0) + 1e-6

    def cost(w: Floats) -> tuple[float, Floats]:
        z = parts @ w[:-1] + w[-1]
        p = sigmoid(z)
        loss = np.logaddexp(0, z) - right * z
        grad = np.append((p - right) @ parts, (p - right).sum())
        pull = np.append((w[:-1] * spread) * spread, 0.0)
        return float(loss.sum() + PULL / 2 * ((w[:-1] * spread) ** 2).sum()), grad + PULL * pull

    start = np.append(np.full(parts.shape[1], 0.1), 0.0)
    found = minimize(cost, start, jac=True, method="L-BFGS-B", bounds=[*((0, m) for m in most), (None, None)])
    return found.x[:-1], float(found.x[-1])


def bend(p: Floats, right: Floats, least: int = 60) -> list[tuple[float, float]]:
    """Rising pairs (fitted, share right) by pooling neighbours that do not rise."""
    order = np.argsort(p)
    blocks: list[tuple[float, float, float]] = []  # sum of fitted, right, all
    for part in np.array_split(order, max(2, len(order) // least)):
        blocks.append((float(p[part].sum()), float(right[part].sum()), float(len(part))))
        while len(blocks) > 1 and _share(blocks[-2]) >= _share(blocks[-1]):
            after, before = blocks.pop(), blocks.pop()
            blocks.append((before[0] + after[0], before[1] + after[1], before[2] + after[2]))
    return [(round(block[0] / block[2], 5), round(_share(block), 5)) for block in blocks]


def _share(block: tuple[float, float, float]) -> float:
    """Share right, as if half of one more were."""
    return (block[1] + 0.5) / (block[2] + 1)


def thresholds(p: Floats, right: Floats) -> list[tuple[float, float]]:
    """For each share of wrong among accepted the least confidence from which it holds."""
    order = np.argsort(-p)
    wrong = np.cumsum(1 - right[order])
    # one more wrong than was seen: what is not seen yet is not taken for never
    share = (wrong + 0.5) / np.arange(1, len(p) + 1)
    out = []
    for limit in SHARES:
        fits = np.flatnonzero(share <= limit)
        out.append((limit, round(float(p[order[fits[-1]]]), 5) if len(fits) else 1.0))
    return out


def expected_error(p: Floats, right: Floats, bins: int = 10) -> float:
    """Mean difference between confidence and share right over equal bins, weighted by count."""
    k = np.minimum((p * bins).astype(int), bins - 1)
    return float(
        sum((k == b).mean() * abs(p[k == b].mean() - right[k == b].mean()) for b in range(bins) if (k == b).any())
    )


def crosswise(e: Examples) -> Floats:
    """Confidence of each example from a model fitted and straightened on the other half of the pages."""
    out = np.zeros(len(e.right))
    for half in (0, 1):
        mine = e.page % 2 == half
        w, b = fit(e.names, e.parts[~mine], e.right[~mine])
        bends = tuple(bend(sigmoid(e.parts[~mine] @ w + b), e.right[~mine]))
        out[mine] = [straightened(float(p), bends) for p in sigmoid(e.parts[mine] @ w + b)]
    return out


def diagram_model(e: Examples) -> tuple[dict[str, object], NDArray[np.bool_]]:
    """The model that tells diagrams from what only looks like one; whom it keeps."""
    w, b = fit(e.names, e.parts, e.diagram)
    p = sigmoid(e.parts @ w + b)
    real = e.diagram > 0
    model: dict[str, object] = {
        "weights": {n: round(float(v), 4) for n, v in zip(e.names, w, strict=True)},
        "bias": round(b, 4),
        "least": LEAST_DIAGRAM,
        "others": int((~real).sum()),
        "others_kept": int((p[~real] >= LEAST_DIAGRAM).sum()),
        "dropped": int((p[real] < LEAST_DIAGRAM).sum()),
    }
    return model, p >= LEAST_DIAGRAM


def main() -> None:
    """Command line."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("files", type=Path, nargs="+", help="truth and readings, in turn")
    ask.add_argument("--out", type=Path, default=MODEL)
    o = ask.parse_args()
    everything = gather(list(zip(o.files[::2], o.files[1::2], strict=True)))
    diagram, kept = diagram_model(everything)
    e = everything.only(kept)
    fair = crosswise(e)
    w, b = fit(e.names, e.parts, e.right)
    raw = sigmoid(e.parts @ w + b)
    bends = bend(raw, e.right)
    model = {
        "about": "Logistic model of the evidence of a reading; made by reader/training/calibrate.py.",
        "examples": len(e.right),
        "wrong": int((1 - e.right).sum()),
        "expected_calibration_error": round(expected_error(fair, e.right), 4),
        "weights": {n: round(float(v), 4) for n, v in zip(e.names, w, strict=True)},
        "bias": round(b, 4),
        "bends": bends,
        "thresholds": thresholds(fair[~e.ruled], e.right[~e.ruled]),
        "diagram": diagram,
    }
    o.out.write_text(json.dumps(model, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(model))


if __name__ == "__main__":
    main()
