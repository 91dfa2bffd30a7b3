"""Bodies of the worker processes: they draw batches of samples until they are ended."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from reader.training.tabs.glyphs import Faces
from reader.training.tabs.look import line_count
from reader.training.tabs.strips import Arrays, sample_strips, stacked
from reader.training.tabs.tiles import sample_tile

Parcel = tuple[str, Arrays]
"""Path of a file with the pictures of a batch, and its other arrays."""


def parcel(batch: Arrays, path: Path) -> Parcel:
    """A batch ready to be handed over: its pictures, too many for a pipe, are written to a file."""
    np.save(path, batch["image"])
    return str(path), {name: values for name, values in batch.items() if name != "image"}


def unpacked(handed: Parcel) -> Arrays:
    """The batch of a parcel, whose file is removed."""
    path = Path(handed[0])
    pictures = np.load(path)
    path.unlink()
    return {"image": pictures, **handed[1]}


def draw_strips(faces: Faces, batch: int, seed: int, folder: Path, outbox: Any) -> None:
    """Batches of strips, all of one line count, two views of each drawing."""
    cv2.setNumThreads(1)
    rng = random.Random(seed)
    number = 0
    while True:
        lines = line_count(rng)
        samples: list[Arrays] = []
        while len(samples) < batch:
            samples += sample_strips(rng, faces, lines)
        number += 1
        outbox.put(parcel(stacked(samples[:batch]), folder / f"{seed}-{number}.npy"))


def draw_tiles(faces: Faces, batch: int, seed: int, folder: Path, outbox: Any) -> None:
    """Batches of page tiles."""
    cv2.setNumThreads(1)
    rng = random.Random(seed)
    number = 0
    while True:
        number += 1
        tiles = stacked([sample_tile(rng, faces) for _ in range(batch)])
        outbox.put(parcel(tiles, folder / f"{seed}-{number}.npy"))
