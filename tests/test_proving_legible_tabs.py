"""A tablature whose numbers or lines cannot be made out in the picture of a proving page is marked as hard."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import cv2
import numpy as np
import pytest
from proving_samples import PAPER, paper, without

from reader.proving.dice import Dice
from reader.proving.draft import Draft, System
from reader.proving.finish import page_truth
from reader.proving.legible import Sight
from reader.proving.legible_tabs import tabs_as_seen, told_on_line
from reader.proving.printer import Printer
from reader.proving.sheet import Pixels
from reader.proving.tabs import Setter, TabHabit, make_tab_habit
from reader.proving.warp import flat

GAP = 24.0
LINES = 4


def _habit(broken: bool) -> TabHabit:
    plain = make_tab_habit(Dice("habit"), by_hand=False)
    bare = {"stems": 0.0, "slurs": 0.0, "slides": 0.0, "words_below": 0.0, "chords_above": 0.0, "ringing": 0.0}
    return replace(
        plain,
        lines=LINES,
        cap=0.8,
        broken=broken,
        dashed=False,
        above=False,
        opening="none",
        muted=0.2,
        dense=2.2,
        **bare,
    )


def _drawn(wide: int = 1500, broken: bool = False) -> Draft:
    """One system with nothing around it."""
    sheet = paper(high=200, wide=wide)
    tool = Printer(sheet, "builtin", "builtin")
    setter = Setter(tool, _habit(broken), Dice("frets"), 0.0, GAP, 40.0, wide - 40.0, 60.0)
    return Draft(sheet, systems=[setter.draw()])


def _hard(draft: Draft, change: Callable[[Pixels], Pixels] = lambda pixels: pixels) -> bool:
    """Whether the system is hard when `change` makes the picture of the sheet."""
    warp = flat(draft.sheet.size)
    seen = tabs_as_seen(draft, draft.sheet.shots.each(change), warp)
    (tab,) = page_truth(seen, warp, "tab-printed", "page.png")["tabs"]
    (as_drawn,) = page_truth(draft, warp, "tab-printed", "page.png")["tabs"]
    assert {**tab, "hard": False} == {**as_drawn, "hard": False}
    return bool(tab.get("hard", False))


def _hard_without(draft: Draft, numbers: Sequence[int], signs: slice = slice(None)) -> bool:
    """The same when some signs of some numbers did not come through."""
    system = _system(draft)
    gone = [m.sign.trace for k in numbers for m in system.numbers[k][signs] if m.sign]
    bare = draft.sheet.shots.without["signs"]
    return _hard(draft, lambda pixels: without(pixels, bare, gone))


def _system(draft: Draft) -> System:
    (system,) = draft.systems
    return system


def _blurred(pixels: Pixels) -> Pixels:
    return np.asarray(cv2.GaussianBlur(pixels, (0, 0), 0.3 * GAP), np.uint8)


def _bleached(pixels: Pixels) -> Pixels:
    return np.asarray(PAPER - (PAPER - pixels.astype(float)) * 0.04, np.uint8)


def _speckled(pixels: Pixels) -> Pixels:
    """A copy that kept a third of its ink in patches."""
    high, wide = pixels.shape[:2]
    kept = cv2.resize(
        (Dice("specks").np.random((high // 4, wide // 4)) < 0.33).astype(np.uint8), (wide, high), None, 0, 0, 0
    )
    return np.asarray(np.where(kept[..., None] > 0, pixels, PAPER), np.uint8)


@pytest.mark.parametrize("broken", [False, True])
def test_a_plain_system_is_asked_for(broken: bool) -> None:
    assert not _hard(_drawn(broken=broken))


@pytest.mark.parametrize("change", [_blurred, _bleached, _speckled])
@pytest.mark.parametrize("broken", [False, True])
def test_a_system_of_specks_is_hard(change: Callable[[Pixels], Pixels], broken: bool) -> None:
    assert _hard(_drawn(broken=broken), change)


def test_each_number_is_remembered_with_its_signs() -> None:
    system = _system(_drawn())
    notes = [n for e in system.events for n in e.notes]
    texts = ["".join(m.sign.text for m in signs if m.sign) for signs in system.numbers]
    assert texts == ["x" if n.fret is None else str(n.fret) for n in notes]
    assert [signs[0].of for signs in system.numbers] == [n.line for n in notes]
    assert {"x"} < set(texts)
    assert any(len(text) == 2 for text in texts)


def test_more_than_one_in_ten_must_be_lost() -> None:
    draft = _drawn()
    tenth = len(_system(draft).numbers) // 10
    assert tenth >= 2
    assert not _hard_without(draft, range(tenth))
    assert _hard_without(draft, range(tenth + 1))


def test_one_number_is_not_enough() -> None:
    draft = _drawn(wide=260)
    assert 2 <= len(_system(draft).numbers) < 10
    assert not _hard_without(draft, [0])
    assert _hard_without(draft, [0, 1])


def test_a_number_is_lost_with_one_of_its_digits() -> None:
    draft = _drawn()
    numbers = _system(draft).numbers
    double = [k for k, signs in enumerate(numbers) if len(signs) == 2]
    lost = double[: len(numbers) // 10 + 1]
    assert len(lost) > len(numbers) / 10
    assert _hard_without(draft, lost, slice(1, 2))


@pytest.mark.parametrize("line", range(LINES))
def test_a_line_that_vanished_makes_a_system_hard(line: int) -> None:
    draft = _drawn()
    y = round(_system(draft).paths[line][0, 1])

    def lost(pixels: Pixels) -> Pixels:
        out = pixels.copy()
        out[y - 2 : y + 3] = PAPER
        return out

    half = round(0.4 * draft.sheet.size[0])
    assert _hard(draft, lost)
    assert not _hard(draft, lambda pixels: np.hstack([lost(pixels)[:, :half], pixels[:, half:]]))


PLAIN = Sight(size=10.0, strength=80.0, contrast=90.0, likeness=0.95, plain=0.9, ratio=1.0, patchy=0.1)


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({}, True),
        ({"strength": 8.0, "ratio": 0.3}, False),  # lost among lines
        ({"contrast": 20.0}, False),
        ({"contrast": 20.0, "size": 25.0}, True),  # the larger, the paler
        ({"likeness": 0.6, "plain": 0.6}, False),
        ({"likeness": 0.6, "plain": 0.6, "size": 24.0}, True),  # the larger, the softer
        ({"likeness": 0.6, "plain": 0.7}, True),
        ({"likeness": 0.7, "plain": 0.7, "contrast": 60.0}, False),  # small and pale
        ({"patchy": 0.8}, True),  # broken by its line
        ({"patchy": 1.0}, False),
        ({"contrast": 60.0, "patchy": 0.6, "plain": 0.5}, False),  # specks
        ({"contrast": 60.0, "patchy": 0.6, "plain": 0.7}, True),
        ({"contrast": 90.0, "patchy": 0.6, "plain": 0.5}, True),
    ],
)
def test_each_measure_can_make_a_number_illegible(changes: dict[str, float], told: bool) -> None:
    assert bool(told_on_line(replace(PLAIN, **changes))) is told
