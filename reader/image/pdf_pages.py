"""Pages of a PDF: a scan at its own resolution, anything drawn at `DRAWN_DPI`.

A page that is nothing but one scanned picture is rendered with exactly one
pixel per pixel of the scan, so rotation, masks and colour spaces are the
renderer's business and no pixel is interpolated. Invisible text (the layer
that text recognition leaves behind) does not count as content.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium

from reader.errors import InputError
from reader.image.pages import MAX_PIXELS, MAX_SIDE, Page, check_size, page_name

DRAWN_DPI = 200.0
"""Resolution for pages that are drawn; a 1.5 cm diagram is then 118 pixels wide."""

SCAN_COVERS = 0.8
"""Share of the page above which a picture is the page and not an illustration."""

MAX_OBJECTS = 200
"""A page with more objects than this is drawn, and looking at each would only cost time."""

MAX_NESTING = 4
"""Forms within forms that are opened to find a scan."""

_POINTS_PER_INCH = 72.0
_ONE_AT_A_TIME = threading.RLock()
"""The renderer does not stand two threads at once."""


@dataclass(frozen=True, slots=True)
class _Scan:
    """A page that is one picture: the size to render the whole page at, and its density."""

    width: int
    height: int
    dpi: float


@dataclass(frozen=True, slots=True)
class _Placed:
    """An object of the page and the matrix from its own square to page points."""

    item: Any
    matrix: Any


class PdfPages:
    """An open PDF.

    Raises
    ------
    InputError
        When it is locked with a password, damaged, or without pages.
    """

    def __init__(self, path: Path, source: str) -> None:
        self._source = source
        with _ONE_AT_A_TIME:
            try:
                self._pdf = pypdfium2.PdfDocument(path)
            except pypdfium2.PdfiumError as error:
                raise InputError(_open_failure(path, source, error)) from None

    def __len__(self) -> int:
        return len(self._pdf)

    def page(self, number: int) -> Page:
        """Render one page, counted from 1."""
        where = page_name(self._source, number, len(self))
        with _ONE_AT_A_TIME, _clear_errors(where):
            page = self._pdf[number - 1]
            try:
                return self._render(page, number, where)
            finally:
                page.close()

    def close(self) -> None:
        """Let go of the file."""
        with _ONE_AT_A_TIME:
            self._pdf.close()

    def _render(self, page: Any, number: int, where: str) -> Page:
        size = page.get_size()
        scan = _find_scan(page, size)
        if scan is None:
            dpi = _drawn_dpi(size)
            width, height = (max(1, math.ceil(side * dpi / _POINTS_PER_INCH)) for side in size)
            scan = _Scan(width, height, dpi)
        check_size(scan.width, scan.height, where)
        bitmap = pypdfium2.PdfBitmap.new_native(scan.width, scan.height, pdfium.FPDFBitmap_BGR, rev_byteorder=True)
        bitmap.fill_rect((255, 255, 255, 255), 0, 0, scan.width, scan.height)
        flags = pdfium.FPDF_ANNOT | pdfium.FPDF_REVERSE_BYTE_ORDER
        pdfium.FPDF_RenderPageBitmap(bitmap, page, 0, 0, scan.width, scan.height, 0, flags)
        pixels = np.array(bitmap.to_numpy(), dtype=np.uint8)
        bitmap.close()
        pixels.flags.writeable = False
        return Page(pixels, self._source, number, round(scan.dpi, 1))


def _open_failure(path: Path, source: str, error: pypdfium2.PdfiumError) -> str:
    if _opens_empty(path):
        return f"{source} is a PDF without a single page: export it again."
    if error.err_code in (pdfium.FPDF_ERR_PASSWORD, pdfium.FPDF_ERR_SECURITY):
        return f"{source} is locked with a password: save a copy without the password and read that."
    return f"{source} is damaged or not a complete PDF: export or download it again."


def _opens_empty(path: Path) -> bool:
    """Whether the renderer itself loads the file.

    The wrapper refuses a document of no pages with whatever error an earlier
    file left behind, so its error code says nothing about this case.
    """
    document = pdfium.FPDF_LoadDocument(f"{path}\0".encode(errors="surrogateescape"), None)
    if document:
        pdfium.FPDF_CloseDocument(document)
    return bool(document)


@contextmanager
def _clear_errors(where: str) -> Iterator[None]:
    try:
        yield
    except (pypdfium2.PdfiumError, ValueError, MemoryError) as error:
        raise InputError(f"{where} is damaged and cannot be drawn ({error}): export the PDF again.") from None


def _drawn_dpi(size: tuple[float, float]) -> float:
    """`DRAWN_DPI`, or less where a poster would come out larger than a page may be."""
    width, height = (max(1e-6, side / _POINTS_PER_INCH) for side in size)
    return min(DRAWN_DPI, (MAX_SIDE - 1) / max(width, height), math.sqrt(MAX_PIXELS / (width * height)) * 0.99)


def _find_scan(page: Any, size: tuple[float, float]) -> _Scan | None:
    shown = _visible_objects(page)
    if shown is None or len(shown) != 1 or shown[0].item.type != pdfium.FPDF_PAGEOBJ_IMAGE:
        return None
    matrix = shown[0].matrix
    covered = abs(matrix.a * matrix.d - matrix.b * matrix.c)
    columns, rows = shown[0].item.get_px_size()
    if covered < SCAN_COVERS * size[0] * size[1] or min(columns, rows) < 1:
        return None
    per_point = (columns / math.hypot(matrix.a, matrix.b), rows / math.hypot(matrix.c, matrix.d))
    picture_turned = abs(matrix.b) > abs(matrix.a)
    page_turned = page.get_rotation() in (90, 270)
    across, down = per_point if picture_turned == page_turned else per_point[::-1]
    return _Scan(round(size[0] * across), round(size[1] * down), dpi=across * _POINTS_PER_INCH)


def _visible_objects(page: Any) -> list[_Placed] | None:
    """What the page shows, without invisible text; None for a page with very many objects."""
    seen: list[_Placed] = []
    for count, placed in enumerate(_walk(page, None, pypdfium2.PdfMatrix(), 0)):
        if count > MAX_OBJECTS:
            return None
        if not _is_invisible_text(placed.item):
            seen.append(placed)
    return seen


def _walk(page: Any, form: Any, outer: Any, depth: int) -> Iterator[_Placed]:
    """Objects with the matrix that puts them on the page, forms opened up."""
    for item in page.get_objects(max_depth=1, form=form):
        matrix = item.get_matrix().multiply(outer)
        if item.type == pdfium.FPDF_PAGEOBJ_FORM and depth < MAX_NESTING:
            yield from _walk(page, item, matrix, depth + 1)
        else:
            yield _Placed(item, matrix)


def _is_invisible_text(item: Any) -> bool:
    if item.type != pdfium.FPDF_PAGEOBJ_TEXT:
        return False
    return bool(pdfium.FPDFTextObj_GetTextRenderMode(item) == pdfium.FPDF_TEXTRENDERMODE_INVISIBLE)
