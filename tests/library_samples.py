"""Readings to fill libraries with."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from reader.errors import InputError
from reader.image.pages import Page
from reader.library.store import Library
from reader.music.frame import Frame
from reader.music.shape import Shape
from reader.reading import Flag, PageReading, Reading, TabEvent, TabNote, TabReading

FAINT = Flag("faint-mark", "The mark on the third string is faint: is it a dot?", string=1, fret=2)


def frame_of(shape: str, **others: object) -> Frame:
    frets = Shape.parse(shape).frets
    return Frame(frets, (None,) * len(frets), fret_count=max(4, *(f or 0 for f in frets)), **others)  # type: ignore[arg-type]


def make_reading(
    shape: str, label: str | None = None, flags: tuple[Flag, ...] = (), confidence: float = 0.99, tuning: str = ""
) -> Reading:
    frame = frame_of(shape)
    return Reading(
        corners=((10.04, 20), (70, 20), (70, 100), (10, 100)),
        frame=frame,
        label=label,
        name=label,
        other_names=(),
        tuning=tuning or {4: "ukulele", 6: "guitar"}[frame.string_count],
        confidence=confidence,
        flags=flags,
    )


def make_tab(*, flags: tuple[Flag, ...] = ()) -> TabReading:
    events = (TabEvent(30.0, (TabNote(1, 3), TabNote(2, 0)), text="h"), TabEvent(60.0, (TabNote(4, None, 0.7),)))
    return TabReading(((5, 5), (95, 5), (95, 45), (5, 45)), 4, events, (90.0,), "ukulele", 0.97, flags)


def make_page(
    *diagrams: Reading, number: int = 1, source: str = "sheet.png", tabs: tuple[TabReading, ...] = ()
) -> PageReading:
    return PageReading(source, number, 800, 600, diagrams, tabs)


def read_by_colour(page: Page) -> PageReading:
    """A stand-in for the reader of pages: the colour of the first pixel says what happens.

    (n, n, n) gives the shape 000n; (255, 0, 0) is a page that cannot be used, (0, 255, 0) meets a fault,
    (0, 0, 255) ends the process.
    """
    colour = tuple(int(v) for v in page.pixels[0, 0])
    if colour == (255, 0, 0):
        raise InputError(f"page {page.number} of {page.source}: too coarse. Scan it again.")
    if colour == (0, 0, 255):
        os._exit(9)
    fret = {(n, n, n): n for n in range(10)}[colour]
    reading = make_reading(f"000{fret}", flags=(FAINT,) if fret > 5 else ())
    return replace(make_page(reading, number=page.number, source=page.source), width=page.width, height=page.height)


@contextmanager
def filled(path: Path, fill: Callable[[Library], None]) -> Iterator[Library]:
    """A library in a file, filled where nothing is in it yet; says how long that took."""
    with Library.open(path, create=True) as library:
        if not library.pages():
            start = time.perf_counter()
            fill(library)
            print(f"filled in {time.perf_counter() - start:.1f} s ({path.stat().st_size / 1e6:.0f} MB)")
        yield library
