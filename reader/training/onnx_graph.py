"""An ONNX network as a torch module that can be trained, and its weights back in the same file.

Only the operators that the text network uses are known. Weights stored in half precision
and cast where they are used become float32 parameters; going back they are stored as they
were, so that names, shapes and casts of the file stay the same.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import onnx
import torch
from onnx import TensorProto, numpy_helper
from torch import Tensor, nn
from torch.nn import functional

Attributes = dict[str, Any]
_HALF = "_half"


def _window(a: Attributes, x: Tensor, fill: float) -> Tensor:
    """The input with the border that the operator asks for, before and after."""
    if a.get("auto_pad", b"NOTSET") == b"SAME_UPPER":
        if any(s != 1 for s in a.get("strides", [1, 1])):
            raise ValueError("an even border is only known for operators that move by one pixel")
        kh, kw = a["kernel_shape"]
        top, left = (kh - 1) // 2, (kw - 1) // 2
        return functional.pad(x, (left, kw - 1 - left, top, kh - 1 - top), value=fill)
    top, left, bottom, right = a.get("pads", [0, 0, 0, 0])
    return functional.pad(x, (left, right, top, bottom), value=fill) if top | left | bottom | right else x


def _conv(a: Attributes, x: Tensor, w: Tensor, b: Tensor | None = None) -> Tensor:
    top, left, bottom, right = a.get("pads", [0, 0, 0, 0])
    even = "auto_pad" not in a and (top, left) == (bottom, right)
    x = x if even else _window(a, x, 0.0)
    return functional.conv2d(
        x, w, b, a.get("strides", 1), (top, left) if even else 0, a.get("dilations", 1), a.get("group", 1)
    )


def _max_pool(a: Attributes, x: Tensor) -> Tensor:
    return functional.max_pool2d(_window(a, x, float("-inf")), a["kernel_shape"], a.get("strides", [1, 1]))


def _average_pool(a: Attributes, x: Tensor) -> Tensor:
    if any(a.get("pads", [0])):
        raise ValueError("an average pool with a border is not known")
    return functional.avg_pool2d(x, a["kernel_shape"], a.get("strides", [1, 1]))


def _batch_norm(a: Attributes, x: Tensor, w: Tensor, b: Tensor, mean: Tensor, variance: Tensor) -> Tensor:
    # with the statistics of the file: they stay as they are in training
    return functional.batch_norm(x, mean, variance, w, b, training=False, eps=a["epsilon"])


def _slice(a: Attributes, x: Tensor, starts: Tensor, ends: Tensor, axes: Tensor, steps: Tensor | None = None) -> Tensor:
    if steps is not None and any(s != 1 for s in steps.tolist()):
        raise ValueError("slices that skip are not known")
    cuts = [slice(None)] * x.ndim
    for start, end, axis in zip(*(t.tolist() for t in (starts, ends, axes)), strict=True):
        cuts[axis] = slice(start, min(end, x.shape[axis]))
    return x[tuple(cuts)]


def _reshape(a: Attributes, x: Tensor, shape: Tensor) -> Tensor:
    return x.reshape([x.shape[i] if n == 0 else n for i, n in enumerate(shape.tolist())])


def _squeeze(a: Attributes, x: Tensor) -> Tensor:
    for axis in sorted(a["axes"], reverse=True):
        x = x.squeeze(axis)
    return x


def _unsqueeze(a: Attributes, x: Tensor) -> Tensor:
    for axis in sorted(a["axes"]):
        x = x.unsqueeze(axis)
    return x


OPERATORS: dict[str, Callable[..., Tensor]] = {
    "Add": lambda a, x, y: x + y,
    "AveragePool": _average_pool,
    "BatchNormalization": _batch_norm,
    "Concat": lambda a, *parts: torch.cat(parts, a["axis"]),
    "Conv": _conv,
    "Div": lambda a, x, y: x / y,
    "Erf": lambda a, x: torch.erf(x),
    "HardSigmoid": lambda a, x: torch.clamp(x * a["alpha"] + a["beta"], 0, 1),
    "Identity": lambda a, x: x,
    "MatMul": lambda a, x, y: x @ y,
    "MaxPool": _max_pool,
    "Mul": lambda a, x, y: x * y,
    "Pow": lambda a, x, y: torch.pow(x, y),
    "ReduceMean": lambda a, x: x.mean(a["axes"], keepdim=bool(a.get("keepdims", 1))),
    "Relu": lambda a, x: torch.relu(x),
    "Reshape": _reshape,
    "Shape": lambda a, x: torch.tensor(x.shape),
    "Sigmoid": lambda a, x: torch.sigmoid(x),
    "Slice": _slice,
    "Softmax": lambda a, x: torch.softmax(x, a["axis"]),
    "Sqrt": lambda a, x: torch.sqrt(x),
    "Squeeze": _squeeze,
    "Sub": lambda a, x, y: x - y,
    "Transpose": lambda a, x: x.permute(a["perm"]),
    "Unsqueeze": _unsqueeze,
}


class Graph(nn.Module):
    """A network with one input and one output, which ends in a softmax; calling it gives what goes into that.

    Parameters
    ----------
    model : the network; its float tensors of more than one value are the parameters
    """

    def __init__(self, model: onnx.ModelProto) -> None:
        super().__init__()
        self.whole: dict[str, Tensor] = {}
        fixed = {name for n in model.graph.node if n.op_type == "BatchNormalization" for name in n.input[3:]}
        self.names: dict[str, str] = {}
        for tensor in model.graph.initializer:
            name = tensor.name.removesuffix(_HALF)
            values = torch.from_numpy(np.array(numpy_helper.to_array(tensor)))
            if tensor.data_type not in (TensorProto.FLOAT, TensorProto.FLOAT16):
                self.whole[name] = values
                continue
            # torch allows no dots in the name of a parameter
            self.names[name] = own = name.replace(".", "/")
            if values.numel() > 1 and name not in fixed:
                self.register_parameter(own, nn.Parameter(values.float()))
            else:
                self.register_buffer(own, values.float())
        steps = [n for n in model.graph.node if not (n.op_type == "Cast" and n.input[0].endswith(_HALF))]
        if steps[-1].op_type != "Softmax":
            raise ValueError("a network that ends in a softmax is expected")
        self.steps = [(OPERATORS[n.op_type], _attributes(n), list(n.input), n.output[0]) for n in steps[:-1]]
        self.start, self.end = model.graph.input[0].name, steps[-1].input[0]

    def forward(self, picture: Tensor) -> Tensor:
        """What goes into the last softmax, (n, steps, classes)."""
        known = {self.start: picture, **self.whole}
        known |= {name: getattr(self, own) for name, own in self.names.items()}
        for operator, attributes, inputs, output in self.steps:
            known[output] = operator(attributes, *(known[name] for name in inputs))
        return known[self.end]

    def put_into(self, model: onnx.ModelProto) -> onnx.ModelProto:
        """The model that this was made of, with the weights as they are now."""
        for tensor in model.graph.initializer:
            own = self.names.get(tensor.name.removesuffix(_HALF))
            if own is not None:
                kind = np.float16 if tensor.data_type == TensorProto.FLOAT16 else np.float32
                values = getattr(self, own).detach().cpu().numpy().astype(kind)
                tensor.CopyFrom(numpy_helper.from_array(values, tensor.name))
        return model


def _attributes(node: onnx.NodeProto) -> Attributes:
    return {a.name: onnx.helper.get_attribute_value(a) for a in node.attribute}
