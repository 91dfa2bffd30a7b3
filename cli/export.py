"""``inkfret export``: a library in forms that other programs read."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from cli.console import say
from reader.errors import ExportError


class FingerPlace(StrEnum):
    """Where finger numbers go."""

    inside = "in"
    below = "below"
    none = "none"


def export(
    library: Annotated[Path, typer.Argument(metavar="LIBRARY", help="The library to export.")],
    out: Annotated[
        Path, typer.Option(metavar="PLACE", help="A folder, an archive ending in .zip, or a file for one format.")
    ],
    format_: Annotated[
        list[str] | None,
        typer.Option(
            "--format",
            metavar="F",
            help="json, csv, svg, png, pdf, musicxml, mei, midi, annotations, text; all by default, may be repeated.",
        ),
    ] = None,
    left_handed: Annotated[bool, typer.Option("--left-handed", help="Mirror the drawings.")] = False,
    fingers: Annotated[
        FingerPlace, typer.Option(help="Finger numbers in drawings: in the stops, below the strings, or none.")
    ] = FingerPlace.inside,
    title: Annotated[
        str | None, typer.Option(help="Heading of sheets and scores; the name of the file if left out.")
    ] = None,
) -> None:
    """Export the shapes and tabs of a library, with what was read, what was decided and what is still open."""
    from cli.writing import write_files, write_whole
    from reader.export import FORMATS, export_collection, get_format
    from reader.export.diagram import FrameStyle
    from reader.library.store import Library

    names = list(dict.fromkeys(format_ or FORMATS))
    formats = [get_format(name) for name in names]
    with Library.open(library, read_only=True) as opened:
        collection = opened.collect(title=title or "", crops=any(f.with_crops for f in formats))
    style = FrameStyle(fingers=fingers.value, left_handed=left_handed)
    exported = export_collection(collection, names, style)
    notes = list(exported.notes)
    if _is_one_file(out, formats[0].suffix, len(names)):
        (main, content), *others = exported.files.items() if exported.files else [("", b"")]
        if not main:
            raise ExportError(f"{library} holds nothing that {names[0]} can say: {' '.join(notes)}")
        write_whole(out, content)
        notes += [f"{names[0]}: {name} is not in this one file; give a folder to have it." for name, _ in others]
        say(f"{out} is written: {len(collection.entries)} shapes.")
    else:
        write_files(out, exported.files)
        say(f"{len(exported.files)} files are in {out}: {len(collection.entries)} shapes, {len(collection.tabs)} tabs.")
    for note in notes:
        say(f"  {note}")


def _is_one_file(out: Path, suffix: str, formats: int) -> bool:
    """Whether the place named is a file for one format; a name with any other ending is a folder."""
    if formats > 1 or not suffix or out.is_dir():
        return False
    return bool(out.suffix) and out.suffix.lower() != ".zip"
