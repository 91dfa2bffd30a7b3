"""From evidence to a probability: more evidence never means less, and the scale is straight."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reader.confidence import DEFAULT_ACCEPT_ERROR, Judge, judge, logit, straightened, transformed

GOOD = {
    "shape": 0.98, "weakest": 0.99, "margin": 0.01, "strings": 0.99, "rows": 0.99, "first": 0.99, "number_unread": 0.0,
    "first_disputed": 0.0, "diagram": 0.99, "finder": 0.95, "way": 0.99, "spread": 0.01,
    "moved": 0.01, "label": 0.9, "label_agrees": 1.0, "label_differs": 0.0, "ink_missing": 0.8, "ink_extra": 0.05,
    "gap": 25.0, "unnumbered": 0.0, "nut": 0.99,
}  # fmt: skip
SPEAKS_FOR = {
    **dict.fromkeys(("shape", "weakest", "strings", "rows", "first", "diagram", "finder", "way"), (0.01, 0.5, 0.999)),
    **{"label_agrees": (0.0, 1.0), "ink_missing": (0.0, 0.2, 0.9), "gap": (4.0, 8.0, 30.0)},
}
SPEAKS_AGAINST = {
    **{"margin": (0.001, 0.1, 1.0), "spread": (0.0, 0.1, 0.9), "moved": (0.0, 0.05, 0.3)},
    **{"ink_extra": (0.1, 0.5, 1.0), "unnumbered": (0.0, 1.0)},
}


@pytest.mark.parametrize("name", SPEAKS_FOR)
def test_what_speaks_for_a_reading_never_lowers_it(name: str) -> None:
    steps = [judge().confidence(GOOD | {name: v}) for v in SPEAKS_FOR[name]]
    assert steps == sorted(steps)


@pytest.mark.parametrize("name", SPEAKS_AGAINST)
def test_what_speaks_against_a_reading_never_raises_it(name: str) -> None:
    steps = [judge().confidence(GOOD | {name: v}) for v in SPEAKS_AGAINST[name]]
    assert steps == sorted(steps, reverse=True)


def test_every_part_moves_the_sum_as_its_weight_says() -> None:
    """Whatever was fitted: a part alone, on a model of weight 1, moves the confidence the way it speaks."""
    for name, values in SPEAKS_FOR.items():
        parts = {k for k in transformed(GOOD) if transformed(GOOD | {name: values[0]})[k] != transformed(GOOD)[k]}
        assert parts, name
        one = Judge(dict.fromkeys(parts, 1.0), 0.0, (), (), {}, 0.0, 0.5)
        steps = [one.confidence(GOOD | {name: v}) for v in values]
        assert all(a < b for a, b in pairwise(steps)), name


def test_good_evidence_is_trusted_and_bad_is_not() -> None:
    assert judge().confidence(GOOD) > 0.97
    bad = GOOD | {"shape": 0.05, "weakest": 0.2, "margin": 0.9, "first": 0.4, "label_agrees": 0.0, "spread": 0.6}
    assert judge().confidence(bad) < 0.5


BENDS = ((0.2, 0.1), (0.6, 0.5), (0.9, 0.95))


@pytest.mark.parametrize(
    ("p", "straight"),
    [(0.0, 0.0), (0.1, 0.05), (0.2, 0.1), (0.4, 0.3), (0.6, 0.5), (0.75, 0.725), (0.9, 0.95), (1.0, 0.95)],
)
def test_the_scale_is_straightened_piece_by_piece(p: float, straight: float) -> None:
    assert straightened(p, BENDS) == pytest.approx(straight)


def test_without_bends_the_scale_stays() -> None:
    assert straightened(0.37, ()) == 0.37


@given(st.floats(0, 1), st.floats(0, 1))
def test_the_fitted_scale_keeps_the_order(a: float, b: float) -> None:
    low, high = sorted((a, b))
    assert straightened(low, judge().bends) <= straightened(high, judge().bends) + 1e-12


def test_a_stricter_aim_asks_for_more() -> None:
    shares = [share for share, _ in judge().thresholds]
    asked = [judge().least(share) for share in shares]
    assert shares == sorted(shares)
    assert asked == sorted(asked, reverse=True)
    assert judge().least(0.0) == 1.0
    assert judge().least(1.0) == asked[-1]
    assert 0 < judge().least(DEFAULT_ACCEPT_ERROR) <= 1


def test_between_two_aims_the_stricter_one_holds() -> None:
    made = Judge({}, 0.0, (), ((0.001, 0.99), (0.01, 0.9)), {}, 0.0, 0.5)
    assert made.least(0.005) == 0.99
    assert made.least(0.0005) == 1.0


def test_log_odds_stay_within_what_certainty_can_mean() -> None:
    assert logit(0.5) == 0
    assert logit(1.0) == pytest.approx(-logit(0.0)) == pytest.approx(7.6, abs=0.01)


def test_every_weight_has_its_part() -> None:
    assert set(judge().weights) <= set(transformed(GOOD))
    assert all(w >= 0 for w in judge().weights.values())


def test_what_hardly_looks_like_a_diagram_is_none() -> None:
    assert judge().is_diagram(GOOD)
    assert not judge().is_diagram(
        GOOD | {"finder": 0.1, "shape": 0.02, "weakest": 0.3, "diagram": 0.1, "label_agrees": 0.0}
    )
