"""How quickly a library of 10,000 entries and 20,000 sightings answers; run it, nothing is checked.

    PYTHONPATH=tests python tests/benchmarks/library_speed.py [FILE]

With a file name the library is kept there and used again.
"""

from __future__ import annotations

import itertools
import random
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from library_samples import FAINT, filled, frame_of, make_page, make_reading

from reader.library.rows import SightingQuery
from reader.library.search import Query
from reader.library.store import Library
from reader.reading import Reading

ENTRIES, SIGHTINGS_PER_PAGE = 10_000, 100
REPEATS = 7


def shapes() -> list[str]:
    """Shapes of the ukulele up to fret 9 and of the guitar up to fret 4, drawn at random without repeats."""
    chance = random.Random(1)
    ukulele = ["".join(s) for s in itertools.product("x012345679", repeat=4)]
    guitar = ["".join(s) for s in itertools.product("x01234", repeat=6)]
    return chance.sample(ukulele, ENTRIES // 2) + chance.sample(guitar, ENTRIES // 2)


def fill(library: Library) -> None:
    """Every shape twice, one in ten flagged."""
    chance = random.Random(2)
    all_shapes = shapes() * 2
    chance.shuffle(all_shapes)

    def readings(part: list[str]) -> Iterator[Reading]:
        for shape in part:
            flagged = chance.random() < 0.1
            label = chance.choice(["C", "Am7", "F#m", "morning song", None])
            yield make_reading(shape, label, (FAINT,) if flagged else (), chance.uniform(0.3, 1.0))

    for number, start in enumerate(range(0, len(all_shapes), SIGHTINGS_PER_PAGE), 1):
        page = make_page(
            *readings(all_shapes[start : start + SIGHTINGS_PER_PAGE]), number=number, source=f"term {number % 9}.pdf"
        )
        library.add_page(page, f"{number:064x}")


QUERIES: dict[str, Query] = {
    "chord": Query(chord="A#m7"),
    "shape": Query(shape="0231"),
    "notes contained": Query(notes=("C", "E", "G"), limit=200),
    "root and quality": Query(root="Eb", quality="7"),
    "key, easy, no barre": Query(key="G", difficulty=1.75, barre=False, limit=200),
    "tuning, frets, stretch": Query(tuning="ukulele", highest_fret=5, stretch=2, limit=200),
    "fingers and open strings": Query(fingers=2, open_strings=2, limit=200),
    "source and state": Query(source="term 4", states=("unchecked",), limit=200),
    "words on the label": Query(words="song morning", limit=200, sort="recent"),
    "everything, first 200": Query(limit=200),
    "everything, last 200": Query(limit=200, offset=ENTRIES - 200),
    "all 10,000": Query(),
}


def milliseconds(ask: Callable[[], object]) -> tuple[float, float]:
    """Median and longest of some calls."""
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        ask()
        times.append((time.perf_counter() - start) * 1000)
    return statistics.median(times), max(times)


def main(path: Path) -> None:
    """Fill where needed, then time searches and the steps of a review."""
    with filled(path, fill) as library:
        entry = library.entries(Query(shape="0231") if library.count(Query(shape="0231")) else Query(limit=1))[0]
        flagged = library.queue(SightingQuery(limit=50))
        asks: dict[str, Callable[[], object]] = {
            **{f"find: {name}": (lambda q=q: (library.entries(q), library.count(q))) for name, q in QUERIES.items()},
            "find: similar shapes": lambda: library.similar(entry.id),
            "review: next 50 in the queue": lambda: library.queue(SightingQuery(limit=50)),
            "review: queue by flag and label": lambda: library.queue(
                SightingQuery(limit=50, flag="faint-mark", label="am7")
            ),
            "review: settle one": lambda: library.settle(flagged[0].id, "mara", frame=frame_of("0003")),
            "review: undo": lambda: library.undo("mara"),
            "review: history": lambda: library.history(100),
            "review: summary": library.summary,
            "review: pages": library.pages,
        }
        for name, ask in asks.items():
            median, longest = milliseconds(ask)
            print(f"{name:<36} median {median:7.1f} ms   longest {longest:7.1f} ms")
        estimates = {s.id: 0.9 for s in library.sightings()}
        start = time.perf_counter()
        library.calibrate({"kind": "benchmark"}, estimates, 0.5, "mara")
        library.undo("mara")
        print(f"recalibrate and undo, 20,000 sightings: {time.perf_counter() - start:.1f} s")
        start = time.perf_counter()
        problems = library.check()
        print(f"check: {len(problems)} problems in {time.perf_counter() - start:.1f} s")


if __name__ == "__main__":
    if len(sys.argv) > 1:
        main(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as folder:
            main(Path(folder) / "speed.inkfret")
