"""Trains the text network further, on lettering as the reader finds it, by the clock.

    python -m reader.training.text_train --minutes 8.5 --workers 14 --device cuda:0 --out RUN

It starts from a network in ONNX form (``--start``, the one in use unless told otherwise) and
writes RUN/text.onnx with the same inputs, outputs and stored precision, once a minute and at the
end, and RUN/train.log. Scores are taken before and after on samples of a seed never trained on.

Source of the loss: Graves et al., 'Connectionist temporal classification', ICML 2006.
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
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import onnx
import onnxruntime
import torch
from numpy.typing import NDArray
from torch import Tensor, nn
from torch.nn import functional
from torch.utils.data import DataLoader, IterableDataset, get_worker_info

from reader.image.ctc import SIGNS, Tree, best_path, fit
from reader.lexicon import lexicon
from reader.training.onnx_graph import Graph
from reader.training.text_lines import Line, scrap_lines, sheet_lines
from reader.training.text_words import plain_signs

START = Path("reader/models/text.onnx")
LONGEST = 16
"""Signs of a sample at most."""
BUCKET = 32
"""Lines are filled up with paper to a multiple of this width, and learnt together with those of their width."""
PIXELS = 256 * 128
"""Width of all lines of a batch together."""
SHEETS, HANDS = 2, 3
"""Drawn in one chunk: whole sheets, and hands that letter scraps."""
AVERAGING = 0.998
VALIDATION_SEED = 88_000_000
IN_LEXICON = 0.9
"""Fit of a text with itself from which it counts as a spelling that the reader knows."""
Stacked = dict[str, Tensor]


# ---------------------------------------------------------------- samples


def codes(text: str) -> list[int]:
    """Classes of the signs of a text."""
    return [SIGNS.index(c) + 1 for c in text]


def fits_in(line: Line) -> bool:
    """Whether the steps of a line suffice for its signs, equal neighbours with a blank between."""
    again = sum(a == b for a, b in zip(line.text, line.text[1:], strict=False))
    return len(line.text) <= LONGEST and len(line.text) + again <= line.picture.shape[1] // 8


def stack(lines: list[Line]) -> dict[int, Stacked]:
    """Lines by the width to which they are filled up."""
    by_width: dict[int, list[Line]] = defaultdict(list)
    for line in lines:
        if fits_in(line):
            by_width[-(-line.picture.shape[1] // BUCKET) * BUCKET].append(line)
    out = {}
    for width, some in by_width.items():
        pictures = np.full((len(some), some[0].picture.shape[0], width), 255, np.uint8)
        targets = np.zeros((len(some), LONGEST), np.int64)
        for k, line in enumerate(some):
            pictures[k, :, : line.picture.shape[1]] = line.picture
            targets[k, : len(line.text)] = codes(line.text)
        lengths = np.array([len(line.text) for line in some])
        out[width] = {"picture": torch.from_numpy(pictures), "target": torch.from_numpy(targets)}
        out[width]["length"] = torch.from_numpy(lengths)
    return out


def draw_chunk(seed: int, index: int) -> list[Line]:
    """Chunk ``index`` of a seed: always the same."""
    rng = np.random.default_rng([seed, index])
    lines = [line for _ in range(SHEETS) for line in sheet_lines(rng)]
    return lines + [line for _ in range(HANDS) for line in scrap_lines(rng)]


class Drawings(IterableDataset[Any]):
    """Chunks of lines, drawn without end; as lists of lines where a number of chunks is given, else stacked."""

    def __init__(self, seed: int, chunks: int | None = None) -> None:
        self.seed, self.chunks = seed, chunks

    def __iter__(self) -> Iterator[Any]:
        cv2.setNumThreads(0)
        torch.set_num_threads(1)
        info = get_worker_info()
        at, workers = (info.id, info.num_workers) if info else (0, 1)
        while self.chunks is None or at < self.chunks:
            lines = draw_chunk(self.seed, at)
            yield lines if self.chunks is not None else stack(lines)
            at += workers


class Pools:
    """Lines on the way to the network, by width, handed out in batches of one size a width."""

    def __init__(self, pixels: int) -> None:
        self.pixels = pixels
        self.waiting: dict[int, list[Stacked]] = defaultdict(list)
        self.count: dict[int, int] = defaultdict(int)

    def add(self, chunk: dict[int, Stacked]) -> None:
        """Put lines in."""
        for width, part in chunk.items():
            self.waiting[width].append(part)
            self.count[width] += len(part["length"])

    def take(self) -> Stacked | None:
        """The fullest batch, or nothing while none is full."""
        sizes = {width: max(4, self.pixels // width) for width in self.count}
        full = [w for w, size in sizes.items() if self.count[w] >= size]
        if not full:
            return None
        width = max(full, key=lambda w: self.count[w] / sizes[w])
        joined = {k: torch.cat([p[k] for p in self.waiting[width]]) for k in self.waiting[width][0]}
        self.waiting[width] = [{k: v[sizes[width] :] for k, v in joined.items()}]
        self.count[width] -= sizes[width]
        return {k: v[: sizes[width]] for k, v in joined.items()}


# ---------------------------------------------------------------- learning


class Student:
    """The network with its optimiser, its running average and the weights that it started from."""

    def __init__(self, start: Path, device: str, rate: float, pull: float) -> None:
        self.start, self.device, self.rate, self.pull = start, device, rate, pull
        self.net = Graph(onnx.load(str(start))).to(device)
        self.mean = copy.deepcopy(self.net).eval()
        self.first = [p.detach().clone() for p in self.net.parameters()]
        self.optimiser = torch.optim.AdamW(self.net.parameters(), lr=rate, betas=(0.9, 0.98), weight_decay=0.0)
        self.steps = 0
        self.loss = torch.zeros((), device=device)

    def step(self, part: Stacked, progress: float) -> None:
        """One step of learning; ``progress`` 0 to 1 through the time."""
        warm = min(1.0, (self.steps + 1) / 300)
        rate = self.rate * warm * (0.5 * (1 + math.cos(math.pi * min(1.0, progress))) * 0.99 + 0.01)
        for group in self.optimiser.param_groups:
            group["lr"] = rate
        loss = self._loss({k: v.to(self.device, non_blocking=True) for k, v in part.items()})
        self.optimiser.zero_grad(set_to_none=True)
        loss.backward()
        nn.utils.clip_grad_norm_(self.net.parameters(), 2.0)
        self.optimiser.step()
        self.steps += 1
        with torch.no_grad():
            mine = list(self.net.parameters())
            # what it knows of handwriting in general stays near
            torch._foreach_lerp_(mine, self.first, min(0.1, rate * self.pull))
            keep = min(AVERAGING, self.steps / (10 + self.steps))
            torch._foreach_lerp_(list(self.mean.parameters()), mine, 1 - keep)
            self.loss = self.loss.lerp(loss.detach(), max(0.02, 1 / self.steps))

    def _loss(self, batch: Stacked) -> Tensor:
        odds = functional.log_softmax(self.net(as_input(batch["picture"])).float(), -1).transpose(0, 1)
        steps = torch.full_like(batch["length"], odds.shape[0])
        losses = functional.ctc_loss(
            odds, batch["target"], steps, batch["length"], reduction="none", zero_infinity=True
        )
        # a line counts by itself, a long one somewhat more
        return (losses / (batch["length"] + 2.0).sqrt()).mean()

    @torch.no_grad()
    def draw_back(self, share: float) -> None:
        """Bring the averaged weights back towards the first ones: what new drawings teach costs less of the old."""
        for mean, first in zip(self.mean.parameters(), self.first, strict=True):
            mean.lerp_(first, share)

    def save(self, out: Path) -> None:
        """Write the averaged network as a checkpoint and in ONNX form."""
        torch.save({"text": self.mean.state_dict(), "steps": self.steps}, out / "text.pt")
        model = self.mean.put_into(onnx.load(str(self.start)))
        onnx.checker.check_model(model)
        (out / "text.onnx.part").write_bytes(model.SerializeToString())
        (out / "text.onnx.part").replace(out / "text.onnx")


def as_input(pictures: Tensor) -> Tensor:
    """What the network takes, of uint8 (n, row, col)."""
    return (pictures.float() / 127.5 - 1)[:, None].expand(-1, 3, -1, -1).contiguous()


# ---------------------------------------------------------------- scores


def _choice(tree: Tree, signs: NDArray[np.float64]) -> tuple[str, float]:
    fits = fit(tree, signs)
    best = int((fits * tree.weights).argmax())
    return tree.texts[best], float(fits[best])


@cache
def _known(what: str, text: str) -> str | None:
    """What the lexicon understands by a text written without doubt; None where it is none of its spellings."""
    meant, sure = _choice(_trees()[what], _ideal(text))
    return meant if sure > IN_LEXICON else None


@cache
def _trees() -> dict[str, Tree]:
    return {"label": lexicon().labels, "number": lexicon().numbers}


def _ideal(text: str) -> NDArray[np.float64]:
    """What a network that is sure of every sign reports."""
    signs = np.full((2 * len(text) + 1, len(SIGNS) + 1), 1e-4)
    signs[::2, 0] = 1
    signs[np.arange(1, len(signs), 2), codes(text)] = 1
    return signs


@torch.no_grad()
def scores(net: Graph, chunks: list[list[Line]], device: str) -> dict[str, float]:
    """Shares of lines read exactly: sign by sign (``best``), and as the lexicon understands them (``lexicon``).

    Labels and numbers apart, those off sheets and those off scraps apart. Lines whose
    spelling the lexicon does not know count only for the first.
    """
    right: dict[str, list[bool]] = defaultdict(list)
    for line in [line for chunk in chunks for line in chunk]:
        picture = torch.from_numpy(line.picture)[None].to(device)
        signs = net(as_input(picture)).softmax(-1)[0].cpu().double().numpy()
        name = f"{line.where} {line.what}"
        right[f"{name} best"].append(plain_signs(best_path(signs)[0]) == line.text)
        meant = _known(line.what, line.text) if line.what in _trees() else None
        if meant is not None:
            right[f"{name} lexicon"].append(_choice(_trees()[line.what], signs)[0] == meant)
    return {k: round(float(np.mean(v)), 4) for k, v in sorted(right.items())} | {
        "lines": sum(len(v) for k, v in right.items() if k.endswith("best"))
    }


def difference(path: Path, net: Graph, device: str) -> float:
    """Largest difference between the file, run as the reader runs it, and the network, on noise."""
    picture = np.random.default_rng(1).uniform(-1, 1, (2, 3, 48, 160)).astype(np.float32)
    session = onnxruntime.InferenceSession(str(path), providers=["CPUExecutionProvider"])
    with torch.no_grad():
        want = net(torch.from_numpy(picture).to(device)).softmax(-1).cpu().numpy()
    return float(np.abs(session.run(None, {"picture": picture})[0] - want).max())


# ---------------------------------------------------------------- the run


def train(
    minutes: float,
    workers: int,
    device: str,
    out: Path,
    start: Path,
    seed: int,
    rate: float,
    pull: float,
    checks: int,
    back: float,
) -> None:
    """Train by the clock; writes text.onnx, text.pt, train.log and scores.json to ``out``."""
    began = time.monotonic()
    torch.manual_seed(seed)
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cudnn.allow_tf32 = True
    out.mkdir(parents=True, exist_ok=True)
    log = (out / "train.log").open("w")

    def note(**what: Any) -> None:
        line = json.dumps({"seconds": round(time.monotonic() - began), **what})
        print(line, file=log, flush=True)
        print(line, flush=True)

    student = Student(start, device, rate, pull)
    checked = list(DataLoader(Drawings(VALIDATION_SEED, checks), batch_size=None, num_workers=workers))
    before = scores(student.mean, checked, device)
    scoring = time.monotonic() - began
    note(step=0, scores=before)
    loader = DataLoader(
        Drawings(seed),
        batch_size=None,
        num_workers=workers,
        prefetch_factor=4 if workers else None,
        pin_memory=device.startswith("cuda"),
    )
    pools = Pools(PIXELS if device != "cpu" else PIXELS // 16)
    deadline = began + minutes * 60 - scoring - 5
    first = noted = saved = time.monotonic()
    lines = 0
    for chunk in loader:
        pools.add(chunk)
        lines += sum(len(part["length"]) for part in chunk.values())
        while (batch := pools.take()) is not None:
            student.step(batch, (time.monotonic() - first) / max(1.0, deadline - first))
        now = time.monotonic()
        if now - noted > 30:
            note(step=student.steps, lines=lines, loss=round(float(student.loss), 4))
            noted = now
        if now - saved > 50:
            student.save(out)
            saved = now
        if now > deadline:
            break
    student.draw_back(back)
    student.save(out)
    note(
        step=student.steps,
        lines=lines,
        loss=round(float(student.loss), 4),
        file_differs_by=difference(out / "text.onnx", student.mean, device),
    )
    after = scores(student.mean, checked, device)
    note(step=student.steps, scores=after)
    options = {"minutes": minutes, "seed": seed, "rate": rate, "pull": pull, "back": back}
    run = {"steps": student.steps, "lines": lines, **options}
    (out / "scores.json").write_text(json.dumps({**run, "before": before, "after": after}, indent=1))
    log.close()
    os._exit(0)  # the worker processes draw without end


def main() -> None:
    """Command line."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--minutes", type=float, default=8.5)
    ask.add_argument("--workers", type=int, default=max(1, (os.cpu_count() or 2) - 2))
    ask.add_argument("--device", default="cuda:0" if torch.cuda.is_available() else "cpu")
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--start", type=Path, default=START, help="the network to start from, .onnx")
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--rate", type=float, default=3e-4)
    ask.add_argument("--pull", type=float, default=0.3, help="how firmly the first weights hold, in learning rates")
    ask.add_argument("--back", type=float, default=0.0, help="share of the first weights in what is written at the end")
    ask.add_argument("--checks", type=int, default=24, help="chunks of drawings to score on")
    o = ask.parse_args()
    train(o.minutes, o.workers, o.device, o.out, o.start, o.seed, o.rate, o.pull, o.checks, o.back)


if __name__ == "__main__":
    main()
