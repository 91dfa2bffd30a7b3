"""MusicXML of tabs: valid, with the pitches that the tuning gives, loaded by a theory library."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given, settings
from lxml import etree
from tab_samples import SCHEMAS, sample_tab, tabs

from reader.errors import ExportError
from reader.export.tab_musicxml import to_tab_musicxml
from reader.music.tab import Measure, Tab, note_pitch
from reader.music.tuning import get_tuning

SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


@cache
def schema() -> etree.XMLSchema:
    return etree.XMLSchema(etree.parse(SCHEMAS / "musicxml.xsd"))


def parsed(tab: Tab) -> etree._Element:
    return etree.fromstring(to_tab_musicxml(tab, "Air").encode())


@settings(max_examples=40, deadline=None)
@given(tabs())
def test_any_tab_is_valid(tab: Tab) -> None:
    # schema: MusicXML 4.0, W3C Music Notation Community Group
    document = parsed(tab)
    assert schema().validate(document), schema().error_log


@settings(max_examples=40, deadline=None)
@given(tabs())
def test_written_pitches_are_those_of_string_and_fret(tab: Tab) -> None:
    tuning = get_tuning(tab.tuning)
    wanted = [note_pitch(n, tuning) for g in tab.groups for n in reversed(g.notes)]
    found = []
    for note in parsed(tab).iter("note"):
        alter = int(note.findtext("pitch/alter") or 0)
        midi = (
            12 * (int(note.findtext("pitch/octave") or 0) + 1) + SEMITONES[note.findtext("pitch/step") or "C"] + alter
        )
        found.append(None if note.findtext("notehead") == "x" else midi)
    assert found == wanted


def test_lines_and_tuning_are_told_from_the_lowest_line() -> None:
    # MusicXML 4.0, staff-tuning: line 1 is the bottom line
    document = parsed(sample_tab())
    first = document.find(".//staff-tuning[@line='1']")
    assert first is not None
    assert (first.findtext("tuning-step"), first.findtext("tuning-octave")) == ("E", "2")
    assert document.findtext(".//staff-lines") == "6"
    assert document.findtext(".//clef/sign") == "TAB"


def test_no_duration_is_made_up() -> None:
    document = parsed(sample_tab())
    assert document.find(".//senza-misura") is not None
    assert document.find(".//note/type") is None


def test_repeats_are_kept() -> None:
    directions = [r.get("direction") for r in parsed(sample_tab()).iter("repeat")]
    assert directions == ["forward", "backward"]


def test_a_theory_library_reads_the_same_notes() -> None:
    converter = pytest.importorskip("music21.converter", reason="music21, the theory library, is not installed")
    tab = sample_tab()
    score = converter.parse(to_tab_musicxml(tab), format="musicxml")
    tuning = get_tuning(tab.tuning)
    # an x has no pitch: the file holds the open string with an x for its head
    wanted = [
        sorted(
            tuning.pitches[tab.line_count - n.string] if n.fret is None else note_pitch(n, tuning) or 0 for n in g.notes
        )
        for g in tab.groups
    ]
    assert [sorted(p.midi for p in note.pitches) for note in score.recurse().notes] == wanted


def test_a_tab_without_tuning_is_refused() -> None:
    with pytest.raises(ExportError, match="has no tuning"):
        to_tab_musicxml(Tab(6, (Measure(()),)))


def test_a_tuning_of_another_size_is_refused() -> None:
    with pytest.raises(ExportError, match="6 lines and the tuning ukulele 4 strings"):
        to_tab_musicxml(Tab(6, (Measure(()),), "ukulele"))
