"""What an entry sounds, for the formats that are about sound."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from reader.export.titles import listed
from reader.library.collection import Collected, Collection
from reader.library.entry import Entry
from reader.library.facts import fitting_tuning
from reader.music.naming import Name, StringNote, name_shape, notes_of
from reader.music.tuning import Tuning


@dataclass(frozen=True, slots=True)
class Sounding:
    """An entry with its tuning, its names and the spelled note of each string, leftmost first."""

    entry: Entry
    tuning: Tuning
    names: tuple[Name, ...]
    notes: tuple[StringNote | None, ...]


def sounding(entry: Entry) -> Sounding | None:
    """What an entry sounds; None when its tuning is unknown or does not fit, or every string is muted."""
    tuning = fitting_tuning(entry.shape, entry.tuning)
    if tuning is None:
        return None
    names = name_shape(entry.shape, tuning, entry.label)
    return Sounding(entry, tuning, names, notes_of(entry.shape, tuning, names[0])) if names else None


def by_tuning(collection: Collection) -> tuple[dict[str, list[Sounding]], list[str]]:
    """Entries that sound, by tuning in order of appearance; and a note for those that do not."""
    found: dict[str, list[Sounding]] = {}
    silent: list[Collected] = []
    for collected in collection.entries:
        heard = sounding(collected.entry)
        if heard is None:
            silent.append(collected)
        else:
            found.setdefault(heard.tuning.id, []).append(heard)
    return found, [_left_out(silent)] if silent else []


def _left_out(silent: Iterable[Collected]) -> str:
    names = listed(f"{c.entry.shape} ({c.entry.tuning or 'no tuning'})" for c in silent)
    return f"left out, for want of a sound or of a tuning that fits: {names}."
