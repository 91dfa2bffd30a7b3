"""Several parts of a page at once, in as many threads as pictures may be worked on with."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from typing import TypeVar

import cv2

Part = TypeVar("Part")
Done = TypeVar("Done")


def abreast(work: Callable[[Part], Done], parts: Iterable[Part]) -> list[Done]:
    """What a function makes of each part, in the order of the parts.

    The function must not call ``abreast`` itself, nor run a network: those use all threads already.
    """
    threads = max(1, cv2.getNumThreads())
    if threads == 1:
        return [work(part) for part in parts]
    return list(_pool(threads).map(work, parts))


@cache
def _pool(threads: int) -> ThreadPoolExecutor:
    return ThreadPoolExecutor(threads, thread_name_prefix="abreast")
