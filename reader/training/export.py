"""Writes trained networks as ONNX with half-precision weights, and checks them against the framework.

python -m reader.training.export RUN/networks.pt [RUN/networks.pt ...] --out reader/models

Of a network that several runs have taught, the mean of their weights is written.
"""

from __future__ import annotations

import argparse
import io
from pathlib import Path

import numpy as np
import onnx
import onnxruntime
import torch
from onnx import TensorProto, helper, numpy_helper
from torch import nn

from reader.image.crops import PIECE_SIZE, READING_SIZE
from reader.training.cells import Cells
from reader.training.nets import DiagramReader, Finder
from reader.training.pieces import Pieces

States = dict[str, dict[str, torch.Tensor]]
SHAPES: dict[str, tuple[type[nn.Module], tuple[int, ...], tuple[str, ...]]] = {
    "finder": (Finder, (1, 1, 480, 640), ("heat", "corners", "way")),
    "reader": (DiagramReader, (1, 3, READING_SIZE, READING_SIZE), ("strings", "whole", "corners")),
    "cells": (Cells, (1, 3, 240, 192), ("cells",)),
    "pieces": (Pieces, (1, 3, PIECE_SIZE, PIECE_SIZE), ("signs",)),
}


def to_half(model: onnx.ModelProto, least: int = 256) -> onnx.ModelProto:
    """Store large weights as float16 and cast them back where they are used."""
    casts = []
    for tensor in model.graph.initializer:
        if tensor.data_type != TensorProto.FLOAT:
            continue
        values = numpy_helper.to_array(tensor)
        if values.size < least:
            continue
        name = tensor.name
        half = numpy_helper.from_array(values.astype(np.float16), name + "_half")
        tensor.CopyFrom(half)
        casts.append(helper.make_node("Cast", [name + "_half"], [name], to=TensorProto.FLOAT))
    for node in reversed(casts):
        model.graph.node.insert(0, node)
    return model


def export(name: str, state: dict[str, torch.Tensor], out: Path) -> float:
    """Write one network; returns the largest difference between the file and the framework."""
    kind, shape, names = SHAPES[name]
    net = kind()
    net.load_state_dict({k: v.float() if v.is_floating_point() else v for k, v in state.items()})
    net.eval()
    for p in net.parameters():
        p.data = p.data.half().float()
    example = torch.rand(shape) * 255
    buffer = io.BytesIO()
    axes: dict[str, dict[int, str]] = {"picture": {0: "n"}}
    if name == "cells":
        axes = {k: {0: "n", 2: k + "_h", 3: k + "_w"} for k in ("picture", *names)}
    elif name == "finder":
        axes = {k: {2: k + "_h", 3: k + "_w"} for k in ("picture", *names)}
    else:
        axes |= {k: {0: "n"} for k in names}
    torch.onnx.export(
        net,
        (example,),
        buffer,
        dynamo=False,
        opset_version=17,
        input_names=["picture"],
        output_names=list(names),
        dynamic_axes=axes,
    )
    model = to_half(onnx.load_from_string(buffer.getvalue()))
    onnx.checker.check_model(model)
    path = out / f"{name}.onnx"
    path.write_bytes(model.SerializeToString())
    session = onnxruntime.InferenceSession(str(path), providers=["CPUExecutionProvider"])
    got = session.run(None, {"picture": example.numpy()})
    with torch.no_grad():
        want = net(example)
    return max(float(np.abs(g - w.numpy()).max()) for g, w in zip(got, want, strict=True))


def averaged(runs: list[States]) -> States:
    """The networks of several runs, each the mean of its weights in all runs that have it; counts are of the last."""
    out: States = {}
    for name in dict.fromkeys(name for run in runs for name in run):
        states = [run[name] for run in runs if name in run]
        out[name] = {
            key: torch.stack([s[key].float() for s in states]).mean(0) if last.is_floating_point() else last
            for key, last in states[-1].items()
        }
    return out


def main() -> None:
    """Command line."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("runs", type=Path, nargs="+", help="networks.pt of reader.training.train")
    ask.add_argument("--out", type=Path, default=Path("reader/models"))
    o = ask.parse_args()
    saved = averaged([torch.load(run, map_location="cpu") for run in o.runs])
    o.out.mkdir(parents=True, exist_ok=True)
    for name, state in saved.items():
        difference = export(name, state, o.out)
        size = (o.out / f"{name}.onnx").stat().st_size / 1e6
        print(f"{name}: {size:.2f} MB, differs from the framework by at most {difference:.1e}")


if __name__ == "__main__":
    main()
