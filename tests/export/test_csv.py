"""CSV: read back it gives the same frames; spreadsheets do not spoil it."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reader.errors import InputError
from reader.export.csv_ import COLUMNS, parse_csv, to_csv
from reader.library.collection import Collection


def rows(collection: Collection) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(to_csv(collection).text)))


def test_one_line_per_shape_with_flags_and_confidence(collection: Collection) -> None:
    found = {(r["shape"], r["tuning"]): r for r in rows(collection)}
    assert len(found) == len(collection.entries)
    assert set(next(iter(found.values()))) == set(COLUMNS)
    flagged = found["4442", "ukulele"]
    assert (flagged["state"], flagged["confidence"], flagged["flags"]) == ("unchecked", "0.5000", "faint-mark")
    assert "third string is faint" in flagged["reasons"]
    assert flagged["seen_on"] == "b.pdf, page 3"
    assert found["3211", "ukulele"]["barres"] == "1:2-1"
    assert found["x-10-12-12-11-x", "guitar"]["fingers"] == "- 1 3 4 2 -"
    assert found["2x0232", "guitar"]["fingers"] == "T - - 1 3 2"


def test_frets_survive_a_spreadsheet_that_takes_0003_for_a_number(collection: Collection) -> None:
    assert all(" " in r["frets"] for r in rows(collection))


def test_reading_it_back_gives_the_same_frames(collection: Collection) -> None:
    lines = parse_csv(to_csv(collection).text, "index.csv")
    entries = [c.entry for c in collection.entries]
    assert [(n.frame, n.tuning, n.label, n.state) for n in lines] == [
        (e.frame, e.tuning, e.label, e.state) for e in entries
    ]


def test_a_line_written_by_hand_needs_only_frets_and_tuning() -> None:
    (line,) = parse_csv("\ufefftuning,frets\r\nukulele,0 0 0 12\r\n", "mine.csv")
    assert (line.frame.frets, line.frame.fret_count, line.label, line.state) == ((0, 0, 0, 12), 12, None, "confirmed")


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("shape,name\r\n", "mine.csv has no column frets and no column tuning"),
        ("frets,tuning\r\n0003,ukulele\r\n00q3,ukulele\r\n", "Line 3 of mine.csv .*'q'"),
        ("frets,tuning,first_fret\r\n0003,ukulele,two\r\n", "Line 2 of mine.csv .*two"),
        ("frets,tuning,fingers\r\n0003,ukulele,1 2\r\n", "Line 2 of mine.csv .*4 strings has 2 fingers"),
        ("frets,tuning,state\r\n0003,ukulele,perhaps\r\n", "'perhaps' is no state"),
        ("frets,tuning,barres\r\n2222,ukulele,2:x\r\n", "Line 2 of mine.csv"),
    ],
)
def test_lines_that_make_no_sense_are_named(text: str, sentence: str) -> None:
    with pytest.raises(InputError, match=sentence):
        parse_csv(text, "mine.csv")


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    said = ""
    try:
        lines = parse_csv(f"frets,tuning\n{text}", "mine.csv")
    except InputError as error:
        lines, said = [], str(error)
    assert all(line.frame.frets for line in lines)
    assert "mine.csv" in said or not said


def test_tabs_are_said_to_be_missing(collection: Collection) -> None:
    assert "1 tab left out: a tab is no single shape." in to_csv(collection).notes
