"""Tab systems of pages that lie on their side or upside down, and of ruled paper."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from reader.image.levels import Levels
from reader.image.pages import open_pages
from reader.interpret_tabs import as_tab, read_tabs
from reader.reading import Flag, TabEvent, TabNote, TabReading
from reader.tab_ways import levelled, turned_back, unruled, whichever_way

PAGE = Path(__file__).parents[1] / "fixtures" / "pages" / "melody-tab.png"
WIDTH, HEIGHT = 300, 200


def system(at: tuple[float, float] = (120, 60), sure: float = 0.99, numbers: int = 1) -> TabReading:
    """A level system of four lines from (40, 50) to (240, 80)."""
    note = TabNote(2, 3, sure, at=at)
    corners = ((40.0, 50.0), (240.0, 50.0), (240.0, 80.0), (40.0, 80.0))
    return TabReading(corners, 4, (TabEvent(at[0], (note,)),) * numbers, (240.0,), "ukulele", 0.9)


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_what_was_read_on_a_turned_page_lies_where_its_ink_is(quarters: int) -> None:
    page = np.zeros((HEIGHT, WIDTH), np.uint8)
    page[30, 70] = 255
    turned = np.rot90(page, quarters)
    (y,), (x,) = np.nonzero(turned)
    tab = turned_back(system(at=(float(x), float(y))), quarters, WIDTH, HEIGHT)
    assert tab.events[0].notes[0].at == (70, 30)
    assert tab.axis == quarters % 2
    assert tab.events[0].x == (70, 30)[tab.axis]


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_parts_of_a_system_are_the_same_however_the_page_lies(quarters: int) -> None:
    upright = system()
    tab = turned_back(upright, quarters, WIDTH, HEIGHT)
    assert tab.part(tab.events[0].x) == pytest.approx(upright.part(120)) == pytest.approx(0.4)
    assert tab.part(tab.bar_lines[0]) == pytest.approx(1.0)


def test_what_was_read_on_a_straightened_page_lies_where_its_ink_is() -> None:
    picture = np.full((HEIGHT, WIDTH, 3), 255, np.uint8)
    cv2.circle(picture, (150, 90), 5, (0, 0, 0), -1)
    leaning = replace(system(sure=0.6), corners=((40.0, 50.0), (238.0, 82.0), (233.0, 112.0), (35.0, 80.0)))

    def read(page: Levels) -> tuple[TabReading, ...]:
        y, x = (float(v.mean()) for v in np.nonzero(page.pixels[..., 0] < 128))
        return (
            replace(
                system(at=(x, y)), corners=((x - 80, y - 15), (x + 80, y - 15), (x + 80, y + 15), (x - 80, y + 15))
            ),
        )

    (tab,) = levelled(Levels(picture), (leaning,), read)
    assert tab.events[0].notes[0].at == pytest.approx((150, 90), abs=1)
    assert tab.events[0].x == pytest.approx(150, abs=1)
    assert np.mean(tab.corners, axis=0) == pytest.approx((150, 90), abs=1)
    assert np.subtract(tab.corners[1], tab.corners[0])[1] > 20, "it leans as the page does"
    level = (system(),)
    assert levelled(Levels(picture), level, read) is level
    sure = (replace(leaning, events=leaning.events * 5),)
    assert levelled(Levels(picture), sure, read) is sure, "straightened it tells less"


def test_a_page_read_well_is_not_turned() -> None:
    def never(_: Levels) -> tuple[TabReading, ...]:
        raise AssertionError("read again")

    page = Levels(np.full((HEIGHT, WIDTH, 3), 255, np.uint8))
    assert whichever_way(page, (system(),), never, across=True) == (system(),)
    assert whichever_way(page, (), never, across=True) == ()


def test_round_must_be_clearly_better() -> None:
    page = Levels(np.full((HEIGHT, WIDTH, 3), 255, np.uint8))
    doubtful = (system(sure=0.9, numbers=10),)
    kept = whichever_way(page, doubtful, lambda _: (system(sure=0.93, numbers=10),), across=False)
    assert kept == doubtful
    better = whichever_way(page, doubtful, lambda _: (system(sure=0.99, numbers=10),), across=False)
    assert better[0].corners[0] == (WIDTH - 1 - 40, HEIGHT - 1 - 50)


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_a_page_is_read_whichever_way_it_lies(quarters: int) -> None:
    pixels = next(iter(open_pages(PAGE))).pixels
    upright = read_tabs(pixels)
    assert upright
    turned = read_tabs(np.ascontiguousarray(np.rot90(pixels, quarters)))
    assert len(turned) == len(upright)
    assert as_tab(turned) == as_tab(upright)


def test_ruled_paper_is_read_without_its_lines_where_that_leaves_fewer_doubts() -> None:
    picture = np.full((900, 700, 3), 245, np.uint8)
    for y in range(60, 860, 37):
        cv2.line(picture, (10, y), (690, y), (170, 185, 220), 2)
    for k in range(4):
        cv2.line(picture, (80, 300 + 26 * k), (620, 300 + 26 * k), (20, 20, 30), 5)
    corners = ((80.0, 300.0), (620.0, 300.0), (620.0, 378.0), (80.0, 378.0))
    doubt = (Flag("tab-lines-faint", "Look."),)
    ruled = replace(system(numbers=5), corners=corners, flags=(*doubt, *doubt))
    clean = replace(system(numbers=5), corners=corners)

    def reads(better: TabReading) -> tuple[TabReading, ...]:
        def read(page: Levels) -> tuple[TabReading, ...]:
            assert page.pixels[600:800].min() > 235, "the ruled lines are gone"
            assert page.pixels[300, 300].max() < 60, "the system's are not"
            return (better,)

        return unruled(Levels(picture), (ruled,), read)

    assert reads(clean) == (clean,)
    assert reads(replace(clean, flags=(*doubt, *doubt, *doubt))) == (ruled,), "it leaves more doubts"
    assert reads(replace(clean, events=clean.events[:2])) == (ruled,), "it tells less"
    (other,) = reads(replace(clean, line_count=5))
    assert [f.code for f in other.flags] == ["tab-lines"], "another number of lines is asked about"
    sure = (replace(ruled, flags=()),)
    assert unruled(Levels(picture), sure, reads) is sure, "nothing is in doubt"  # type: ignore[arg-type]
