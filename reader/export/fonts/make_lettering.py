"""Cut the lettering that drawings use out of DejaVu Sans Condensed.

Run ``python make_lettering.py FOLDER`` where FOLDER holds ``DejaVuSansCondensed.ttf`` and its bold sister; needs
fontTools, which nothing else in the project does. Writes beside itself two small TrueType files (for PDF) and one
table of advances and outlines (for measuring text and for SVG that looks the same on every machine).

The licence in ``LICENCE.txt`` asks that changed fonts carry another name, so the files are renamed.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from fontTools import subset
from fontTools.misc.transform import Transform
from fontTools.pens.recordingPen import RecordingPen
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

HERE = Path(__file__).parent
FACES = {"regular": "DejaVuSansCondensed.ttf", "bold": "DejaVuSansCondensed-Bold.ttf"}
FAMILY = "Inkfret Lettering"
SIGNS = "♯♭♮°øØΔ–—‘’‚“”„…•·×÷←↑→↓↔−≈✓○●□△▲"
UNITS = 1000
ACCIDENTALS = "♯♭♮"
BOLD_SHIFT = 52  # font units that the thin accidentals of the bold face gain on every side


def main(folder: str) -> None:
    """Write the two fonts and the table."""
    table = {face: _cut(Path(folder) / name, face) for face, name in FACES.items()}
    text = json.dumps(table, ensure_ascii=False, separators=(",", ":"))
    (HERE / "lettering.json").write_text(text + "\n", encoding="utf-8")


def _characters() -> set[int]:
    return set(range(0x20, 0x7F)) | set(range(0xA0, 0x180)) | {ord(c) for c in SIGNS}


def _cut(source: Path, face: str) -> dict[str, object]:
    options = subset.Options()
    options.hinting = False
    options.layout_features = []
    options.name_IDs = [0, 1, 2, 3, 4, 6, 13]
    options.notdef_outline = True
    options.drop_tables += ["FFTM", "kern", "GPOS", "GSUB", "GDEF"]
    font = TTFont(source)
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=_characters())
    cutter.subset(font)
    _rename(font, face)
    if face == "bold":
        for sign in ACCIDENTALS:
            _thicken(font, font.getBestCmap()[ord(sign)])
    font["head"].modified = font["head"].created
    font.save(HERE / f"lettering-{face}.ttf", reorderTables=True)
    return _measure(font)


def _thicken(font: TTFont, name: str) -> None:
    """Lay shifted copies over each other: the bold accidentals of the source are as thin as the regular ones."""
    recording = RecordingPen()
    font.getGlyphSet()[name].draw(recording)
    pen = TTGlyphPen(None)
    r, d = BOLD_SHIFT, round(BOLD_SHIFT * 0.7)
    for dx, dy in ((r, 0), (-r, 0), (0, r), (0, -r), (d, d), (d, -d), (-d, d), (-d, -d)):
        recording.replay(TransformPen(pen, Transform().translate(dx, dy)))
    font["glyf"][name] = pen.glyph()


def _rename(font: TTFont, face: str) -> None:
    names = {1: FAMILY, 2: face.title(), 3: f"{FAMILY} {face}", 4: f"{FAMILY} {face.title()}"}
    names[6] = f"InkfretLettering-{face.title()}"
    for record in font["name"].names:
        if record.nameID in names:
            record.string = names[record.nameID]


def _measure(font: TTFont) -> dict[str, object]:
    scale = UNITS / font["head"].unitsPerEm
    glyphs, widths = font.getGlyphSet(), font["hmtx"]
    by_code = {chr(code): name for code, name in font.getBestCmap().items()}
    by_code[""] = ".notdef"  # stands for every character that the fonts lack
    outlines = {}
    for char, name in sorted(by_code.items()):
        pen = SVGPathPen(glyphs, ntos=lambda v: str(round(v)))
        glyphs[name].draw(TransformPen(pen, Transform(scale, 0, 0, -scale, 0, 0)))
        outlines[char] = pen.getCommands()
    advances = {char: round(widths[name][0] * scale) for char, name in sorted(by_code.items())}
    return {"advances": advances, "outlines": outlines}


if __name__ == "__main__":
    main(sys.argv[1])
