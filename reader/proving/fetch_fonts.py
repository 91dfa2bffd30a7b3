"""Fetch the typefaces that the proving pages are written with.

Run ``python -m reader.proving.fetch_fonts`` once, from the repository root, on a machine that has ``npm``.
The files go to ``.fonts/proving`` (ignored by git). All families are from the ``@fontsource`` packages, under the
SIL Open Font License or the Apache License 2.0; the licence text of each package is kept beside its files. Only
families whose names start with M to Z are used: the drawings that the networks learn from use the others, so no
lettering is met twice.
"""

from __future__ import annotations

import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

from reader.proving.fonts import FOLDER

SIGNS = ("dejavu-fonts-ttf", "DejaVuSans.ttf")  # for the accidentals and circles that other faces lack; free licence

HANDWRITING = [
    "mali",
    "mansalva",
    "marck-script",
    "nanum-brush-script",
    "nanum-pen-script",
    "neucha",
    "nothing-you-could-do",
    "over-the-rainbow",
    "pangolin",
    "patrick-hand",
    "permanent-marker",
    "playpen-sans",
    "poor-story",
    "rancho",
    "reenie-beanie",
    "rock-salt",
    "schoolbell",
    "sedgwick-ave",
    "shadows-into-light",
    "shantell-sans",
    "short-stack",
    "sriracha",
    "sue-ellen-francisco",
    "swanky-and-moo-moo",
    "the-girl-next-door",
    "unkempt",
    "vibur",
    "waiting-for-the-sunrise",
    "walter-turncoat",
    "yomogi",
    "zen-kurenaido",
    "zeyada",
]

PRINT = [
    "merriweather",
    "montserrat",
    "noto-sans",
    "noto-serif",
    "nunito",
    "old-standard-tt",
    "open-sans",
    "oswald",
    "overpass-mono",
    "playfair-display",
    "poppins",
    "pt-mono",
    "pt-sans",
    "pt-serif",
    "quicksand",
    "raleway",
    "roboto",
    "roboto-condensed",
    "roboto-slab",
    "rokkitt",
    "source-sans-3",
    "source-serif-4",
    "space-mono",
    "special-elite",
    "tenor-sans",
    "tinos",
    "titillium-web",
    "ubuntu",
    "varela-round",
    "vollkorn",
    "work-sans",
    "zilla-slab",
]


def fetch_family(package: str, wanted: set[str], folder: Path) -> int:
    """Unpack the wanted files of one package and its licence into `folder`; returns how many were found."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch:
        command = ["npm", "pack", "--silent", package]
        packed = subprocess.run(command, cwd=scratch, check=True, capture_output=True, text=True).stdout.split()[-1]
        found = 0
        with tarfile.open(Path(scratch) / packed) as archive:
            for member in archive.getmembers():
                name = Path(member.name).name
                body = archive.extractfile(member) if name in wanted or name == "LICENSE" else None
                if body is not None:
                    target = f"{Path(package).name}-LICENSE.txt" if name == "LICENSE" else name
                    (folder / target).write_bytes(body.read())
                    found += name in wanted
    return found


def fetch_all() -> int:
    """Fetch every family that is not there yet; returns the number of families that could not be had."""
    jobs = [("signs", SIGNS[0], {SIGNS[1]})]
    for group, families in (("hand", HANDWRITING), ("print", PRINT)):
        for name in families:
            files = {f"{name}-latin-{weight}-normal.woff2" for weight in (400, 700)}
            jobs.append((group, f"@fontsource/{name}", files))
    missing = 0
    for group, package, wanted in jobs:
        if any((FOLDER / group / name).exists() for name in wanted):
            continue
        try:
            found = fetch_family(package, wanted, FOLDER / group)
        except (subprocess.CalledProcessError, OSError, tarfile.TarError) as problem:
            found = 0
            print(f"{package}: {problem}", file=sys.stderr)
        missing += found == 0
        print(f"{package}: {found} files")
    return missing


if __name__ == "__main__":
    sys.exit(1 if fetch_all() else 0)
