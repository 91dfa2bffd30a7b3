"""Open and muted marks drawn at the foot of a grid instead of beside its nut."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from reader.image.levels import Levels, Pixels
from reader.image.marks import MUTED, OPEN_BARE, OPEN_MARKED
from reader.image.regions import Region
from reader.interpret import ReadSettings, interpret
from reader.music.frame import Frame
from reader.pipeline import see

STEP, LEFT, TOP, ROWS = 30, 120, 120, 4
SHAPES = ((None, 3, 2, 0, 1, 0), (None, None, 0, 2, 3, 2), (3, 2, 0, 0, 0, None), (0, 2, 2, 0, 0, None))


def drawn(frets: tuple[int | None, ...], at_foot: bool, marks: bool = True) -> Pixels:
    """A grid on white paper, its open and muted marks beside the nut or at the foot."""
    page = np.full((400, 420, 3), 250, np.uint8)
    right, foot = LEFT + STEP * (len(frets) - 1), TOP + STEP * ROWS
    for s in range(len(frets)):
        cv2.line(page, (LEFT + s * STEP, TOP), (LEFT + s * STEP, foot), (30, 30, 40), 2, cv2.LINE_AA)
    for r in range(ROWS + 1):
        cv2.line(page, (LEFT, TOP + r * STEP), (right, TOP + r * STEP), (30, 30, 40), 6 if r == 0 else 2, cv2.LINE_AA)
    y = foot + 17 if at_foot else TOP - 17
    for s, fret in enumerate(frets):
        x = LEFT + s * STEP
        if fret:
            cv2.circle(page, (x, TOP + STEP * fret - STEP // 2), 9, (30, 30, 40), -1, cv2.LINE_AA)
        elif marks and fret == 0:
            cv2.circle(page, (x, y), 7, (30, 30, 40), 2, cv2.LINE_AA)
        elif marks:
            cv2.line(page, (x - 6, y - 6), (x + 6, y + 6), (30, 30, 40), 2, cv2.LINE_AA)
            cv2.line(page, (x - 6, y + 6), (x + 6, y - 6), (30, 30, 40), 2, cv2.LINE_AA)
    return page


def corners(strings: int) -> np.ndarray:
    """Where ``drawn`` puts the grid."""
    right, foot = LEFT + STEP * (strings - 1), TOP + STEP * ROWS
    return np.array([[LEFT, TOP], [right, TOP], [right, foot], [LEFT, foot]], float)


def read(page: Pixels, strings: int) -> tuple[Frame, np.ndarray]:
    """Frame and states per string of the one grid."""
    seen = see(Levels(page), [Region(corners(strings), 0.9)], strict=False)
    return interpret(seen, ReadSettings())[0].frame, seen[0].look.states[:strings].argmax(1)


@pytest.mark.parametrize("frets", SHAPES)
def test_marks_at_the_foot_say_the_same_as_beside_the_nut(frets: tuple[int | None, ...]) -> None:
    above, foot = (read(drawn(frets, at_foot), len(frets)) for at_foot in (False, True))
    assert above[0].frets == foot[0].frets == frets
    assert (above[1] == foot[1]).all()


def test_nothing_at_the_foot_leaves_a_string_bare() -> None:
    frame, states = read(drawn((0, 2, 2, 0, 0, 0), at_foot=True, marks=False), 6)
    assert frame.frets == (0, 2, 2, 0, 0, 0)
    assert [int(s) for s in states[[0, 3, 4, 5]]] == [OPEN_BARE] * 4


def test_a_string_that_runs_on_below_the_foot_is_no_mark() -> None:
    page = drawn((0, 2, 2, 0, 0, 0), at_foot=True, marks=False)
    cv2.line(page, (LEFT, TOP), (LEFT, TOP + STEP * (ROWS + 1)), (30, 30, 40), 2, cv2.LINE_AA)
    _, states = read(page, 6)
    assert states[0] not in (MUTED, OPEN_MARKED)
