"""Several parts of a page at once."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import cv2
import numpy as np
import pytest

from reader.image.abreast import abreast
from reader.image.levels import Levels


@pytest.fixture(params=[1, 2])
def threads(request: pytest.FixtureRequest) -> Iterator[int]:
    before = cv2.getNumThreads()
    cv2.setNumThreads(request.param)
    yield int(request.param)
    cv2.setNumThreads(before)


def test_results_come_in_the_order_of_the_parts(threads: int) -> None:
    waits = [threading.Event() for _ in range(2)]

    def work(part: int) -> int:
        if threads > 1 and part == 0:
            assert waits[0].wait(10), "the second part never ran beside the first"
        if part == 1:
            waits[0].set()
        return part * part

    assert abreast(work, range(20)) == [k * k for k in range(20)]


def test_an_error_in_one_part_is_raised(threads: int) -> None:
    with pytest.raises(ZeroDivisionError):
        abreast(lambda part: 1 // part, [2, 1, 0])


def test_halves_of_a_page_are_the_same_for_allthreads() -> None:
    pixels = np.random.default_rng(0).integers(0, 255, (512, 512, 3)).astype(np.uint8)
    alone = [Levels(pixels).finest(k)[0] for k in (2, 4, 8, 16)]
    for _ in range(20):
        shared = Levels(pixels)
        with ThreadPoolExecutor(8) as pool:
            got = list(pool.map(shared.finest, [2, 4, 8, 16] * 4))
        assert all(np.array_equal(g, alone[i % 4]) for i, (g, _) in enumerate(got))
