"""Drawings of the shapes of a collection: SVG, PNG, and the contact sheet."""

from __future__ import annotations

from collections.abc import Iterator

from reader.export import Exported
from reader.export.contact import ContactItem, contact_sheet
from reader.export.diagram import FrameStyle, draw_frame
from reader.export.drawing import Drawing
from reader.export.png import to_pngs as draw_pngs
from reader.export.svg import to_svg
from reader.export.titles import count_of, file_stem, heading, open_flags, place
from reader.library.collection import Collected, Collection
from reader.library.facts import fitting_tuning

DPI = 300.0


def to_svgs(collection: Collection, style: FrameStyle | None = None) -> Exported:
    """One SVG file per shape."""
    files = {f"svg/{stem}.svg": to_svg(drawing).encode("utf-8") for stem, drawing in _drawings(collection, style)}
    return Exported(files, _without_tabs(collection))


def to_pngs(collection: Collection, style: FrameStyle | None = None) -> Exported:
    """One PNG file per shape."""
    named = list(_drawings(collection, style))
    pictures = draw_pngs([drawing for _, drawing in named], DPI) if named else []
    files = {f"png/{stem}.png": picture for (stem, _), picture in zip(named, pictures, strict=True)}
    return Exported(files, _without_tabs(collection))


def to_contact(collection: Collection) -> Exported:
    """The contact sheet as PDF: the ink of every shape beside its redrawing."""
    items = [_contact_item(collected) for collected in collection.entries]
    sheet = contact_sheet(items, collection.title or "Contact sheet")
    return Exported({"contact-sheet.pdf": sheet}, _without_tabs(collection))


def _drawings(collection: Collection, style: FrameStyle | None) -> Iterator[tuple[str, Drawing]]:
    for collected in collection.entries:
        entry = collected.entry
        yield (
            file_stem(entry),
            draw_frame(entry.frame, heading(entry), pitches=_pitches(collected), style=style or FrameStyle()),
        )


def _pitches(collected: Collected) -> tuple[int, ...]:
    tuning = fitting_tuning(collected.entry.shape, collected.entry.tuning)
    return () if tuning is None else tuning.pitches


def _contact_item(collected: Collected) -> ContactItem:
    entry = collected.entry
    places = list(dict.fromkeys(p for s in collected.sightings if (p := place(s.source, s.page))))
    more = f" and {count_of(len(places) - 1, 'more place')}" if len(places) > 1 else ""
    return ContactItem(
        frame=entry.frame,
        name=heading(entry),
        flags=tuple(flag.detail for flag in open_flags(collected)),
        state="to review" if entry.state == "unchecked" else entry.state,
        source=f"{places[0]}{more}" if places else "",
        crop=collected.crop,
        pitches=_pitches(collected),
    )


def _without_tabs(collection: Collection) -> tuple[str, ...]:
    if not collection.tabs:
        return ()
    return (f"{count_of(len(collection.tabs), 'tab')} not drawn: see the text and MusicXML exports.",)
