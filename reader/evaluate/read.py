"""Read the pages of a truth file, each timed."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path

from reader.errors import ReaderError
from reader.evaluate.truth import TruePage
from reader.image.pages import Page, PageFile
from reader.reading import PageReading


@dataclass(frozen=True, slots=True)
class TimedReading:
    """A page as read, and the seconds that took once it was opened (None where it could not be)."""

    reading: PageReading
    seconds: float | None


def read_true_pages(
    truth: Iterable[TruePage], folder: Path, read_page: Callable[[Page], PageReading]
) -> Iterator[TimedReading]:
    """Read every page that a truth file names, in its order; pages seen in training are left out.

    Parameters
    ----------
    truth : iterable of TruePage
    folder : Path
        Where the sources lie.
    read_page : function of Page to PageReading

    Yields
    ------
    TimedReading
        Whatever goes wrong on a page becomes the ``error`` of its reading.
    """
    unseen = (page for page in truth if not page.seen)
    for source, pages in groupby(unseen, key=lambda p: p.page.source):
        try:
            file = PageFile(folder / source)
        except ReaderError as error:
            yield from [_failed(page, str(error)) for page in pages]
            continue
        with file:
            for page in pages:
                yield _read_timed(page, file, read_page)


def _read_timed(page: TruePage, file: PageFile, read_page: Callable[[Page], PageReading]) -> TimedReading:
    try:
        picture = file.page(page.page.page)
        start = time.perf_counter()
        reading = read_page(picture)
        seconds = time.perf_counter() - start
    except ReaderError as error:
        return _failed(page, str(error))
    except Exception as error:  # a fault on one page must not lose the figures of a thousand others
        return _failed(page, f"a fault in this program ({type(error).__name__}: {error}).")
    return TimedReading(reading.with_source(page.page.source), seconds)


def _failed(page: TruePage, error: str) -> TimedReading:
    drawn = page.page
    return TimedReading(PageReading(drawn.source, drawn.page, drawn.width, drawn.height, error=error), None)
