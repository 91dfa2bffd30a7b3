"""Changes of a tab: numbers, brackets, missed groups, wrong lines; and where all of it lies on the picture."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from library_samples import make_tab

from reader.errors import NotationError
from reader.image.cutouts import tab_places
from reader.reading import Flag, TabEvent, TabNote, TabReading, tab_from_object, tab_to_object
from reader.review.tab_edits import apply_edit, tab_from, without_empty
from reader.review.tab_laying import LaidTab, places_of
from reader.review.tab_view import tab_rings

FLAT = replace(
    make_tab(),
    corners=((100, 50), (700, 50), (700, 110), (100, 110)),
    events=(
        TabEvent(200.0, (TabNote(1, 3, at=(201.0, 50.0)), TabNote(2, 0, 0.5, at=(199.0, 70.0)))),
        TabEvent(400.0, (TabNote(4, 12, at=(400.0, 110.0)),)),
    ),
    bar_lines=(690.0,),
)


def numbers(tab: TabReading) -> list[list[tuple[int, int | None, bool]]]:
    return [[(n.string, n.fret, n.ghost) for n in e.notes] for e in tab.events]


def edited(tab: TabReading, name: str, **values: Any) -> TabReading:
    return apply_edit(tab, name, values)


# ---------------------------------------------------------------- edits


@pytest.mark.parametrize(
    ("place", "text", "expected"),
    [
        ((0, 1), "7", [(1, 7, False), (2, 0, False)]),
        ((0, 1), " X ", [(1, None, False), (2, 0, False)]),
        ((0, 2), "(0)", [(1, 3, False), (2, 0, True)]),
        ((0, 2), "", [(1, 3, False)]),
        ((0, 4), "24", [(1, 3, False), (2, 0, False), (4, 24, False)]),
    ],
)
def test_numbers_are_written_over(
    place: tuple[int, int], text: str, expected: list[tuple[int, int | None, bool]]
) -> None:
    changed = edited(FLAT, "number", event=place[0], string=place[1], text=text)
    assert numbers(changed)[0] == expected
    assert numbers(changed)[1] == numbers(FLAT)[1]


def test_a_corrected_number_stays_in_its_place_and_is_sure() -> None:
    (_, note) = edited(FLAT, "number", event=0, string=2, text="5").events[0].notes
    assert (note.at, note.confidence) == ((199.0, 70.0), 1.0)


def test_writing_what_stands_changes_nothing() -> None:
    """A number in doubt that is typed again as it was is kept by keeping the tab, not by a correction."""
    assert edited(FLAT, "number", event=0, string=2, text="0") == FLAT


def test_brackets_come_and_go() -> None:
    once = edited(FLAT, "ghost", event=1, string=4)
    assert numbers(once)[1] == [(4, 12, True)]
    assert edited(once, "ghost", event=1, string=4) == FLAT


def test_a_missed_group_comes_in_its_order_and_goes_when_it_stays_empty() -> None:
    added = edited(FLAT, "event", x=300.0)
    assert [e.x for e in added.events] == [200.0, 300.0, 400.0]
    assert without_empty(added) == FLAT
    filled = edited(added, "number", event=1, string=3, text="2")
    assert numbers(without_empty(filled))[1] == [(3, 2, False)]


@pytest.mark.parametrize("edge", ["top", "bottom"])
def test_a_line_more_and_a_line_less(edge: str) -> None:
    more = edited(FLAT, "add-line", edge=edge)
    assert (more.line_count, more.tuning) == (5, "banjo")
    assert [y for _, y in more.corners] == ([30, 30, 110, 110] if edge == "top" else [50, 50, 130, 130])
    assert [n.string for e in more.events for n in e.notes] == ([2, 3, 5] if edge == "top" else [1, 2, 4])
    assert replace(edited(more, "drop-line", edge=edge), tuning=FLAT.tuning) == FLAT


@pytest.mark.parametrize(
    ("name", "values", "message"),
    [
        ("number", {"event": 0, "string": 1, "text": "q"}, "'q' is no fret"),
        ("number", {"event": 0, "string": 1, "text": "25"}, "write 0 to 24"),
        ("number", {"event": 9, "string": 1, "text": "1"}, "outside the tab"),
        ("ghost", {"event": 0, "string": 3}, "No number stands here"),
        ("drop-line", {"edge": "top"}, "at least 4 lines"),
        ("tuning", {"text": "guitar"}, "has 6 strings, this tab has 4 lines"),
        ("number", {"event": 0}, "values that do not fit"),
        ("rub-out", {}, "is no edit"),
    ],
)
def test_what_makes_no_tab_is_refused(name: str, values: dict[str, Any], message: str) -> None:
    with pytest.raises(NotationError, match=message):
        apply_edit(FLAT, name, values)


def test_a_line_with_numbers_is_not_dropped() -> None:
    more = edited(FLAT, "add-line", edge="bottom")
    with pytest.raises(NotationError, match="Numbers stand on line 1"):
        edited(more, "drop-line", edge="top")


@pytest.mark.parametrize(
    "wrong",
    [{}, {"corners": []}, {"line_count": 40}, {"events": [{"x": 1, "notes": [{"string": 9, "fret": 0}]}]}],
)
def test_a_broken_tab_is_refused(wrong: dict[str, Any]) -> None:
    data = {**tab_to_object(FLAT), **wrong} if wrong else {}
    with pytest.raises(NotationError, match="The tab sent"):
        tab_from(data)


def test_places_and_groups_survive_their_json_form() -> None:
    tab = replace(FLAT, flags=(Flag("tab-number-unsure", "It may be 1.", string=1, group=0),))
    assert tab_from_object(tab_to_object(tab)) == tab


# ---------------------------------------------------------------- on the picture


def test_numbers_lie_where_they_were_read() -> None:
    laid = LaidTab(FLAT, places_of(FLAT))
    for spot in laid.spots():
        if spot.note is not None and spot.note.at is not None:
            assert laid.places.on_page(np.array([[spot.x, spot.y]]))[0] == pytest.approx(spot.note.at, abs=0.01)


def test_empty_places_lie_on_their_line_at_their_group() -> None:
    laid = LaidTab(FLAT, places_of(FLAT))
    spots = {(s.event, s.string): laid.places.on_page(np.array([[s.x, s.y]]))[0] for s in laid.spots()}
    assert spots[0, 3] == pytest.approx((200, 90), abs=0.01)
    assert spots[1, 1] == pytest.approx((400, 50), abs=0.01)
    assert len(spots) == 8


@given(st.floats(0, 25), st.floats(-20, 20))
def test_lines_are_bent_as_the_sheet_is(bow: float, tilt: float) -> None:
    """A sheet bent like half a wave and tilted: every line runs within a tenth of a gap of where it was drawn."""

    def on_page(x: float, string: int) -> tuple[float, float]:
        return x, 50 + 20 * (string - 1) + tilt * x / 600 + bow * float(np.sin(np.pi * (x - 100) / 600))

    ends = [on_page(x, s) for x, s in ((100, 1), (700, 1), (700, 4), (100, 4))]
    events = tuple(TabEvent(x, (TabNote(2, 1, at=on_page(x, 2)),)) for x in np.arange(130.0, 700.0, 30.0))
    tab = replace(FLAT, corners=tuple(ends), events=events)
    laid = LaidTab(tab, places_of(tab))
    for x in np.arange(115.0, 690.0, 23.0):
        for string in (1, 4):
            column, row = laid.places.in_picture(np.array([on_page(x, string)]))[0]
            assert abs(laid.line_y(string, column) - row) < 0.1 * laid.places.gap
    for x in (240.0, 655.0):
        added = replace(tab, events=(TabEvent(x, ()),))
        assert LaidTab(added, laid.places).page_x(LaidTab(added, laid.places).event_x[0]) == pytest.approx(x, abs=0.1)


def test_a_library_from_before_has_its_numbers_on_straight_lines() -> None:
    """Readings kept before numbers had a place of their own."""
    bare = tuple(replace(e, notes=tuple(replace(n, at=None) for n in e.notes)) for e in FLAT.events)
    laid = LaidTab(replace(FLAT, events=bare), places_of(FLAT))
    on_page = [tuple(laid.places.on_page(np.array([[s.x, s.y]]))[0].round(1)) for s in laid.spots() if s.note]
    assert on_page == [(200.0, 50.0), (200.0, 70.0), (400.0, 110.0)]


def test_a_corrected_tab_lies_on_the_picture_cut_by_what_was_read() -> None:
    more = edited(FLAT, "add-line", edge="top")
    laid = LaidTab(more, tab_places(np.array(FLAT.corners, float), FLAT.line_count))
    assert laid.line_y(2, 300.0) == pytest.approx(LaidTab(FLAT, laid.places).line_y(1, 300.0))


def test_flags_ring_their_numbers() -> None:
    flags = (
        Flag("tab-ink", "1 mark."),
        Flag("tab-number-unsure", "It may be 1.", string=1, group=0),
        Flag("tab-hand", "Too far.", group=1),
        Flag("tab-number-unsure", "Or 2.", string=1, group=0),
    )
    laid = LaidTab(FLAT, places_of(FLAT))
    found = tab_rings(flags, laid)
    assert [r.numbers for r in found] == [(2, 4), (3,)]
    spot = next(s for s in laid.spots() if (s.event, s.string) == (0, 2))
    assert found[0].left < spot.x < found[0].left + found[0].width
    assert found[0].top < spot.y < found[0].top + found[0].height < laid.line_y(3, spot.x)
    assert found[1].height > 3 * laid.places.gap
