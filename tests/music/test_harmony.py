"""Keys, their spelling and their chords. Common practice, no source: any primer of harmony."""

from __future__ import annotations

import pytest

from reader.errors import NotationError
from reader.music.chord import Chord
from reader.music.harmony import borrowed_chords, diatonic_chords, likely_keys, role, secondary_dominants
from reader.music.key import parse_key
from reader.music.label import parse_label


def chord(label: str) -> Chord:
    found = parse_label(label)
    assert isinstance(found, Chord)
    return found


@pytest.mark.parametrize(
    ("text", "name", "signature"),
    [
        ("C", "C major", 0),
        ("Am", "A minor", 0),
        ("F# minor", "F# minor", 3),
        ("B♭", "Bb major", -2),
        ("eb m", "Eb minor", -6),
        ("Cb", "Cb major", -7),
        ("A#m", "A# minor", 7),
    ],
)
def test_keys(text: str, name: str, signature: int) -> None:
    key = parse_key(text)
    assert (str(key), key.signature) == (name, signature)
    assert parse_key(key.text) == key


@pytest.mark.parametrize(
    ("text", "message"),
    [("H", "'H' is not a key"), ("", "is not a key"), ("G#", "8 accidentals"), ("Fbm", "accidentals")],
)
def test_what_is_no_key(text: str, message: str) -> None:
    with pytest.raises(NotationError, match=message):
        parse_key(text)


@pytest.mark.parametrize(
    ("key", "scale"),
    [
        ("F", "F G A Bb C D E"),
        ("B", "B C# D# E F# G# A#"),
        ("Cm", "C D Eb F G Ab Bb"),
        ("F#", "F# G# A# B C# D# E#"),
    ],
)
def test_scales(key: str, scale: str) -> None:
    assert " ".join(str(n) for n in parse_key(key).scale) == scale


@pytest.mark.parametrize(
    ("key", "pitch_class", "note"), [("F", 10, "Bb"), ("B", 10, "A#"), ("Em", 3, "D#"), ("Am", 8, "G#"), ("C", 3, "Eb")]
)
def test_spelling_by_key(key: str, pitch_class: int, note: str) -> None:
    assert str(parse_key(key).spell(pitch_class)) == note


@pytest.mark.parametrize(
    ("key", "triads", "sevenths"),
    [
        ("C", "C Dm Em F G Am Bdim", "Cmaj7 Dm7 Em7 Fmaj7 G7 Am7 Bm7b5"),
        ("Am", "Am Bdim C Dm Em F G", "Am7 Bm7b5 Cmaj7 Dm7 Em7 Fmaj7 G7"),
        ("Bb", "Bb Cm Dm Eb F Gm Adim", "Bbmaj7 Cm7 Dm7 Ebmaj7 F7 Gm7 Am7b5"),
    ],
)
def test_diatonic_chords(key: str, triads: str, sevenths: str) -> None:
    assert " ".join(map(str, diatonic_chords(parse_key(key)))) == triads
    assert " ".join(map(str, diatonic_chords(parse_key(key), sevenths=True))) == sevenths


@pytest.mark.parametrize(
    ("key", "label", "numeral", "function", "place"),
    [
        ("C", "C", "I", "tonic", "diatonic"),
        ("C", "Dm7", "ii7", "subdominant", "diatonic"),
        ("C", "G7", "V7", "dominant", "diatonic"),
        ("C", "Cmaj7", "Imaj7", "tonic", "diatonic"),
        ("C", "Bm7b5", "viiø7", "dominant", "diatonic"),
        ("C", "E7", "V7/vi", "dominant", "secondary dominant"),
        ("C", "D", "V/V", "dominant", "secondary dominant"),
        ("C", "C7", "V7/IV", "dominant", "secondary dominant"),
        ("C", "C#dim7", "vii°7/ii", "dominant", "secondary dominant"),
        ("C", "Fm", "iv", "subdominant", "borrowed"),
        ("C", "Bb", "bVII", "dominant", "borrowed"),
        ("C", "Ab", "bVI", "tonic", "borrowed"),
        ("C", "F#m", "#iv", "", "chromatic"),
        ("Am", "Am", "i", "tonic", "diatonic"),
        ("Am", "E7", "V7", "dominant", "diatonic"),
        ("Am", "G#dim7", "vii°7", "dominant", "diatonic"),
        ("Am", "C", "III", "tonic", "diatonic"),
        ("Am", "F", "VI", "subdominant", "diatonic"),
        ("Am", "D", "V/VII", "dominant", "secondary dominant"),
        ("Am", "A7", "V7/iv", "dominant", "secondary dominant"),
        ("F#", "E#dim", "vii°", "dominant", "diatonic"),
        ("C", "G/B", "V", "dominant", "diatonic"),
    ],
)
def test_roles(key: str, label: str, numeral: str, function: str, place: str) -> None:
    found = role(chord(label), parse_key(key))
    assert (found.numeral, found.function, found.place) == (numeral, function, place)


def test_secondary_dominants_and_borrowed_chords() -> None:
    found = [f"{c} {numeral}" for c, numeral in secondary_dominants(parse_key("G"))]
    assert found == ["E7 V7/ii", "F#7 V7/iii", "G7 V7/IV", "A7 V7/V", "B7 V7/vi"]
    assert {"Gm", "Bb", "Cm", "Eb", "F"} <= set(map(str, borrowed_chords(parse_key("G"))))


@pytest.mark.parametrize(
    ("labels", "key"),
    [
        ("C F G7 C", "C major"),
        ("C Am F G7", "C major"),
        ("G D Em C", "G major"),
        ("F Bb C7 F", "F major"),
        ("B E F#7", "B major"),
        ("Gb Cb Db7", "Gb major"),  # spelled as the chords are
        ("F# B C#7", "F# major"),
        ("Am Dm E7 Am", "A minor"),
        ("Am G F E", "A minor"),
        ("C#m A E B", "C# minor"),
        ("Dm7 G7 Cmaj7", "C major"),
        ("Bm7b5 E7 Am", "A minor"),
        ("C Bb F C", "C major"),
        ("A7 D7 E7", "A major"),  # the blues: its tonic is a seventh
        ("C", "C major"),
    ],
)
def test_likely_keys(labels: str, key: str) -> None:
    found = likely_keys([chord(label) for label in labels.split()])
    assert str(found[0].key) == key
    assert [r.chord for r in found[0].roles] == [chord(label) for label in labels.split()]


def test_one_seventh_alone_is_a_dominant() -> None:
    assert [str(k.key) for k in likely_keys([chord("G7")])][:2] == ["C major", "C minor"]


def test_no_chords_no_key() -> None:
    assert likely_keys([]) == ()
