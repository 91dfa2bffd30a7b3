"""Fingers: the usual ones, what a hand can do, and what a change asks."""

from __future__ import annotations

import pytest

from reader.music.drawn_fingers import hand_problem
from reader.music.fingering import Fingering, change, easiest_change, usual_fingerings
from reader.music.frame import Barre, Finger, Frame
from reader.music.hand import fret_distance_mm
from reader.music.shape import Shape
from reader.music.tuning import get_tuning

UKULELE, GUITAR = get_tuning("ukulele"), get_tuning("guitar")

# Facts: common practice on the ukulele, no source; a dot for no finger, several where players differ.
UKULELE_FINGERS = {
    **{"2100": "21..", "0100": ".1..", "2000": "2...", "0000": "....", "3211": "3211", "2322": "1211"},
    **{"4222": "3111 4111", "0003": "...3", "0001": "...1", "2220": "123. 234.", "2223": "1112", "2020": "2.3."},
    **{"2210": "231.", "4442": "2341", "1202": "12.3", "0432": ".321", "2010": "2.1.", "0232": ".132", "0212": ".213"},
}

# The shapes of every guitar primer (common practice, no source).
GUITAR_FINGERS = {
    **{"x32010": ".32.1.", "022100": ".231..", "022000": ".23... .12...", "x02210": "..231.", "xx0232": "...132"},
    **{
        "xx0231": "...231",
        "320003": "21...3 32...4",
        "320001": "32...1",
        "xx0212": "...213",
        "x02220": "..123. ..234.",
    },
    **{
        "x02020": "..2.3. ..1.2.",
        "133211": "134211",
        "x24442": ".13331 .12341",
        "x24432": ".13421",
        "244222": "134111",
    },
    **{"x21202": ".213.4", "020100": ".2.1..", "x32310": ".3241.", "xx3211": "..3211", "xx0211": "...211"},
    **{"x02010": "..2.1.", "x20202": ".1.2.3", "200232": "1..243 2..143 T..132"},
}


def written(fingering: Fingering) -> str:
    return "".join("." if f is None else str(f) for f in fingering.fingers)


def place(shape: str, tuning: str, usual: str) -> int:
    found = [written(f) for f in usual_fingerings(Shape.parse(shape), get_tuning(tuning))]
    return min((found.index(u) for u in usual.split() if u in found), default=99)


@pytest.mark.parametrize(("tuning", "table"), [("ukulele", UKULELE_FINGERS), ("guitar", GUITAR_FINGERS)])
def test_usual_fingers_come_first_or_second(tuning: str, table: dict[str, str]) -> None:
    late = {shape: place(shape, tuning, usual) for shape, usual in table.items() if place(shape, tuning, usual) > 1}
    assert len(late) <= 0.05 * len(table), late


@pytest.mark.parametrize(
    ("shape", "tuning", "barres"),
    [
        ("133211", "guitar", (Barre(1, 6, 1),)),
        ("x24432", "guitar", (Barre(2, 5, 1),)),
        ("3211", "ukulele", (Barre(1, 2, 1),)),
        ("2223", "ukulele", (Barre(2, 4, 1),)),  # drawn across, although the first string is stopped higher
        ("2220", "ukulele", ()),
    ],
)
def test_barres(shape: str, tuning: str, barres: tuple[Barre, ...]) -> None:
    assert usual_fingerings(Shape.parse(shape), get_tuning(tuning))[0].barres == barres


def test_no_finger_lies_across_an_open_string() -> None:
    for fingering in usual_fingerings(Shape.parse("2020"), UKULELE, most=50):
        assert len({f for f in fingering.fingers if f}) == 2


def test_impossible_shapes_have_no_fingering() -> None:
    assert usual_fingerings(Shape.parse("012345"), GUITAR) == ()
    assert usual_fingerings(Shape.parse("1-x-x-x-x-12"), GUITAR) == ()


def test_reach_depends_on_the_instrument() -> None:
    wide = Shape.parse("1xx6")
    assert usual_fingerings(wide, UKULELE)
    assert usual_fingerings(wide, get_tuning("bass")) == ()


def test_difficulty() -> None:
    def level(shape: str, tuning: str) -> str:
        return usual_fingerings(Shape.parse(shape), get_tuning(tuning))[0].difficulty.level

    assert [level(s, "ukulele") for s in ("0003", "0232", "3211", "4442")] == ["easy", "easy", "medium", "medium"]
    assert [level(s, "guitar") for s in ("022000", "x21202", "133211")] == ["easy", "medium", "hard"]
    hard = usual_fingerings(Shape.parse("3x443x"), GUITAR)[0].difficulty
    assert hard.skipped_strings == 1
    assert hard.stretch_mm == pytest.approx(648 * (2 ** (-3 / 12) - 2 ** (-4 / 12)), abs=0.1)


@pytest.mark.parametrize(("fret", "share"), [(5, 0.250846), (7, 0.332580), (12, 0.5)])
def test_fret_distances(fret: int, share: float) -> None:
    # facts: nut to fret n is L(1 - 2^(-n/12))
    assert fret_distance_mm(GUITAR, 0, fret) == pytest.approx(648 * share, abs=1e-3)


# ---------------------------------------------------------------- drawn fingers


def frame(shape: str, fingers: str) -> Frame:
    drawn: list[Finger] = [None if f == "." else "T" if f == "T" else int(f) for f in fingers]
    frets = Shape.parse(shape).frets
    return Frame(frets, tuple(drawn), fret_count=max((f for f in frets if f), default=4))


@pytest.mark.parametrize(("shape", "fingers"), [(s, f.split()[0]) for s, f in UKULELE_FINGERS.items()])
def test_usual_fingers_are_possible(shape: str, fingers: str) -> None:
    assert hand_problem(frame(shape, fingers), UKULELE) is None


@pytest.mark.parametrize(
    ("shape", "fingers", "tuning", "problem"),
    [
        ("0232", ".312", "ukulele", "Finger 1 would stand at fret 3, above finger 3 at fret 2."),
        ("0232", ".122", "ukulele", "Finger 2 would stand at frets 2 and 3 at once."),
        ("2020", "2.2.", "ukulele", "Finger 2 would lie across a string that must sound below fret 2."),
        ("0003", "1..3", "ukulele", "Finger 1 is written for string 4, which is open."),
        ("x32010", "332.1.", "guitar", "Finger 3 is written for string 6, which is not played."),
        (
            "1xxx6x",
            "1...2.",
            "guitar",
            "Fingers 1 and 2 would be 153 mm apart on Guitar, standard: few hands reach that.",
        ),
        (
            *("123456", "......", "guitar"),
            "No hand fingers 123456 on Guitar, standard: it takes more than four fingers or too wide a reach.",
        ),
        ("30000", ".....", "banjo", "String 5 of Five-string banjo, open G begins at fret 5: it has no fret 3."),
    ],
)
def test_impossible_hands(shape: str, fingers: str, tuning: str, problem: str) -> None:
    assert hand_problem(frame(shape, fingers), get_tuning(tuning)) == problem


def test_a_barre_over_an_open_string() -> None:
    barred = Frame((2, 2, 0, 2), (1, 1, None, 1), fret_count=4, barres=(Barre(2, 4, 1),))
    assert hand_problem(barred, UKULELE) == "The barre at fret 2 would stop string 2, drawn at fret 0."


def test_the_thumb_may_go_anywhere() -> None:
    assert hand_problem(frame("200232", "T..132"), GUITAR) is None


# ---------------------------------------------------------------- changes


def test_changes() -> None:
    a_minor, f_major = (usual_fingerings(Shape.parse(s), UKULELE)[0] for s in ("2000", "2010"))
    step = change(a_minor, f_major)
    assert (step.stay, step.land, step.slide, step.move, step.lift) == ((2,), (1,), (), (), ())
    assert change(f_major, a_minor).lift == (1,)
    assert change(f_major, f_major).cost == 0


def test_a_sliding_finger_keeps_its_string() -> None:
    low, high = (usual_fingerings(Shape.parse(s), UKULELE)[0] for s in ("2223", "4445"))
    assert change(low, high).slide == (1, 2)


def test_the_easiest_change_chooses_among_fingerings() -> None:
    step = easiest_change(Shape.parse("0003"), Shape.parse("0433"), UKULELE)
    assert step is not None
    assert step.cost <= min(
        change(a, b).cost
        for a in usual_fingerings(Shape.parse("0003"), UKULELE)[:1]
        for b in usual_fingerings(Shape.parse("0433"), UKULELE)[:1]
    )
    assert easiest_change(Shape.parse("012345"), Shape.parse("022000"), GUITAR) is None
