"""Makes the pages of `inkfret demo` anew, with their truth: ``python -m reader.proving.demo_pages``.

Needs the typefaces of `reader.proving.fetch_fonts` and, to write HEIC, the package pillow-heif. With other
typefaces other pages come out: the shipped ones were made once and looked at.
"""

from __future__ import annotations

import argparse
import io
import json
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from PIL import Image

from reader.errors import ReaderError
from reader.export.drawing import Drawing
from reader.export.drawing import Picture as Placed
from reader.export.pdf import to_pdf
from reader.export.truth import page_truth as drawn_truth
from reader.image.pdf_pages import DRAWN_DPI
from reader.music.tuning import get_tuning
from reader.proving.finish import Picture, page_truth
from reader.proving.fonts import FontBox, find_fonts
from reader.proving.sheet import Pixels
from reader.proving.studio import (
    STUDIO,
    Order,
    as_drawn,
    chart,
    copied,
    draw_order,
    lesson,
    photographed,
    photographed_board,
    register,
    scanned,
    song,
    tab,
)
from reader.reading import to_object
from reader.sheets.book import Book, sheet_chord
from reader.sheets.page import SheetStyle
from reader.sheets.practice import PracticeSheet, draw_practice
from reader.sheets.progression import read_chord

FOLDER = Path(__file__).parents[2] / "fixtures" / "pages"
A4_WIDTH = 210.0  # millimetres

Truth = dict[str, Any]
Taken = tuple[Pixels, Truth]


@dataclass(frozen=True)
class File:
    """One file: how its pages are put into it, and what is on them."""

    name: str
    pack: Callable[[Sequence[Taken]], bytes]
    orders: tuple[Order, ...]


# ---------------------------------------------------------------- how pages become files


def _jpeg(pixels: Pixels, quality: int = 80, orientation: int = 1) -> bytes:
    return Picture(pixels, "jpg", quality, orientation, {}).encoded()


def jpeg(pages: Sequence[Taken]) -> bytes:
    """A picture as scanners write them."""
    return _jpeg(pages[0][0])


def turned_jpeg(pages: Sequence[Taken]) -> bytes:
    """A phone's picture: the sensor lay on its side, and the file says so."""
    return _jpeg(pages[0][0], orientation=6)


def png(pages: Sequence[Taken]) -> bytes:
    """A picture without loss."""
    out = io.BytesIO()
    Image.fromarray(pages[0][0]).save(out, "PNG", optimize=True)
    return out.getvalue()


def heic(pages: Sequence[Taken]) -> bytes:
    """A phone's other format."""
    import pillow_heif  # type: ignore[import-not-found,unused-ignore]

    out = io.BytesIO()
    pillow_heif.from_pillow(Image.fromarray(pages[0][0])).save(out, quality=55)
    return out.getvalue()


def fax_tiff(pages: Sequence[Taken]) -> bytes:
    """Several pages in black and white, as office copiers send them."""
    first, *rest = (Image.fromarray(_black_and_white(pixels)).convert("1") for pixels, _ in pages)
    out = io.BytesIO()
    first.save(out, "TIFF", save_all=True, append_images=rest, compression="group4", dpi=(200, 200))
    return out.getvalue()


def _black_and_white(pixels: Pixels) -> Pixels:
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    return np.asarray(cv2.adaptiveThreshold(grey, 255, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY, 51, 22), np.uint8)


def folder_pdf(pages: Sequence[Taken]) -> bytes:
    """Scans, each a page of its own, and a printed practice sheet behind them."""
    scans = [
        Drawing(w := A4_WIDTH, h := w * p.shape[0] / p.shape[1], (Placed(0, 0, w, h, _jpeg(p)),), STUDIO, "")
        for p, _ in pages
    ]
    return to_pdf([*scans, _practice_sheet()], STUDIO)


def _practice_sheet() -> Drawing:
    tuning = get_tuning("ukulele")
    chords = tuple(
        sheet_chord(read_chord(name, None, "english"), Book(tuning, None), most=2)
        for name in ("G", "Em7", "C", "D7", "Am")
    )
    sheet = PracticeSheet(chords, tuning, f"{STUDIO}: changes in G", variants=1, blanks=0)
    return draw_practice(sheet, SheetStyle())[0]


# ---------------------------------------------------------------- the pages

FIRST = "C F G7 Am C7 Dm A7 D7 G Em Bb E7"

FILES: tuple[File, ...] = (
    File(
        "first-chords-handout.jpg",
        jpeg,
        (Order("printed-scan", 4100, "First chords", "print", chart, copied, FIRST, side=1500),),
    ),
    File(
        "lesson-notes-photo.jpg",
        turned_jpeg,
        (
            Order(
                "hand-photo", 4101, "Tuesday, after the lesson", "paper", lesson, photographed,
                "C Am F G7 Dm7 G7=G C6 Fmaj7 Em7 A7 Dm G7", side=2000, columns=3,
            ),
        ),
    ),
    File(
        "whiteboard-photo.jpg",
        jpeg,
        (
            Order(
                "whiteboard", 4201, "Group lesson", "whiteboard", chart, photographed_board,
                "D A7 G Bm Em F#m A D7", side=1800, shape=0.66,
            ),
        ),
    ),
    File(
        "song-sheet.jpg",
        jpeg,
        (
            Order(
                "songbook", 4103, "A song without words", "print", song, scanned,
                "C Am F G7 C Am F G7 Em Am Dm G7 F C G7 C", side=1700,
            ),
        ),
    ),
    File(
        "pupils-folder.pdf",
        folder_pdf,
        (
            Order(
                "hand-scan", 4104, "Homework, week 3", "paper", chart, scanned,
                "F Bb C7 Gm F7 Dm Am7 Gm7 F9", columns=3,
            ),
        ),
    ),
    File(
        "term-sheets.tif",
        fax_tiff,
        (
            Order(
                "hand-scan", 4105, "Term sheet 1", "paper", chart, copied,
                "A D E7 Bm F#m Amaj7 Asus4 A7sus4", columns=3,
            ),
            Order(
                "hand-scan", 4106, "Term sheet 2", "paper", chart, copied,
                "F+2 Bb+2 C7 Fm Bbm Eb Eb7 Ab", columns=3,
            ),
        ),
    ),
    File(
        "homework-photo.heic",
        heic,
        (
            Order(
                "hand-photo", 4107, "Practice this", "paper", chart, photographed,
                "G C D Em D7 Am7 Cadd9 G", columns=3,
            ),
        ),
    ),
    File(
        "guitar-class-sideways.jpg",
        jpeg,
        (
            Order(
                "printed-scan", 4108, "Guitar class", "print", chart, scanned,
                "C Am F G D Em A E Dm7 Fmaj7 B7 Bm", "guitar", turn=1,
            ),
        ),
    ),
    File(
        "upside-down.jpg",
        jpeg,
        (
            Order(
                "hand-scan", 4202, "Minor chords", "paper", chart, scanned,
                "Am Dm Em Gm Cm Fm Bm F#m Am7", columns=3, turn=2,
            ),
        ),
    ),
    File(
        "tablet-drawing.png",
        png,
        (
            Order(
                "tablet", 4202, "Necks on their side", "tablet", chart, as_drawn, "C F G7 Am Dm D7",
                side=1300, shape=0.75, columns=2, lying=True,
            ),
        ),
    ),
    File(
        "up-the-neck.jpg",
        jpeg,
        (
            Order(
                "hand-scan", 4223, "Up the neck", "paper", chart, copied,
                "F+2 Bm F#m+3 Cm Bbm+4 C#m F+7 Bb+4", "guitar", columns=3,
            ),
        ),
    ),
    File("melody-tab.png", png, (Order("tab-printed", 4112, "A melody", "print", tab, as_drawn, side=1400),)),
    File(
        "melody-tab-photo.jpg",
        jpeg,
        (Order("tab-photo", 4113, "The second part", "paper", tab, photographed, side=1700, shape=0.7),),
    ),
    File("register.jpg", jpeg, (Order("negative", 4114, "Who came, who practised", "paper", register, photographed),)),
)  # fmt: skip


def make_file(file: File, fonts: FontBox) -> tuple[bytes, list[Truth]]:
    """One file and a line of truth for each of its pages."""
    taken = []
    for number, order in enumerate(file.orders, 1):
        draft, pixels, warp = draw_order(order, fonts)
        taken.append((pixels, page_truth(draft, warp, order.kind, file.name) | {"page": number}))
    lines = [truth for _, truth in taken]
    if file.pack is folder_pdf:
        drawn = to_object(drawn_truth(_practice_sheet(), DRAWN_DPI, file.name, len(lines) + 1, "ukulele"))
        lines.append(drawn | {"kind": "printed", "writer": "inkfret sheet", "ignore": []})
    return file.pack(taken), lines


def main(words: list[str] | None = None) -> int:
    """Write the files and their truth; named ones only are drawn again."""
    parser = argparse.ArgumentParser(prog="python -m reader.proving.demo_pages", description=__doc__)
    parser.add_argument("names", nargs="*", help="files to make; all by default")
    parser.add_argument("--out", type=Path, default=FOLDER, help="folder for the files and truth.jsonl")
    given = parser.parse_args(words)
    fonts = find_fonts()
    given.out.mkdir(parents=True, exist_ok=True)
    path = given.out / "truth.jsonl"
    known = [json.loads(line) for line in path.read_text("utf-8").splitlines()] if given.names and path.exists() else []
    truth: list[Truth] = []
    for file in FILES:
        if given.names and file.name not in given.names:
            truth += [line for line in known if line["source"] == file.name]
            continue
        content, lines = make_file(file, fonts)
        (given.out / file.name).write_bytes(content)
        print(f"{file.name}: {len(content) / 1024:.0f} KB, {len(lines)} pages", file=sys.stderr)
        truth += lines
    path.write_text("".join(json.dumps(line, ensure_ascii=False) + "\n" for line in truth), "utf-8")
    return 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except ReaderError as problem:
        print(problem, file=sys.stderr)
        sys.exit(problem.exit_code)
