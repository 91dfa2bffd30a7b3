"""Roman numerals: read back what is written, and against music21."""

from __future__ import annotations

import pytest

from reader.errors import NotationError
from reader.music.harmony import borrowed_chords, diatonic_chords, role, secondary_dominants
from reader.music.key import parse_key
from reader.music.numeral import is_numeral, parse_numeral

KEYS = ("C", "G", "F#", "Eb", "Db", "Am", "C#m", "Bbm", "Em")


@pytest.mark.parametrize("name", KEYS)
def test_numerals_that_are_written_are_read_back(name: str) -> None:
    key = parse_key(name)
    chords = [*diatonic_chords(key), *diatonic_chords(key, sevenths=True), *borrowed_chords(key)]
    for chord in [*chords, *(c for c, _ in secondary_dominants(key))]:
        assert parse_numeral(role(chord, key).numeral, key) == chord


@pytest.mark.parametrize(
    "numeral", ["I", "ii7", "iii", "IV", "V7", "vi7", "viio", "bVII", "bVI", "V7/V", "V7/ii", "#ivo7"]
)
@pytest.mark.parametrize("tonic", ["C", "E", "B-", "F#"])
def test_music21_reads_the_same(numeral: str, tonic: str) -> None:
    roman = pytest.importorskip("music21.roman", reason="music21, the theory library, is not installed")
    theirs = roman.RomanNumeral(numeral, tonic)
    ours = parse_numeral(numeral, parse_key(tonic.replace("-", "b")))
    assert ours.pitch_classes == {p.pitchClass for p in theirs.pitches}
    assert str(ours.root) == theirs.root().name.replace("-", "b")


@pytest.mark.parametrize("text", ["IX", "VIX", "Am", "C", "H", "ivory", "", "V7/", "I/x"])
def test_what_is_no_numeral_is_said(text: str) -> None:
    with pytest.raises(NotationError, match="is not a Roman numeral"):
        parse_numeral(text, parse_key("C"))


@pytest.mark.parametrize(
    ("text", "expected"), [("I", True), ("vii°", True), ("V7/ii", True), ("C/E", False), ("Dm", False)]
)
def test_numerals_are_told_from_labels(text: str, expected: bool) -> None:
    assert is_numeral(text) is expected
