"""When one reading agrees with one drawing: a small pure function for each question."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from reader.evaluate.overlap import Polygon
from reader.evaluate.spelling import spelling_class
from reader.music.frame import Barre, Frame
from reader.reading import Reading, TabEvent, TabReading

Notes = frozenset[tuple[int, int | None]]


def same_frets(drawn: Frame, read: Frame) -> bool:
    """Whether every string is stopped where it is drawn, none missing and none too many."""
    return drawn.frets == read.frets


def same_fingers(drawn: Frame, read: Frame) -> bool:
    """Whether every string has the finger that is drawn, and none where none is drawn."""
    return drawn.fingers == read.fingers


def same_barres(drawn: Frame, read: Frame) -> bool:
    """Whether the same barres stand at the same frets over the same strings, whichever end is named first."""
    return _barre_places(drawn.barres) == _barre_places(read.barres)


def _barre_places(barres: Iterable[Barre]) -> set[tuple[int, int, int]]:
    return {(b.fret, max(b.from_string, b.to_string), min(b.from_string, b.to_string)) for b in barres}


def same_label(drawn: str | None, read: str | None) -> bool:
    """Whether two labels say the same, in any spelling."""
    return spelling_class(drawn) == spelling_class(read)


def has_label(reading: Reading) -> bool:
    """Whether any label is written (read)."""
    return spelling_class(reading.label) is not None


def has_fingers(frame: Frame) -> bool:
    """Whether any finger number is written."""
    return any(f is not None for f in frame.fingers)


def way_up(corners: Polygon) -> str:
    """The side of the page at which the nut lies: 'top', 'bottom', 'left' or 'right'.

    Parameters
    ----------
    corners : four (x, y)
        Nut left, nut right, far right, far left.
    """
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = corners
    right, down = (cx + dx - ax - bx) / 2, (cy + dy - ay - by) / 2
    if abs(down) >= abs(right):
        return "top" if down > 0 else "bottom"
    return "left" if right > 0 else "right"


def corner_error(drawn: Reading, corners: Polygon) -> float | None:
    """Mean distance of the four corners from where they are drawn.

    Parameters
    ----------
    drawn : Reading
        The truth, with its corners and fret spaces.
    corners : four (x, y)
        As read, in the same order and pixels.

    Returns
    -------
    float or None
        In heights of one drawn fret space; None where the drawn grid has no height.
    """
    nut_left, nut_right, far_right, far_left = drawn.corners
    space = (math.dist(nut_left, far_left) + math.dist(nut_right, far_right)) / 2 / drawn.frame.fret_count
    if space == 0:
        return None
    return sum(math.dist(a, b) for a, b in zip(drawn.corners, corners, strict=True)) / 4 / space


def struck_notes(tab: TabReading) -> list[Notes]:
    """The (string, fret) struck at each event, in order; events without notes are left out."""
    return [notes for notes in map(_notes, tab.events) if notes]


def _notes(event: TabEvent) -> Notes:
    return frozenset((n.string, n.fret) for n in event.notes)


def count_notes(events: Iterable[Notes]) -> int:
    """Notes in all events together."""
    return sum(len(notes) for notes in events)


def shared_notes(drawn: Sequence[Notes], read: Sequence[Notes]) -> int:
    """Most notes that two lists of events can share when both are walked through in order.

    Two events may be paired when no earlier one is paired with a later one
    (a longest common subsequence weighted by shared notes); a pair shares the
    notes of equal string and fret.

    Examples
    --------
    >>> a, b = frozenset({(1, 0)}), frozenset({(2, 3)})
    >>> shared_notes([a, b], [b, a])
    1
    """
    best = [0] * (len(read) + 1)
    for notes in drawn:
        row = [0]
        for j, other in enumerate(read):
            row.append(max(row[j], best[j + 1], best[j] + len(notes & other)))
        best = row
    return best[-1]
