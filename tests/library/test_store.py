"""What goes into a library comes out as it was read, once."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from library_samples import FAINT, frame_of, make_page, make_reading, make_tab

from reader.errors import LibraryError
from reader.library.rows import SightingQuery
from reader.library.store import Library
from reader.reading import from_object, to_object


def test_the_same_shape_met_twice_is_one_entry_with_two_sightings(filled: Library) -> None:
    entries = {str(e.shape): e for e in filled.entries()}
    assert {s: e.sighting_count for s, e in entries.items()} == {"0003": 2, "2000": 1, "2010": 1}
    sightings = filled.sightings(SightingQuery(entry=entries["0003"].id))
    assert [(s.source, s.page, s.number, s.sha256) for s in sightings] == [
        ("sheet.png", 1, 1, "a" * 64),
        ("sheet.png", 1, 2, "a" * 64),
    ]
    assert [filled.crop(s.id) for s in sightings] == [b"png one", b"png two"]


def test_one_shape_seen_through_two_windows_is_one_entry_with_two_frames(library: Library) -> None:
    low = make_reading("0003", "C")
    windowed = frame_of("0003", first_fret=2)
    library.add_page(make_page(low, replace(low, frame=windowed)), "a" * 64)
    (entry,) = library.entries()
    assert entry.sighting_count == 2
    assert {s.standing.frame.first_fret for s in library.sightings(SightingQuery(entry=entry.id))} == {1, 2}


def test_the_same_frets_in_another_tuning_are_another_entry(library: Library) -> None:
    library.add_page(make_page(make_reading("2010"), make_reading("2010", tuning="ukulele-baritone")), "a" * 64)
    assert sorted(e.tuning for e in library.entries()) == ["ukulele", "ukulele-baritone"]


def test_reading_the_same_page_again_adds_nothing(filled: Library) -> None:
    before = (filled.summary(), filled.history())
    again = filled.add_page(make_page(make_reading("4442"), source="copy of sheet.png"), "a" * 64)
    assert not again.added
    assert len(again.sighting_ids) == 3
    assert (filled.summary(), filled.history()) == before
    assert filled.has_page("a" * 64, 2)
    assert not filled.has_page("a" * 64, 3)


def test_a_page_comes_back_exactly_as_read(library: Library) -> None:
    page = make_page(make_reading("x32010", "C", (FAINT,)), tabs=(make_tab(flags=(FAINT,)),))
    page_id = library.add_page(page, "b" * 64).page_id
    assert to_object(library.page_reading(page_id)) == to_object(page)
    assert from_object(to_object(page)) == library.page_reading(page_id)


def test_flags_decide_the_first_state(filled: Library) -> None:
    assert [s.state for s in filled.sightings()] == ["accepted", "unchecked", "accepted", "unchecked"]
    assert [e.state for e in filled.entries()] == ["accepted", "accepted", "unchecked"]
    assert [t.state for t in filled.tabs()] == ["accepted"]


def test_summary_counts(filled: Library) -> None:
    summary = filled.summary()
    assert (summary.pages, summary.entries, summary.sightings, summary.tabs, summary.due) == (2, 3, 4, 1, 2)
    assert summary.by_state == {"accepted": 2, "unchecked": 2}
    assert summary.flags == {"faint-mark": 2}
    assert [(p.number, p.diagram_count, p.tab_count, p.due_count) for p in filled.pages()] == [
        (1, 3, 0, 1),
        (2, 1, 1, 1),
    ]


def test_queue_shows_the_least_certain_first_and_can_be_rearranged(filled: Library) -> None:
    assert [str(s.standing.frame.shape) for s in filled.queue()] == ["2010", "0003"]
    filled.set_priorities({filled.queue()[1].id: 1.0})
    assert [str(s.standing.frame.shape) for s in filled.queue()] == ["0003", "2010"]


def test_sightings_are_filtered(filled: Library) -> None:
    def shapes(**criteria: object) -> list[str]:
        query = SightingQuery(**criteria)  # type: ignore[arg-type]
        assert filled.count_sightings(query) == len(filled.sightings(query))
        return [str(s.standing.frame.shape) for s in filled.sightings(query)]

    assert shapes(flag="faint-mark") == ["0003", "2010"]
    assert shapes(flag="faint") == []
    assert shapes(label="am") == ["2000"]
    assert shapes(source="SHEET") == ["0003", "0003", "2000", "2010"]
    assert shapes(page=filled.pages()[1].id) == ["2010"]
    assert [s.number for s in filled.sightings(SightingQuery(limit=2, offset=1))] == [2, 3]


def test_crops_must_fit_the_diagrams_and_nothing_is_stored_when_they_do_not(library: Library) -> None:
    with pytest.raises(ValueError, match="2 diagrams but 1 crops"):
        library.add_page(make_page(make_reading("0003"), make_reading("2010")), "c" * 64, crops=[b"one"])
    assert library.pages() == []
    assert library.entries() == []


def test_the_picture_is_found_where_it_was_and_after_moving_with_the_library(tmp_path: Path) -> None:
    before = tmp_path / "before"
    (before / "scans").mkdir(parents=True)
    (before / "scans" / "sheet.png").write_bytes(b"picture")
    with Library.open(before / "lib.inkfret", create=True) as library:
        page = library.add_page(make_page(source="sheet.png"), "d" * 64, path=before / "scans" / "sheet.png").page_id
        assert library.picture_path(page) == before / "scans" / "sheet.png"
    before.rename(tmp_path / "after")
    with Library.open(tmp_path / "after" / "lib.inkfret") as library:
        found = library.picture_path(page)
        assert found is not None
        assert found.samefile(tmp_path / "after" / "scans" / "sheet.png")
        found.unlink()
        assert library.picture_path(page) is None


def test_settings_hold_anything_json_can(library: Library) -> None:
    assert library.setting("view", "none yet") == "none yet"
    for value in ({"zoom": 2, "dark": True}, [1, None], "words", None):
        library.set_setting("view", value)
        assert library.setting("view", "none yet") == value


def test_unknown_numbers_are_said(library: Library) -> None:
    for ask in (library.page, library.page_reading, library.entry, library.sighting, library.tab):
        with pytest.raises(LibraryError, match=r"The library has no .* 77"):
            ask(77)
    assert library.crop(77) is None


def test_spot_checks_are_kept_beside_the_sighting(filled: Library) -> None:
    sighting = filled.sightings()[0]
    filled.add_check(sighting.id, frame_of("0003"), True, "mara", sample="spring")
    filled.add_check(sighting.id, frame_of("0002"), False, "jo", sample="summer")
    assert [(c.who, str(c.given.shape), c.agrees) for c in filled.checks()] == [
        ("mara", "0003", True),
        ("jo", "0002", False),
    ]
    assert [c.who for c in filled.checks("summer")] == ["jo"]
    assert filled.sighting(sighting.id) == sighting
