"""``inkfret read``: pages in, readings and a library out."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from enum import StrEnum
from pathlib import Path
from typing import IO, TYPE_CHECKING, Annotated

import typer

from cli.console import say, show_progress
from reader.errors import BATCH_HAD_FAILURES, ExportError, InputError

if TYPE_CHECKING:
    from reader.batch import ReadPage, Totals
    from reader.library.store import Library
    from reader.reading import PageReading

TO_STDOUT = Path("-")


class Names(StrEnum):
    """How notes are named."""

    english = "english"
    german = "german"
    solfege = "solfege"


def read(
    paths: Annotated[list[Path], typer.Argument(metavar="PATHS", help="Pictures, PDFs, or folders of them.")],
    library: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Keep what is read in this library; made when it does not exist."),
    ] = None,
    tuning: Annotated[
        str | None, typer.Option(metavar="ID", help="Tuning of all pages: ukulele, guitar-drop-d, 'D A D G A D'.")
    ] = None,
    readings: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write every page as one line of JSON; - for standard output.")
    ] = None,
    accept_error: Annotated[
        float | None,
        typer.Option(
            metavar="SHARE",
            min=0.0,
            max=1.0,
            help="Share of wrong shapes to aim at among accepted ones: 0.001 is strict.",
        ),
    ] = None,
    names: Annotated[Names, typer.Option(help="How labels name notes; do re mi is noticed by itself.")] = Names.english,
    jobs: Annotated[int, typer.Option(metavar="N", min=1, help="Processes that read at the same time.")] = 1,
) -> None:
    """Read pages: every diagram and tab, named, with what to look at again.

    Each page is kept as soon as it is read. Give the same command again after an interrupt: pages that are in the
    library already are not read twice.
    """
    from reader.batch import Totals, count_pages, read_files
    from reader.image.pages import list_inputs

    read_page = make_page_reader(tuning, accept_error, names)
    files = list_inputs(paths)
    totals = Totals()
    with _opened(library) as shelf, _line_writer(readings) as write_line:
        outcomes = read_files(files, read_page, library=shelf, jobs=jobs, who=_who())
        for outcome in show_progress(outcomes, "Reading", total=count_pages(files)):
            totals = totals.plus(outcome)
            write_line(outcome.reading)
            if outcome.reading.error is not None:
                say(f"inkfret: {outcome.reading.error}")
            elif library is None and readings is None:
                _show_page(outcome.reading)
    print(_table(totals), file=sys.stderr if readings == TO_STDOUT else sys.stdout)
    if totals.errors:
        raise typer.Exit(InputError.exit_code if totals.pages == 1 else BATCH_HAD_FAILURES)


def make_page_reader(tuning: str | None, accept_error: float | None, names: Names) -> ReadPage:
    """The function that reads one page, with the settings of the command line.

    Raises
    ------
    NotationError
        When the tuning is unknown.
    """
    from dataclasses import replace
    from functools import partial

    from reader.music.tuning import get_tuning
    from reader.pipeline import ReadSettings, read_page

    settings = ReadSettings(tuning=None if tuning is None else get_tuning(tuning).id, note_names=names.value)
    if accept_error is not None:
        settings = replace(settings, accept_error=accept_error)
    return partial(read_page, settings=settings)


def _who() -> str:
    from importlib.metadata import version

    return f"inkfret {version('inkfret')}"


@contextmanager
def _opened(path: Path | None) -> Iterator[Library | None]:
    from reader.library.store import Library

    if path is None:
        yield None
        return
    with Library.open(path, create=True) as library:
        yield library


@contextmanager
def _line_writer(path: Path | None) -> Iterator[Callable[[PageReading], None]]:
    """A function that writes a page as one line, at once: an interrupt loses no page that was read."""
    if path is None:
        yield lambda reading: None
    elif path == TO_STDOUT:
        yield lambda reading: _write_line(sys.stdout, reading)
    else:
        with _clear_errors(path):
            file = path.open("w", encoding="utf-8")
        try:
            yield lambda reading: _write_to_file(path, file, reading)
        finally:
            with _clear_errors(path):
                file.close()


def _write_to_file(path: Path, file: IO[str], reading: PageReading) -> None:
    with _clear_errors(path):
        _write_line(file, reading)


def _write_line(stream: IO[str], reading: PageReading) -> None:
    from reader.reading import to_line

    stream.write(to_line(reading) + "\n")
    stream.flush()


@contextmanager
def _clear_errors(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise ExportError(f"{path} cannot be written ({error.strerror or error}): choose another place.") from None


def _show_page(reading: PageReading) -> None:
    """What was found on a page, a line each, for a run that keeps nothing."""
    print(f"{reading.source}, page {reading.page}: {len(reading.diagrams)} diagrams, {len(reading.tabs)} tabs")
    for number, diagram in enumerate(reading.diagrams, 1):
        label = f"  written {diagram.label}" if diagram.label and diagram.label != diagram.name else ""
        name = diagram.name or "?"
        print(f"  {number:3}  {diagram.frame.shape!s:<14} {name:<8} {diagram.tuning}  {diagram.confidence:.2f}{label}")
        for flag in diagram.flags:
            print(f"       look again: {flag.detail}")


def _table(totals: Totals) -> str:
    known = f"  ({totals.known} already in the library)" if totals.known else ""
    rows = (
        ("pages", f"{totals.pages}{known}"),
        ("diagrams", totals.diagrams),
        ("tabs", totals.tabs),
        ("accepted", totals.accepted),
        ("to review", totals.to_review),
        ("errors", totals.errors),
    )
    return "\n".join(f"{name:<10}{value}" for name, value in rows)
