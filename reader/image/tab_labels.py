"""Reads the chord labels that stand above chosen places of a tab system."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from reader.image.ctc import Tree, best_path, fit
from reader.image.labels import NO_LABEL
from reader.image.levels import Pixels
from reader.image.tab_find import Floats
from reader.image.tab_lines import GAP, MARGIN, Frame, cut, darkness, is_light_on_dark
from reader.image.text import read_lines

FINE = 2
HIGHEST, LOWEST = 4.4, 0.7
"""Gaps above the first line between which labels stand (common practice, no source)."""
TALL = (0.4, 1.9)
"""Height of a label in gaps."""
APART = 0.4
"""Gaps between two words; signs that stand nearer belong together."""
BESIDE = 1.1
"""Gaps between a label's middle or beginning and the place under it."""
INK = 0.22
SURE_LABEL, CLEAR = 0.75, 0.85
"""Least probability of a label against all others and none, and of its signs."""


@dataclass(frozen=True, slots=True)
class Word:
    """A word above a system: its ends in strip columns, and its picture, dark on white."""

    left: float
    right: float
    picture: Pixels

    def away(self, column: float) -> float:
        """How far a place lies from the middle or the beginning of the word, in gaps."""
        return min(abs((self.left + self.right) / 2 - column), abs(self.left + 0.3 * GAP - column)) / GAP


def read_labels(pixels: Pixels, frame: Frame, columns: list[float], tree: Tree) -> list[str | None]:
    """The chord label above each place, None where none stands or it cannot be read for sure.

    Parameters
    ----------
    pixels : (height, width, 3) uint8, RGB
    frame : Frame
    columns : list of float
        Places along the strip, strip pixels.
    tree : Tree
        Spellings of chord labels.
    """
    words = find_words(band_above(pixels, frame)) if columns else []
    nearest = [min(words, key=lambda w: w.away(c), default=None) for c in columns]
    near = [w if w is not None and w.away(c) < BESIDE else None for w, c in zip(nearest, columns, strict=True)]
    texts = iter([_label(signs, tree) for signs in read_lines([w.picture for w in near if w is not None])])
    return [None if w is None else next(texts) for w in near]


def band_above(pixels: Pixels, frame: Frame) -> Pixels:
    """The page above a system, straightened as the system is, dark ink on light paper, 40 px a gap."""
    first, second = frame.offsets[MARGIN], frame.offsets[MARGIN + 1]
    places = np.arange(-HIGHEST, -LOWEST, 1.0)[:, None]
    band = Frame(frame.xs, frame.ys, frame.across, first + places * (second - first), frame.gap)
    strip = cut(pixels, band, FINE)
    dark = is_light_on_dark(cut(pixels, frame), frame.line_count)
    return np.asarray(255 - strip, np.uint8) if dark else strip


def find_words(band: Pixels) -> list[Word]:
    """Words by their place: ink that is as tall as a label, signs that stand near each other together."""
    scale = GAP * FINE
    dark = darkness(band)
    ink = (dark > max(INK, 0.4 * float(np.quantile(dark, 0.995)))).astype(np.uint8)
    joined = cv2.dilate(ink, np.ones((int(0.2 * scale), int(APART * scale)), np.uint8))
    _, names = cv2.connectedComponents(joined)
    _, _, boxes, _ = cv2.connectedComponentsWithStats(joined)
    out = []
    for name, (x, y, w, h, _) in enumerate(boxes[1:], 1):
        mine = (names[y : y + h, x : x + w] == name) & (ink[y : y + h, x : x + w] > 0)
        rows, cols = np.flatnonzero(mine.any(axis=1)), np.flatnonzero(mine.any(axis=0))
        if not len(rows) or not TALL[0] * scale < rows[-1] - rows[0] < TALL[1] * scale or cols[-1] - cols[0] < 4:
            continue
        piece = np.where(
            cv2.dilate(mine.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0, dark[y : y + h, x : x + w], 0
        )
        tight = piece[max(0, rows[0] - 2) : rows[-1] + 3, max(0, cols[0] - 2) : cols[-1] + 3]
        picture = np.asarray(255 * (1 - np.clip(tight / max(float(tight.max()), 0.1), 0, 1)), np.uint8)
        out.append(Word((x + int(cols[0])) / FINE, (x + int(cols[-1])) / FINE, picture))
    return out


def _label(signs: Floats, tree: Tree) -> str | None:
    """The chord label that a picture reads as, where it can hardly be anything else."""
    scores = fit(tree, signs) * tree.weights
    best = int(scores.argmax())
    same = float(scores[[i for i, t in enumerate(tree.texts) if t == tree.texts[best]]].max())
    sure = same / (float(scores.sum()) + NO_LABEL)
    return tree.texts[best] if sure > SURE_LABEL and best_path(signs)[1] > CLEAR else None
