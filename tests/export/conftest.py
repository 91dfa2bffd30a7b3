"""A collection with one of everything, for the exporters."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from library_samples import FAINT, frame_of, make_page, make_reading, make_tab

from reader.library.collection import Collection
from reader.library.store import Library
from reader.music.frame import Barre, Frame
from reader.reading import Reading

PLAIN = {
    "0003": "C",
    "2000": "Am",
    "0000": "Am7",
    "2010": "F",
    "2020": "D7",
    "x32010": "C",
    "0100": None,
    "2120": "F#m",
}
ODD = ("xxxx", "xx0x", "0x7x")


def with_frame(reading: Reading, **changes: object) -> Reading:
    return replace(reading, frame=replace(reading.frame, **changes))  # type: ignore[arg-type]


def sample_readings() -> list[Reading]:
    """Plain shapes, fingers and barres, high windows, shapes that hardly sound, a tuning that does not fit."""
    readings = [make_reading(shape, label) for shape, label in PLAIN.items()]
    readings += [make_reading(shape) for shape in ODD]
    readings.append(with_frame(make_reading("3211", "Bb"), fingers=(3, 2, 1, 1), barres=(Barre(1, 2, 1),)))
    readings.append(with_frame(make_reading("8888"), first_fret=8, fret_count=4, barres=(Barre(8, 4, 1),)))
    high = with_frame(make_reading("x-10-12-12-11-x", "Gm"), first_fret=10, fret_count=4)
    readings.append(with_frame(high, fingers=(None, 1, 3, 4, 2, None)))
    readings.append(with_frame(make_reading("2x0232", "D/F#"), fingers=("T", None, None, 1, 3, 2)))
    readings.append(make_reading("0212", "G7", tuning="kazoo"))
    return readings


@pytest.fixture(scope="session")
def collection(tmp_path_factory: pytest.TempPathFactory) -> Collection:
    with Library.open(tmp_path_factory.mktemp("exports") / "studio.inkfret", create=True) as library:
        library.add_page(make_page(*sample_readings(), tabs=(make_tab(),)), "a" * 64)
        page = make_page(make_reading("4442", "E", (FAINT,), 0.5), source="term 1/b.pdf", number=3)
        library.add_page(page, "b" * 64)
        corrected = library.sightings()[0]
        library.settle(corrected.id, "mara", frame=frame_of("0002"), label="Cmaj7")
        return library.collect(title="Larkspur Lane Studio", crops=True)


@pytest.fixture
def collect_frames(tmp_path: Path) -> Callable[[list[tuple[Frame, str]]], Collection]:
    """A collection of these frames and tunings."""

    def collect(frames: list[tuple[Frame, str]]) -> Collection:
        path = tmp_path / "frames.inkfret"
        path.unlink(missing_ok=True)
        readings = [replace(make_reading(str(f.shape), tuning=t), frame=f) for f, t in frames]
        with Library.open(path, create=True) as library:
            library.add_page(make_page(*readings), "c" * 64)
            return library.collect()

    return collect
