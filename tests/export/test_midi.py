"""MIDI: a general library reads the pitches that were computed."""

from __future__ import annotations

import io

import pytest

from reader.export.midi import EQUAL_STEPS, WHOLE, to_midi
from reader.library.collection import Collection
from reader.library.facts import fitting_tuning


def chords(track: list[tuple[int, int, bool]]) -> list[list[int]]:
    """Pitches sounding together, measure by measure, from (time, pitch, on) events."""
    found: dict[int, list[int]] = {}
    for time, pitch, on in track:
        if on:
            found.setdefault(time // WHOLE, []).append(pitch)
    return [sorted(set(found[measure])) for measure in sorted(found)]


def test_a_midi_library_hears_every_shape(collection: Collection) -> None:
    mido = pytest.importorskip("mido", reason="mido, the MIDI library, is not installed")
    file = mido.MidiFile(file=io.BytesIO(to_midi(collection).files["shapes.mid"]))
    assert file.type == 1
    heard, markers = [], []
    for track in file.tracks:
        now, events = 0, []
        for message in track:
            now += message.time
            if message.type in ("note_on", "note_off"):
                events.append((now, message.note, message.type == "note_on"))
            elif message.type == "marker":
                markers.append(message.text)
        assert sum(on for _, _, on in events) * 2 == len(events)
        heard += chords(events)
    wanted = []
    for collected in collection.entries:
        tuning = fitting_tuning(collected.entry.shape, collected.entry.tuning)
        pitches = {p for p in tuning.sounding(collected.entry.shape) if p is not None} if tuning else set()
        wanted += [sorted(pitches)] if pitches else []
    assert sorted(heard) == sorted(wanted)
    assert "Am7 0000" in markers


def test_the_file_says_that_its_rhythm_means_nothing(collection: Collection) -> None:
    assert EQUAL_STEPS.encode() in to_midi(collection).files["shapes.mid"]


def test_shapes_without_sound_are_noted(collection: Collection) -> None:
    assert any("xxxx (ukulele)" in note for note in to_midi(collection).notes)
