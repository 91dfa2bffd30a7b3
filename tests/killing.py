"""Processes that write to a library and are killed at random moments."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

from reader.library.store import Library

WRITER = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[3])
from library_samples import make_page, make_reading
from reader.library.store import Library

path, name = Path(sys.argv[1]), sys.argv[2]
with Library.open(path, create=True) as library:
    print("open", flush=True)
    for number in range(1, int(sys.argv[4]) + 1):
        shapes = [f"{number % 5}{i}{(number + i) % 7}{number % 3}" for i in range(3)]
        library.add_page(make_page(*map(make_reading, shapes), number=number, source=name), name * 32, [b"png"] * 3)
        print(number, flush=True)
"""


def start_writer(library: Path, name: str, pages: int) -> subprocess.Popen[str]:
    """A process that adds pages to a library, reporting the number of each when it is in."""
    root = Path(__file__).parents[1]
    arguments = [sys.executable, "-c", WRITER, str(library), name, str(root / "tests"), str(pages)]
    environment = {**os.environ, "PYTHONPATH": str(root)}
    return subprocess.Popen(arguments, stdout=subprocess.PIPE, text=True, env=environment, cwd=root)


def kill_a_writer(path: Path, chance: random.Random) -> tuple[int, int]:
    """Pages that a writer reported before it was killed at a random moment, and pages found whole afterwards."""
    writer = start_writer(path, "c3", 10_000)
    assert writer.stdout is not None
    wanted = chance.randrange(0, 12)
    lines = []
    while len(lines) <= wanted:
        lines.append(writer.stdout.readline())
    time.sleep(chance.uniform(0, 0.02))
    writer.send_signal(signal.SIGKILL)
    lines += writer.stdout.read().splitlines()
    writer.wait()
    writer.stdout.close()
    reported = max((int(line) for line in lines if line.strip().isdigit()), default=0)
    with Library.open(path, create=True) as library:
        assert library.check() == []
        pages = library.pages()
        assert all(p.diagram_count == 3 for p in pages)
        assert [library.crop(s.id) for s in library.sightings()] == [b"png"] * 3 * len(pages)
        assert [p.number for p in pages] == list(range(1, len(pages) + 1))
        return reported, len(pages)
