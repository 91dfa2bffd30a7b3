"""Labels held against dots, and what would make them agree. Common practice, no source."""

from __future__ import annotations

import pytest

from reader.errors import NotationError
from reader.music.check import check_label, judge
from reader.music.label import parse_label
from reader.music.shape import Shape
from reader.music.tuning import get_tuning


@pytest.mark.parametrize(
    ("shape", "tuning", "label", "verdict"),
    [
        ("0212", "ukulele", "G7", "same"),
        ("0000", "ukulele", "C6", "same"),  # re-entrant: no bass makes it Am7
        ("0000", "ukulele", "Am7", "same"),
        ("0101", "ukulele", "Gdim7", "same"),
        ("0003", "ukulele", "c", "same"),
        ("x32010", "guitar", "C", "same"),
        ("200232", "guitar", "D/F#", "same"),
        ("302210", "guitar", "Am/G", "same"),
        ("xx1212", "guitar", "Cdim7", "same"),  # any of its notes can be the root
        ("8x899x", "guitar", "C7#5", "same"),
        ("3x3453", "guitar", "G13", "short"),
        ("032010", "guitar", "C", "inversion"),
        ("xx0232", "guitar", "D/F#", "inversion"),
        ("002210", "guitar", "Am", "inversion"),
        ("2020", "ukulele", "D7", "short"),  # facts: the short D7 has no root
        ("0202", "ukulele", "Cmaj9", "short"),
        ("x32310", "guitar", "C7", "short"),
        ("00xx", "ukulele", "C", "short"),
        ("3x011", "banjo", "Cm7", "same"),  # no fret 3 on the short string, yet drawn as on a long one
        ("3x011", "banjo", "C7", "different"),
        ("0003", "ukulele", "C/Bb", "short"),
        ("x02010", "guitar", "C6", "family"),
        ("335533", "guitar", "Csus2", "family"),
        ("0232", "ukulele", "G7", "different"),
        ("2000", "ukulele", "A", "different"),
        ("0003", "ukulele", "Am7", "different"),  # a plain triad is no seventh chord without its root
        ("2000", "ukulele", "C6", "different"),  # nor a sixth without its fifth
        ("x32210", "guitar", "C6", "short"),  # unless its root is the bass (common practice, no source)
        ("032210", "guitar", "C6", "different"),
        ("x32210", "guitar", "C6/E", "different"),
        ("0000", "ukulele", "Am", "different"),  # one note too many
        ("x32010", "guitar", "Foo", "unparsed"),
        ("x32010", "guitar", "", "unparsed"),
        ("xxxx", "ukulele", "C", "different"),
        ("xxxx", "ukulele", "N.C.", "same"),
        ("0003", "ukulele", "N.C.", "different"),
    ],
)
def test_verdicts(shape: str, tuning: str, label: str, verdict: str) -> None:
    assert check_label(Shape.parse(shape), get_tuning(tuning), label).verdict == verdict


def test_thirteenth_without_eleventh_lacks_nothing() -> None:
    chord = parse_label("G13")
    verdict, missing = judge(chord, Shape.parse("353455"), get_tuning("guitar"))  # type: ignore[arg-type]
    assert (verdict, missing) == ("same", ())  # G D F B E A


@pytest.mark.parametrize(
    ("shape", "tuning", "label", "sentence"),
    [
        (
            *("0232", "ukulele", "G7"),
            "The label says G7; the dots spell G; G7 would have the second string at fret 1.",
        ),
        ("032010", "guitar", "C", "The label C matches the dots over another bass: C/E."),
        ("2020", "ukulele", "D7", "The label D7 matches the dots without D (root)."),
        ("0003", "ukulele", "C/Bb", "The label C/Bb matches the dots without the bass Bb."),
        ("x02010", "guitar", "C6", "The label C6 has the notes of the dots; their bass makes them Am7."),
        ("0212", "ukulele", "G7", "The label G7 matches the dots."),
    ],
)
def test_one_sentence_for_a_person(shape: str, tuning: str, label: str, sentence: str) -> None:
    assert check_label(Shape.parse(shape), get_tuning(tuning), label).sentence == sentence


@pytest.mark.parametrize(
    ("shape", "tuning", "label", "kind", "repaired"),
    [
        # one slip each, as pens and eyes make them; the repair must be among the first two
        ("2000", "ukulele", "A", "fret", "2100"),
        ("0002", "ukulele", "C", "fret", "0003"),
        ("0232", "ukulele", "G7", "fret", "0212"),
        ("x32100", "guitar", "C", "string", "x32010"),
        ("0030", "ukulele", "C", "string", "0003"),
        ("020100", "guitar", "E", "fret", "022100"),
        ("133211", "guitar", "Bb", "first-fret", "688766"),
        ("x35543", "guitar", "Bm", "first-fret", "x24432"),
        ("0100", "ukulele", "A", "mute", "x100"),
        ("x32210", "guitar", "Fmaj7/C", "label", "x32210"),
        ("0003", "ukulele-baritone", "C", "tuning", "0003"),
        ("4222", "ukulele", "Bm", "", ""),
    ],
)
def test_repairs(shape: str, tuning: str, label: str, kind: str, repaired: str) -> None:
    check = check_label(Shape.parse(shape), get_tuning(tuning), label, most_repairs=12)
    proposed = [(r.kind, str(r.shape)) for r in check.repairs]
    if not kind:
        assert proposed == []
    else:
        assert (kind, repaired) in proposed
    for repair in check.repairs:
        wanted = parse_label(repair.label)
        assert judge(wanted, repair.shape, repair.tuning)[0] != "different"  # type: ignore[arg-type]


def test_repairs_are_ranked() -> None:
    repairs = check_label(Shape.parse("2000"), get_tuning("ukulele"), "A").repairs
    assert [r.cost for r in repairs] == sorted(r.cost for r in repairs)
    assert (repairs[0].kind, str(repairs[0].shape)) == ("fret", "2100")
    assert repairs[0].sentence == "A would have the third string at fret 1"
    assert [r.label for r in repairs if r.kind == "label"] == ["Am"]


def test_a_diagram_drawn_from_the_other_side() -> None:
    check = check_label(Shape.parse("3000"), get_tuning("ukulele"), "C")
    assert "mirror" in [r.kind for r in check.repairs]


def test_agreement() -> None:
    ukulele = get_tuning("ukulele")
    assert check_label(Shape.parse("2020"), ukulele, "D7").agrees
    third_missing = check_label(Shape.parse("00xx"), ukulele, "Cm")
    assert (third_missing.verdict, third_missing.agrees) == ("short", False)
    assert not check_label(Shape.parse("0232"), ukulele, "G7").agrees


def test_labels_in_other_note_names() -> None:
    check = check_label(Shape.parse("x24432"), get_tuning("guitar"), "Hm", "german")
    assert check.verdict == "same"
    other = check_label(Shape.parse("x24432"), get_tuning("guitar"), "H7", "german")
    assert "the dots spell Hm" in other.sentence


def test_wrong_number_of_strings() -> None:
    with pytest.raises(NotationError, match="has 4 strings"):
        check_label(Shape.parse("0003"), get_tuning("guitar"), "C")
