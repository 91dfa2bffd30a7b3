"""Open strings that the labels of a page tell. Chords: common practice, no source."""

from __future__ import annotations

import random

import pytest

from reader.music.label import parse_label
from reader.music.page_tuning import LabelledShape, choose_tuning
from reader.music.shape import Shape
from reader.music.told_tuning import told_tuning

CHORDS = ("C", "F", "G7", "Am", "Dm", "E", "A7", "D", "Bb", "Em7", "Gm", "Cmaj7", "F#m", "B7")


def sheet(strings: list[int], labels: tuple[str, ...] = CHORDS, least: int = 0, seed: int = 1) -> list[LabelledShape]:
    """Shapes that sound exactly the labelled chord on these open strings, from fret ``least`` on or open."""
    rng = random.Random(seed)
    out: list[LabelledShape] = []
    for label in labels:
        wanted = parse_label(label).pitch_classes  # type: ignore[union-attr]
        places = [[f for f in [0, *range(least, least + 6)] if (p + f) % 12 in wanted] for p in strings]
        if least:
            places = [[f for f in frets if f >= least] for frets in places]
        for _ in range(200):
            frets = [rng.choice(p) for p in places]
            if frozenset((p + f) % 12 for p, f in zip(strings, frets, strict=True)) == wanted:
                out.append((Shape(tuple(frets)), label))
                break
    return out


@pytest.mark.parametrize(
    "strings",
    [[57, 62, 67, 60, 64], [50, 57, 65, 70, 74], [55, 62, 66, 71], [48, 55, 60, 64, 70, 75]],
    ids=["five", "five apart", "four", "six"],
)
def test_strings_that_nobody_lists_are_told(strings: list[int]) -> None:
    page = sheet(strings)
    assert len(page) > 8
    chosen = choose_tuning(page)
    assert [p % 12 for p in chosen.tuning.pitches] == [p % 12 for p in strings]
    assert chosen.certain
    assert "which they tell" in chosen.reason


def test_one_label_in_eight_may_be_a_slip() -> None:
    page = sheet([57, 62, 67, 60, 64])
    slip = [(page[0][0], "F#"), *page[1:]]
    assert choose_tuning(slip).tuning == choose_tuning(page).tuning
    shuffled = [(shape, label) for (shape, _), (_, label) in zip(page, [*page[5:], *page[:5]], strict=True)]
    assert not choose_tuning(shuffled).certain


def test_too_few_different_diagrams_tell_nothing() -> None:
    page = sheet([57, 62, 67, 60, 64])[:5]
    assert not choose_tuning(page * 4).certain


def test_the_strings_of_a_mirrored_page_are_not_believed() -> None:
    mirrored = [(Shape(shape.frets[::-1]), label) for shape, label in sheet([67, 60, 64, 69])]
    chosen = choose_tuning(mirrored)
    assert not chosen.certain
    assert chosen.tuning.id == "ukulele"


def test_without_open_strings_the_place_on_the_neck_is_unknown() -> None:
    up_the_neck = sheet([68, 61, 65, 70], least=5)
    parsed = [(shape, parse_label(label or "")) for shape, label in up_the_neck]
    assert len(parsed) > 8
    assert told_tuning(parsed, 4) is None  # type: ignore[arg-type]
