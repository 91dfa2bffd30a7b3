"""Trains the three tab networks (finder, strip, numbers) on drawings made while training.

``python -m reader.training.tabs.train --minutes 8.5 --workers 14 --device cuda:0 --out DIR --fonts DIR``

Needs nothing but the fonts that ``reader.training.fonts`` fetches. Writes to
``--out``: ``tabs.pt`` (all networks, to go on from with ``--start``),
``tab-finder.onnx``, ``tab-strip.onnx``, ``tab-numbers.onnx`` and ``tabs-log.json``.
"""

from __future__ import annotations

import argparse
import copy
import io
import json
import os
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from itertools import cycle
from pathlib import Path
from typing import Any

import numpy as np
import onnx
import torch
from torch import Tensor, nn

from reader.training.export import to_half
from reader.training.tabs import nets, numbers
from reader.training.tabs.feed import Feed, start_feeds
from reader.training.tabs.marks import finder_marks, number_marks, strip_marks
from reader.training.tabs.strips import FINE

Losses = dict[str, Tensor]
Batch = dict[str, Tensor]
TURNS = ("strip", "numbers", "strip", "numbers", "numbers", "finder")
"""Whose step is next, over and over."""
DRAWN_FOR = {"finder": "tiles", "strip": "strips", "numbers": "strips"}
"""The drawings that each network learns from."""
TRUE, SEEN, OTHER = 17 / 32, 7 / 32, 8 / 32
"""Shares of the places in a step of the number network: of numbers, where the strip network was unsure, any others."""


@dataclass
class Course:
    """One network on its way: weights, running average, optimiser, what it has seen.

    ``means`` and ``nows`` are the floating tensors of the average and of the network, pair by pair.
    """

    name: str
    net: nn.Module
    average: nn.Module
    optimiser: torch.optim.Optimizer
    peak: float
    layout: torch.memory_format
    means: list[Tensor]
    nows: list[Tensor]
    seen: int = 0
    losses: dict[str, float] = field(default_factory=dict)


def new_course(name: str, net: nn.Module, device: str, peak: float, shape: tuple[int, int, int, int]) -> Course:
    """A network ready to train on a device with pictures of a shape."""
    layout = quickest_layout(net, device, shape)
    net = net.to(device, memory_format=layout)
    decayed = [p for p in net.parameters() if p.ndim > 1]
    plain = [p for p in net.parameters() if p.ndim <= 1]
    groups = [{"params": decayed, "weight_decay": 0.01}, {"params": plain, "weight_decay": 0.0}]
    optimiser = torch.optim.AdamW(groups, lr=peak, fused=device.startswith("cuda"))
    average = copy.deepcopy(net).eval()
    pairs = zip(average.state_dict().values(), net.state_dict().values(), strict=True)
    floating = [(mean, now) for mean, now in pairs if mean.dtype.is_floating_point]
    return Course(name, net, average, optimiser, peak, layout, [m for m, _ in floating], [n for _, n in floating])


def quickest_layout(net: nn.Module, device: str, shape: tuple[int, int, int, int]) -> torch.memory_format:
    """The order of a picture's values in memory with which a step takes least time on this device."""
    if not device.startswith("cuda"):
        return torch.contiguous_format
    took: dict[torch.memory_format, float] = {}
    for layout in (torch.channels_last, torch.contiguous_format):
        trial = copy.deepcopy(net).to(device, memory_format=layout)
        picture = torch.rand(shape, device=device).contiguous(memory_format=layout) * 255
        for k in range(7):
            if k == 3:
                torch.cuda.synchronize()
                began = time.monotonic()
            with torch.autocast("cuda", dtype=torch.bfloat16):
                out = trial(picture)
            parts = out if isinstance(out, tuple) else (out,)
            torch.stack([p.float().square().mean() for p in parts]).sum().backward()
        torch.cuda.synchronize()
        took[layout] = time.monotonic() - began
    sys.stderr.write(f"{type(net).__name__}: " + ", ".join(f"{k} {v / 4:.4f} s" for k, v in took.items()) + "\n")
    return min(took, key=lambda k: took[k])


def rate(progress: float, peak: float) -> float:
    """Learning rate over the time: a short rise, then half a cosine to nothing."""
    if progress < 0.02:
        return peak * progress / 0.02
    return float(peak * 0.5 * (1 + np.cos(np.pi * min(1.0, (progress - 0.02) / 0.98))))


def shaken(picture: Tensor) -> Tensor:
    """The same drawings under another light: gamma, contrast, tint, noise, now and then grey."""
    b = picture.shape[0]
    dev = picture.device
    x = picture.float() / 255

    def lot(low: float, high: float, channels: int = 1) -> Tensor:
        return torch.rand(b, channels, 1, 1, device=dev) * (high - low) + low

    x = x.clamp(1e-3, 1) ** torch.exp(lot(-0.4, 0.4))
    x = x * lot(0.85, 1.1, 3) + lot(-0.06, 0.06)
    grey = x.mean(1, keepdim=True)
    x = torch.where(lot(0, 1) < 0.25, grey.expand_as(x), x)
    x = x + torch.randn_like(x) * lot(0, 0.03)
    return (x * 255).clamp(0, 255)


def advance(course: Course, picture: Tensor, loss_of: Callable[[Any], Losses], progress: float) -> Any:
    """One step of one network; returns what it said."""
    for group in course.optimiser.param_groups:
        group["lr"] = rate(progress, course.peak)
    course.net.train()
    device = picture.device.type
    picture = shaken(picture).contiguous(memory_format=course.layout)
    with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
        out = course.net(picture)
        parts = loss_of(out)
    total = torch.stack(list(parts.values())).sum()
    course.optimiser.zero_grad(set_to_none=True)
    total.backward()
    torch.nn.utils.clip_grad_norm_(course.net.parameters(), 2.0)
    course.optimiser.step()
    course.seen += picture.shape[0]
    keep = min(0.998, 1 - 1 / (1 + course.seen / picture.shape[0] / 4))
    with torch.no_grad():
        torch._foreach_lerp_(course.means, course.nows, 1 - keep)
    if course.seen // picture.shape[0] % 50 == 0:
        course.losses = {k: round(float(v.detach()), 4) for k, v in parts.items()}
    return out


def finder_step(course: Course, batch: Batch, progress: float) -> None:
    """One step of the finder."""
    advance(course, nets.pictures(batch["image"]), lambda out: nets.finder_loss(out, batch), progress)


def strip_step(course: Course, batch: Batch, progress: float) -> None:
    """One step of the strip network; its votes stay with the batch."""
    picture = nets.pictures(batch["image"], FINE)
    notes, _ = advance(course, picture, lambda out: nets.strip_loss(out, batch), progress)
    batch["votes"] = nets.split(notes.detach(), nets.NOTE_PARTS)["heat"][:, 0].float()


def numbers_step(course: Course, batch: Batch, progress: float, count: int) -> None:
    """One step of the number network on ``count`` places, partly on what the strip network was unsure of."""
    votes = batch.get("votes")
    true, seen, other = (round(share * count) for share in (TRUE, SEEN, OTHER))
    doubtful = numbers.other_places(batch, seen) if votes is None else numbers.seen_places(votes, seen)
    places = numbers.together(numbers.true_places(batch, true), doubtful, numbers.other_places(batch, other))
    truth = numbers.answers(batch, places)
    pieces = numbers.softened(numbers.cut_pieces(batch["image"], places))
    advance(course, pieces, lambda out: numbers.numbers_loss(out, truth), progress)


def export(net: nn.Module, path: Path, shape: tuple[int, int, int, int], outputs: list[str], free: bool) -> None:
    """Write a network as ONNX with half-precision weights, for any number of pictures, and of any size if ``free``."""
    net = copy.deepcopy(net).float().cpu().eval()
    axes: dict[str, dict[int, str]] = {name: {0: "batch"} for name in ("picture", *outputs)}
    if free:
        axes = {name: {0: "batch", 2: name + "_height", 3: name + "_width"} for name in axes}
    buffer = io.BytesIO()
    torch.onnx.export(
        net,
        (torch.zeros(shape),),
        buffer,
        input_names=["picture"],
        output_names=outputs,
        dynamic_axes=axes,
        opset_version=17,
        dynamo=False,
    )
    model = to_half(onnx.load_from_string(buffer.getvalue()))
    onnx.checker.check_model(model)
    path.write_bytes(model.SerializeToString())


Courses = dict[str, Course]


def save(courses: Courses, out: Path, log: list[dict[str, Any]]) -> None:
    """Write weights and the log."""
    weights = {
        name: {"net": c.net.state_dict(), "average": c.average.state_dict(), "seen": c.seen}
        for name, c in courses.items()
    }
    torch.save(weights, out / "tabs.pt")
    (out / "tabs-log.json").write_text(json.dumps(log, indent=1) + "\n")


def export_all(courses: Courses, out: Path) -> None:
    """Write the running averages as ONNX files."""
    export(courses["finder"].average, out / "tab-finder.onnx", (1, 3, 256, 256), ["cells"], True)
    export(courses["strip"].average, out / "tab-strip.onnx", (1, 3, 200, 320), ["notes", "bars"], True)
    piece = (1, 3, numbers.TALL, numbers.WIDE)
    export(courses["numbers"].average, out / "tab-numbers.onnx", piece, ["number"], False)


def restore(courses: Courses, path: Path) -> None:
    """Go on from a checkpoint with the networks that it holds; the running average is where to start."""
    stored = torch.load(path, map_location="cpu", weights_only=True)
    for name, course in courses.items():
        if name in stored:
            course.net.load_state_dict(stored[name]["average"])
            course.average.load_state_dict(stored[name]["average"])
            course.seen = int(stored[name]["seen"])


def validate(courses: Courses, held: dict[str, list[Batch]]) -> dict[str, float]:
    """The running averages on drawings that were kept apart."""
    device = next(courses["strip"].net.parameters()).device
    found: dict[str, float] = finder_marks(courses["finder"].average, held["tiles"], device)
    read: dict[str, float] = strip_marks(courses["strip"].average, held["strips"], device)
    close: dict[str, float] = number_marks(courses["numbers"].average, held["strips"], device)
    return found | read | close


def hold_out(feeds: dict[str, Feed], batches: int) -> dict[str, list[Batch]]:
    """First batches of each feed, kept apart for validation."""
    return {name: [feed.fetch() for _ in range(batches)] for name, feed in feeds.items()}


def new_courses(options: argparse.Namespace) -> Courses:
    """The three networks, from a checkpoint where one is given."""
    device, batch = options.device, options.batch
    pieces = (options.places, 3, numbers.TALL, numbers.WIDE)
    courses = {
        "finder": new_course("finder", nets.Finder(), device, options.peak, (max(4, batch // 4), 3, 512, 512)),
        "strip": new_course("strip", nets.Strip(), device, options.peak, (batch, 3, 200, 320)),
        "numbers": new_course("numbers", numbers.Numbers(), device, options.numbers_peak, pieces),
    }
    if options.start:
        restore(courses, Path(options.start))
    return courses


def run(options: argparse.Namespace) -> None:
    """Train until the time is over."""
    began = time.monotonic()
    out = Path(options.out)
    out.mkdir(parents=True, exist_ok=True)
    feeds = start_feeds(
        Path(options.fonts), options.workers, options.batch, options.seed, options.device, options.tiles
    )
    torch.backends.cudnn.benchmark = True
    courses = new_courses(options)
    held = hold_out(feeds, options.held)
    for name, feed in feeds.items():
        if any(DRAWN_FOR[turn] == name for turn in options.only):
            feed.start()
    numbers_now = partial(numbers_step, count=options.places)
    steps: dict[str, Callable[[Course, Batch, float], None]] = {
        "finder": finder_step,
        "strip": strip_step,
        "numbers": numbers_now,
    }
    log: list[dict[str, Any]] = []
    limit = options.minutes * 60 - options.reserve
    first = time.monotonic() - began
    next_look, turns, step = first + 60.0, cycle([t for t in TURNS if t in options.only]), 0
    while (spent := time.monotonic() - began) < limit:
        progress = (spent - first) / (limit - first)
        turn = next(turns)
        batch = feeds[DRAWN_FOR[turn]].next()
        steps[turn](courses[turn], batch, progress)
        step += 1
        if spent > next_look:
            next_look = spent + options.look
            log.append(_note(courses, feeds, held, spent, step))
            save(courses, out, log)
    log.append(_note(courses, feeds, held, time.monotonic() - began, step))
    save(courses, out, log)
    export_all(courses, out)
    for feed in feeds.values():
        feed.stop()


def _note(
    courses: Courses, feeds: dict[str, Feed], held: dict[str, list[Batch]], spent: float, step: int
) -> dict[str, Any]:
    entry: dict[str, Any] = {"seconds": round(spent, 1), "step": step, "drawn": {k: f.drawn for k, f in feeds.items()}}
    entry |= {"seen": {k: c.seen for k, c in courses.items()}, "marks": validate(courses, held)}
    entry |= {k: c.losses for k, c in courses.items()}
    sys.stderr.write(json.dumps(entry) + "\n")
    return entry


def main() -> None:
    """Read the options and train."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=8.5)
    parser.add_argument("--workers", type=int, default=8)
    parser.add_argument("--tiles", type=float, default=0.2, help="share of the workers that draw for the finder")
    parser.add_argument("--device", default="cuda:0")
    parser.add_argument("--out", required=True)
    parser.add_argument("--fonts", default=".fonts/training")
    parser.add_argument("--start", default="")
    parser.add_argument("--batch", type=int, default=96, help="strips a step; a quarter as many tiles")
    parser.add_argument("--places", type=int, default=2048, help="pieces a step of the number network")
    parser.add_argument("--only", nargs="+", default=TURNS, choices=sorted(set(TURNS)), help="networks that learn")
    parser.add_argument(
        "--look", type=float, default=80.0, help="seconds from one look at drawings kept apart to the next"
    )
    parser.add_argument("--held", type=int, default=4)
    parser.add_argument("--peak", type=float, default=1e-3, help="highest learning rate of finder and strip network")
    parser.add_argument("--numbers-peak", type=float, default=2.5e-3, help="the same of the number network")
    parser.add_argument("--reserve", type=float, default=35.0, help="seconds kept for the last look and for writing")
    parser.add_argument("--seed", type=int, default=11)
    run(parser.parse_args())
    sys.stderr.flush()
    os._exit(0)  # the workers' queues would keep the process waiting


if __name__ == "__main__":
    main()
