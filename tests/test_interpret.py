"""Ink becomes meaning: tunings chosen by page, labels weighed, other readings kept."""

from __future__ import annotations

import pytest
from reading_samples import lettering, look, plain_frame, read_one, seen

from reader.frames import LEAST_STRINGS, MOST_STRINGS
from reader.interpret import ReadSettings, interpret
from reader.music.tuning import get_tuning, tunings_with
from reader.weighing import agreement


@pytest.mark.parametrize("count", range(LEAST_STRINGS, MOST_STRINGS + 1))
def test_every_number_of_strings_that_can_be_counted_has_a_tuning(count: int) -> None:
    assert tunings_with(count)
    reading = read_one(look("2" * count))
    assert get_tuning(reading.tuning).string_count == reading.frame.string_count == count


def test_a_page_of_several_instruments_has_a_tuning_for_each() -> None:
    page = [seen(look("ooo3"), lettering("C")), seen(look("x32o1o"), lettering("C")), seen(look("2o2"))]
    assert [r.tuning for r in interpret(page, ReadSettings())] == ["ukulele", "guitar", "box-guitar"]


def test_a_tuning_asked_for_holds_for_its_number_of_strings_and_the_page_decides_the_others() -> None:
    page = [seen(look("ooo3"), lettering("G")), seen(look("x32o1o"), lettering("C"))]
    found = interpret(page, ReadSettings(tuning="guitar-drop-d"))
    assert [r.tuning for r in found] == ["ukulele", "guitar-drop-d"]
    # labels still choose among the tunings of four strings
    pairs = (("ooo3", "G"), ("2o1o", "C"), ("o212", "D7"))
    four = [seen(look(signs), lettering(label)) for signs, label in pairs]
    assert {r.tuning for r in interpret(four, ReadSettings(tuning="guitar"))} == {"ukulele-baritone"}


def test_shapes_of_other_pages_help_to_choose() -> None:
    elsewhere = [(plain_frame(s).shape, n) for s, n in (("0003", "G"), ("2010", "C"), ("0212", "D7"), ("2000", "Em"))]
    alone, helped = (interpret([seen(look("ooo3"))], ReadSettings(), e)[0] for e in ([], elsewhere))
    assert (alone.tuning, alone.name) == ("ukulele", "C")
    assert (helped.tuning, helped.name) == ("ukulele-baritone", "G/D")


@pytest.mark.parametrize(
    ("label", "verdict"),
    [("C", "agrees"), ("C/E", "agrees"), ("F#m", "differs"), ("Cm", "differs"), (None, "silent"), ("Chorus", "silent")],
)
def test_a_label_speaks_for_or_against_the_dots(label: str | None, verdict: str) -> None:
    assert agreement(plain_frame("0003"), label, get_tuning("ukulele"), "english") == verdict


def test_a_tuning_of_other_strings_is_silent() -> None:
    assert agreement(plain_frame("0003"), "C", get_tuning("guitar"), "english") == "silent"


def test_the_label_decides_between_two_readings_of_the_ink() -> None:
    doubtful = look("ooo3", doubts={3: {"3": 0.45, "2": 0.55}})
    alone, told = read_one(doubtful), read_one(doubtful, lettering("C"))
    assert str(alone.frame.shape) == "0002"
    assert str(told.frame.shape) == "0003"
    assert told.alternatives[0].frame.shape == alone.frame.shape
    assert told.alternatives[0].reason == "the label says otherwise"


def test_a_label_hardly_read_decides_nothing() -> None:
    doubtful = look("ooo3", doubts={3: {"3": 0.25, "2": 0.75}})
    assert str(read_one(doubtful, lettering("C", label_p=0.03)).frame.shape) == "0002"


def test_a_sure_drawing_wins_over_its_label() -> None:
    reading = read_one(look("ooo3", doubts={3: {"3": 0.02, "2": 0.98}}), lettering("C"))
    assert str(reading.frame.shape) == "0002"
    assert any(str(a.frame.shape) == "0003" for a in reading.alternatives)


def test_other_readings_come_best_first_and_leave_out_the_one_chosen() -> None:
    reading = read_one(look("ooo3", doubts={0: {"o": 0.6, "1": 0.3, "2": 0.1}}))
    odds = [a.probability for a in reading.alternatives]
    assert odds == sorted(odds, reverse=True)
    assert [str(a.frame.shape) for a in reading.alternatives] == ["1003", "2003"]


@pytest.mark.parametrize(("names", "name"), [("english", "Bb"), ("german", "B")])
def test_labels_are_read_in_the_language_asked_for(names: str, name: str) -> None:
    reading = read_one(look("3211"), lettering(name), ReadSettings(note_names=names))  # type: ignore[arg-type]
    assert reading.evidence["label_agrees"] == 1.0
    assert reading.label == name


def test_evidence_says_how_sure_each_part_is() -> None:
    e = read_one(look("ooo3", sure=0.9), lettering("C", label_p=0.8)).evidence
    assert e["weakest"] == pytest.approx(0.9)
    assert e["shape"] == pytest.approx(0.9**4)
    assert 0.8 < e["label"] < 1.0  # it agrees, so it is likelier than it looked
    assert (e["label_agrees"], e["label_differs"]) == (1.0, 0.0)
    assert e["gap"] == pytest.approx(20.0)
    assert (e["ink_missing"], e["ink_extra"]) == (1.0, 0.0)


def test_ink_that_no_mark_explains_is_evidence() -> None:
    one = seen(look("ooo3"))
    one.ink[0, 1] = 0.7
    one.ink[3, 2] = 0.3
    e = interpret([one], ReadSettings())[0].evidence
    assert (e["ink_extra"], e["ink_missing"]) == (0.7, 0.3)


def test_ink_of_a_barre_is_explained() -> None:
    one = seen(look("-33---", barre=dict.fromkeys(range(6), (1, 0.95))))
    one.ink[:, 0] = 1.0
    assert interpret([one], ReadSettings())[0].evidence["ink_extra"] == 0.0


def test_a_crop_and_a_number_that_tell_apart_are_disputed() -> None:
    grid = look("1112", nut=0.01, first=5)
    assert read_one(grid, lettering(number=5)).evidence["first_disputed"] == 0.0
    assert read_one(grid).evidence["first_disputed"] == 1.0


def test_a_label_that_names_a_symmetric_chord_does_not_tell_where_its_grid_lies() -> None:
    # dim7 comes back every three frets: without nut and number nobody can tell which of them is meant
    bare = {"nut": 0.0, "first": 1}
    assert "first-fret-unread" not in [f.code for f in read_one(look("2223", **bare), lettering("D7")).flags]
    assert "first-fret-unread" in [f.code for f in read_one(look("1212", **bare), lettering("G#dim7")).flags]


def test_grids_with_a_nut_do_not_speak_for_one_without() -> None:
    labelled = [("-2-3", "Cadd9"), ("2-1-", "F"), ("---3", "C")]
    odd = seen(look("2213", nut=0.0))
    drawn = [seen(look(signs), lettering(label)) for signs, label in labelled]
    bare = [seen(look(signs, nut=0.0), lettering(label)) for signs, label in labelled]
    assert "first-fret-unread" in [f.code for f in interpret([*drawn, odd], ReadSettings())[-1].flags]
    assert "first-fret-unread" not in [f.code for f in interpret([*bare, odd], ReadSettings())[-1].flags]
