"""Open strings of instruments: ``tunings.toml`` and whatever a person types."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from reader.errors import NotationError
from reader.music.pitch import NoteName, Pitch
from reader.music.shape import MAX_STRINGS, Shape

DEFAULT_IDS = {4: "ukulele", 5: "banjo", 6: "guitar", 7: "guitar-7"}
"""The tuning taken for a number of strings when nothing else is known (common practice, no source)."""

MIDI_RANGE = range(12, 109)
"""Pitches that an open string can have; a typed number outside is a slip (a fret, a fingering)."""

_CAPO = " capo "
_LETTER_NOTE = re.compile(r"([A-Ga-g])([#♯]|b|♭)?(-?\d)?")


@dataclass(frozen=True, slots=True)
class Tuning:
    """The open strings of an instrument.

    Parameters
    ----------
    id : str
        ``ukulele``; for a typed tuning its notes, ``D2-A2-D3-F3-A3-D4``.
    name, instrument : str
    pitches : tuple of int
        MIDI note numbers, leftmost string of an upright diagram first. Of a
        course of unlike strings the one that carries the melody.
    scale_mm : float
        Sounding length of the long strings.
    source : str
        Where the pitches were seen.
    octaves : tuple of (int or None)
        The other string of a course where it differs, else None.
    starts : tuple of int
        Fret at which each string begins: 5 for the short string of a banjo.
    capo : int
        Already contained in ``pitches``; frets are counted from the capo.
    """

    id: str
    name: str
    instrument: str
    pitches: tuple[int, ...]
    scale_mm: float
    source: str
    octaves: tuple[int | None, ...] = ()
    starts: tuple[int, ...] = ()
    capo: int = 0

    @property
    def string_count(self) -> int:
        """Lines drawn: strings, or courses."""
        return len(self.pitches)

    @property
    def reentrant(self) -> bool:
        """Whether the strings do not rise from left to right."""
        return any(left > right for left, right in zip(self.pitches, self.pitches[1:], strict=False))

    @property
    def sounding_scale_mm(self) -> float:
        """Length of the long strings beyond the capo."""
        return float(self.scale_mm * 2.0 ** (-self.capo / 12))

    def pitch_at(self, string: int, fret: int) -> int:
        """MIDI number of a string (0 is leftmost) at a fret.

        The fifth string of a banjo begins at fret 5: its seventh fret sounds
        two semitones above open, and a finger below its own nut changes nothing.
        """
        start = self.starts[string] if self.starts else 0
        return self.pitches[string] + max(fret - start, 0)

    def sounding(self, shape: Shape) -> tuple[int | None, ...]:
        """MIDI number per string, None where it is not played.

        Raises
        ------
        NotationError
            When shape and tuning differ in the number of strings.

        Examples
        --------
        >>> get_tuning("ukulele").sounding(Shape.parse("0003"))
        (67, 60, 64, 72)
        """
        self.check_strings(shape)
        return tuple(None if f is None else self.pitch_at(i, f) for i, f in enumerate(shape.frets))

    def lowest(self, shape: Shape) -> int | None:
        """MIDI number of the lowest sound, the octave strings of courses included; None when all are muted."""
        return min(self._all_pitches(shape), default=None)

    def _all_pitches(self, shape: Shape) -> Iterator[int]:
        for i, pitch in enumerate(self.sounding(shape)):
            if pitch is None:
                continue
            yield pitch
            octave = self.octaves[i] if self.octaves else None
            if octave is not None:
                yield pitch + octave - self.pitches[i]

    def check_strings(self, shape: Shape) -> None:
        """Raise NotationError unless the shape has as many strings as the tuning."""
        if shape.string_count != self.string_count:
            raise NotationError(
                f"The shape {shape} has {shape.string_count} strings and the tuning {self.id} has "
                f"{self.string_count}: choose a tuning of {shape.string_count} strings."
            )

    def with_capo(self, fret: int) -> Tuning:
        """The tuning beyond a capo; a short fifth string is raised as much as the others (common practice, no source).

        Raises
        ------
        NotationError
            For a fret below 0 or above 12.
        """
        if not 0 <= fret <= 12:
            raise NotationError(f"A capo at fret {fret} is outside 0 to 12.")
        up = fret - self.capo
        return replace(
            self,
            id=self.id.split(_CAPO)[0] + (f"{_CAPO}{fret}" if fret else ""),
            name=self.name.split("," + _CAPO)[0] + (f",{_CAPO}{fret}" if fret else ""),
            pitches=tuple(p + up for p in self.pitches),
            octaves=tuple(None if p is None else p + up for p in self.octaves),
            capo=fret,
        )


def get_tuning(text: str) -> Tuning:
    """The tuning that a person means.

    Parameters
    ----------
    text : str
        An id (``guitar-drop-d``), a name (``Guitar, drop D``), notes from
        left to right with or without octaves (``gCEA``, ``D A D G A D``,
        ``G3 C4 E4 A4``), or MIDI numbers (``67 60 64 69``). Letters without
        octaves mean the first listed tuning with these notes; when none has
        them, each string takes the octave nearest to its usual pitch.
        ``capo 2`` after any of these raises all strings.

    Raises
    ------
    NotationError
        Naming what cannot be understood.
    """
    clean, capo, fret = text.strip().partition(_CAPO)
    clean = clean.rstrip(" ,")
    open_strings = _by_name().get(clean.casefold()) or _tuning_from_midi(clean) or _tuning_from_notes(clean)
    if not capo:
        return open_strings
    if not (fret.strip().isascii() and fret.strip().isdigit()):
        raise NotationError(f"'{fret}' after capo in '{text}' is not a fret: write a number, as in 'guitar capo 2'.")
    return open_strings.with_capo(int(fret))


def all_tunings() -> tuple[Tuning, ...]:
    """Every tuning of ``tunings.toml``, in its order."""
    return _load()


def tunings_with(string_count: int) -> tuple[Tuning, ...]:
    """The listed tunings with so many strings."""
    return tuple(t for t in _load() if t.string_count == string_count)


def default_tuning(string_count: int) -> Tuning:
    """The tuning to take when only the number of strings is known.

    Raises
    ------
    NotationError
        When no tuning is usual for so many strings.
    """
    if string_count not in DEFAULT_IDS:
        raise NotationError(
            f"No tuning is usual for {string_count} strings: give one by its notes, as in --tuning 'G3 D4 A4'."
        )
    return get_tuning(DEFAULT_IDS[string_count])


# ---------------------------------------------------------------- what a person typed


def _tuning_from_midi(text: str) -> Tuning | None:
    parts = re.split(r"[\s,;-]+", text)
    if len(parts) < 2 or not all(p.isascii() and p.isdigit() for p in parts):
        return None
    numbers = tuple(int(p) for p in parts)
    bad = next((n for n in numbers if n not in MIDI_RANGE), None)
    if bad is not None:
        raise NotationError(
            f"{bad} in the tuning '{text}' is not the MIDI number of a string "
            f"({MIDI_RANGE.start} to {MIDI_RANGE.stop - 1}, middle C is 60)."
        )
    return _known_or_typed(numbers)


def _tuning_from_notes(text: str) -> Tuning:
    readings = [_split_notes(text, flat_sign=True)]
    if "b" in text:
        readings.append(_split_notes(text, flat_sign=False))
    good = [notes for notes in readings if isinstance(notes, list)]
    if not good:
        raise _tuning_error(text, next(bad for bad in readings if isinstance(bad, str)))
    for notes in good:
        known = _first_with_notes(notes)
        if known:
            return known
    return _typed_from_notes(good[0])


def _tuning_error(text: str, bad: str) -> NotationError:
    what = (
        f"'{bad}' in the tuning '{text}' is not a note"
        if bad
        else f"The tuning '{text}' needs 2 to {MAX_STRINGS} notes"
    )
    return NotationError(
        f"{what}: give an id such as ukulele or guitar-drop-d, or the open strings from left to right, "
        "as in gCEA, 'D A D G A D' or '67 60 64 69'."
    )


def _split_notes(text: str, flat_sign: bool) -> list[tuple[NoteName, int | None]] | str:
    """Notes with their octaves, or the first character that is none; ``EADGbe`` needs b as a letter."""
    notes: list[tuple[NoteName, int | None]] = []
    rest = text
    while rest:
        rest = rest.lstrip(" ,-\t")
        found = _LETTER_NOTE.match(rest)
        if not found:
            if rest:
                return rest[0]
            break
        accidental, octave = found[2] or "", found[3]
        end = found.end()
        if accidental == "b" and not flat_sign:
            accidental, octave, end = "", None, 1
        notes.append((NoteName.parse(found[1] + accidental), None if octave is None else int(octave)))
        rest = rest[end:]
    return notes if 2 <= len(notes) <= MAX_STRINGS else ""


def _first_with_notes(notes: list[tuple[NoteName, int | None]]) -> Tuning | None:
    for tuning in tunings_with(len(notes)):
        fits = all(
            pitch % 12 == name.pitch_class and (octave is None or Pitch(name, octave).midi == pitch)
            for pitch, (name, octave) in zip(tuning.pitches, notes, strict=True)
        )
        if fits:
            return tuning
    return None


def _typed_from_notes(notes: list[tuple[NoteName, int | None]]) -> Tuning:
    usual = default_tuning(len(notes)).pitches if len(notes) in DEFAULT_IDS else ()
    pitches: list[int] = []
    for i, (name, octave) in enumerate(notes):
        if octave is not None:
            pitches.append(Pitch(name, octave).midi)
        elif usual:
            pitches.append(usual[i] + (name.pitch_class - usual[i] + 6) % 12 - 6)
        else:
            floor = pitches[-1] if pitches else 48
            pitches.append(floor + (name.pitch_class - floor) % 12)
    return _known_or_typed(tuple(pitches), tuple(name for name, _ in notes))


_PLAIN_NAMES = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]
TYPED_SCALE_MM = {3: 600.0, 4: 430.0, 5: 600.0}
"""Scale length taken for a typed tuning, by strings; otherwise a guitar's. Only stretches depend on it."""


def _known_or_typed(pitches: tuple[int, ...], names: tuple[NoteName, ...] = ()) -> Tuning:
    if not 2 <= len(pitches) <= MAX_STRINGS:
        raise NotationError(f"A tuning has 2 to {MAX_STRINGS} strings, this one has {len(pitches)}.")
    for tuning in tunings_with(len(pitches)):
        if tuning.pitches == pitches:
            return tuning
    spelled = names or tuple(NoteName.parse(_PLAIN_NAMES[p % 12]) for p in pitches)
    text = [f"{name}{(p - name.alteration) // 12 - 1}" for name, p in zip(spelled, pitches, strict=True)]
    return Tuning(
        id="-".join(text),
        name=" ".join(text),
        instrument=f"{len(pitches)} strings",
        pitches=pitches,
        scale_mm=TYPED_SCALE_MM.get(len(pitches), 648.0),
        source="typed",
    )


# ---------------------------------------------------------------- the table


@cache
def _load() -> tuple[Tuning, ...]:
    import tomllib

    rows = tomllib.loads(Path(__file__).with_name("tunings.toml").read_text(encoding="utf-8"))["tuning"]
    return tuple(_from_row(row) for row in rows)


def _from_row(row: dict[str, object]) -> Tuning:
    courses = [[Pitch.parse(p).midi for p in course.split("/")] for course in str(row["strings"]).split()]
    unlike = any(len(c) > 1 for c in courses)
    starts = row.get("starts", ())
    assert isinstance(starts, list | tuple)
    return Tuning(
        id=str(row["id"]),
        name=str(row["name"]),
        instrument=str(row["instrument"]),
        pitches=tuple(c[0] for c in courses),
        scale_mm=float(str(row["scale_mm"])),
        source=str(row["source"]),
        octaves=tuple(c[1] if len(c) > 1 else None for c in courses) if unlike else (),
        starts=tuple(int(s) for s in starts),
    )


@cache
def _by_name() -> dict[str, Tuning]:
    return {key.casefold(): t for t in _load() for key in (t.id, t.name)}
