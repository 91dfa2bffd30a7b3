"""Everything that leaves the library: one pure function per format, listed in `FORMATS`.

A format is a function of a `Collection` to an `Exported`: files by name, and a note for everything that the
format cannot say. Nothing here writes a file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING, cast

from reader.errors import ExportError

if TYPE_CHECKING:
    from reader.export.diagram import FrameStyle
    from reader.library.collection import Collection


@dataclass(frozen=True, slots=True)
class Exported:
    """What an export gives.

    Parameters
    ----------
    files : mapping of str to bytes
        By name, with slashes where it lies in a folder. The first is the main one.
    notes : tuple of str
        One sentence for each thing that the format cannot say.
    """

    files: Mapping[str, bytes]
    notes: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """The main file as text."""
        return next(iter(self.files.values())).decode("utf-8")


ToFormat = Callable[..., Exported]
"""A function of a `Collection`, and of a `FrameStyle` where the row says so."""


@dataclass(frozen=True, slots=True)
class Format:
    """One row of `FORMATS`.

    Parameters
    ----------
    function : str
        Module and function, imported when it is first used.
    suffix : str
        Ending of its main file; empty for formats of one file per shape.
    summary : str
        One line for the help.
    with_crops : bool
        Whether it shows the kept pictures.
    styled : bool
        Whether its function also takes a `FrameStyle`.
    """

    function: str
    suffix: str
    summary: str
    with_crops: bool = False
    styled: bool = False

    def load(self) -> ToFormat:
        """The function itself."""
        module, _, name = self.function.partition(":")
        return cast(ToFormat, getattr(import_module(module), name))


FORMATS: dict[str, Format] = {
    "json": Format("reader.export.json_:to_json", ".json", "all that is known of every shape, with its schema"),
    "csv": Format("reader.export.csv_:to_csv", ".csv", "one line per shape, for spreadsheets"),
    "svg": Format("reader.export.pictures:to_svgs", "", "one drawing per shape", styled=True),
    "png": Format("reader.export.pictures:to_pngs", "", "one picture per shape", styled=True),
    "pdf": Format("reader.export.pictures:to_contact", ".pdf", "contact sheet: the ink beside its redrawing", True),
    "musicxml": Format("reader.export.musicxml:to_musicxml", ".musicxml", "MusicXML 4.0: harmonies with frames; tabs"),
    "mei": Format("reader.export.mei:to_mei", ".mei", "MEI 5.0: chord table and harmonies; tabs"),
    "midi": Format("reader.export.midi:to_midi", ".mid", "Standard MIDI File: every shape as it sounds; tabs"),
    "annotations": Format(
        "reader.export.annotations:to_annotations", ".jsonld", "W3C Web Annotations on the page pictures"
    ),
    "text": Format("reader.export.text:to_text", ".txt", "diagrams and tabs in plain letters"),
}


def export_collection(
    collection: Collection, formats: Iterable[str] = FORMATS, style: FrameStyle | None = None
) -> Exported:
    """A collection in several formats at once.

    Parameters
    ----------
    collection : Collection
    formats : iterable of str
        Keys of `FORMATS`.
    style : FrameStyle, optional
        How the drawings look.

    Raises
    ------
    ExportError
        For a format that is not in `FORMATS`.
    """
    files: dict[str, bytes] = {}
    notes: list[str] = []
    for name in formats:
        row = get_format(name)
        exported = row.load()(collection, style) if row.styled else row.load()(collection)
        files |= exported.files
        notes += [f"{name}: {note}" for note in exported.notes]
    return Exported(files, tuple(notes))


def get_format(name: str) -> Format:
    """One row of `FORMATS`.

    Raises
    ------
    ExportError
        Listing what there is.
    """
    try:
        return FORMATS[name]
    except KeyError:
        raise ExportError(f"There is no export format '{name}': choose from {', '.join(FORMATS)}.") from None
