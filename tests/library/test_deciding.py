"""Decisions: what was read is never lost, and everything can be taken back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from library_samples import FAINT, frame_of, make_page, make_reading, make_tab

from reader.errors import LibraryError
from reader.library.history import StaleError
from reader.library.rows import SightingQuery
from reader.library.search import Query
from reader.library.store import Library
from reader.reading import diagram_to_object


def shapes(library: Library) -> dict[str, str]:
    return {str(e.shape): e.state for e in library.entries()}


def test_a_correction_moves_the_sighting_to_another_entry_and_keeps_what_was_read(filled: Library) -> None:
    flagged = filled.queue()[0]
    step = filled.settle(flagged.id, "mara", frame=frame_of("2013"), label="F7")
    now = filled.sighting(flagged.id)
    assert (str(now.standing.frame.shape), now.standing.label, now.state) == ("2013", "F7", "corrected")
    assert (now.changed_by, now.step, step.action) == ("mara", step.id, "correct")
    assert diagram_to_object(now.reading) == diagram_to_object(flagged.reading)
    assert shapes(filled) == {"0003": "accepted", "2000": "accepted", "2013": "corrected"}


def test_settling_with_what_was_read_confirms(filled: Library) -> None:
    flagged = filled.queue()[0]
    assert filled.settle(flagged.id, "mara", frame=frame_of("2010")).action == "confirm"
    assert filled.sighting(flagged.id).state == "confirmed"
    assert shapes(filled)["2010"] == "confirmed"


def test_a_label_can_be_corrected_to_none(filled: Library) -> None:
    first = filled.sightings()[0]
    filled.settle(first.id, "mara", label=None)
    assert filled.sighting(first.id).standing.label is None
    assert filled.sighting(first.id).state == "corrected"
    assert filled.sighting(first.id).reading.label == "C"


def test_confirming_clears_the_flags_of_the_entry_but_not_of_the_reading(filled: Library) -> None:
    c_major = next(e for e in filled.entries() if str(e.shape) == "0003")
    assert c_major.flags == ("faint-mark",)
    assert (c_major.due_count, c_major.confidence) == (1, 0.99)
    filled.confirm([s.id for s in filled.sightings(SightingQuery(entry=c_major.id))], "mara")
    c_major = filled.entry(c_major.id)
    assert (c_major.flags, c_major.due_count, c_major.confidence, c_major.state) == ((), 0, 1.0, "confirmed")
    assert filled.sightings()[1].reading.flags == (FAINT,)


def test_a_rejected_sighting_does_not_count_but_can_be_found(filled: Library) -> None:
    sighting = filled.queue()[0]
    filled.reject([sighting.id], "mara", note="a calendar")
    assert "2010" not in shapes(filled)
    assert [str(e.shape) for e in filled.entries(Query(states=("rejected",)))] == ["2010"]
    assert filled.history(1)[0].note == "a calendar"
    filled.reopen([sighting.id], "mara")
    assert filled.sighting(sighting.id).state == "unchecked"


def test_a_missed_diagram_is_added_and_undo_takes_it_away(filled: Library, states: Callable[[], list[str]]) -> None:
    before = states()
    page = filled.pages()[0]
    added = filled.add_sighting(page.id, make_reading("0232", "G"), b"crop", "mara")
    assert filled.sighting(added).origin == "added"
    assert (filled.sighting(added).number, filled.crop(added)) == (4, b"crop")
    assert shapes(filled)["0232"] == "confirmed"
    filled.undo("mara")
    assert states() == before
    assert "0232" not in shapes(filled)
    filled.redo("mara")
    assert shapes(filled)["0232"] == "confirmed"


def test_undo_and_redo_walk_the_whole_way_back_and_forth(filled: Library, states: Callable[[], list[str]]) -> None:
    ids = [s.id for s in filled.sightings()]
    seen = [states()]
    decisions: list[Callable[[], object]] = [
        lambda: filled.confirm([ids[0]], "mara"),
        lambda: filled.settle(ids[1], "mara", frame=frame_of("0002")),
        lambda: filled.reject([ids[2], ids[3]], "jo"),
        lambda: filled.reopen([ids[1]], "jo"),
    ]
    for decide in decisions:
        decide()
        seen.append(states())
    for wanted in reversed(seen[:-1]):
        assert filled.undo("mara") is not None
        assert states() == wanted
    assert filled.undo("mara") is None
    for wanted in seen[1:]:
        assert filled.redo("mara") is not None
        assert states() == wanted
    assert filled.redo("mara") is None


def test_a_new_decision_overtakes_what_was_undone_and_the_history_keeps_both(
    filled: Library, states: Callable[[], list[str]]
) -> None:
    first = filled.sightings()[0].id
    taken_back = filled.settle(first, "mara", frame=frame_of("0001"))
    overtaken = states()
    filled.undo("mara")
    filled.reject([first], "jo")
    assert filled.next_redo() is None
    assert [(s.action, s.who, s.live) for s in filled.history(sighting=first)] == [
        ("reject", "jo", True),
        ("undo", "mara", None),
        ("correct", "mara", False),
        ("read", "reader", None),
    ]
    filled.restore(taken_back.id, "mara")
    assert states() == overtaken
    filled.undo("mara")
    assert filled.sighting(first).state == "rejected"


def test_restore_leaves_later_pages_as_read_and_takes_later_additions_away(filled: Library) -> None:
    moment = filled.confirm([filled.sightings()[0].id], "mara").id
    filled.add_page(make_page(make_reading("4442", "E"), number=3), "a" * 64)
    late = filled.sightings()[-1]
    filled.settle(late.id, "mara", frame=frame_of("1402"))
    filled.add_sighting(filled.pages()[0].id, make_reading("0232"), None, "mara")
    filled.restore(moment, "mara")
    assert filled.sighting(late.id).state == "accepted"
    assert shapes(filled) == {"0003": "confirmed", "2000": "accepted", "2010": "unchecked", "4442": "accepted"}
    with pytest.raises(LibraryError, match="no step 999"):
        filled.restore(999, "mara")


def test_many_decisions_are_one_step(filled: Library, states: Callable[[], list[str]]) -> None:
    before = states()
    ids = [s.id for s in filled.sightings()]
    with filled.many("mara", "settle all", note="spring cleaning"):
        for i in ids:
            filled.reject([i], "mara")
        filled.settle(ids[0], "mara", frame=frame_of("5433"))
    assert filled.history(1)[0].size == 4
    assert states()[0] == "5433 corrected"
    filled.undo("mara")
    assert states() == before


def test_when_one_of_many_fails_none_has_happened(filled: Library, states: Callable[[], list[str]]) -> None:
    before, steps = states(), filled.history()

    def settle_all() -> None:
        with filled.many("mara", "settle all"):
            filled.confirm([filled.sightings()[0].id], "mara")
            filled.confirm([999], "mara")

    with pytest.raises(LibraryError, match="no sighting 999"):
        settle_all()
    assert (states(), filled.history()) == (before, steps)
    filled.confirm([filled.sightings()[0].id], "mara")
    assert filled.history(1)[0].action == "confirm"


def test_a_decision_on_something_decided_meanwhile_is_refused(filled: Library, tmp_path: Path) -> None:
    seen = filled.sightings()[0]
    with Library.open(filled.path) as other:
        other.reject([seen.id], "jo")
    with pytest.raises(StaleError, match="decided on this reading in the meantime"):
        filled.confirm([seen.id], "mara", expected=seen.step)
    assert filled.sighting(seen.id).state == "rejected"
    filled.confirm([seen.id], "mara", expected=filled.sighting(seen.id).step)
    assert filled.sighting(seen.id).state == "confirmed"


def test_tabs_are_settled_and_undone_like_diagrams(filled: Library) -> None:
    (record,) = filled.tabs()
    corrected = replace(record.reading, bar_lines=(45.0, 90.0))
    filled.settle_tab(record.id, "mara", tab=corrected)
    assert filled.tab(record.id).standing.tab == corrected
    assert (filled.tab(record.id).state, filled.tab(record.id).reading) == ("corrected", make_tab())
    filled.undo("mara")
    assert filled.tab(record.id).standing == record.standing
    filled.settle_tab(record.id, "mara")
    assert filled.tab(record.id).state == "confirmed"
    filled.reject_tabs([record.id], "mara")
    assert filled.tabs(states=("rejected",))[0].id == record.id


# ---------------------------------------------------------------- recalibration


def test_calibration_moves_only_what_nobody_settled_and_can_be_undone(
    filled: Library, states: Callable[[], list[str]]
) -> None:
    before = states()
    ids = [s.id for s in filled.sightings()]
    filled.confirm([ids[2]], "mara")
    estimates = dict(zip(ids, (0.5, 0.96, 0.1, 0.2), strict=True))
    change = filled.calibrate({"kind": "table"}, estimates, 0.9, "mara")
    assert (change.newly_due, change.no_longer_due) == (1, 1)
    assert [s.state for s in filled.sightings()] == ["unchecked", "accepted", "confirmed", "unchecked"]
    assert [s.confidence for s in filled.sightings()] == [0.5, 0.96, 0.1, 0.2]
    assert [s.id for s in filled.queue()] == [ids[3], ids[0]]
    assert filled.calibration() == {"kind": "table"}
    filled.undo("mara")
    filled.undo("mara")
    assert states() == before
    assert filled.calibration() is None
    assert [s.confidence for s in filled.sightings()] == [0.99, 0.8, 0.97, 0.4]
    assert next(e for e in filled.entries() if str(e.shape) == "2010").confidence == 0.4
    filled.redo("mara")
    filled.redo("mara")
    assert filled.calibration() == {"kind": "table"}


# ---------------------------------------------------------------- any sequence of decisions

ACTIONS = st.lists(
    st.tuples(
        st.sampled_from(["confirm", "reject", "reopen", "correct", "add", "undo", "redo", "restore"]), st.integers(0, 5)
    ),
    max_size=12,
)


@given(actions=ACTIONS)
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_sequence_of_decisions_upsets_the_library(actions: list[tuple[str, int]], tmp_path: Path) -> None:
    path = tmp_path / "lib.inkfret"
    path.unlink(missing_ok=True)
    with Library.open(path, create=True) as library:
        library.add_page(make_page(make_reading("0003", "C"), make_reading("2010", "F", (FAINT,))), "a" * 64)
        read = [diagram_to_object(s.reading) for s in library.sightings()]
        for action, number in actions:
            _act(library, action, number)
            assert library.check() == []
        while library.undo("mara"):
            assert library.check() == []
        assert [diagram_to_object(s.reading) for s in library.sightings()] == read
        assert [s.state for s in library.sightings()] == ["accepted", "unchecked"]


def _act(library: Library, action: str, number: int) -> None:
    sightings = library.sightings()
    chosen = sightings[number % len(sightings)].id
    steps = library.history()
    acts: dict[str, Callable[[], object]] = {
        "confirm": lambda: library.confirm([chosen], "mara"),
        "reject": lambda: library.reject([chosen], "mara"),
        "reopen": lambda: library.reopen([s.id for s in sightings if s.origin == "page"], "mara"),
        "correct": lambda: library.settle(chosen, "mara", frame=frame_of(f"{number}002")),
        "add": lambda: library.add_sighting(library.pages()[0].id, make_reading(f"000{number}"), None, "mara"),
        "undo": lambda: library.undo("mara"),
        "redo": lambda: library.redo("mara"),
        "restore": lambda: library.restore(steps[number % len(steps)].id, "mara"),
    }
    acts[action]()
