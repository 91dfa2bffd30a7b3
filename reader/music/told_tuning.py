"""Finds open strings that nobody lists: the labels of a page tell them, once there are enough of them.

A string that sounds at a fret of a labelled diagram sounds a note of that chord. So each labelled diagram leaves
its strings three or four notes to start from, and a handful of different diagrams leave one.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from itertools import product

from reader.music.chord import Chord
from reader.music.judging import judge
from reader.music.shape import Shape
from reader.music.tuning import DEFAULT_IDS, Tuning, default_tuning, get_tuning, tunings_with

FEWEST = 6
"""Different labelled diagrams that must speak, on the whole and on each string."""
MOST_SAY, MOST_AGREE = 0.85, 0.85
"""Share of a string's diagrams that its note must suit, and of all diagrams that must be named as labelled (judged by
hand, no source)."""
LEAST_MIXED = 3
"""Of them with open and stopped strings: these stand for where on the neck the stops lie."""
CLOSE = 0.9
"""A note that suits this share of what the best one suits is tried as well."""
MOST_TRIED = 400
USUAL_LOWEST = 55
"""Pitch near which strings are laid where no tuning is usual for their number: G3."""


def told_tuning(labelled: Sequence[tuple[Shape, Chord]], count: int) -> Tuning | None:
    """The open strings under which nearly all labels name their dots; None where the labels do not tell them.

    Strings in the reverse order of a listed tuning are not believed: such a page is drawn, or held, the other way.
    Nor are any without open strings among stopped ones: the number of the first fret may be misread on all of them.

    Parameters
    ----------
    labelled : sequence of (Shape, Chord)
        All of ``count`` strings.
    count : int

    Examples
    --------
    >>> from reader.music.label import parse_label
    >>> sheet = "C 32000, G 554x3, Fsus2 x300x, Em 22040, A 0x210, Cm 3x033, D x0222, G 20023, GM7 20022"
    >>> pairs = [word.split() for word in sheet.split(", ")]
    >>> told = told_tuning([(Shape.parse(frets), parse_label(label)) for label, frets in pairs], 5)
    >>> told.name
    'A4 D3 G3 C4 E4'
    """
    different = list(dict.fromkeys(labelled))
    if len(different) < FEWEST or sum(_mixes(shape) for shape, _ in different) < LEAST_MIXED:
        return None
    choices = [_choices(different, string) for string in range(count)]
    if not all(choices) or math.prod(len(c) for c in choices) > MOST_TRIED:
        return None
    tried = [(_named(different, tuning), tuning) for tuning in (_laid(notes) for notes in product(*choices))]
    best = max(named for named, _ in tried)
    winners = [tuning for named, tuning in tried if named == best]
    if len(winners) > 1 or best < MOST_AGREE * len(different) or _is_reversed(winners[0]):
        return None
    return winners[0]


def _mixes(shape: Shape) -> bool:
    """Whether some strings are open and others are stopped."""
    return any(fret == 0 for fret in shape.frets) and any(fret for fret in shape.frets)


def _choices(labelled: list[tuple[Shape, Chord]], string: int) -> list[int]:
    """Pitch classes that a string may have."""
    suits: Counter[int] = Counter()
    heard = 0
    for shape, chord in labelled:
        fret = shape.frets[string]
        if fret is not None:
            heard += 1
            suits.update((note - fret) % 12 for note in chord.pitch_classes)
    most = max(suits.values(), default=0)
    if heard < FEWEST or most < MOST_SAY * heard:
        return []
    return [note for note in range(12) if suits[note] >= max(MOST_SAY * heard, CLOSE * most)]


def _laid(notes: tuple[int, ...]) -> Tuning:
    """These pitch classes as strings, each in the octave nearest to the usual pitch of its place."""
    count = len(notes)
    known = tunings_with(count)
    usual = default_tuning(count) if count in DEFAULT_IDS else known[0] if known else None
    near = usual.pitches if usual else tuple(USUAL_LOWEST + 5 * k for k in range(count))
    pitches = [place + (note - place + 6) % 12 - 6 for note, place in zip(notes, near, strict=True)]
    return get_tuning(" ".join(str(p) for p in pitches))


def _named(labelled: list[tuple[Shape, Chord]], tuning: Tuning) -> int:
    """How many diagrams sound what their labels say."""
    return sum(judge(chord, shape, tuning)[0] != "different" for shape, chord in labelled)


def _is_reversed(tuning: Tuning) -> bool:
    """Whether these are the strings of a listed tuning in the reverse order, and of none in this one."""
    notes = [p % 12 for p in tuning.pitches]
    listed = [[p % 12 for p in t.pitches] for t in tunings_with(tuning.string_count)]
    return notes[::-1] in listed and notes not in listed
