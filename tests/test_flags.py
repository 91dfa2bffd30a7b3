"""Each reason to look again: a case made for it, and its neighbour that is none."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from reading_samples import lettering, look, read_one, seen

from reader.flags import state_words, string_name
from reader.image.labels import Lettering
from reader.image.marks import FIRST_ROW, MUTED, NUMBERS, OPEN_BARE, OPEN_MARKED, Look
from reader.interpret import ReadSettings, interpret
from reader.reading import Reading


def codes(reading: Reading) -> list[str]:
    return [f.code for f in reading.flags]


def plain(**changes: Any) -> Look:
    """The ukulele C, surely seen, with some fields changed."""
    return replace(look("ooo3"), **changes)


def test_a_sure_diagram_with_its_label_needs_no_look() -> None:
    reading = read_one(plain(), lettering("C"))
    assert reading.accepted
    assert (str(reading.frame.shape), reading.name, reading.label) == ("0003", "C", "C")


def test_a_grid_that_runs_off_the_page() -> None:
    whole, cut = (interpret([seen(plain(), lettering("C"), cut=c)], ReadSettings())[0] for c in (False, True))
    assert codes(whole) == []
    assert codes(cut) == ["grid-cut"]


def test_strings_that_are_hard_to_count() -> None:
    doubtful = plain(strings=look("ooo3").strings * 0 + 1 / 9)
    doubtful.states[3, 0], doubtful.states[3, 1:] = 0.5, doubtful.states[3, 1:] * 0.5
    reading = read_one(doubtful)
    assert "weak-grid" in codes(reading)
    assert "strings are counted" in reading.flags[0].detail


def test_another_number_of_strings_than_the_rest_of_the_page() -> None:
    page = [seen(plain(), lettering("C")) for _ in range(4)]
    six = seen(look("o3o2o1"), lettering())
    assert "weak-grid" in codes(interpret([*page, six], ReadSettings())[4])
    assert "weak-grid" not in codes(interpret([*page[:2], six], ReadSettings())[2]), "too few others to tell"
    assert codes(interpret([*page, six], ReadSettings())[0]) == []


def test_two_looks_that_disagree() -> None:
    case = seen(plain(), lettering("C"))
    assert codes(interpret([replace(case, spread=0.9)], ReadSettings())[0]) == ["unsure"]
    assert codes(interpret([replace(case, spread=0.5)], ReadSettings())[0]) == []


def test_what_may_be_no_diagram() -> None:
    reading = read_one(plain(kind=look("ooo3", kind="other").kind), lettering("C"))
    assert "weak-grid" in codes(reading)
    assert "may not be a chord diagram" in reading.flags[0].detail


def test_what_was_hardly_found_is_asked_about_unless_its_label_agrees() -> None:
    def found_at(confidence: float, label: str) -> list[str]:
        case = seen(plain(), lettering(label))
        hardly = replace(case, region=replace(case.region, confidence=confidence))
        return [f.code for f in interpret([hardly], ReadSettings())[0].flags]

    assert found_at(0.9, "") == []
    assert "weak-grid" in found_at(0.1, "")
    assert "weak-grid" not in found_at(0.1, "C")


def test_which_end_is_the_nut() -> None:
    assert codes(read_one(plain(way=look("ooo3", way=2).way), lettering("C"))) == ["way-up"]


def test_labels_that_agree_all_over_the_page_tell_which_end_is_the_nut() -> None:
    doubtful = plain(way=look("ooo3", way=2).way)
    page = [seen(plain(), lettering("C")), seen(look("2o1o"), lettering("F")), seen(look("o232"), lettering("G"))]
    by_label, bare = seen(doubtful, lettering("C")), seen(doubtful, lettering())
    readings = interpret([*page, by_label, bare], ReadSettings())
    assert "way-up" not in codes(readings[3])
    assert "way-up" in codes(readings[4]), "its own label says nothing"
    odd = [seen(look("2o1o"), lettering(name)) for name in ("C", "G7", "D")]
    assert "way-up" in codes(interpret([*odd, by_label], ReadSettings())[3])


def test_a_nut_at_the_right_may_be_drawn_for_the_left_hand() -> None:
    """The strings of a mandolin in mirror image are those of a bass: labels that agree prove nothing then."""

    def page(*shapes: tuple[str, str]) -> list[Reading]:
        drawn = [replace(seen(look(signs), lettering(name)), nut_astray=True) for signs, name in shapes]
        return interpret(drawn, ReadSettings())

    bass = page(("32oo", "C/G"), ("2oo1", "D#aug"), ("o221", "Am"), ("3o23", "G"))
    assert all("way-up" in codes(reading) for reading in bass)
    usual = page(("ooo3", "C"), ("2o1o", "F"), ("o232", "G"), ("2ooo", "Am"))
    assert not any("way-up" in codes(reading) for reading in usual)
    assert codes(read_one(plain(), lettering("C"))) == []


def test_dots_read_to_fit_a_label_of_which_a_note_is_missing() -> None:
    """On a ukulele 2510 sounds F and A only; 2410 is another chord, 2010 all of F."""
    case = look("251o", rows=5)
    case.states[1, FIRST_ROW + 3], case.states[1, FIRST_ROW + 4] = 0.55, 0.4
    assert codes(read_one(case, lettering("F"))) == ["two-marks"]
    assert str(read_one(case, lettering("F")).frame.shape) == "2510"
    whole = look("2o1o", rows=5)
    whole.states[1, OPEN_BARE], whole.states[1, FIRST_ROW + 3] = 0.4, 0.55
    assert "two-marks" not in codes(read_one(whole, lettering("F")))


def half_read(number: int, p: float) -> Lettering:
    """A number beside the grid that may be none."""
    numbers = np.zeros(NUMBERS)
    numbers[[number, 0]] = p, 1 - p
    return replace(lettering(), numbers=numbers)


def test_a_string_without_a_mark_where_the_page_marks_all() -> None:
    def last(*page: str) -> Reading:
        return interpret([seen(look(signs), lettering("C")) for signs in page], ReadSettings())[-1]

    lost = last("ooo3", "ooo3", "ooo3", "o-o3")
    assert codes(lost) == ["faint-mark"]
    assert lost.flags[0].string == 1
    assert "check for a lost mark" in lost.flags[0].detail
    assert codes(last("ooo3", "ooo3", "ooo3", "ooo3")) == []
    assert codes(last("---3", "ooo3", "ooo3", "o-o3")) == [], "some writers leave marks out"
    assert codes(last("ooo3", "o-o3")) == [], "too few to tell"


def test_a_mark_that_is_not_quite_clear_on_a_worn_page() -> None:
    def read(worn: float, mark: float) -> Reading:
        """A page on which one mark of three has this probability, and a diagram with such a mark."""
        torn = look("x32o1o", doubts={3: {"o": worn, "x": 1 - worn}})
        last = look("x32o1o", doubts={3: {"o": mark, "x": 1 - mark}})
        return interpret([*[seen(torn, lettering("C"))] * 4, seen(last, lettering("C"))], ReadSettings())[4]

    assert codes(read(0.7, 0.95)) == ["faint-mark"]
    assert read(0.7, 0.95).flags[0].string == 3
    assert codes(read(0.7, 0.99)) == []
    assert codes(read(0.99, 0.95)) == [], "the other marks are clear"


def test_a_fret_number_that_is_a_guess() -> None:
    assert "first-fret-unread" not in codes(read_one(look("1112", nut=0.01, first=5), lettering(number=5)))
    reading = read_one(look("1112"), half_read(7, 0.985))
    assert codes(reading) == ["first-fret-unread"]
    assert "is a guess" in reading.flags[0].detail


def test_a_sure_label_tells_the_first_fret_of_sure_dots() -> None:
    """D7 on a ukulele is 2223 (common practice, no source); at no other fret do these dots sound it."""
    page = [seen(plain(), lettering("C")), seen(look("2o1o"), lettering("F")), seen(look("o212"), lettering("G7"))]
    numbers = np.zeros(NUMBERS)
    numbers[[0, 2, 5]] = 0.1, 0.1, 0.8

    def read(label: str, signs: str = "1112", sure: float = 0.999) -> Reading:
        case = seen(look(signs, nut=0.01, first=5, sure=sure), replace(lettering(label), numbers=numbers))
        return interpret([*page, case], ReadSettings())[3]

    assert (str(read("D7").frame.shape), codes(read("D7"))) == ("2223", [])
    assert "first-fret-unread" in codes(read("D7", sure=0.99)), "the dots are not sure"
    assert "first-fret-unread" in codes(read("")), "there is none"
    assert "first-fret-unread" in codes(read("D5", "11x4")), "two notes fit too much"


def test_a_number_that_runs_into_the_next_grid_may_read_as_a_stop() -> None:
    """``GRID`` lies from 100 to 160 across; each of its four rows is 20 high."""

    def asked(signs: str, x: float, y: float) -> bool:
        reading = read_one(look(signs), replace(lettering(), words_alone=(np.array([x, y]),)))
        return "'fret' stands beside" in " ".join(f.detail for f in reading.flags)

    assert asked("2o13", 70.0, 130.0), "left of the stop in the second row"
    assert not asked("o213", 70.0, 130.0), "no stop on the outer string"
    assert not asked("2o13", 70.0, 170.0), "in another row"
    assert asked("2o13", 190.0, 150.0), "right of the stop in the third row"


def test_a_place_up_the_neck_that_only_the_label_tells() -> None:
    """The dots of 1343 sound G# on a ukulele, and C# moved up to 6898 (common practice, no source)."""
    page = [seen(plain(), lettering("C")), seen(look("2o1o"), lettering("F")), seen(look("o212"), lettering("G7"))]

    def read(unread: float) -> Reading:
        case = seen(
            look("1343", nut=0.01, first=6), replace(lettering("C#", unread=unread), numbers=lettering().numbers)
        )
        return interpret([*page, case], ReadSettings())[3]

    assert (str(read(0.0).frame.shape), codes(read(0.0))) == ("6898", ["first-fret-unread"])
    assert "only the label says" in read(0.0).flags[0].detail
    assert codes(read(0.3)) == [], "something stands there that may be the number"


def test_two_first_frets_against_each_other() -> None:
    # the crop says that the grid starts at the nut, the number read apart says 7
    reading = read_one(look("1112"), half_read(7, 0.995))
    assert [f.detail for f in reading.flags] == [
        "The first space may be fret 7 or fret 1: check the number beside the grid."
    ]


def test_something_unread_where_a_number_would_stand() -> None:
    assert "first-fret-unread" not in codes(read_one(plain(), lettering(unread=0.2)))
    assert "first-fret-unread" in codes(read_one(plain(), lettering(unread=0.8)))
    assert "first-fret-unread" not in codes(read_one(plain(), lettering("C", unread=0.8))), "the label settles it"


def test_no_nut_no_number_and_no_open_string() -> None:
    floating, nailed = look("2223", nut=0.01), look("2223", nut=0.99)
    assert "first-fret-unread" in codes(read_one(floating))
    assert "check that the first space is fret 1" in read_one(floating).flags[0].detail
    assert "first-fret-unread" not in codes(read_one(nailed))
    # an open string or a label that agrees says where the window lies
    assert "first-fret-unread" not in codes(read_one(look("o223", nut=0.01)))
    assert "first-fret-unread" not in codes(read_one(floating, lettering("D7")))


def test_a_grid_that_alone_has_neither_label_nor_number() -> None:
    numbered = [seen(look(s, nut=0.01, first=5), lettering(name, number=n)) for s, name, n in (
        ("1113", "Bb", 5), ("1112", "D7", 2), ("o121", "Am", 7),
    )]  # fmt: skip
    alone = seen(look("o123", nut=0.01))
    reading = interpret([*numbered, alone], ReadSettings())[3]
    assert codes(reading) == ["first-fret-unread"]
    assert "this page has both" in reading.flags[0].detail
    assert codes(interpret([*numbered, seen(look("o123"))], ReadSettings())[3]) == [], "it has a nut"
    plain_page = [seen(look(s, nut=0.01), lettering(n)) for s, n in (("ooo3", "C"), ("2o1o", "F"), ("o212", "G7"))]
    assert codes(interpret([*plain_page, alone], ReadSettings())[3]) == [], "nobody writes numbers there"


def test_a_page_whose_labels_agree_settles_grids_without_a_nut() -> None:
    others = [seen(look("ooo3", nut=0.01), lettering("C")), seen(look("2o1o", nut=0.01), lettering("F"))]
    lone = seen(look("2223", nut=0.01))
    assert "first-fret-unread" not in codes(interpret([*others, lone], ReadSettings())[2])


@pytest.mark.parametrize("rows", [3, 4, 5])
def test_a_grid_without_any_mark_may_be_meant_to_be_empty(rows: int) -> None:
    reading = read_one(look("----", rows=rows))
    assert codes(reading)[0] == "nothing-drawn"
    assert reading.flags[0].detail == "No mark is drawn on this grid: check whether it is meant to be empty."


def test_an_open_shape_with_marks_or_the_right_label_is_drawn() -> None:
    assert "nothing-drawn" not in codes(read_one(look("oooo"), lettering("Am7")))
    assert "nothing-drawn" not in codes(read_one(look("----"), lettering("Am7")))
    assert "nothing-drawn" not in codes(read_one(look("o---")))
    assert "nothing-drawn" not in codes(read_one(look("---3")))


def test_a_grid_to_fill_in_says_which_chord_but_not_how() -> None:
    assert "nothing-drawn" in codes(read_one(look("----"), lettering("G")))


def test_a_barre_alone_is_a_mark() -> None:
    assert "nothing-drawn" not in codes(read_one(look("----", barre=dict.fromkeys(range(4), (2, 0.9)))))


def test_a_label_that_is_no_chord() -> None:
    reading = read_one(plain(), lettering("Chorus"))
    assert codes(reading) == ["label-unread"]
    assert "'Chorus'" in reading.flags[0].detail


def test_a_label_that_differs_from_the_dots() -> None:
    reading = read_one(plain(), lettering("F#m"))
    assert "label-disagrees" in codes(reading)
    assert "F#m" in reading.flags[0].detail
    assert reading.name == "C", "the name comes from the pitch classes alone"


def test_a_label_hardly_read_is_not_held_against_the_dots() -> None:
    hard = replace(lettering(), labels=(("F#m", 0.45), ("F#", 0.35), ("", 0.2)))
    assert "label-unread" in codes(read_one(plain(), hard))


def test_frets_further_apart_than_a_hand_reaches() -> None:
    assert "wide-span" not in codes(read_one(look("15--", rows=6)))
    reading = read_one(look("16--", rows=6))
    assert "wide-span" in codes(reading)
    assert any("Frets 1 to 6" in f.detail for f in reading.flags)


def test_more_stops_than_fingers() -> None:
    assert "too-many-fingers" not in codes(read_one(look("133211")))
    reading = read_one(look("123453", rows=5))
    assert "too-many-fingers" in codes(reading)
    assert any("needs 6 fingers" in f.detail for f in reading.flags)


def test_one_finger_at_two_frets() -> None:
    agreeing = read_one(look("o232", fingers={1: 1, 2: 2, 3: 1}), lettering("G"))
    assert "fingers-disagree" not in codes(agreeing)
    reading = read_one(look("o232", fingers={1: 1, 2: 1, 3: 3}), lettering("G"))
    flag = next(f for f in reading.flags if f.code == "fingers-disagree")
    assert flag.detail.startswith("Finger 1 is written at fret 2 and at fret 3")
    assert (flag.string, flag.fret) == (2, 3)


def test_labels_that_do_not_settle_the_tuning() -> None:
    page = [seen(look(s), lettering(n)) for s, n in (("ooo3", "C"), ("2o1o", "B"), ("o212", "Eb"))]
    found = interpret(page, ReadSettings())
    assert "tuning-uncertain" not in codes(found[0])
    assert any("tuning-uncertain" in codes(r) for r in found[1:])
    told = interpret(page, ReadSettings(tuning="ukulele"))
    assert not any("tuning-uncertain" in codes(r) for r in told)


def test_the_least_sure_string_is_named_as_players_do() -> None:
    grid = look("ooo3", doubts={0: {"o": 0.55, "2": 0.45}})
    reading = read_one(grid)
    flag = next(f for f in reading.flags if f.code == "faint-mark")
    assert flag.detail == "On string 4 the drawing reads as open, but it may be fret 2."
    assert flag.string == 0
    other = next(f for f in read_one(look("o1o3", doubts={1: {"1": 0.55, "2": 0.45}})).flags)
    assert (other.code, other.string) == ("two-marks", 1)
    assert other.detail == "On string 3 the drawing reads as fret 1, but it may be fret 2."


def test_less_is_asked_of_a_reading_when_more_errors_are_allowed() -> None:
    counts = []
    for share in (0.0, 0.003, 0.02):
        page = [seen(look("ooo3", sure=s)) for s in (0.9, 0.97, 0.99, 0.995, 0.999)]
        counts.append(sum(r.accepted for r in interpret(page, ReadSettings(accept_error=share))))
    assert counts == sorted(counts)
    assert counts[0] == 0


@pytest.mark.parametrize(("index", "count", "name"), [(0, 4, "string 4"), (3, 4, "string 1"), (0, 6, "string 6")])
def test_strings_are_numbered_from_the_right(index: int, count: int, name: str) -> None:
    # as MusicXML 4.0 counts them too: string 1 is the highest (leftmost on the staff of a tab is the top line)
    assert string_name(index, count) == name


@pytest.mark.parametrize(
    ("state", "first", "words"),
    [(MUTED, 1, "not played"), (OPEN_MARKED, 5, "open"), (OPEN_BARE, 1, "open"), (FIRST_ROW, 5, "fret 5")],
)
def test_states_in_words(state: int, first: int, words: str) -> None:
    assert state_words(state, first) == words


def test_ink_much_paler_than_the_rest_of_the_page_may_show_through() -> None:
    strong, pale = seen(look("---3"), lettering("C")), replace(seen(look("2-1-")), strength=40.0)
    flags = [[f.code for f in r.flags] for r in interpret([strong, strong, pale], ReadSettings())]
    assert flags[:2] == [[], []]
    assert "weak-grid" in flags[2]
    # a label that its dots agree with was written on this side
    labelled = replace(seen(look("2-1-"), lettering("F")), strength=40.0)
    assert interpret([strong, strong, labelled], ReadSettings())[2].flags == ()


def test_ink_all_of_which_is_much_paler_than_what_is_written_on_the_page_may_show_through() -> None:
    alone = replace(seen(look("2-1-")), strength=40.0)
    assert interpret([alone], ReadSettings())[0].flags == ()
    beside_words = replace(alone, page_strength=180.0)
    assert "weak-grid" in {f.code for f in interpret([beside_words], ReadSettings())[0].flags}


def test_a_label_and_dots_that_were_both_bent_to_fit_each_other() -> None:
    either = look("ooo3", doubts={3: {"2": 0.6, "3": 0.4}})
    around = replace(lettering("C"), labels=(("Dm", 0.6), ("C", 0.4)))
    reading = read_one(either, around)
    assert (str(reading.frame.shape), reading.label) == ("0003", "C")
    assert reading.flags[0].detail.startswith("Label and dots were read to fit each other; each alone reads otherwise")
    moved = read_one(either, lettering("C"))
    assert (str(moved.frame.shape), moved.label) == ("0003", "C")
    assert not any(f.detail.startswith("Label and dots") for f in moved.flags), "the label alone reads so"


def test_without_label_on_a_page_whose_labels_mostly_disagree() -> None:
    wrong = [seen(look(s), lettering(n)) for s, n in (("ooo3", "B"), ("2o1o", "Eb"), ("o212", "Dm"), ("2ooo", "G"))]
    page = interpret([*wrong, seen(look("o232"))], ReadSettings(tuning="ukulele"))
    assert "tuning-uncertain" not in codes(page[4]), "a person said the tuning"
    page = interpret([*wrong, seen(look("o232"))], ReadSettings())
    assert "tuning-uncertain" in codes(page[4])
    right = [seen(look(s), lettering(n)) for s, n in (("ooo3", "C"), ("2o1o", "F"), ("o212", "D"), ("2ooo", "Am"))]
    assert "tuning-uncertain" not in codes(interpret([*right, seen(look("o232"))], ReadSettings())[4])
