"""The draw is fair and covers the pages; what its answers say holds in simulated libraries."""

from __future__ import annotations

import random
from collections import Counter

import pytest

from reader.review.bounds import upper_bound
from reader.review.sampling import Sample, draw, judge_answers

PAGES = {page: list(range(page * 100, page * 100 + size)) for page, size in enumerate([1, 3, 12, 12, 12, 20, 40])}


def sample_of(drawn: tuple[int, ...], population: int = 1000) -> Sample:
    return Sample("s", drawn, population, 10, 0.01, "2026-01-01T00:00:00Z")


def test_every_reading_has_the_same_chance() -> None:
    chance = random.Random(3)
    seen = Counter(i for _ in range(4000) for i in draw(PAGES, 20, chance))
    expected = 4000 * 20 / 100
    # five standard deviations of a binomial count
    assert all(abs(seen[i] - expected) < 5 * expected**0.5 for ids in PAGES.values() for i in ids)


def test_every_page_gets_its_share() -> None:
    chance = random.Random(4)
    for _ in range(50):
        pages = Counter(i // 100 for i in draw(PAGES, 20, chance))
        # a page of 40 in 100 fills eight pieces of five, of which the outer two may be shared
        assert 6 <= pages[6] <= 9
        assert pages[5] >= 2


def test_few_readings_are_all_drawn() -> None:
    drawn = draw(PAGES, 500, random.Random(5))
    assert sorted(drawn) == sorted(i for ids in PAGES.values() for i in ids)


def test_verdict_counts_and_bounds() -> None:
    sample = sample_of(tuple(range(400)))
    verdict = judge_answers(sample, {i: i != 7 for i in range(300)})
    assert (verdict.checked, verdict.wrong) == (300, 1)
    assert verdict.bound == upper_bound(1, 300)
    assert verdict.to_go == {0.01: 473 - 300, 0.005: 947 - 300, 0.001: 4742 - 300}


def test_a_reading_drawn_twice_counts_twice() -> None:
    assert judge_answers(sample_of((5, 6, 5)), {5: False}).wrong == 2


def test_when_all_were_checked_the_share_is_known() -> None:
    sample = sample_of((1, 2, 3, 4), population=4)
    assert judge_answers(sample, {1: True, 2: False, 3: True}).bound > 0.25
    assert judge_answers(sample, {1: True, 2: False, 3: True, 4: True}).bound == 0.25


def test_no_more_are_asked_for_than_there_are() -> None:
    sample = sample_of((1, 2, 3, 4), population=4)
    assert set(judge_answers(sample, {1: True}).to_go.values()) == {3}
    assert set(judge_answers(sample, dict.fromkeys((1, 2, 3, 4), True)).to_go.values()) == {0}


def test_a_sample_survives_storing() -> None:
    sample = sample_of((3, 1, 2))
    assert Sample.from_object(sample.to_object()) == sample


@pytest.mark.parametrize("bad_pages", [1, 4])
def test_the_bound_holds_at_least_as_often_as_it_says(bad_pages: int) -> None:
    """Libraries in which the wrong readings lie on few pages: the true share is above the bound in at most 5 %."""
    chance = random.Random(6)
    by_page = {page: list(range(page * 10, page * 10 + 10)) for page in range(40)}
    wrong = {i for page in range(bad_pages) for i in by_page[page][:6]}
    share, missed, runs = len(wrong) / 400, 0, 1500
    for _ in range(runs):
        drawn = draw(by_page, 60, chance)
        missed += judge_answers(sample_of(drawn, 400), {i: i not in wrong for i in drawn}).bound < share
    # three standard deviations of a simulation of so many runs
    assert missed / runs <= 0.05 + 3 * (0.05 * 0.95 / runs) ** 0.5
