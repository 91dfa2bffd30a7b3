"""Changes of one diagram: what each edit makes of a draft."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from library_samples import frame_of

from reader.errors import NotationError
from reader.music.frame import Barre, Frame
from reader.review.edits import EDITS, Draft, apply_edit, draft_from, fingers_text


def draft(shape: str, **changes: Any) -> Draft:
    frame = frame_of(shape, **changes)
    return Draft(frame, "C", {4: "ukulele", 6: "guitar"}[frame.string_count])


def in_window(shape: str, first: int, rows: int = 4, fingers: str = "") -> Draft:
    plain = frame_of(shape)
    marks = tuple(int(f) if f.isdigit() else None for f in fingers) or plain.fingers
    return Draft(Frame(plain.frets, marks, rows, first), None, "ukulele")


def told(changed: Draft) -> str:
    """Shape, fingers and window in one line."""
    frame = changed.frame
    return f"{frame.shape} {fingers_text(frame)} {frame.first_fret}+{frame.fret_count}"


@pytest.mark.parametrize(
    ("start", "edit", "values", "expected"),
    [
        (draft("0003"), "fret", {"string": 0, "fret": 2}, "2003 ---- 1+4"),
        (draft("0003"), "fret", {"string": 3, "fret": None}, "000x ---- 1+4"),
        (draft("0003"), "move", {"string": 3, "by": -1}, "0002 ---- 1+4"),
        (draft("0003"), "move", {"string": 0, "by": -1}, "x003 ---- 1+4"),
        (draft("x003"), "move", {"string": 0, "by": -1}, "x003 ---- 1+4"),
        (draft("0004"), "move", {"string": 3, "by": 1}, "0004 ---- 1+4"),
        (in_window("0575", 5), "move", {"string": 0, "by": 1}, "5575 ---- 5+4"),
        (in_window("0202", 1, fingers="-1-2"), "frets", {"text": "0212"}, "0212 -1-2 1+4"),
        (in_window("0202", 1, fingers="-1-2"), "frets", {"text": "0303"}, "0303 -1-2 2+4"),
        (draft("0202"), "frets", {"text": "7-9-9-10"}, "7-9-9-10 ---- 7+4"),
        (draft("0202"), "frets", {"text": "x32010"}, "x32010 ------ 1+4"),
        (draft("0202"), "fingers", {"text": "- 1 - t"}, "0202 -1-T 1+4"),
        (draft("0202"), "finger", {"string": 1, "finger": "3"}, "0202 -3-- 1+4"),
        (in_window("0202", 1, fingers="-3--"), "finger", {"string": 1, "finger": "3"}, "0202 ---- 1+4"),
        (draft("0212"), "first-fret", {"fret": 5}, "0656 ---- 5+4"),
        (draft("0212"), "rows", {"count": 1}, "0212 ---- 1+2"),
        (draft("0212"), "strings", {"count": 6}, "021200 ------ 1+4"),
        (draft("x32010"), "strings", {"count": 4}, "x320 ---- 1+4"),
    ],
)
def test_edits(start: Draft, edit: str, values: dict[str, Any], expected: str) -> None:
    assert told(apply_edit(start, edit, values)) == expected


def test_the_tuning_follows_the_strings() -> None:
    assert apply_edit(draft("0003"), "frets", {"text": "x32010"}).tuning == "guitar"
    assert apply_edit(draft("0003"), "tuning", {"text": "gCEA"}).tuning == "ukulele"


def test_labels() -> None:
    assert apply_edit(draft("0003"), "label", {"text": " Am7 "}).label == "Am7"
    assert apply_edit(draft("0003"), "label", {"text": " "}).label is None


def test_a_barre_comes_and_goes() -> None:
    start = draft("3211")
    laid = apply_edit(start, "barre", {"string": 2})
    assert laid.frame.barres == (Barre(1, 2, 1),)
    assert apply_edit(laid, "barre", {"string": 3}).frame.barres == ()
    moved = apply_edit(laid, "first-fret", {"fret": 3})
    assert moved.frame.barres == (Barre(3, 2, 1),)
    assert apply_edit(laid, "fret", {"string": 3, "fret": 0}).frame.barres == ()


@pytest.mark.parametrize(
    ("edit", "values", "message"),
    [
        ("frets", {"text": "02y2"}, "'y' in the shape '02y2' is not a fret"),
        ("fingers", {"text": "12"}, "do not fit 4 strings"),
        ("fret", {"string": 9, "fret": 0}, "no string at place 10"),
        ("fret", {"string": 0, "fret": 99}, "Fret 99 is outside"),
        ("first-fret", {"fret": 0}, "fret 1 or higher"),
        ("strings", {"count": 40}, "3 to 12 strings"),
        ("tuning", {"text": "guitar"}, "strings"),
        ("barre", {"string": 0}, "starts on a string that is stopped"),
        ("barre", {"string": 3}, "two strings or more"),
        ("dance", {}, "'dance' is no edit"),
        ("fret", {"strange": 1}, "values that do not fit"),
    ],
)
def test_what_cannot_be_done_is_said(edit: str, values: dict[str, Any], message: str) -> None:
    with pytest.raises(NotationError, match=message):
        apply_edit(draft("0003"), edit, values)


def test_a_broken_draft_is_refused() -> None:
    whole = draft("0003").to_object()
    assert draft_from(whole) == draft("0003")
    for broken in ({**whole, "frets": None}, {**whole, "fret_count": "many"}, {}, {**whole, "frets": [0, 0, 0, 99]}):
        with pytest.raises(NotationError):
            draft_from(broken)


values = st.fixed_dictionaries({"string": st.integers(0, 3), "by": st.sampled_from([-1, 1])})


@given(st.lists(st.tuples(st.sampled_from(["move", "barre", "first-fret", "finger"]), values), max_size=12))
def test_any_row_of_edits_leaves_a_diagram(steps: list[tuple[str, dict[str, int]]]) -> None:
    """Every draft on the way can be stored, drawn within its window and read back."""
    now = draft("0212")
    needed = {
        "move": lambda v, d: v,
        "barre": lambda v, d: {"string": v["string"]},
        "first-fret": lambda v, d: {"fret": d.frame.first_fret + v["by"]},
        "finger": lambda v, d: {"string": v["string"], "finger": str(v["string"] + 1)},
    }
    assert needed.keys() <= EDITS.keys()
    for edit, given_values in steps:
        try:
            now = apply_edit(now, edit, needed[edit](given_values, now))
        except NotationError:
            continue
        assert draft_from(now.to_object()) == now
        assert all(now.frame.first_fret <= f <= now.frame.last_fret for f in now.frame.frets if f)
