"""A tab laid over its picture: numbers on the ink they were read from, lines and bar lines where they run.

The picture is straightened by the corners of the system alone. A sheet that was bent still shows its lines bent: how
far they leave the straight is known where a number was read, and taken as even between these places.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from reader.reading import TabEvent, TabNote, TabReading

if TYPE_CHECKING:
    from reader.image.cutouts import TabPlaces

Floats = NDArray[np.float64]

HALF_WIDTH, HALF_HEIGHT = 0.62, 0.5
"""Of the place of a number, in gaps."""


@dataclass(frozen=True, slots=True)
class Spot:
    """The place of one number: on which line (1 is the top one) of which event, and where that is in the picture."""

    event: int
    string: int
    x: float
    y: float
    note: TabNote | None


@dataclass(frozen=True)
class LaidTab:
    """A tab on the picture of its system.

    Parameters
    ----------
    tab : TabReading
        In page pixels.
    places : TabPlaces
        Of the picture; it may have been cut by other corners than the tab has now.
    """

    tab: TabReading
    places: TabPlaces

    @cached_property
    def corners(self) -> Floats:
        """Ends of the outer lines in the picture: top left, top right, bottom right, bottom left."""
        return self.places.in_picture(np.array(self.tab.corners, float))

    @cached_property
    def event_x(self) -> list[float]:
        """Where each event stands, pixels of the picture."""
        return [self._event_x(event) for event in self.tab.events]

    @cached_property
    def bars(self) -> list[float]:
        """Where each bar line stands."""
        return [self._column(x) for x in self.tab.bar_lines]

    @cached_property
    def bow(self) -> tuple[Floats, Floats]:
        """How far the lines leave the straight: places along the system, and pixels downwards there."""
        (left, _), (right, _), *_ = self.corners
        known = {float(left): 0.0, float(right): 0.0}
        for event in self.tab.events:
            seen = [(*self._seen(n), n.string) for n in event.notes if n.at is not None]
            if seen:
                away = [y - self._straight(string, x) for x, y, string in seen]
                known[float(np.mean([x for x, _, _ in seen]))] = float(np.mean(away))
        xs = sorted(known)
        return np.array(xs), np.array([known[x] for x in xs])

    def line_y(self, string: int, x: float) -> float:
        """Height of a line at a place along the system."""
        return self._straight(string, x) + float(np.interp(x, *self.bow))

    def lines(self) -> list[list[tuple[float, float]]]:
        """Each line from its left end to its right, top line first."""
        xs = self.bow[0]
        return [[(float(x), self.line_y(s, float(x))) for x in xs] for s in range(1, self.tab.line_count + 1)]

    def spots(self) -> list[Spot]:
        """Every place that holds a number or may, event by event, top line first."""
        return [
            self._spot(number, event, string)
            for number, event in enumerate(self.tab.events)
            for string in range(1, self.tab.line_count + 1)
        ]

    def page_x(self, x: float) -> float:
        """The page column of a place along the system; the row where it runs up or down the page."""
        middle = (self.line_y(1, x) + self.line_y(self.tab.line_count, x)) / 2
        return float(self.places.on_page(np.array([[x, middle]]))[0, self.tab.axis])

    def _spot(self, number: int, event: TabEvent, string: int) -> Spot:
        note = next((n for n in event.notes if n.string == string), None)
        if note is not None and note.at is not None:
            return Spot(number, string, *self._seen(note), note)
        x = self.event_x[number]
        return Spot(number, string, x, self.line_y(string, x), note)

    def _seen(self, note: TabNote) -> tuple[float, float]:
        x, y = self.places.in_picture(np.array([note.at], float))[0]
        return float(x), float(y)

    def _event_x(self, event: TabEvent) -> float:
        seen = [self._seen(n)[0] for n in event.notes if n.at is not None]
        return float(np.mean(seen)) if seen else self._column(event.x)

    def _column(self, page_x: float) -> float:
        """The place along the system where its middle line has this page column."""
        a, b, c, d = np.array(self.tab.corners, float)
        start, end = (a + d) / 2, (b + c) / 2
        x = float(self.places.in_picture((start + self.tab.part(page_x) * (end - start))[None])[0, 0])
        # that was the straight middle line: where it is bent a column of the page meets it elsewhere
        return x + (page_x - self.page_x(x)) / ((self.page_x(x + 1) - self.page_x(x)) or 1.0)

    def _straight(self, string: int, x: float) -> float:
        """Height of a line at a place, were the sheet flat."""
        a, b, c, d = self.corners
        down = (string - 1) / max(1, self.tab.line_count - 1)
        (x0, y0), (x1, y1) = a + down * (d - a), b + down * (c - b)
        return float(y0 + (y1 - y0) * (x - x0) / (x1 - x0 or 1.0))


def places_of(cut_by: TabReading) -> TabPlaces:
    """How the kept picture shows the system; it was cut by what was read."""
    from reader.image.cutouts import tab_places

    return tab_places(np.array(cut_by.corners, float), cut_by.line_count)


def path_of(points: Sequence[tuple[float, float]]) -> str:
    """Points as the path of an SVG element."""
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
