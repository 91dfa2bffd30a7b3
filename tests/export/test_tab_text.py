"""Plain text tab: written, read, and read back the same."""

from __future__ import annotations

import pytest
from hypothesis import given
from tab_samples import sample_tab, tabs

from reader.errors import NotationError
from reader.export.tab_text import parse_tab_text, to_tab_text
from reader.music.tab import Note, Tab


def test_the_sample_looks_like_this() -> None:
    assert to_tab_text(sample_tab()) == (
        "e||:-0--------|------3-:|---|]\n"
        "B||:---12-----|--------:|---|]\n"
        "G||:---x------|--------:|---|]\n"
        "D||:------(7)-|-5h-7---:|---|]\n"
        "A||:----------|------2-:|---|]\n"
        "E||:----------|------3-:|-0-|]\n"
    )


@given(tabs())
def test_reading_undoes_writing(tab: Tab) -> None:
    assert parse_tab_text(to_tab_text(tab), tab.tuning) == tab


@given(tabs())
def test_rows_of_a_system_are_equally_long(tab: Tab) -> None:
    for system in to_tab_text(tab).strip().split("\n\n"):
        rows = system.split("\n")
        assert len(rows) == tab.line_count
        assert len({len(r) for r in rows}) == 1


def test_words_between_systems_are_passed_over() -> None:
    text = "Intro, slowly\n   C       G7\nA|-3--0-|\nE|-0--1-|\nC|-0--2-|\ng|-0--0-|\nla la\n"
    tab = parse_tab_text(text)
    assert tab.line_count == 4
    assert tab.groups[0].notes == (Note(1, 3), Note(2, 0), Note(3, 0), Note(4, 0))
    assert tab.groups[1].notes == (Note(1, 0), Note(2, 1), Note(3, 2), Note(4, 0))


def test_two_digits_belong_together() -> None:
    tab = parse_tab_text("e|-12-1-2-|\nB|--------|\nG|--------|\nD|--------|\n")
    assert [g.notes[0].fret for g in tab.groups] == [12, 1, 2]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "No tab was found"),
        ("C G Am F\nsome words\n", "No tab was found"),
        ("e|--0--|\nB|--1-|\nG|--0--|\nD|--2--|\n", "Row 2 of the tab is 5 characters long"),
    ],
)
def test_what_cannot_be_read_is_refused(text: str, words: str) -> None:
    with pytest.raises(NotationError, match=words):
        parse_tab_text(text)
