"""The cell network: every place for a mark stands in a cell of its own, and each cell is judged among its neighbours.

    python -m reader.training.cells --minutes 30 --workers 1 --out RUN [--start RUN/cells.pt] [--device cuda:0]

Strings and rows are counted before, so a diagram can be stretched onto a
lattice of even cells.  What is left to see is small and always of one size:
hence the network is small, and few drawings teach it much.
"""

from __future__ import annotations

import argparse
import copy
import json
import math
import os
import time
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional
from torch.utils.data import DataLoader, IterableDataset, get_worker_info

from reader.image import crops
from reader.training.brush import KIND_DIAGRAM, Drawn
from reader.training.content import MUTED
from reader.training.nets import Block, conv, even_light
from reader.training.samples import IGNORE, Sample, shaken
from reader.training.strokes import Rng
from reader.training.windows import Window, make_drawing, take

CHANNELS = {"above": 3, "stop": 1, "finger": 6, "barre": 1}
"""Per cell: muted, open and nothing (asked of the row above the nut); a stop; the finger 0 to 5; under a barre."""
VALIDATION_SEED = 78_000_000


class Cells(nn.Module):
    """What stands in each cell.

    Input ``[n, 3, rows * 40, columns * 32]``.  Output ``cells`` logits
    ``[n, 11, rows, columns]``, see ``CHANNELS``.
    """

    def __init__(self, width: int = 96) -> None:
        super().__init__()
        self.stem = nn.Sequential(conv(3, 20, 3, 2), conv(20, 36, 3, 2), Block(36))
        self.s8 = nn.Sequential(conv(36, 64, 3, 2), Block(64))
        self.gather = nn.Sequential(
            nn.Conv2d(64, width, (5, 4), (5, 4), bias=False), nn.BatchNorm2d(width), nn.ReLU(inplace=True)
        )
        self.mix = nn.Sequential(Block(width), Block(width), Block(width))
        self.out = nn.Conv2d(width, sum(CHANNELS.values()), 1)

    def forward(self, x: Tensor) -> Tensor:
        out: Tensor = self.out(self.mix(self.gather(self.s8(self.stem(even_light(x))))))
        return out


def cells_sample(window: Window, d: Drawn, rng: Rng) -> Sample:
    """A lattice crop of one diagram with what stands in its cells."""
    corners = shaken(d.corners, rng, rough=False)
    if rng.random() < 0.15:
        corners = shaken(corners, rng, rough=False)
    matrix = crops.lattice_matrix(corners, d.strings, d.rows)
    picture = crops.cut(window.picture, matrix, crops.lattice_size(d.strings, d.rows))
    state = np.full(d.strings, IGNORE, np.int64)
    for s, value in enumerate(d.states):
        # 0 muted, 1 open with a mark, 2 open without, 3 on: stopped in row 1 on
        state[s] = 0 if value == MUTED else value + 2 if value > 0 else 1 if d.open_marks[s] else 2
    return {
        "picture": np.ascontiguousarray(picture.transpose(2, 0, 1)),
        "state": state,
        "finger": np.array(d.fingers, np.int64),
        "barre": np.array(d.barre, np.int64),
    }


class Lattices(IterableDataset[dict[str, Tensor]]):
    """Batches of diagrams of one size, drawn without end (or from ``windows`` sheets)."""

    def __init__(self, seed: int, batch: int, windows: int | None = None) -> None:
        self.seed, self.batch, self.windows = seed, batch, windows

    def __iter__(self) -> Iterator[dict[str, Tensor]]:
        cv2.setNumThreads(0)
        torch.set_num_threads(1)
        info = get_worker_info()
        at, step = (info.id, info.num_workers) if info else (0, 1)
        waiting: dict[tuple[int, int], list[Sample]] = defaultdict(list)
        while self.windows is None or at < self.windows:
            for sample in draw_lattices(np.random.default_rng([self.seed, at])):
                key = (int(sample["picture"].shape[1]), int(sample["picture"].shape[2]))
                waiting[key].append(sample)
                if len(waiting[key]) >= self.batch:
                    yield stack(waiting.pop(key))
            at += step
        for rest in waiting.values():
            yield stack(rest)


def stack(samples: list[Sample]) -> dict[str, Tensor]:
    """Samples of one size as one batch."""
    return {k: torch.from_numpy(np.stack([s[k] for s in samples])) for k in samples[0]}


def draw_lattices(rng: Rng, takes: int = 2) -> list[Sample]:
    """Lattice crops of all diagrams of one sheet, taken more than once."""
    drawing = make_drawing(rng, most=8)
    out = []
    for _ in range(takes):
        window = take(rng, drawing)
        for d in window.diagrams:
            small = min(crops.side_lengths(d.corners)) < 14
            if d.kind == KIND_DIAGRAM and not small and not d.extra.get("cut"):
                out.append(cells_sample(window, d, rng))
    return out


def odds(cells: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    """Logits per string of its state [n, S, 3 + R], per place of the finger [n, S, R, 6] and of a barre [n, S, R]."""
    beside, above = crops.CELLS_BESIDE, crops.CELLS_ABOVE
    inner = cells[:, :, :, beside:-beside]
    rows = inner.shape[2] - above - crops.CELLS_BELOW
    top = inner[:, :3, above - 1]
    grid = inner[:, :, above : above + rows]
    state = torch.cat([top, grid[:, 3]], 1).transpose(1, 2)
    below = inner[:, 4:10, above + rows].unsqueeze(2)
    finger = (grid[:, 4:10] + below).permute(0, 3, 2, 1)
    return state, finger, grid[:, 10].transpose(1, 2)


def cells_loss(cells: Tensor, batch: dict[str, Tensor]) -> tuple[Tensor, dict[str, Tensor]]:
    """Cross entropy of the states, of the fingers where there is a stop, of barres in every cell."""
    state, finger, barre = odds(cells.float())
    target = batch["state"]
    terms = {"state": functional.cross_entropy(state.flatten(0, 1), target.flatten(), ignore_index=IGNORE)}
    row = (target - 3).clamp(min=0)
    at_stop = finger.gather(2, row[:, :, None, None].expand(-1, -1, 1, 6))[:, :, 0]
    wanted = torch.where(target >= 3, batch["finger"], torch.full_like(target, IGNORE))
    each = functional.cross_entropy(at_stop.flatten(0, 1), wanted.flatten(), ignore_index=IGNORE, reduction="sum")
    terms["finger"] = 0.4 * each / (wanted != IGNORE).sum().clamp(min=1)
    rows = torch.arange(1, barre.shape[2] + 1, device=barre.device)
    under = (batch["barre"][:, :, None] == rows).float()
    terms["barre"] = 2.0 * functional.binary_cross_entropy_with_logits(barre, under)
    return terms["state"] * 2 + terms["finger"] + terms["barre"], terms


def cells_scores(cells: Tensor, batch: dict[str, Tensor]) -> dict[str, tuple[float, float]]:
    """Shares as (right, of): all states of a diagram, all fingers, all barres."""
    state, finger, barre = odds(cells.float())
    target = batch["state"]
    got = state.argmax(-1)
    alike = (got == target) | ((got.clamp(1, 2) == got) & (target.clamp(1, 2) == target))
    row = (target - 3).clamp(min=0)
    at_stop = finger.gather(2, row[:, :, None, None].expand(-1, -1, 1, 6))[:, :, 0].argmax(-1)
    fingers = (at_stop == batch["finger"]) | (target < 3) | (batch["finger"] == IGNORE)
    rows = torch.arange(1, barre.shape[2] + 1, device=barre.device)
    barres = ((barre > 0) == (batch["barre"][:, :, None] == rows)).flatten(1).all(1)
    n = float(len(target))
    written = (batch["finger"] > 0).any(1)
    return {
        "states": (float(alike.all(1).sum()), n),
        "fingers": (float((fingers.all(1) & written).sum()), float(written.sum())),
        "no fingers": (float((fingers.all(1) & ~written).sum()), float((~written).sum())),
        "barres": (float(barres.sum()), n),
    }


def train(o: argparse.Namespace) -> None:
    """Train by the clock; write checkpoint and scores now and then."""
    torch.set_num_threads(o.threads)
    torch.manual_seed(o.seed)
    net = Cells().to(o.device)
    if o.start:
        net.load_state_dict(torch.load(o.start, map_location="cpu"))
    mean = copy.deepcopy(net).eval()
    optimiser = torch.optim.AdamW(net.parameters(), lr=o.rate, weight_decay=0.02, betas=(0.9, 0.98))
    loader = DataLoader(Lattices(o.seed, o.batch), batch_size=None, num_workers=o.workers, prefetch_factor=4)
    o.out.mkdir(parents=True, exist_ok=True)
    began, steps, seen, saved = time.monotonic(), 0, 0, 0.0
    sums: dict[str, float] = {}
    for part in loader:
        batch = {k: v.to(o.device, non_blocking=True) for k, v in part.items()}
        batch["picture"] = batch["picture"].float()
        progress = (time.monotonic() - began) / (o.minutes * 60)
        for group in optimiser.param_groups:
            wave = 0.5 * (1 + math.cos(math.pi * min(1.0, progress))) + 0.003
            group["lr"] = o.rate * min(1.0, (steps + 1) / 150) * wave
        loss, terms = cells_loss(net(batch["picture"]), batch)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        steps += 1
        seen += len(batch["state"])
        _average(mean, net, steps)
        for key, value in terms.items():
            now = float(value.detach())
            sums[key] = sums.get(key, now) * 0.98 + 0.02 * now
        if time.monotonic() - saved > 60 or progress >= 1:
            saved = time.monotonic()
            torch.save(mean.state_dict(), o.out / "cells.pt")
            terms_now = {k: round(v, 4) for k, v in sums.items()}
            print(json.dumps({"step": steps, "seen": seen, "seconds": round(saved - began), **terms_now}), flush=True)
        if progress >= 1:
            break
    scores = validate(mean, o)
    (o.out / "cells-scores.json").write_text(json.dumps({"steps": steps, "seen": seen, "scores": scores}, indent=1))
    print(json.dumps(scores), flush=True)
    os._exit(0)  # the worker processes draw without end


@torch.no_grad()
def _average(mean: nn.Module, net: nn.Module, steps: int) -> None:
    keep = min(0.998, (1 + steps) / (10 + steps))
    torch._foreach_lerp_(list(mean.parameters()), list(net.parameters()), 1 - keep)
    for a, b in zip(mean.buffers(), net.buffers(), strict=True):
        a.copy_(b)


@torch.no_grad()
def validate(net: nn.Module, o: argparse.Namespace) -> dict[str, float]:
    """Shares right on sheets of a seed never trained on."""
    right: dict[str, float] = defaultdict(float)
    of: dict[str, float] = defaultdict(float)
    for part in Lattices(VALIDATION_SEED, 64, o.validation):
        batch: dict[str, Any] = {k: v.to(o.device) for k, v in part.items()}
        for key, (a, b) in cells_scores(net(batch["picture"].float()), batch).items():
            right[key] += a
            of[key] += b
    return {k: round(right[k] / max(of[k], 1), 4) for k in right}


def main() -> None:
    """Command line."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--minutes", type=float, default=9.0)
    ask.add_argument("--workers", type=int, default=1)
    ask.add_argument("--threads", type=int, default=1)
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--start", type=Path)
    ask.add_argument("--device", default="cpu")
    ask.add_argument("--seed", type=int, default=5)
    ask.add_argument("--rate", type=float, default=2e-3)
    ask.add_argument("--batch", type=int, default=24)
    ask.add_argument("--validation", type=int, default=80, help="sheets to validate on")
    train(ask.parse_args())


if __name__ == "__main__":
    main()
