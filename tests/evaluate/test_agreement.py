"""One reading against one drawing, each question with a yes and a no."""

import pytest
from page_samples import diagram, tab

from reader.evaluate import agreement
from reader.evaluate.agreement import Notes
from reader.reading import diagram_from_object, tab_from_object

C = diagram_from_object(diagram())
BARRED = diagram_from_object(diagram(barres=[{"fret": 1, "from_string": 4, "to_string": 1}]))


def notes(*pairs: tuple[int, int | None]) -> Notes:
    return frozenset(pairs)


def test_frets_must_all_be_right() -> None:
    assert agreement.same_frets(C.frame, diagram_from_object(diagram(fingers=[None] * 4)).frame)
    assert not agreement.same_frets(C.frame, diagram_from_object(diagram(frets=[0, 0, 0, 2])).frame)
    # Muted is not open.
    assert not agreement.same_frets(C.frame, diagram_from_object(diagram(frets=[None, 0, 0, 3])).frame)


def test_fingers_must_all_be_right() -> None:
    assert agreement.same_fingers(C.frame, C.frame)
    assert not agreement.same_fingers(C.frame, diagram_from_object(diagram(fingers=[None, None, 1, 3])).frame)
    assert agreement.has_fingers(C.frame)
    assert not agreement.has_fingers(diagram_from_object(diagram(fingers=[None] * 4)).frame)


def test_barres_agree_whichever_end_is_named_first() -> None:
    other_end = diagram_from_object(diagram(barres=[{"fret": 1, "from_string": 1, "to_string": 4}]))
    shorter = diagram_from_object(diagram(barres=[{"fret": 1, "from_string": 3, "to_string": 1}]))
    assert agreement.same_barres(BARRED.frame, other_end.frame)
    assert not agreement.same_barres(BARRED.frame, shorter.frame)
    assert not agreement.same_barres(BARRED.frame, C.frame)


@pytest.mark.parametrize(
    ("corners", "side"),
    [
        ([(0, 0), (4, 0), (4, 9), (0, 9)], "top"),
        ([(4, 9), (0, 9), (0, 0), (4, 0)], "bottom"),
        ([(0, 4), (0, 0), (9, 0), (9, 4)], "left"),
        ([(9, 0), (9, 4), (0, 4), (0, 0)], "right"),
    ],
)
def test_way_up(corners: list[tuple[float, float]], side: str) -> None:
    assert agreement.way_up(corners) == side


def test_corner_error_is_in_fret_spaces() -> None:
    # Every corner 5 pixels to the right where a fret space is 20 high; then one corner of four.
    all_moved = [(x + 5, y) for x, y in C.corners]
    assert agreement.corner_error(C, all_moved) == pytest.approx(0.25)
    assert agreement.corner_error(C, [all_moved[0], *C.corners[1:]]) == pytest.approx(0.25 / 4)


def test_corner_error_of_a_flat_drawing_is_unknown() -> None:
    flat = diagram_from_object(diagram(corners=[[0, 0], [9, 0], [9, 0], [0, 0]]))
    assert agreement.corner_error(flat, C.corners) is None


def test_struck_notes_leave_silent_events_out() -> None:
    read = tab_from_object(tab({1: 3, 2: None}, {}, {4: 0}))
    assert agreement.struck_notes(read) == [notes((1, 3), (2, None)), notes((4, 0))]
    assert agreement.count_notes(agreement.struck_notes(read)) == 3


@pytest.mark.parametrize(
    ("read", "shared"),
    [
        ([notes((1, 0)), notes((2, 1)), notes((3, 2))], 3),
        ([notes((1, 0)), notes((9, 9)), notes((2, 1)), notes((3, 2))], 3),  # one too many
        ([notes((1, 0)), notes((3, 2))], 2),  # one left out
        ([notes((2, 1)), notes((1, 0)), notes((3, 2))], 2),  # order counts
        ([notes((1, 0), (2, 1)), notes((3, 2))], 2),  # two events run together share one of them
        ([], 0),
    ],
)
def test_shared_notes_keep_the_order(read: list[Notes], shared: int) -> None:
    drawn = [notes((1, 0)), notes((2, 1)), notes((3, 2))]
    assert agreement.shared_notes(drawn, read) == shared
    assert agreement.shared_notes(read, drawn) == shared
