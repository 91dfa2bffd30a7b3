"""Which fingers players put where, how hard that is, and what a change asks of the hand.

Fingers: 1 index, 2 middle, 3 ring, 4 little finger, T thumb. A higher fret takes a higher finger; on one fret the
fingers follow the strings from left to right; one finger may lie across several strings (a barre) where no open
string is caught under it. Among the fingerings that this allows the cheapest are the usual ones. The weights of that
cost were fitted to the fingers of the shapes that everybody learns first (common practice, no source) and of half of
the open dataset @tombatossals/chords-db (MIT).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise
from typing import Literal

from reader.music.frame import Barre, Finger
from reader.music.hand import BEYOND_REACH, fret_distance_mm, strain
from reader.music.shape import Shape
from reader.music.tuning import Tuning

FINGERS = (1, 2, 3, 4)

# How unusual a fingering is.
EACH_FINGER = 0.08
LITTLE_FINGER = 0.08
STRETCH = 0.64
"""For a stretch at the limit of most hands."""
BUNCHED = 0.14
"""For each fret that two neighbouring fingers stand closer than one finger to a fret."""
SPREAD = 0.27
"""For each fret that they stand farther apart than that."""
OFF_POSITION = 0.02
"""For each fret that the hand leaves first position, in a shape that first position reaches."""
BARRE = 0.34
BARRE_NOT_BY_INDEX = {2: 0.82, 3: 0.84, 4: 1.08}
SMALL_BARRE = -0.12
"""A barre over two neighbouring strings is a lighter thing."""
BARRE_BESIDE_OPEN = 0.6
"""To the left of an open string, which the finger must not touch."""
BARRE_OVER_MUTED = 0.3
THUMB = 1.3

# How hard a shape is.
HARD_FINGER = 0.5
HARD_STRETCH = 2.0
HARD_BARRE, HARD_BARRE_STRING = 1.5, 0.25
SHORT_NECK_MM, LIGHT = 450.0, 0.6
"""The soft strings of short necks, the ukulele above all, make a barre lighter."""
HARD_SKIP = 0.3

HIGHEST_THUMB_FRET = 5
FEWEST_STRINGS_FOR_THUMB = 6

Level = Literal["easy", "medium", "hard"]
EASY, MEDIUM = 1.75, 3.25


@dataclass(frozen=True, slots=True)
class Difficulty:
    """How hard a shape is for the left hand.

    Parameters
    ----------
    fingers : int
        Used, a barre counting once.
    stretch_mm : float
        Along the neck, between the lowest and the highest fret pressed.
    barre_strings : int
        Strings that the longest barre stops, 0 without a barre.
    skipped_strings : int
        Strings not played between strings that are.
    score : float
        All of it in one number: below 1.75 easy, from 3.25 hard.
    """

    fingers: int
    stretch_mm: float
    barre_strings: int
    skipped_strings: int
    score: float

    @property
    def level(self) -> Level:
        """In a word."""
        return "easy" if self.score < EASY else "medium" if self.score < MEDIUM else "hard"


@dataclass(frozen=True, slots=True)
class Fingering:
    """One way to finger a shape.

    Parameters
    ----------
    shape : Shape
    fingers : tuple of (int or 'T' or None)
        One per string, leftmost first; None where it is open or not played.
    barres : tuple of Barre
    difficulty : Difficulty
    cost : float
        Lower is more usual.
    """

    shape: Shape
    fingers: tuple[Finger, ...]
    barres: tuple[Barre, ...]
    difficulty: Difficulty
    cost: float

    def places(self) -> dict[int | str, tuple[int, tuple[int, ...]]]:
        """Fret and strings (0 is leftmost) of every finger."""
        found: dict[int | str, tuple[int, tuple[int, ...]]] = {}
        for i, (finger, fret) in enumerate(zip(self.fingers, self.shape.frets, strict=True)):
            if finger is not None and fret:
                found[finger] = (fret, (*found.get(finger, (fret, ()))[1], i))
        return found


@dataclass(frozen=True, slots=True)
class _Press:
    """One finger down: on which fret, on which strings."""

    finger: int
    fret: int
    strings: tuple[int, ...]


def usual_fingerings(shape: Shape, tuning: Tuning, most: int = 4) -> tuple[Fingering, ...]:
    """The fingerings of a shape, most usual first.

    Parameters
    ----------
    shape : Shape
    tuning : Tuning
        Its scale length decides what can be reached.
    most : int
        Fingerings returned at most.

    Returns
    -------
    tuple of Fingering
        Empty when most hands cannot play the shape; one empty fingering when
        no string is stopped.

    Examples
    --------
    >>> from reader.music.tuning import get_tuning
    >>> usual_fingerings(Shape.parse("0232"), get_tuning("ukulele"))[0].fingers
    (None, 1, 3, 2)
    """
    return all_fingerings(shape, tuning)[:most]


@lru_cache(maxsize=4096)
def all_fingerings(shape: Shape, tuning: Tuning) -> tuple[Fingering, ...]:
    """Every fingering that most hands can reach, most usual first."""
    found = [_fingering(shape, tuning, presses, thumb=False) for presses in _ways(shape, tuning)]
    if shape.string_count >= FEWEST_STRINGS_FOR_THUMB and shape.frets[0] and shape.frets[0] <= HIGHEST_THUMB_FRET:
        rest = Shape((None, *shape.frets[1:]))
        found += [_fingering(shape, tuning, presses, thumb=True) for presses in _ways(rest, tuning)]
    possible = (f for f in found if f is not None)
    return tuple(sorted(possible, key=lambda f: f.cost))


def _ways(shape: Shape, tuning: Tuning) -> Iterator[tuple[_Press, ...]]:
    """Every assignment of fingers in which higher frets take higher fingers."""
    groups_by_fret = [list(_groupings(shape, fret)) for fret in sorted(set(shape.stopped))]
    for groups in _combined(groups_by_fret):
        if len(groups) <= len(FINGERS):
            for fingers in combinations(FINGERS, len(groups)):
                yield tuple(_Press(f, fret, strings) for f, (fret, strings) in zip(fingers, groups, strict=True))


_Group = tuple[int, tuple[int, ...]]


def _combined(choices: list[list[tuple[_Group, ...]]]) -> Iterator[tuple[_Group, ...]]:
    if not choices:
        yield ()
        return
    for first in choices[0]:
        if len(first) <= len(FINGERS):
            for rest in _combined(choices[1:]):
                yield first + rest


def _groupings(shape: Shape, fret: int) -> Iterator[tuple[_Group, ...]]:
    """Every way to share the strings of one fret out among fingers, from left to right."""
    strings = [i for i, f in enumerate(shape.frets) if f == fret]
    for cuts in range(1 << (len(strings) - 1)):
        groups: list[list[int]] = [[strings[0]]]
        for k, string in enumerate(strings[1:]):
            if cuts & (1 << k):
                groups.append([string])
            else:
                groups[-1].append(string)
        if all(can_be_barred(shape, fret, group) for group in groups):
            yield tuple((fret, tuple(group)) for group in groups)


def can_be_barred(shape: Shape, fret: int, strings: list[int]) -> bool:
    """Whether one finger can lie across these strings: none between them may sound below the fret."""
    between = shape.frets[strings[0] : strings[-1] + 1]
    return all(f is None or f >= fret for f in between)


# ---------------------------------------------------------------- what a fingering costs


def _fingering(shape: Shape, tuning: Tuning, presses: tuple[_Press, ...], thumb: bool) -> Fingering | None:
    strains = [
        strain(tuning, a.finger, a.fret, b.finger, b.fret) for a, b in combinations(presses, 2) if a.fret != b.fret
    ]
    if thumb and presses:
        strains.append(strain(tuning, FINGERS[0], shape.frets[0] or 0, FINGERS[-1], presses[-1].fret))
    if any(s > BEYOND_REACH for s in strains):
        return None
    fingers: list[Finger] = [None] * shape.string_count
    for press in presses:
        for string in press.strings:
            fingers[string] = press.finger
    if thumb:
        fingers[0] = "T"
    effort = sum(s * s for s in strains)
    cost = STRETCH * effort + _hand_cost(shape, presses) + (THUMB if thumb else 0.0)
    barres = tuple(_barre(shape, p) for p in presses if len(p.strings) > 1)
    return Fingering(shape, tuple(fingers), barres, _difficulty(shape, tuning, presses, thumb, effort), cost)


def _hand_cost(shape: Shape, presses: tuple[_Press, ...]) -> float:
    cost = 0.0
    for press in presses:
        cost += EACH_FINGER + (LITTLE_FINGER if press.finger == FINGERS[-1] else 0.0)
        if len(press.strings) > 1:
            cost += _barre_cost(shape, press)
    for a, b in pairwise(presses):
        frets, fingers = b.fret - a.fret, b.finger - a.finger
        cost += BUNCHED * max(0, fingers - frets) + SPREAD * max(0, frets - fingers)
    return cost + _position_cost(presses)


def _position_cost(presses: tuple[_Press, ...]) -> float:
    """In the first frets, how far the hand has moved up from first position without need."""
    if not presses or presses[0].fret > len(FINGERS):
        return 0.0
    return OFF_POSITION * abs(presses[0].fret - presses[0].finger)


def _barre_cost(shape: Shape, press: _Press) -> float:
    first, last = press.strings[0], press.strings[-1]
    cost = BARRE
    cost += BARRE_NOT_BY_INDEX.get(press.finger, 0.0)
    if 0 in shape.frets[last + 1 :]:
        cost += BARRE_BESIDE_OPEN
    if len(press.strings) == 2 and last - first == 1:
        cost += SMALL_BARRE
    return cost + BARRE_OVER_MUTED * sum(f is None for f in shape.frets[first:last])


def _barre(shape: Shape, press: _Press) -> Barre:
    """The barre as drawn: an index finger lies on to the edge of the neck where all strings there are stopped."""
    first, last = press.strings[0], press.strings[-1]
    if press.finger == FINGERS[0] and all(shape.frets[last + 1 :]):
        last = shape.string_count - 1
    return Barre(press.fret, shape.string_count - first, shape.string_count - last)


def _difficulty(shape: Shape, tuning: Tuning, presses: tuple[_Press, ...], thumb: bool, effort: float) -> Difficulty:
    stopped = shape.stopped
    stretch = fret_distance_mm(tuning, min(stopped), max(stopped)) if stopped else 0.0
    played = [i for i, f in enumerate(shape.frets) if f is not None]
    skipped = played[-1] - played[0] + 1 - len(played) if played else 0
    barred = [len(p.strings) for p in presses if len(p.strings) > 1]
    press = sum(HARD_BARRE + HARD_BARRE_STRING * (strings - 2) for strings in barred)
    press *= LIGHT if tuning.scale_mm < SHORT_NECK_MM else 1.0
    used = len(presses) + thumb
    score = HARD_FINGER * used + HARD_STRETCH * effort + press + HARD_SKIP * skipped
    return Difficulty(used, round(stretch, 1), max(barred, default=0), skipped, round(score, 2))


# ---------------------------------------------------------------- from one shape to the next


@dataclass(frozen=True, slots=True)
class Change:
    """What each finger does between two fingerings.

    Parameters
    ----------
    before, after : Fingering
    stay, slide, move, lift, land : tuple of (int or 'T')
        Fingers that keep their place; that keep a string but change the fret;
        that go elsewhere; that leave; that come down.
    cost : float
        0 when nothing changes.
    """

    before: Fingering
    after: Fingering
    stay: tuple[int | str, ...]
    slide: tuple[int | str, ...]
    move: tuple[int | str, ...]
    lift: tuple[int | str, ...]
    land: tuple[int | str, ...]
    cost: float


_CHANGE_COST = {"stay": 0.0, "slide": 0.35, "lift": 0.15, "land": 0.5, "move": 0.8}
_USUAL_COUNTS = 0.8
"""How much an unusual fingering must save in the change before it is worth it."""


def change(before: Fingering, after: Fingering) -> Change:
    """What each finger does from one fingering to another."""
    old, new = before.places(), after.places()
    does: dict[str, list[int | str]] = {kind: [] for kind in _CHANGE_COST}
    everything: tuple[int | str, ...] = ("T", *FINGERS)
    for finger in everything:
        kind = _what(old.get(finger), new.get(finger))
        if kind:
            does[kind].append(finger)
    cost = sum(_CHANGE_COST[kind] * len(fingers) for kind, fingers in does.items())
    done = {kind: tuple(fingers) for kind, fingers in does.items()}
    return Change(before, after, done["stay"], done["slide"], done["move"], done["lift"], done["land"], cost)


def easiest_change(before: Shape, after: Shape, tuning: Tuning) -> Change | None:
    """The change between two shapes with the fingerings that make it easiest.

    Returns
    -------
    Change or None
        None when most hands cannot play one of the shapes.

    Examples
    --------
    >>> from reader.music.tuning import get_tuning
    >>> easiest_change(Shape.parse("2000"), Shape.parse("2010"), get_tuning("ukulele")).stay
    (2,)
    """
    pairs = [
        (change(a, b), a.cost + b.cost)
        for a in usual_fingerings(before, tuning)
        for b in usual_fingerings(after, tuning)
    ]
    return min(pairs, key=lambda p: p[0].cost + _USUAL_COUNTS * p[1])[0] if pairs else None


_Place = tuple[int, tuple[int, ...]]


def _what(old: _Place | None, new: _Place | None) -> str | None:
    if old is None or new is None:
        return None if old is new else "land" if old is None else "lift"
    if old == new:
        return "stay"
    return "slide" if set(old[1]) & set(new[1]) and old[0] != new[0] else "move"
