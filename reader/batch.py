"""Many files, one page after another or in several processes; nothing that was read is lost or read twice.

With a library, every page goes in as soon as it is read, and a page that is already there is not read again:
an interrupted run is taken up by giving the same command once more. A page that cannot be read becomes a
`PageReading` with its `error`, and the run goes on.
"""

from __future__ import annotations

import hashlib
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import numpy as np

from reader.errors import InputError, ReaderError
from reader.image.cutouts import cut_diagram, cut_tab
from reader.image.pages import Page, PageFile
from reader.library.store import Library
from reader.reading import PageReading

ReadPage = Callable[[Page], PageReading]

IN_FLIGHT = 3
"""Pages given out per process: enough to keep it busy, few enough to hold in memory."""


@dataclass(frozen=True, slots=True)
class PageOutcome:
    """What became of one page.

    Parameters
    ----------
    reading : PageReading
        With an ``error`` where the page could not be read.
    known : bool
        The library already held the page; ``reading`` is what it holds.
    """

    reading: PageReading
    known: bool = False


@dataclass(frozen=True, slots=True)
class Totals:
    """Counts over a run, for the table at its end."""

    pages: int = 0
    known: int = 0
    diagrams: int = 0
    tabs: int = 0
    accepted: int = 0
    to_review: int = 0
    errors: int = 0

    def plus(self, outcome: PageOutcome) -> Totals:
        """The counts with one more page."""
        reading = outcome.reading
        items = len(reading.diagrams) + len(reading.tabs)
        accepted = sum(d.accepted for d in reading.diagrams) + sum(t.accepted for t in reading.tabs)
        return Totals(
            pages=self.pages + 1,
            known=self.known + outcome.known,
            diagrams=self.diagrams + len(reading.diagrams),
            tabs=self.tabs + len(reading.tabs),
            accepted=self.accepted + accepted,
            to_review=self.to_review + items - accepted,
            errors=self.errors + (reading.error is not None),
        )


@dataclass(frozen=True, slots=True)
class _Task:
    """One page to read; ``error`` when its file already failed to open."""

    path: Path
    number: int
    sha256: str = ""
    error: str | None = None


@dataclass(frozen=True, slots=True)
class _Seen:
    """A page as read, with a picture of each diagram and tab system."""

    reading: PageReading
    crops: tuple[bytes, ...] = ()
    tab_crops: tuple[bytes, ...] = ()


def read_files(
    paths: Iterable[Path], read_page: ReadPage, *, library: Library | None = None, jobs: int = 1, who: str = "reader"
) -> Iterator[PageOutcome]:
    """Read every page of every file, in order.

    Parameters
    ----------
    paths : iterable of Path
    read_page : function of Page to PageReading
        With several processes it must be one that can be pickled.
    library : Library, optional
        Where each page is stored before it is handed on.
    jobs : int
        Processes; 1 reads in this one.
    who : str
        Noted in the library as the reader of the pages.

    Yields
    ------
    PageOutcome
    """
    for task, seen in _see_all(_list_tasks(paths), read_page, library, jobs):
        if isinstance(seen, PageReading):
            yield PageOutcome(seen, known=True)
            continue
        if library is not None and seen.reading.error is None:
            library.add_page(seen.reading, task.sha256, seen.crops, seen.tab_crops, path=task.path, who=who)
        yield PageOutcome(seen.reading)


def count_pages(paths: Iterable[Path]) -> int:
    """Pages in all files, for a progress bar; a file that cannot be opened counts as one."""
    return sum(1 for _ in _list_tasks(paths, checksums=False))


# ---------------------------------------------------------------- one page


def _list_tasks(paths: Iterable[Path], checksums: bool = True) -> Iterator[_Task]:
    for path in paths:
        try:
            with PageFile(path) as file:
                count = len(file)
            sha256 = checksum(path) if checksums else ""
        except ReaderError as error:
            yield _Task(path, 1, error=str(error))
            continue
        for number in range(1, count + 1):
            yield _Task(path, number, sha256)


def checksum(path: Path) -> str:
    """SHA-256 of a file, in hexadecimal.

    Raises
    ------
    InputError
        When the file cannot be read to its end.
    """
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise InputError(f"{path} cannot be read to its end ({error.strerror or error}): check the disk.") from None


def _read_task(task: _Task, read_page: ReadPage) -> _Seen:
    """Read one page; whatever goes wrong becomes the error of its reading."""
    if task.error is not None:
        return _Seen(_failed(task, task.error))
    try:
        with PageFile(task.path) as file:
            page = file.page(task.number)
        reading = read_page(page)
        crops = tuple(cut_diagram(page.pixels, np.array(d.corners, float)) for d in reading.diagrams)
        tab_crops = tuple(cut_tab(page.pixels, np.array(t.corners, float), t.line_count) for t in reading.tabs)
        return _Seen(reading, crops, tab_crops)
    except ReaderError as error:
        return _Seen(_failed(task, str(error)))
    except Exception as error:  # one page must not end a run over a thousand
        reason = f"{type(error).__name__}: {error}"
        return _Seen(_failed(task, f"{_name(task)} met a fault in this program ({reason}). Report it with the page."))


def _failed(task: _Task, error: str) -> PageReading:
    return PageReading(str(task.path), task.number, 0, 0, error=error)


def _name(task: _Task) -> str:
    return f"Page {task.number} of {task.path}"


def _find_known(library: Library | None, task: _Task) -> PageReading | None:
    """What the library holds of a page, under the name that the file goes by now."""
    if library is None or task.error is not None:
        return None
    page = library.find_page(task.sha256, task.number)
    return None if page is None else library.page_reading(page.id).with_source(str(task.path))


# ---------------------------------------------------------------- here, or in several processes

_Result = _Seen | PageReading
"""What was seen now, or what the library already held."""


def _see_all(
    tasks: Iterable[_Task], read_page: ReadPage, library: Library | None, jobs: int
) -> Iterator[tuple[_Task, _Result]]:
    """Tasks in order, each with its result."""
    if jobs <= 1:
        for task in tasks:
            yield task, _find_known(library, task) or _read_task(task, read_page)
        return
    pending: deque[tuple[_Task, PageReading | Future[_Seen]]] = deque()
    with _Pool(jobs) as pool:
        for task in tasks:
            pending.append((task, _find_known(library, task) or pool.submit(task, read_page)))
            if len(pending) >= jobs * IN_FLIGHT:
                yield _collect(pool, *pending.popleft(), read_page)
        while pending:
            yield _collect(pool, *pending.popleft(), read_page)


def _collect(
    pool: _Pool, task: _Task, result: PageReading | Future[_Seen], read_page: ReadPage
) -> tuple[_Task, _Result]:
    if isinstance(result, PageReading):
        return task, result
    try:
        return task, result.result()
    except BrokenProcessPool:
        return task, pool.read_alone(task, read_page)


class _Pool:
    """A process pool that outlives the death of one of its processes."""

    def __init__(self, jobs: int) -> None:
        self._jobs = jobs
        self._pool = self._start(jobs)

    def _start(self, jobs: int) -> ProcessPoolExecutor:
        # Forking a process that has loaded networks and threads is not safe.
        return ProcessPoolExecutor(jobs, mp_context=get_context("spawn"), initializer=_share_cores, initargs=(jobs,))

    def submit(self, task: _Task, read_page: ReadPage) -> Future[_Seen]:
        """Give a page out."""
        try:
            return self._pool.submit(_read_task, task, read_page)
        except BrokenProcessPool:
            self._pool.shutdown(cancel_futures=True)
            self._pool = self._start(self._jobs)
            return self._pool.submit(_read_task, task, read_page)

    def read_alone(self, task: _Task, read_page: ReadPage) -> _Seen:
        """Read a page whose process died in a process of its own: only the page at fault dies twice."""
        with self._start(1) as alone:
            try:
                return alone.submit(_read_task, task, read_page).result()
            except BrokenProcessPool:
                reason = "ended the process that read it, perhaps for want of memory: make the picture smaller."
                return _Seen(_failed(task, f"{_name(task)} {reason}"))

    def __enter__(self) -> _Pool:
        return self

    def __exit__(self, *_: object) -> None:
        self._pool.shutdown(cancel_futures=True)


def _share_cores(jobs: int) -> None:
    """In a new process: leave the other processes their share of the cores."""
    import os

    import cv2

    cv2.setNumThreads(max(1, (os.cpu_count() or 1) // jobs))
