"""Drawn pages as files: one PDF, or one SVG or PNG a page."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from reader.errors import ExportError
from reader.export.drawing import Drawing
from reader.export.pdf import to_pdf
from reader.export.png import to_pngs
from reader.export.svg import to_svg

PNG_DPI = 200.0


def _svgs(pages: Sequence[Drawing]) -> list[bytes]:
    return [to_svg(page).encode("utf-8") for page in pages]


FORMATS: dict[str, Callable[[Sequence[Drawing]], list[bytes]]] = {
    "pdf": lambda pages: [to_pdf(pages)],
    "svg": _svgs,
    "png": lambda pages: to_pngs(pages, PNG_DPI),
}


def to_files(pages: Sequence[Drawing], kind: str) -> list[bytes]:
    """The pages of a sheet in one of `FORMATS`.

    Parameters
    ----------
    pages : sequence of Drawing
    kind : str
        pdf, svg or png.

    Returns
    -------
    list of bytes
        One file for PDF, one per page otherwise.

    Raises
    ------
    ExportError
        For another kind, or without pages.
    """
    if kind not in FORMATS:
        raise ExportError(f"A sheet cannot be written as '{kind}': choose {', '.join(FORMATS)}.")
    if not pages:
        raise ExportError("There is no chord to put on a sheet: give at least one.")
    return FORMATS[kind](pages)
