"""Readings and their JSON form say the same."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from page_samples import C_CHORD, page, tab

from reader.music.frame import Barre, Frame
from reader.reading import (
    Alternative,
    Flag,
    PageReading,
    Reading,
    TabEvent,
    TabNote,
    TabReading,
    from_object,
    read_lines,
    to_line,
    to_object,
)

# the JSON form keeps tenths of a pixel and four places of a probability
PIXELS = st.integers(0, 50_000).map(lambda n: n / 10)
ODDS = st.integers(0, 10_000).map(lambda n: n / 10_000)
WORDS = st.text(st.characters(exclude_categories=("Cs",)), max_size=12)
CORNERS = st.lists(st.tuples(PIXELS, PIXELS), min_size=4, max_size=4).map(tuple)
FLAGS = st.lists(
    st.builds(Flag, WORDS, WORDS, st.none() | st.integers(0, 7), st.none() | st.integers(0, 24)), max_size=2
).map(tuple)
EVIDENCE = st.dictionaries(WORDS, ODDS, max_size=3)


@st.composite
def frames(draw: st.DrawFn) -> Frame:
    count, rows, first = draw(st.integers(3, 8)), draw(st.integers(3, 6)), draw(st.integers(1, 12))
    fret = st.one_of(st.none(), st.just(0), st.integers(first, first + rows - 1))
    frets = tuple(draw(st.lists(fret, min_size=count, max_size=count)))
    finger = st.sampled_from([None, 1, 2, 3, 4, "T"])
    fingers = tuple(draw(finger) if f else None for f in frets)
    barre = st.builds(Barre, st.integers(first, first + rows - 1), st.just(count), st.integers(1, count - 1))
    return Frame(frets, fingers, rows, first, tuple(draw(st.lists(barre, max_size=1))))


READINGS = st.builds(
    Reading, CORNERS, frames(), st.none() | WORDS, st.none() | WORDS, st.lists(WORDS, max_size=2).map(tuple), WORDS,
    ODDS, FLAGS, st.lists(st.builds(Alternative, frames(), ODDS, WORDS), max_size=2).map(tuple), EVIDENCE,
    CORNERS | st.just(()),
)  # fmt: skip
NOTES = st.builds(TabNote, st.integers(1, 8), st.none() | st.integers(0, 24), ODDS, st.booleans())
EVENTS = st.builds(TabEvent, PIXELS, st.lists(NOTES, max_size=3).map(tuple), st.none() | WORDS)
TABS = st.builds(
    TabReading, CORNERS, st.integers(3, 8), st.lists(EVENTS, max_size=2).map(tuple),
    st.lists(PIXELS, max_size=3).map(tuple), WORDS, ODDS, FLAGS, st.lists(WORDS, max_size=2).map(tuple), EVIDENCE,
)  # fmt: skip
PAGES = st.builds(
    PageReading, WORDS, st.integers(1, 99), st.integers(1, 9999), st.integers(1, 9999),
    st.lists(READINGS, max_size=2).map(tuple), st.lists(TABS, max_size=1).map(tuple), st.none() | WORDS,
)  # fmt: skip


@settings(max_examples=60)
@given(PAGES)
def test_a_page_survives_its_line(reading: PageReading) -> None:
    line = to_line(reading)
    assert "\n" not in line
    assert list(read_lines([line, "", "  "])) == [reading]


def test_the_form_is_the_one_agreed_on() -> None:
    frame = Frame((1, 3, 3, None), (1, 3, 4, None), 4, 1, (Barre(1, 4, 1),))
    flag = Flag("faint-mark", "Look.", string=0, fret=1)
    corners = ((1.0, 2.0), (3.04, 2.0), (3.0, 9.0), (1.0, 9.0))
    reading = Reading(corners, frame, "Bb", None, ("X",), "ukulele", 0.98765, (flag,))
    plain = to_object(PageReading("a.png", 2, 30, 40, (reading,)))
    assert {k: plain[k] for k in ("source", "page", "width", "height", "tabs")} == {
        "source": "a.png", "page": 2, "width": 30, "height": 40, "tabs": [],
    }  # fmt: skip
    assert "error" not in plain
    (diagram,) = plain["diagrams"]
    assert diagram["corners"] == [[1.0, 2.0], [3.0, 2.0], [3.0, 9.0], [1.0, 9.0]]
    assert diagram["frets"] == [1, 3, 3, None]
    assert diagram["fingers"] == [1, 3, 4, None]
    assert diagram["barres"] == [{"fret": 1, "from_string": 4, "to_string": 1}]
    assert (diagram["string_count"], diagram["fret_count"], diagram["first_fret"]) == (4, 4, 1)
    assert (diagram["label"], diagram["name"], diagram["other_names"]) == ("Bb", None, ["X"])
    assert diagram["tuning"] == "ukulele"
    assert diagram["confidence"] == 0.9877
    assert diagram["flags"] == [{"code": "faint-mark", "detail": "Look.", "string": 0, "fret": 1}]


def test_a_truth_file_may_leave_out_what_nobody_knows() -> None:
    known = {k: C_CHORD[k] for k in ("corners", "fret_count", "frets")}
    read = from_object({"source": "a.png", "width": 10, "height": 10, "diagrams": [known]})
    (diagram,) = read.diagrams
    assert read.page == 1
    assert (diagram.label, diagram.tuning, diagram.confidence) == (None, "", 1.0)
    assert (diagram.frame.first_fret, diagram.frame.fingers, diagram.flags) == (1, (None,) * 4, ())


def test_unknown_fields_are_left_aside() -> None:
    data = page({**C_CHORD, "colour": "blue"}, weather="fine")
    assert from_object(data) == from_object(page(C_CHORD))


def test_signs_outside_ascii_stay_readable() -> None:
    one = from_object(page({**C_CHORD, "label": "C°Δø"}))
    assert "C°Δø" in to_line(one)
    assert json.loads(to_line(one))["diagrams"][0]["label"] == "C°Δø"


def test_a_page_that_could_not_be_read_says_so() -> None:
    broken = PageReading("a.png", 1, 10, 10, error="Scan again.")
    assert to_object(broken)["error"] == "Scan again."


def test_flags_decide_whether_somebody_looks() -> None:
    plain = from_object(page(C_CHORD, tabs=[tab({1: 3})]))
    assert plain.diagrams[0].accepted
    assert plain.tabs[0].accepted
    assert not replace(plain.diagrams[0], flags=(Flag("a", "b"),)).accepted
    assert not replace(plain.tabs[0], flags=(Flag("a", "b"),)).accepted


def test_another_file_name_changes_nothing_else() -> None:
    one = from_object(page(C_CHORD))
    assert one.with_source("b.png").with_source("a.png") == one
    assert one.with_source("b.png").source == "b.png"


@pytest.mark.parametrize("field", ["source", "width", "diagrams"])
def test_what_must_be_there_is_missed(field: str) -> None:
    data = page({k: v for k, v in C_CHORD.items() if k != "frets"})
    if field != "diagrams":
        del data[field]
    with pytest.raises(KeyError, match="frets" if field == "diagrams" else field):
        from_object(data)
