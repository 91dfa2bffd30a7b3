"""Whether a hand can play a diagram as drawn: a finger number that no hand can follow is a slip of pen or eye."""

from __future__ import annotations

from itertools import combinations

from reader.music.fingering import FINGERS, all_fingerings, can_be_barred
from reader.music.frame import Frame
from reader.music.hand import BEYOND_REACH, fret_distance_mm, strain
from reader.music.tuning import Tuning


def hand_problem(frame: Frame, tuning: Tuning) -> str | None:
    """What keeps a hand from playing a diagram as drawn, in one sentence; None when nothing does.

    Drawn finger numbers are checked as they stand, missing ones are left
    free; without any, the shape itself is checked.

    Examples
    --------
    >>> from reader.music.tuning import get_tuning
    >>> frame = Frame((0, 2, 3, 2), (None, 1, 3, 1), fret_count=4)
    >>> hand_problem(frame, get_tuning("ukulele")) is None
    True
    >>> crossed = Frame((0, 2, 3, 2), (None, 3, 1, 2), fret_count=4)
    >>> hand_problem(crossed, get_tuning("ukulele"))
    'Finger 1 would stand at fret 3, above finger 3 at fret 2.'
    """
    drawn = [
        (finger, fret, i)
        for i, (finger, fret) in enumerate(zip(frame.fingers, frame.frets, strict=True))
        if finger is not None and fret and finger != "T"
    ]
    return (
        _before_the_string(frame, tuning)
        or _under_a_barre(frame)
        or _idle_finger(frame)
        or _one_finger_twice(frame, drawn)
        or _crossed(drawn)
        or _too_far(drawn, tuning)
        or _no_way(frame, tuning)
    )


_Drawn = list[tuple[int, int, int]]


def _before_the_string(frame: Frame, tuning: Tuning) -> str | None:
    for i, (fret, start) in enumerate(zip(frame.frets, tuning.starts, strict=False)):
        if fret and fret <= start:
            return f"String {frame.string_count - i} of {tuning.name} begins at fret {start}: it has no fret {fret}."
    return None


def _under_a_barre(frame: Frame) -> str | None:
    for barre in frame.barres:
        for i, fret in enumerate(frame.frets):
            if fret is not None and fret < barre.fret and barre.covers(i, frame.string_count):
                return (
                    f"The barre at fret {barre.fret} would stop string {frame.string_count - i}, drawn at fret {fret}."
                )
    return None


def _idle_finger(frame: Frame) -> str | None:
    for i, (finger, fret) in enumerate(zip(frame.fingers, frame.frets, strict=True)):
        if finger is not None and not fret:
            string = frame.string_count - i
            state = "open" if fret == 0 else "not played"
            return f"Finger {finger} is written for string {string}, which is {state}."
    return None


def _one_finger_twice(frame: Frame, drawn: _Drawn) -> str | None:
    for finger in FINGERS:
        own = [(fret, i) for f, fret, i in drawn if f == finger]
        frets = {fret for fret, _ in own}
        if len(frets) > 1:
            return f"Finger {finger} would stand at frets {' and '.join(map(str, sorted(frets)))} at once."
        if len(own) > 1 and not can_be_barred(frame.shape, own[0][0], [i for _, i in own]):
            return f"Finger {finger} would lie across a string that must sound below fret {own[0][0]}."
    return None


def _crossed(drawn: _Drawn) -> str | None:
    for low, low_fret, _ in drawn:
        for high, high_fret, _ in drawn:
            if low < high and low_fret > high_fret:
                return f"Finger {low} would stand at fret {low_fret}, above finger {high} at fret {high_fret}."
    return None


def _too_far(drawn: _Drawn, tuning: Tuning) -> str | None:
    for (a, fret_a, _), (b, fret_b, _) in combinations(drawn, 2):
        if a != b and strain(tuning, a, fret_a, b, fret_b) > BEYOND_REACH:
            span = fret_distance_mm(tuning, fret_a, fret_b)
            return f"Fingers {a} and {b} would be {span:.0f} mm apart on {tuning.name}: few hands reach that."
    return None


def _no_way(frame: Frame, tuning: Tuning) -> str | None:
    if all_fingerings(frame.shape, tuning):
        return None
    return f"No hand fingers {frame.shape} on {tuning.name}: it takes more than four fingers or too wide a reach."
