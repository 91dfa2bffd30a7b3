"""Reads the pages of a folder with a truth file, dropping nothing that was found: what ``calibrate`` learns from.

python -m reader.training.read_apart DIR --out READINGS.jsonl
"""

from __future__ import annotations

import argparse
from functools import partial
from pathlib import Path

from reader.evaluate.read import read_true_pages
from reader.evaluate.truth import parse_truth
from reader.pipeline import read_page
from reader.reading import to_line


def main() -> None:
    """Command line."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("folder", type=Path, help="pages and their truth.jsonl")
    ask.add_argument("--out", type=Path, required=True)
    o = ask.parse_args()
    path = o.folder / "truth.jsonl"
    truth = parse_truth(path.read_text(encoding="utf-8").splitlines(), str(path))
    with o.out.open("w", encoding="utf-8") as out:
        for timed in read_true_pages(truth, o.folder, partial(read_page, strict=False)):
            out.write(to_line(timed.reading) + "\n")


if __name__ == "__main__":
    main()
