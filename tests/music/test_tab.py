"""Tab as music: pitches, order, and what no hand can play."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reader.errors import NotationError
from reader.music.tab import Group, Measure, Note, Tab, group_names, group_problem, note_pitch, problems, tab_of
from reader.music.tuning import all_tunings, get_tuning


@pytest.mark.parametrize(
    ("tuning", "open_strings"),
    [
        # the examples of staff-tuning in MusicXML 4.0 and course.tuning in MEI 5.0, top line first
        ("guitar", (64, 59, 55, 50, 45, 40)),
        # common practice, no source: the re-entrant fourth string lies above the third
        ("ukulele", (69, 64, 60, 67)),
    ],
)
def test_the_top_line_is_the_first_string(tuning: str, open_strings: tuple[int, ...]) -> None:
    found = tuple(note_pitch(Note(s, 0), get_tuning(tuning)) for s in range(1, len(open_strings) + 1))
    assert found == open_strings


@given(st.sampled_from([t for t in all_tunings() if not t.starts]), st.data())
def test_a_fret_is_a_semitone(tuning: object, data: st.DataObject) -> None:
    # ISO 16 and equal temperament: MIDI numbers count semitones
    from reader.music.tuning import Tuning

    assert isinstance(tuning, Tuning)
    string = data.draw(st.integers(1, min(8, tuning.string_count)))
    fret = data.draw(st.integers(0, 24))
    opened = note_pitch(Note(string, 0), tuning)
    assert opened is not None
    assert note_pitch(Note(string, fret), tuning) == opened + fret


def test_a_muted_note_has_no_pitch() -> None:
    assert note_pitch(Note(3, None), get_tuning("guitar")) is None


def test_a_string_beyond_the_tuning_is_refused() -> None:
    with pytest.raises(NotationError, match="string 6 and the tuning ukulele has 4"):
        note_pitch(Note(6, 0), get_tuning("ukulele"))


@pytest.mark.parametrize(("string", "fret", "words"), [(0, 1, "String 0"), (9, 1, "String 9"), (1, 25, "Fret 25")])
def test_impossible_numbers_are_refused(string: int, fret: int, words: str) -> None:
    with pytest.raises(NotationError, match=words):
        Note(string, fret)


@pytest.mark.parametrize(
    ("tuning", "notes", "name"),
    [
        # common practice, no source: first chords of every method
        ("ukulele", ((1, 3), (2, 0), (3, 0), (4, 0)), "C"),
        ("ukulele", ((1, 2), (2, 3), (3, 2), (4, 0)), "G"),
        ("guitar", ((1, 0), (2, 1), (3, 0), (4, 2), (5, 3)), "C"),
        ("guitar", ((1, 3), (2, 0), (3, 0), (4, 0), (5, 2), (6, 3)), "G"),
    ],
)
def test_stacked_notes_are_named_as_chords(tuning: str, notes: tuple[tuple[int, int], ...], name: str) -> None:
    group = Group(tuple(Note(s, f) for s, f in notes))
    assert group_names(group, get_tuning(tuning))[0] == name


def test_one_note_has_no_chord_name() -> None:
    assert group_names(Group((Note(1, 3),)), get_tuning("guitar")) == ()


@pytest.mark.parametrize(
    ("tuning", "notes", "words"),
    [
        ("guitar", ((2, 3), (2, 5)), "Two numbers stand on string 2"),
        ("guitar", ((1, 1), (6, 9)), "Frets 1 and 9"),
        ("ukulele", ((1, 1), (2, 14)), "Frets 1 and 14"),
        ("guitar", ((1, 12), (6, 17)), None),  # frets lie closer up the neck
        ("guitar", ((1, 0), (6, 15)), None),  # an open string takes no finger
        ("ukulele", ((1, 1), (2, 7)), None),  # and on a short neck
        ("guitar", ((1, None), (6, 15)), None),
    ],
)
def test_what_no_hand_can_play(tuning: str, notes: tuple[tuple[int, int | None], ...], words: str | None) -> None:
    group = Group(tuple(Note(s, f) for s, f in notes))
    found = group_problem(group, get_tuning(tuning))
    assert (found is None) if words is None else (found is not None and words in found)


def test_problems_tell_which_group() -> None:
    bad = Group((Note(1, 2), Note(1, 3)))
    tab = Tab(6, (Measure((Group((Note(1, 0),)),)), Measure((bad,))))
    assert [i for i, _ in problems(tab, get_tuning("guitar"))] == [1]


def test_bar_lines_part_measures_and_the_first_opens() -> None:
    def one(fret: int) -> Group:
        return Group((Note(1, fret),))

    tab = tab_of([(5, one(5)), (2, one(2)), (8, one(8))], [(1, "repeat-start"), (6, "single"), (9, "repeat-end")], 6)
    assert tab.measures == (
        Measure((one(2), one(5)), "single", "repeat-start"),
        Measure((one(8),), "repeat-end"),
    )


def test_notes_after_the_last_bar_line_are_kept() -> None:
    tab = tab_of([(1, Group((Note(1, 1),))), (3, Group((Note(1, 3),)))], [(2, "single")], 4)
    assert [m.bar for m in tab.measures] == ["single", "none"]
    assert len(tab.groups) == 2
