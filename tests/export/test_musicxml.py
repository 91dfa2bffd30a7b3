"""MusicXML: valid by the official schema, and it says what the frame says."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lxml import etree
from tab_samples import SCHEMAS

from reader.export.musicxml import to_musicxml
from reader.library.collection import Collection
from reader.music.frame import Barre, Frame
from reader.music.tuning import get_tuning

SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


@cache
def schema() -> etree.XMLSchema:
    # MusicXML 4.0, W3C Music Notation Community Group
    return etree.XMLSchema(etree.parse(SCHEMAS / "musicxml.xsd"))


def score_of(collection: Collection) -> etree._Element:
    return etree.fromstring(to_musicxml(collection).files["shapes.musicxml"])


def frame_said(node: etree._Element) -> Frame:
    """The frame that a ``frame`` element says, read by the standard's own words alone."""
    strings = int(node.findtext("frame-strings") or 0)
    frets: list[int | None] = [None] * strings
    fingers: list[int | str | None] = [None] * strings
    barres, start = [], 0
    for note in node.iter("frame-note"):
        string, fret = int(note.findtext("string") or 0), int(note.findtext("fret") or 0)
        frets[strings - string] = fret
        finger = note.findtext("fingering")
        fingers[strings - string] = int(finger) if finger and finger.isdigit() else finger
        barre = note.find("barre")
        if barre is not None and barre.get("type") == "start":
            start = string
        elif barre is not None:
            barres.append(Barre(fret, start, string))
    return Frame(
        tuple(frets),
        tuple(fingers),  # type: ignore[arg-type]
        int(node.findtext("frame-frets") or 0),
        int(node.findtext("first-fret") or 1),
        tuple(barres),
    )


def note_numbers(measure: etree._Element) -> list[int]:
    return sorted(
        SEMITONES[p.findtext("step") or ""] + int(p.findtext("alter") or 0) + 12 * (int(p.findtext("octave") or 0) + 1)
        for p in measure.iter("pitch")
    )


def test_everything_is_valid(collection: Collection) -> None:
    for name, data in to_musicxml(collection).files.items():
        assert schema().validate(etree.fromstring(data)), (name, schema().error_log)


def test_frames_read_back_are_the_frames_of_the_entries(collection: Collection) -> None:
    said = [frame_said(node) for node in score_of(collection).iter("frame")]
    audible = [c.entry.frame for c in collection.entries if c.entry.name]
    assert sorted(said, key=str) == sorted(audible, key=str)


def test_the_notes_are_the_pitches_of_the_tuning(collection: Collection) -> None:
    for measure in score_of(collection).iter("measure"):
        frame = frame_said(next(measure.iter("frame")))
        tuning = get_tuning("ukulele" if frame.string_count == 4 else "guitar")
        assert note_numbers(measure) == sorted(p for p in tuning.sounding(frame.shape) if p is not None)


def test_further_names_are_alternates(collection: Collection) -> None:
    measure = next(m for m in score_of(collection).iter("measure") if len(m.findall("harmony")) > 1)
    harmonies = [(h.get("type"), h.findtext("root/root-step"), h.findtext("kind")) for h in measure.iter("harmony")]
    # common practice, no source: the four notes A C E G are Am7 and C6
    assert harmonies == [("explicit", "A", "minor-seventh"), ("alternate", "C", "major-sixth")]


def test_what_cannot_be_said_is_noted(collection: Collection) -> None:
    notes = " ".join(to_musicxml(collection).notes)
    assert "xxxx (ukulele)" in notes
    assert "0212 (kazoo)" in notes


def test_a_barre_that_no_strings_bear_is_noted(
    collect_frames: Callable[[list[tuple[Frame, str]]], Collection],
) -> None:
    frame = Frame((3, 3, 3, 5), (None,) * 4, 4, 2, (Barre(2, 4, 1),))
    exported = to_musicxml(collect_frames([(frame, "ukulele")]))
    assert any("barre at fret 2 of 3335" in note for note in exported.notes)
    assert b"<barre" not in exported.files["shapes.musicxml"]


INSTRUMENTS = [(4, "ukulele"), (5, "banjo"), (6, "guitar"), (4, "bass"), (4, "C4 E4 G4 A4")]
FRETS = st.none() | st.integers(0, 15)
FINGERS = st.none() | st.integers(1, 4) | st.just("T")


@st.composite
def frames(draw: st.DrawFn) -> tuple[Frame, str]:
    """Any frame on a usual instrument, with any window, fingers and one barre."""
    strings, tuning = draw(
        st.sampled_from([(4, "ukulele"), (5, "banjo"), (6, "guitar"), (4, "bass"), (4, "C4 E4 G4 A4")])
    )
    frets = tuple(draw(FRETS) for _ in range(strings))
    fingers = tuple(draw(FINGERS) for _ in range(strings))
    low = draw(st.integers(1, strings))
    barre = Barre(draw(st.integers(1, 12)), draw(st.integers(low, strings)), low)
    return Frame(
        frets, fingers, draw(st.integers(3, 6)), draw(st.integers(1, 12)), (barre,) * draw(st.integers(0, 1))
    ), tuning


@given(drawn=st.lists(frames(), min_size=1, max_size=6))
@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_frames_are_valid(
    drawn: list[tuple[Frame, str]], collect_frames: Callable[[list[tuple[Frame, str]]], Collection]
) -> None:
    for data in to_musicxml(collect_frames(drawn)).files.values():
        assert schema().validate(etree.fromstring(data)), schema().error_log


def test_a_theory_library_hears_the_same_chords(collection: Collection) -> None:
    converter = pytest.importorskip("music21.converter", reason="music21, the theory library, is not installed")
    text = to_musicxml(collection).files["shapes.musicxml"].decode()
    score = converter.parse(text, format="musicxml")
    wanted = sorted(note_numbers(m) for m in score_of(collection).iter("measure"))
    chords = [sorted(p.midi for p in n.pitches) for n in score.recurse().notes if n.duration.quarterLength == 4]
    assert sorted(chords) == wanted
    figures = {h.figure for h in score.recurse().getElementsByClass("ChordSymbol")}
    assert {"Am", "F#m", "Cmaj7"} <= figures
