"""A fret number between two grids is of the one whose label asks for it, a label of the one that sounds it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from reading_samples import GRID, lettering, look, seen

from reader.image.labels import Lettering
from reader.interpret import ReadSettings, Seen, interpret
from reader.numbers_between import find_between, handed_on, on_one_side, without_number

ASIDE = np.array([100.0, 0.0])
OTHERS = (("ooo3", "C"), ("2o1o", "F"), ("o212", "G7"), ("2ooo", "Am"))
"""Ukulele shapes (common practice, no source)."""


def numbered(label: str, number: int, x: float, number_p: float = 0.9995) -> Lettering:
    """A label, and a number (0: none) at this height of the page beside the first row."""
    return replace(lettering(label, number=number, number_p=number_p), number_at=np.array([x, 110.0]))


def page(left: Seen, right: Seen) -> list[str]:
    """Shapes of two grids beside each other, read among others of one ukulele page."""
    below = [seen(look(s, corners=GRID + [150.0 * k, 300]), lettering(name)) for k, (s, name) in enumerate(OTHERS)]
    return [str(r.frame.shape) for r in interpret([left, right, *below], ReadSettings())[:2]]


def pair(first: str, second: str) -> tuple[Seen, Seen]:
    """Two grids, a 2 between them that stands nearer to the left one; the crop of the left one shows it."""
    left = seen(look("1342", nut=0.3, first=2), numbered(first, 2, 175.0))
    return left, seen(look("1112", nut=0.01, first=3, corners=GRID + ASIDE), numbered(second, 0, 150.0))


def test_it_is_handed_on_where_only_then_both_labels_agree() -> None:
    """Gm is 0231; on a ukulele Abm is 1342 and D7 2223, while 2453 is Am and 1112 C#7 (computed)."""
    assert page(*pair("Abm", "D7")) == ["1342", "2223"]
    assert page(*pair("Am", "C#7")) == ["2453", "1112"]


def test_it_stays_where_the_other_label_does_not_ask_for_it() -> None:
    assert page(*pair("Abm", "C#7"))[0] == "2453"
    assert page(*pair("", "D7"))[0] == "2453", "a grid without label keeps what stands nearest to it"


def test_which_grids_may_have_it() -> None:
    left, right = pair("Abm", "D7")
    looks, around = [left.look, right.look], [left.lettering, right.lettering]
    assert find_between(looks, around) == [(0, 1)]
    far = replace(right.look, corners=GRID + 3 * ASIDE)
    assert find_between([left.look, far], around) == [], "too far away"
    below = replace(right.look, corners=GRID + [0.0, 150.0])
    assert find_between([left.look, below], around) == [], "not beside it"
    own = replace(right.lettering, numbers=lettering(number=7).numbers, number_at=np.array([275.0, 110.0]))
    assert find_between(looks, [left.lettering, own]) == [], "it has its own"
    third = numbered("D", 7, 276.0)
    assert find_between([*looks, replace(left.look, corners=GRID + 2 * ASIDE)], [left.lettering, own, third])[0] == (
        0,
        1,
    )


def test_the_giver_starts_at_the_nut_again() -> None:
    left, right = pair("Abm", "D7")
    mine, theirs = handed_on(left.lettering, right.lettering)
    assert mine.numbers.argmax() == 0
    assert theirs.numbers.argmax() == 2
    assert np.allclose([mine.numbers.sum(), theirs.numbers.sum()], 1)
    assert np.array_equal(theirs.number_at, left.lettering.number_at)
    first = without_number(left.look).first
    assert np.isclose(first.sum(), 1)
    assert first.argmax() == 1


def sided(label: str, read: int, alone: int) -> Lettering:
    """A label with the number read beside the grid, and the one there were all of the page on one side of theirs."""
    numbers = numbered(label, alone, 85.0)
    other = (numbers.numbers, numbers.number_at, 0.0)
    return replace(numbered(label, read, 175.0), one_sided=(other,))


def test_all_numbers_stand_on_one_side_where_more_labels_agree_so() -> None:
    """On a ukulele 2223 is D7, 5455 Dm, 4442 E (common practice, no source)."""
    drawn = [("1112", "D7", 4, 2), ("2122", "Dm", 2, 4), ("3331", "E", 4, 2), ("ooo3", "C", 0, 0)]
    row = [
        seen(look(s, nut=0.3, first=max(read, 1), corners=GRID + [0.0, 120.0 * k]), sided(name, read, alone))
        for k, (s, name, read, alone) in enumerate(drawn)
    ]
    assert [str(r.frame.shape) for r in interpret(row, ReadSettings())] == ["2223", "5455", "4442", "0003"]
    assert on_one_side(row[3].look, row[3].lettering, 0)[0] is row[3].look, "it had no number to lose"
    lost = on_one_side(row[0].look, sided("D7", 4, 0), 0)[0]
    assert lost.first.argmax() == 1


def test_all_labels_stand_on_one_side_where_more_of_them_agree_so() -> None:
    """Each label stands nearer to the grid before its own."""
    moved = [OTHERS[(k + 1) % len(OTHERS)][1] for k in range(len(OTHERS))]
    for own, kept in ((True, False), (False, True)):
        page = []
        for k, ((shape, label), wrong) in enumerate(zip(OTHERS, moved, strict=True)):
            left, right = (((name, 0.99), ("", 0.01)) for name in ((label, wrong) if own else (wrong, wrong)))
            letters = replace(lettering(wrong), labels_beside=((left, {}), (right, {})))
            page.append(seen(look(shape, corners=GRID + [150.0 * k, 0]), letters))
        read = [r.label for r in interpret(page, ReadSettings())]
        assert read == (moved if kept else [label for _, label in OTHERS])
