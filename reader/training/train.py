"""Trains the three networks on drawn pages, by the clock.

    python -m reader.training.train --minutes 9 --workers 24 --out RUN [--start RUN/networks.pt]

Every sample is drawn anew by the worker processes; the seed and the number of
steps are written to the log.  ``--start`` goes on from a checkpoint.
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
from reader.training.nets import DiagramReader, Finder, Letterer
from reader.training.samples import Sample, make_bundle

CHUNK = 6
SHARES = {"finder": 2.0, "reader": 6.4, "letterer": 5.4}
"""Samples a window that each network learns from in a step."""
VALIDATION_SEED = 77_000_000
Stacked = dict[str, Tensor]
PARTS: dict[str, tuple[Callable[[], nn.Module], Callable[..., Any], Callable[..., Any]]] = {
    "finder": (Finder, losses.finder_loss, scores.finder_scores),
    "reader": (DiagramReader, losses.reader_loss, scores.reader_scores),
    "letterer": (Letterer, losses.letterer_loss, scores.letterer_scores),
}


def stack(samples: list[Sample]) -> Stacked:
    """Samples as one batch."""
    return {k: torch.from_numpy(np.stack([s[k] for s in samples])) for k in samples[0]}


class Drawings(IterableDataset[dict[str, Stacked]]):
    """Chunks of samples, drawn without end."""

    def __init__(self, seed: int, windows: int | None = None) -> None:
        self.seed, self.windows = seed, windows

    def __iter__(self) -> Iterator[dict[str, Stacked]]:
        cv2.setNumThreads(0)
        torch.set_num_threads(1)
        info = get_worker_info()
        worker, workers = (info.id, info.num_workers) if info else (0, 1)
        at = worker
        while self.windows is None or at * CHUNK < self.windows:
            yield draw_chunk(self.seed, at)
            at += workers


def draw_chunk(seed: int, index: int) -> dict[str, Stacked]:
    """Chunk ``index`` of a seed: always the same."""
    parts: dict[str, list[Sample]] = {"finder": [], "reader": [], "letterer": []}
    for k in range(CHUNK):
        rng = np.random.default_rng([seed, index * CHUNK + k])
        bundle = make_bundle(rng)
        parts["finder"] += bundle.finder
        parts["reader"] += bundle.reader
        parts["letterer"] += bundle.lettering
    return {name: stack(samples) for name, samples in parts.items() if samples}


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
        """One batch, or nothing while too few wait; what does not fit into two batches is dropped."""
        if self.count < self.size:
            return None
        joined = {k: torch.cat([p[k] for p in self.waiting]) for k in self.waiting[0]}
        rest = {k: v[self.size : 2 * self.size] for k, v in joined.items()}
        self.waiting, self.count = [rest], len(rest["picture"])
        return {k: v[: self.size] for k, v in joined.items()}


class Student:
    """One network with its optimiser and its running average."""

    def __init__(self, name: str, device: str, rate: float, start: dict[str, Any] | None) -> None:
        self.name, self.device, self.rate = name, device, rate
        make, self.loss, self.score = PARTS[name]
        self.net = make().to(device).to(memory_format=torch.channels_last)  # type: ignore[call-overload]
        if start is not None:
            self.net.load_state_dict(start[name])
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


def train(
    minutes: float, workers: int, out: Path, start: Path | None, seed: int, rate: float, chunks: int, validation: int
) -> None:
    """Train by the clock and write checkpoint and log to ``out``."""
    began = time.monotonic()
    devices = [f"cuda:{i}" for i in range(torch.cuda.device_count())] or ["cpu"]
    torch.manual_seed(seed)
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    torch.backends.cudnn.benchmark = True
    saved = torch.load(start, map_location="cpu") if start else None
    places = {"finder": devices[-1], "reader": devices[0], "letterer": devices[-1] if len(devices) > 1 else devices[0]}
    students = {name: Student(name, places[name], rate, saved) for name in PARTS}
    loader = DataLoader(
        Drawings(seed),
        batch_size=None,
        num_workers=workers,
        prefetch_factor=4 if workers else None,
        pin_memory=torch.cuda.is_available(),
    )
    out.mkdir(parents=True, exist_ok=True)
    log = (out / "train.log").open("w")
    deadline = began + minutes * 60 - 45 * min(1.0, minutes / 4)
    pools = {name: Pool(max(4, round(share * chunks * CHUNK))) for name, share in SHARES.items()}
    steps = drawn = 0
    for chunk in loader:
        drawn += CHUNK
        for name, part in chunk.items():
            pools[name].add(part)
        if drawn % (CHUNK * chunks):
            continue
        now = time.monotonic()
        progress = (now - began) / (deadline - began)
        for name, student in students.items():
            batch = pools[name].take()
            if batch is not None:
                student.step(student.ready(batch), progress)
        steps += 1
        if now - began > 120 and steps < int(devices[0] != "cpu") * 60:
            raise SystemExit(f"only {steps} steps in {now - began:.0f} s: something is wrong, stopping")
        if steps % 200 == 0 or progress >= 1:
            terms = {n: {k: round(float(v), 4) for k, v in s.sums.items()} for n, s in students.items()}
            line = json.dumps({"step": steps, "seconds": round(now - began), "windows": drawn, **terms})
            print(line, file=log, flush=True)
            print(f"step {steps} {now - began:.0f}s windows {drawn}", flush=True)
        if progress >= 1:
            break
    torch.save(
        {
            n: {k: v.half() if v.is_floating_point() else v for k, v in s.mean.state_dict().items()}
            for n, s in students.items()
        },
        out / "networks.pt",
    )
    report = validate(students, validation)
    summary = {"steps": steps, "windows": drawn, "minutes": minutes, "seed": seed, "rate": rate, "scores": report}
    (out / "scores.json").write_text(json.dumps(summary, indent=1))
    print(json.dumps(summary), flush=True)
    os._exit(0)  # the worker processes draw without end


def validate(students: dict[str, Student], windows: int) -> dict[str, dict[str, float]]:
    """Scores of the averaged networks on windows of a seed never trained on."""
    parts: dict[str, list[Stacked]] = {name: [] for name in PARTS}
    loader = DataLoader(Drawings(VALIDATION_SEED, windows), batch_size=None, num_workers=min(16, os.cpu_count() or 1))
    for chunk in loader:
        for name, part in chunk.items():
            parts[name].append(part)
    return {name: students[name].validate(parts[name]) for name in PARTS}


def main() -> None:
    """Command line."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--minutes", type=float, default=9.0)
    ask.add_argument("--workers", type=int, default=max(1, (os.cpu_count() or 2) - 2))
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--start", type=Path)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--rate", type=float, default=2e-3)
    ask.add_argument("--chunks", type=int, default=6, help="chunks of drawings in one step")
    ask.add_argument("--validation", type=int, default=600, help="windows to validate on")
    o = ask.parse_args()
    train(o.minutes, o.workers, o.out, o.start, o.seed, o.rate, o.chunks, o.validation)


if __name__ == "__main__":
    main()
