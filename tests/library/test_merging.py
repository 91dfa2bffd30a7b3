"""Two libraries become one; exported files come back as they went out."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from library_samples import FAINT, frame_of, make_page, make_reading, make_tab

from reader.errors import InputError
from reader.export.csv_ import to_csv
from reader.export.imports import incoming_from_text
from reader.export.json_ import to_json
from reader.library.incoming import incoming_from_library
from reader.library.merging import MergeReport, Prefer, merge_into
from reader.library.rows import SightingQuery
from reader.library.store import Library
from reader.reading import Reading


def at(reading: Reading, x: float, y: float) -> Reading:
    """The reading somewhere else on its page."""
    return replace(reading, corners=tuple((a + x, b + y) for a, b in reading.corners))


@pytest.fixture
def open_library(tmp_path: Path) -> Callable[[str], Library]:
    return lambda name: Library.open(tmp_path / f"{name}.inkfret", create=True)


def two_readings(**second: object) -> tuple[Reading, Reading]:
    return make_reading("0003", "C"), at(make_reading("2010", "F", (FAINT,), 0.5), 200, 0)


def merge(target: Library, other: Library, prefer: Prefer = "ours") -> MergeReport:
    return merge_into(target, incoming_from_library(other), "mara", prefer)


def test_new_pages_come_in_with_pictures_history_and_tabs(open_library: Callable[[str], Library]) -> None:
    with open_library("ours") as ours, open_library("theirs") as theirs:
        ours.add_page(make_page(make_reading("2000", "Am")), "a" * 64)
        theirs.add_page(make_page(*two_readings(), tabs=(make_tab(),)), "b" * 64, [b"one", b"two"], [b"tab"])
        theirs.settle(theirs.queue()[0].id, "jo", frame=frame_of("2013"))
        report = merge(ours, theirs)
        assert (report.pages, report.sightings, report.tabs, report.adopted, report.conflicts) == (1, 2, 1, 0, ())
        assert sorted(str(e.shape) for e in ours.entries()) == ["0003", "2000", "2013"]
        corrected = ours.sightings()[-1]
        assert (corrected.state, str(corrected.reading.frame.shape), ours.crop(corrected.id)) == (
            "corrected",
            "2010",
            b"two",
        )
        assert [(s.action, s.who) for s in ours.history(sighting=corrected.id)] == [
            ("merge", "mara"),
            ("correct", "jo"),
            ("read", "reader"),
        ]
        assert ours.tab_crop(ours.tabs()[0].id) == b"tab"
        assert ours.check() == []


def test_a_merge_is_one_step_that_can_be_undone(open_library: Callable[[str], Library]) -> None:
    with open_library("ours") as ours, open_library("theirs") as theirs:
        ours.add_page(make_page(make_reading("2000", "Am")), "a" * 64)
        before = ours.entries()
        theirs.add_page(make_page(*two_readings(), tabs=(make_tab(),)), "b" * 64)
        merge(ours, theirs)
        ours.undo("mara")
        assert (ours.entries(), ours.tabs()) == (before, [])
        ours.redo("mara")
        assert (len(ours.entries()), len(ours.tabs())) == (3, 1)
        assert ours.check() == []


def test_merging_twice_or_with_itself_adds_nothing(open_library: Callable[[str], Library]) -> None:
    with open_library("ours") as ours, open_library("theirs") as theirs:
        theirs.add_page(make_page(*two_readings(), tabs=(make_tab(),)), "b" * 64)
        theirs.add_sighting(theirs.pages()[0].id, at(make_reading("0212"), 0, 300), b"x", "jo")
        theirs.add_sighting(theirs.pages()[0].id, at(make_reading("5555"), 0, 500), b"x", "jo")
        theirs.undo("jo")
        assert merge(ours, theirs).sightings == 3
        steps = ours.history()
        for _ in range(2):
            assert merge(ours, theirs) == MergeReport(0, 0, 0, 0, ())
        assert ours.history() == steps


def test_a_decision_of_theirs_on_what_we_left_open_is_taken_over(open_library: Callable[[str], Library]) -> None:
    with open_library("ours") as ours, open_library("theirs") as theirs:
        for library in (ours, theirs):
            library.add_page(make_page(*two_readings(), tabs=(make_tab(),)), "b" * 64)
        theirs.settle(theirs.queue()[0].id, "jo", frame=frame_of("2013"))
        theirs.settle_tab(theirs.tabs()[0].id, "jo", tab=replace(make_tab(), bar_lines=()))
        theirs.add_sighting(theirs.pages()[0].id, at(make_reading("0212"), 0, 300), b"missed", "jo")
        report = merge(ours, theirs)
        assert (report.pages, report.sightings, report.adopted, report.conflicts) == (0, 1, 2, ())
        assert [str(s.standing.frame.shape) for s in ours.sightings()] == ["0003", "2013", "0212"]
        assert ours.tabs()[0].standing.tab.bar_lines == ()
        ours.undo("mara")
        assert [str(s.standing.frame.shape) for s in ours.sightings()] == ["0003", "2010"]


@pytest.mark.parametrize(("prefer", "kept"), [("ours", "2011"), ("theirs", "2013")])
def test_what_both_settled_differently_is_a_conflict(
    open_library: Callable[[str], Library], prefer: Prefer, kept: str
) -> None:
    with open_library("ours") as ours, open_library("theirs") as theirs:
        for library, shape in ((ours, "2011"), (theirs, "2013")):
            library.add_page(make_page(*two_readings()), "b" * 64)
            library.settle(library.queue()[0].id, "jo", frame=frame_of(shape))
            library.confirm([library.sightings()[0].id], "jo")
        report = merge(ours, theirs, prefer)
        (conflict,) = report.conflicts
        assert (conflict.source, conflict.page, conflict.number, conflict.kept) == ("sheet.png", 1, 2, prefer)
        assert conflict.ours.startswith("2011 from fret 1")
        assert conflict.theirs.startswith("2013 from fret 1")
        assert str(ours.sightings()[1].standing.frame.shape) == kept


def test_diagrams_are_matched_by_place_not_by_order(open_library: Callable[[str], Library]) -> None:
    with open_library("ours") as ours, open_library("theirs") as theirs:
        first, second = two_readings()
        ours.add_page(make_page(first, second), "b" * 64)
        theirs.add_page(make_page(at(second, 4, -3), at(first, 2, 2)), "b" * 64)
        theirs.reject([theirs.queue()[0].id], "jo")
        assert merge(ours, theirs).adopted == 1
        assert [s.state for s in ours.sightings()] == ["accepted", "rejected"]


def test_when_a_merge_fails_nothing_has_happened(
    open_library: Callable[[str], Library], monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_library("ours") as ours, open_library("theirs") as theirs:
        theirs.add_page(make_page(*two_readings()), "b" * 64)
        incoming = incoming_from_library(theirs)
        monkeypatch.setattr("reader.library.merging.refresh_entries", None)
        with pytest.raises(TypeError):
            merge_into(ours, incoming, "mara")
        assert (ours.pages(), ours.sightings(), ours.history()) == ([], [], [])


# ---------------------------------------------------------------- exported files


def test_json_comes_back_equal(open_library: Callable[[str], Library], filled: Library) -> None:
    filled.settle(filled.queue()[0].id, "mara", frame=frame_of("2013"), label=None)
    filled.add_sighting(filled.pages()[0].id, at(make_reading("0212", "G7"), 0, 300), None, "mara")
    csv_shapes = incoming_from_text("frets,tuning,label\n4 4 4 2,ukulele,E\n", "mine.csv", ".csv")
    assert merge_into(filled, csv_shapes, "mara").sightings == 1
    text = to_json(filled.collect(title="Round trip")).text
    with open_library("copy") as copy:
        merge_into(copy, incoming_from_text(text, "index.json", ".json"), "mara")
        assert json.loads(to_json(copy.collect(title="Round trip")).text) == json.loads(text)
        assert copy.check() == []
        assert merge_into(copy, incoming_from_text(text, "index.json", ".json"), "mara") == MergeReport(0, 0, 0, 0, ())


def test_csv_comes_back_with_the_same_frames_and_states(
    open_library: Callable[[str], Library], filled: Library
) -> None:
    text = to_csv(filled.collect()).text
    with open_library("copy") as copy:
        merge_into(copy, incoming_from_text(text, "index.csv", ".csv"), "mara")
        assert [(e.shape, e.tuning, e.frame, e.label, e.name, e.state) for e in copy.entries()] == [
            (e.shape, e.tuning, e.frame, e.label, e.name, e.state) for e in filled.entries()
        ]
        assert {s.origin for s in copy.sightings(SightingQuery())} == {"import"}
        assert copy.check() == []


@pytest.mark.parametrize(
    ("text", "suffix", "sentence"),
    [
        ("anything", ".txt", "neither a library nor an exported JSON or CSV"),
        ('{"form": "inkfret-collection", "version": 1, "pages": [], "tabs": []}', ".json", "KeyError: 'entries'"),
        ('{"form": "inkfret-collection", "version": 1, "pages": 3, "entries": 4, "tabs": 5}', ".json", "TypeError"),
    ],
)
def test_files_that_are_no_exports_are_refused(text: str, suffix: str, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        incoming_from_text(text, "the file", suffix)
