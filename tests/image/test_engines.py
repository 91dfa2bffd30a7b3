"""Two runtimes, one answer; missing weights are an error that says what to do."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import pytest

from reader.errors import ModelError
from reader.image import engines
from reader.image.engines import MODELS, OUTPUTS, load_engine, runtime

SHAPES = {
    "finder": (1, 1, 96, 128),
    "reader": (2, 3, 256, 256),
    "cells": (2, 3, 280, 192),
    "pieces": (3, 3, 80, 80),
    "text": (2, 3, 48, 96),
    "tab-finder": (1, 3, 128, 160),
    "tab-strip": (1, 3, 80, 240),
    "tab-numbers": (3, 3, 80, 96),
}


def strokes(shape: tuple[int, ...], low: float, high: float) -> np.ndarray:
    """A picture with dark bars on light ground, the same every time."""
    rng = np.random.default_rng(7)
    out = np.full(shape, high, np.float32)
    for _ in range(12):
        y, x = int(rng.integers(0, shape[2] - 8)), int(rng.integers(0, shape[3] - 8))
        out[:, :, y : y + int(rng.integers(2, 30)), x : x + int(rng.integers(2, 6))] = low
    return out


def test_every_network_shipped_is_listed_and_every_one_listed_is_shipped() -> None:
    assert {p.stem for p in MODELS.glob("*.onnx")} == set(OUTPUTS) == set(SHAPES)


@pytest.mark.parametrize("name", SHAPES)
def test_both_runtimes_give_the_same_answer(name: str) -> None:
    pytest.importorskip("onnxruntime", reason="onnxruntime is not installed")
    low, high = (-1.0, 1.0) if name == "text" else (0.0, 255.0)
    picture = strokes(SHAPES[name], low, high)
    one, other = (load_engine(name, kind).run({"picture": picture}) for kind in ("cv2", "onnxruntime"))
    assert list(one) == list(other) == list(OUTPUTS[name])
    for key in one:
        assert one[key].shape == other[key].shape
        assert np.abs(one[key] - other[key]).max() < 1e-2, key


def test_a_network_is_loaded_once() -> None:
    assert load_engine("finder", "cv2") is load_engine("finder", "cv2")


@pytest.mark.parametrize("kind", ["cv2", "onnxruntime"])
def test_the_environment_decides_which_runtime_it_is(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("INKFRET_RUNTIME", kind)
    assert runtime() == kind


def test_an_unknown_wish_is_left_aside(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("INKFRET_RUNTIME", "abacus")
    assert runtime() == ("onnxruntime" if importlib.util.find_spec("onnxruntime") else "cv2")


def test_without_onnxruntime_cv2_is_used(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("INKFRET_RUNTIME", raising=False)
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    assert runtime() == "cv2"


@pytest.fixture
def other_models(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(engines, "MODELS", tmp_path)
    monkeypatch.setattr(engines, "_load", engines._load.__wrapped__)
    return tmp_path


def test_missing_weights_say_what_to_do(other_models: Path) -> None:
    assert not list(other_models.iterdir())
    with pytest.raises(ModelError, match=r"finder\.onnx are missing .* install it again"):
        load_engine("finder", "cv2")


@pytest.mark.parametrize("kind", ["cv2", "onnxruntime"])
def test_broken_weights_name_their_file(kind: str, other_models: Path) -> None:
    if kind == "onnxruntime":
        pytest.importorskip("onnxruntime", reason="onnxruntime is not installed")
    (other_models / "reader.onnx").write_bytes(b"no network")
    with pytest.raises(ModelError, match=rf"reader\.onnx cannot be loaded by {kind}"):
        load_engine("reader", kind)
