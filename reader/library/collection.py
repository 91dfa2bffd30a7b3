"""All that leaves a library at once, as one value: what the exporters are given."""

from __future__ import annotations

from dataclasses import dataclass, field

from reader.library.entry import Entry, PageRecord, Sighting, TabRecord


@dataclass(frozen=True, slots=True)
class Collected:
    """One entry with its sightings, page by page, rejected ones left out.

    Parameters
    ----------
    entry : Entry
    sightings : tuple of Sighting
    crop : bytes
        The kept picture of its most trusted sighting that has one; empty when none was asked for or kept.
    """

    entry: Entry
    sightings: tuple[Sighting, ...] = ()
    crop: bytes = field(default=b"", repr=False)

    @property
    def best(self) -> Sighting | None:
        """The sighting that the frame of the entry was taken from."""
        frame = self.entry.frame
        return next((s for s in self.sightings if s.standing.frame == frame), None)


@dataclass(frozen=True, slots=True)
class Collection:
    """Entries of a library, and the pages and tabs that they came with.

    Parameters
    ----------
    title : str
        Stands at the top of sheets and scores.
    entries : tuple of Collected
    pages : tuple of PageRecord
        On which something of this was seen.
    tabs : tuple of TabRecord
        Rejected ones left out.
    """

    title: str
    entries: tuple[Collected, ...] = ()
    pages: tuple[PageRecord, ...] = ()
    tabs: tuple[TabRecord, ...] = ()

    @property
    def sightings(self) -> list[Sighting]:
        """All sightings in reading order."""
        found = [s for collected in self.entries for s in collected.sightings]
        return sorted(found, key=lambda s: (s.page_id or 0, s.number, s.id))
