"""All samples of one drawn sheet, for every network that learns from it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from reader.image import crops
from reader.training.brush import KIND_DIAGRAM
from reader.training.piece_samples import pieces_of_take
from reader.training.samples import LEAST_SIDE, Sample, cells_sample, finder_sample, other_sample, reader_sample
from reader.training.strokes import Rng
from reader.training.windows import Window, make_drawing, take

NETWORKS = ("finder", "reader", "cells", "pieces")


@dataclass
class Bundle:
    """Samples of one drawn sheet for the networks."""

    finder: list[Sample] = field(default_factory=list)
    reader: list[Sample] = field(default_factory=list)
    cells: list[Sample] = field(default_factory=list)
    pieces: list[Sample] = field(default_factory=list)


def make_bundle(rng: Rng, names: Collection[str] = NETWORKS, takes: int = 2, crops_per_take: int = 5) -> Bundle:
    """Draw one sheet, take it more than once, and cut samples for the networks named out of every take.

    Where only pieces are wanted most sheets have fingers on them.
    """
    drawing = make_drawing(rng, most=8, written=set(names) == {"pieces"})
    bundle = Bundle()
    order = rng.permutation(len(drawing.diagrams))
    for k in range(takes):
        # the takes show different diagrams as far as there are enough
        _cut_take(take(rng, drawing), np.roll(order, -k * crops_per_take)[:crops_per_take], bundle, names, rng)
    return bundle


def _cut_take(window: Window, chosen: NDArray[np.int64], bundle: Bundle, names: Collection[str], rng: Rng) -> None:
    large = [min(crops.side_lengths(d.corners)) >= LEAST_SIDE for d in window.diagrams]
    if "reader" in names:
        read = [window.diagrams[int(k)] for k in chosen if large[int(k)]]
        bundle.reader += [reader_sample(window, d, rng) for d in read]
        other = other_sample(window, rng) if rng.random() < 0.4 or not read else None
        if other is not None:
            bundle.reader.append(other)
    whole = [d for d, fits in zip(window.diagrams, large, strict=True) if fits and not d.extra.get("cut")]
    whole = [d for d in whole if d.kind == KIND_DIAGRAM]
    if "cells" in names:
        bundle.cells += [cells_sample(window, d, rng) for d in whole]
    if "pieces" in names:
        bundle.pieces += pieces_of_take(window, whole, rng)
    if "finder" in names:
        bundle.finder.append(finder_sample(window, rng))
