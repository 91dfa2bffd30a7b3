"""Key charts against music21, a general theory library, in 24 keys; stand-ins; the drawn pages."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from sheet_samples import GUITAR_BOOK, UKULELE_BOOK, chord, texts

from reader.export.paper import A4, LETTER, Paper
from reader.music.chord import Chord
from reader.music.key import Key, parse_key
from reader.music.label_style import LabelStyle
from reader.music.tuning import get_tuning
from reader.sheets.book import Book, sheet_chord
from reader.sheets.keychart import KeyChart, draw_key, key_chart, relative_key
from reader.sheets.page import SIGNED, SheetStyle
from reader.sheets.standins import stand_ins

MAJOR = ("C", "G", "D", "A", "E", "B", "F#", "Db", "Ab", "Eb", "Bb", "F")
MINOR = ("Am", "Em", "Bm", "F#m", "C#m", "G#m", "D#m", "Bbm", "Fm", "Cm", "Gm", "Dm")


def theirs(name: str) -> str:
    """How music21 writes a note: flats as minus signs."""
    return name.replace("b", "-")


def ours(name: str) -> str:
    return name.replace("-", "b")


@pytest.fixture(scope="module")
def roman() -> Callable[[str, Key], tuple[str, frozenset[int]]]:
    """Root and pitch classes of a Roman numeral by music21 (numerals of minor keys count from the natural scale)."""
    module = pytest.importorskip("music21.roman", reason="music21, the theory library, is not installed")
    keys = pytest.importorskip("music21.key", reason="music21, the theory library, is not installed")

    def read(numeral: str, key: Key) -> tuple[str, frozenset[int]]:
        tonic = theirs(str(key.tonic))
        home = keys.Key(tonic.lower() if key.mode == "minor" else tonic)
        figure = numeral.replace("°", "o")
        natural = module.Minor67Default.FLAT
        found = module.RomanNumeral(figure, home, sixthMinor=natural, seventhMinor=natural)
        return ours(found.root().name), frozenset(p.pitchClass for p in found.pitches)

    return read


def sounds(item: Chord) -> tuple[str, frozenset[int]]:
    return str(item.root), item.pitch_classes


@pytest.mark.parametrize("name", MAJOR + MINOR)
def test_every_numeral_is_the_chord_that_music21_names(
    name: str, roman: Callable[[str, Key], tuple[str, frozenset[int]]]
) -> None:
    key = parse_key(name)
    chart = key_chart(key, UKULELE_BOOK)
    for item in (*chart.triads, *chart.dominants):
        assert sounds(item.item.chord) == roman(item.numeral, key), item.numeral
    for item in chart.relative_chords:
        assert sounds(item.item.chord) == roman(item.numeral, chart.relative), item.numeral


@pytest.mark.parametrize("name", MAJOR + MINOR)
def test_relative_keys_are_those_of_music21(name: str) -> None:
    keys = pytest.importorskip("music21.key", reason="music21, the theory library, is not installed")
    key = parse_key(name)
    tonic = theirs(str(key.tonic))
    other = keys.Key(tonic.lower() if key.mode == "minor" else tonic).relative
    assert str(relative_key(key)) == f"{ours(other.tonic.name)} {other.mode}"


def test_every_chord_of_a_chart_sounds_as_named() -> None:
    for chart in (key_chart(parse_key("Bb"), UKULELE_BOOK), key_chart(parse_key("E"), GUITAR_BOOK)):
        for item in (*chart.triads, *chart.dominants, *chart.relative_chords):
            sounding = chart.book.tuning.sounding(item.item.main.frame.shape)
            classes = {p % 12 for p in sounding if p is not None}
            left_out = {"": 0, "no 5th": 1}[item.item.main.remark]
            assert classes <= item.item.chord.pitch_classes
            assert len(classes) == len(item.item.chord.pitch_classes) - left_out


@pytest.mark.parametrize(
    ("label", "key", "book", "easy", "words"),
    [
        # Common practice, no source: what teachers offer instead of the first hard chords.
        ("F", "C", GUITAR_BOOK, "Fmaj7", "keeps F A C, adds E: softer, dreamier."),
        ("B", "E", GUITAR_BOOK, "B7", "keeps B D♯ F♯, adds A: restless: it wants to go on."),
        ("Bm", "G", UKULELE_BOOK, "Bm7", "keeps B D F♯, adds A: rounder, less dark."),
        ("Bdim", "C", UKULELE_BOOK, "G7", "keeps B D F, adds G: the same pull, on a firmer root."),
        ("D7", "G", UKULELE_BOOK, "D7", "keeps F♯ A C, loses D: the same pull, only lighter."),
    ],
)
def test_stand_ins_that_teachers_use(label: str, key: str, book: Book, easy: str, words: str) -> None:
    found = stand_ins(sheet_chord(chord(label), book), parse_key(key), book, SIGNED, most=3)
    assert (easy, words) in [(str(s.easy.chord), s.words) for s in found]


def test_the_short_d7_has_no_root() -> None:
    (short,) = stand_ins(sheet_chord(chord("D7"), UKULELE_BOOK), parse_key("G"), UKULELE_BOOK, SIGNED)
    assert str(short.easy.main.frame.shape) == "2020"
    assert short.easy.main.remark == "no root"


def test_a_stand_in_of_the_same_name_is_called_an_easier_one() -> None:
    (short,) = stand_ins(sheet_chord(chord("D7"), UKULELE_BOOK), parse_key("G"), UKULELE_BOOK, SIGNED)
    assert short.title(SIGNED) == "An easier D7 (no root)"
    assert short.sentence(SIGNED) == f"Or play an easier D7 (2020): {short.words}"
    (other,) = stand_ins(sheet_chord(chord("Bm"), UKULELE_BOOK), parse_key("G"), UKULELE_BOOK, SIGNED)
    assert other.title(SIGNED) == "Bm7 instead of Bm"
    assert other.sentence(SIGNED) == f"Or play Bm7 (2222) for Bm: {other.words}"
    drawn = texts(draw_key(key_chart(parse_key("G"), UKULELE_BOOK), SheetStyle()))
    assert {"An easier D7 (no root)", "Bm7 instead of Bm"} <= set(drawn)


def test_easy_chords_get_no_stand_in() -> None:
    chart = key_chart(parse_key("C"), UKULELE_BOOK)
    assert {str(s.hard.chord) for s in chart.stand_ins} <= {"Bdim"}


def all_keys(paper: Paper, large: bool) -> list[tuple[KeyChart, SheetStyle]]:
    style = SheetStyle(paper=paper, large=large)
    books = (UKULELE_BOOK, GUITAR_BOOK, Book(get_tuning("banjo")))
    return [(key_chart(parse_key(name), book), style) for name in ("C", "F#", "Bbm") for book in books]


@pytest.mark.parametrize("paper", [A4, LETTER])
@pytest.mark.parametrize("large", [False, True])
def test_key_pages_are_tidy(paper: Paper, large: bool, check_pages: Callable[..., None]) -> None:
    for chart, style in all_keys(paper, large):
        pages = draw_key(chart, style)
        check_pages(pages, paper)
        count = len(chart.triads) + len(chart.dominants) + len(chart.relative_chords) + len(chart.stand_ins)
        assert sum(len(page.grids) for page in pages) == count


def test_the_drawn_chart_says_what_each_chord_does() -> None:
    drawn = texts(draw_key(key_chart(parse_key("G"), UKULELE_BOOK), SheetStyle()))
    assert {"I", "ii", "iii", "IV", "V", "vi", "vii°", "V7/ii", "home", "leads to Am"} <= set(drawn)
    german = replace(SheetStyle(), labels=LabelStyle(note_names="german"))
    assert "leads to Hm" in texts(draw_key(key_chart(parse_key("G"), UKULELE_BOOK), german))
