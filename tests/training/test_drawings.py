"""The drawn training pages: the same seed draws the same samples, and what they claim is what was drawn."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from reader.image import crops
from reader.image.ctc import SIGNS
from reader.training import lettering
from reader.training.brush import KIND_DIAGRAM, KIND_EMPTY, Drawn, Sheet
from reader.training.bundles import make_bundle
from reader.training.camera import compose
from reader.training.captions import number_text
from reader.training.content import MAX_ROWS, MUTED, Content, Dot, DrawnBarre, LabelText, sample_content, sample_label
from reader.training.diagrams import Painter
from reader.training.lettering import Hand
from reader.training.samples import FIRST_ROW_STATE, IGNORE, way_up
from reader.training.strokes import resample, smooth, wobble
from reader.training.style import sample_style
from reader.training.windows import make_drawing, take


@pytest.fixture
def without_fonts(monkeypatch: pytest.MonkeyPatch) -> None:
    """Letter with the own stroke alphabet only, so that the tests draw the same everywhere."""
    monkeypatch.setattr(lettering, "font_files", lambda: ((), (), None))
    monkeypatch.setattr(lettering, "real_digits", dict)


def drawn_diagrams(seeds: range) -> list[Drawn]:
    """All diagrams of a few sheets."""
    return [d for seed in seeds for d in make_drawing(np.random.default_rng(seed)).diagrams]


@pytest.mark.usefixtures("without_fonts")
def test_a_seed_draws_the_same_samples_again() -> None:
    first, second = (make_bundle(np.random.default_rng(41)) for _ in range(2))
    for name in ("finder", "reader", "cells"):
        a, b = getattr(first, name), getattr(second, name)
        assert len(a) == len(b)
        for x, y in zip(a, b, strict=True):
            assert all(np.array_equal(x[key], y[key]) for key in x)
    other = make_bundle(np.random.default_rng(42))
    assert not np.array_equal(first.finder[0]["picture"], other.finder[0]["picture"])


@pytest.mark.usefixtures("without_fonts")
def test_two_takes_of_a_sheet_are_two_pictures_of_the_same_diagrams() -> None:
    rng = np.random.default_rng(6)
    drawing = make_drawing(rng)
    before = [d.corners.copy() for d in drawing.diagrams]
    one, two = take(rng, drawing), take(rng, drawing)
    assert before
    assert one.picture.shape != two.picture.shape or not np.array_equal(one.picture, two.picture)
    assert [d.states for d in one.diagrams] == [d.states for d in two.diagrams]
    assert all(np.array_equal(a, d.corners) for a, d in zip(before, drawing.diagrams, strict=True))


@pytest.mark.usefixtures("without_fonts")
def test_what_a_diagram_claims_hangs_together() -> None:
    diagrams = drawn_diagrams(range(25))
    assert len(diagrams) > 40
    for d in diagrams:
        assert len(d.states) == len(d.fingers) == len(d.barre) == len(d.open_marks) == d.strings
        assert d.first_fret == 1 or d.number > 0, "the number of a grid up the neck is written beside it"
        if d.number:
            assert 0 <= d.number - d.first_fret < d.rows, "the number names one of the rows drawn"
        for state, finger, barre, mark in zip(d.states, d.fingers, d.barre, d.open_marks, strict=True):
            assert MUTED <= state <= d.rows <= MAX_ROWS
            over = "a barre stops its strings unless a dot stops them further up, or an x says that they are not played"
            assert barre == 0 or state >= barre or state == MUTED, over
            assert not mark or state == 0
            assert finger == 0 or state > 0, "only a stopped string has a finger"
        if d.kind == KIND_EMPTY:
            assert not d.label
            assert set(d.states) == {0}


@pytest.mark.usefixtures("without_fonts")
def test_the_reading_crop_says_what_was_drawn() -> None:
    seen = 0
    for seed in range(12):
        for sample in make_bundle(np.random.default_rng(seed)).reader:
            assert sample["picture"].shape == (3, crops.READING_SIZE, crops.READING_SIZE)
            if sample["kind"] != KIND_DIAGRAM or sample["states"][0] == IGNORE:
                continue
            seen += 1
            strings, rows = int(sample["strings"]), int(sample["rows"])
            assert (sample["states"][:strings] > 0).all()
            assert (sample["states"][strings:] == 0).all()
            assert sample["states"].max() < FIRST_ROW_STATE + rows
    assert seen > 20


@pytest.mark.usefixtures("without_fonts")
def test_the_corners_lie_on_ink() -> None:
    near = total = 0
    for seed in range(8):
        drawing = make_drawing(np.random.default_rng(seed))
        for d in drawing.diagrams:
            ink = cv2.dilate(drawing.masks["grid"], np.ones((7, 7), np.uint8))
            for x, y in np.rint(d.corners).astype(int):
                if 0 <= x < ink.shape[1] and 0 <= y < ink.shape[0]:
                    total += 1
                    near += int(ink[y, x] > 20)
    assert total > 40
    assert near / total > 0.9


def one_diagram(seed: int, **habits: object) -> tuple[Drawn, Sheet]:
    """One upright grid of four strings, drawn by somebody with these habits."""
    rng = np.random.default_rng(seed)
    plain = {
        "medium": "pen",
        "sideways": 0,
        "fingers": "none",
        "label_frame": "",
        "run_on": 0.0,
        "strings_named": False,
    }
    style = replace(sample_style(rng), **(plain | habits))  # type: ignore[arg-type]
    content = Content(4, 4, 1, [0, 2, 3, MUTED], [Dot(1, 2, 2), Dot(2, 3, 4)], label=LabelText("C", "C"))
    sheet = Sheet(500, 500)
    corners = np.array([[150.0, 150], [300, 150], [300, 350], [150, 350]])
    return Painter(sheet, style, content, corners, rng).paint(), sheet


@pytest.mark.usefixtures("without_fonts")
@pytest.mark.parametrize("seed", range(4))
def test_marks_stand_beside_the_nut_or_at_the_foot(seed: int) -> None:
    for at_foot in (False, True):
        drawn, sheet = one_diagram(
            seed, marks="both", marks_at_foot=at_foot, muted_form="x", label_place="left", nut_dots=False, nut="none"
        )
        beyond = sheet.masks["mark"][:140].any(), sheet.masks["mark"][365:].any()
        assert beyond == (not at_foot, at_foot)
        assert drawn.states[3] == MUTED


@pytest.mark.usefixtures("without_fonts")
@pytest.mark.parametrize("seed", range(4))
def test_fingers_in_a_row_above_stand_over_their_strings(seed: int) -> None:
    drawn, sheet = one_diagram(seed, fingers="above", finger_gaps=0.0, marks="none", label_place="left")
    digits = sheet.masks["digit"]
    assert drawn.fingers == [0, 2, 4, 0]
    assert drawn.extra["row"] == "above"
    assert digits[:145, 175:275].any()
    assert not digits[160:].any()


@pytest.mark.usefixtures("without_fonts")
@pytest.mark.parametrize("seed", range(4))
def test_a_block_fills_its_row_from_string_to_string(seed: int) -> None:
    rng = np.random.default_rng(seed)
    style = replace(
        sample_style(rng), medium="pen", sideways=0, barre_form="block", fingers="none", marks="none", run_on=0.0
    )
    content = Content(4, 4, 1, [2, 2, 2, 2], [], [DrawnBarre(2, 0, 3, "line")])
    sheet = Sheet(500, 500)
    corners = np.array([[150.0, 150], [300, 150], [300, 350], [150, 350]])
    drawn = Painter(sheet, style, content, corners, rng).paint()
    ink = np.maximum(sheet.masks["mark"], sheet.masks["pale"])
    assert drawn.barre[:4] == [2, 2, 2, 2]
    assert (ink[210:240, 160:290] > 30).mean() > 0.1, "inked, greyed or hatched"
    assert not sheet.masks["mark"][270:340].any()


@pytest.mark.usefixtures("without_fonts")
def test_a_colour_with_which_nothing_is_drawn_is_left_out() -> None:
    _, sheet = one_diagram(2)
    style = sample_style(np.random.default_rng(2))
    masks = {pen: np.zeros_like(mask) for pen, mask in sheet.masks.items()}
    assert compose(masks, style, (500, 500), np.random.default_rng(3)).shape == (500, 500, 3)


@pytest.mark.usefixtures("without_fonts")
def test_some_write_no_finger_at_some_stops() -> None:
    left_out = [one_diagram(seed, fingers="in", finger_gaps=0.5)[0].fingers[1:3] for seed in range(30)]
    assert any(fingers == [0, 4] for fingers in left_out)
    assert any(fingers == [2, 4] for fingers in left_out)


@pytest.mark.usefixtures("without_fonts")
@pytest.mark.parametrize("frame", ["ring", "box", "line"])
def test_a_frame_around_a_label_is_no_part_of_it(frame: str) -> None:
    bare, framed = (one_diagram(3, label_place="above", label_frame=f) for f in ("", frame))
    (x0, y0), _, (x1, y1), _ = np.rint(np.asarray(framed[0].label_at)).astype(int)
    ink = framed[1].masks["text"].copy()
    ink[y0 : y1 + 1, x0 : x1 + 1] = 0
    assert (ink > 60).sum() > 40, "the frame is drawn around the box of the label"
    assert np.ptp(np.asarray(framed[0].label_at), axis=0) == pytest.approx(
        np.ptp(np.asarray(bare[0].label_at), axis=0), abs=8
    )
    assert [w.framed for w in framed[0].written if w.what == "label"] in ([], [True])


def test_the_way_up_counts_quarters_clockwise() -> None:
    upright = np.array([[0.0, 0], [30, 0], [30, 40], [0, 40]])
    for quarters in range(4):
        assert way_up(np.roll(upright, -quarters, axis=0)) == quarters


def test_every_label_can_be_spelled_with_the_classes() -> None:
    rng = np.random.default_rng(3)
    labels = [sample_label(rng, capitals=bool(k % 2)).truth for k in range(400)]
    assert set("".join(labels)) <= set(SIGNS)
    assert {"m", "7", "#", "b", "/"} <= set("".join(labels))


def test_shapes_stop_within_their_rows_and_dots_agree_with_the_states() -> None:
    rng = np.random.default_rng(9)
    for k in range(300):
        content = sample_content(rng, 4 + k % 3, None if k % 2 else 4, moved=k % 5 == 0)
        highest = {s: max(d.row for d in content.dots if d.string == s) for s in {d.string for d in content.dots}}
        assert all(content.states[s] == row for s, row in highest.items())
        assert max(content.states) <= content.rows
        untouched = set(range(content.strings)) - set(highest)
        under = {s for b in content.barres for s in range(b.left, b.right + 1)}
        assert all(content.states[s] <= 0 for s in untouched - under)


@pytest.mark.parametrize(
    ("form", "value", "text"),
    [
        ("roman", 9, "IX"),
        ("ordinal", 3, "3rd"),
        ("ordinal", 11, "11th"),
        ("bracket", 4, "(4)"),
        ("words", 2, "2nd fret"),
        ("fret n", 7, "fret 7"),
        ("pos", 5, "pos. V"),
    ],
)
def test_numbers_are_written_as_usual(form: str, value: int, text: str) -> None:
    # common practice, no source
    assert number_text(form, value) == text


def test_a_shaken_path_keeps_its_ends_and_a_curve_meets_its_points() -> None:
    rng = np.random.default_rng(1)
    line = np.array([[0.0, 0.0], [100.0, 0.0]])
    shaken = wobble(line, 3.0, rng, 20)
    assert np.allclose(shaken[[0, -1]], line)
    assert np.abs(shaken[:, 1]).max() > 0.3
    assert np.allclose(np.diff(resample(np.array([[0, 0], [0, 10], [20, 10.0]]), 31), axis=0).sum(1), 1.0)
    corners = np.array([[0, 0], [10, 5], [20, 0], [30, 9.0]])
    curve = smooth(corners, 24)
    assert all(np.hypot(*(curve - c).T).min() < 1e-9 for c in corners)


def test_printed_letters_are_as_high_as_asked() -> None:
    if not lettering.font_files()[1]:
        pytest.skip("the fonts were not fetched: python -m reader.training.fonts")
    rng = np.random.default_rng(2)
    heights = [Hand("print", rng).stamp("E", 60, rng).shape[0] for _ in range(8)]
    assert all(45 < h < 80 for h in heights)


@pytest.mark.parametrize("weight", [-0.3, 0.0, 0.4])
def test_a_real_digit_in_any_pen_leaves_the_paper_white(weight: float) -> None:
    hand = Hand("strokes", np.random.default_rng(1))
    hand.real_weight = weight
    ring = np.zeros((1, 28, 28), np.uint8)
    cv2.ellipse(ring[0], (14, 14), (8, 11), 0, 0, 360, 200, 2)
    glyph, _ = hand._real_glyph(ring, 0, 40.0, np.random.default_rng(2))
    assert glyph.max() > 120
    assert glyph[20, glyph.shape[1] // 2] == 0, "inside the ring there is no ink"
