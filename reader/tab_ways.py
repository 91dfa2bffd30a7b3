"""Tab systems of pages that lie on their side, upside down or askew, and of ruled paper."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image.levels import Levels
from reader.image.regions import covered
from reader.image.ruling import Ruling, erased, find_ruling
from reader.image.tab_lines import darkness_in_bytes
from reader.image.tabs import find_tabs
from reader.image.tilt import turned_by
from reader.reading import Flag, TabEvent, TabReading

Tabs = tuple[TabReading, ...]
Point = tuple[float, float]

READ_WELL = 0.95
"""Mean probability of the numbers of a page from which nobody asks whether it lies another way: seven drawn pages had
0.925 to 0.999 upright, 0.80 to 0.93 upside down."""
CLEARLY_BETTER = 1.15
"""So many times as much must be read on the page turned round: these had 1.2 to 2 times as much upright."""
SMALL_SIDE, CLEARLY_ACROSS = 800, 0.9
"""Longer side of the page, pixels, at which systems are looked for across it; how clearly one must be found before the
page is read so: on three drawn pages the clearest had 0.99, on one of ten with nothing to read more than 0.9."""
LEAST_ACROSS = 0.85
"""Mean probability of the numbers of a system across a page, at least: seventeen of four drawn pages had 0.93 to 1.0,
eight finds on pages of words and of a seating plan 0.59 to 0.75."""
FEWEST_NUMBERS = 12
"""Numbers that systems across a page have together at least: columns of a table are turned lines with a few."""
LEANING = 6.0
"""Degrees by which the systems of a page lean from which it is read once more, straightened."""
ON_RULING, OWN_LINES = 0.15, 0.75
"""How near a line of a system lies to a ruled one to be that one, in gaps; share of the lines of a page's systems from
which what was taken for ruled lines is the systems themselves (judged by hand)."""
SAME_PLACE = 0.5
"""Share of area from which two systems are one."""
NEARLY_AS_MUCH = 0.95
"""Share of what was read before that is read without the ruled lines, at least, where it leaves fewer doubts."""
QUARTER, HALF, THREE_QUARTERS = 1, 2, 3


def unruled(page: Levels, found: Tabs, read: Callable[[Levels], Tabs]) -> Tabs:
    """The systems of a page, read without the ruled lines of its paper where that tells more and leaves fewer doubts.

    Parameters
    ----------
    page : its picture
    found : what was read of it with all lines
    read : reads a page as it lies
    """
    if not any(tab.flags for tab in found):
        return found
    dark = darkness_in_bytes(page.pixels)
    ruling = find_ruling(dark)
    if ruling is None or float(np.mean([_share_on(ruling, tab) for tab in found])) > OWN_LINES:
        return found
    again = read(Levels(erased(page.pixels, dark, ruling)))
    before, after = (sum(len(tab.flags) for tab in tabs) for tabs in (found, again))
    better = after < before and _told(again) > NEARLY_AS_MUCH * _told(found)
    return tuple(_lines_asked(tab, found) for tab in again) if better else found


def _lines_asked(tab: TabReading, before: Tabs) -> TabReading:
    """A system read without the ruled lines, asked about where it had another number of lines with them."""
    if any(
        o.line_count == tab.line_count and covered(np.array(o.corners), np.array(tab.corners)) > SAME_PLACE
        for o in before
    ):
        return tab
    asked = (
        f"The ruled lines of the paper were left out to read this: check that the system has {tab.line_count} lines."
    )
    return replace(tab, flags=(*tab.flags, Flag("tab-lines", asked)))


def _share_on(ruling: Ruling, tab: TabReading) -> float:
    """Share of the lines of a system that are ruled ones."""
    corners = np.array(tab.corners)
    rows = np.linspace(corners[[0, 1], 1].mean(), corners[[3, 2], 1].mean(), tab.line_count)
    gap = float(rows[1] - rows[0])
    column = int(np.clip(corners[:, 0].mean(), 0, ruling.courses.shape[1] - 1))
    away = np.abs(rows[:, None] - ruling.courses[:, column]).min(1)
    return float((away < ON_RULING * gap).mean())


def levelled(page: Levels, found: Tabs, read: Callable[[Levels], Tabs]) -> Tabs:
    """The systems of a page whose lines lean, read with the page straightened where that tells more.

    Parameters
    ----------
    page : its picture
    found : what was read of it as it lies
    read : reads a page as it lies
    """
    edges = [np.subtract(tab.corners[1], tab.corners[0]) for tab in found]
    lean = float(np.median([np.degrees(np.arctan2(y, x)) for x, y in edges])) if edges else 0.0
    if not LEANING <= abs(lean) < 45:
        return found
    straight, there = turned_by(page.pixels, lean)
    again = read(Levels(straight))
    if _told(again) <= _told(found):
        return found
    back = np.asarray(cv2.invertAffineTransform(there), float)
    return tuple(_moved_back(tab, back) for tab in again)


def _moved_back(tab: TabReading, back: NDArray[np.float64]) -> TabReading:
    """A system in pixels of the page that a (2, 3) matrix leads back to."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = tab.corners

    def place(point: Point) -> Point:
        x, y = back @ [*point, 1.0]
        return float(x), float(y)

    def along(x: float) -> float:
        return place((x, float(np.interp(x, [(ax + dx) / 2, (bx + cx) / 2], [(ay + dy) / 2, (by + cy) / 2]))))[0]

    return _moved(tab, place, along)


def whichever_way(page: Levels, upright: Tabs, read: Callable[[Levels], Tabs], *, across: bool) -> Tabs:
    """The systems of a page, read the way it was written.

    Parameters
    ----------
    page : its picture
    upright : what was read of it as it lies
    read : reads a page as it lies
    across : whether systems that run up or down the page are looked for, where hardly any runs along it
    """
    if upright and surety(upright) >= READ_WELL:
        return upright
    best, most = upright, max(0.0, CLEARLY_BETTER * _told(upright))
    ways = [HALF] if upright else []
    if across and _run_across(page):
        ways += [QUARTER, THREE_QUARTERS]
    for quarters in ways:
        turned = read(Levels(np.ascontiguousarray(np.rot90(page.pixels, quarters))))
        if quarters != HALF:
            turned = tuple(tab for tab in turned if surety((tab,)) >= LEAST_ACROSS)
            if _numbers(turned) < FEWEST_NUMBERS:
                continue
        if _told(turned) > most:
            height, width = page.pixels.shape[:2]
            best, most = tuple(turned_back(tab, quarters, width, height) for tab in turned), _told(turned)
    return best


def turned_back(tab: TabReading, quarters: int, width: int, height: int) -> TabReading:
    """A system read on a page that was turned ``quarters`` counter-clockwise, in pixels of the page as it lay.

    Parameters
    ----------
    width, height : int
        Of the page as it lay.
    """

    def place(point: Point) -> Point:
        x, y = point
        return {
            QUARTER: (width - 1 - y, x),
            HALF: (width - 1 - x, height - 1 - y),
            THREE_QUARTERS: (y, height - 1 - x),
        }[quarters]

    def along(x: float) -> float:
        return {QUARTER: x, HALF: width - 1 - x, THREE_QUARTERS: height - 1 - x}[quarters]

    return _moved(tab, place, along)


def _moved(tab: TabReading, place: Callable[[Point], Point], along: Callable[[float], float]) -> TabReading:
    """A system in pixels of another page.

    Parameters
    ----------
    place : where a point comes to lie
    along : where something at a place along the lines does
    """

    def event(e: TabEvent) -> TabEvent:
        notes = tuple(n if n.at is None else replace(n, at=place(n.at)) for n in e.notes)
        return replace(e, x=along(e.x), notes=notes)

    a, b, c, d = (place(p) for p in tab.corners)
    bars = tuple(along(x) for x in tab.bar_lines)
    return replace(tab, corners=(a, b, c, d), events=tuple(event(e) for e in tab.events), bar_lines=bars)


def _run_across(page: Levels) -> bool:
    """Whether anything looks like a tab system on a small picture of the page laid on its side."""
    height, width = page.pixels.shape[:2]
    scale = min(1.0, SMALL_SIDE / max(height, width))
    small = page.shrunk((max(16, round(width * scale)), max(16, round(height * scale))))
    found = find_tabs(Levels(cv2.rotate(small, cv2.ROTATE_90_COUNTERCLOCKWISE)))
    return any(region.confidence >= CLEARLY_ACROSS for region in found)


def _probabilities(tabs: Tabs) -> list[float]:
    return [note.confidence for tab in tabs for event in tab.events for note in event.notes]


def _numbers(tabs: Tabs) -> int:
    return len(_probabilities(tabs))


def surety(tabs: Tabs) -> float:
    """How surely the numbers of a page were read, on average."""
    return float(np.mean(_probabilities(tabs) or [0.0]))


def _told(tabs: Tabs) -> float:
    """How much was read: every number by how much surer it is than not."""
    return float(sum(2 * p - 1 for p in _probabilities(tabs)))
