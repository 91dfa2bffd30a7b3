"""Reads the strip network's answer: numbers on lines, signs between them, bar lines, the ends of the system."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reader.image.odds import sigmoid, softmax
from reader.image.tab_find import Floats
from reader.image.tab_lines import GAP, MARGIN

STRIDE = 4
OFFSET_CHANNEL = 16
NOTE_PARTS = {"heat": 1, "tens": 3, "units": 11, "ghost": 1, "offset": 1, "line": 1, "signs": 7}
BAR_PARTS = {"bar": 1, "inside": 1, "bar_kind": 5}
SIGNS = ("h", "p", "/", "\\", "b", "~", "slur")
BAR_KINDS = ("single", "double", "final", "repeat-start", "repeat-end")
MUTED = 10
HIGHEST_FRET = 24
NUMBER_ABOVE = 0.35
DOUBT_ABOVE = 0.25
KEEP_ABOVE = 0.4
"""Calibrated probability below which a number is left out and counted as a doubt."""
CALIBRATION = (-1.17, 0.738, 1.133)
"""Bias, weight of 'a number stands here', weight of 'it is this one' (logits) in the probability that a number is
right: logistic regression on the 4,200 numbers read on 60 proving pages, whose generator the network never saw."""
SIGN_ABOVE = 0.4
BAR_ABOVE = 0.4
LINE_ABOVE = 0.5
INSIDE_ABOVE = 0.5


@dataclass(frozen=True, slots=True)
class Number:
    """A number seen on a line.

    Parameters
    ----------
    column : float
        Its middle, strip pixels.
    block : int
        Block of the strip: 2 is the first line of a well cut strip.
    fret : int or None
        None is an x.
    ghost : bool
        In brackets.
    seen : float
        The network's probability that a number stands here.
    value : float
        Its probability of this value if one does.
    second : int or None
        The next likely value.
    """

    column: float
    block: int
    fret: int | None
    ghost: bool
    seen: float
    value: float
    second: int | None

    @property
    def confidence(self) -> float:
        """Calibrated probability that the number is there and is this one."""
        bias, there, this = CALIBRATION
        return float(sigmoid(np.array(bias + there * logit(self.seen) + this * logit(self.value))))


@dataclass(frozen=True, slots=True)
class Answer:
    """What the network said of one strip.

    Parameters
    ----------
    numbers : tuple of Number
        Above the threshold, by column.
    doubts : tuple of (column, block)
        Places that might hold a number.
    signs : tuple of (column, block, kind)
    bars : tuple of (column, kind, probability)
    inside : (columns,) float
        Probability per strip column of 4 px that the system's lines run there.
    lines : (blocks,) float
        Probability per block that a line of the system runs in it.
    """

    numbers: tuple[Number, ...]
    doubts: tuple[tuple[float, int], ...]
    signs: tuple[tuple[float, int, str], ...]
    bars: tuple[tuple[float, str, float], ...]
    inside: Floats
    lines: Floats


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
    spots = peaks(heat, 3, DOUBT_ABOVE)
    likely = [read_number(note, heat, k, j) for k, j in spots if heat[k, j] > NUMBER_ABOVE]
    numbers = [n for n in likely if n.confidence > KEEP_ABOVE]
    doubts = [((j + 0.5) * STRIDE, int(k)) for k, j in spots if heat[k, j] <= NUMBER_ABOVE]
    doubts += [(n.column, n.block) for n in likely if n.confidence <= KEEP_ABOVE]
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
        tuple(sorted(numbers, key=lambda n: n.column)),
        tuple(doubts),
        tuple(sorted(signs)),
        tuple(sorted(seen_bars)),
        inside,
        (line * weight).sum(axis=1) / weight.sum(),
    )


def blended(first: NDArray[np.floating], second: NDArray[np.floating], by: float, keep: int = -1) -> Floats:
    """Mean of raw scores over the columns of the first; the second's strip was ``by`` times as long.

    Channel ``keep`` is taken from the first alone.
    """
    columns = first.shape[-1]
    at = np.clip((np.arange(columns) + 0.5) * by - 0.5, 0, second.shape[-1] - 1)
    low = np.minimum(at.astype(int), second.shape[-1] - 2)
    part = at - low
    mean = (first + second[..., low] * (1 - part) + second[..., low + 1] * part) / 2
    if keep >= 0:
        mean[keep] = first[keep]
    return np.asarray(mean, np.float64)


def peaks(heat: Floats, reach: int, above: float) -> list[tuple[int, int]]:
    """Places (row, column) that are the highest within ``reach`` - 1 columns and above a threshold."""
    padded = np.pad(heat, ((0, 0), (reach - 1, reach - 1)), constant_values=-1)
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach - 1, axis=1)
    before, after = windows[:, :, : reach - 1].max(axis=2), windows[:, :, reach:].max(axis=2)
    rows, cols = np.nonzero((heat > above) & (heat > before) & (heat >= after))
    return list(zip(rows.tolist(), cols.tolist(), strict=True))


def read_number(note: dict[str, Floats], heat: Floats, block: int, column: int) -> Number:
    """Value and place of the number at a peak."""
    units, tens = softmax(note["units"][:, block, column]), softmax(note["tens"][:, block, column])
    shares = value_shares(units, tens)
    order = np.argsort(shares)[::-1]
    best, second = (None if i == len(shares) - 1 else int(i) for i in order[:2])
    offset = float(np.clip(note["offset"][0, block, column], -1.5, 1.5))
    return Number(
        (column + 0.5 + offset) * STRIDE,
        block,
        best,
        bool(note["ghost"][0, block, column] > 0),
        float(heat[block, column]),
        float(shares[order[0]]),
        second,
    )


def value_shares(units: Floats, tens: Floats) -> Floats:
    """Probability of frets 0–24 and, last, of x, from the two digits' probabilities."""
    frets = np.arange(HIGHEST_FRET + 1)
    numbers = tens[frets // 10] * units[frets % 10]
    return np.append(numbers, units[MUTED])


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
