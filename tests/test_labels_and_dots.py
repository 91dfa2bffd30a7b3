"""What a label may say of its dots: sheets for two instruments, strings left out, drones, the usual short forms."""

from __future__ import annotations

from dataclasses import replace

import pytest
from reading_samples import lettering, look, plain_frame, read_one, seen

from reader.interpret import ReadSettings, interpret
from reader.music.judging import judge
from reader.music.label import parse_label
from reader.music.shape import Shape
from reader.music.tuning import get_tuning
from reader.weighing import agreement

UKULELE = (("ooo3", "C"), ("2o1o", "F"), ("o212", "G7"), ("2ooo", "Am"))
BASS = (("xo2x", "A5"), ("o2xx", "E5"), ("x24x", "B5"))
"""Shapes in common use (common practice, no source)."""


def test_a_sheet_may_serve_two_instruments_of_as_many_strings() -> None:
    page = [seen(look(signs), lettering(label)) for signs, label in (*UKULELE, *BASS)]
    found = interpret(page, ReadSettings())
    assert [r.tuning for r in found] == ["ukulele"] * 4 + ["bass"] * 3
    assert not [f.code for r in found for f in r.flags if f.code in ("label-disagrees", "tuning-uncertain")]


def test_two_odd_labels_make_no_second_instrument() -> None:
    page = [seen(look(signs), lettering(label)) for signs, label in (*UKULELE, *BASS[:2])]
    found = interpret(page, ReadSettings())
    assert {r.tuning for r in found} == {"ukulele"}
    assert all("label-disagrees" in [f.code for f in r.flags] for r in found[4:])


def test_a_tuning_asked_for_has_no_second_one_beside_it() -> None:
    page = [seen(look(signs), lettering(label)) for signs, label in (*UKULELE, *BASS)]
    assert {r.tuning for r in interpret(page, ReadSettings(tuning="ukulele"))} == {"ukulele"}


@pytest.mark.parametrize(
    ("shape", "bare", "verdict"),
    [
        ("000232", "111000", "silent"),  # D, its low strings left without a mark
        ("002200", "110011", "silent"),  # A5 in the middle
        ("000232", "000000", "differs"),  # marked open: they are meant to sound
        ("003232", "110000", "differs"),
        ("xx0232", "001000", "agrees"),
    ],
)
def test_bare_strings_at_the_sides_may_not_be_meant_to_sound(shape: str, bare: str, verdict: str) -> None:
    label = "A5" if shape == "002200" else "D"
    frame, tuning = plain_frame(shape), get_tuning("guitar")
    assert agreement(frame, label, tuning, "english", tuple(b == "1" for b in bare)) == verdict


def test_on_few_strings_every_string_sounds() -> None:
    # a missed dot on an outer string would else pass for a string not played
    assert (
        agreement(plain_frame("0220"), "D", get_tuning("ukulele"), "english", (True, False, False, True)) == "differs"
    )


def test_dim_is_written_for_the_diminished_seventh() -> None:
    assert agreement(plain_frame("0101"), "Gdim", get_tuning("ukulele"), "english") == "agrees"
    assert agreement(plain_frame("0101"), "Gm", get_tuning("ukulele"), "english") == "differs"


@pytest.mark.parametrize(("label", "shape"), [("F", "03213"), ("D7", "00214"), ("A", "02222"), ("G", "00000")])
def test_the_short_string_of_a_banjo_sounds_under_every_chord(label: str, shape: str) -> None:
    # shapes in common use in open G (common practice, no source)
    chord = parse_label(label)
    banjo = get_tuning("banjo")
    assert judge(chord, Shape.parse(shape), banjo)[0] != "different"  # type: ignore[arg-type]
    assert judge(chord, Shape.parse("8" + shape[1:]), banjo)[0] == "different"  # type: ignore[arg-type]


def test_fingers_that_contradict_each_other_give_way_to_the_next_likely_ones() -> None:
    eyes = look("o132", fingers={1: 1, 2: 3, 3: 3})
    eyes.fingers[3] = [0.02, 0.02, 0.4, 0.52, 0.02, 0.02]
    assert read_one(eyes).frame.fingers == (None, 1, 3, 2)
    eyes.fingers[3] = [0.001, 0.001, 0.002, 0.994, 0.001, 0.001]
    sure = read_one(eyes)
    assert sure.frame.fingers == (None, 1, 3, 3)
    assert "fingers-disagree" in [f.code for f in sure.flags]


@pytest.mark.parametrize(
    ("signs", "barre", "needed"),
    [
        ("133211", dict.fromkeys(range(6), (1, 0.99)), 4),
        ("133211", dict.fromkeys(range(2), (1, 0.99)), 4),  # part of a barre seen: the rest lies under the same finger
        ("x13331", None, 4),  # three neighbours under one flat finger
        ("x12323", None, 5),
    ],
)
def test_fingers_are_counted_as_a_hand_would(
    signs: str, barre: dict[int, tuple[int, float]] | None, needed: int
) -> None:
    flags = [f.code for f in read_one(look(signs, barre=barre)).flags]
    assert ("too-many-fingers" in flags) == (needed > 4)


@pytest.mark.parametrize(("none", "label"), [(0.96, None), (0.6, "Am7")])
def test_a_label_that_surely_is_not_there_is_not_borrowed(none: float, label: str | None) -> None:
    """An empty grid sounds Am7 on a ukulele, and that label stands above the next grid."""
    around = replace(lettering("Am7"), labels=(("", none), ("Am7", 1 - none)))
    (reading,) = interpret([seen(look("----"), around)], ReadSettings(tuning="ukulele"))
    assert reading.label == label
    assert ("nothing-drawn" in [f.code for f in reading.flags]) == (label is None)
