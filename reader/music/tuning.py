"""Open strings of instruments: ``tunings.toml`` and whatever a person types."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from reader.errors import NotationError
from reader.music.key import spell_between
from reader.music.pitch import NoteName, Pitch, pitch_of
from reader.music.shape import Shape
from reader.music.typed_tuning import TypedNotes, parse_midi_tuning, parse_note_tuning

DEFAULT_IDS = {4: "ukulele", 5: "banjo", 6: "guitar", 7: "guitar-7"}
"""The tuning taken for a number of strings when nothing else is known (common practice, no source)."""

HIGHEST_CAPO = 12
LOWEST_TYPED = 48
"""Where typed notes without octaves begin, for numbers of strings that have no usual tuning."""
GUITAR_SCALE_MM = 648.0
TYPED_SCALE_MM = {3: 600.0, 4: 430.0, 5: 600.0}
"""Scale length taken for a typed tuning, by strings; otherwise a guitar's. Only stretches depend on it."""
USUAL_SPELLING = -4
"""Typed MIDI numbers are spelled from A flat to C sharp on the line of fifths."""

_CAPO = " capo "


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

    def __str__(self) -> str:
        return self.id

    def __repr__(self) -> str:
        return f"get_tuning({self.id!r})"

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
        if not 0 <= fret <= HIGHEST_CAPO:
            raise NotationError(f"A capo at fret {fret} is outside 0 to {HIGHEST_CAPO}.")
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
    open_strings = _by_name().get(clean.casefold()) or _typed_tuning(clean)
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


def _typed_tuning(text: str) -> Tuning:
    numbers = parse_midi_tuning(text)
    if numbers is not None:
        return _known_or_typed(numbers, tuple(spell_between(n % 12, USUAL_SPELLING) for n in numbers))
    readings = parse_note_tuning(text)
    known = (_first_with_notes(notes) for notes in readings)
    return next((t for t in known if t is not None), None) or _typed_from_notes(readings[0])


def _first_with_notes(notes: TypedNotes) -> Tuning | None:
    """The first listed tuning with these notes, in these octaves where they are given."""
    for tuning in tunings_with(len(notes)):
        if all(
            pitch % 12 == name.pitch_class and (octave is None or Pitch(name, octave).midi == pitch)
            for pitch, (name, octave) in zip(tuning.pitches, notes, strict=True)
        ):
            return tuning
    return None


def _typed_from_notes(notes: TypedNotes) -> Tuning:
    """Missing octaves: nearest to the usual string in its place, else rising from the string before."""
    usual = default_tuning(len(notes)).pitches if len(notes) in DEFAULT_IDS else ()
    pitches: list[int] = []
    for i, (name, octave) in enumerate(notes):
        if octave is not None:
            pitches.append(Pitch(name, octave).midi)
        elif usual:
            pitches.append(usual[i] + (name.pitch_class - usual[i] + 6) % 12 - 6)
        else:
            floor = pitches[-1] if pitches else LOWEST_TYPED
            pitches.append(floor + (name.pitch_class - floor) % 12)
    return _known_or_typed(tuple(pitches), tuple(name for name, _ in notes))


def _known_or_typed(pitches: tuple[int, ...], names: tuple[NoteName, ...]) -> Tuning:
    for tuning in tunings_with(len(pitches)):
        if tuning.pitches == pitches:
            return tuning
    text = [str(pitch_of(p, name)) for name, p in zip(names, pitches, strict=True)]
    return Tuning(
        id="-".join(text),
        name=" ".join(text),
        instrument=f"{len(pitches)} strings",
        pitches=pitches,
        scale_mm=TYPED_SCALE_MM.get(len(pitches), GUITAR_SCALE_MM),
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
