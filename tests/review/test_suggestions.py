"""Other readings of a diagram: what is offered, in which order, and what is said for each."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from library_samples import frame_of, make_page, make_reading

from reader.library.entry import Sighting
from reader.library.store import Library
from reader.music.check import check_label
from reader.music.tuning import get_tuning
from reader.reading import Alternative, Flag
from reader.review.suggestions import Suggestion, suggest
from reader.review.texts import english

FLAG = Flag("unsure", "Look.")


def sighting_of(folder: Path, shape: str, label: str | None, *others: tuple[str, float], **settled: Any) -> Sighting:
    alternatives = tuple(Alternative(frame_of(s), p, "the ink allows it") for s, p in others)
    reading = replace(make_reading(shape, label, (FLAG,), 0.6), alternatives=alternatives)
    with Library.open(folder / "a.inkfret", create=True) as library:
        (number,) = library.add_page(make_page(reading), "a" * 64).sighting_ids
        if settled:
            library.settle(number, "mara", **settled)
        return library.sighting(number)


def told(found: list[Suggestion]) -> list[tuple[str, str]]:
    return [(str(s.draft.frame.shape), s.change) for s in found]


def test_what_ink_and_label_both_say_comes_first(tmp_path: Path) -> None:
    """On g C E A the G7 is 0212 (common practice, no source): the weaker ink wins with the label's help."""
    found = suggest(sighting_of(tmp_path, "0202", "G7", ("0232", 0.25), ("0212", 0.2)), english())
    assert told(found)[:2] == [("0212", "string 2 at fret 1"), ("0232", "string 2 at fret 3")]
    assert found[0].name == "G7"
    assert found[0].reasons == ("The ink gives it 20 %.", "Then it is the G7 that the label says.")
    assert found[1].reasons == ("The ink gives it 25 %.", "The label G7 would not match.")


def test_the_label_alone_proposes_repairs(tmp_path: Path) -> None:
    sighting = sighting_of(tmp_path, "0202", "G7")
    repairs = check_label(frame_of("0202").shape, get_tuning("ukulele"), "G7").repairs
    found = suggest(sighting, english())
    assert {str(s.draft.frame.shape) for s in found} == {str(r.shape) for r in repairs}
    assert found[0].reasons == ("G7 would have the second string at fret 1.",)
    labels = [s for s in found if s.draft.label != "G7"]
    assert labels
    assert all(s.change == f"label {s.draft.label}" and s.draft.frame.shape == frame_of("0202").shape for s in labels)


@pytest.mark.parametrize(
    ("other", "change"),
    [
        ("0212", "string 2 at fret 1"),
        ("x202", "string 4 not played"),
        ("0002", "string 3 open"),
        ("2222", "string 2 at fret 2, string 4 at fret 2"),
        ("3213", "3213"),
        ("x32010", "6 strings"),
    ],
)
def test_changes_in_words(tmp_path: Path, other: str, change: str) -> None:
    found = suggest(sighting_of(tmp_path, "0202", None, (other, 0.3)), english())
    assert told(found) == [(other, change)]


def test_never_more_than_there_are_digits_and_never_the_same(tmp_path: Path) -> None:
    others = [(f"{a}20{b}", 0.01 * (a + b + 1)) for a in range(4) for b in range(4)]
    found = suggest(sighting_of(tmp_path, "0202", "G7", *others), english())
    assert len(found) == 9
    assert len({str(s.draft.frame.shape) + str(s.draft.label) for s in found}) == 9
    assert ("0202", "G7") not in {(str(s.draft.frame.shape), s.draft.label) for s in found}


def test_after_a_correction_the_first_reading_is_offered(tmp_path: Path) -> None:
    found = suggest(sighting_of(tmp_path, "0202", None, frame=frame_of("0212")), english())
    assert [(str(s.draft.frame.shape), s.reasons) for s in found] == [("0202", ("This is what was read at first.",))]
