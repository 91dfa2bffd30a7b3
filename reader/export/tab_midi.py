"""Standard MIDI File 1.0: the pitches of a tab in order.

A MIDI file cannot leave time out. Every group sounds one quarter note after the one before, which says nothing about
rhythm; the file says so itself in a text event. Muted notes (x) have no pitch and are left out; ghost notes are softer.
"""

from __future__ import annotations

from collections.abc import Iterator

from reader.export.tab_musicxml import tab_tuning
from reader.music.tab import Group, Tab, note_pitch
from reader.music.tuning import Tuning

DIVISION = 480
TEMPO_MICROSECONDS = 500_000
VELOCITY, GHOST_VELOCITY = 80, 40
PROGRAMS = {"guitar": 25, "bass": 33, "banjo": 105, "ukulele": 24, "mandolin": 25}
"""General MIDI 1 programme numbers, counted from 0: steel guitar, nylon guitar for the ukulele, finger bass, banjo."""
NO_RHYTHM = "Equal steps: the tab does not say its rhythm."


def to_tab_midi(tab: Tab, title: str = "") -> bytes:
    """A tab as a Standard MIDI File of format 0."""
    tuning = tab_tuning(tab)
    track = b"".join(_track(tab, tuning, title))
    head = b"MThd" + (6).to_bytes(4, "big") + b"".join(n.to_bytes(2, "big") for n in (0, 1, DIVISION))
    return head + b"MTrk" + len(track).to_bytes(4, "big") + track


def _track(tab: Tab, tuning: Tuning, title: str) -> Iterator[bytes]:
    if title:
        yield _meta(3, title)
    yield _meta(1, NO_RHYTHM)
    yield b"\x00\xff\x51\x03" + TEMPO_MICROSECONDS.to_bytes(3, "big")
    yield bytes([0, 0xC0, PROGRAMS.get(tuning.instrument.split("-")[0], 25)])
    wait = 0
    for group in tab.groups:
        sounding = _sounding(group, tuning)
        for i, (pitch, velocity) in enumerate(sounding):
            yield quantity(wait if i == 0 else 0) + bytes([0x90, pitch, velocity])
        for i, (pitch, _) in enumerate(sounding):
            yield quantity(DIVISION if i == 0 else 0) + bytes([0x80, pitch, 0])
        wait = 0 if sounding else wait + DIVISION
    yield quantity(wait) + b"\xff\x2f\x00"


def _sounding(group: Group, tuning: Tuning) -> list[tuple[int, int]]:
    loudest: dict[int, int] = {}
    for note in group.notes:
        pitch = note_pitch(note, tuning)
        if pitch is not None:
            loudest[pitch] = max(loudest.get(pitch, 0), GHOST_VELOCITY if note.ghost else VELOCITY)
    return sorted(loudest.items())


def quantity(value: int) -> bytes:
    """A number in the file's variable length form, seven bits a byte, highest first.

    Examples
    --------
    >>> quantity(0x40).hex(), quantity(0x2000).hex(), quantity(0x1FFFFF).hex()
    ('40', 'c000', 'ffff7f')
    """
    out = [value & 0x7F]
    while value := value >> 7:
        out.append(0x80 | value & 0x7F)
    return bytes(reversed(out))


def _meta(kind: int, text: str) -> bytes:
    data = text.encode("utf-8")
    return bytes([0, 0xFF, kind]) + quantity(len(data)) + data
