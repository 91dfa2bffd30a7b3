"""The story: a page in, readings out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from reader.confidence import judge
from reader.errors import ReaderError
from reader.frames import count_rows, count_strings, counted_together
from reader.image.abreast import abreast
from reader.image.cells import look_into_cells
from reader.image.crops import Points, side_lengths
from reader.image.foot_marks import with_foot_marks
from reader.image.label_claims import parted, without_marks
from reader.image.labels import Lettering
from reader.image.lattice import has_two_rows, lay
from reader.image.levels import Levels, Pixels
from reader.image.marks import FIRST_ROW, MUTED, OPEN_BARE, Look, count_ink, look_at
from reader.image.page_ink import PageInk, ink_of_page
from reader.image.pages import Page, open_pages
from reader.image.pieces import look_closely
from reader.image.regions import HIDING, Region, covered, find_regions, keep_best, reading_order
from reader.image.tilt import find_askew
from reader.image.way import UNUSUAL_ENDS, corner_on_page, is_told, lies_across, page_turn, roll, settle_ways
from reader.interpret import ReadSettings, Seen, interpret
from reader.interpret_tabs import read_tabs
from reader.music.label_style import NoteNames
from reader.note_names import read_lettering
from reader.reading import Flag, PageReading, Reading, TabReading

LEAST_DIAGRAM = 0.1
"""Finds that look less like a diagram than this are dropped."""
PART_OF_TAB = 0.4
"""A find of which this share lies in a tab system belongs to the tab."""
HARDLY_TAB, CLEARLY_FOUND = 0.15, 0.6
"""Confidence of a tab system below which diagrams found from that confidence on are kept and the system is not: of 286
systems on drawn pages with finds among their lines none is so, two rows of diagrams on music paper are."""
TAB_LENGTH = 2.2
"""A tab system is at least so many times as wide as a diagram found in it; else it is the diagram."""
MOST_MARKS = 8
"""Numbers in a tab system from which it cannot be a diagram: a hand has few fingers."""
DWARF = 0.6
"""Share of the usual size of a page's diagrams below which a find may be the frame of a label: the largest of four
drawn frames taken for diagrams had 0.56, and a confidence of 0.35."""
FEWEST_TOGETHER, MOSTLY_IN_DOUBT = 5, 0.8
"""Finds of a page, and share of them that are asked about, from which all are where no label agrees with its dots: a
page of 31 boxes with names in them had all but one flagged (judged by hand)."""
MANY_DIAGRAMS = 4
"""Clear finds of diagrams from which nobody looks for tab systems across the page."""
LEAST_DIAGRAM_IN_TAB = ((0.9, 0.6), (0.5, 0.05))
"""From a confidence of a tab system on, the least that a diagram in its place must have of its own to be preferred."""
BADLY_READ_TAB, SURE_CROSSING, CROSSED = 0.3, 0.9, 0.1
"""Confidence of a tab system below which it is ruled paper where so sure a diagram lies in it with such a share: of
1,600 systems on drawn pages none is so, of 26 false ones four are."""
LEAST_EMPTY = 0.3
"""Confidence below which a find without any stop is dropped: of 22 true shapes of open strings on 850 drawn pages the
poorest had 0.88, of 20 such finds that were none 15 lay below."""
BLANK_PAGE, SURE_LABEL, SPECK = 4, 0.97, 0.05
"""Grids from which a page that is mostly blank ones counts as paper to fill in; how surely a label must be read for a
bare grid among them to be kept; how likely a grid may be empty before a mark on it is taken for a speck there."""
SURE_DIAGRAM = 0.25
"""Confidence from which a find hides what it covers from the lettering of others: weak finds often are lettering."""
OWN_INK, SHOWS_THROUGH = 0.7, 0.28
"""Ink, as a share of what is usual on the page, of diagrams that surely are drawn on this side of the paper, and up to
which others beside one show through. Of 5,877 diagrams on ten sets of drawn pages the palest has 0.37, and 231 of 277
pale things found beside diagrams have less than 0.2."""
STEADY = 0.03
"""Corners that the first look moved by less, in sides of the grid, need no second look."""

__all__ = ["ReadSettings", "read_file", "read_page", "read_region"]


def read_file(path: Path, settings: ReadSettings | None = None) -> Iterator[PageReading]:
    """Read every page of a file.

    Raises
    ------
    InputError
        When the file cannot be opened.
    """
    for page in open_pages(path):
        yield read_page(page, settings)


def read_page(page: Page, settings: ReadSettings | None = None, strict: bool = True) -> PageReading:
    """Read one page.

    Parameters
    ----------
    page : Page
    settings : ReadSettings, optional
    strict : whether finds that are hardly a diagram are dropped once they are read
    """
    settings = settings or ReadSettings()
    try:
        levels = Levels(page.pixels)
        regions = find_askew(levels)
        clear = sum(r.confidence > CLEARLY_FOUND for r in regions)
        tabs = read_tabs(levels, settings.tuning, settings.note_names, across=clear < MANY_DIAGRAMS)
        tabs = tuple(t for t in tabs if not hides_diagrams(t, regions))
        regions = [r for r in regions if not lies_in_tab(r, tabs)]
        readings = read_regions(levels, regions, settings)
        if strict:
            readings, behind = on_this_side(readings)
            hidden = hidden_by(behind, regions, readings, levels) if behind else []
            hidden = [r for r in hidden if not lies_in_tab(r, tabs)]
            if hidden:
                readings, _ = on_this_side(read_regions(levels, hidden, settings))
        tabs = tuple(t for t in tabs if not is_neck(t, readings) and not is_crossed(t, readings))
        readings = asked_together([r for r in readings if not any(covers(t, np.array(r.corners)) for t in tabs)])
    except ReaderError as error:
        return PageReading(page.source, page.number, page.width, page.height, error=str(error))
    order = reading_order([np.array(r.corners) for r in readings])
    return PageReading(page.source, page.number, page.width, page.height, tuple(readings[i] for i in order), tabs)


def holds_nothing(reading: Reading) -> bool:
    """Whether no stop was read of a find that is hardly a grid: beams over words, squares of a table."""
    return reading.confidence < LEAST_EMPTY and not any(reading.frame.frets)


def read_regions(levels: Levels, regions: list[Region], settings: ReadSettings) -> list[Reading]:
    """The readings of what was found on a page."""
    return interpret(see(levels, regions, names=settings.note_names), settings)


def on_this_side(readings: list[Reading]) -> tuple[list[Reading], list[Reading]]:
    """The diagrams of a page, and what shows through from the other side of the paper.

    It is far paler than the rest; where nothing is stronger, that cannot be told, and a person is asked.
    """
    readings = [r for r in readings if judge().is_diagram(r.evidence) and not holds_nothing(r)]
    if not any(r.evidence["strength"] > OWN_INK for r in readings):
        return readings, []
    behind = [r for r in readings if r.evidence["strength"] <= SHOWS_THROUGH and not r.evidence["label_agrees"]]
    return [r for r in readings if r not in behind], behind


def hidden_by(behind: list[Reading], regions: list[Region], here: list[Reading], levels: Levels) -> list[Region]:
    """All that is found on a page without what shows through, where that hid a clear find around it; else nothing.

    Parameters
    ----------
    behind : what shows through
    regions : all that was found; what became no reading, or hardly one, may show through as well
    here : the diagrams of this side
    levels : the page
    """
    ours = [np.array(r.corners) for r in here if r.confidence >= LEAST_EMPTY]
    other = [r.corners for r in regions if all(covered(r.corners, c) < HIDING for c in ours)]
    gone = [*(np.array(r.corners) for r in behind), *other]
    found = find_regions(levels, without=gone)
    clear = [r.corners for r in found if r.confidence > CLEARLY_FOUND]
    return found if any(covered(g, c) > HIDING for g in gone for c in clear) else []


def asked_together(readings: list[Reading]) -> list[Reading]:
    """The readings of a page; where nearly all are in doubt and no label speaks for any, the others are asked about."""
    doubtful = sum(bool(r.flags) for r in readings)
    if len(readings) < FEWEST_TOGETHER or doubtful < MOSTLY_IN_DOUBT * len(readings):
        return readings
    if any(r.evidence["label_agrees"] for r in readings):
        return readings
    asked = Flag("weak-grid", "Nearly all that was found on this page is in doubt: check whether this belongs here.")
    return [r if r.flags else replace(r, flags=(asked,)) for r in readings]


def covers(tab: TabReading, corners: Points) -> bool:
    """Whether a find lies in a tab system."""
    return covered(corners, np.array(tab.corners)) > PART_OF_TAB


def lies_in_tab(region: Region, tabs: tuple[TabReading, ...]) -> bool:
    """Whether a find is a piece of a tab system: bar lines and string lines look like a grid."""
    return any(covers(t, region.corners) and longer(t, region.corners) for t in tabs)


def hides_diagrams(tab: TabReading, regions: list[Region]) -> bool:
    """Whether what was hardly read as a tab system is a row of diagrams on music paper."""
    return tab.confidence < HARDLY_TAB and any(covers(tab, r.corners) and r.confidence > CLEARLY_FOUND for r in regions)


def is_neck(tab: TabReading, readings: list[Reading]) -> bool:
    """Whether what was taken for a tab system is a diagram lying on its side."""
    if sum(len(event.notes) for event in tab.events) > MOST_MARKS:
        return False
    least = next((need for sure, need in LEAST_DIAGRAM_IN_TAB if tab.confidence > sure), 0.0)
    found = [np.array(r.corners) for r in readings if r.confidence >= least]
    return any(covers(tab, corners) and not longer(tab, corners) for corners in found)


def is_crossed(tab: TabReading, readings: list[Reading]) -> bool:
    """Whether what hardly reads as a tab system runs through a diagram: the lines are those of the paper."""
    sure = [np.array(r.corners) for r in readings if r.confidence > SURE_CROSSING]
    return tab.confidence < BADLY_READ_TAB and any(covered(c, np.array(tab.corners)) > CROSSED for c in sure)


def longer(tab: TabReading, corners: Points) -> bool:
    """Whether a tab system is much wider than a find that lies in it."""
    return bool(np.ptp(np.array(tab.corners)[:, tab.axis]) > TAB_LENGTH * np.ptp(corners[:, tab.axis]))


def read_region(pixels: Pixels, corners: Points, settings: ReadSettings | None = None) -> Reading | None:
    """Read what a person has drawn a box around; nothing when there is no diagram in it.

    Parameters
    ----------
    pixels : uint8 [row, col, 3]
    corners : (4, 2) page pixels, nut end first
    """
    box = np.asarray(corners, float)
    low, high = np.floor(box.min(0)).astype(int), np.ceil(box.max(0)).astype(int)
    margin = int((high - low).max() * 0.35)
    x0, y0 = np.maximum(low - margin, 0)
    part = np.ascontiguousarray(pixels[y0 : high[1] + margin, x0 : high[0] + margin])
    inside = [
        r for r in find_regions(part) if (np.abs(r.corners.mean(0) + [x0, y0] - box.mean(0)) < (high - low) / 2).all()
    ]
    start = Region(inside[0].corners + [x0, y0], inside[0].confidence) if inside else Region(box, 0.3)
    settings = settings or ReadSettings()
    seen = see(Levels(pixels), [start], strict=False, names=settings.note_names)
    return interpret(seen, settings)[0] if seen else None


def see(page: Levels, regions: list[Region], strict: bool = True, names: NoteNames = "english") -> list[Seen]:
    """Look at each diagram as a whole and cell by cell, and at the lettering around it; drop what is no diagram.

    Parameters
    ----------
    page : its picture
    strict : whether finds that do not look like a diagram are dropped
    names : how labels name notes; do re mi is tried as well where English names hardly read
    """
    first = look_at(page, [r.corners for r in regions])
    kept = [(r, k) for r, k in zip(regions, first, strict=True) if not strict or is_diagram(k)]
    if not kept:
        return []
    regions, first = [r for r, _ in kept], [k for _, k in kept]
    corners = [roll(k.corners if k.way[0] > 0.5 else r.corners, int(k.way.argmax())) for r, k in kept]
    second = _look_again(page, corners, first, STEADY)
    corners = [roll(k.corners, int(k.way.argmax())) for k in second]
    least = DWARF * usual_side(regions)
    surely = [is_sure(r, k, least) for r, k in zip(regions, second, strict=True)]
    sure = [c for c, s in zip(corners, surely, strict=True) if s]
    around, named = read_lettering(page, corners, sure, 0, names)
    turn, told = page_turn(around, corners, second), is_told(around, corners, second)
    if turn:
        around, named = read_lettering(page, corners, sure, turn, names)
    settled = settle_ways(corners, second, turn, told)
    if any(lies_across(a, b) for a, b in zip(corners, settled, strict=True)):
        # what stood above such a grid stands beside it now, where numbers are
        sure = [b for a, b in zip(corners, settled, strict=True) if any(a is c for c in sure)]
        around, named = read_lettering(page, settled, sure, turn, names)
    corners = settled
    whole = counted_together(_look_again(page, corners, second))
    whole = abreast(lambda k: laid(page, recounted(page, k)), whole)
    counts = [counted(k) for k in whole]
    cells = look_closely(page, look_into_cells(page, whole, counts), counts, turn)
    whole, cells = with_foot_marks(page, whole, cells, counts)
    around = parted(around, corners, surely)
    around = [without_marks(a, k, *count) for a, k, count in zip(around, cells, counts, strict=True)]
    every = zip(regions, whole, cells, around, named, strict=True)
    ink = ink_of_page(page)
    found = _apart(abreast(lambda parts: _seen(page, ink, turn, *parts), every))
    if not strict:
        return found
    blank = sum(is_blank(s) for s in found)
    return [s for s in found if keep(s) and not (2 * blank > len(found) >= BLANK_PAGE and is_bare(s))]


def recounted(page: Levels, look: Look) -> Look:
    """The same look, or where its lines show two rows instead of three one that leaves the stops to the cells."""
    strings, rows = counted(look)
    between = look.states[:strings, FIRST_ROW + 1].max()
    if rows != 3 or between > 0.5 or not has_two_rows(page, look.corners, strings):
        return look
    states, barre = np.zeros_like(look.states), np.zeros_like(look.barre)
    states[:strings, MUTED : FIRST_ROW + 2] = 1 / (FIRST_ROW + 2 - MUTED)
    states[strings:, 0] = 1
    barre[:, :3] = 1 / 3
    return replace(look, states=states, barre=barre, rows=np.eye(len(look.rows))[2])


def laid(page: Levels, look: Look) -> Look:
    """The same look with its corners where the lines are."""
    found = lay(page, look.corners, *counted(look))
    return replace(look, corners=found.corners, on_ink=found.after)


def _look_again(page: Levels, corners: list[Points], before: list[Look], steady: float = np.inf) -> list[Look]:
    """Look anew at those that turned out to lie another way, or whose corners the look before moved further."""
    pairs = zip(corners, before, strict=True)
    again = [i for i, (c, k) in enumerate(pairs) if k.moved > steady or not np.array_equal(c, k.corners)]
    out = list(before)
    for i, look in zip(again, look_at(page, [corners[i] for i in again]), strict=True):
        out[i] = look
    return out


def is_diagram(look: Look) -> bool:
    """Whether a find is worth a second look; one that lies the wrong way up cannot tell yet."""
    return look.way[0] < 0.5 or 1 - float(look.kind[2]) > LEAST_DIAGRAM


def is_sure(region: Region, look: Look, least: float = 0.0) -> bool:
    """Whether a find is so surely a diagram that what it covers is no lettering of another one.

    Parameters
    ----------
    least : longer side, page pixels, below which it must be found clearly: a framed label looks like a small grid
    """
    if region.confidence < CLEARLY_FOUND and max(side_lengths(region.corners)) < least:
        return False
    return surety(region, look) >= SURE_DIAGRAM


def usual_side(regions: list[Region]) -> float:
    """The usual longer side of what is clearly found on a page, pixels; 0 where nothing is."""
    clear = [max(side_lengths(r.corners)) for r in regions if r.confidence > CLEARLY_FOUND]
    return float(np.median(clear)) if clear else 0.0


def surety(region: Region, look: Look) -> float:
    """How sure the finder and the look together are of a diagram, 0 to 1."""
    return region.confidence * (1 - float(look.kind[2]))


def keep(seen: Seen) -> bool:
    """Whether it is a diagram: not something else, and not an empty grid without a label."""
    if float(seen.look.kind[2]) > 1 - LEAST_DIAGRAM:
        return False
    return float(seen.look.kind[1]) < 0.5 or bool(seen.lettering.label[0])


def is_blank(seen: Seen) -> bool:
    """Whether it is a grid left for the pupil to fill."""
    return float(seen.look.kind[1]) >= 0.5 and not seen.lettering.label[0]


def is_bare(seen: Seen) -> bool:
    """Whether nothing but a speck is drawn on a grid and no label stands clearly beside it."""
    states, (label, p) = seen.look.states.argmax(1), seen.lettering.label
    bare = bool(np.isin(states, (0, OPEN_BARE)).all()) or float(seen.look.kind[1]) > SPECK
    return bare and (not label or p < SURE_LABEL)


def counted(look: Look) -> tuple[int, int]:
    """Strings and rows of a diagram."""
    return count_strings(look)[0], count_rows(look, 1)[0]


def _seen(
    page: Levels, ink: PageInk, turn: int, region: Region, whole: Look, look: Look, around: Lettering, names: NoteNames
) -> Seen:
    spread = float(np.abs(whole.states - look.states).sum(1).max() / 2)
    h, w = page.pixels.shape[:2]
    edge = 0.004 * max(h, w)
    cut = bool((look.corners < -edge).any() or (look.corners > [w + edge, h + edge]).any())
    strength = ink.around(look.corners)
    astray = corner_on_page(look.corners, turn) in UNUSUAL_ENDS
    return Seen(region, look, around, spread, count_ink(page, look), strength, ink.usual, cut, names, astray)


def _apart(found: list[Seen]) -> list[Seen]:
    """Of finds that turned out to be one diagram keep the surest."""
    best = keep_best([Region(s.look.corners, surety(s.region, s.look)) for s in found])
    chosen = [r.corners for r in best]
    return [s for s in found if any(s.look.corners is c for c in chosen)]
