"""Worker processes that draw samples, and a store on the device that each sample is taken from a few times."""

from __future__ import annotations

import multiprocessing as mp
import queue
import random
from dataclasses import dataclass, field
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import torch
from torch import Tensor

from reader.training.tabs.glyphs import open_faces
from reader.training.tabs.look import line_count
from reader.training.tabs.strips import Arrays, sample_strip, stacked
from reader.training.tabs.tiles import sample_tile

STORED = 160
REUSE = 4


def draw_forever(what: str, folder: Path, batch: int, seed: int, outbox: Any) -> None:
    """Body of a worker: batches of strips (all of one line count) or tiles, until killed."""
    cv2.setNumThreads(1)
    torch.set_num_threads(1)
    rng = random.Random(seed)
    faces = open_faces(folder)
    while True:
        if what == "strips":
            lines = line_count(rng)
            samples = [sample_strip(rng, faces, lines) for _ in range(batch)]
        else:
            samples = [sample_tile(rng, faces) for _ in range(max(4, batch // 3))]
        outbox.put(stacked(samples))


@dataclass
class Feed:
    """Batches of one kind.

    Fresh batches go into a store of the last ``STORED``; ``next`` deals one of
    them by lot, so that each is used about ``REUSE`` times while the workers draw.
    """

    device: str
    inbox: Any
    workers: list[BaseProcess]
    rng: random.Random
    store: list[dict[str, Tensor]] = field(default_factory=list)
    credit: float = 0.0
    drawn: int = 0

    def fetch(self) -> dict[str, Tensor]:
        """One fresh batch, waited for."""
        return self._received(self.inbox.get(timeout=600))

    def next(self) -> dict[str, Tensor]:
        """A batch to train on."""
        try:
            while True:
                self._keep(self._received(self.inbox.get_nowait()))
        except queue.Empty:
            pass
        if self.credit < 1 or not self.store:
            self._keep(self.fetch())
        self.credit -= 1
        return self.rng.choice(self.store)

    def _keep(self, batch: dict[str, Tensor]) -> None:
        self.store.append(batch)
        if len(self.store) > STORED:
            self.store.pop(0)
        self.credit = min(self.credit + REUSE, 4.0 * REUSE)

    def _received(self, arrays: Arrays) -> dict[str, Tensor]:
        self.drawn += len(arrays["image"])
        return {
            k: torch.from_numpy(np.ascontiguousarray(v)).to(self.device, non_blocking=True) for k, v in arrays.items()
        }

    def stop(self) -> None:
        """End the workers."""
        for worker in self.workers:
            worker.terminate()
            worker.join(timeout=5)


def start_feeds(folder: Path, workers: int, batch: int, seed: int, device: str) -> dict[str, Feed]:
    """Start the workers: about five in eight draw strips, the others tiles."""
    context = mp.get_context("spawn")
    tiles = max(1, round(workers * 0.4))
    feeds = {}
    for what, count, salt in (("strips", max(1, workers - tiles), 1000), ("tiles", tiles, 2000)):
        outbox = context.Queue(maxsize=3 * count)
        group: list[BaseProcess] = []
        for k in range(count):
            worker = context.Process(
                target=draw_forever, args=(what, folder, batch, seed * 7919 + salt + k, outbox), daemon=True
            )
            worker.start()
            group.append(worker)
        feeds[what] = Feed(device, outbox, group, random.Random(seed))
    return feeds
