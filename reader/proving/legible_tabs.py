"""Which numbers of a tablature a person can make out in a finished picture, and whether its lines can be counted."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from reader.proving.draft import Draft, System
from reader.proving.legible import Sight, sight
from reader.proving.sheet import Pixels, Sheet, Shots
from reader.proving.warp import Points, Warp

_LOST_SHARE, _LOST_LEAST = 0.1, 2  # of a system's numbers: with more lost, and at least so many, it is hard

# The bounds below were set by eye on some 400 enlarged numbers of twelve seeds; what was doubtful counts as legible.
_SIZES = (8.0, 12.0, 24.0)
_LIKE, _PALE_LIKE = (0.62, 0.62, 0.58), (0.84, 0.64, 0.58)  # likeness below which a sign of such a size cannot be told
_PALE = 70.0  # grey levels; the larger a sign is, the paler it may be
_GAPS, _PLAIN = 0.55, 0.6  # of a pale sign more uneven and less like its drawing than this only specks are left
_UNEVEN = 0.9  # strokes that came through more unevenly than this are specks in any case
_LINE = 4.0  # grey levels below which a line is not seen, along its best quarter
_STEPS = 60  # places along a line that are followed into the picture


def told_on_line(seen: Sight) -> bool:
    """Whether a person can tell a sign of a number that stands on a line.

    Its line is expected there: unlike beside a grid, ink as strong as its own does not make it doubtful.
    """
    need = min(1.0, 18 / seen.size)
    pale = seen.contrast < _PALE * need
    like = float(np.interp(seen.size, _SIZES, _PALE_LIKE if pale else _LIKE))
    specks = pale and seen.patchy > _GAPS and seen.plain < _PLAIN
    clear = seen.there and seen.contrast >= 25 * need and seen.patchy <= _UNEVEN
    return clear and not specks and max(seen.likeness, seen.plain) >= like


def _on_line(path: Points, warp: Warp) -> Points:
    """Places in the picture along a line of the sheet."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    at = np.linspace(0, along[-1], _STEPS)
    return warp.forth(np.column_stack([np.interp(at, along, path[:, k]) for k in (0, 1)]))


def _line_shows(path: Points, gap: float, picture: Pixels, warp: Warp) -> bool:
    """Whether a line differs from the paper above and below it in at least a quarter of its length."""
    way = _on_line(path, warp)
    down = _on_line(path + (0, 0.1 * gap), warp) - way
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(way, axis=0).T))])
    block = max(round(10 * float(np.hypot(*down.T).mean())), 1)
    count = max(int(along[-1]) // block, 1) * block
    at = np.linspace(0, along[-1], count)
    colours = []
    for shift in (0.0, -3.0, 3.0):
        x, y = (np.interp(at, along, way[:, k] + shift * down[:, k]).astype(np.float32)[None] for k in (0, 1))
        drawn = cv2.remap(picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        colours.append(drawn[0].reshape(-1, block, 3).mean(axis=1))
    line, above, below = colours
    return float(np.percentile(np.sqrt(((line - (above + below) / 2) ** 2).mean(axis=1)), 75)) >= _LINE


def _system_as_seen(system: System, sheet: Sheet, shots: Shots, warp: Warp) -> System:
    if system.hard:
        return system
    lost = 0
    for signs in system.numbers:
        came_out = [sight(sheet, mark, shots, warp) for mark in signs]
        lost += not all(seen is None or told_on_line(seen) for seen in came_out)
    gap = float(np.hypot(*np.subtract(system.corners[3], system.corners[0]))) / (system.lines - 1)
    bare = shots.without.get("signs", shots.pixels)
    counted = all(_line_shows(path, gap, bare, warp) for path in system.paths)
    illegible = lost >= _LOST_LEAST and lost > _LOST_SHARE * len(system.numbers)
    return replace(system, hard=illegible or not counted)


def tabs_as_seen(draft: Draft, shots: Shots, warp: Warp) -> Draft:
    """The draft with the systems marked that cannot be read in its picture.

    Parameters
    ----------
    draft : Draft
    shots : Shots
        The finished picture, and the same without the signs.
    warp : Warp
        From the sheet to the picture.

    Returns
    -------
    Draft
        Systems of which more than a tenth of the numbers, and at least two, cannot be told are hard, and so are those
        whose lines cannot be counted.
    """
    return replace(draft, systems=[_system_as_seen(s, draft.sheet, shots, warp) for s in draft.systems])
