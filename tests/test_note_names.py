"""How the labels of a page name notes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from reader import note_names
from reader.image.levels import Levels
from reader.lexicon import lexicon
from reader.note_names import read_lettering
from tests.reading_samples import GRID, lettering


@pytest.mark.parametrize(
    ("english", "solfege", "grids", "names"),
    [
        (0.1, 0.8, 3, "solfege"),
        (0.9, 0.95, 3, "english"),  # it reads well as it is
        (0.1, 0.15, 3, "english"),  # neither reads
        (0.1, 0.8, 2, "english"),  # too few to tell
    ],
)
def test_do_re_mi_is_read_where_english_names_are_not(
    monkeypatch: pytest.MonkeyPatch, english: float, solfege: float, grids: int, names: str
) -> None:
    def fake(around: list[object], spellings: object) -> list[object]:
        read = solfege if spellings is lexicon("solfege") else english
        return [replace(lettering(""), reads=read) for _ in range(grids)]

    monkeypatch.setattr(note_names, "letterings", fake)
    corners = [GRID + [0, 300 * k] for k in range(grids)]
    levels = Levels(np.full((80, 80, 3), 255, np.uint8))
    assert read_lettering(levels, corners, corners, 0, "english")[1] == [names] * grids
    assert read_lettering(levels, corners, corners, 0, "german")[1] == ["german"] * grids, "what was asked for stays"
