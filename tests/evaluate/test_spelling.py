"""Labels that say the same and labels that do not. Common practice, no source."""

import itertools

import pytest

from reader.evaluate.spelling import spelling_class

SAME = [
    ["C", "Cmaj", "CM", " C ", "c", "Cma", "C."],
    ["Am", "A-", "Amin", "Ami", "a minor", "A–", "A−"],
    ["Gmaj7", "GM7", "GΔ", "G∆7", "Gma7", "Gj7", "G (maj7)"],
    ["Ddim", "D°", "Do", "Dº"],
    ["Ddim7", "D°7", "Do7"],
    ["Eaug", "E+"],
    ["Bm7b5", "Bø", "Bø7", "B∅", "Bm7(b5)", "B-7b5", "Bm7-5", "B0/7"],
    ["Csus", "Csus4"],
    ["C7sus", "C7sus4"],
    ["Cadd9", "C2", "C(add 9)", "C9add"],
    ["Cm(maj7)", "CmM7", "C-Δ", "Cmin maj7", "CmΔ7"],
    ["B♭", "Bb", "bb"],
    ["F♯m", "F#m", "F#-"],
    ["C/G", "C/g", "Cmaj/G"],
    ["D/F#", "D/F♯"],
]


@pytest.mark.parametrize("labels", SAME, ids=lambda labels: labels[0])
def test_spellings_of_one_chord_agree(labels: list[str]) -> None:
    assert len({spelling_class(label) for label in labels}) == 1


def test_different_chords_never_agree() -> None:
    for one, other in itertools.combinations(SAME, 2):
        assert spelling_class(one[0]) != spelling_class(other[0]), (one[0], other[0])


@pytest.mark.parametrize(
    ("one", "other"),
    [("C7", "Cmaj7"), ("Cm7", "CM7"), ("C6", "Am7"), ("A#", "Bb"), ("C", "C/E"), ("Cmix", "Cm"), ("C", "N.C.")],
)
def test_near_misses_differ(one: str, other: str) -> None:
    assert spelling_class(one) != spelling_class(other)


@pytest.mark.parametrize("empty", [None, "", "  "])
def test_no_label(empty: str | None) -> None:
    assert spelling_class(empty) is None


def test_words_keep_their_letters() -> None:
    assert spelling_class("Intro") == spelling_class("intro ") != spelling_class("Outro")
