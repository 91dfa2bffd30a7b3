"""CSV (RFC 4180): one line per shape, for spreadsheets; `parse_csv` reads it back.

Spreadsheets take ``0003`` for the number three, so the column `frets` says it with spaces as well, and that is the
column that is read back.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass

from reader.errors import InputError
from reader.export import Exported
from reader.export.titles import count_of, open_flags, place
from reader.library.collection import Collected, Collection
from reader.library.entry import COUNTED, State
from reader.music.frame import Barre, Finger, Frame
from reader.music.shape import Shape

COLUMNS = (
    *("shape", "tuning", "name", "other_names", "label", "state", "confidence", "flags", "reasons"),
    *("frets", "fingers", "first_fret", "fret_count", "barres"),
    *("highest_fret", "stretch", "difficulty", "sightings", "seen_on"),
)
NEEDED = ("frets", "tuning")
"""Columns without which a line says no shape; all others may be missing when a file is read back."""


@dataclass(frozen=True, slots=True)
class ShapeLine:
    """One line read back."""

    frame: Frame
    tuning: str
    label: str | None
    state: State


def to_csv(collection: Collection) -> Exported:
    """A collection as CSV, with a line of column names first."""
    out = io.StringIO()
    table = csv.DictWriter(out, COLUMNS, lineterminator="\r\n")
    table.writeheader()
    table.writerows(_row(collected) for collected in collection.entries)
    notes = ["one line stands for all sightings of a shape; corners and readings are in the JSON."]
    if collection.tabs:
        notes.append(f"{count_of(len(collection.tabs), 'tab')} left out: a tab is no single shape.")
    return Exported({"index.csv": out.getvalue().encode("utf-8")}, tuple(notes))


def _row(collected: Collected) -> dict[str, object]:
    entry, frame = collected.entry, collected.entry.frame
    difficulty = entry.facts.difficulty
    return {
        "shape": str(entry.shape),
        "tuning": entry.tuning,
        "name": entry.name or "",
        "other_names": "; ".join(entry.other_names),
        "label": entry.label or "",
        "state": entry.state,
        "confidence": f"{entry.confidence:.4f}",
        "flags": " ".join(entry.flags),
        "reasons": " ".join(flag.detail for flag in open_flags(collected)),
        "frets": " ".join("x" if f is None else str(f) for f in frame.frets),
        "fingers": " ".join("-" if f is None else str(f) for f in frame.fingers),
        "first_fret": frame.first_fret,
        "fret_count": frame.fret_count,
        "barres": " ".join(f"{b.fret}:{b.from_string}-{b.to_string}" for b in frame.barres),
        "highest_fret": entry.facts.highest_fret,
        "stretch": entry.facts.stretch,
        "difficulty": "" if difficulty is None else f"{difficulty:.2f}",
        "sightings": entry.sighting_count,
        "seen_on": "; ".join(dict.fromkeys(p for s in collected.sightings if (p := place(s.source, s.page)))),
    }


# ---------------------------------------------------------------- and back


def parse_csv(text: str, origin: str) -> list[ShapeLine]:
    """The shapes of a CSV file; columns may come in any order and all but `NEEDED` may be missing.

    Raises
    ------
    InputError
        Naming the line that cannot be understood.
    """
    table = csv.DictReader(io.StringIO(text.removeprefix("\ufeff"), newline=None))
    try:
        missing = [name for name in NEEDED if name not in (table.fieldnames or ())]
        if missing:
            names = " and no column ".join(missing)
            raise InputError(f"{origin} has no column {names}: name the columns in its first line.")
        return [_parse_row({k: (v or "").strip() for k, v in row.items() if isinstance(k, str)}) for row in table]
    except (ValueError, csv.Error) as error:
        raise InputError(f"Line {table.line_num} of {origin} cannot be understood: {error}") from None


def _parse_row(row: dict[str, str]) -> ShapeLine:
    frets = Shape.parse(row["frets"]).frets
    fingers = tuple(_parse_finger(f) for f in row.get("fingers", "").split()) or (None,) * len(frets)
    highest = max((f or 0 for f in frets), default=0)
    first = int(row.get("first_fret") or 1)
    frame = Frame(
        frets,
        fingers,
        fret_count=int(row.get("fret_count") or max(4, highest - first + 1)),
        first_fret=first,
        barres=tuple(_parse_barre(b) for b in row.get("barres", "").split()),
    )
    state = row.get("state") or "confirmed"
    known = next((s for s in COUNTED if s == state), None)
    if known is None:
        raise ValueError(f"'{state}' is no state: use one of {', '.join(COUNTED)}.")
    return ShapeLine(frame, row["tuning"], row.get("label") or None, known)


def _parse_finger(text: str) -> Finger:
    if text in ("-", "T"):
        return None if text == "-" else "T"
    return int(text)


def _parse_barre(text: str) -> Barre:
    fret, _, strings = text.partition(":")
    first, _, last = strings.partition("-")
    return Barre(int(fret), int(first), int(last))
