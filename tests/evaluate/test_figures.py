"""Every figure on examples small enough to work out by hand, and the empty case of each."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from reader.evaluate.figures import (
    CalibrationBin,
    Decision,
    calibration_bins,
    calibration_error,
    f_measure,
    percentile,
    ratio,
    risk_at_review,
    risk_coverage,
    share,
)


def decision(confidence: float, *, wrong: bool = False, accepted: bool = True) -> Decision:
    return Decision(confidence, accepted, wrong)


def test_nothing_asked_is_neither_good_nor_bad() -> None:
    assert share([]) is None
    assert ratio(0, 0) is None
    assert percentile([], 0.5) is None
    assert f_measure(0, 0, 0) is None
    assert calibration_bins([]) == []
    assert calibration_error([]) is None
    assert risk_at_review([], 0.1) is None
    assert [(p.accepted, p.coverage, p.risk) for p in risk_coverage([], 0, [0.5])] == [(0, None, None)]


def test_share_counts_yes() -> None:
    assert share([True, False, False, False]) == 0.25
    assert share(iter([True])) == 1.0


def test_f_measure_is_the_harmonic_mean() -> None:
    # 6 shared of 8 read and 12 drawn: precision 3/4, recall 1/2, harmonic mean 3/5.
    assert f_measure(6, 12, 8) == pytest.approx(stats.hmean([6 / 8, 6 / 12])) == pytest.approx(0.6)
    assert f_measure(0, 12, 8) == 0.0


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=30), st.floats(0, 1))
def test_percentile_is_numpys(values: list[float], part: float) -> None:
    assert percentile(values, part) == pytest.approx(float(np.percentile(values, 100 * part)), abs=1e-6)


def test_bins_are_closed_below_and_the_last_above() -> None:
    bins = calibration_bins([decision(0.0), decision(0.1), decision(0.19, wrong=True), decision(1.0)])
    assert [(b.start, b.count) for b in bins] == [(0.0, 1), (0.1, 2), (0.9, 1)]
    assert bins[1] == CalibrationBin(0.1, 0.2, 2, pytest.approx(0.145), 0.5)


def test_calibration_error_weighs_bins_by_readings() -> None:
    # Three readings at 0.9 of which two are right (off by 0.9 - 2/3), one at 0.2 that is wrong (off by 0.2).
    sure = [decision(0.9), decision(0.9), decision(0.9, wrong=True)]
    assert calibration_error(calibration_bins([*sure, decision(0.2, wrong=True)])) == pytest.approx(
        0.75 * (0.9 - 2 / 3) + 0.25 * 0.2
    )


def test_perfectly_calibrated_is_zero() -> None:
    half = [decision(0.5), decision(0.5, wrong=True)]
    assert calibration_error(calibration_bins([*half, decision(1.0)])) == 0.0


def test_risk_falls_and_coverage_falls_with_the_demand() -> None:
    decisions = [decision(0.95), decision(0.8), decision(0.6, wrong=True), decision(0.99, accepted=False)]
    loose, strict = risk_coverage(decisions, drawn=5, thresholds=[0.0, 0.8])
    assert (loose.accepted, loose.coverage, loose.risk) == (3, pytest.approx(2 / 5), pytest.approx(1 / 3))
    assert (strict.accepted, strict.coverage, strict.risk) == (2, pytest.approx(2 / 5), 0.0)


def test_review_takes_flagged_first_then_the_least_confident() -> None:
    flagged = decision(0.99, wrong=True, accepted=False)
    doubtful, sure = decision(0.3, wrong=True), decision(0.9)
    decisions = [sure, doubtful, sure, flagged]
    assert risk_at_review(decisions, 0.0) == 0.5
    assert risk_at_review(decisions, 0.25) == pytest.approx(1 / 3)
    assert risk_at_review(decisions, 0.49) == pytest.approx(1 / 3)  # a budget is never overdrawn
    assert risk_at_review(decisions, 0.5) == 0.0
    assert risk_at_review(decisions, 1.0) is None
