"""The redrawing on the picture: strings and frets on those of the grid, marks of flags where they belong."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st
from library_samples import frame_of

from reader.export.drawing import Box
from reader.music.frame import Frame
from reader.reading import Flag
from reader.review.laying import Lattice, Spot, cells, lattice_of, redrawing, rings
from reader.review.pictures import spot_of

GRID = Box(120.0, 90.0, 270.0, 290.0)
SPOT = Spot(GRID, 400, 400)


def window(shape: str, first: int, rows: int) -> Frame:
    frets = frame_of(shape).frets
    return Frame(frets, (None,) * len(frets), rows, first)


def strokes(svg: str) -> list[tuple[float, ...]]:
    return [tuple(map(float, m)) for m in re.findall(r'd="M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)"', svg)]


def discs(svg: str) -> list[tuple[float, float]]:
    found = re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="[\d.]+" fill="#4a2fb0"', svg)
    return [(float(x), float(y)) for x, y in found]


@given(st.floats(40, 160), st.floats(40, 160), st.integers(60, 200), st.integers(60, 200), st.integers(2, 6))
def test_lines_lie_on_the_grid(left: float, top: float, wide: int, tall: int, rows: int) -> None:
    grid = Box(left, top, left + wide, top + tall)
    frame = window("0212", 1, rows)
    lines = strokes(redrawing(frame, lattice_of(frame, Spot(grid, 400, 496))))
    strings = sorted({x1 for x1, y1, x2, y2 in lines if abs(x1 - x2) < 0.01})
    frets = sorted({y1 for x1, y1, x2, y2 in lines if abs(y1 - y2) < 0.01})
    assert strings == pytest.approx([left + wide * i / 3 for i in range(4)], abs=0.01)
    assert frets == pytest.approx([top + tall * i / rows for i in range(rows + 1)], abs=0.01)


def test_dots_lie_in_their_cells() -> None:
    frame = window("x-5-7-5", 5, 4)
    lattice = lattice_of(frame, SPOT)
    for (x, y), (string, fret) in zip(discs(redrawing(frame, lattice)), [(1, 5), (2, 7), (3, 5)], strict=True):
        box = lattice.cell(string, fret)
        assert box.left < x < box.right
        assert box.top < y < box.bottom


def test_a_stop_outside_the_window_is_drawn_outside_the_grid() -> None:
    frame = window("0007", 1, 4)
    ((_, y),) = discs(redrawing(frame, lattice_of(frame, SPOT)))
    assert y > GRID.bottom + 2 * (GRID.bottom - GRID.top) / 4


def test_cells_cover_the_grid_without_overlap() -> None:
    lattice = Lattice(SPOT, 4, 4, 3)
    found = {(c.string, c.fret): c.box for c in cells(lattice)}
    assert found.keys() == {(s, f) for s in range(4) for f in (0, 3, 4, 5, 6)}
    assert found[0, 3].top == GRID.top
    assert found[3, 6].bottom == pytest.approx(GRID.bottom)
    for string in range(4):
        for upper, lower in ((0, 3), (3, 4), (4, 5), (5, 6)):
            assert found[string, upper].bottom == pytest.approx(found[string, lower].top)


@pytest.mark.parametrize(
    ("flag", "inside"),
    [
        (Flag("faint-mark", "", 1, 2), (170, 165)),
        (Flag("two-marks", "", 3, None), (270, 200)),
        (Flag("faint-mark", "", 0, 0), (120, 70)),
        (Flag("first-fret-unread", "", None, 1), (70, 115)),
        (Flag("label-disagrees", ""), (195, 20)),
        (Flag("weak-grid", ""), (195, 190)),
        (Flag("faint-mark", "", 9, 2), (195, 190)),
    ],
)
def test_flags_point_at_their_place(flag: Flag, inside: tuple[float, float]) -> None:
    (ring,) = rings([flag], Lattice(SPOT, 4, 4, 1))
    assert ring.numbers == (1,)
    assert ring.box.left < inside[0] < ring.box.right
    assert ring.box.top < inside[1] < ring.box.bottom


@pytest.mark.parametrize(
    ("label", "inside"),
    [
        (Box(170.0, 320.0, 220.0, 345.0), (195, 332)),  # below
        (Box(30.0, 150.0, 90.0, 180.0), (60, 165)),  # left
        (Box(-40.0, 150.0, -5.0, 180.0), (20, 165)),  # beyond the picture: as near as it goes
    ],
)
def test_a_flag_about_the_label_points_at_the_label(label: Box, inside: tuple[float, float]) -> None:
    spot = Spot(GRID, 400, 400, label)
    (ring,) = rings([Flag("label-unread", "")], Lattice(spot, 4, 4, 1))
    assert ring.box.left < inside[0] < ring.box.right
    assert ring.box.top < inside[1] < ring.box.bottom
    assert (ring.box.left, ring.box.top) >= (14.0, 14.0)


def test_the_label_is_placed_in_the_picture() -> None:
    corners = ((100.0, 100.0), (200.0, 100.0), (200.0, 220.0), (100.0, 220.0))
    spot = spot_of(corners, label_at=((120.0, 240.0), (180.0, 240.0), (180.0, 260.0), (120.0, 260.0)))
    scale = (spot.grid.bottom - spot.grid.top) / 120
    assert spot.label is not None
    assert spot.label.top == pytest.approx(spot.grid.bottom + 20 * scale, abs=0.01)
    assert spot.label.left == pytest.approx(spot.grid.left + 20 * scale, abs=0.01)
    assert spot_of(corners).label is None


def test_flags_at_one_place_share_a_ring() -> None:
    flags = [Flag("weak-grid", ""), Flag("faint-mark", "", 1, 2), Flag("tuning-uncertain", "")]
    found = rings(flags, Lattice(SPOT, 4, 4, 1))
    assert [ring.numbers for ring in found] == [(1, 3), (2,)]
