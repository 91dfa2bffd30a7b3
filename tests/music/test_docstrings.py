"""The examples in the docstrings are true."""

from __future__ import annotations

import doctest
import pkgutil
from importlib import import_module

import pytest

from reader import music

MODULES = ["reader.music", *(m.name for m in pkgutil.iter_modules(music.__path__, "reader.music."))]


@pytest.mark.parametrize("name", MODULES)
def test_examples(name: str) -> None:
    assert doctest.testmod(import_module(name)).failed == 0
