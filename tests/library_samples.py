"""Readings to fill libraries with."""

from __future__ import annotations

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
