"""The yardstick against a second, independent scorer that lies beside the project, where there is one."""

from __future__ import annotations

import importlib.util
import json
import random
from copy import deepcopy
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from page_samples import LOOK, moved, page, tab

from reader.evaluate.judge import judge_pages
from reader.evaluate.metrics import Scores, group_pages, measure
from reader.evaluate.spelling import spelling_class
from reader.evaluate.truth import parse_readings, parse_truth

SCORER = Path(__file__).resolve().parents[3] / "shared" / "score.py"
LABELS = ["C", "Am", "A-", "Gmaj7", "GΔ", "B♭", "Bb7", "F#m", "Ddim", "D°", "C/G", "Bø", None, "x"]

# Our name of a figure, and the path to it in the other scorer's result.
SAME_FIGURES = {
    **{name: name for name in ("pages", "pages_missing", "diagrams", "found", "recall", "precision", "false_diagrams")},
    "pages_failed": "pages_error",
    "empty_pages": "negative_pages",
    "false_on_empty": "false_on_negative",
    "false_on_empty_accepted": "false_on_negative_accepted",
    "exact_of_found": "exact_shape_of_found",
    "way_up": "orientation",
    "expected_calibration_error": "ece",
    **{
        name: name
        for name in (
            *("exact_shape", "string_count", "fret_count", "first_fret", "first_fret_where_moved"),
            *("fingers_exact", "barre_exact", "barre_exact_all", "label_exact", "label_seen", "no_label_right"),
            *("corner_error_mean", "corner_error_median", "corner_error_p95", "flagged_share", "accepted"),
            *("silent_errors", "silent_error_rate", "review_share", "accepted_right_share", "no_fingers_right"),
        )
    },
    **{f"hard_{name}": f"hard.{name}" for name in ("diagrams", "found", "exact", "silent_errors")},
    "notes_drawn": "tabs.notes",
    "tab_systems": "tabs.systems",
    "tab_false_on_empty": "tabs.false_on_negative",
    **{f"tab_{name}": f"tabs.{name}" for name in ("recall", "false", "exact", "line_count")},
    **{f"tab_{name}": f"tabs.{name}" for name in ("silent_errors", "silent_error_rate")},
    **{f"note_{name}": f"tabs.note_{name}" for name in ("precision", "recall", "f1")},
}


@pytest.fixture(scope="module")
def scorer() -> ModuleType:
    if not SCORER.is_file():
        pytest.skip("no second scorer beside the project (../shared/score.py)")
    spec = importlib.util.spec_from_file_location("second_scorer", SCORER)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def random_diagram(dice: random.Random, place: int) -> dict[str, Any]:
    strings, first = dice.choice([3, 4, 6]), dice.choice([1, 1, 1, 5])
    frets = [dice.choice([None, 0, *range(first, first + 4)]) for _ in range(strings)]
    return moved(
        180 * (place % 4),
        220 * (place // 4),
        string_count=strings,
        first_fret=first,
        frets=frets,
        fingers=[dice.choice([None, 1, 2, 3, 4, "T"]) for _ in frets] if dice.random() < 0.5 else [None] * strings,
        barres=[{"fret": first, "from_string": strings, "to_string": 1}] if dice.random() < 0.3 else [],
        label=dice.choice(LABELS),
        hard=dice.random() < 0.1,
        fingers_small=dice.random() < 0.1,
        label_unscored=dice.random() < 0.1,
    )


def random_tab(dice: random.Random) -> dict[str, Any]:
    return tab(
        *(
            {dice.randint(1, 4): dice.choice([None, 0, 2, 12]) for _ in range(dice.randint(0, 3))}
            for _ in range(dice.randint(1, 8))
        ),
        corners=[[100, 600], [900, 600], [900, 700], [100, 700]],
        hard=dice.random() < 0.1,
    )


def random_truth(dice: random.Random, number: int) -> dict[str, Any]:
    truth = page(
        *(random_diagram(dice, place) for place in range(dice.choice([0, 1, 4, 8]))),
        source=f"folder/page-{number}.png",
        kind=dice.choice(["scan", "photo"]),
        partial=dice.random() < 0.1,
        partial_tabs=dice.random() < 0.1,
        seen=dice.random() < 0.1,
    )
    if dice.random() < 0.4:
        truth["tabs"].append(random_tab(dice))
    if dice.random() < 0.2:
        truth["ignore"] = [moved(720)["corners"]]
    return truth


def turned(corners: list[list[float]], steps: int) -> list[list[float]]:
    return corners[steps:] + corners[:steps]


def spoil_diagram(dice: random.Random, drawn: dict[str, Any]) -> dict[str, Any]:
    read = deepcopy(drawn)
    reach = dice.choice([0, 3, 12, 40])
    corners = [[x + dice.uniform(-reach, reach), y + dice.uniform(-reach, reach)] for x, y in read["corners"]]
    read["corners"] = turned(corners, dice.choice([0, 0, 0, 1, 2]))
    if dice.random() < 0.3:
        read["frets"][dice.randrange(len(read["frets"]))] = dice.choice([None, 0, 7])
    if dice.random() < 0.2:
        read["frets"], read["fingers"] = read["frets"][1:], read["fingers"][1:]
        read["string_count"] -= 1
    if dice.random() < 0.2:
        read["fingers"][0] = dice.choice([None, 1, "T"])
    if dice.random() < 0.3:
        read["label"] = dice.choice(LABELS)
    if dice.random() < 0.2:
        read["barres"] = [] if read["barres"] else [{"fret": 2, "from_string": 1, "to_string": 3}]
    read["first_fret"] = dice.choice([read["first_fret"]] * 4 + [3])
    read["confidence"] = round(dice.random(), 4)
    read["flags"] = LOOK if dice.random() < 0.4 else []
    return read


def spoil_tab(dice: random.Random, drawn: dict[str, Any]) -> dict[str, Any]:
    read = deepcopy(drawn)
    events = [e for e in read["events"] if dice.random() < 0.9]
    for event in events:
        for note in event["notes"]:
            if dice.random() < 0.1:
                note["fret"] = dice.choice([None, 1, 24])
    read["events"], read["line_count"] = events, dice.choice([4, 4, 6])
    read["flags"] = LOOK if dice.random() < 0.4 else []
    return read


def spoil(dice: random.Random, truth: dict[str, Any]) -> dict[str, Any] | None:
    if dice.random() < 0.05:
        return None
    if dice.random() < 0.05:
        return page(source=truth["source"], error="too dark")
    read = page(source=Path(truth["source"]).name)
    read["diagrams"] = [spoil_diagram(dice, d) for d in truth["diagrams"] if dice.random() < 0.9]
    if dice.random() < 0.3:
        read["diagrams"].append(spoil_diagram(dice, random_diagram(dice, dice.randint(0, 11))))
    read["tabs"] = [spoil_tab(dice, t) for t in truth["tabs"] if dice.random() < 0.8]
    if dice.random() < 0.1:
        read["tabs"].append(random_tab(dice))
    if dice.random() < 0.2:
        halve(read)
    dice.shuffle(read["diagrams"])
    return read


def halve(read: dict[str, Any]) -> None:
    """The same page read at half its width."""
    read["width"] //= 2
    for region in read["diagrams"] + read["tabs"]:
        region["corners"] = [[x / 2, y] for x, y in region["corners"]]


def assert_same(ours: Scores, theirs: dict[str, Any]) -> None:
    for name, path in SAME_FIGURES.items():
        other: Any = theirs
        for step in path.split("."):
            other = other[step]
        assert ours.numbers[name] == pytest.approx(other), name
    assert [(b.start, b.end, b.count, b.confidence, b.right) for b in ours.calibration] == [
        pytest.approx((*b["bin"], b["n"], b["confidence"], b["right"])) for b in theirs["calibration"]
    ]
    assert [(p.confidence_least, p.accepted, p.coverage, p.risk) for p in ours.risk_coverage] == [
        pytest.approx((r["confidence_at_least"], r["accepted"], r["coverage"], r["risk"]))
        for r in theirs["risk_coverage"]
    ]


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("include_hard", [False, True])
def test_same_figures_on_spoiled_readings(scorer: ModuleType, seed: int, include_hard: bool) -> None:
    dice = random.Random(seed)
    truth = [random_truth(dice, number) for number in range(30)]
    readings = [r for r in (spoil(dice, t) for t in truth) if r is not None]
    theirs = scorer.score(truth, readings, by="kind", hard_too=include_hard)

    pages = parse_truth(map(json.dumps, truth), "truth")
    if include_hard:
        pages = [p.without_hard() for p in pages]
    outcomes = judge_pages(pages, parse_readings(map(json.dumps, readings), "readings"))
    assert_same(measure(outcomes), theirs["all"])
    for kind, group in group_pages(outcomes, ["kind"]).items():
        assert_same(measure(group), theirs["by"][kind])


def test_same_label_classes(scorer: ModuleType) -> None:
    qualities = [
        "",
        "m",
        "-",
        "min",
        "M",
        "maj",
        "Δ",
        "7",
        "maj7",
        "M7",
        "Δ7",
        "m7",
        "-7",
        "mi7",
        "mM7",
        "m(maj7)",
        "-Δ",
    ]
    qualities += [
        "dim",
        "°",
        "o",
        "dim7",
        "°7",
        "o7",
        "ø",
        "ø7",
        "m7b5",
        "m7(b5)",
        "-7b5",
        "m7-5",
        "aug",
        "+",
        "+7",
        "7+",
    ]
    qualities += [
        "sus",
        "sus4",
        "sus2",
        "7sus",
        "7sus4",
        "add9",
        "2",
        "add2",
        "(add9)",
        "6",
        "m6",
        "6/9",
        "69",
        "9",
        "m9",
    ]
    qualities += [
        "maj9",
        "Δ9",
        "11",
        "13",
        "7b9",
        "7#9",
        "7(#11)",
        "5",
        "j7",
        "mix",
        "/G",
        "m/E",
        "7/Bb",
        "Maj7",
        "MA7",
    ]
    labels = [root + quality for root in ("C", "B♭", "f#") for quality in qualities]
    ours, theirs = [spelling_class(x) for x in labels], [scorer.norm_label(x) for x in labels]
    for i, one in enumerate(labels):
        for j in range(i):
            assert (ours[i] == ours[j]) == (theirs[i] == theirs[j]), (one, labels[j])
