"""Whole pages of tab read with the shipped networks: our own clean drawings, photographed, and pages without tab."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from PIL import Image
from tab_samples import group

from reader.export.drawing import Drawing, Line
from reader.export.png import to_png
from reader.export.tab_drawing import draw_tab
from reader.image.engines import load_engine
from reader.interpret_tabs import read_tabs
from reader.music.tab import Group, Measure, Tab


def scale_tab(lines: int) -> Tab:
    """One digit and two, single notes and a chord, three measures."""
    single = [group((s, f)) for s, f in ((1, 0), (2, 3), (3, 12), (4, 7), (2, 10), (1, 15))]
    chord = Group(tuple(n for s in range(1, lines + 1) for n in group((s, (s * 2) % 10)).notes))
    first, second = Measure(tuple(single[:4])), Measure((chord, *single[4:]))
    return Tab(lines, (first, second, Measure((*single[:2], chord), "final")), {4: "ukulele", 6: "guitar"}[lines])


def picture_of(drawing: Drawing, dpi: int = 150) -> np.ndarray:
    with Image.open(io.BytesIO(to_png(drawing, dpi))) as image:
        return np.asarray(image.convert("RGB"))


def photographed(page: np.ndarray) -> np.ndarray:
    """The page tilted, under uneven light, a little soft."""
    h, w = page.shape[:2]
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h]], np.float32)
    seen = np.array([[0.04 * w, 0.03 * h], [0.97 * w, 0.0], [w, 0.98 * h], [0.0, h]], np.float32)
    tilted = cv2.warpPerspective(page, cv2.getPerspectiveTransform(corners, seen), (w, h), borderValue=(90, 70, 60))
    light = np.linspace(0.65, 1.0, w)[None, :, None]
    return cv2.GaussianBlur((tilted * light).astype(np.uint8), (0, 0), 0.7)


def groups_of(pixels: np.ndarray) -> list[list[tuple[int, int | None]]]:
    return [sorted((n.string, n.fret) for n in e.notes) for tab in read_tabs(pixels) for e in tab.events]


@pytest.mark.parametrize("lines", [4, 6])
@pytest.mark.parametrize("camera", [False, True])
def test_our_own_drawing_reads_back(lines: int, camera: bool) -> None:
    tab = scale_tab(lines)
    page = picture_of(draw_tab(tab)[0])
    wanted = [sorted((n.string, n.fret) for n in g.notes) for g in tab.groups]
    assert groups_of(photographed(page) if camera else page) == wanted


@pytest.mark.parametrize(("above", "on_top_line"), [(0.65, True), (0.65, False), (0.5, True), (0.0, True)])
def test_numbers_that_stand_on_their_lines_are_given_to_these(above: float, on_top_line: bool) -> None:
    """Where none stands above the top line, they might as well hang from the lines above: that is asked about."""
    gap, left, right = 26, 60, 1100
    page = np.full((420, 1160, 3), 255, np.uint8)
    for line in range(6):
        cv2.line(page, (left, 120 + line * gap), (right, 120 + line * gap), (40, 40, 60), 2, cv2.LINE_AA)
    for x in (left, right):
        cv2.line(page, (x, 120), (x, 120 + 5 * gap), (40, 40, 60), 2, cv2.LINE_AA)
    strings = [1, 2, 3, 6, 5, 4, 2, 3, 5, 6, 4, 3] if on_top_line else [2, 3, 4, 6, 5, 4, 2, 3, 5, 6, 4, 3]
    wanted = [(s, (3 * i) % 8 + 2) for i, s in enumerate(strings)]
    for i, (s, fret) in enumerate(wanted):
        at = (left + 50 + 80 * i, round(131 + (s - 1 - above) * gap))
        cv2.putText(page, str(fret), at, cv2.FONT_HERSHEY_SIMPLEX, 1.0, (40, 40, 60), 2, cv2.LINE_AA)
    (reading,) = read_tabs(page)
    assert [(n.string, n.fret) for e in reading.events for n in e.notes] == wanted
    asked = any("above their lines" in f.detail for f in reading.flags)
    assert asked is (not on_top_line)


def test_corners_and_bar_lines_lie_where_they_were_drawn() -> None:
    drawing = draw_tab(scale_tab(6))[0]
    (reading,) = read_tabs(picture_of(drawing))
    level = [i for i in drawing.items if isinstance(i, Line) and i.y1 == i.y2]
    upright = sorted({round(i.x1, 2) for i in drawing.items if isinstance(i, Line) and i.x1 == i.x2})
    px = 150 / 25.4
    left, right = min(i.x1 for i in level) * px, max(i.x2 for i in level) * px
    top, foot = min(i.y1 for i in level) * px, max(i.y1 for i in level) * px
    gap = (foot - top) / 5
    wanted = ((left, top), (right, top), (right, foot), (left, foot))
    assert np.abs(np.subtract(reading.corners, wanted)).max() < gap
    for x in upright[1:-2]:  # the bar lines between the edge at the left and the two of the end
        assert min(abs(x * px - bar) for bar in reading.bar_lines) < gap / 2


def ruled_paper() -> np.ndarray:
    page = np.full((1100, 800, 3), 250, np.uint8)
    for y in range(60, 1100, 24):
        page[y : y + 2] = (180, 190, 220)
    for i, y in enumerate(range(80, 1000, 24)):
        cv2.putText(
            page, f"{i} apples and {i * 3} pears", (60, y), cv2.FONT_HERSHEY_SIMPLEX, 0.55, (40, 40, 90), 1, cv2.LINE_AA
        )
    return page


def staves() -> np.ndarray:
    page = np.full((1100, 800, 3), 255, np.uint8)
    rng = np.random.default_rng(3)
    for top in range(100, 1000, 150):
        for i in range(5):
            cv2.line(page, (50, top + 10 * i), (750, top + 10 * i), (0, 0, 0), 1)
        for x in range(90, 740, 40):
            y = top + 5 * int(rng.integers(0, 9))
            cv2.ellipse(page, (x, y), (6, 5), -20, 0, 360, (0, 0, 0), -1, cv2.LINE_AA)
            cv2.line(page, (x + 6, y), (x + 6, y - 34), (0, 0, 0), 1)
    return page


def squared_paper() -> np.ndarray:
    page = np.full((900, 900, 3), 255, np.uint8)
    page[::20] = page[:, ::20] = (200, 215, 225)
    return page


@pytest.mark.parametrize("draw", [ruled_paper, staves, squared_paper])
def test_no_tab_where_there_is_none(draw: object) -> None:
    assert callable(draw)
    assert read_tabs(draw()) == ()


@pytest.mark.parametrize("name", ["tab-finder", "tab-strip"])
def test_both_runtimes_say_the_same(name: str) -> None:
    pytest.importorskip("onnxruntime", reason="the optional runtime is not installed")
    picture = np.random.default_rng(5).uniform(0, 255, (1, 3, 160, 320)).astype(np.float32)
    ours, theirs = (load_engine(name, kind).run({"picture": picture}) for kind in ("cv2", "onnxruntime"))
    for key, values in ours.items():
        assert np.abs(values - theirs[key]).max() < 1e-3
