"""Open strings: the published ones, re-entrant ones, short ones, courses, and what people type."""

import pytest

from reader.errors import NotationError
from reader.music.shape import Shape
from reader.music.tuning import all_tunings, default_tuning, get_tuning, tunings_with

PUBLISHED = {
    # MusicXML 4.0 staff-tuning examples and MEI 5.0 course.tuning
    "guitar": (40, 45, 50, 55, 59, 64),
    "guitar-drop-d": (38, 45, 50, 55, 59, 64),  # MEI 5.0
    "guitar-open-d": (38, 45, 50, 54, 57, 62),  # MEI 5.0
    "ukulele": (67, 60, 64, 69),  # common practice, no source
    "ukulele-low-g": (55, 60, 64, 69),  # common practice, no source
    "ukulele-baritone": (50, 55, 59, 64),  # (memory)
    "bass": (28, 33, 38, 43),  # (memory)
    "mandolin": (55, 62, 69, 76),  # (memory)
    "banjo": (67, 50, 55, 59, 62),  # (memory)
}


@pytest.mark.parametrize(("tuning", "pitches"), PUBLISHED.items())
def test_open_strings(tuning, pitches) -> None:
    assert get_tuning(tuning).pitches == pitches


def test_every_row_is_sound() -> None:
    tunings = all_tunings()
    assert len({t.id for t in tunings}) == len(tunings)
    for tuning in tunings:
        assert tuning.source
        assert 300 < tuning.scale_mm < 900
        assert get_tuning(tuning.id) is tuning
        assert get_tuning(tuning.name) is tuning


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("gCEA", "ukulele"),
        ("G C E A", "ukulele"),
        ("G3 C4 E4 A4", "ukulele-low-g"),
        ("67 60 64 69", "ukulele"),
        ("55-60-64-69", "ukulele-low-g"),
        ("aDF#B", "ukulele-d"),
        ("DGBE", "ukulele-baritone"),
        ("D A D G A D", "guitar-dadgad"),
        ("EADGBe", "guitar"),
        ("EADGbe", "guitar"),  # the b is the letter here, a flat in the next row
        ("Eb Ab Db Gb Bb Eb", "guitar-half-down"),
        ("gDGBD", "banjo"),
        ("CGCGCE", "C2-G2-C3-G3-C4-E4"),
        ("ukulele capo 2", "ukulele capo 2"),
    ],
)
def test_typed_tunings(typed, expected) -> None:
    tuning = get_tuning(typed)
    assert tuning.id == expected
    assert get_tuning(tuning.id) == tuning


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("gCEH", "'H' in the tuning"),
        ("1 2 3 4", "1 in the tuning .* is not the MIDI number"),
        ("A", "needs 2 to 12 notes"),
        ("", "needs 2 to 12 notes"),
        ("guitar capo x", "'x' after capo"),
        ("guitar capo 13", "capo at fret 13"),
    ],
)
def test_typed_tunings_that_make_no_sense(typed, message) -> None:
    with pytest.raises(NotationError, match=message):
        get_tuning(typed)


def test_defaults() -> None:
    assert default_tuning(4).id == "ukulele"
    assert default_tuning(6).id == "guitar"
    assert {t.id for t in tunings_with(5)} >= {"banjo", "bass-5", "charango"}
    with pytest.raises(NotationError, match="No tuning is usual for 9 strings"):
        default_tuning(9)


def test_reentrant_strings() -> None:
    assert {t.id for t in all_tunings() if t.reentrant} == {
        *("ukulele", "ukulele-d", "banjo", "banjo-c", "banjo-double-c", "charango")
    }


def test_bass_is_the_lowest_pitch_not_the_leftmost_string() -> None:
    assert get_tuning("ukulele").lowest(Shape.parse("0003")) == 60
    assert get_tuning("ukulele-low-g").lowest(Shape.parse("0003")) == 55


def test_bass_differs_between_high_and_low_g_in_all_625_shapes() -> None:
    # facts: the shapes on frets 0-4
    high, low = get_tuning("ukulele"), get_tuning("ukulele-low-g")
    shapes = [Shape((a, b, c, d)) for a in range(5) for b in range(5) for c in range(5) for d in range(5)]
    assert len(shapes) == 625
    assert all((high.lowest(s) or 0) % 12 != (low.lowest(s) or 0) % 12 for s in shapes)


def test_short_fifth_string_counts_from_its_own_nut() -> None:
    banjo = get_tuning("banjo")
    assert banjo.sounding(Shape.parse("00000"))[0] == 67
    assert banjo.sounding(Shape.parse("70000"))[0] == 69
    assert banjo.sounding(Shape.parse("30000"))[0] == 67


def test_octave_string_of_a_course_can_be_the_bass() -> None:
    charango = get_tuning("charango")
    assert charango.lowest(Shape.parse("xx0xx")) == 64
    assert charango.sounding(Shape.parse("xx2xx"))[2] == 78
    assert charango.lowest(Shape.parse("xx2xx")) == 66


def test_capo() -> None:
    tuning = get_tuning("banjo").with_capo(2)
    assert tuning.pitches == (69, 52, 57, 61, 64)
    assert tuning.with_capo(0) == get_tuning("banjo")
    assert get_tuning("guitar").with_capo(12).sounding_scale_mm == pytest.approx(324)  # fret 12 = L/2


def test_wrong_number_of_strings() -> None:
    with pytest.raises(NotationError, match="has 4 strings and the tuning guitar has 6"):
        get_tuning("guitar").sounding(Shape.parse("0003"))
