"""Bodies of the worker processes: they draw batches of samples until they are ended."""

from __future__ import annotations

import random
from typing import Any

import cv2

from reader.training.tabs.glyphs import Faces
from reader.training.tabs.look import line_count
from reader.training.tabs.strips import Arrays, sample_strips, stacked
from reader.training.tabs.tiles import sample_tile


def draw_strips(faces: Faces, batch: int, seed: int, outbox: Any) -> None:
    """Batches of strips, all of one line count, two views of each drawing."""
    cv2.setNumThreads(1)
    rng = random.Random(seed)
    while True:
        lines = line_count(rng)
        samples: list[Arrays] = []
        while len(samples) < batch:
            samples += sample_strips(rng, faces, lines)
        outbox.put(stacked(samples[:batch]))


def draw_tiles(faces: Faces, batch: int, seed: int, outbox: Any) -> None:
    """Batches of page tiles."""
    cv2.setNumThreads(1)
    rng = random.Random(seed)
    while True:
        outbox.put(stacked([sample_tile(rng, faces) for _ in range(batch)]))
