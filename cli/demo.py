"""``inkfret demo``: the whole job on the pages of an invented studio."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterable, Sequence
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli.console import say, show_progress
from cli.writing import write_files
from reader.errors import BATCH_HAD_FAILURES, ExportError, InputError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from reader.library.collection import Collection
    from reader.reading import PageReading, Reading, TabReading

STUDIO = "Larkspur Lane Studio"
PLACES = (Path(__file__).parents[1] / "fixtures" / "pages", Path(__file__).parent / "demo_pages")
"""The pages in a clone, and beside the installed commands."""
FORMATS = ("svg", "json", "csv", "pdf")
SHOWN = 7
"""Doubtful readings that are told one by one: enough to see what a flag says."""


def demo(
    out: Annotated[Path, typer.Option(metavar="DIR", help="A new or empty folder for all that comes out.")] = Path(
        "inkfret-demo"
    ),
) -> None:
    """Read the pages of an invented studio: a library, clean drawings, and where a person must look.

    Scans, phone photos, a PDF, a TIFF and more, by hand and printed; some on their side, some without a diagram.
    """
    from reader.export import export_collection

    pages = _find_pages()
    _claim(out)
    write_files(out / "pages", {path.name: path.read_bytes() for path in pages})
    readings, collection = _read([out / "pages" / path.name for path in pages], out)
    write_files(out / "shapes", export_collection(collection, FORMATS).files)
    pictures = _draw_doubtful(readings, out)
    print(*filter(None, (_table(readings), _doubts(readings), _next_steps(out, pictures))), sep="\n\n")
    for reading in readings:
        if reading.error is not None:
            say(f"inkfret: {reading.error}")
    if any(reading.error is not None for reading in readings):
        raise typer.Exit(BATCH_HAD_FAILURES)


def _find_pages() -> list[Path]:
    for folder in PLACES:
        if (folder / "truth.jsonl").is_file():
            return sorted(p for p in folder.iterdir() if p.suffix != ".jsonl")
    raise InputError("The demo's pages were not installed: clone the project and run the demo there.")


def _claim(out: Path) -> None:
    """Nothing of anybody's is written over."""
    if out.is_file() or (out.is_dir() and any(out.iterdir())):
        raise ExportError(f"{out} is already there and not empty: delete it, or name another folder with --out.")


def _read(paths: Sequence[Path], out: Path) -> tuple[list[PageReading], Collection]:
    """Read the pages into a library and into lines of JSON, each page at once; the library is then collected."""
    from cli.read import Names, make_page_reader
    from reader.batch import count_pages, read_files
    from reader.library.store import Library
    from reader.reading import to_line

    readings = []
    with (
        Library.open(out / "studio.inkfret", create=True) as library,
        (out / "readings.jsonl").open("w", encoding="utf-8") as lines,
    ):
        found = read_files(paths, make_page_reader(None, None, Names.english), library=library, who="inkfret demo")
        for outcome in show_progress(found, "Reading", total=count_pages(paths)):
            lines.write(to_line(outcome.reading) + "\n")
            lines.flush()
            readings.append(outcome.reading)
        return readings, library.collect(title=STUDIO, crops=True)


# ---------------------------------------------------------------- pictures of what is in doubt


def _draw_doubtful(readings: Iterable[PageReading], out: Path) -> int:
    """Pictures of every page that has something to look at; returns how many pages."""
    from reader.image.pages import PageFile
    from reader.overlay import draw_marks, draw_redrawn

    pages = [reading for reading in readings if _doubtful(reading)]
    for reading in pages:
        stem = f"{Path(reading.source).stem}-p{reading.page}"
        with PageFile(Path(reading.source)) as file:
            page = file.page(reading.page)
        pictures = {f"{stem}.jpg": draw_marks(page, reading)}
        closer = tuple(d for d in reading.diagrams if not d.accepted)
        if closer:
            pictures[f"{stem}-closer.jpg"] = draw_redrawn(page, replace(reading, diagrams=closer))
        write_files(out / "to-look-at", {name: _jpeg(picture) for name, picture in pictures.items()})
    return len(pages)


def _jpeg(pixels: NDArray[np.uint8]) -> bytes:
    from PIL import Image

    data = BytesIO()
    Image.fromarray(pixels).save(data, "JPEG", quality=85)
    return data.getvalue()


def _doubtful(reading: PageReading) -> list[Reading | TabReading]:
    items: tuple[Reading | TabReading, ...] = (*reading.diagrams, *reading.tabs)
    return [item for item in items if not item.accepted]


# ---------------------------------------------------------------- words


def _table(readings: Sequence[PageReading]) -> str:
    """What was found, a row per page and one for all."""
    heads = ("page", "diagrams", "tabs", "accepted", "to look at")
    rows = [(_page_name(r), *_counts([r])) for r in readings]
    cells = [heads, *(tuple(map(str, row)) for row in (*rows, ("all", *_counts(readings))))]
    wide = max(len(row[0]) for row in cells)
    lines = [
        row[0].ljust(wide) + "".join(cell.rjust(len(head) + 3) for cell, head in zip(row[1:], heads[1:], strict=True))
        for row in cells
    ]
    rule = "-" * len(lines[0])
    return "\n".join([lines[0], rule, *lines[1:-1], rule, lines[-1]])


def _page_name(reading: PageReading) -> str:
    return f"{Path(reading.source).name}, page {reading.page}" if reading.page > 1 else Path(reading.source).name


def _counts(readings: Iterable[PageReading]) -> tuple[int, int, int, int]:
    """Diagrams, tabs, accepted ones and doubtful ones."""
    pages = list(readings)
    diagrams, tabs = sum(len(r.diagrams) for r in pages), sum(len(r.tabs) for r in pages)
    doubtful = sum(len(_doubtful(r)) for r in pages)
    return diagrams, tabs, diagrams + tabs - doubtful, doubtful


def _doubts(readings: Iterable[PageReading]) -> str:
    """The least sure reading of each page, a line each with the reason to look."""
    least = [(min(items, key=lambda i: i.confidence), page) for page in readings if (items := _doubtful(page))]
    least.sort(key=lambda pair: pair[0].confidence)
    lines = [f"  {_page_name(page)}, {_title(item)}: {item.flags[0].detail}" for item, page in least[:SHOWN]]
    return "\n".join(["To look at, for example:", *lines]) if lines else ""


def _title(item: Reading | TabReading) -> str:
    from reader.reading import Reading

    if isinstance(item, Reading):
        return f"read as {item.frame.shape}" + (f" ({item.label})" if item.label else "")
    return f"tab of {item.line_count} lines"


def _next_steps(out: Path, pictures: int) -> str:
    places = [
        ("shapes/contact-sheet.pdf", "the ink of every shape beside its redrawing"),
        ("shapes/svg", "a clean drawing of every shape, listed in shapes/*.json and shapes/*.csv"),
        ("readings.jsonl", "everything that was read, one page a line"),
    ]
    if pictures:
        places.append(
            ("to-look-at", f"{pictures} doubtful pages with what was read drawn over them, and each case closer")
        )
    wide = max(len(str(out / place)) for place, _ in places)
    lines = [f"  {str(out / place).ljust(wide)}  {what}" for place, what in places]
    return "\n".join(
        ["Made:", *lines, "Settle what is in doubt:", f"  {_this_command()} review {out / 'studio.inkfret'}"]
    )


def _this_command() -> str:
    """How this program was called, so that the next command can be copied: it need not be on the path."""
    called = sys.argv[0]
    return called if Path(called).name == "inkfret" and shutil.which("inkfret") != called else "inkfret"
