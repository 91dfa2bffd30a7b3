"""Reads the pages of a folder with a truth file, dropping nothing that was found: what ``calibrate`` learns from.

python -m reader.training.read_apart DIR --out READINGS.jsonl
"""

from __future__ import annotations

import argparse
import json
from multiprocessing import Pool
from pathlib import Path

import cv2

from reader.image.pages import open_pages
from reader.pipeline import read_page
from reader.reading import to_line


def lines_of(path: Path) -> list[str]:
    """Readings of all pages of one file."""
    cv2.setNumThreads(1)
    return [to_line(read_page(page, strict=False).with_source(path.name)) for page in open_pages(path)]


def main() -> None:
    """Command line."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("folder", type=Path, help="pages and their truth.jsonl")
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--processes", type=int, default=2)
    o = ask.parse_args()
    truth = (o.folder / "truth.jsonl").read_text(encoding="utf-8").splitlines()
    sources = list(dict.fromkeys(json.loads(line)["source"] for line in truth))
    with Pool(o.processes) as pool, o.out.open("w", encoding="utf-8") as out:
        for lines in pool.imap(lines_of, [o.folder / s for s in sources]):
            out.writelines(line + "\n" for line in lines)


if __name__ == "__main__":
    main()
