"""Limits that figures must keep."""

import pytest
from page_samples import diagram, page

from reader.errors import InputError
from reader.evaluate.floors import Limit, parse_floors, unmet_limits
from reader.evaluate.judge import judge_page
from reader.evaluate.metrics import measure
from reader.evaluate.truth import true_page
from reader.reading import from_object

FLOORS = """
[all]
exact_shape = { least = 0.9 }
silent_errors = { most = 0 }
[photo]
note_f1 = { least = 0.5 }
"""


def test_limits_are_read_by_group() -> None:
    assert parse_floors(FLOORS, "floors.toml") == [
        Limit("all", "exact_shape", least=0.9),
        Limit("all", "silent_errors", most=0),
        Limit("photo", "note_f1", least=0.5),
    ]


def test_each_unmet_limit_is_a_sentence() -> None:
    wrong = from_object(page(diagram(frets=[0, 0, 0, 2])))
    scores = measure([judge_page(true_page(page(diagram())), wrong)])
    assert unmet_limits(parse_floors(FLOORS, "floors.toml"), {"all": scores, "photo": scores}) == [
        "all: exact_shape is 0, at least 0.9 wanted.",
        "all: silent_errors is 1, at most 0 wanted.",
        "photo: note_f1 could not be measured (at least 0.5 wanted).",
    ]


def test_met_limits_say_nothing_and_a_missing_group_is_not_met() -> None:
    right = from_object(page(diagram()))
    scores = measure([judge_page(true_page(page(diagram())), right)])
    assert unmet_limits(parse_floors(FLOORS, "floors.toml"), {"all": scores}) == [
        "photo: note_f1 could not be measured (at least 0.5 wanted)."
    ]


@pytest.mark.parametrize(
    "text",
    [
        "[all",
        "all = 3",
        "[all]\nexact_shape = 0.9",
        "[all]\nexact_shape = { above = 0.9 }",
        "[all]\nexact_shape = {}",
        "[all]\nexact_shape = { least = 0.9, most = 1.0 }",
        "[all]\nbeauty = { least = 0.9 }",
    ],
)
def test_what_is_no_limit_is_refused(text: str) -> None:
    with pytest.raises(InputError, match=r"^floors\.toml: "):
        parse_floors(text, "floors.toml")
