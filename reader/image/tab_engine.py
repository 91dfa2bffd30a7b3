"""Loads the two tab networks."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from reader.errors import ModelError

MODELS = Path(__file__).parent.parent / "models"
OUTPUTS = {"tab-finder": ("cells",), "tab-strip": ("notes", "bars")}


class Engine:
    """One network behind ``cv2.dnn``."""

    def __init__(self, path: Path, outputs: tuple[str, ...]) -> None:
        import cv2

        if not path.is_file():
            raise ModelError(f"{path.name} is missing from the installed package: install it again.")
        self._net = cv2.dnn.readNetFromONNX(str(path))
        self._outputs = outputs

    def run(self, inputs: dict[str, NDArray[np.float32]]) -> dict[str, NDArray[np.float32]]:
        """One pass; arrays by name in and out."""
        for name, array in inputs.items():
            self._net.setInput(array, name)
        return dict(zip(self._outputs, self._net.forward(list(self._outputs)), strict=True))


@cache
def load_engine(name: str) -> Engine:
    """The network of a name, loaded once."""
    return Engine(MODELS / f"{name}.onnx", OUTPUTS[name])
