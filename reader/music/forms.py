"""Every way to hear a set of pitch classes above a root: complete, with tones left out, without root, with added tones.

A set is a number of twelve bits, one per pitch class; seen from a root, the root is bit 0.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import combinations, product

from reader.music.chord import ROOT
from reader.music.pitch import Degree
from reader.music.quality import NEVER_PROPOSED, Quality, all_qualities, get_quality

WITHOUT_ROOT, WITHOUT_THIRD = 3.0, 2.0
ADDED_TONE = 4.0
LEFT_OUT = {5: 0.8, 11: 0.0, 9: 1.2, 3: 0.4}
"""Cost of leaving out a dispensable degree; the eleventh of a thirteenth chord is never missed."""
SUSPENDED_WITHOUT_FIFTH = 0.8
"""More for the fifth of a suspended chord, which holds it together."""
FEWEST_OF_MANY, FEWEST = 4, 3
"""A chord of six or seven tones is not heard in fewer than four of them, any chord not in fewer than three."""

MAY_LACK_ROOT = ("7", "9", "7b9", "7#9", "7#5", "7b5", "13", "13b9", "7b13")
MAY_LACK_THIRD = ("6", "7", "maj7", "9", "maj9", "7b9")
BASES_OF_ONE_ADDED = ("", "m", "7", "m7", "maj7", "dim", "aug", "sus4", "sus2", "m7b5", "dim7", "6", "m6")
BASES_OF_TWO_ADDED = ("", "m", "7", "m7", "maj7", "6", "m6")
ADDABLE = {
    **{1: Degree(9, -1), 2: Degree(9), 3: Degree(9, 1), 5: Degree(11)},
    **{6: Degree(11, 1), 8: Degree(13, -1), 9: Degree(13)},
}


@dataclass(frozen=True, slots=True)
class Form:
    """A way to hear a set of pitch classes from one root.

    Parameters
    ----------
    quality : Quality
    added, omitted : tuple of Degree
        As the label says it.
    silent : tuple of Degree
        That do not sound although the label has them.
    missing : tuple of Degree
        Those of them that anybody misses.
    cost : float
        How unlikely, without regard to bass and key.
    """

    quality: Quality
    added: tuple[Degree, ...]
    omitted: tuple[Degree, ...]
    silent: tuple[Degree, ...]
    missing: tuple[Degree, ...]
    cost: float

    @property
    def complete(self) -> bool:
        """Whether a row of the table sounds as it stands, perhaps with added tones."""
        return not (self.missing or self.omitted)


def mask_of(pitch_classes: Iterable[int]) -> int:
    """The set as a number."""
    mask = 0
    for pitch_class in pitch_classes:
        mask |= 1 << pitch_class
    return mask


def seen_from(mask: int, root: int) -> int:
    """The set turned so that the root is bit 0."""
    return ((mask >> root) | (mask << (12 - root))) & 0xFFF


@cache
def forms() -> dict[int, tuple[Form, ...]]:
    """Sets seen from their root, and how they are rows of the table."""
    return _collected(_rows())


@cache
def forms_with_added_tones() -> dict[int, tuple[Form, ...]]:
    """Rows with one or two tones more, for sets that the table does not name."""
    return _collected(_rows_with_added_tones())


@lru_cache(maxsize=4096)
def family_roots(pitch_classes: frozenset[int]) -> frozenset[int]:
    """Roots on which exactly these pitch classes are a row of the table."""
    mask = mask_of(pitch_classes)
    return frozenset(r for r in pitch_classes if any(f.complete for f in forms().get(seen_from(mask, r), ())))


def _collected(found: Iterable[tuple[int, Form]]) -> dict[int, tuple[Form, ...]]:
    table: dict[int, list[Form]] = {}
    for mask, form in found:
        table.setdefault(mask, []).append(form)
    return {mask: tuple(same) for mask, same in table.items()}


def _rows() -> Iterator[tuple[int, Form]]:
    for quality in all_qualities():
        if quality.rarity == NEVER_PROPOSED:
            continue
        yield from _with_tones_left_out(quality)
        if quality.written in MAY_LACK_ROOT:
            unmissed = tuple(d for d in quality.left_out if d.number == 11)
            cost = quality.rarity + WITHOUT_ROOT
            yield _mask_without(quality, (ROOT, *unmissed)), Form(quality, (), (), (ROOT, *unmissed), (ROOT,), cost)
        if quality.written in MAY_LACK_THIRD:
            third = (Degree(3),)
            yield _mask_without(quality, third), Form(quality, (), third, (), (), quality.rarity + WITHOUT_THIRD)


def _with_tones_left_out(quality: Quality) -> Iterator[tuple[int, Form]]:
    fewest = FEWEST_OF_MANY if len(quality.degrees) > 5 else min(FEWEST, len(quality.degrees))
    for count in range(len(quality.left_out) + 1):
        for missing in combinations(quality.left_out, count):
            if len(quality.degrees) - count >= fewest:
                cost = quality.rarity + sum(_left_out_cost(quality, d) for d in missing)
                felt = tuple(d for d in missing if not never_missed(quality, d))
                yield _mask_without(quality, missing), Form(quality, (), (), missing, felt, cost)


def never_missed(quality: Quality, degree: Degree) -> bool:
    """The eleventh of a thirteenth chord."""
    return degree.number == 11 and degree in quality.left_out and Degree(13) in quality.degrees


def _left_out_cost(quality: Quality, degree: Degree) -> float:
    suspended = degree.number == 5 and not any(d.number == 3 for d in quality.degrees)
    return LEFT_OUT[degree.number] + (SUSPENDED_WITHOUT_FIFTH if suspended else 0.0)


def _mask_without(quality: Quality, missing: tuple[Degree, ...]) -> int:
    return mask_of(d.pitch_class for d in quality.degrees if d not in missing)


def _rows_with_added_tones() -> Iterator[tuple[int, Form]]:
    for count, bases in ((1, BASES_OF_ONE_ADDED), (2, BASES_OF_TWO_ADDED)):
        for written, tones in product(bases, combinations(ADDABLE, count)):
            quality = get_quality(written)
            base, extra = _mask_without(quality, ()), mask_of(tones)
            if not base & extra:
                added = tuple(ADDABLE[t] for t in tones)
                yield base | extra, Form(quality, added, (), (), (), quality.rarity + ADDED_TONE * count)
