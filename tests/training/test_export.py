"""Networks as ONNX files: half-precision weights, the same answers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

# the first needs the training extra, which the ordinary test run does without
torch = pytest.importorskip("torch", reason="torch is not installed (training extra)")
onnx = pytest.importorskip("onnx", reason="onnx is not installed (training extra)")
pytest.importorskip("onnxruntime", reason="onnxruntime is not installed")


def test_large_weights_are_halved_and_small_ones_stay() -> None:
    from onnx import TensorProto, helper, numpy_helper

    from reader.training.export import to_half

    large = numpy_helper.from_array(np.linspace(-1, 1, 400, dtype=np.float32).reshape(20, 20), "large")
    small = numpy_helper.from_array(np.linspace(-1, 1, 20, dtype=np.float32), "small")
    nodes = [helper.make_node("MatMul", ["x", "large"], ["y"]), helper.make_node("Add", ["y", "small"], ["z"])]
    ends = [helper.make_tensor_value_info(n, TensorProto.FLOAT, [1, 20]) for n in ("x", "z")]
    graph = helper.make_graph(nodes, "g", [ends[0]], [ends[1]], [large, small])
    before = helper.make_model(graph, opset_imports=[helper.make_opsetid("", 17)], ir_version=8)
    import onnxruntime

    x = np.ones((1, 20), np.float32)
    want = onnxruntime.InferenceSession(before.SerializeToString()).run(None, {"x": x})[0]
    after = to_half(before)
    onnx.checker.check_model(after)
    kinds = {t.name: t.data_type for t in after.graph.initializer}
    assert kinds == {"large_half": TensorProto.FLOAT16, "small": TensorProto.FLOAT}
    got = onnxruntime.InferenceSession(after.SerializeToString()).run(None, {"x": x})[0]
    assert np.abs(got - want).max() < 1e-2


def test_the_mean_of_several_runs() -> None:
    from reader.training.export import averaged

    runs = [
        {"cells": {"weight": torch.tensor([1.0, 3.0]).half(), "seen": torch.tensor(5)}},
        {
            "cells": {"weight": torch.tensor([2.0, 5.0]).half(), "seen": torch.tensor(9)},
            "reader": {"weight": torch.ones(1)},
        },
    ]
    mean = averaged(runs)
    assert mean["cells"]["weight"].tolist() == [1.5, 4.0]
    assert int(mean["cells"]["seen"]) == 9
    assert mean["reader"]["weight"].tolist() == [1.0]


@pytest.mark.filterwarnings("ignore")
def test_the_file_answers_as_the_network_does(tmp_path: Path) -> None:
    from reader.training.cells import Cells
    from reader.training.export import export

    torch.manual_seed(1)
    assert export("cells", Cells().state_dict(), tmp_path) < 1e-2
    assert (tmp_path / "cells.onnx").stat().st_size > 10_000


@pytest.mark.filterwarnings("ignore")
def test_a_network_thawed_from_its_file_answers_as_before_and_exports_to_the_same(tmp_path: Path) -> None:
    from reader.training.cells import Cells
    from reader.training.export import export
    from reader.training.thaw import thaw

    torch.manual_seed(2)
    first = Cells()
    for norm in (m for m in first.modules() if isinstance(m, torch.nn.BatchNorm2d)):
        torch.nn.init.uniform_(norm.running_mean, -1, 1)
        torch.nn.init.uniform_(norm.running_var, 0.5, 2)
    export("cells", first.state_dict(), tmp_path)
    pictures = torch.rand(3, 3, 240, 192) * 255
    second = Cells()
    assert thaw("cells", second, pictures, tmp_path) < 1e-3
    with torch.no_grad():
        assert float((first.eval()(pictures) - second.eval()(pictures)).abs().max()) < 1e-2
        # the norms are as training on these pictures would find them
        assert float((second.train()(pictures) - second.eval()(pictures)).abs().max()) < 0.1
