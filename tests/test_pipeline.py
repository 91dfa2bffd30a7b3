"""The whole story: pages of our own drawings are read back, whichever way they lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from reading_samples import (
    GRID,
    SONG,
    drawn_page,
    lettering,
    look,
    page_of,
    picture,
    plain_frame,
    read_one,
    seen,
    song_page,
)

from reader.errors import InputError, ModelError
from reader.export.truth import page_truth
from reader.image.levels import Levels
from reader.image.regions import Region
from reader.interpret import ReadSettings
from reader.pipeline import (
    DWARF,
    asked_together,
    hidden_by,
    hides_diagrams,
    holds_nothing,
    is_bare,
    is_blank,
    is_crossed,
    is_diagram,
    is_neck,
    is_sure,
    lies_in_tab,
    on_this_side,
    read_file,
    read_page,
    read_region,
    usual_side,
)
from reader.reading import Flag, PageReading, Reading, TabEvent, TabNote, TabReading

SHAPES = [shape for _, shape in SONG]
LABELS = [label for label, _ in SONG]


def shapes(reading: PageReading) -> list[str]:
    return [str(d.frame.shape) for d in reading.diagrams]


def test_a_page_is_read_as_it_was_drawn() -> None:
    drawing, pixels = song_page()
    page = page_of(pixels)
    truth, read = page_truth(drawing, page.dpi), read_page(page)
    assert read.error is None
    assert (read.source, read.page, read.width, read.height) == ("song.png", 1, page.width, page.height)
    assert shapes(read) == shapes(truth) == SHAPES
    assert [d.label for d in read.diagrams] == [d.name for d in read.diagrams] == LABELS
    assert {d.tuning for d in read.diagrams} == {"ukulele"}
    assert [d.flags for d in read.diagrams] == [()] * 4
    for ours, theirs in zip(read.diagrams, truth.diagrams, strict=True):
        gap = (theirs.corners[1][0] - theirs.corners[0][0]) / 3
        assert np.abs(np.array(ours.corners) - np.array(theirs.corners)).max() < 0.35 * gap
        assert ours.frame.fret_count == theirs.frame.fret_count


@pytest.mark.parametrize("quarters", [1, 2, 3])
def test_a_turned_page_reads_the_same(quarters: int) -> None:
    _, pixels = song_page()
    read = read_page(page_of(np.rot90(pixels, quarters)))
    assert {(d.label, str(d.frame.shape)) for d in read.diagrams} == set(SONG)
    for d in read.diagrams:
        along = np.array(d.corners[3]) - np.array(d.corners[0])
        # strings ran down; a quarter counter-clockwise lets them run to the right, then up, then to the left
        assert {1: along[0] > 9, 2: along[1] < -9, 3: along[0] < -9}[quarters]


def test_with_few_labels_a_page_upside_down_is_read_right_or_flagged() -> None:
    two = SONG[2:]
    pixels = picture(drawn_page([(label, plain_frame(shape)) for label, shape in two]))
    read = read_page(page_of(np.rot90(pixels, 2)))
    assert len(read.diagrams) == 2
    wrong = [d for d in read.diagrams if str(d.frame.shape) not in dict(two).values()]
    assert all(d.flags for d in wrong)


@pytest.mark.parametrize("shade", [0, 128, 255])
def test_a_blank_page_holds_nothing(shade: int) -> None:
    read = read_page(page_of(np.full((420, 300, 3), shade, np.uint8)))
    assert (read.diagrams, read.tabs, read.error) == ((), (), None)


def test_a_tuning_asked_for_names_the_chords() -> None:
    _, pixels = song_page()
    read = read_page(page_of(pixels), ReadSettings(tuning="ukulele-baritone"))
    assert shapes(read) == SHAPES
    assert [d.name for d in read.diagrams][:2] == ["G/D", "C/E"]


def test_a_window_up_the_neck_is_counted_from_the_nut() -> None:
    drawing = drawn_page([("Dm", plain_frame("7988", 7)), ("A", plain_frame("6-9-10-9", 6, 5))])
    read = read_page(page_of(picture(drawing)))
    truth = page_truth(drawing, 150.0)
    for ours, theirs in zip(read.diagrams, truth.diagrams, strict=True):
        assert ours.frame.shape == theirs.frame.shape or not ours.accepted


def test_a_region_drawn_by_hand_is_read_alone() -> None:
    drawing, pixels = song_page()
    third = np.array(page_truth(drawing, 150.0).diagrams[2].corners)
    loose = third + [[-6, -5], [7, -4], [5, 6], [-4, 8]]
    reading = read_region(pixels, loose)
    assert reading is not None
    assert (str(reading.frame.shape), reading.label) == ("0212", "G7")
    assert np.abs(np.array(reading.corners) - third).max() < 8


def test_every_page_of_a_file_is_read(tmp_path: Path) -> None:
    _, pixels = song_page()
    frames = [Image.fromarray(pixels), Image.new("RGB", (300, 400), "white")]
    path = tmp_path / "two.tiff"
    frames[0].save(path, save_all=True, append_images=frames[1:])
    pages = list(read_file(path))
    assert [p.page for p in pages] == [1, 2]
    assert [len(p.diagrams) for p in pages] == [4, 0]


def test_a_file_that_is_no_picture(tmp_path: Path) -> None:
    path = tmp_path / "song.png"
    path.write_bytes(b"no picture")
    with pytest.raises(InputError, match=r"song\.png"):
        list(read_file(path))


def test_what_goes_wrong_on_a_page_is_told_with_it(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> list[Region]:
        raise ModelError("The weights finder.onnx are missing from the installed package: install it again.")

    monkeypatch.setattr("reader.pipeline.find_askew", broken)
    read = read_page(page_of(song_page()[1]))
    assert read.diagrams == ()
    assert read.error == "The weights finder.onnx are missing from the installed package: install it again."


def tab_system(width: float, numbers: int = 3) -> TabReading:
    corners = ((90.0, 90.0), (90.0 + width, 90.0), (90.0 + width, 190.0), (90.0, 190.0))
    events = tuple(TabEvent(95.0 + n, (TabNote(1, 2),)) for n in range(numbers))
    return TabReading(corners, 4, events, (), "ukulele", 0.9)


def test_a_piece_of_a_long_tab_is_no_diagram_but_a_diagram_is_no_tab() -> None:
    region = Region(GRID, 0.9)
    assert lies_in_tab(region, (tab_system(600),))
    assert not lies_in_tab(region, (tab_system(80),)), "as wide as the diagram itself: a neck on its side"
    assert not lies_in_tab(Region(GRID + [0, 300], 0.9), (tab_system(600),))
    assert not lies_in_tab(region, ())


def test_what_is_much_smaller_than_the_diagrams_of_its_page_must_be_found_clearly() -> None:
    """Else the frame around a label passes for a grid, and the label for something in it."""
    small = GRID[0] + (GRID - GRID[0]) * 0.5
    page = [Region(GRID, 0.9), Region(GRID + [200, 0], 0.8), Region(small, 0.4), Region(small, 0.9)]
    least = DWARF * usual_side(page)
    assert [is_sure(r, look("ooo3"), least) for r in page] == [True, True, False, True]
    assert is_sure(page[2], look("ooo3")), "nothing to compare it with"
    assert usual_side([Region(GRID, 0.4)]) == 0


def test_a_short_tab_on_a_diagram_is_a_neck() -> None:
    one = [read_one(look("ooo3"))]
    assert is_neck(tab_system(80), one)
    assert not is_neck(tab_system(80, numbers=20), one), "more numbers than a hand has fingers"
    assert not is_neck(tab_system(600), one)
    assert not is_neck(tab_system(80), [])


def test_lines_that_run_through_a_sure_diagram_and_hardly_read_are_the_papers() -> None:
    diagram = replace(read_one(look("ooo3")), confidence=0.99)
    paper, sure = (replace(tab_system(600), confidence=c) for c in (0.02, 0.9))
    beside = replace(diagram, corners=tuple((x, y + 400.0) for x, y in diagram.corners))
    assert is_crossed(paper, [diagram])
    assert not is_crossed(sure, [diagram])
    assert not is_crossed(paper, [beside])
    assert not is_crossed(paper, [replace(diagram, confidence=0.5)])


def test_what_hardly_is_a_tab_hides_no_clear_diagram() -> None:
    hardly, likely = (replace(tab_system(600), confidence=c) for c in (0.001, 0.3))
    assert hides_diagrams(hardly, [Region(GRID, 0.9)])
    assert not hides_diagrams(hardly, [Region(GRID, 0.4)]), "bar lines and strings may look like a grid"
    assert not hides_diagrams(hardly, [Region(GRID + [0, 300], 0.9)])
    assert not hides_diagrams(likely, [Region(GRID, 0.9)])


def test_a_sure_tab_is_no_neck_of_what_hardly_is_a_diagram() -> None:
    hardly = replace(read_one(look("ooo3")), confidence=0.05)
    sure, doubtful = (replace(tab_system(80), confidence=c) for c in (0.97, 0.6))
    assert not is_neck(sure, [hardly])
    assert is_neck(doubtful, [hardly])
    assert is_neck(sure, [replace(hardly, confidence=0.6)])


def test_other_things_are_dropped_once_they_stand_upright() -> None:
    assert is_diagram(look("ooo3"))
    assert not is_diagram(look("ooo3", kind="other"))
    assert is_diagram(look("ooo3", kind="other", way=2)), "the wrong way up nothing can be told"


def test_a_bare_grid_has_no_mark_and_no_clear_label() -> None:
    assert is_bare(seen(look("----")))
    assert is_bare(seen(look("----"), lettering("A", label_p=0.6)))
    assert not is_bare(seen(look("----"), lettering("C6", label_p=0.99)))
    assert not is_bare(seen(look("---3")))
    assert not is_bare(seen(look("oooo")))


def test_a_blank_grid_is_one_that_the_eyes_call_empty_and_that_has_no_label() -> None:
    assert is_blank(seen(look("----", kind="empty")))
    assert not is_blank(seen(look("----", kind="empty"), lettering("C6")))
    assert not is_blank(seen(look("----")))


def test_a_find_without_stops_that_hardly_is_a_grid_holds_nothing() -> None:
    for drawn, sure, empty in (("oooo", 0.1, True), ("xooo", 0.1, True), ("oooo", 0.5, False), ("ooo3", 0.1, False)):
        assert holds_nothing(replace(read_one(look(drawn)), confidence=sure)) is empty, (drawn, sure)


def test_what_is_far_paler_than_the_diagrams_of_a_page_is_on_its_other_side() -> None:
    def inked(strength: float, agrees: bool = False) -> Reading:
        reading = read_one(look("ooo3"))
        return replace(reading, evidence=reading.evidence | {"strength": strength, "label_agrees": float(agrees)})

    strong, pencil, behind, named = inked(1.0), inked(0.35), inked(0.1), inked(0.1, agrees=True)
    assert on_this_side([strong, pencil, behind, strong, named]) == ([strong, pencil, strong, named], [behind])
    alone = [pencil, behind]
    assert on_this_side(alone) == (alone, []), "a pale page does not tell how strong they must be"
    assert on_this_side([]) == ([], [])


def test_a_diagram_that_hid_behind_what_shows_through_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """The finder is surer of a small grid that shows through within a large one, and keeps the surer of both."""
    behind = read_one(look("ooo3"))
    small, centre = np.array(behind.corners), np.array(behind.corners).mean(0)
    large, blank = Region(centre + 4 * (small - centre), 0.7), Region(small + [60.0, 0.0], 0.9)

    def find(levels: Levels, without: Sequence[np.ndarray] = ()) -> list[Region]:
        return [large] if any(np.array_equal(blank.corners, w) for w in without) else [blank]

    monkeypatch.setattr("reader.pipeline.find_regions", find)
    page = Levels(np.full((50, 50, 3), 255, np.uint8))
    assert hidden_by([behind], [Region(small, 0.9), blank], [], page) == [large]
    monkeypatch.setattr("reader.pipeline.find_regions", lambda levels, without=(): [replace(large, confidence=0.3)])
    assert hidden_by([behind], [Region(small, 0.9), blank], [], page) == []


def test_where_nearly_all_is_in_doubt_and_no_label_agrees_the_rest_is_asked_about() -> None:
    sure = replace(read_one(look("ooo3")), flags=())
    doubtful = replace(sure, flags=(Flag("unsure", "Look."),))
    named = replace(sure, evidence=sure.evidence | {"label_agrees": 1.0})
    assert [r.accepted for r in asked_together([doubtful] * 5 + [sure])] == [False] * 6
    for kept in ([doubtful] * 5 + [named], [doubtful] * 3 + [sure], [doubtful] * 3 + [sure] * 3):
        assert asked_together(kept) == kept
