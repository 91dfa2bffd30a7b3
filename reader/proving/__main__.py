"""Command line: ``python -m reader.proving --out DIR --pages N --seed S [--kinds a,b]``."""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path

from reader.errors import InputError, ReaderError
from reader.proving.fonts import find_fonts
from reader.proving.pages import KINDS, make_page


def _arguments(words: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m reader.proving", description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="folder for the pictures and truth.jsonl")
    parser.add_argument("--pages", type=int, default=len(KINDS), help="how many pages")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kinds", default=",".join(KINDS), help="kinds of page, with commas between them")
    return parser.parse_args(words)


def main(words: list[str] | None = None) -> int:
    """Write the pages of one seed and their truth."""
    given = _arguments(words)
    kinds = given.kinds.split(",")
    unknown = [k for k in kinds if k not in KINDS]
    if unknown:
        raise InputError(f"--kinds: {', '.join(unknown)} is no kind of page. Known are {', '.join(KINDS)}.")
    fonts = find_fonts()
    given.out.mkdir(parents=True, exist_ok=True)
    started = time.perf_counter()
    with (given.out / "truth.jsonl").open("w", encoding="utf-8") as lines:
        for number in range(given.pages):
            picture = make_page(given.seed, number, kinds, fonts)
            (given.out / picture.truth["source"]).write_bytes(picture.encoded())
            lines.write(json.dumps(picture.truth, ensure_ascii=False) + "\n")
    spent = time.perf_counter() - started
    print(f"{given.pages} pages in {spent:.0f} s ({spent / max(given.pages, 1):.2f} s a page)", file=sys.stderr)
    return 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except ReaderError as problem:
        print(problem, file=sys.stderr)
        sys.exit(problem.exit_code)
