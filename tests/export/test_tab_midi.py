"""MIDI of tabs: the file's own grammar, and the pitches that were computed."""

from __future__ import annotations

import struct
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tab_samples import sample_tab, tabs

from reader.export.tab_midi import DIVISION, NO_RHYTHM, quantity, to_tab_midi
from reader.music.tab import Tab, note_pitch
from reader.music.tuning import get_tuning


def read_quantity(data: bytes, at: int) -> tuple[int, int]:
    value = 0
    while True:
        value = value << 7 | data[at] & 0x7F
        at += 1
        if not data[at - 1] & 0x80:
            return value, at


def events(data: bytes) -> Iterator[tuple[int, int, bytes]]:
    """(time, status, data) of a format 0 file, read by the letter of the Standard MIDI Files 1.0 specification."""
    kind, size, form, tracks, division = struct.unpack(">4sIHHH", data[:14])
    assert (kind, size, form, tracks, division) == (b"MThd", 6, 0, 1, DIVISION)
    kind, size = struct.unpack(">4sI", data[14:22])
    assert kind == b"MTrk"
    assert len(data) == 22 + size
    at, time = 22, 0
    while at < len(data):
        wait, at = read_quantity(data, at)
        time += wait
        status = data[at]
        if status == 0xFF:
            length, start = read_quantity(data, at + 2)
            yield time, status, bytes([data[at + 1]]) + data[start : start + length]
            at = start + length
        else:
            length = 1 if status & 0xF0 == 0xC0 else 2
            yield time, status, data[at + 1 : at + 1 + length]
            at += 1 + length


@pytest.mark.parametrize(
    ("value", "form"),
    [  # the table of examples in Standard MIDI Files 1.0
        (0x00, "00"),
        (0x40, "40"),
        (0x7F, "7f"),
        (0x80, "8100"),
        (0x2000, "c000"),
        (0x3FFF, "ff7f"),
        (0x4000, "818000"),
        (0x0FFFFFFF, "ffffff7f"),
    ],
)
def test_quantities_have_the_published_form(value: int, form: str) -> None:
    assert quantity(value).hex() == form


@given(st.integers(0, 0x0FFFFFFF))
def test_quantities_read_back(value: int) -> None:
    assert read_quantity(quantity(value), 0) == (value, len(quantity(value)))


@given(tabs())
def test_pitches_are_the_computed_ones(tab: Tab) -> None:
    tuning = get_tuning(tab.tuning)
    wanted = [
        (i * DIVISION, pitch)
        for i, g in enumerate(tab.groups)
        for pitch in sorted({note_pitch(n, tuning) for n in g.notes} - {None})  # type: ignore[type-var]
    ]
    found = [(time, data[0]) for time, status, data in events(to_tab_midi(tab)) if status == 0x90]
    assert found == wanted


@given(tabs())
def test_every_note_ends_and_the_track_ends_last(tab: Tab) -> None:
    read = list(events(to_tab_midi(tab)))
    sounding: set[int] = set()
    for _, status, data in read:
        if status == 0x90:
            assert data[0] not in sounding
            sounding.add(data[0])
        elif status == 0x80:
            sounding.remove(data[0])
    assert not sounding
    assert read[-1][1:] == (0xFF, b"\x2f")


def test_the_file_says_that_it_knows_no_rhythm() -> None:
    metas = [data for _, status, data in events(to_tab_midi(sample_tab(), "Air")) if status == 0xFF]
    texts = [data[1:].decode() for data in metas if data[0] in (1, 3)]  # text event, track name
    assert "Air" in texts
    assert NO_RHYTHM in texts
