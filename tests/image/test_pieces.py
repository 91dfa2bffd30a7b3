"""Close looks: what they change, what they leave, and what they see on drawn grids."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from reading_samples import drawn_page, page_of, picture

from reader.image.crops import PIECE_SIZE, PIECE_SPAN, grid_unit, piece_matrix
from reader.image.marks import FINGERS, FIRST_ROW, OPEN_BARE, SIGNS, Look, no_signs
from reader.image.pieces import ABOVE, BELOW, Place, _either, _places, _told
from reader.music.frame import Frame
from reader.pipeline import read_page

CORNERS = np.array([[10.0, 20], [70, 20], [70, 110], [10, 110]])


def look(states: list[int]) -> Look:
    """A look that is quite sure of these states and of no finger."""
    table = np.full((8, 12), 0.01)
    for s in range(8):
        table[s, states[s] if s < len(states) else 0] = 0.89
    fingers = np.tile([0.6, 0.1, 0.1, 0.1, 0.05, 0.05], (8, 1))
    counts = np.eye(9)
    return Look(
        CORNERS, table, fingers, np.tile(np.eye(9)[0], (8, 1)), counts[len(states)], counts[3], np.eye(25)[1], 1.0,
        np.array([1.0, 0, 0]), np.array([1.0, 0, 0, 0]), 0.0,
    )  # fmt: skip


def said(here: float, sign: int) -> np.ndarray:
    out = np.full(1 + SIGNS, -4.0, np.float32)
    out[0], out[1 + sign] = here, 4.0
    return out


def test_a_piece_shows_its_place_in_the_middle_and_the_span_around_it() -> None:
    unit, cell = grid_unit(CORNERS, 4, 3)
    assert (unit, cell) == (20.0, 30.0)
    matrix = piece_matrix(CORNERS, 4, 3, 1, 0.5)
    middle = matrix @ [30.0, 35.0, 1.0]
    assert middle[:2] / middle[2] == pytest.approx([PIECE_SIZE / 2] * 2)
    assert np.hypot(matrix[0, 0], matrix[0, 1]) == pytest.approx(PIECE_SIZE / (PIECE_SPAN * 20.0))


def test_a_sign_at_the_stop_or_below_its_string_is_its_finger() -> None:
    before = look([FIRST_ROW + 1, OPEN_BARE, OPEN_BARE, FIRST_ROW])
    seen = {Place(0, 0, 2): said(5, 3), Place(0, 0, 0): said(-5, 0)}
    seen |= {Place(0, 3, 1): said(5, 0), Place(0, 3, 0): said(-5, 2)}
    after = _told(0, before, seen)
    assert after.signs[0].argmax() == 3
    assert after.signs[3].argmax() == 2
    assert after.fingers[0].argmax() == 3
    assert after.fingers[3].argmax() == 2
    assert np.allclose(after.fingers.sum(1), 1)
    assert after.signs[1, 0] == 1.0


def test_a_row_of_fingers_may_stand_above_the_nut() -> None:
    before = look([FIRST_ROW + 1, OPEN_BARE, OPEN_BARE, OPEN_BARE])
    places = _places(0, before, 4, 3)
    assert {p.row for p in places if p.string == 0} >= {2, BELOW, ABOVE}
    seen = {Place(0, 0, 2): said(5, 0), Place(0, 0, BELOW): said(-5, 0), Place(0, 0, ABOVE): said(-5, 4)}
    assert _told(0, before, seen).fingers[0].argmax() == 4
    no_finger = replace(before, fingers=np.tile(np.eye(FINGERS)[0], (8, 1)))
    assert not any(p.row == ABOVE for p in _places(0, no_finger, 4, 3)), "nothing hints at one"


def test_a_close_look_that_denies_a_stop_makes_it_doubtful() -> None:
    before = look([FIRST_ROW + 1, OPEN_BARE, OPEN_BARE, OPEN_BARE])
    kept = _told(0, before, {Place(0, 0, 2): said(6, 0), Place(0, 0, 0): said(-5, 0)})
    denied = _told(0, before, {Place(0, 0, 2): said(-6, 0), Place(0, 0, 0): said(-5, 0)})
    stop = FIRST_ROW + 1
    assert denied.states[0, stop] < before.states[0, stop] < kept.states[0, stop]
    assert denied.close < 0.01
    assert kept.close > 0.99


def test_without_close_looks_nothing_changes() -> None:
    before = look([OPEN_BARE] * 4)
    after = _told(0, before, {})
    assert np.allclose(after.states, before.states / before.states.sum(1, keepdims=True))
    assert np.array_equal(after.signs, no_signs())
    assert after.close == 1.0
    assert replace(after, states=before.states).nut == before.nut


def test_either_place_tells_the_sign() -> None:
    none, three = np.full(SIGNS, 0.01), np.full(SIGNS, 0.01)
    none[0] = three[3] = 1 - 0.01 * (SIGNS - 1)
    assert _either([none, three]).argmax() == _either([three, none, none]).argmax() == 3
    assert _either([none, none]).argmax() == 0
    assert len(no_signs()[0][:FINGERS]) == FINGERS


def test_fingers_written_in_dots_are_read() -> None:
    frames = [Frame((0, 2, 3, 1), (None, 2, 3, 1), 4, 1), Frame((2, 2, 1, 4), (2, 3, 1, 4), 4, 1)]
    readings = read_page(page_of(picture(drawn_page([("", f) for f in frames])))).diagrams
    assert [r.frame.fingers for r in readings] == [f.fingers for f in frames]
