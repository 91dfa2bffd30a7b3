"""How fast: ``python -m reader.benchmark [--pages DIR]``.

Prints the time of ``inkfret --help``, of importing the music half and of naming a shape; time and peak memory of one
12-megapixel page with 12 diagrams, read in a process of its own once everything is loaded, and the same as a multiple
of decoding its JPEG; with ``--pages``, the time per page of each kind in a folder with a truth file.
"""

from __future__ import annotations

import argparse
import json
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TypeVar

import numpy as np
from PIL import Image

from reader.music.frame import Barre, Finger, Frame

T = TypeVar("T")

PAGE_WIDTH, PAGE_HEIGHT = 4000, 3000
PAGE_DPI = 300
MM_PER_INCH = 25.4
COLUMNS, ROWS = 4, 3
RUNS = 5
NAMED_SHAPES = 500
PEAK_UNITS_PER_MB = 2**20 if sys.platform == "darwin" else 2**10
"""``ru_maxrss`` counts bytes on macOS and kilobytes on Linux."""

SHAPES: tuple[tuple[str, str, int], ...] = (
    ("C", "0003", 1),
    ("Am", "2000", 1),
    ("F", "2010", 1),
    ("G7", "0212", 1),
    ("Dm", "2210", 1),
    ("G", "0232", 1),
    ("A7", "0100", 1),
    ("D", "2220", 1),
    ("C", "5433", 3),
    ("E7", "1202", 1),
    ("Em", "0432", 1),
    ("D7", "2223", 1),
)


@dataclass(frozen=True, slots=True)
class PageCost:
    """What one page costs in a process that has everything loaded.

    Parameters
    ----------
    decode_seconds, read_seconds : float
        Medians: opening the picture, and reading it.
    peak_mb : float
        Most memory that the process ever held.
    diagrams : int
        How many were found.
    """

    decode_seconds: float
    read_seconds: float
    peak_mb: float
    diagrams: int


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m reader.benchmark", description="How fast Inkfret is here.")
    parser.add_argument("--pages", type=Path, metavar="DIR", help="also time the pages of a folder with truth.jsonl")
    parser.add_argument("--one-page", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args(arguments)
    if options.one_page:
        print(json.dumps(asdict(page_cost(options.one_page))))
        return
    print(f"inkfret --help            {help_seconds():8.3f} s")
    whole = 1e3 * import_seconds(".explain")
    print(f"import reader.music       {1e3 * import_seconds():8.1f} ms (all of its parts {whole:.1f} ms)")
    for tuning_id in ("ukulele", "guitar"):
        print(f"name a {tuning_id + ' shape':<19}{1e3 * naming_seconds(tuning_id):8.3f} ms")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "page.jpg"
        path.write_bytes(make_page())
        cost = _in_own_process(path)
    print(f"12 megapixels, decode     {cost.decode_seconds:8.3f} s")
    print(f"12 megapixels, read       {cost.read_seconds:8.3f} s ({cost.diagrams} of {len(SHAPES)} diagrams found)")
    print(f"read / decode             {cost.read_seconds / cost.decode_seconds:8.1f}")
    print(f"peak memory               {cost.peak_mb:8.0f} MB")
    if options.pages:
        for kind, count, seconds in kind_seconds(options.pages):
            print(f"{kind:<25} {seconds:8.3f} s a page, median of {count}")


def help_seconds() -> float:
    """Median time of ``inkfret --help``, the start of Python included."""
    command = [sys.executable, "-m", "cli.main", "--help"]
    return _median_seconds(lambda: subprocess.run(command, check=True, capture_output=True))


def import_seconds(module: str = "") -> float:
    """Median processor time of importing the music half, the start of Python excluded."""
    code = f"import time; t = time.process_time(); import reader.music{module}; print(time.process_time() - t)"
    runs = (subprocess.run([sys.executable, "-c", code], check=True, capture_output=True) for _ in range(RUNS))
    return statistics.median(float(run.stdout) for run in runs)


def naming_seconds(tuning_id: str) -> float:
    """Mean time of naming each of some hundred different shapes, with all candidates."""
    from reader.music.naming import name_shape
    from reader.music.shape import Shape
    from reader.music.tuning import get_tuning

    tuning = get_tuning(tuning_id)
    random = np.random.default_rng(0)
    rows = random.integers(-1, 6, (NAMED_SHAPES, tuning.string_count)).tolist()
    shapes = [Shape(tuple(None if fret < 0 else fret for fret in row)) for row in rows]
    name_shape(shapes[0], tuning)
    start = time.perf_counter()
    for shape in shapes:
        name_shape(shape, tuning)
    return (time.perf_counter() - start) / len(shapes)


def page_cost(path: Path) -> PageCost:
    """Read one page several times after a first, uncounted time that loads everything."""
    from reader.image.pages import Page, open_pages
    from reader.pipeline import ReadSettings, read_page

    def open_page() -> Page:
        return next(iter(open_pages(path)))

    settings = ReadSettings()
    page = open_page()
    reading = read_page(page, settings)
    return PageCost(
        decode_seconds=_median_seconds(open_page),
        read_seconds=_median_seconds(lambda: read_page(page, settings)),
        peak_mb=peak_mb(),
        diagrams=len(reading.diagrams),
    )


def peak_mb() -> float:
    """Most memory that this process ever held.

    Linux hands ``ru_maxrss`` on to a new program from the one that started it, so its own high-water mark is read.
    """
    status = Path("/proc/self/status")
    if status.is_file():
        line = next(x for x in status.read_text(encoding="ascii").splitlines() if x.startswith("VmHWM"))
        return int(line.split()[1]) / 2**10
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / PEAK_UNITS_PER_MB


def kind_seconds(folder: Path) -> list[tuple[str, int, float]]:
    """Kind of page, number of pages and median seconds of reading one, for a folder with a truth file."""
    from reader.evaluate.read import read_true_pages
    from reader.evaluate.truth import page_key, parse_truth
    from reader.pipeline import ReadSettings, read_page

    truth_file = folder / "truth.jsonl"
    truth = parse_truth(truth_file.read_text(encoding="utf-8").splitlines(), str(truth_file))
    kinds = {page.key: page.fields.get("kind", "none") for page in truth}
    settings = ReadSettings()
    seconds: dict[str, list[float]] = {}
    for timed in read_true_pages(truth, folder, lambda page: read_page(page, settings)):
        if timed.seconds is not None:
            seconds.setdefault(kinds[page_key(timed.reading)], []).append(timed.seconds)
    return [(kind, len(values), statistics.median(values)) for kind, values in sorted(seconds.items())]


def make_page() -> bytes:
    """A photographed-looking page of twelve clean ukulele diagrams on grainy paper, as a JPEG."""
    from io import BytesIO

    from reader.export.diagram import draw_frame
    from reader.export.drawing import joined, placed
    from reader.export.png import render_pages

    width, height = (side / PAGE_DPI * MM_PER_INCH for side in (PAGE_WIDTH, PAGE_HEIGHT))
    parts = []
    for i, (label, shape, first_fret) in enumerate(SHAPES):
        drawn = draw_frame(_frame(shape, first_fret), label)
        scale = 0.7 * min(width / COLUMNS / drawn.width, height / ROWS / drawn.height)
        column, row = i % COLUMNS, i // COLUMNS
        parts.append(placed(drawn, (column + 0.15) * width / COLUMNS, (row + 0.15) * height / ROWS, scale))
    clean = next(render_pages([joined(width, height, parts, "Benchmark", "Twelve chords")], PAGE_DPI))
    ink = np.asarray(clean.convert("RGB").resize((PAGE_WIDTH, PAGE_HEIGHT)), dtype=np.float32)
    paper = np.array([244, 238, 225], dtype=np.float32)
    grain = np.random.default_rng(0).normal(0, 4, ink.shape).astype(np.float32)
    photo = np.clip(ink / 255 * paper + grain, 0, 255).astype(np.uint8)
    out = BytesIO()
    Image.fromarray(photo).save(out, "JPEG", quality=92)
    return out.getvalue()


def _frame(shape: str, first_fret: int) -> Frame:
    frets = tuple(int(c) for c in shape)
    fingers: tuple[Finger, ...] = (None,) * len(frets)
    barre = (Barre(2, 4, 1),) if shape == "2223" else ()
    return Frame(frets, fingers, fret_count=4, first_fret=first_fret, barres=barre)


def _in_own_process(path: Path) -> PageCost:
    command = [sys.executable, "-m", "reader.benchmark", "--one-page", str(path)]
    return PageCost(**json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout))


def _median_seconds(run: Callable[[], object]) -> float:
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        run()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


if __name__ == "__main__":
    main()
