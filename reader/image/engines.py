"""Loads the trained networks, once each, behind one of two runtimes that give the same answers.

``onnxruntime`` is used where it is installed (it is faster), else ``cv2.dnn``.
The environment variable ``INKFRET_RUNTIME`` (``cv2`` or ``onnxruntime``) decides otherwise.
"""

from __future__ import annotations

import importlib.util
import os
from functools import cache
from pathlib import Path
from typing import Any, Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.errors import ModelError

MODELS = Path(__file__).parent.parent / "models"
OUTPUTS: dict[str, tuple[str, ...]] = {
    "finder": ("heat", "corners", "way"),
    "reader": ("strings", "whole", "corners"),
    "cells": ("cells",),
    "pieces": ("signs",),
    "text": ("signs",),
    "tab-finder": ("cells",),
    "tab-strip": ("notes", "bars"),
    "tab-numbers": ("number",),
}
Floats = NDArray[np.float32]


class Engine(Protocol):
    """A network: arrays by name in, arrays by name out."""

    def run(self, inputs: dict[str, Floats]) -> dict[str, Floats]:
        """One pass."""


class OpenCvEngine:
    """A network behind ``cv2.dnn``."""

    def __init__(self, path: Path, outputs: tuple[str, ...]) -> None:
        self._net = cv2.dnn.readNetFromONNX(str(path))
        self._outputs = outputs

    def run(self, inputs: dict[str, Floats]) -> dict[str, Floats]:
        """One pass."""
        for name, array in inputs.items():
            self._net.setInput(array, name)
        return dict(zip(self._outputs, self._net.forward(list(self._outputs)), strict=True))


@cache
def _share_memory(onnxruntime: Any) -> None:
    """One pool of memory for all networks: they run one after the other, and each would keep a pool of its own."""
    kind, use = onnxruntime.OrtAllocatorType.ORT_ARENA_ALLOCATOR, onnxruntime.OrtMemType.DEFAULT
    info = onnxruntime.OrtMemoryInfo("Cpu", kind, 0, use)
    onnxruntime.create_and_register_allocator(info, onnxruntime.OrtArenaCfg({}))


class OnnxRuntimeEngine:
    """A network behind ``onnxruntime``."""

    def __init__(self, path: Path, outputs: tuple[str, ...]) -> None:
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = max(1, cv2.getNumThreads())
        options.add_session_config_entry("session.intra_op.allow_spinning", "0")
        options.log_severity_level = 3
        _share_memory(onnxruntime)
        options.add_session_config_entry("session.use_env_allocators", "1")
        self._session: Any = onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
        self._outputs = outputs

    def run(self, inputs: dict[str, Floats]) -> dict[str, Floats]:
        """One pass."""
        return dict(zip(self._outputs, self._session.run(list(self._outputs), inputs), strict=True))


def runtime() -> str:
    """The runtime in use: ``cv2`` or ``onnxruntime``."""
    wish = os.environ.get("INKFRET_RUNTIME", "")
    if wish in ("cv2", "onnxruntime"):
        return wish
    return "onnxruntime" if importlib.util.find_spec("onnxruntime") else "cv2"


def load_engine(name: str, kind: str | None = None) -> Engine:
    """The network of a name.

    Parameters
    ----------
    name : one of ``OUTPUTS``
    kind : ``cv2`` or ``onnxruntime``; None: what ``runtime`` says

    Raises
    ------
    ModelError
        When the weights are missing or the runtime cannot read them.
    """
    return _load(name, kind or runtime())


@cache
def _load(name: str, kind: str) -> Engine:
    path = MODELS / f"{name}.onnx"
    if not path.is_file():
        raise ModelError(f"The weights {path.name} are missing from the installed package: install it again.")
    try:
        return OnnxRuntimeEngine(path, OUTPUTS[name]) if kind == "onnxruntime" else OpenCvEngine(path, OUTPUTS[name])
    except Exception as error:
        raise ModelError(f"The weights {path.name} cannot be loaded by {kind}: {error}") from error
