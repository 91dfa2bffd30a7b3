"""``inkfret merge``: another library, or an exported file, into a library."""

from __future__ import annotations

import getpass
from contextlib import ExitStack
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli.console import say
from reader.errors import InputError

if TYPE_CHECKING:
    from reader.library.incoming import Incoming
    from reader.library.merging import MergeReport

EXPORTED = (".json", ".csv")


class Side(StrEnum):
    """Whose decision stands."""

    ours = "ours"
    theirs = "theirs"


def merge(
    library: Annotated[Path, typer.Argument(metavar="LIBRARY", help="Merged into; made when it does not exist.")],
    others: Annotated[
        list[Path], typer.Argument(metavar="OTHERS", help="Libraries, or JSON and CSV files that were exported.")
    ],
    prefer: Annotated[
        Side, typer.Option(help="Whose decision stands where both sides settled a diagram differently.")
    ] = Side.ours,
) -> None:
    """Merge libraries and exported files; conflicts are listed, and each merge can be undone."""
    from reader.library.merging import merge_into
    from reader.library.store import Library

    with ExitStack() as open_files:
        incoming = [_incoming(path, library, open_files) for path in others]
        opened = open_files.enter_context(Library.open(library, create=True))
        for one in incoming:
            _show(one.origin, merge_into(opened, one, f"merge by {getpass.getuser()}", prefer.value))


def _incoming(path: Path, library: Path, open_files: ExitStack) -> Incoming:
    from reader.export.imports import incoming_from_text
    from reader.library.incoming import incoming_from_library
    from reader.library.store import Library

    if path.suffix.lower() in EXPORTED:
        return incoming_from_text(_read_text(path), str(path), path.suffix)
    if library.exists() and path.exists() and path.samefile(library):
        raise InputError(f"{path} is the library itself: name another one to merge into it.")
    # Kept open until all is merged: pictures are fetched one by one.
    return incoming_from_library(open_files.enter_context(Library.open(path, read_only=True)))


def _read_text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise InputError(f"{path} cannot be opened ({error.strerror or error}): check the path.") from None
    except UnicodeDecodeError:
        raise InputError(f"{path} is not a text file in UTF-8: export it again.") from None


def _show(origin: str, report: MergeReport) -> None:
    say(
        f"{origin}: {report.pages} pages, {report.sightings} diagrams and {report.tabs} tabs added, "
        f"{report.adopted} decisions taken over, conflicts: {len(report.conflicts)}."
    )
    for c in report.conflicts:
        print(f"{c.source}, page {c.page}, number {c.number}: ours {c.ours}; theirs {c.theirs}; kept {c.kept}")
