"""A chord: root, quality, what is added and left out, and the bass, all spelled."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from reader.music.pitch import Degree, NoteName
from reader.music.quality import Quality, all_qualities, by_degrees

ROOT = Degree(1)
FIFTH = Degree(5)
ELEVENTH, THIRTEENTH = Degree(11), Degree(13)


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord as a label means it.

    Parameters
    ----------
    root : NoteName
    quality : Quality
    added : tuple of Degree
        Tones that the quality lacks, ascending.
    omitted : tuple of Degree
        Degrees of the quality that the label says to leave out.
    bass : NoteName, optional
        After the slash; None when the root is the bass.

    Examples
    --------
    >>> from reader.music.quality import get_quality
    >>> chord = Chord(NoteName("A"), get_quality("m7"), bass=NoteName("G"))
    >>> str(chord), [str(n) for n in chord.notes]
    ('Am7/G', ['A', 'C', 'E', 'G'])
    """

    root: NoteName
    quality: Quality
    added: tuple[Degree, ...] = ()
    omitted: tuple[Degree, ...] = ()
    bass: NoteName | None = None

    def __str__(self) -> str:
        """The label in plain letters; ``parse_label`` reads it back."""
        from reader.music.label_style import PLAIN, chord_text

        return chord_text(self, PLAIN)

    def __repr__(self) -> str:
        return f"parse_label({str(self)!r})"

    @property
    def degrees(self) -> tuple[Degree, ...]:
        """Every degree, ascending; without a foreign bass."""
        kept = (d for d in self.quality.degrees if d not in self.omitted)
        return tuple(sorted((*kept, *self.added), key=lambda d: (d.semitones, d.number)))

    @property
    def notes(self) -> tuple[NoteName, ...]:
        """Spelled, one per degree; without a foreign bass."""
        return tuple(self.root.above(d) for d in self.degrees)

    @property
    def pitch_classes(self) -> frozenset[int]:
        """Everything that sounds, 0 to 11, the bass included."""
        above = self.root.pitch_class
        tones = {(above + d.semitones) % 12 for d in self.degrees}
        if self.bass is not None:
            tones.add(self.bass.pitch_class)
        return frozenset(tones)

    @property
    def dispensable(self) -> frozenset[int]:
        """Pitch classes that players usually leave out."""
        above = self.root.pitch_class
        return frozenset((above + d.semitones) % 12 for d in self.quality.left_out)

    @property
    def bass_or_root(self) -> NoteName:
        """The note that should be lowest."""
        return self.bass or self.root

    def without_bass(self) -> Chord:
        """The chord left of the slash."""
        return replace(self, bass=None)

    def with_root(self, root: NoteName) -> Chord:
        """The same chord on another root, the bass moved with it."""
        bass = None if self.bass is None else root.above(self.root.degree_of(self.bass))
        return replace(self, root=root, bass=bass)


def chord_of(root: NoteName, degrees: frozenset[Degree], bass: NoteName | None = None) -> Chord:
    """The chord with these degrees, in its simplest words: the nearest row of the table, and what it adds or omits.

    Examples
    --------
    >>> degrees = frozenset(Degree.parse(d) for d in ("1", "3", "b7", "b9"))
    >>> str(chord_of(NoteName("C"), degrees))
    'C7b9(no5)'
    """
    quality, added, omitted = _in_words(degrees)
    return Chord(root, quality, added, omitted, None if bass == root else bass)


@lru_cache(maxsize=4096)
def _in_words(degrees: frozenset[Degree]) -> tuple[Quality, tuple[Degree, ...], tuple[Degree, ...]]:
    row = by_degrees().get(degrees) or min(all_qualities(), key=lambda q: _distance(q, degrees))
    added, omitted = _difference(row, degrees)
    return row, _ascending(added), _ascending(omitted)


_CANNOT_BE_ADDED = (1, 2, 3, 4, 7)
"""Numbers that no label adds in brackets: a third or seventh belongs to the quality, an added second is a ninth."""
_CANNOT_BE_OMITTED = (1, 2, 4, 6)


def _difference(quality: Quality, degrees: frozenset[Degree]) -> tuple[frozenset[Degree], frozenset[Degree]]:
    """What is added and omitted; a thirteenth chord has its eleventh by name only, so nobody omits it."""
    own = frozenset(quality.degrees)
    by_name_only = {ELEVENTH} if ELEVENTH in quality.left_out and THIRTEENTH in degrees else frozenset()
    return degrees - own, own - degrees - by_name_only


def _distance(quality: Quality, degrees: frozenset[Degree]) -> tuple[int, int, float]:
    added, omitted = _difference(quality, degrees)
    unsayable = sum(d.number in _CANNOT_BE_ADDED for d in added) + sum(d.number in _CANNOT_BE_OMITTED for d in omitted)
    altered_fifth = FIFTH in omitted and any(d.number == 5 for d in added)
    words = len(added) + len(omitted) - altered_fifth
    return unsayable, words, min(quality.rarity, 99.0)


def _ascending(degrees: frozenset[Degree]) -> tuple[Degree, ...]:
    return tuple(sorted(degrees, key=lambda d: (d.semitones, d.number)))
