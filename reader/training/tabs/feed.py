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

from reader.training.tabs.drawing import draw_strips, draw_tiles
from reader.training.tabs.glyphs import open_faces
from reader.training.tabs.strips import Arrays

STORED = 110
REUSE = 6


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
    """Start the workers: about six in ten draw strips, the others tiles.

    They are forked, so that none has to load the fonts or this process's libraries anew; call this before anything
    touches the device.
    """
    cv2.setNumThreads(1)
    faces = open_faces(folder)
    context = mp.get_context("fork")
    tiles = max(1, round(workers * 0.4))
    plan = (("strips", max(1, workers - tiles), draw_strips, batch), ("tiles", tiles, draw_tiles, max(4, batch // 4)))
    feeds = {}
    for salt, (what, count, body, size) in enumerate(plan, 1):
        outbox = context.Queue(maxsize=3 * count)
        seeds = (seed * 7919 + salt * 1000 + k for k in range(count))
        group = [context.Process(target=body, args=(faces, size, s, outbox), daemon=True) for s in seeds]
        for worker in group:
            worker.start()
        feeds[what] = Feed(device, outbox, list(group), random.Random(seed))
    return feeds
