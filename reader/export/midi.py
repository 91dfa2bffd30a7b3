"""Standard MIDI File 1.0: every shape as it sounds, one after the other, with its name as a marker.

The times mean nothing: each shape sounds for a whole note, its strings a moment apart from left to right, as a
thumb strokes them. The file says so itself.
"""

from __future__ import annotations

from collections.abc import Iterator

from reader.errors import ExportError, NotationError
from reader.export import Exported
from reader.export.sounding import Sounding, by_tuning
from reader.export.tab_midi import DIVISION, PROGRAMS, TEMPO_MICROSECONDS, VELOCITY, quantity, to_tab_midi
from reader.export.titles import tab_stem
from reader.interpret_tabs import as_tab
from reader.library.collection import Collection

WHOLE = 4 * DIVISION
BETWEEN_STRINGS = DIVISION // 16
GUITAR_PROGRAM = 25
EQUAL_STEPS = "One shape a measure: a library does not say any rhythm."

_META_TEXT, _META_TRACK, _META_MARKER = 1, 3, 6
_CHANNEL_WITHOUT_DRUMS = (*range(9), *range(10, 16))
"""General MIDI keeps channel 10 for drums."""
_GENERAL_NOTE = "strings, frets and fingers have no place in MIDI; the shapes stand in the file as markers."


def to_midi(collection: Collection) -> Exported:
    """A collection as MIDI: one track per tuning, each tab in a file of its own."""
    parts, notes = by_tuning(collection)
    files = {}
    if parts:
        channels = _CHANNEL_WITHOUT_DRUMS
        tracks = [_conductor(collection.title)]
        tracks += [b"".join(_track(part, channels[i % len(channels)])) for i, part in enumerate(parts.values())]
        files["shapes.mid"] = _chunk(b"MThd", b"".join(n.to_bytes(2, "big") for n in (1, len(tracks), DIVISION)))
        files["shapes.mid"] += b"".join(_chunk(b"MTrk", track) for track in tracks)
    for tab in collection.tabs:
        try:
            files[f"tabs/{tab_stem(tab)}.mid"] = to_tab_midi(as_tab((tab.standing.tab,)), tab_stem(tab))
        except (ExportError, NotationError) as error:
            notes.append(f"left out {tab_stem(tab)}: {error}")
    return Exported(files, (_GENERAL_NOTE, *notes))


def _chunk(kind: bytes, data: bytes) -> bytes:
    return kind + len(data).to_bytes(4, "big") + data


def _conductor(title: str) -> bytes:
    tempo = b"\x00\xff\x51\x03" + TEMPO_MICROSECONDS.to_bytes(3, "big")
    return _meta(_META_TRACK, title) + _meta(_META_TEXT, EQUAL_STEPS) + tempo + _END


def _track(part: list[Sounding], channel: int) -> Iterator[bytes]:
    tuning = part[0].tuning
    yield _meta(_META_TRACK, tuning.name)
    yield bytes([0, 0xC0 | channel, PROGRAMS.get(tuning.instrument.split("-")[0], GUITAR_PROGRAM)])
    wait = 0
    for heard in part:
        yield _meta(_META_MARKER, f"{heard.names[0].text} {heard.entry.shape}", wait)
        pitches = [n.pitch.midi for n in heard.notes if n is not None]
        yield from _stroke(list(dict.fromkeys(pitches)), channel)
        wait = 0
    yield _END


def _stroke(pitches: list[int], channel: int) -> Iterator[bytes]:
    """Note after note down, all up together at the end of the measure."""
    for place, pitch in enumerate(pitches):
        yield quantity(BETWEEN_STRINGS if place else 0) + bytes([0x90 | channel, pitch, VELOCITY])
    for place, pitch in enumerate(pitches):
        rest = WHOLE - BETWEEN_STRINGS * (len(pitches) - 1)
        yield quantity(0 if place else rest) + bytes([0x80 | channel, pitch, 0])


def _meta(kind: int, text: str, wait: int = 0) -> bytes:
    data = text.encode("utf-8")
    return quantity(wait) + bytes([0xFF, kind]) + quantity(len(data)) + data


_END = b"\x00\xff\x2f\x00"
