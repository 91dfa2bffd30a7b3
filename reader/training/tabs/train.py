"""Trains the tab finder and the strip network on drawings made while training.

``python -m reader.training.tabs.train --minutes 8.5 --workers 8 --device cuda:0 --out DIR --fonts DIR``

Needs nothing but the fonts that ``reader.training.fonts`` fetches. Writes to
``--out``: ``tabs.pt`` (both networks, to go on from with ``--start``),
``tab-finder.onnx``, ``tab-strip.onnx`` and ``tabs-log.json``.
"""

from __future__ import annotations

import argparse
import copy
import io
import json
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import onnx
import torch
from torch import Tensor, nn

from reader.training.export import to_half
from reader.training.tabs import nets
from reader.training.tabs.feed import Feed, start_feeds
from reader.training.tabs.marks import finder_marks, strip_marks

Losses = dict[str, Tensor]


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
    means: list[Tensor]
    nows: list[Tensor]
    seen: int = 0
    losses: dict[str, float] = field(default_factory=dict)


def new_course(name: str, net: nn.Module, device: str, peak: float) -> Course:
    """A network ready to train on a device."""
    net = net.to(device, memory_format=torch.channels_last)
    decayed = [p for p in net.parameters() if p.ndim > 1]
    plain = [p for p in net.parameters() if p.ndim <= 1]
    optimiser = torch.optim.AdamW(
        [{"params": decayed, "weight_decay": 0.01}, {"params": plain, "weight_decay": 0.0}], lr=peak
    )
    average = copy.deepcopy(net).eval()
    pairs = zip(average.state_dict().values(), net.state_dict().values(), strict=True)
    floating = [(mean, now) for mean, now in pairs if mean.dtype.is_floating_point]
    return Course(name, net, average, optimiser, peak, [m for m, _ in floating], [n for _, n in floating])


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


def advance(course: Course, batch: dict[str, Tensor], loss_of: Any, progress: float) -> None:
    """One step of one network."""
    for group in course.optimiser.param_groups:
        group["lr"] = rate(progress, course.peak)
    course.net.train()
    device = next(course.net.parameters()).device.type
    picture = shaken(batch["image"].permute(0, 3, 1, 2)).contiguous(memory_format=torch.channels_last)
    with torch.autocast(device, dtype=torch.bfloat16, enabled=device == "cuda"):
        parts: Losses = loss_of(course.net(picture), batch)
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


def export(net: nn.Module, path: Path, shape: tuple[int, int, int, int], outputs: list[str]) -> None:
    """Write a network as ONNX with free height and width and half-precision weights."""
    net = copy.deepcopy(net).float().cpu().eval()
    axes: dict[str, dict[int, str]] = {"picture": {0: "batch", 2: "height", 3: "width"}}
    axes |= {name: {0: "batch", 2: name + "_height", 3: name + "_width"} for name in outputs}
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


def save(finder: Course, strip: Course, out: Path, log: list[dict[str, Any]]) -> None:
    """Write weights, ONNX files and the log."""
    weights = {
        c.name: {"net": c.net.state_dict(), "average": c.average.state_dict(), "seen": c.seen} for c in (finder, strip)
    }
    torch.save(weights, out / "tabs.pt")
    export(finder.average, out / "tab-finder.onnx", (1, 3, 256, 256), ["cells"])
    export(strip.average, out / "tab-strip.onnx", (1, 3, 200, 320), ["notes", "bars"])
    (out / "tabs-log.json").write_text(json.dumps(log, indent=1) + "\n")


def restore(courses: tuple[Course, ...], path: Path) -> None:
    """Go on from a checkpoint; the running average is where to start."""
    stored = torch.load(path, map_location="cpu", weights_only=True)
    for course in courses:
        course.net.load_state_dict(stored[course.name]["average"])
        course.average.load_state_dict(stored[course.name]["average"])
        course.seen = int(stored[course.name]["seen"])


def validate(finder: Course, strip: Course, held: dict[str, list[dict[str, Tensor]]]) -> dict[str, float]:
    """Both running averages on drawings that were kept apart."""
    device = next(strip.net.parameters()).device
    found: dict[str, float] = finder_marks(finder.average, held["tiles"], device)
    read: dict[str, float] = strip_marks(strip.average, held["strips"], device)
    return found | read


def hold_out(feeds: dict[str, Feed], batches: int) -> dict[str, list[dict[str, Tensor]]]:
    """First batches of each feed, kept apart for validation."""
    return {name: [feed.fetch() for _ in range(batches)] for name, feed in feeds.items()}


def run(options: argparse.Namespace) -> None:
    """Train until the time is over."""
    began = time.monotonic()
    out = Path(options.out)
    out.mkdir(parents=True, exist_ok=True)
    device = options.device
    feeds = start_feeds(Path(options.fonts), options.workers, options.batch, options.seed, device)
    finder = new_course("finder", nets.Finder(), device, options.peak)
    strip = new_course("strip", nets.Strip(), device, options.peak)
    if options.start:
        restore((finder, strip), Path(options.start))
    held = hold_out(feeds, options.held)
    log: list[dict[str, Any]] = []
    limit = options.minutes * 60
    next_look, step = 60.0, 0
    while (spent := time.monotonic() - began) < limit - options.reserve:
        progress = spent / (limit - options.reserve)
        if step % 3 != 2:
            advance(strip, feeds["strips"].next(), nets.strip_loss, progress)
        else:
            advance(finder, feeds["tiles"].next(), nets.finder_loss, progress)
        step += 1
        if spent > next_look:
            next_look = spent + 80
            log.append(_note(finder, strip, feeds, held, spent, step))
            save(finder, strip, out, log)
    log.append(_note(finder, strip, feeds, held, time.monotonic() - began, step))
    save(finder, strip, out, log)
    for feed in feeds.values():
        feed.stop()


def _note(
    finder: Course,
    strip: Course,
    feeds: dict[str, Feed],
    held: dict[str, list[dict[str, Tensor]]],
    spent: float,
    step: int,
) -> dict[str, Any]:
    entry: dict[str, Any] = {"seconds": round(spent, 1), "step": step, "drawn": {k: f.drawn for k, f in feeds.items()}}
    entry |= {"marks": validate(finder, strip, held), "finder": finder.losses, "strip": strip.losses}
    sys.stderr.write(json.dumps(entry) + "\n")
    return entry


def main() -> None:
    """Read the options and train."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=8.5)
    parser.add_argument("--workers", type=int, default=8)
    parser.add_argument("--device", default="cuda:0")
    parser.add_argument("--out", required=True)
    parser.add_argument("--fonts", default=".fonts/training")
    parser.add_argument("--start", default="")
    parser.add_argument("--batch", type=int, default=144, help="strips a step; a quarter as many tiles")
    parser.add_argument("--held", type=int, default=4)
    parser.add_argument("--peak", type=float, default=2e-3)
    parser.add_argument("--reserve", type=float, default=20.0, help="seconds kept for the last look and for writing")
    parser.add_argument("--seed", type=int, default=11)
    run(parser.parse_args())


if __name__ == "__main__":
    main()
