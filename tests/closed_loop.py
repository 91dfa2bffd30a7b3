"""Drawn, rendered, read back by our own reader.

``PYTHONPATH=tests python -m closed_loop [FRAMES]``, from the top folder of the project, is the large run.
Random frames are laid out on pages, rendered from the PDF and by a second renderer from the SVG, and read; so are the
sheets. A shape that comes back different, or not at all, is printed.
"""

from __future__ import annotations

import io
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from random import Random

import numpy as np
from PIL import Image
from sheet_samples import BOOKS, every_sheet

from reader.export.diagram import FrameStyle, draw_frame
from reader.export.drawing import Drawing, joined, placed
from reader.export.paper import A4
from reader.export.png import render_pages
from reader.export.svg import to_svg
from reader.export.truth import page_truth
from reader.image.pages import Page
from reader.music.fingering import usual_fingerings
from reader.music.frame import Frame
from reader.music.shape import Shape
from reader.music.shapes import frame_of
from reader.music.tuning import default_tuning
from reader.pipeline import ReadSettings, read_page
from reader.reading import PageReading, Reading
from reader.sheets.page import SheetStyle

DPI = 200.0
COLUMNS, ROWS, GAP = 4, 5, 4.0
STRINGS = (4, 4, 4, 6, 6, 5)
FIRST_FRETS = (1, 1, 1, 1, 2, 3, 4, 5, 7, 8, 9, 10, 12)
STYLES = {"usual": SheetStyle(), "large, left-handed": SheetStyle(large=True, left_handed=True)}
MANY = "C Am F G7 Dm Em Bb C#m7b5 F#m Ebmaj7 Abm D7sus4 G B7 E A D A7 E7 Gm"


@dataclass(slots=True)
class Loop:
    """What came back."""

    drawn: int = 0
    found: int = 0
    exact: int = 0
    extra: int = 0
    silent: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    shapes: list[Shape] = field(default_factory=list)
    """Every shape read, in reading order."""


def random_frame(rng: Random) -> Frame:
    """A frame that a hand can play, of four to six strings, in a window anywhere on the neck."""
    while True:
        count, first = rng.choice(STRINGS), rng.choice(FIRST_FRETS)
        frets = tuple(
            None if rng.random() < 0.1 else 0 if rng.random() < 0.25 else first + rng.randrange(4) for _ in range(count)
        )
        shape = Shape(frets)
        ways = usual_fingerings(shape, default_tuning(count)) if shape.stopped else ()
        if ways:
            return frame_of(rng.choice(ways))


def frame_pages(frames: Sequence[Frame]) -> Iterator[Drawing]:
    """Frames in rows on A4, with names as on any page, in the order given."""
    area = A4.content
    width, height = (area.right - area.left) / COLUMNS, (area.bottom - area.top) / ROWS
    for start in range(0, len(frames), COLUMNS * ROWS):
        parts = []
        for n, frame in enumerate(frames[start : start + COLUMNS * ROWS]):
            row, column = divmod(n, COLUMNS)
            drawing = draw_frame(frame, "CDEFGAB"[n % 7], style=FrameStyle(GAP))
            parts.append(placed(drawing, area.left + column * width, area.top + row * height))
        yield joined(A4.width, A4.height, parts, "Frames", "Random frames")


def pdf_picture(page: Drawing) -> Image.Image:
    """As pdfium renders the PDF."""
    return next(render_pages([page], DPI)).convert("RGB")


def svg_picture(page: Drawing) -> Image.Image:
    """As resvg, a second renderer, shows the SVG."""
    import resvg_py

    data = bytes(resvg_py.svg_to_bytes(svg_string=to_svg(page), dpi=DPI, background="white"))
    return Image.open(io.BytesIO(data)).convert("RGB")


def read_back(pages: Sequence[Drawing], render: Callable[[Drawing], Image.Image], loop: Loop) -> None:
    """Render and read pages and count what came back into ``loop``."""
    for page in pages:
        pixels = np.asarray(render(page)).copy()
        read = read_page(Page(pixels, "loop.png", 1, DPI), ReadSettings())
        loop.shapes += [r.frame.shape for r in read.diagrams]
        _compare(page_truth(page, DPI), read, loop)


def _compare(truth: PageReading, read: PageReading, loop: Loop) -> None:
    taken: set[int] = set()
    for diagram in truth.diagrams:
        loop.drawn += 1
        index = _same_place(diagram, read.diagrams)
        if index is None:
            loop.wrong.append(f"{diagram.frame.shape} was not found")
            continue
        taken.add(index)
        loop.found += 1
        other = read.diagrams[index]
        if other.frame.shape == diagram.frame.shape:
            loop.exact += 1
            continue
        loop.wrong.append(f"{diagram.frame.shape} was read as {other.frame.shape}")
        if other.accepted:
            loop.silent.append(loop.wrong[-1])
    loop.extra += sum(r.accepted for n, r in enumerate(read.diagrams) if n not in taken)
    loop.extra += sum(tab.accepted for tab in read.tabs)


def _same_place(diagram: Reading, found: Sequence[Reading]) -> int | None:
    corners = np.array(diagram.corners)
    distances = [float(np.hypot(*(np.array(r.corners).mean(0) - corners.mean(0)))) for r in found]
    nearest = int(np.argmin(distances)) if distances else -1
    return nearest if distances and distances[nearest] < 0.4 * float(np.ptp(corners, axis=0).max()) else None


def main(count: int) -> None:
    """The large run, printed."""
    rng = Random(2)
    pages = list(frame_pages([random_frame(rng) for _ in range(count)]))
    for name, render in (("PDF", pdf_picture), ("SVG", svg_picture)):
        _report(f"frames from {name}", pages, render)
    for tuning in BOOKS:
        for name, style in STYLES.items():
            for sheet in every_sheet(tuning, style, MANY):
                _report(f"{sheet.kind}, {tuning}, {name}", sheet.pages, pdf_picture)


def _report(name: str, pages: Sequence[Drawing], render: Callable[[Drawing], Image.Image]) -> None:
    loop = Loop()
    read_back(pages, render, loop)
    print(f"{name}: {loop.exact} of {loop.drawn} exact, {len(loop.silent)} wrong unflagged, {loop.extra} invented")
    for line in loop.wrong[:40]:
        print(f"  {line}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
