"""An invented teacher's library to review: drawn sheets, photographed a little askew and read with mistakes.

Every reading has its truth, so that a whole review can be played and counted.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from library_samples import frame_of, make_tab
from numpy.typing import NDArray

from reader.export.diagram import FrameStyle, draw_blank, draw_frame
from reader.export.drawing import Drawing, joined, placed
from reader.export.png import MM_PER_INCH, render_pages
from reader.image.cutouts import cut_diagram, cut_tab
from reader.library.store import Library
from reader.music.frame import Frame
from reader.music.naming import name_shape
from reader.music.tuning import get_tuning
from reader.reading import Alternative, Corners, Flag, PageReading, Reading

DPI = 110
ACROSS, DOWN = 4, 3
STEP_X, STEP_Y = 48.0, 62.0


@dataclass(frozen=True, slots=True)
class Drawn:
    """One diagram of the demo: what is drawn, what was read, and why it was flagged.

    ``read`` None: it was missed. ``truth`` None: something that is no diagram. ``others`` are the reader's
    alternatives, best first.
    """

    truth: str | None
    label: str | None
    read: str | None = ""
    flag: Flag | None = None
    confidence: float = 0.99
    others: tuple[str, ...] = ()
    first_fret: int = 1

    @property
    def shape_read(self) -> str | None:
        return self.truth if self.read == "" else self.read


WRONG_DOT = Drawn(
    "0212",
    "G7",
    "0202",
    Flag("label-disagrees", "The label says G7; the dots spell Em7; G7 would have the second string at fret 1.", 2, 1),
    0.55,
    ("0212", "0232"),
)
FAINT = Flag("faint-mark", "On string 4 the drawing reads as fret 2, but it may be open.", 0, 2)
FAINT_BUT_RIGHT = Drawn("2010", "F", "", FAINT, 0.82, ("0010",))
TWO = Flag("two-marks", "There is ink on the grid that no mark explains: check for a dot that was missed.", 1, 2)
TWO_MARKS = Drawn("2210", "Dm", "2010", TWO, 0.61, ("2210",))
UNREAD = Flag("first-fret-unread", "The fret number beside the grid is hard to read: 1 is a guess.", None, 1)
NUMBER = Drawn("0535", None, "0313", UNREAD, 0.4, ("0535",), 3)
OTHERWISE = Flag("label-disagrees", "The label says F#; the dots spell otherwise.", 0, 4)
TYPED = Drawn("4432", "F#", "2432", OTHERWISE, 0.45, ("2430",))
WEAK = Flag("weak-grid", "This may not be a chord diagram at all: check whether it belongs here.")
NO_DIAGRAM = Drawn(None, None, "0000", WEAK, 0.35)
MISSED = Drawn("0003", "C", None)
SILENT = Drawn("0232", "G", "0230")
"""Wrong and not flagged: what the spot check is for."""


TAB = replace(
    make_tab(flags=(Flag("faint-mark", "A number is faint."),)), corners=((60, 40), (300, 40), (300, 90), (60, 90))
)


def plain(text: str) -> list[Drawn]:
    """Diagrams that were read rightly, from 'shape label' pairs."""
    return [Drawn(shape, label) for shape, label in (pair.split() for pair in text.split(", "))]


PAGES: tuple[tuple[Drawn, ...], ...] = (
    (
        *plain("0003 C, 2000 Am"),
        WRONG_DOT,
        FAINT_BUT_RIGHT,
        *plain("0232 G"),
        TWO_MARKS,
        *plain("2220 D, 0003 C"),
        MISSED,
        *plain("0432 Em"),
        NUMBER,
        *plain("2100 A"),
    ),
    (
        *plain("0003 C, 0232 G"),
        TYPED,
        *plain("2000 Am"),
        NO_DIAGRAM,
        replace(WRONG_DOT, confidence=0.5),
        *plain("2010 F"),
        SILENT,
        *plain("0001 C7"),
        replace(FAINT_BUT_RIGHT, confidence=0.78),
        *plain("1202 E7, 0212 G7"),
    ),
    (
        *plain("0003 C, 2210 Dm, 2010 F"),
        replace(TWO_MARKS, confidence=0.66),
        *plain("0100 A7"),
        replace(FAINT_BUT_RIGHT, confidence=0.9),
        *plain("3211 Bb, 2220 D, 0003 C, 0232 G, 2000 Am, 0212 G7"),
    ),
)


@dataclass(frozen=True, slots=True)
class Demo:
    """The library file, and what is really drawn where.

    Parameters
    ----------
    truth : dict of sighting id to `Drawn`
    missed : dict of page id to the corners of what was missed there
    """

    path: Path
    truth: dict[int, Drawn]
    missed: dict[int, Corners]


def build_demo(folder: Path) -> Demo:
    """Draw, photograph and "read" the sheets of Larkspur Lane Studio."""
    path = folder / "larkspur-lane.inkfret"
    truth: dict[int, Drawn] = {}
    missed: dict[int, Corners] = {}
    with Library.open(path, create=True) as library:
        for number, row in enumerate(PAGES, 1):
            pixels, corners = photograph(row, number)
            picture = folder / f"lesson-{number}.png"
            cv2.imwrite(str(picture), pixels[:, :, ::-1])
            found = [(d, c) for d, c in zip(row, corners, strict=True) if d.shape_read is not None]
            readings = tuple(reading_of(d, c) for d, c in found)
            tabs = (TAB,) if number == 3 else ()
            page = PageReading(picture.name, 1, pixels.shape[1], pixels.shape[0], readings, tabs)
            crops = [cut_diagram(pixels, np.array(c, float)) for _, c in found]
            tab_crops = [cut_tab(pixels, np.array(t.corners, float), t.line_count) for t in tabs]
            checksum = hashlib.sha256(picture.read_bytes()).hexdigest()
            added = library.add_page(page, checksum, crops, tab_crops, path=picture)
            truth |= dict(zip(added.sighting_ids, [d for d, _ in found], strict=True))
            for drawn, grid in zip(row, corners, strict=True):
                if drawn.shape_read is None:
                    missed[added.page_id] = grid
    return Demo(path, truth, missed)


def frame_drawn(shape: str, first_fret: int = 1) -> Frame:
    return replace(frame_of(shape), first_fret=first_fret, fret_count=4)


def reading_of(drawn: Drawn, corners: Corners) -> Reading:
    """The demo's reading of one drawing, mistakes included."""
    shape = drawn.shape_read
    assert shape is not None
    frame = frame_drawn(shape)
    names = [n.text for n in name_shape(frame.shape, get_tuning("ukulele"))] or [""]
    others = tuple(
        Alternative(frame_drawn(other, drawn.first_fret if other == drawn.truth else 1), 0.4 / n, "the ink allows it")
        for n, other in enumerate(drawn.others, 1)
    )
    flags = (drawn.flag,) if drawn.flag is not None else ()
    return Reading(corners, frame, drawn.label, names[0], tuple(names[1:4]), "ukulele", drawn.confidence, flags, others)


def photograph(row: tuple[Drawn, ...], seed: int) -> tuple[NDArray[np.uint8], list[Corners]]:
    """One sheet on paper that lies askew under a lamp, and where each grid is on it."""
    parts = []
    for at, drawn in enumerate(row):
        style = FrameStyle(gap=6.0, fingers="none")
        picture = (
            draw_blank(4, 4, style)
            if drawn.truth is None
            else draw_frame(frame_drawn(drawn.truth, drawn.first_fret), drawn.label or " ", style=style)
        )
        parts.append(placed(picture, *_spot(at)))
    sheet: Drawing = joined(210, 210, parts, "lesson", "a lesson sheet")
    (image,) = render_pages([sheet], DPI)
    flat = np.asarray(image.convert("RGB"))
    height, width = flat.shape[:2]
    chance = np.random.default_rng(seed)
    frame = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    askew = frame + chance.uniform(-18, 18, (4, 2)).astype(np.float32) + [[22, 22]] * 4
    matrix = cv2.getPerspectiveTransform(frame, askew.astype(np.float32))
    out = cv2.warpPerspective(flat, matrix, (width + 44, height + 44), borderValue=(246, 240, 228))
    light = np.linspace(1.0, 0.86, out.shape[1])[None, :, None]
    grain = chance.normal(0, 3.5, out.shape)
    pixels = np.clip(out * light * np.array([1.0, 0.975, 0.93]) + grain, 0, 255).astype(np.uint8)
    scale = DPI / MM_PER_INCH
    corners = []
    for at, drawn in enumerate(row):
        own = placed(
            draw_frame(frame_drawn(drawn.truth or "0000", drawn.first_fret), " ", style=FrameStyle(gap=6.0)), *_spot(at)
        )
        (grid,) = own.grids
        points = cv2.perspectiveTransform(np.array([grid.corners], float) * scale, matrix)[0]
        corners.append(tuple((float(x), float(y)) for x, y in points))
    return pixels, corners


def _spot(at: int) -> tuple[float, float]:
    return 12 + STEP_X * (at % ACROSS), 14 + STEP_Y * (at // ACROSS)
