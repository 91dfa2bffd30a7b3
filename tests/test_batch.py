"""Runs over many files: in order, taken up where they stopped, not ended by a bad page."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from library_samples import read_by_colour
from PIL import Image

from reader.batch import PageOutcome, Totals, checksum, count_pages, read_files
from reader.image.cutouts import LAYOUT, LAYOUTS, Layout, cut_diagram, cut_tab, diagram_corners, tab_places
from reader.image.pages import Page
from reader.library.store import Library
from reader.reading import PageReading

BAD, FAULT, DEATH = (255, 0, 0), (0, 255, 0), (0, 0, 255)


def page_file(path: Path, *colours: int | tuple[int, int, int]) -> Path:
    pictures = [Image.new("RGB", (120, 130), (c, c, c) if isinstance(c, int) else c) for c in colours]
    pictures[0].save(path, save_all=len(pictures) > 1, append_images=pictures[1:])
    return path


def shapes(outcomes: list[PageOutcome]) -> list[str | None]:
    return [o.reading.error or str(o.reading.diagrams[0].frame.shape) for o in outcomes]


@pytest.fixture
def files(tmp_path: Path) -> list[Path]:
    return [page_file(tmp_path / "a.png", 1), page_file(tmp_path / "b.tif", 2, 7, 3), page_file(tmp_path / "c.png", 4)]


@pytest.mark.parametrize("jobs", [1, 2])
def test_pages_come_in_order_whatever_the_number_of_processes(files: list[Path], tmp_path: Path, jobs: int) -> None:
    with Library.open(tmp_path / "lib.inkfret", create=True) as library:
        outcomes = list(read_files(files, read_by_colour, library=library, jobs=jobs, who="test 1"))
        assert shapes(outcomes) == ["0001", "0002", "0007", "0003", "0004"]
        assert [(Path(o.reading.source).name, o.reading.page) for o in outcomes] == [
            ("a.png", 1), ("b.tif", 1), ("b.tif", 2), ("b.tif", 3), ("c.png", 1),
        ]  # fmt: skip
        assert len(library.pages()) == count_pages(files) == 5
        assert {s.who for s in library.history()} == {"test 1"}
        assert library.picture_path(library.pages()[0].id) == files[0]


def test_known_pages_are_not_read_again_but_still_told(files: list[Path], tmp_path: Path) -> None:
    def never(page: Page) -> PageReading:
        raise AssertionError("read again")

    with Library.open(tmp_path / "lib.inkfret", create=True) as library:
        first = list(read_files(files, read_by_colour, library=library))
        copy = files[0].rename(tmp_path / "renamed.png")
        again = list(read_files([copy, *files[1:]], never, library=library))
        assert shapes(again) == shapes(first)
        assert [o.known for o in again] == [True] * 5
        assert again[0].reading.source == str(copy)
        assert len(library.pages()) == 5


def test_an_interrupted_run_keeps_its_pages_and_goes_on_from_there(files: list[Path], tmp_path: Path) -> None:
    read = []

    def interrupted(page: Page) -> PageReading:
        if len(read) == 2:
            raise KeyboardInterrupt
        read.append(page)
        return read_by_colour(page)

    with Library.open(tmp_path / "lib.inkfret", create=True) as library:
        with pytest.raises(KeyboardInterrupt):
            list(read_files(files, interrupted, library=library))
        assert len(library.pages()) == 2
        outcomes = list(read_files(files, read_by_colour, library=library))
        assert [o.known for o in outcomes] == [True, True, False, False, False]


def test_a_bad_page_among_good_ones_is_told_and_the_rest_is_read(tmp_path: Path) -> None:
    files = [
        page_file(tmp_path / "a.png", 1),
        tmp_path / "missing.png",
        page_file(tmp_path / "b.tif", 2, BAD, FAULT, 3),
    ]
    with Library.open(tmp_path / "lib.inkfret", create=True) as library:
        outcomes = list(read_files(files, read_by_colour, library=library))
        assert [o.reading.error is None for o in outcomes] == [True, False, True, False, False, True]
        errors = [o.reading.error or "" for o in outcomes]
        assert "missing.png does not exist" in errors[1]
        assert "too coarse" in errors[3]
        assert f"Page 3 of {files[2]} met a fault in this program (KeyError" in errors[4]
        assert len(library.pages()) == 3


def test_a_page_that_kills_its_process_is_told_and_the_others_are_read(tmp_path: Path) -> None:
    files = [page_file(tmp_path / f"{i}.png", c) for i, c in enumerate((1, DEATH, 2, 3))]
    outcomes = list(read_files(files, read_by_colour, jobs=2))
    assert [o.reading.error is None for o in outcomes] == [True, False, True, True]
    assert "ended the process that read it" in str(outcomes[1].reading.error)


def test_totals_count_what_the_table_shows(files: list[Path]) -> None:
    totals = Totals()
    for outcome in read_files([*files, files[0].with_name("missing.png")], read_by_colour):
        totals = totals.plus(outcome)
    assert totals == Totals(pages=6, diagrams=5, accepted=4, to_review=1, errors=1)


def test_checksum_is_sha_256(tmp_path: Path) -> None:
    (tmp_path / "abc").write_bytes(b"abc")
    # FIPS 180-2, appendix B.1
    assert checksum(tmp_path / "abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


# ---------------------------------------------------------------- kept pictures


def test_a_kept_picture_shows_the_grid_upright_where_it_says(tmp_path: Path) -> None:
    page = np.full((400, 400, 3), 255, np.uint8)
    page[150:250, 100:300] = (0, 0, 200)
    # a neck drawn sideways: the nut at the left, so the leftmost string is at the bottom
    corners = np.array([[100, 250], [100, 150], [300, 150], [300, 250]], float)
    page[150:250, 100:110] = (200, 0, 0)
    kept = np.asarray(Image.open(io.BytesIO(cut_diagram(page, corners)))).astype(int)
    assert kept.shape == (LAYOUT.height, LAYOUT.width, 3)
    (left, top), _, (right, bottom), _ = np.rint(diagram_corners(corners)).astype(int)
    assert (right - left) * 2 == bottom - top == LAYOUT.grid
    assert np.abs(kept[top + 3, (left + right) // 2] - (200, 0, 0)).max() < 60
    assert np.abs(kept[bottom - 5, left + 5] - (0, 0, 200)).max() < 60
    assert np.abs(kept[top - 10, left + 5] - (255, 255, 255)).max() < 20


@pytest.mark.parametrize("layout", LAYOUTS.values())
def test_every_layout_leaves_the_grid_its_size_and_room_around_it(layout: Layout) -> None:
    """Guitar and ukulele, tall and wide: 3.5 gaps above the grid for a label over open marks, in pictures cut now."""
    for strings, rows in ((4, 4), (4, 5), (6, 4), (6, 5), (6, 3)):
        wide, tall = 10.0 * (strings - 1), 12.0 * rows
        corners = np.array([[50, 50], [50 + wide, 50], [50 + wide, 50 + tall], [50, 50 + tall]])
        (left, top), _, (right, bottom), _ = diagram_corners(corners, layout)
        assert max(right - left, bottom - top) == pytest.approx(layout.grid)
        gap = (right - left) / (strings - 1)
        assert left == pytest.approx(layout.width - right)
        if layout is LAYOUT:
            assert top > 3.5 * gap
            assert layout.height - bottom > 2.5 * gap


def test_tab_places_lead_into_the_picture_and_back() -> None:
    corners = np.array([[100, 50], [500, 90], [495, 140], [95, 100]], float)
    places = tab_places(corners, 6)
    shown = places.in_picture(corners)
    assert shown[0] == pytest.approx([2.5 * places.gap] * 2, abs=1e-3)
    assert shown[3, 1] - shown[0, 1] == pytest.approx(5 * places.gap, abs=1e-3)
    assert places.on_page(shown) == pytest.approx(corners, abs=1e-3)
    page = np.full((200, 600, 3), 255, np.uint8)
    at = corners[0] + (corners[1] - corners[0]) / 2
    page[int(at[1]) - 2 : int(at[1]) + 3, int(at[0]) - 2 : int(at[0]) + 3] = 0
    kept = np.asarray(Image.open(io.BytesIO(cut_tab(page, corners, 6))).convert("L"))
    assert kept.shape == (places.height, places.width)
    column, row = places.in_picture(at[None])[0]
    assert np.argwhere(kept < 100).mean(axis=0) == pytest.approx((row, column), abs=1)


def test_a_kept_tab_system_is_straight_and_not_too_wide() -> None:
    page = np.full((200, 6000, 3), 255, np.uint8)
    corners = np.array([[100, 50], [5900, 60], [5900, 140], [100, 130]], float)
    width, height = Image.open(io.BytesIO(cut_tab(page, corners, 6))).size
    assert width <= 2500
    assert height > 10
