"""Labels and fret numbers that cannot be read in the picture of a proving page are not asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

import cv2
import numpy as np
import pytest
from proving_samples import PAPER, drawn, paper, without

from reader.proving.chart import Chart, Dot, Side
from reader.proving.draft import Draft
from reader.proving.finish import page_truth
from reader.proving.legible import Sight, as_seen
from reader.proving.neck import Mark
from reader.proving.printer import Printer
from reader.proving.sheet import Cover, Pixels, joined
from reader.proving.signs import Sign, label_words, number_words, signs_of
from reader.proving.tool import Anchor
from reader.proving.warp import flat

CHART = Chart(
    strings=4,
    spaces=4,
    dots=(Dot(0, 1), Dot(3, 2)),
    sides=(Side(0, "5fr", 5),),
    label="F#^m7",
    label_read="F#m7",
)


def _truth(draft: Draft, change: Callable[[Pixels], Pixels] = lambda pixels: pixels) -> tuple[bool, bool]:
    """Whether the label is scored and whether the diagram is hard when `change` makes the picture of the sheet."""
    warp = flat(draft.sheet.size)
    seen = as_seen(draft, draft.sheet.shots.each(change), warp)
    (diagram,) = page_truth(seen, warp, "printed", "page.png")["diagrams"]
    return not diagram.get("label_unscored", False), bool(diagram.get("hard", False))


def _signs(draft: Draft, of: object) -> list[Mark]:
    return [m for m in draft.charts[0].marks if m.sign and m.of == of]


def _truth_without(draft: Draft, lines: Iterable[object], lost: str) -> tuple[bool, bool]:
    """The same when some signs of some lines did not come through."""
    bare = draft.sheet.shots.without["signs"]
    gone = [m.sign.trace for line in lines for m in _signs(draft, line) if m.sign and m.sign.text in lost]
    assert gone
    return _truth(draft, lambda pixels: without(pixels, bare, gone))


def test_what_is_plain_is_asked_for() -> None:
    assert _truth(drawn(CHART)) == (True, False)


@pytest.mark.parametrize("lost", ["F", "#", "7", "m"])
def test_a_label_is_not_scored_without_one_of_its_signs(lost: str) -> None:
    assert _truth_without(drawn(CHART), ["label"], lost) == (False, False)


@pytest.mark.parametrize(("lost", "scored"), [("u", True), ("us", False), ("A", False), ("4", False)])
def test_letters_of_a_word_tell_each_other(lost: str, scored: bool) -> None:
    chart = replace(CHART, label="A(sus4)", label_read="Asus4")
    assert _truth_without(drawn(chart), ["label"], lost) == (scored, False)


@pytest.mark.parametrize(
    ("sides", "lost", "hard"),
    [
        ((Side(0, "5fr", 5),), "5", True),
        ((Side(0, "15", 15),), "1", True),
        ((Side(0, "XII", 12),), "X", True),
        ((Side(0, "1", 1),), "1", False),  # the first fret is what a grid without number starts with
        ((Side(0, "5", 5), Side(1, "6", 6)), "5", False),  # the other number tells
        ((Side(0, "5", 5), Side(1, "6", 6)), "56", True),
    ],
)
def test_a_grid_is_hard_when_none_of_its_numbers_can_be_read(sides: tuple[Side, ...], lost: str, hard: bool) -> None:
    assert _truth_without(drawn(replace(CHART, sides=sides)), sides, lost) == (True, hard)


def test_frets_written_on_the_strings_tell_where_a_grid_lies() -> None:
    dots = (Dot(0, 1, text="6", bare=True), Dot(3, 2, text="7", bare=True))
    assert _truth_without(drawn(replace(CHART, dots=dots)), CHART.sides, "5") == (True, False)


def test_words_printed_over_a_label_hide_it() -> None:
    draft = drawn(replace(CHART, label="Em", label_read="Em"))
    (line,) = {id(m.trace): m.trace for m in _signs(draft, "label")}.values()
    high, wide = line.cover.shape
    middle = (line.x + wide / 2, line.y + high / 2 + 1)

    def change(pixels: Pixels) -> Pixels:
        sheet = paper()
        sheet.pixels = pixels.copy()
        Printer(sheet, "builtin", "builtin").write("mmMmm", middle, float(high))
        return sheet.pixels

    assert _truth(draft, change)[0] is False


def test_strokes_count_as_they_were_meant_not_as_the_paper_took_them() -> None:
    sheet = paper(20, 20)
    whole = np.ones((4, 4), np.float32)
    taken = {}
    for meant in (True, False):
        with sheet.apart("signs", meant=meant) as patches:
            sheet.lay(2, 2, whole * np.float32(0.5), (0, 0, 0), meant=whole)
        taken[meant] = patches[0][2].mean()
    assert taken == {True: 1.0, False: 0.5}
    assert sheet.pixels[3, 3, 0] == pytest.approx(PAPER / 4, abs=1)  # drawn as the paper took it, twice


def _blurred(pixels: Pixels) -> Pixels:
    return np.asarray(cv2.GaussianBlur(pixels, (0, 0), 12.0), np.uint8)


def _bleached(pixels: Pixels) -> Pixels:
    return np.asarray(PAPER - (PAPER - pixels.astype(float)) * 0.02, np.uint8)


@pytest.mark.parametrize("change", [_blurred, _bleached])
def test_what_is_blurred_or_bleached_is_not_asked_for(change: Callable[[Pixels], Pixels]) -> None:
    assert _truth(drawn(CHART), change) == (False, True)


PLAIN = Sight(size=14.0, strength=80.0, contrast=90.0, likeness=0.9, plain=0.9, ratio=3.0, patchy=0.1)


@pytest.mark.parametrize(
    ("changes", "letter", "figure"),
    [
        ({}, True, True),
        ({"contrast": 9.0}, False, False),
        ({"strength": 9.0, "ratio": 0.3}, False, False),  # lost among lines
        ({"likeness": 0.66, "size": 9.0}, True, False),  # nothing else explains a figure,
        ({"likeness": 0.66, "size": 18.0}, True, True),  # but a large one may be softer
        ({"likeness": 0.55, "patchy": 0.4}, False, False),
        ({"likeness": 0.55}, True, False),  # ink that ran
        ({"likeness": 0.45}, False, False),
        ({"likeness": 0.66, "contrast": 20.0}, False, False),
        ({"likeness": 0.66, "ratio": 1.0}, False, False),  # among words as black as itself
        ({"likeness": 0.8, "ratio": 1.0}, True, False),
        ({"likeness": 0.8, "patchy": 0.9}, True, False),  # specks
    ],
)
def test_each_measure_can_hide_a_sign(changes: dict[str, float], letter: bool, figure: bool) -> None:
    sign = replace(PLAIN, **changes)
    assert (sign.told("label"), sign.told("number")) == (letter, figure)


@pytest.mark.parametrize(
    ("changes", "told"),
    [({"likeness": 0.6, "contrast": 20.0}, True), ({"likeness": 0.5}, False), ({"ratio": 0.03}, False)],
)
def test_an_ending_helps_to_tell_a_number(changes: dict[str, float], told: bool) -> None:
    assert replace(PLAIN, **changes).told("ended number") is told


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("F#^m7", [0, 1, None, 3, 4]),
        ("Bb", [0, 1]),
        ("Cmaj7", [0, 1, 1, 1, 4]),
        ("A minor", [0, None, 2, 2, 2, 2, 2]),
        ("G(b5)/B", [0, None, 2, 3, None, None, 6]),
    ],
)
def test_signs_of_a_label_stand_alone_but_for_words(text: str, words: list[int | None]) -> None:
    assert label_words(text) == words


@pytest.mark.parametrize(
    ("text", "words"), [("5fr", [0, None, None]), ("(12)", [None, 1, 2, None]), ("VII", [0, 1, 2])]
)
def test_only_the_figures_of_a_number_count(text: str, words: list[int | None]) -> None:
    assert number_words(text) == words


@pytest.mark.parametrize("turn", [0.0, -np.pi / 2])
@pytest.mark.parametrize("anchor", ["l", "c", "r"])
def test_ink_of_a_line_is_parted_into_its_signs(turn: float, anchor: Anchor) -> None:
    text = "D#m7"

    def write(part: str, at: tuple[float, float], side: Anchor) -> list[tuple[int, int, Cover]]:
        sheet = paper(200, 200)
        with sheet.apart("signs") as patches:
            Printer(sheet, "builtin", "builtin").write(part, at, 24.0, side, "label", turn)
        return patches

    tool = Printer(paper(200, 200), "builtin", "builtin")
    at = (100.0, 100.0)
    line = joined(write(text, at, anchor))
    parts = list(signs_of(line, text, label_words(text), lambda part: tool.width(part, 24.0), at, turn))
    assert [p.text for p in parts] == list(text)
    whole = np.zeros_like(line.cover)
    for part in parts:
        y, x = part.trace.y - line.y, part.trace.x - line.x
        high, wide = part.trace.cover.shape
        whole[y : y + high, x : x + wide] += part.trace.cover
        assert _alone(part, turn)
    assert np.abs(whole - line.cover).max() < 0.11


def _alone(part: Sign, turn: float) -> bool:
    """Whether a part is as large as its sign written alone, within three pixels."""
    sheet = paper(200, 200)
    with sheet.apart("signs") as patches:
        Printer(sheet, "builtin", "builtin").write(part.text, (100.0, 100.0), 24.0, "c", "label", turn)
    sizes = [np.array(c.shape) for c in (part.trace.cover, joined(patches).cover)]
    return bool(np.abs(sizes[0] - sizes[1]).max() <= 3)
