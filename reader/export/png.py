"""Drawings as PNG pictures: the PDF, rendered, so that all formats show the same."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from reader.export.drawing import Drawing
from reader.export.pdf import to_pdf

if TYPE_CHECKING:
    from PIL.Image import Image

MM_PER_INCH = 25.4


def to_png(drawing: Drawing, dpi: float = 150.0) -> bytes:
    """One drawing as a PNG file with its resolution noted inside."""
    return _png(next(render_pages([drawing], dpi)), dpi)


def to_pngs(pages: Sequence[Drawing], dpi: float = 150.0) -> list[bytes]:
    """Each drawing as a PNG file; quicker than one at a time."""
    return [_png(picture, dpi) for picture in render_pages(pages, dpi)]


def render_pages(pages: Sequence[Drawing], dpi: float = 150.0) -> Iterator[Image]:
    """Render drawings to grey-safe RGB pictures, one at a time; a millimetre is ``dpi / 25.4`` pixels."""
    import pypdfium2

    document = pypdfium2.PdfDocument(to_pdf(pages))
    try:
        for page in document:
            yield page.render(scale=dpi / 72).to_pil()
    finally:
        document.close()


def _png(picture: Image, dpi: float) -> bytes:
    out = io.BytesIO()
    picture.save(out, "PNG", dpi=(dpi, dpi), optimize=False)
    return out.getvalue()
