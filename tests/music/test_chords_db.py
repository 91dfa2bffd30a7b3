"""Every shape of an open dataset: @tombatossals/chords-db 0.5.1 (npm, MIT), read from its package.

Its frets and MIDI numbers are trusted, its extended names are not: a name is asked for only where its notes are the
notes that sound.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from reader.music.chord import Chord
from reader.music.drawn_fingers import hand_problem
from reader.music.fingering import usual_fingerings
from reader.music.frame import Frame
from reader.music.label import parse_label
from reader.music.naming import name_shape
from reader.music.shape import Shape
from reader.music.tuning import get_tuning

DATA = Path(__file__).resolve().parents[2] / "node_modules" / "@tombatossals" / "chords-db" / "lib"
INSTRUMENTS = ("guitar", "ukulele")


@dataclass(frozen=True)
class Position:
    label: str
    shape: Shape
    fingers: tuple[int | None, ...]
    midi: tuple[int, ...]

    @property
    def is_slash(self) -> bool:
        return "/" in self.label


@cache
def positions(instrument: str) -> tuple[Position, ...]:
    path = DATA / f"{instrument}.json"
    if not path.is_file():
        pytest.skip("the npm package @tombatossals/chords-db is not installed: .ci/run fetches it")
    chords = json.loads(path.read_text(encoding="utf-8"))["chords"].values()
    return tuple(position(chord, row) for row_of_key in chords for chord in row_of_key for row in chord["positions"])


def position(chord: dict[str, str], row: dict[str, list[int]]) -> Position:
    suffix = {"major": "", "minor": "m"}.get(chord["suffix"], chord["suffix"])
    above = int(row["baseFret"]) - 1  # type: ignore[call-overload]
    frets = tuple(None if f < 0 else f and f + above for f in row["frets"])
    return Position(chord["key"] + suffix, Shape(frets), tuple(f or None for f in row["fingers"]), tuple(row["midi"]))


def sounding(position: Position, instrument: str) -> list[int]:
    return [p for p in get_tuning(instrument).sounding(position.shape) if p is not None]


@pytest.mark.parametrize("instrument", INSTRUMENTS)
def test_every_pitch_agrees(instrument: str) -> None:
    found = positions(instrument)
    assert len(found) > 2000
    assert [p.label for p in found if sorted(sounding(p, instrument)) != sorted(p.midi)] == []


@dataclass(frozen=True)
class Named:
    """A position whose name has exactly the notes that sound, and what we say of it."""

    position: Position
    rank: int | None
    first: str
    why: str

    def __str__(self) -> str:
        return f"{self.position.label} {self.position.shape}: {self.first} ({self.why})"


@cache
def named(instrument: str) -> tuple[Named, ...]:
    found = []
    for p in positions(instrument):
        given = parse_label(p.label)
        if isinstance(given, Chord) and given.pitch_classes == {m % 12 for m in sounding(p, instrument)}:
            names = name_shape(p.shape, get_tuning(instrument))
            rank = next((n.rank for n in names if n.chord and same(n.chord, given)), None)
            found.append(Named(p, rank, names[0].text, "; ".join(names[0].reasons)))
    return tuple(found)


def same(one: Chord, other: Chord) -> bool:
    """The same but for spelling; a bass that the name leaves open is no difference."""
    kinds = [(c.root.pitch_class, c.quality, c.added, c.omitted) for c in (one, other)]
    over = other.bass is None or (one.bass is not None and one.bass.pitch_class == other.bass.pitch_class)
    return kinds[0] == kinds[1] and over


@pytest.mark.parametrize("instrument", INSTRUMENTS)
def test_every_name_is_among_ours(instrument: str) -> None:
    assert len(named(instrument)) > 1000
    assert [str(n) for n in named(instrument) if n.rank is None] == []


@pytest.mark.parametrize(("instrument", "least"), [("guitar", 0.97), ("ukulele", 0.95)])
def test_names_come_first(instrument: str, least: float) -> None:
    """First, or sharing the first rank where neither notes nor bass tell names apart; -rP prints the rest.

    Slash names are counted in the next test: the trade calls D over B a B minor seventh.
    """
    found = [n for n in named(instrument) if not n.position.is_slash]
    late = [n for n in found if n.rank != 1]
    print(f"{instrument}: first {1 - len(late) / len(found):.1%} of {len(found)}; the rest:", *late, sep="\n  ")
    assert len(late) <= (1 - least) * len(found)


def test_slash_names_come_first_unless_they_are_another_chord_in_root_position() -> None:
    late = [n for n in named("guitar") if n.position.is_slash and n.rank != 1]
    print(f"{len(late)} slash names that come later:", *late, sep="\n  ")
    for n in late:
        first = parse_label(n.first)
        assert isinstance(first, Chord)
        assert first.bass is None, str(n)
        assert first.root.pitch_class == min(n.position.midi) % 12, str(n)


FINGER_SHARES = {"guitar": (0.85, 0.93), "ukulele": (0.80, 0.94)}
"""Least shares of the dataset's fingers that are our first, and our first or second choice. No independent check: the
weights of fingerings were fitted to half of this dataset. It keeps them from drifting."""


@pytest.mark.parametrize("instrument", INSTRUMENTS)
def test_fingers_stay_close(instrument: str) -> None:
    tuning = get_tuning(instrument)
    different = {(p.shape, p.fingers) for p in positions(instrument) if complete(p)}
    choices = [[f.fingers for f in usual_fingerings(shape, tuning)[:2]] for shape, _ in different]
    pairs = list(zip(choices, (fingers for _, fingers in different), strict=True))
    first = sum(bool(ours) and ours[0] == theirs for ours, theirs in pairs) / len(pairs)
    second = sum(theirs in ours for ours, theirs in pairs) / len(pairs)
    assert (first, second) >= FINGER_SHARES[instrument], (first, second)
    assert second >= FINGER_SHARES[instrument][1]


def complete(position: Position) -> bool:
    return all(
        (finger is None) == (not fret) for finger, fret in zip(position.fingers, position.shape.frets, strict=True)
    )


@pytest.mark.parametrize(("instrument", "most"), [("guitar", 0.02), ("ukulele", 0.01)])
def test_few_drawn_hands_are_doubted(instrument: str, most: float) -> None:
    """Those that are have fingers on open strings, crossed fingers, or one finger on two frets."""
    tuning = get_tuning(instrument)
    found = positions(instrument)
    doubted = [p for p in found if hand_problem(Frame(p.shape.frets, p.fingers, fret_count=4), tuning)]
    assert len(doubted) <= most * len(found)
