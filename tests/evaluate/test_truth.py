"""Truth files: what counts and what does not, and lines that are no pages."""

import json

import pytest
from page_samples import diagram, page, tab

from reader.errors import InputError
from reader.evaluate.truth import parse_readings, parse_truth, true_page


def test_fields_that_take_something_out_of_the_count() -> None:
    truth = true_page(
        page(
            diagram(unsure=True),
            diagram(label_unscored=True, fingers_small=True),
            tabs=[tab({1: 0}, hard=True)],
            ignore=[[[0, 0], [9, 0], [9, 9], [0, 9]]],
            kind="photo",
            seen=True,
        )
    )
    assert [d.hard for d in truth.diagrams] == [True, False]
    assert [(d.label_counts, d.fingers_count) for d in truth.diagrams] == [(True, True), (False, False)]
    assert truth.tabs[0].hard
    assert truth.ignored == (((0, 0), (9, 0), (9, 9), (0, 9)),)
    assert truth.seen
    assert truth.fields["kind"] == "photo"
    assert not any(d.hard for d in truth.without_hard().diagrams)
    assert not truth.without_hard().tabs[0].hard


@pytest.mark.parametrize(
    ("data", "empty"),
    [
        (page(), True),
        (page(diagram()), False),
        (page(tabs=[tab({1: 0})]), False),
        (page(ignore=[[[0, 0], [9, 0], [9, 9], [0, 9]]]), False),
        (page(partial=True), False),
        (page(partial_tabs=True), False),
    ],
)
def test_a_page_has_nothing_only_when_the_truth_is_sure(data: dict[str, object], empty: bool) -> None:
    assert true_page(data).has_nothing is empty


def test_pages_are_known_by_file_name_and_number() -> None:
    lines = [json.dumps(page(source="scans\\a.png")), "", json.dumps(page(source="b/a.png", page=2))]
    assert [p.key for p in parse_truth(lines, "truth.jsonl")] == [("a.png", 1), ("a.png", 2)]


def test_two_truths_for_one_page_are_refused() -> None:
    lines = [json.dumps(page(source="one/a.png")), json.dumps(page(source="two/a.png"))]
    with pytest.raises(InputError, match=r"truth\.jsonl: page 1 of a\.png stands there twice"):
        parse_truth(lines, "truth.jsonl")


def test_the_first_reading_of_a_page_counts() -> None:
    lines = [json.dumps(page(diagram(label="G"))), json.dumps(page(diagram(label="D")))]
    assert parse_readings(lines, "r.jsonl")["a.png", 1].diagrams[0].label == "G"


@pytest.mark.parametrize("line", ["{", "[]", "3", '{"page": 1}', json.dumps(page(diagram(first_fret=0))), '""'])
def test_a_line_that_is_no_page_is_named(line: str) -> None:
    with pytest.raises(InputError, match=r"r\.jsonl, line 2: not a page"):
        parse_readings([json.dumps(page()), line], "r.jsonl")
