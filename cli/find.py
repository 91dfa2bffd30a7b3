"""``inkfret find``: shapes of a library by what they are, where they came from and how they stand."""

from __future__ import annotations

import json
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli.console import say
from reader.errors import NotationError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reader.library.entry import Entry, State
    from reader.library.search import Query
    from reader.library.store import Library


class Sort(StrEnum):
    """What to sort by."""

    name = "name"
    shape = "shape"
    fret = "fret"
    difficulty = "difficulty"
    confidence = "confidence"
    seen = "seen"
    recent = "recent"


class StateName(StrEnum):
    """How an entry stands."""

    unchecked = "unchecked"
    accepted = "accepted"
    confirmed = "confirmed"
    corrected = "corrected"
    rejected = "rejected"


def find(
    library: Annotated[Path, typer.Argument(metavar="LIBRARY", help="The library to look in.")],
    chord: Annotated[
        str | None, typer.Option(metavar="CHORD", help="Chord in any spelling: Bb, A#, A minor 7.")
    ] = None,
    shape: Annotated[str | None, typer.Option(metavar="SHAPE", help="Exactly this shape: 0003, x32010.")] = None,
    notes: Annotated[str | None, typer.Option(metavar="NOTES", help="Notes that all sound: 'C E G'.")] = None,
    root: Annotated[str | None, typer.Option(metavar="NOTE", help="Root of the best name.")] = None,
    quality: Annotated[
        str | None, typer.Option(metavar="TEXT", help="Kind of chord after the root: m7; '' for major.")
    ] = None,
    key: Annotated[str | None, typer.Option(metavar="KEY", help="Nothing foreign to this key: G, Em.")] = None,
    tuning: Annotated[str | None, typer.Option(metavar="ID", help="Tuning by id, name or notes.")] = None,
    strings: Annotated[int | None, typer.Option(metavar="N", help="Exactly so many strings.")] = None,
    highest_fret: Annotated[int | None, typer.Option(metavar="N", help="No fret above this one.")] = None,
    lowest_fret: Annotated[int | None, typer.Option(metavar="N", help="No stopped fret below this one.")] = None,
    stretch: Annotated[int | None, typer.Option(metavar="N", help="Stopped frets at most so far apart.")] = None,
    fingers: Annotated[int | None, typer.Option(metavar="N", help="At most so many fingers.")] = None,
    difficulty: Annotated[
        float | None, typer.Option(metavar="X", help="At most this hard: below 1.75 is easy, from 3.25 hard.")
    ] = None,
    open_strings: Annotated[int | None, typer.Option(metavar="N", help="At least so many open strings.")] = None,
    barre: Annotated[
        bool | None, typer.Option("--barre/--no-barre", help="With a finger across several strings, or without.")
    ] = None,
    source: Annotated[str | None, typer.Option(metavar="TEXT", help="Part of the name of the file.")] = None,
    words: Annotated[str | None, typer.Option(metavar="WORDS", help="Words that stand on the label.")] = None,
    state: Annotated[list[StateName] | None, typer.Option(help="How it stands; may be given more than once.")] = None,
    flag: Annotated[str | None, typer.Option(metavar="CODE", help="Code of a flag that nobody has settled.")] = None,
    similar: Annotated[
        str | None, typer.Option(metavar="SHAPE", help="Instead: the same chord elsewhere, and one finger away.")
    ] = None,
    sort: Annotated[Sort, typer.Option(help="Order.")] = Sort.name,
    descending: Annotated[bool, typer.Option("--descending", help="Turn the order round.")] = False,
    limit: Annotated[int, typer.Option(metavar="N", min=1, help="Show at most so many.")] = 200,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    sheet: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write the shapes as thumbnails into this PDF.")
    ] = None,
) -> None:
    """Find shapes in a library; everything that is given must hold."""
    from reader.library.search import Query
    from reader.library.store import Library

    states: tuple[State, ...] = tuple(s.value for s in state or ())
    query = Query(
        chord=chord,
        shape=shape,
        notes=tuple((notes or "").split()),
        root=root,
        quality=quality,
        key=key,
        tuning=tuning,
        strings=strings,
        highest_fret=highest_fret,
        lowest_fret=lowest_fret,
        stretch=stretch,
        fingers=fingers,
        difficulty=difficulty,
        open_strings=open_strings,
        barre=barre,
        source=source,
        words=words,
        states=states,
        flag=flag,
        sort=sort.value,
        descending=descending,
        limit=limit,
    )
    with Library.open(library, read_only=True) as opened:
        if similar is not None:
            _show_similar(opened, similar, tuning, as_json)
        elif sheet is not None:
            _write_sheet(opened, query, sheet)
        else:
            _show(opened, query, as_json)


def _show(library: Library, query: Query, as_json: bool) -> None:
    entries = library.entries(query)
    total = library.count(query)
    if as_json:
        print(json.dumps(_to_objects(library, entries), ensure_ascii=False, indent=1))
    else:
        _print_table(library, entries)
    say(f"{total} found." if total <= len(entries) else f"{total} found, the first {len(entries)} shown.")


def _show_similar(library: Library, shape: str, tuning: str | None, as_json: bool) -> None:
    from reader.music.shape import Shape
    from reader.music.tuning import default_tuning, get_tuning

    parsed = Shape.parse(shape)
    chosen = default_tuning(parsed.string_count) if tuning is None else get_tuning(tuning)
    chosen.check_strings(parsed)
    found = library.similar_to(parsed, chosen.id)
    groups = {"same_chord": found.same_chord, "one_finger": found.one_finger}
    if as_json:
        objects = {name: _to_objects(library, entries) for name, entries in groups.items()}
        print(json.dumps(objects, ensure_ascii=False, indent=1))
        return
    for heading, entries in zip(("the same chord elsewhere", "one finger away"), groups.values(), strict=True):
        print(f"{heading}: {len(entries)}")
        _print_table(library, entries)


def _write_sheet(library: Library, query: Query, path: Path) -> None:
    from cli.writing import write_whole
    from reader.export.pictures import to_contact

    if path.suffix.lower() != ".pdf":
        raise NotationError(f"{path} should end in .pdf: the thumbnails are a PDF.")
    collection = library.collect(query, crops=True)
    write_whole(path, next(iter(to_contact(collection).files.values())))
    say(f"{len(collection.entries)} shapes are in {path}.")


def _print_table(library: Library, entries: Sequence[Entry]) -> None:
    places = library.places([e.id for e in entries])
    for entry in entries:
        name, label = entry.name or "-", entry.label or ""
        first, *others = places[entry.id] or [("", 0)]
        seen = f"{first[0]}, page {first[1]}" if first[1] else ""
        more = f" and {len(others)} more" if others else ""
        flags = f"  {' '.join(entry.flags)}" if entry.flags else ""
        line = f"{name:<10} {entry.shape!s:<16} {entry.tuning:<16} {label:<10} {entry.state:<10} {seen}{more}{flags}"
        print(line.rstrip())


def _to_objects(library: Library, entries: Sequence[Entry]) -> list[dict[str, Any]]:
    places = library.places([e.id for e in entries])
    return [_to_object(e, places[e.id]) for e in entries]


def _to_object(entry: Entry, places: list[tuple[str, int]]) -> dict[str, Any]:
    from dataclasses import asdict

    from reader.library.entry import entry_to_object

    facts = asdict(entry.facts)
    pitch_set = facts.pop("pitch_set")
    return {
        "id": entry.id,
        **entry_to_object(entry),
        "sightings": entry.sighting_count,
        "due": entry.due_count,
        "seen_on": [{"source": source, "page": page} for source, page in places],
        **facts,
        "pitch_classes": [n for n in range(12) if pitch_set >> n & 1],
    }
