"""The yardstick on small pages whose figures can be counted by eye."""

from __future__ import annotations

from typing import Any

import pytest
from page_samples import LOOK, diagram, moved, page, tab

from reader.evaluate.judge import PageOutcome, judge_page, judge_pages
from reader.evaluate.metrics import METRICS, group_pages, measure
from reader.evaluate.sample import Number
from reader.evaluate.truth import page_key, true_page
from reader.reading import from_object


def judged(truth: dict[str, Any], read: dict[str, Any] | None, seconds: float | None = None) -> PageOutcome:
    return judge_page(true_page(truth), None if read is None else from_object(read), seconds)


def figures(truth: dict[str, Any], read: dict[str, Any] | None) -> dict[str, Number]:
    return measure([judged(truth, read)]).numbers


def test_reading_the_truth_is_perfect() -> None:
    truth = page(diagram(), moved(200, barres=[{"fret": 1, "from_string": 4, "to_string": 1}]), tabs=[tab({1: 3})])
    numbers = figures(truth, truth)
    perfect = ["recall", "precision", "exact_shape", "fingers_exact", "barre_exact", "label_exact", "name_right"]
    perfect += ["way_up", "tab_recall", "note_precision", "note_recall", "note_f1", "accepted_right_share"]
    assert {name: numbers[name] for name in perfect} == dict.fromkeys(perfect, 1.0)
    for name in ("silent_errors", "false_diagrams", "review_share", "corner_error_p95", "tab_silent_errors"):
        assert numbers[name] == 0


def test_an_empty_sample_asks_nothing() -> None:
    numbers = measure([]).numbers
    assert all(numbers[m.name] == (0 if m.unit == "count" else None) for m in METRICS)


def test_found_missed_and_false() -> None:
    numbers = figures(page(diagram(), moved(200)), page(moved(2), moved(500)))
    assert (numbers["diagrams"], numbers["found"], numbers["false_diagrams"]) == (2, 1, 1)
    assert (numbers["recall"], numbers["precision"], numbers["false_per_100_pages"]) == (0.5, 0.5, 100.0)
    assert (numbers["exact_shape"], numbers["exact_of_found"]) == (0.5, 1.0)
    assert numbers["corner_error_mean"] == pytest.approx(0.1)  # 2 pixels of 20


def test_a_silent_error_is_wrong_and_not_flagged() -> None:
    wrong = [0, 0, 0, 2]
    truth = page(diagram(), moved(200), moved(400), moved(600))
    read = page(diagram(), moved(200, frets=wrong), moved(400, frets=wrong, flags=LOOK), moved(600, flags=LOOK))
    numbers = figures(truth, read)
    assert (numbers["accepted"], numbers["silent_errors"], numbers["silent_error_rate"]) == (2, 1, 0.5)
    assert (numbers["review_share"], numbers["flagged_share"], numbers["accepted_right_share"]) == (0.5, 0.5, 0.25)


def test_a_false_diagram_that_is_accepted_is_a_silent_error_and_a_missed_one_goes_to_review() -> None:
    numbers = figures(page(diagram(), moved(200)), page(diagram(), moved(500), moved(700, flags=LOOK)))
    assert (numbers["silent_errors"], numbers["accepted"], numbers["silent_error_rate"]) == (1, 2, 0.5)
    assert numbers["review_share"] == 0.5
    assert numbers["flagged_share"] == pytest.approx(1 / 3)


def test_pages_with_nothing_on_them() -> None:
    numbers = figures(page(), page(diagram(), moved(200, flags=LOOK), tabs=[tab({1: 0})]))
    names = ["empty_pages", "false_on_empty", "false_on_empty_accepted", "tab_false_on_empty"]
    assert [numbers[n] for n in names] == [1, 2, 1, 1]


def test_fingers_labels_and_barres_are_asked_only_where_they_are_drawn() -> None:
    bare = {"fingers": [None] * 4, "label": None, "barres": []}
    barred = {"barres": [{"fret": 2, "from_string": 4, "to_string": 1}]}
    truth = page(diagram(), moved(200, **bare), moved(400, **barred))
    read = page(diagram(label="G", fingers=[None] * 4), moved(200, **{**bare, "label": "C"}), moved(400))
    numbers = figures(truth, read)
    assert (numbers["fingers_exact"], numbers["no_fingers_right"]) == (0.5, 1.0)
    assert (numbers["label_exact"], numbers["label_seen"], numbers["no_label_right"]) == (0.5, 1.0, 0.0)
    assert (numbers["barre_exact"], numbers["barre_exact_all"]) == (0.0, pytest.approx(2 / 3))


def test_small_fingers_and_doubtful_labels_are_not_counted() -> None:
    truth = page(diagram(fingers_small=True, label_unscored=True))
    numbers = figures(truth, page(diagram(label="G", fingers=[None] * 4)))
    names = ["fingers_exact", "no_fingers_right", "label_exact", "label_seen", "no_label_right"]
    assert [numbers[n] for n in names] == [None] * 5
    assert numbers["exact_shape"] == 1.0


def test_first_fret_is_asked_apart_where_it_is_not_one() -> None:
    truth = page(diagram(), moved(200, first_fret=5, frets=[5, 5, 5, 8]))
    numbers = figures(truth, page(diagram(), moved(200, frets=[1, 1, 1, 4])))
    assert (numbers["first_fret"], numbers["first_fret_where_moved"], numbers["exact_shape"]) == (0.5, 0.0, 0.5)


def test_a_name_counts_in_any_spelling_and_among_the_others() -> None:
    truth = page(diagram(name="Am7"), moved(200, name="C6"), moved(400, name=None))
    numbers = figures(truth, page(diagram(name="A-7"), moved(200, name="Am7", other_names=["C6"]), moved(400)))
    assert (numbers["name_right"], numbers["name_listed"]) == (0.5, 1.0)


def test_an_upside_down_reading_is_found_the_wrong_way_up() -> None:
    corners = diagram()["corners"]
    numbers = figures(page(diagram()), page(diagram(corners=[corners[i] for i in (2, 3, 0, 1)])))
    assert (numbers["recall"], numbers["way_up"]) == (1.0, 0.0)


def test_hard_diagrams_count_apart() -> None:
    truth = page(diagram(hard=True), moved(200))
    numbers = figures(truth, page(diagram(frets=[1, 0, 0, 3]), moved(200)))
    assert (numbers["diagrams"], numbers["exact_shape"], numbers["silent_errors"]) == (1, 1.0, 0)
    names = ["hard_diagrams", "hard_found", "hard_exact", "hard_silent_errors"]
    assert [numbers[n] for n in names] == [1, 1, 0, 1]


def test_a_loose_reading_near_a_hard_or_ignored_place_is_excused() -> None:
    # A reading that covers a third of the place is too far off to be its reading, and too near to be false.
    ignored = [[c[0] + 300, c[1]] for c in diagram()["corners"]]
    truth = page(diagram(hard=True), ignore=[ignored])
    numbers = figures(truth, page(moved(27), moved(327), moved(600)))
    assert (numbers["hard_found"], numbers["false_diagrams"]) == (0, 1)


def test_leftovers_on_partial_pages_do_not_count() -> None:
    truth = page(diagram(), partial=True, partial_tabs=True)
    outcome = judged(truth, page(diagram(), moved(500), tabs=[tab({1: 0})]))
    assert (outcome.false, outcome.false_tabs, outcome.uncounted) == ((), (), 1)
    assert measure([outcome]).numbers["false_per_100_pages"] is None


def test_a_page_read_at_another_size_is_scaled() -> None:
    half = page(diagram(corners=[[x / 2, y / 2] for x, y in diagram()["corners"]]), width=500, height=400)
    numbers = figures(page(diagram()), half)
    assert (numbers["found"], numbers["corner_error_mean"]) == (1, 0.0)


def test_pages_that_were_not_read_or_failed() -> None:
    outcomes = [judged(page(diagram()), None), judged(page(diagram()), page(error="too dark"))]
    numbers = measure(outcomes).numbers
    assert (numbers["pages"], numbers["pages_missing"], numbers["pages_failed"]) == (2, 1, 1)
    assert (numbers["exact_shape"], numbers["review_share"]) == (0.0, 1.0)


def test_pages_seen_in_training_are_left_out() -> None:
    truth = [true_page(page(diagram(), seen=True)), true_page(page(diagram(), source="b.png"))]
    readings = {page_key(p): p for p in [from_object(page(diagram(), source="b.png"))]}
    assert [o.truth.key for o in judge_pages(truth, readings)] == [("b.png", 1)]


def test_notes_are_shared_in_order() -> None:
    truth = page(tabs=[tab({1: 3}, {2: 1, 3: 0}, {4: None})])
    numbers = figures(truth, page(tabs=[tab({1: 3}, {2: 1}, {4: None}, {1: 7})]))
    # Drawn 4, read 4, shared 3 (1:3, 2:1, 4:x).
    assert (numbers["note_precision"], numbers["note_recall"], numbers["note_f1"]) == (0.75, 0.75, 0.75)
    assert (numbers["tab_recall"], numbers["tab_exact"], numbers["tab_silent_errors"]) == (1.0, 0.0, 1)
    assert numbers["silent_wrong_notes"] == 0.25


def test_notes_of_missed_and_false_systems_count() -> None:
    truth = page(tabs=[tab({1: 3}, {1: 5})])
    elsewhere = tab({1: 3}, corners=[[50, 600], [450, 600], [450, 660], [50, 660]], flags=LOOK)
    numbers = figures(truth, page(tabs=[elsewhere]))
    assert (numbers["tab_recall"], numbers["tab_false"], numbers["note_precision"]) == (0.0, 1, 0.0)
    assert numbers["note_recall"] == 0.0
    assert numbers["silent_wrong_notes"] is None  # nothing was accepted


def test_a_flagged_system_is_not_silent() -> None:
    numbers = figures(page(tabs=[tab({1: 3})]), page(tabs=[tab({1: 4}, flags=LOOK)]))
    assert (numbers["tab_silent_errors"], numbers["tab_silent_error_rate"]) == (0, None)


def test_times_are_those_that_were_measured() -> None:
    outcomes = [judged(page(), page(), s) for s in (0.2, 0.4, None, 0.9)]
    assert measure(outcomes).numbers["seconds_median"] == pytest.approx(0.4)


def test_groups_follow_page_fields() -> None:
    pages = [page(kind="scan", hand="b"), page(kind="photo", hand="a"), page(kind="scan", hand="a"), page()]
    outcomes = [judged(p, None) for p in pages]
    assert {k: len(v) for k, v in group_pages(outcomes, ["kind"]).items()} == {"none": 1, "photo": 1, "scan": 2}
    assert list(group_pages(outcomes, ["kind", "hand"])) == ["none/none", "photo/a", "scan/a", "scan/b"]


def test_confidence_outside_its_range_is_brought_back() -> None:
    scores = measure([judged(page(diagram()), page(diagram(confidence=1.7)))])
    assert [b.confidence for b in scores.calibration] == [1.0]
    assert scores.numbers["expected_calibration_error"] == 0.0


def test_every_metric_has_its_own_name_and_a_definition() -> None:
    assert len({m.name for m in METRICS}) == len(METRICS)
    assert all(len(m.definition.split()) >= 2 for m in METRICS)
