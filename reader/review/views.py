"""Values for the templates: what each page of the desk shows, worked out from the library."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass
from typing import Any

from reader.errors import NotationError
from reader.export.diagram import FrameStyle, describe_frame, draw_frame
from reader.export.svg import to_svg
from reader.library.entry import COUNTED, Sighting
from reader.library.search import Query
from reader.music.chord import Chord
from reader.music.frame import Frame
from reader.music.label import parse_label
from reader.music.naming import name_shape
from reader.music.pitch import NoteName, pitch_of
from reader.music.shapes import shapes_for
from reader.music.tuning import Tuning, get_tuning, tunings_with
from reader.review.desk import Desk, Filter
from reader.review.edits import Draft, fingers_text
from reader.review.laying import cells, lattice_of, redrawing, rings
from reader.review.learning import LEAST_SETTLED
from reader.review.suggestions import Suggestion, draft_of, label_check, place_words, suggest
from reader.review.texts import NOTE_NAMES, Texts

SMALL_WIDTH = 22.0
"""Millimetres of a small redrawing."""
NAMES_SHOWN = 4


# ---------------------------------------------------------------- one reading


@dataclass(frozen=True, slots=True)
class StringHead:
    """One string as a control: what it is and where it is stopped."""

    index: int
    number: int
    note: str
    sign: str
    finger: str
    words: str
    position: int
    highest: int


def reading_view(desk: Desk, sighting: Sighting, wanted: Filter, draft: Draft | None = None) -> dict[str, Any]:
    """Everything about one reading on the desk."""
    draft = draft or draft_of(sighting)
    flags = sighting.reading.flags
    suggestions = suggest(sighting, desk.texts)
    return {
        "sighting": sighting,
        "filter": wanted,
        "reasons": [(number, flag.detail) for number, flag in enumerate(flags, 1)],
        "no_reason": not flags,
        "suggestions": [_suggestion_view(s, n) for n, s in enumerate(suggestions, 1)],
        "page_width": desk.library.page(sighting.page_id).width if sighting.page_id is not None else 0,
        "same_shape": desk.library.entry(sighting.entry_id).sighting_count if sighting.entry_id else 1,
        "progress": progress_view(desk, wanted),
        **drawn_view(desk, sighting, draft),
    }


def drawn_view(desk: Desk, sighting: Sighting, draft: Draft) -> dict[str, Any]:
    """What changes with every edit: the redrawing, its names, and whether the label agrees."""
    spot = desk.pictures.spot(sighting)
    lattice = lattice_of(draft.frame, spot)
    tuning = _fitting(draft)
    check = label_check(draft)
    names = name_shape(draft.frame.shape, tuning, label=draft.label) if tuning is not None else ()
    return {
        "crop": crop_address(sighting),
        "draft": draft,
        "draft_json": json.dumps(draft.to_object()),
        "changed": draft != draft_of(sighting),
        "spot": spot,
        "drawn": redrawing(draft.frame, lattice, tuning.pitches if tuning is not None else ()),
        "cells": cells(lattice),
        "rings": rings(sighting.reading.flags, lattice_of(sighting.reading.frame, spot)),
        "columns": [lattice.cell(s, 0) for s in range(lattice.strings)],
        "foot": lattice.grid.bottom,
        "strings": _string_heads(draft, tuning, desk.texts),
        "names": [n.text for n in names[:NAMES_SHOWN]],
        "fingers": fingers_text(draft.frame),
        "tunings": tunings_with(draft.frame.string_count),
        "label_agrees": None if check is None else check.agrees,
        "label_says": "" if check is None else check.sentence,
        "sound": _sounds(draft, tuning),
    }


def _suggestion_view(suggestion: Suggestion, number: int) -> dict[str, Any]:
    drawing = draw_frame(suggestion.draft.frame, style=_small(suggestion.draft.frame))
    return {
        "number": number,
        "draft": json.dumps(suggestion.draft.to_object()),
        "shape": str(suggestion.draft.frame.shape),
        "name": suggestion.name,
        "change": suggestion.change[:1].upper() + suggestion.change[1:],
        "reasons": suggestion.reasons,
        "svg": to_svg(drawing, "text", f"s{number}"),
    }


def crop_address(sighting: Sighting) -> str:
    """The picture's address; it changes when the corners may have."""
    return f"/crop/{sighting.id}?step={sighting.step}"


def _fitting(draft: Draft) -> Tuning | None:
    tuning = get_tuning(draft.tuning)
    return tuning if tuning.string_count == draft.frame.string_count else None


def _string_heads(draft: Draft, tuning: Tuning | None, texts: Texts) -> list[StringHead]:
    frame = draft.frame
    places: list[int | None] = [None, 0, *range(frame.first_fret, frame.last_fret + 1)]
    heads = []
    for index, fret in enumerate(frame.frets):
        number, finger = frame.string_count - index, frame.fingers[index]
        note = NOTE_NAMES[tuning.pitches[index] % 12] if tuning is not None else ""
        words = texts("string.finger", place=place_words(fret, texts), finger=finger) if finger else ""
        heads.append(
            StringHead(
                index=index,
                number=number,
                note=note,
                sign="×" if fret is None else str(fret),
                finger="" if finger is None else str(finger),
                words=words or place_words(fret, texts),
                position=places.index(fret) if fret in places else len(places) - 1,
                highest=len(places) - 1,
            )
        )
    return heads


def _sounds(draft: Draft, tuning: Tuning | None) -> dict[str, list[int]]:
    """MIDI numbers, low to high: what the dots sound, and what the label says."""
    if tuning is None:
        return {"dots": [], "label": []}
    sounds = {"dots": sorted(p for p in tuning.sounding(draft.frame.shape) if p is not None), "label": []}
    check = label_check(draft)
    repaired = next((r for r in check.repairs if r.kind not in ("label", "tuning")), None) if check else None
    if repaired is not None:
        sounds["label"] = sorted(p for p in tuning.sounding(repaired.shape) if p is not None)
    elif draft.label is not None and isinstance(chord := parse_label(draft.label), Chord):
        usual = shapes_for(chord, tuning, limit=1)
        if usual:
            sounds["label"] = sorted(p for p in tuning.sounding(usual[0].shape) if p is not None)
    return sounds


def pitch_words(midi: int) -> str:
    """A pitch by its name and octave."""
    return str(pitch_of(midi, NoteName.parse(NOTE_NAMES[midi % 12])))


def progress_view(desk: Desk, wanted: Filter) -> dict[str, Any]:
    """How much is left, in all and under the filter."""
    counts = desk.library.state_counts()
    due = counts.get("unchecked", 0)
    total = sum(counts.get(state, 0) for state in COUNTED)
    here = desk.library.count_sightings(wanted.query(states=("unchecked",))) if wanted else due
    return {
        "due": due,
        "here": here,
        "total": total,
        "done": total - due,
        "nudge": desk.telling_since() >= LEAST_SETTLED,
    }


# ---------------------------------------------------------------- many at once


@dataclass(frozen=True, slots=True)
class Card:
    """One sighting among many."""

    sighting: Sighting
    place: int
    crop: str
    svg: str
    words: str
    name: str


def _small(frame: Frame) -> FrameStyle:
    return FrameStyle.for_width(SMALL_WIDTH, frame.string_count, fingers="in")


def card_view(sighting: Sighting, place: int) -> Card:
    """A sighting beside its small redrawing."""
    frame, label = sighting.standing.frame, sighting.standing.label or ""
    drawing = draw_frame(frame, style=_small(frame))
    words = describe_frame(frame, label)
    return Card(
        sighting, place, crop_address(sighting), to_svg(drawing, "text", f"c{sighting.id}"), words, _name_of(sighting)
    )


def _name_of(sighting: Sighting) -> str:
    if sighting.standing.frame == sighting.reading.frame:
        return sighting.reading.name or ""
    try:
        found = name_shape(
            sighting.standing.frame.shape, get_tuning(sighting.standing.tuning), label=sighting.standing.label
        )
    except NotationError:
        return ""
    return found[0].text if found else ""


def shape_query(wanted: Filter) -> Query:
    """Shapes to choose from: those with most readings due first, then those seen most."""
    return Query(source=wanted.source, words=wanted.label, flag=wanted.flag, sort="due")


def flag_choices(desk: Desk) -> list[tuple[str, str, int]]:
    """Flags on unsettled readings: code, title, how many."""
    found: Counter[str] = Counter()
    for codes, count in desk.library.flag_counts(("unchecked", "accepted")).items():
        found.update(dict.fromkeys(codes, count))
    return [(code, flag_title(code, desk.texts), count) for code, count in found.most_common()]


def flag_title(code: str, texts: Texts) -> str:
    """A flag in a few words; a code that is not known yet speaks for itself."""
    return texts.table.get(f"flag.{code}", code.replace("-", " "))


def source_choices(desk: Desk) -> list[tuple[str, str]]:
    """The files: each name as stored, and as short as tells it from the others."""
    sources = list(dict.fromkeys(desk.library.sources()))
    times = Counter(map(file_name, sources))
    return [(s, file_name(s) if times[file_name(s)] == 1 else s) for s in sources]


def file_name(source: str) -> str:
    """A file without the folders it was read from."""
    return source.replace("\\", "/").rpartition("/")[2]
