"""Notes, degrees and frequencies."""

import pytest

from reader.errors import NotationError
from reader.music.pitch import Degree, NoteName, Pitch, frequency, pitch_of


@pytest.mark.parametrize(
    ("pitch", "midi", "hertz"),
    [
        ("A4", 69, 440.0),  # ISO 16:1975
        ("C4", 60, 261.6256),  # equal temperament from ISO 16
        ("E2", 40, 82.4069),
        ("Cb5", 71, 493.8833),
        ("B#3", 60, 261.6256),
    ],
)
def test_pitch(pitch, midi, hertz) -> None:
    found = Pitch.parse(pitch)
    assert found.midi == midi
    assert str(found) == pitch
    assert found.frequency() == pytest.approx(hertz, abs=1e-4)
    assert pitch_of(midi, found.name) == found


def test_other_concert_pitch() -> None:
    assert frequency(69, 415.0) == 415.0
    assert Pitch.parse("A3").frequency(442.0) == 221.0


@pytest.mark.parametrize(
    ("root", "degree", "note", "interval"),
    [
        # common practice, no source: any theory primer
        ("C", "b3", "Eb", "minor third"),
        ("A", "3", "C#", "major third"),
        ("C", "bb7", "Bbb", "diminished seventh"),
        ("F#", "7", "E#", "major seventh"),
        ("Bb", "5", "F", "perfect fifth"),
        ("B", "b5", "F", "diminished fifth"),
        ("Eb", "#5", "B", "augmented fifth"),
        ("G", "#11", "C#", "augmented eleventh"),
        ("D", "b9", "Eb", "minor ninth"),
        ("Ab", "13", "F", "major thirteenth"),
        ("E", "#9", "F##", "augmented ninth"),
    ],
)
def test_degrees_are_spelled_as_the_trade_does(root, degree, note, interval) -> None:
    found = Degree.parse(degree)
    assert str(found) == degree
    assert str(NoteName.parse(root).above(found)) == note
    assert found.interval_name == interval
    simple = NoteName.parse(root).degree_of(NoteName.parse(note))
    assert simple == Degree((found.number - 1) % 7 + 1, found.alteration)
    assert (NoteName.parse(root).pitch_class + found.semitones) % 12 == NoteName.parse(note).pitch_class


@pytest.mark.parametrize(("text", "pitch_class"), [("C", 0), ("b♭", 10), ("Fx", 7), ("E♯", 5), ("Abb", 7)])
def test_note_names(text, pitch_class) -> None:
    assert NoteName.parse(text).pitch_class == pitch_class


def test_line_of_fifths() -> None:
    names = ["Bb", "F", "C", "G", "D", "A", "E", "B", "F#"]
    assert [NoteName.parse(n).fifths for n in names] == list(range(-2, 7))


@pytest.mark.parametrize(
    ("read", "text", "message"),
    [
        (NoteName.parse, "H", "'H' is not a note"),
        (NoteName.parse, "", "'' is not a note"),
        (NoteName.parse, "C?", "is not a note"),
        (Degree.parse, "b", "is not a degree"),
        (Degree.parse, "0", "is not a degree"),
        (Pitch.parse, "C", "is not a pitch"),
    ],
)
def test_what_is_no_note(read, text, message) -> None:
    with pytest.raises(NotationError, match=message):
        read(text)


def test_a_spelling_must_sound_like_its_number() -> None:
    with pytest.raises(NotationError, match="cannot be spelled D"):
        pitch_of(60, NoteName.parse("D"))
