"""How shapes, tabs and places are called in files that leave the library."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import PurePath

from reader.library.collection import Collected
from reader.library.entry import Entry, TabRecord
from reader.music.chord import Chord
from reader.music.label import parse_label
from reader.music.label_style import LabelStyle, chord_text
from reader.music.tuning import Tuning
from reader.reading import Flag

_PRINTED = LabelStyle(real_accidentals=True)
_SPELLED_OUT = (("#", "-sharp"), ("♯", "-sharp"), ("♭", "-flat"), ("/", "-over-"), ("+", "-plus"), ("°", "-dim"))


def heading(entry: Entry) -> str:
    """What to print above a diagram: its name, else its label, with real sharp and flat signs; else its shape."""
    return printed(entry.name or entry.label or "") or str(entry.shape)


def printed(name: str) -> str:
    """A chord name with ♯ and ♭; anything else as it is.

    Examples
    --------
    >>> printed("F#maj7"), printed("Bb/D"), printed("E (one note)")
    ('F♯maj7', 'B♭/D', 'E (one note)')
    """
    chord = parse_label(name)
    return chord_text(chord, _PRINTED) if isinstance(chord, Chord) else name


def file_stem(entry: Entry) -> str:
    """A file name for an entry, unique within a library: only letters, digits, dashes and underscores.

    Examples
    --------
    ``ukulele_0003_C``, ``guitar_x02210_Am``
    """
    return "_".join(p for p in (_plain(entry.tuning), str(entry.shape), _plain(entry.name or "")) if p)


def tab_stem(tab: TabRecord) -> str:
    """A file name for a tab: where it was seen."""
    return f"{_plain(PurePath(tab.source).stem)}-page-{tab.page}-tab-{tab.number}"


def _plain(text: str) -> str:
    for sign, words in _SPELLED_OUT:
        text = text.replace(sign, words)
    return re.sub(r"[^\w-]+", "-", text, flags=re.ASCII).strip("-")


def place(source: str, page: int) -> str:
    """A page as people say it; empty where there is none.

    Examples
    --------
    >>> place("scans/sheet.pdf", 3)
    'sheet.pdf, page 3'
    """
    return f"{PurePath(source).name}, page {page}" if source else ""


def open_flags(collected: Collected) -> list[Flag]:
    """Flags of the sightings that nobody has settled, each once."""
    return list(dict.fromkeys(f for s in collected.sightings if not s.settled for f in s.reading.flags))


def string_names(tuning: Tuning) -> list[str]:
    """The notes of the open strings, leftmost first, without octaves.

    Examples
    --------
    >>> from reader.music.tuning import get_tuning
    >>> string_names(get_tuning("ukulele"))
    ['G', 'C', 'E', 'A']
    """
    from reader.export.tab_musicxml import spelled

    return [str(spelled(p).name) for p in tuning.pitches]


def count_of(number: int, one: str, many: str | None = None) -> str:
    """A number with its noun.

    Examples
    --------
    >>> count_of(1, "shape"), count_of(3, "shape"), count_of(2, "entry", "entries")
    ('1 shape', '3 shapes', '2 entries')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def listed(items: Iterable[str], most: int = 5) -> str:
    """Some items as a phrase, the rest counted.

    Examples
    --------
    >>> listed(["a", "b", "c"], most=2)
    'a, b and 1 more'
    """
    found = list(items)
    shown = ", ".join(found[:most])
    return shown if len(found) <= most else f"{shown} and {len(found) - most} more"
