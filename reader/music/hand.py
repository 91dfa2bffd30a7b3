"""What a left hand can reach, in millimetres of fretboard."""

from __future__ import annotations

from reader.music.tuning import Tuning

COMFORT_MM = {(1, 2): 38.0, (2, 3): 38.0, (3, 4): 38.0, (1, 3): 70.0, (2, 4): 70.0, (1, 4): 100.0}
LIMIT_MM = {(1, 2): 76.0, (2, 3): 70.0, (3, 4): 62.0, (1, 3): 108.0, (2, 4): 98.0, (1, 4): 130.0}
"""Along the neck, between two fingers that press behind their frets: reached without effort by most adult hands, and
not reached by most (common practice, no source)."""
BEYOND_REACH = 1.0
"""Strain from which most hands cannot reach."""


def fret_distance_mm(tuning: Tuning, low: int, high: int) -> float:
    """Distance between two frets.

    The distance from nut to fret n is L(1 - 2^(-n/12)), equal temperament.

    Examples
    --------
    >>> from reader.music.tuning import get_tuning
    >>> round(fret_distance_mm(get_tuning("guitar"), 0, 12))
    324
    """
    scale = tuning.sounding_scale_mm
    return float(scale * abs(2.0 ** (-low / 12) - 2.0 ** (-high / 12)))


def strain(tuning: Tuning, finger: int, fret: int, other_finger: int, other_fret: int) -> float:
    """How far two fingers (1 to 4) are stretched: 0 in comfort, 1 at the limit of most hands, more beyond."""
    pair = (min(finger, other_finger), max(finger, other_finger))
    distance = fret_distance_mm(tuning, fret, other_fret)
    return max(0.0, (distance - COMFORT_MM[pair]) / (LIMIT_MM[pair] - COMFORT_MM[pair]))
