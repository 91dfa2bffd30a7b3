"""Trains the networks for diagrams on drawn pages, by the clock.

    python -m reader.training.train --minutes 9 --workers 24 --out RUN [--start RUN/networks.pt] [--networks cells]

Every sample is drawn anew by the worker processes; the seed and the number of
steps are written to the log.  ``--start`` goes on from a checkpoint; ``reader.training.thaw``
makes one of what ships.  Where there are cores and devices enough, the networks
learn faster each in a run of its own.
"""

from __future__ import annotations

import argparse
import copy
import json
import math
import os
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import torch
from torch import Tensor, nn
from torch.utils.data import DataLoader, IterableDataset, get_worker_info

from reader.training import losses, scores
from reader.training.bundles import make_bundle
from reader.training.cells import Cells, cells_loss, cells_scores
from reader.training.nets import DiagramReader, Finder
from reader.training.pieces import Pieces, pieces_loss, pieces_scores
from reader.training.samples import Sample

CHUNK = 6
BATCHES = {"finder": 48, "reader": 160, "cells": 96, "pieces": 1024}
"""Samples that each network learns from in a step."""
MOST_STEPS = 3
"""Steps in a row at most with what has gathered for a network."""
STEP_WINDOWS = 24
"""Sheets drawn between looks at the clock."""
VALIDATION_SEED = 77_000_000
Stacked = dict[str, Tensor]
Size = tuple[str, int, int]
"""A network's name with the height and width of its pictures."""
PARTS: dict[str, tuple[Callable[[], nn.Module], Callable[..., Any], Callable[..., Any]]] = {
    "finder": (Finder, losses.finder_loss, scores.finder_scores),
    "reader": (DiagramReader, losses.reader_loss, scores.reader_scores),
    "cells": (Cells, cells_loss, cells_scores),
    "pieces": (Pieces, pieces_loss, pieces_scores),
}


def stack(samples: list[Sample]) -> Stacked:
    """Samples as one batch."""
    return {k: torch.from_numpy(np.stack([s[k] for s in samples])) for k in samples[0]}


class Drawings(IterableDataset[dict[Size, Stacked]]):
    """Chunks of samples, drawn without end."""

    def __init__(self, seed: int, names: tuple[str, ...], windows: int | None = None) -> None:
        self.seed, self.names, self.windows = seed, names, windows

    def __iter__(self) -> Iterator[dict[Size, Stacked]]:
        cv2.setNumThreads(0)
        torch.set_num_threads(1)
        info = get_worker_info()
        worker, workers = (info.id, info.num_workers) if info else (0, 1)
        at = worker
        while self.windows is None or at * CHUNK < self.windows:
            yield draw_chunk(self.seed, at, self.names)
            at += workers


def draw_chunk(seed: int, index: int, names: tuple[str, ...]) -> dict[Size, Stacked]:
    """Chunk ``index`` of a seed for the networks named, by network and size of picture: always the same."""
    parts: dict[Size, list[Sample]] = defaultdict(list)
    for k in range(CHUNK):
        bundle = make_bundle(np.random.default_rng([seed, index * CHUNK + k]), names)
        for name in names:
            for sample in getattr(bundle, name):
                height, width = sample["picture"].shape[1:]
                parts[name, height, width].append(sample)
    return {size: stack(samples) for size, samples in parts.items()}


class Pool:
    """Samples on the way to one network, handed out in batches of one size: the GPU tunes itself to one shape only."""

    def __init__(self, size: int) -> None:
        self.size = size
        self.waiting: list[Stacked] = []
        self.count = 0

    def add(self, part: Stacked) -> None:
        """Put samples in."""
        self.waiting.append(part)
        self.count += len(part["picture"])

    def take(self) -> Stacked | None:
        """One batch, or nothing while too few wait; what does not fit into three batches is dropped."""
        if self.count < self.size:
            return None
        joined = {k: torch.cat([p[k] for p in self.waiting]) for k in self.waiting[0]}
        rest = {k: v[self.size : 3 * self.size] for k, v in joined.items()}
        self.waiting, self.count = [rest], len(rest["picture"])
        return {k: v[: self.size] for k, v in joined.items()}


class Student:
    """One network with its optimiser and its running average."""

    def __init__(self, name: str, device: str, rate: float, start: dict[str, Any] | None) -> None:
        self.name, self.device, self.rate = name, device, rate
        make, self.loss, self.score = PARTS[name]
        self.net = make().to(device).to(memory_format=torch.channels_last)  # type: ignore[call-overload]
        if start is not None:
            self.net.load_state_dict(start)
        self.mean = copy.deepcopy(self.net).eval()
        decay = [p for p in self.net.parameters() if p.ndim > 1]
        plain = [p for p in self.net.parameters() if p.ndim <= 1]
        groups = [{"params": decay, "weight_decay": 0.02}, {"params": plain, "weight_decay": 0.0}]
        self.optimiser = torch.optim.AdamW(groups, lr=rate, betas=(0.9, 0.98))
        self.steps = 0
        self.sums: dict[str, Tensor] = {}

    def ready(self, part: Stacked) -> Stacked:
        """One batch on the device; pictures as float."""
        batch = {k: v.to(self.device, non_blocking=True) for k, v in part.items()}
        batch["picture"] = batch["picture"].float().contiguous(memory_format=torch.channels_last)
        return batch

    def step(self, batch: Stacked, progress: float) -> None:
        """One step of learning; ``progress`` 0 to 1 through the time."""
        warm = min(1.0, (self.steps + 1) / 200)
        rate = self.rate * warm * (0.5 * (1 + math.cos(math.pi * min(1.0, progress))) * 0.995 + 0.005)
        for group in self.optimiser.param_groups:
            group["lr"] = rate
        cuda = self.device.startswith("cuda")
        with torch.autocast("cuda" if cuda else "cpu", torch.bfloat16):
            out = self.net(batch["picture"])
        loss, terms = self.loss(out, batch)
        self.optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(self.net.parameters(), 5.0)
        self.optimiser.step()
        self.steps += 1
        self._average()
        for key, value in terms.items():
            self.sums[key] = self.sums.get(key, torch.zeros((), device=self.device)) * 0.99 + 0.01 * value.detach()

    @torch.no_grad()
    def _average(self) -> None:
        keep = min(0.998, (1 + self.steps) / (10 + self.steps))
        mine, theirs = list(self.mean.parameters()), list(self.net.parameters())
        torch._foreach_lerp_(mine, theirs, 1 - keep)
        for a, b in zip(self.mean.buffers(), self.net.buffers(), strict=True):
            a.copy_(b)

    @torch.no_grad()
    def validate(self, batches: list[Stacked]) -> dict[str, float]:
        """Shares right over the batches."""
        right: dict[str, float] = defaultdict(float)
        of: dict[str, float] = defaultdict(float)
        for part in batches:
            batch = self.ready(part)
            for key, (a, b) in self.score(self.mean(batch["picture"]), batch).items():
                right[key] += a
                of[key] += b
        return {k: round(right[k] / max(of[k], 1), 4) for k in right}


class School:
    """The networks that learn and the samples on the way to them."""

    def __init__(self, names: tuple[str, ...], device: str, rate: float, start: Path | None) -> None:
        saved = torch.load(start, map_location="cpu") if start else {}
        self.students = {name: Student(name, device, rate, saved.get(name)) for name in names}
        self.pools: dict[Size, Pool] = {}

    def add(self, chunk: dict[Size, Stacked]) -> None:
        """Put a chunk of samples in."""
        for size, part in chunk.items():
            self.pools.setdefault(size, Pool(BATCHES[size[0]])).add(part)

    def learn(self, progress: float) -> None:
        """One step with every batch that is full."""
        for (name, _, _), pool in self.pools.items():
            # crops of the cells come in many sizes, and tuning to each of them would cost more than it brings
            torch.backends.cudnn.benchmark = name != "cells"
            student = self.students[name]
            for _ in range(MOST_STEPS):
                batch = pool.take()
                if batch is None:
                    break
                student.step(student.ready(batch), progress)

    def save(self, path: Path) -> None:
        """Write the averaged weights in half precision."""
        states = {name: s.mean.state_dict() for name, s in self.students.items()}
        half = {n: {k: v.half() if v.is_floating_point() else v for k, v in s.items()} for n, s in states.items()}
        torch.save(half, path)

    def terms(self) -> dict[str, dict[str, float]]:
        """Running means of the losses."""
        return {n: {k: round(float(v), 4) for k, v in s.sums.items()} for n, s in self.students.items()}

    def validate(self, windows: int) -> dict[str, dict[str, float]]:
        """Scores of the averaged networks on windows of a seed never trained on."""
        parts: dict[str, list[Stacked]] = {name: [] for name in self.students}
        workers = min(16, os.cpu_count() or 1)
        apart = Drawings(VALIDATION_SEED, tuple(self.students), windows)
        for chunk in DataLoader(apart, batch_size=None, num_workers=workers):
            for (name, _, _), part in chunk.items():
                parts[name].append(part)
        torch.backends.cudnn.benchmark = False
        return {name: student.validate(parts[name]) for name, student in self.students.items()}


def train(o: argparse.Namespace) -> None:
    """Train by the clock and write checkpoint and log to ``o.out``."""
    began = time.monotonic()
    torch.manual_seed(o.seed)
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    names = tuple(o.networks.split(","))
    school = School(names, o.device, o.rate, o.start)
    pinned = torch.cuda.is_available()
    loader = DataLoader(
        Drawings(o.seed, names),
        batch_size=None,
        num_workers=o.workers,
        prefetch_factor=4 if o.workers else None,
        pin_memory=pinned,
    )
    o.out.mkdir(parents=True, exist_ok=True)
    log = (o.out / "train.log").open("w")
    deadline = began + o.minutes * 60 - 45 * min(1.0, o.minutes / 4)
    steps = drawn = 0
    for chunk in loader:
        drawn += CHUNK
        school.add(chunk)
        if drawn % STEP_WINDOWS:
            continue
        now = time.monotonic()
        progress = (now - began) / (deadline - began)
        school.learn(progress)
        steps += 1
        if steps % 200 == 0 or progress >= 1:
            line = {"step": steps, "seconds": round(now - began), "windows": drawn, **school.terms()}
            print(json.dumps(line), file=log, flush=True)
            print(f"step {steps} {now - began:.0f}s windows {drawn}", flush=True)
            school.save(o.out / "networks.pt")
        if progress >= 1:
            break
    report = school.validate(o.validation)
    summary = {"steps": steps, "windows": drawn, "minutes": o.minutes, "seed": o.seed, "rate": o.rate, "scores": report}
    (o.out / "scores.json").write_text(json.dumps(summary, indent=1))
    print(json.dumps(summary), flush=True)
    os._exit(0)  # the worker processes draw without end


def main() -> None:
    """Command line."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--minutes", type=float, default=9.0)
    ask.add_argument("--workers", type=int, default=max(1, (os.cpu_count() or 2) - 2))
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--start", type=Path)
    ask.add_argument("--networks", default=",".join(PARTS), help="which of them to train")
    ask.add_argument("--device", default="cuda:0" if torch.cuda.is_available() else "cpu")
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--rate", type=float, default=2e-3)
    ask.add_argument("--validation", type=int, default=600, help="windows to validate on")
    train(ask.parse_args())


if __name__ == "__main__":
    main()
