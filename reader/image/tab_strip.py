"""Reads the strip network's answer: numbers on lines, signs between them, bar lines, the ends of the system."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reader.image.odds import sigmoid, softmax
from reader.image.tab_find import Floats
from reader.image.tab_lines import GAP, MARGIN

STRIDE = 4
NOTE_PARTS = {"heat": 1, "tens": 3, "units": 11, "ghost": 1, "offset": 1, "line": 1, "signs": 7}
BAR_PARTS = {"bar": 1, "inside": 1, "bar_kind": 5}
SIGNS = ("h", "p", "/", "\\", "b", "~", "slur")
BAR_KINDS = ("single", "double", "final", "repeat-start", "repeat-end")
MUTED = 10
HIGHEST_FRET = 24
SPOT_ABOVE = 0.12
"""The network's probability of a number below which no closer look is worth it: of 4,222 numbers on proving pages and
other drawings one lay below."""
SIGN_ABOVE = 0.4
BAR_ABOVE = 0.4
LINE_ABOVE = 0.5
INSIDE_ABOVE = 0.5


@dataclass(frozen=True, slots=True)
class Spot:
    """A place that may hold a number, as the network saw it.

    Parameters
    ----------
    column : float
        Its middle, strip pixels.
    block : int
        Block of the strip: 2 is the first line of a well cut strip.
    here : float
        Log odds that a number stands here.
    values : (26,) float
        Log probability of frets 0–24 and, last, of x.
    ghost : float
        Log odds of brackets.
    """

    column: float
    block: int
    here: float
    values: Floats
    ghost: float


@dataclass(frozen=True, slots=True)
class Number:
    """A number read on a line.

    Parameters
    ----------
    column : float
        Its middle, strip pixels.
    block : int
    fret : int or None
        None is an x.
    ghost : bool
        In brackets.
    confidence : float
        Calibrated probability that the number is there and is this one.
    second : int or None
        The next likely value.
    tall : bool
        A 1 that is much taller than the numbers around it.
    """

    column: float
    block: int
    fret: int | None
    ghost: bool
    confidence: float
    second: int | None
    tall: bool = False


@dataclass(frozen=True, slots=True)
class Answer:
    """What the network said of one strip.

    Parameters
    ----------
    spots : tuple of Spot
        Places that may hold a number, by column.
    signs : tuple of (column, block, kind)
    bars : tuple of (column, kind, probability)
    inside : (columns,) float
        Probability per strip column of 4 px that the system's lines run there.
    lines : (blocks,) float
        Probability per block that a line of the system runs in it.
    numbers : tuple of Number
        What was read at the spots, by column; empty before the close look.
    doubts : tuple of Spot
        Spots that may hold a number that was not read.
    """

    spots: tuple[Spot, ...]
    signs: tuple[tuple[float, int, str], ...]
    bars: tuple[tuple[float, str, float], ...]
    inside: Floats
    lines: Floats
    numbers: tuple[Number, ...] = ()
    doubts: tuple[Spot, ...] = ()


def logit(probability: float) -> float:
    """Inverse of the logistic function, kept finite."""
    p = min(1 - 1e-4, max(1e-4, probability))
    return float(np.log(p / (1 - p)))


def parts_of(scores: NDArray[np.floating], parts: dict[str, int]) -> dict[str, Floats]:
    """Channels by name."""
    ends = np.cumsum(list(parts.values()))[:-1]
    pieces = np.split(np.asarray(scores, np.float64), ends, axis=0)
    return dict(zip(parts, pieces, strict=True))


def read_answer(notes: NDArray[np.floating], bars: NDArray[np.floating]) -> Answer:
    """Decode raw scores: notes (25, blocks, columns) and bars (7, columns)."""
    note, bar = parts_of(notes, NOTE_PARTS), parts_of(bars, BAR_PARTS)
    inside = sigmoid(bar["inside"][0])
    line = sigmoid(note["line"][0])
    weight = np.maximum(inside, 1e-3)
    heat = sigmoid(note["heat"][0])
    spots = [read_spot(note, k, j) for k, j in peaks(heat, 3, SPOT_ABOVE)]
    signs = [
        ((j + 0.5) * STRIDE, int(k), SIGNS[c])
        for c in range(len(SIGNS))
        for k, j in peaks(sigmoid(note["signs"][c]), 4, SIGN_ABOVE)
    ]
    bar_heat = sigmoid(bar["bar"])
    seen_bars = [
        ((j + 0.5) * STRIDE, BAR_KINDS[int(bar["bar_kind"][:, j].argmax())], float(bar_heat[0, j]))
        for _, j in peaks(bar_heat, 4, BAR_ABOVE)
    ]
    return Answer(
        tuple(sorted(spots, key=lambda s: s.column)),
        tuple(sorted(signs)),
        tuple(sorted(seen_bars)),
        inside,
        (line * weight).sum(axis=1) / weight.sum(),
    )


def peaks(heat: Floats, reach: int, above: float) -> list[tuple[int, int]]:
    """Places (row, column) that are the highest within ``reach`` - 1 columns and above a threshold."""
    padded = np.pad(heat, ((0, 0), (reach - 1, reach - 1)), constant_values=-1)
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach - 1, axis=1)
    before, after = windows[:, :, : reach - 1].max(axis=2), windows[:, :, reach:].max(axis=2)
    rows, cols = np.nonzero((heat > above) & (heat > before) & (heat >= after))
    return list(zip(rows.tolist(), cols.tolist(), strict=True))


def read_spot(note: dict[str, Floats], block: int, column: int) -> Spot:
    """What the network said of a peak."""
    units, tens = note["units"][:, block, column], note["tens"][:, block, column]
    offset = float(np.clip(note["offset"][0, block, column], -1.5, 1.5))
    here, ghost = (float(note[name][0, block, column]) for name in ("heat", "ghost"))
    return Spot((column + 0.5 + offset) * STRIDE, block, here, value_scores(units, tens), ghost)


def value_scores(units: Floats, tens: Floats) -> Floats:
    """Log probability of frets 0–24 and, last, of x along the first axis, from the raw scores of both digits."""
    units, tens = log_softmax(units, 0), log_softmax(tens, 0)
    frets = np.arange(HIGHEST_FRET + 1)
    return np.concatenate([tens[frets // 10] + units[frets % 10], units[MUTED : MUTED + 1]])


def log_softmax(scores: Floats, axis: int) -> Floats:
    """Logarithms of probabilities that add up to 1 along an axis."""
    return np.asarray(np.log(np.maximum(softmax(scores, axis), 1e-12)))


def spans(inside: Floats, shortest: float) -> list[tuple[float, float]]:
    """Stretches (start, end), strip pixels, in which the lines run; short breaks are bridged."""
    on = inside > INSIDE_ABOVE
    padded = np.concatenate([[False], on, [False]])
    edges = np.flatnonzero(padded[1:] != padded[:-1])
    runs = list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))
    joined: list[list[int]] = []
    for start, end in runs:
        if joined and (start - joined[-1][1]) * STRIDE < 2 * GAP:
            joined[-1][1] = end
        else:
            joined.append([start, end])
    return [(edge(inside, a), edge(inside, b)) for a, b in joined if (b - a) * STRIDE >= shortest * GAP]


def edge(inside: Floats, column: int) -> float:
    """Strip pixel at which the probability crosses one half beside a run's end."""
    a, b = (column - 1, column)
    if not 0 <= a < len(inside) or not 0 <= b < len(inside):
        return float(column * STRIDE)
    rise = inside[b] - inside[a]
    part = 0.5 if abs(rise) < 1e-6 else float(np.clip((INSIDE_ABOVE - inside[a]) / rise, 0, 1))
    return (a + 0.5 + part) * STRIDE


def line_span(lines: Floats) -> tuple[int, int] | None:
    """First and last block that hold a line, or None when none does."""
    on = np.flatnonzero(lines > LINE_ABOVE)
    return None if not len(on) else (int(on[0]), int(on[-1]))


def expected_span(blocks: int) -> tuple[int, int]:
    """Where a well cut strip holds its lines."""
    return MARGIN, blocks - MARGIN - 1
