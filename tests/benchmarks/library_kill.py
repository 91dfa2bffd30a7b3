"""Kill a writing process at random moments, 200 times, and look each library through; stops at the first loss.

PYTHONPATH=tests python tests/benchmarks/library_kill.py [TRIALS]
"""

from __future__ import annotations

import random
import sys
import tempfile
from pathlib import Path

from killing import kill_a_writer


def main(trials: int) -> None:
    """Count the pages that were reported, found, and found although not yet reported."""
    reported = found = 0
    for trial in range(trials):
        with tempfile.TemporaryDirectory() as folder:
            told, there = kill_a_writer(Path(folder) / "lib.inkfret", random.Random(trial))
        if not told <= there <= told + 1:
            raise SystemExit(f"trial {trial}: {told} pages were reported and {there} are there")
        reported, found = reported + told, found + there
    print(f"{trials} kills: {reported} pages reported, {found} found, every library sound")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
