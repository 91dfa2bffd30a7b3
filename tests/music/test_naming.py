"""Names, their order and their reasons."""

from __future__ import annotations

from itertools import product

import pytest

from reader.errors import NotationError
from reader.music.chord import Chord, chord_of
from reader.music.judging import judge
from reader.music.naming import Name, name_shape, notes_of
from reader.music.pitch import Degree, NoteName
from reader.music.quality import get_quality
from reader.music.shape import Shape
from reader.music.tuning import get_tuning

UKULELE, GUITAR = get_tuning("ukulele"), get_tuning("guitar")


def names(shape: str, tuning: str = "ukulele", **asked: str) -> list[str]:
    return [n.text for n in name_shape(Shape.parse(shape), get_tuning(tuning), **asked)]


def best(shape: str, tuning: str = "ukulele", **asked: str) -> Name:
    return name_shape(Shape.parse(shape), get_tuning(tuning), **asked)[0]


COMMON = {
    # facts: common practice on the ukulele, no source
    **{"A": "2100", "A7": "0100", "Am": "2000", "Am7": "0000", "Bb": "3211", "B7": "2322", "Bm": "4222", "C": "0003"},
    **{
        "C7": "0001",
        "Cm": "0333",
        "Cmaj7": "0002",
        "D": "2220",
        "D7": "2223",
        "Dm": "2210",
        "Dm7": "2213",
        "E": "4442",
    },
    **{"E7": "1202", "Em": "0432", "Em7": "0202", "F": "2010", "F#m": "2120", "Fm": "1013", "G": "0232", "G7": "0212"},
    **{"Gm": "0231", "Gsus4": "0233"},
}


@pytest.mark.parametrize(("name", "shape"), COMMON.items())
def test_common_ukulele_shapes(name: str, shape: str) -> None:
    assert names(shape)[0] == name


def test_a_label_settles() -> None:
    assert names("0000", label="C6")[:2] == ["C6", "Am7"]
    assert names("2020", label="D7")[0] == "D7"
    assert best("2020", label="D7").reasons[0] == "as the label says"
    assert names("0101", label="A#dim7")[0] == "A#dim7"  # and its spelling is kept


def test_a_label_that_does_not_fit_changes_nothing() -> None:
    assert names("0003", label="G7") == names("0003")
    assert names("0003", label="what?") == names("0003")


def test_a_label_of_more_tones_than_strings_counts_too() -> None:
    assert names("0202", label="Cmaj9")[0] == "Cmaj9"  # four strings: the ninth chord without its root


@pytest.mark.parametrize(
    ("shape", "key", "first"),
    [
        ("2020", "G", "D7"),  # facts: a rootless D7 when the key asks for it
        ("2020", "C", "D7"),
        ("0333", "Eb", "Cm"),
        ("3211", "F", "Bb"),  # B flat in F …
        ("3211", "B", "A#"),  # … A sharp in B
        ("3121", "Gb", "Gb"),
        ("3121", "B", "F#"),
        ("0000", "C", "Am7"),
    ],
)
def test_a_key_settles_and_spells(shape: str, key: str, first: str) -> None:
    assert names(shape, key=key)[0] == first


def test_the_bass_is_the_lowest_pitch() -> None:
    assert names("0003", "ukulele-low-g")[0] == "C/G"
    assert names("0003", "ukulele")[0] == "C"
    assert "the bass C is the root" in best("x32010", "guitar").reasons


def test_octave_strings_count_for_the_bass() -> None:
    # the third course of a twelve-string guitar has an octave string above, never below
    assert names("x32010", "guitar-12")[0] == "C"


@pytest.mark.parametrize(
    ("shape", "tuning", "reasons"),
    [
        ("x32010", "guitar", ("exact: C E G", "the bass C is the root")),
        ("032010", "guitar", ("exact: C E G", "inversion: the bass E is the third")),
        ("x32310", "guitar", ("left out: fifth (G)", "the bass C is the root")),
        ("302210", "guitar", ("exact: A C E", "over the bass G")),
        ("0000", "ukulele", ("exact: A C E G",)),
        ("00xx", "ukulele", ("only root C and fifth G sound: neither major nor minor",)),
    ],
)
def test_reasons(shape: str, tuning: str, reasons: tuple[str, ...]) -> None:
    assert best(shape, tuning).reasons == reasons


def test_rootless_says_so() -> None:
    rootless = name_shape(Shape.parse("2020"), UKULELE)[1]
    assert (rootless.text, rootless.reasons, rootless.exact) == ("D7", ("without its root D",), False)
    assert rootless.missing == (Degree(1),)


@pytest.mark.parametrize(
    ("shape", "text"),
    [
        ("xxx3", "C (one note)"),
        ("x0x3", "C (octaves)"),
        ("x40x", "E (unison)"),
        ("x00x", "C E (major third)"),
        ("0x0x", "E G (minor third)"),
        ("00xx", "C5"),
        ("xx20", "F# A (minor third)"),
        ("x1x1", "Db Bb (major sixth)"),
    ],
)
def test_too_few_notes_get_an_honest_answer(shape: str, text: str) -> None:
    assert names(shape) == [text]


def test_an_inverted_fifth() -> None:
    assert names("x33xxx", "guitar") == ["F5/C"]
    assert names("00xx", "ukulele") == ["C5"]


def test_no_sound_no_name() -> None:
    assert name_shape(Shape.parse("xxxx"), UKULELE) == ()


def test_notes_that_form_no_chord_are_listed() -> None:
    found = best("012345", "guitar")
    assert (found.text, found.chord) == ("E A Bb Eb", None)
    assert found.reasons == ("these notes form no usual chord",)


FAMILIES = [
    # facts: all families of the fixed kinds; each tuple is one set of notes on C and the other roots
    ("6", ("A", "m7")),
    ("m6", ("A", "m7b5")),
    ("dim7", ("Eb", "dim7"), ("F#", "dim7"), ("A", "dim7")),
    ("aug", ("E", "aug"), ("Ab", "aug")),
    ("sus2", ("G", "sus4")),
    ("13", ("F", "maj13"), ("G", "m13")),
]


@pytest.mark.parametrize("family", FAMILIES, ids=lambda f: "C" + f[0])
@pytest.mark.parametrize("reentrant", [True, False])
def test_every_member_of_a_family_is_named(family: tuple[str, tuple[str, str]], reentrant: bool) -> None:
    first, *others = family
    pitch_classes = sorted(get_quality(first).pitch_classes)
    pitches = [60 + pc for pc in pitch_classes]
    if reentrant:
        pitches = [pitches[1], pitches[0], *pitches[2:]]
    tuning = get_tuning(" ".join(map(str, pitches)))
    found = name_shape(Shape((0,) * len(pitches)), tuning)
    members = {(n.chord.root.pitch_class, n.chord.quality.written) for n in found if n.chord and n.exact}
    assert {(0, first), *((NoteName.parse(root).pitch_class, written) for root, written in others)} <= members


FIXED_KINDS = ("", "m", "aug", "dim", "7", "maj7", "m7", "dim7", "7#5", "m7b5", "m(maj7)", "6", "m6", "9", "maj9", "m9")
FIXED_KINDS += ("11", "maj11", "m11", "13", "maj13", "m13", "sus2", "sus4", "5")


def test_the_bass_settles_most_families() -> None:
    # facts: of the guitar shapes on frets 0-4 with two or more names the bass is one of the roots in 63 %
    roots: dict[frozenset[int], list[int]] = {}
    for written, root in product(FIXED_KINDS, range(12)):
        pitch_classes = frozenset((root + pc) % 12 for pc in get_quality(written).pitch_classes)
        roots.setdefault(pitch_classes, []).append(root)
    several = settled = 0
    for frets in product((None, 0, 1, 2, 3, 4), repeat=6):
        shape = Shape(frets)
        pitches = [p for p in GUITAR.sounding(shape) if p is not None]
        family = roots.get(frozenset(p % 12 for p in pitches), ())
        if len(family) > 1:
            several += 1
            settled += min(pitches) % 12 in family
            if min(pitches) % 12 in family:
                first = name_shape(shape, GUITAR)[0]
                assert first.chord is not None
                assert first.chord.bass is None, shape
    assert round(100 * settled / several) == 63


def test_notes_and_degrees_per_string() -> None:
    shape = Shape.parse("x21202")
    name = name_shape(shape, GUITAR)[0]
    notes = notes_of(shape, GUITAR, name)
    assert [None if n is None else str(n.pitch) for n in notes] == [None, "B2", "D#3", "A3", "B3", "F#4"]
    assert [None if n is None else str(n.degree) for n in notes] == [None, "1", "3", "b7", "1", "5"]


def test_double_flats_are_written_as_players_do() -> None:
    shape = Shape.parse("x3424x")  # C dim7: its seventh is B double flat
    name = name_shape(shape, GUITAR)[0]
    assert name.text == "Cdim7"
    assert [str(n.pitch) for n in notes_of(shape, GUITAR, name) if n] == ["C3", "Gb3", "A3", "Eb4"]
    assert str(Degree(7, -2)) in [str(n.degree) for n in notes_of(shape, GUITAR, name) if n]


def test_wrong_number_of_strings_and_wrong_key() -> None:
    with pytest.raises(NotationError, match="has 4 strings and the tuning guitar has 6"):
        name_shape(Shape.parse("0003"), GUITAR)
    with pytest.raises(NotationError, match="'H' is not a key"):
        name_shape(Shape.parse("0003"), UKULELE, key="H")


def test_each_exact_name_agrees_with_the_shape() -> None:
    for frets in product(range(4), repeat=4):
        shape = Shape(frets)
        for name in name_shape(shape, UKULELE):
            if name.exact and name.chord:
                assert judge(name.chord, shape, UKULELE) == ("same", ())


def test_a_chord_is_said_in_its_simplest_words() -> None:
    degrees = frozenset(Degree.parse(d) for d in ("1", "3", "5", "b7", "9"))
    assert chord_of(NoteName("C"), degrees) == Chord(NoteName("C"), get_quality("9"))
