"""Labels that are none: marks of open strings, and what belongs to the grid next to it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from reading_samples import GRID, lettering, look

from reader.image.label_claims import parted, without_marks
from reader.image.labels import Lettering


def labelled(text: str, x: float, y: float, width: float, height: float = 12) -> Lettering:
    """A label whose middle is at (x, y)."""
    a, b = x - width / 2, x + width / 2
    c, d = y - height / 2, y + height / 2
    return replace(lettering(text), label_places={text: ((a, c), (b, c), (b, d), (a, d))})


@pytest.mark.parametrize(
    ("text", "x", "width", "signs", "kept"),
    [
        ("D", 160.0, 11.0, "123o", False),  # the mark over the rightmost string
        ("CD", 150.0, 32.0, "12oo", False),  # two of them
        ("D", 160.0, 11.0, "123-", True),  # the look sees no mark there
        ("D", 130.0, 11.0, "1oo3", True),  # between two strings, as a label stands
        ("Dm7", 140.0, 50.0, "1oo3", True),  # wider than its strings are apart
    ],
)
def test_marks_over_strings_are_no_label(text: str, x: float, width: float, signs: str, kept: bool) -> None:
    found = without_marks(labelled(text, x, 90, width), look(signs), 4, 4)
    assert found.label[0] == (text if kept else "")
    assert (text in found.label_places) is kept


def test_what_stands_elsewhere_is_no_mark() -> None:
    for y in (140.0, 40.0, 195.0):
        assert without_marks(labelled("D", 160, y, 11), look("123o"), 4, 4).label[0] == "D"
    assert without_marks(lettering("D"), look("123o"), 4, 4).label[0] == "D", "nobody knows where it stands"


def test_a_label_between_two_grids_is_that_of_the_nearer_one() -> None:
    lower = GRID + np.array([0, 130])
    label = labelled("Am", 130, 192, 24)
    upper_found, lower_found = parted([label, label], [GRID, lower], [True, True])
    assert upper_found.label[0] == "Am"
    assert lower_found.label[0] == ""
    unsure = parted([label, label], [GRID, lower], [False, True])
    assert [f.label[0] for f in unsure] == ["Am", "Am"], "what may be no diagram takes no label"
    middle = labelled("Am", 130, 205, 24)
    assert [f.label[0] for f in parted([middle, middle], [GRID, lower], [True, True])] == ["Am", "Am"], (
        "as near to both"
    )
    own = labelled("Am", 130, 320, 24)
    assert [f.label[0] for f in parted([label, own], [GRID, lower], [True, True])] == ["Am", "Am"], "two labels alike"


def test_a_grid_that_loses_a_label_turns_to_its_own() -> None:
    """On a page with all labels under their grids each also stands over the grid below."""
    lower = GRID + np.array([0, 130])
    upper_label, own = labelled("Am", 130, 192, 24), labelled("C7", 130, 330, 24)
    torn = replace(
        lettering("Am"),
        labels=(("Am", 0.6), ("C7", 0.38), ("", 0.02)),
        label_places=upper_label.label_places | own.label_places,
    )
    found = parted([upper_label, torn], [GRID, lower], [True, True])
    assert [f.label[0] for f in found] == ["Am", "C7"]
    assert found[1].labels == (("C7", pytest.approx(0.95)), ("", pytest.approx(0.05)))
