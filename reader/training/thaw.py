"""The networks of the reader as checkpoints, so that training can go on from what ships.

    python -m reader.training.thaw --out RUN

An ONNX file holds each batch norm folded into the convolution before it.  Here the weights go
back into the modules that they came from, in the order in which the modules act, and every norm
is set to the mean and the spread that drawn samples give its input: what the network answers
stays the same, and training finds norms as it left them.  Writes ``networks.pt`` and ``tabs.pt``.
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import onnx
import torch
from numpy.typing import NDArray
from onnx import numpy_helper
from torch import Tensor, nn

from reader.training.bundles import make_bundle
from reader.training.cells import Cells
from reader.training.fonts import FOLDER
from reader.training.nets import DiagramReader, Finder
from reader.training.pieces import Pieces
from reader.training.tabs import nets as tab_nets
from reader.training.tabs import numbers
from reader.training.tabs.glyphs import open_faces
from reader.training.tabs.strips import FINE, sample_strips
from reader.training.tabs.tiles import sample_tile

MODELS = Path("reader/models")
SHEETS = 24
"""Drawn sheets whose samples set the norms."""
Weights = dict[str, NDArray[Any]]


def stored(model: onnx.ModelProto) -> Weights:
    """All weights of a file by the name under which nodes use them, as float32."""
    held = {t.name: numpy_helper.to_array(t) for t in model.graph.initializer}
    casts = {n.output[0]: held[n.input[0]] for n in model.graph.node if n.op_type == "Cast" and n.input[0] in held}
    return {k: np.array(v, np.float32) for k, v in (held | casts).items() if v.dtype.kind == "f"}


def acting(net: nn.Module, example: Tensor) -> list[nn.Module]:
    """Convolutions, norms and linear layers in the order in which they act."""
    order: list[nn.Module] = []
    hooks = [
        m.register_forward_hook(lambda module, _in, _out: order.append(module))
        for m in net.modules()
        if isinstance(m, nn.Conv2d | nn.BatchNorm2d | nn.Linear)
    ]
    with torch.no_grad():
        net.eval()(example)
    for hook in hooks:
        hook.remove()
    return order


@torch.no_grad()
def fill(net: nn.Module, model: onnx.ModelProto, example: Tensor) -> None:
    """Put the weights of a file into a network of the same build.

    Raises
    ------
    ValueError
        Where the file holds other layers than the network.
    """
    weights = stored(model)
    for name, parameter in net.named_parameters():
        if name in weights:
            _put(parameter, weights[name], name)
    nodes = iter([n for n in model.graph.node if n.op_type in ("Conv", "Gemm") or _by_weight(n, weights)])
    bias: NDArray[Any] | None = None
    for module in acting(net, example):
        if isinstance(module, nn.BatchNorm2d):
            if bias is None:
                raise ValueError("a norm follows no convolution")
            _put(module.bias, bias, "norm")
            module.weight.fill_(1.0)
            module.running_mean.zero_()
            module.running_var.fill_(1.0 - module.eps)
            bias = None
            continue
        node = next(nodes)
        values = weights[node.input[1]]
        _put(module.weight, values.T if node.op_type == "MatMul" else values, node.name)
        if isinstance(module, nn.Conv2d):
            bias = weights[node.input[2]] if len(node.input) > 2 else None
            if module.bias is not None and bias is not None:
                _put(module.bias, bias, node.name)
                bias = None
    if next(nodes, None) is not None:
        raise ValueError("the file holds more layers than the network")


def _by_weight(node: onnx.NodeProto, weights: Weights) -> bool:
    return node.op_type == "MatMul" and node.input[1] in weights


def _put(place: Tensor, values: NDArray[Any], name: str) -> None:
    if tuple(place.shape) != values.shape:
        raise ValueError(f"{name}: the file has {values.shape}, the network {tuple(place.shape)}")
    place.copy_(torch.from_numpy(np.ascontiguousarray(values)))


@torch.no_grad()
def settle(net: nn.Module, pictures: Tensor) -> None:
    """Give every norm the mean and spread of its input on these pictures; the answers stay as they were."""

    def measure(module: nn.Module, given: tuple[Tensor, ...]) -> None:
        assert isinstance(module, nn.BatchNorm2d)
        mean, spread = given[0].mean((0, 2, 3)), given[0].var((0, 2, 3))
        module.bias.add_(mean)
        module.weight.copy_((spread + module.eps).sqrt())
        module.running_mean.copy_(mean)
        module.running_var.copy_(spread)

    hooks = [m.register_forward_pre_hook(measure) for m in net.modules() if isinstance(m, nn.BatchNorm2d)]
    net.eval()(pictures)
    for hook in hooks:
        hook.remove()


def thaw(name: str, net: nn.Module, pictures: Tensor, models: Path = MODELS) -> float:
    """Fill a network from its file; returns how far settling its norms moved its answers on these pictures."""
    fill(net, onnx.load(str(models / f"{name}.onnx")), pictures[:1])
    with torch.no_grad():
        before = _flat(net.eval()(pictures))
        settle(net, pictures)
        after = _flat(net(pictures))
    return float((before - after).abs().max())


def _flat(out: Any) -> Tensor:
    return torch.cat([o.flatten() for o in (out if isinstance(out, tuple) else (out,))])


def drawn(which: str, seed: int = 55_000_000) -> Tensor:
    """Pictures of one network's drawn samples, all of the size most common among them."""
    bundles = [make_bundle(np.random.default_rng([seed, k]), (which,)) for k in range(SHEETS)]
    samples = [s["picture"] for bundle in bundles for s in getattr(bundle, which)]
    shapes = [s.shape for s in samples]
    common = max(set(shapes), key=shapes.count)
    return torch.from_numpy(np.stack([s for s in samples if s.shape == common])[:48]).float()


def drawn_tabs(fonts: Path, seed: int = 55) -> dict[str, Tensor]:
    """Pictures for the finder of tabs, for the strip network and for the one that looks at single numbers."""
    torch.manual_seed(seed)
    faces, rng = open_faces(fonts), random.Random(seed)
    samples = [sample for _ in range(SHEETS) for sample in sample_strips(rng, faces, 6)]
    batch = {name: torch.from_numpy(np.stack([s[name] for s in samples])) for name in samples[0]}
    tiles = np.stack([sample_tile(rng, faces)["image"] for _ in range(SHEETS // 2)])
    places = numbers.together(numbers.true_places(batch, 4 * SHEETS), numbers.other_places(batch, 2 * SHEETS))
    return {
        "finder": tab_nets.pictures(torch.from_numpy(tiles)),
        "strip": tab_nets.pictures(batch["image"], FINE),
        "numbers": numbers.cut_pieces(batch["image"], places),
    }


def main() -> None:
    """Command line."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--models", type=Path, default=MODELS)
    ask.add_argument("--fonts", type=Path, default=FOLDER)
    o = ask.parse_args()
    o.out.mkdir(parents=True, exist_ok=True)
    seeing: dict[str, Callable[[], nn.Module]] = {}
    seeing |= {"finder": Finder, "reader": DiagramReader, "cells": Cells, "pieces": Pieces}
    states: dict[str, Any] = {}
    for name, make in seeing.items():
        if not (o.models / f"{name}.onnx").exists():
            continue
        net = make()
        print(f"{name}: answers moved by at most {thaw(name, net, drawn(name), o.models):.1e}")
        states[name] = net.state_dict()
    torch.save(states, o.out / "networks.pt")
    tabs: dict[str, Any] = {}
    reading: dict[str, Callable[[], nn.Module]] = {}
    reading |= {"finder": tab_nets.Finder, "strip": tab_nets.Strip, "numbers": numbers.Numbers}
    pictures = drawn_tabs(o.fonts)
    for name, make in reading.items():
        tab = make()
        print(f"tab-{name}: answers moved by at most {thaw(f'tab-{name}', tab, pictures[name], o.models):.1e}")
        tabs[name] = {"average": tab.state_dict(), "net": tab.state_dict(), "seen": 0}
    torch.save(tabs, o.out / "tabs.pt")


if __name__ == "__main__":
    main()
