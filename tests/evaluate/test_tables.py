"""Scores as text, Markdown and JSON."""

from __future__ import annotations

import json

import pytest
from page_samples import diagram, moved, page, tab

from reader.evaluate import tables
from reader.evaluate.judge import judge_page
from reader.evaluate.metrics import METRICS, Scores, measure
from reader.evaluate.truth import true_page
from reader.reading import from_object


@pytest.fixture
def half_right() -> Scores:
    truth, read = page(diagram(), moved(200)), page(diagram(), moved(200, frets=[0, 0, 0, 2]))
    return measure([judge_page(true_page(truth), from_object(read))])


def rows(text: str) -> dict[str, list[str]]:
    return {cells[0]: cells[1:] for line in text.splitlines() if (cells := line.split())}


def test_text_has_a_column_per_group_and_leaves_silent_rows_out(half_right: Scores) -> None:
    table = rows(tables.to_text({"all": half_right, "photo": measure([])}))
    assert table["exact_shape"] == ["50.0%", "–"]
    assert table["silent_errors"] == ["1", "0"]
    assert table["silent_error_rate"] == ["50.00%", "–"]
    assert "note_f1" not in table
    assert "hard_diagrams" not in table


def test_a_zero_that_matters_is_shown() -> None:
    truth = page(diagram())
    table = rows(tables.to_text({"all": measure([judge_page(true_page(truth), from_object(truth))])}))
    assert table["silent_errors"] == ["0"]
    assert table["false_diagrams"] == ["0"]


def test_missing_every_tab_is_shown() -> None:
    truth = page(diagram(hard=True), tabs=[tab({1: 3})])
    table = rows(tables.to_text({"all": measure([judge_page(true_page(truth), from_object(page()))])}))
    assert (table["tab_recall"], table["note_recall"], table["hard_exact"]) == (["0.0%"], ["0.0%"], ["0"])


def test_calibration_and_risk(half_right: Scores) -> None:
    bins, risks = tables.to_calibration_text(half_right).split("\n\n")
    assert rows(bins)["0.9–1.0"] == ["2", "0.900", "0.500"]
    assert rows(risks)["0.90"] == ["2", "50.0%", "50.00%"]
    assert rows(risks)["0.95"] == ["0", "0.0%", "–"]


def test_markdown_has_a_row_per_group(half_right: Scores) -> None:
    heading, rule, row = tables.to_markdown({"photos": half_right}).splitlines()
    assert heading.count("|") == rule.count("|") == row.count("|")
    assert row.startswith("| photos | 1 | 2 | 100.0% | 0.0 | 50.0% |")


def test_markdown_has_a_second_table_where_tabs_are_drawn(half_right: Scores) -> None:
    truth = page(tabs=[tab({1: 3}, {2: 1})])
    tabs = measure([judge_page(true_page(truth), from_object(truth))])
    diagrams, systems = tables.to_markdown({"photos": half_right, "riffs": tabs}).split("\n\n")
    assert "riffs" not in diagrams
    assert systems.splitlines()[2:] == ["| riffs | 1 | 1 | 100.0% | 0 | 100.0% | 100.0% | 0.00% |"]


def test_markdown_keeps_pages_with_nothing_to_read() -> None:
    found_there = measure([judge_page(true_page(page()), from_object(page(diagram())))])
    (row,) = tables.to_markdown({"words": found_there}).splitlines()[2:]
    assert row.startswith("| words | 1 | 0 | – | 100.0 | – |")


def test_json_keeps_every_figure(half_right: Scores) -> None:
    data = json.loads(json.dumps(tables.to_object(half_right)))
    assert {m.name for m in METRICS} | {"calibration", "risk_coverage"} == set(data)
    assert data["calibration"] == [{"start": 0.9, "end": 1.0, "count": 2, "confidence": 0.9, "right": 0.5}]


def test_every_metric_is_defined() -> None:
    assert set(rows(tables.to_definitions())) == {m.name for m in METRICS}
