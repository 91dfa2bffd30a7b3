"""Finding entries by every criterion, and their neighbours."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from library_samples import FAINT, frame_of, make_page, make_reading

from reader.errors import NotationError
from reader.library.search import Query, key_pitch_set, one_finger_apart
from reader.library.store import Library
from reader.music.frame import Barre

# Common practice, no source: the usual shapes and names of these chords on ukulele (g C E A) and guitar.
UKULELE = {"0003": "C", "2000": "Am", "0000": "Am7", "2010": "F", "0212": "G7", "3211": "Bb", "2220": "D", "5433": "C"}
GUITAR = {"x32010": "C", "133211": "F", "x02210": "Am"}


@pytest.fixture
def shelf(library: Library) -> Library:
    readings = [make_reading(s, label) for s, label in UKULELE.items()]
    readings += [make_reading("4442", "E", (FAINT,), 0.5), make_reading("1402")]
    library.add_page(make_page(*readings, source="Spring Term/uke.png"), "a" * 64)
    library.add_page(make_page(*(make_reading(s, n) for s, n in GUITAR.items()), source="guitar.pdf"), "b" * 64)
    return library


def found(library: Library, **criteria: object) -> list[str]:
    query = Query(**criteria)  # type: ignore[arg-type]
    entries = library.entries(query)
    assert library.count(query) == len(entries)
    return [str(e.shape) for e in entries]


CASES: list[tuple[dict[str, object], set[str]]] = [
    ({"chord": "C"}, {"0003", "5433", "x32010"}),
    ({"chord": "C major"}, {"0003", "5433", "x32010"}),
    ({"chord": "A#"}, {"3211"}),
    ({"chord": "C6"}, {"0000"}),  # a further name of Am7
    ({"chord": "A-7"}, {"0000"}),
    ({"shape": "0-2-1-2"}, {"0212"}),
    ({"notes": ("C", "F"), "tuning": "ukulele"}, {"2010"}),
    ({"notes": ("Fb",)}, {"0003", "2000", "0000", "5433", "4442", "1402", "x32010", "x02210"}),
    ({"root": "Bb"}, {"3211"}),
    ({"root": "A", "tuning": "gCEA"}, {"2000", "0000"}),
    ({"quality": "m"}, {"2000", "x02210"}),
    ({"quality": "7"}, {"0212"}),
    ({"quality": "", "strings": 6}, {"x32010", "133211"}),
    ({"key": "F", "tuning": "ukulele"}, {"0003", "5433", "2000", "0000", "2010", "3211"}),
    ({"key": "Am", "strings": 4}, {"0003", "5433", "2000", "0000", "2010", "0212", "4442", "1402"}),
    ({"strings": 6}, {"x32010", "133211", "x02210"}),
    ({"highest_fret": 2, "strings": 4}, {"2000", "0000", "2010", "0212", "2220"}),
    ({"lowest_fret": 3}, {"0003", "5433"}),
    ({"stretch": 0}, {"0003", "2000", "0000", "2220"}),
    ({"fingers": 1}, {"0003", "2000", "0000"}),
    ({"barre": True}, {"133211", "3211", "5433"}),
    ({"open_strings": 3}, {"0003", "2000", "0000"}),
    ({"difficulty": 0.0}, {"0000"}),
    ({"source": "spring"}, {*UKULELE, "4442", "1402"}),
    ({"source": "GUITAR.PDF"}, set(GUITAR)),
    ({"states": ("unchecked",)}, {"4442"}),
    ({"flag": "faint-mark"}, {"4442"}),
    ({"words": "am7"}, {"0000"}),
    ({"tuning": "guitar", "barre": False, "open_strings": 2}, {"x32010", "x02210"}),
]


@pytest.mark.parametrize(("criteria", "wanted"), CASES, ids=[str(c) for c, _ in CASES])
def test_each_criterion(shelf: Library, criteria: dict[str, object], wanted: set[str]) -> None:
    assert set(found(shelf, **criteria)) == wanted


def test_words_may_stand_on_any_sighting_and_in_any_order(library: Library) -> None:
    page = make_page(make_reading("0003", "C"), make_reading("0003", "Morning song C"), make_reading("2010", "song F"))
    library.add_page(page, "a" * 64)
    assert found(library, words="SONG morning") == ["0003"]
    assert found(library, words="song") == ["0003", "2010"]
    assert found(library, words="so%ng") == []


@pytest.mark.parametrize(
    ("sort", "first", "last"),
    [("name", "2000", "0212"), ("fret", "0000", "5433"), ("difficulty", "0000", None), ("confidence", "4442", None)],
)
def test_sorting(shelf: Library, sort: str, first: str, last: str | None) -> None:
    order = found(shelf, sort=sort, strings=4)
    assert order[0] == first
    backwards = found(shelf, sort=sort, strings=4, descending=True)
    assert len(backwards) == len(order)
    assert backwards[0] != first
    assert last is None or last in order[-3:]


def test_best_names_come_before_further_ones(library: Library) -> None:
    library.add_page(make_page(make_reading("0000", "Am7"), make_reading("2433", "C6")), "a" * 64)
    assert found(library, chord="C6") == ["2433", "0000"]
    assert found(library, chord="Am7") == ["0000", "2433"]


def test_limit_and_offset(shelf: Library) -> None:
    everything = found(shelf)
    assert [str(e.shape) for e in shelf.entries(Query(limit=3, offset=2))] == everything[2:5]
    assert shelf.count(Query(limit=3)) == len(everything)


@pytest.mark.parametrize(
    ("criteria", "sentence"),
    [
        ({"chord": "H!"}, "'H!' is not a chord"),
        ({"shape": "00q3"}, "'q' in the shape"),
        ({"notes": ("H",)}, "H"),
        ({"key": "G7"}, "'G7' is not a key"),
        ({"tuning": "kazoo"}, "kazoo"),
    ],
)
def test_what_cannot_be_understood_is_said(library: Library, criteria: dict[str, object], sentence: str) -> None:
    with pytest.raises(NotationError, match=sentence):
        library.entries(Query(**criteria))  # type: ignore[arg-type]


def test_keys_are_the_trades_scales() -> None:
    # common practice, no source: G major has one sharp; A minor is played with G and G sharp
    def notes(key: str) -> set[int]:
        return {n for n in range(12) if key_pitch_set(key) >> n & 1}

    assert notes("G") == {7, 9, 11, 0, 2, 4, 6}
    assert notes("Am") == {9, 11, 0, 2, 4, 5, 7, 8}
    assert notes("Bb") == {10, 0, 2, 3, 5, 7, 9}


# ---------------------------------------------------------------- neighbours


def test_the_same_chord_elsewhere_and_shapes_one_finger_away(shelf: Library) -> None:
    entry = next(e for e in shelf.entries() if str(e.shape) == "0003")
    similar = shelf.similar(entry.id)
    assert [str(e.shape) for e in similar.same_chord] == ["5433"]  # x32010 sounds on another instrument
    assert {str(e.shape) for e in similar.one_finger} == {"0000"}
    f_major = next(e for e in shelf.entries() if str(e.shape) == "2010")
    assert {str(e.shape) for e in shelf.similar(f_major.id).one_finger} == {"2000"}


def test_shapes_of_two_digits_are_compared_fret_by_fret(library: Library) -> None:
    library.add_page(make_page(make_reading("0-0-0-12"), make_reading("0003"), make_reading("2-0-0-12")), "a" * 64)
    entry = next(e for e in library.entries() if str(e.shape) == "0-0-0-12")
    assert [str(e.shape) for e in library.similar(entry.id).one_finger] == ["2-0-0-12", "0003"]


def test_one_finger_moves_all_strings_it_lies_on() -> None:
    barre = frame_of("2220", barres=(Barre(2, 4, 2),))
    assert one_finger_apart(barre, frame_of("0000"))
    assert not one_finger_apart(replace(barre, fingers=(1, 2, 3, None)), frame_of("0000"))
    assert not one_finger_apart(frame_of("2210"), frame_of("0000"))
    assert one_finger_apart(frame_of("x32010"), frame_of("032010"))
    assert not one_finger_apart(frame_of("0003"), frame_of("0003"))


def test_a_tuning_that_does_not_fit_gives_no_names_and_no_pitches(library: Library) -> None:
    library.add_page(
        make_page(make_reading("x32010", "C", tuning="ukulele"), make_reading("0003", tuning="?")), "a" * 64
    )
    assert [(e.name, e.facts.pitch_set, e.facts.bass) for e in library.entries()] == [(None, 0, None)] * 2
    assert found(library, notes=("C",)) == []
    assert found(library, key="C") == []
    assert library.check() == []


def test_queries_are_read_only(shelf: Library, tmp_path: Path) -> None:
    before = shelf.path.read_bytes()
    with Library.open(shelf.path, read_only=True) as library:
        assert found(library, words="'; DROP TABLE entry; --") == []
    assert shelf.path.read_bytes() == before
