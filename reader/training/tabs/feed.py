"""Worker processes that draw samples, and a store on the device that each sample is taken from a few times."""

from __future__ import annotations

import multiprocessing as mp
import queue
import random
import shutil
import tempfile
import threading
from dataclasses import dataclass, field
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import torch
from torch import Tensor

from reader.training.tabs.drawing import Parcel, draw_strips, draw_tiles, unpacked
from reader.training.tabs.glyphs import open_faces

MEMORY_NEEDED = 8 * 2**30
"""Bytes of pictures that may wait to be taken in, with much to spare."""
STORED = 110
REUSE = 6


@dataclass
class Feed:
    """Batches of one kind.

    A thread takes fresh batches into a store of the last ``STORED``; ``next`` deals one of
    them by lot, so that each is used about ``REUSE`` times while the workers draw.
    """

    device: str
    inbox: Any
    folder: Path
    workers: list[BaseProcess]
    rng: random.Random
    store: list[dict[str, Tensor]] = field(default_factory=list)
    credit: float = 0.0
    drawn: int = 0
    fresh: threading.Semaphore = field(default_factory=lambda: threading.Semaphore(0))
    lock: threading.Lock = field(default_factory=threading.Lock)
    ended: bool = False

    def fetch(self) -> dict[str, Tensor]:
        """One fresh batch, waited for; only before ``start``."""
        return self._received(self.inbox.get(timeout=600))

    def start(self) -> None:
        """Begin to take fresh batches in."""
        threading.Thread(target=self._take_in, daemon=True).start()

    def next(self) -> dict[str, Tensor]:
        """A batch to train on."""
        while self.credit < 1 or not self.store:
            self.fresh.acquire(timeout=600)
        with self.lock:
            self.credit -= 1
            return self.rng.choice(self.store)

    def _take_in(self) -> None:
        while not self.ended:
            try:
                batch = self._received(self.inbox.get(timeout=1))
            except queue.Empty:
                continue
            with self.lock:
                self.store = [*self.store[-STORED + 1 :], batch]
                self.credit = min(self.credit + REUSE, 4.0 * REUSE)
            self.fresh.release()

    def _received(self, handed: Parcel) -> dict[str, Tensor]:
        arrays = unpacked(handed)
        self.drawn += len(arrays["image"])
        return {k: torch.from_numpy(np.ascontiguousarray(v)).to(self.device) for k, v in arrays.items()}

    def stop(self) -> None:
        """End the workers."""
        self.ended = True
        for worker in self.workers:
            worker.terminate()
            worker.join(timeout=5)
        shutil.rmtree(self.folder, ignore_errors=True)


def quick_folder() -> Path:
    """An empty folder in memory where there is room for it, else on the disk."""
    memory = Path("/dev/shm")
    roomy = memory.is_dir() and shutil.disk_usage(memory).free > MEMORY_NEEDED
    return Path(tempfile.mkdtemp(dir=memory if roomy else None))


def start_feeds(folder: Path, workers: int, batch: int, seed: int, device: str, share: float = 0.2) -> dict[str, Feed]:
    """Start the workers: a ``share`` of them draws tiles, the others strips.

    They are forked, so that none has to load the fonts or this process's libraries anew; call this before anything
    touches the device.
    """
    cv2.setNumThreads(1)
    faces = open_faces(folder)
    context = mp.get_context("fork")
    tiles = min(workers - 1, max(1, round(workers * share)))
    plan = (("strips", max(1, workers - tiles), draw_strips, batch), ("tiles", tiles, draw_tiles, max(4, batch // 4)))
    feeds = {}
    for salt, (what, count, body, size) in enumerate(plan, 1):
        outbox, drop = context.Queue(maxsize=2 * count), quick_folder()
        seeds = (seed * 7919 + salt * 1000 + k for k in range(count))
        group = [context.Process(target=body, args=(faces, size, s, drop, outbox), daemon=True) for s in seeds]
        for worker in group:
            worker.start()
        feeds[what] = Feed(device, outbox, drop, list(group), random.Random(seed))
    return feeds
