"""Recalibration: never turns the order round, finds a known bend, never lets a reasoned flag through."""

from __future__ import annotations

import random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from library_samples import frame_of, make_page, make_reading
from scipy import optimize, special

from reader.library.store import Library
from reader.reading import Flag
from reader.review.learning import PULL, STRAIGHT, bend_of, fit_bend, new_estimate, propose, told_by

LIMIT = 0.97
FAINT, DISAGREES = Flag("faint-mark", "faint"), Flag("label-disagrees", "differs")
answers = st.lists(st.tuples(st.floats(0.001, 0.999), st.booleans()), max_size=60)


@given(answers, st.floats(0.001, 0.999), st.floats(0.001, 0.999))
def test_the_order_never_turns_round(found: list[tuple[float, bool]], a: float, b: float) -> None:
    bend = fit_bend(found)
    low, high = sorted((a, b))
    assert bend.of(low) <= bend.of(high)


def test_without_answers_nothing_changes() -> None:
    assert fit_bend([]).of(0.8) == pytest.approx(0.8)


def test_the_fit_is_the_best_one() -> None:
    """The same penalised likelihood, minimised by SciPy."""
    chance = random.Random(1)
    found = [(p := chance.uniform(0.2, 0.999), chance.random() < p**2) for _ in range(300)]

    def penalised(bend: Any) -> float:
        raw = [bend[0] * special.logit(p) + bend[1] for p, _ in found]
        loss = -sum(special.log_expit(r if ok else -r) for r, (_, ok) in zip(raw, found, strict=True))
        return float(loss + PULL / 8 * ((bend[0] - 1) ** 2 + bend[1] ** 2))

    best = optimize.minimize(penalised, [1.0, 0.0], method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-10}).x
    bend = fit_bend(found)
    assert (bend.stretch, bend.shift) == pytest.approx(tuple(best), abs=1e-4)


@pytest.fixture
def open_library(tmp_path: Any) -> Any:
    rows = [
        make_reading("0003", "C", confidence=0.99),
        make_reading("2010", "F", (FAINT,), 0.9),
        make_reading("0202", "G7", (DISAGREES,), 0.99),
        make_reading("0232", "G", (FAINT, DISAGREES), 0.995),
    ]
    with Library.open(tmp_path / "a.inkfret", create=True) as library:
        library.add_page(make_page(*rows), "a" * 64)
        yield library


def test_reasoned_flags_are_never_let_through(open_library: Library) -> None:
    found = [(0.9, True)] * 200
    estimates = [new_estimate(s, fit_bend(found), LIMIT) for s in open_library.outcomes()]
    assert [e >= LIMIT for e in estimates] == [True, True, False, False]


def test_a_reader_that_boasts_is_asked_more(open_library: Library) -> None:
    found = [(0.99, i % 3 > 0) for i in range(60)]
    bend = fit_bend(found)
    assert bend.of(0.99) < 0.8
    (accepted,) = [o for o in open_library.outcomes() if o.state == "accepted"]
    assert new_estimate(accepted, bend, LIMIT) < LIMIT


def test_only_decisions_about_confidence_tell(open_library: Library) -> None:
    first, faint, differs, both = (s.id for s in open_library.sightings())
    assert told_by(open_library.outcomes()) == []
    open_library.confirm([first, differs], "mara")
    open_library.settle(faint, "mara", frame=frame_of("2011"))
    open_library.reject([both], "mara")
    assert told_by(open_library.outcomes()) == [(0.99, True), (0.9, False)]


def test_a_correction_that_is_confirmed_later_stays_a_correction(open_library: Library) -> None:
    first = open_library.sightings()[0].id
    open_library.settle(first, "mara", frame=frame_of("0001"))
    open_library.confirm([first], "rowan")
    assert told_by(open_library.outcomes()) == [(0.99, False)]


@given(answers, st.floats(0.001, 0.999))
def test_a_limit_is_told_in_the_readers_own_terms(found: list[tuple[float, bool]], p: float) -> None:
    bend = fit_bend(found)
    assert bend.of(bend.before(bend.of(p))) == pytest.approx(bend.of(p), abs=1e-3)


def test_what_is_in_force_is_read_back(open_library: Library) -> None:
    assert bend_of(open_library.calibration()) == STRAIGHT
    proposal = propose(open_library.outcomes(), LIMIT)
    open_library.calibrate(proposal.model(), proposal.estimates, LIMIT, "mara")
    again = bend_of(open_library.calibration())
    assert (again.stretch, again.shift) == pytest.approx((proposal.bend.stretch, proposal.bend.shift), abs=1e-6)
    open_library.undo("mara")
    assert bend_of(open_library.calibration()) == STRAIGHT
