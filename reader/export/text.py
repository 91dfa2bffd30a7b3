"""Plain text: every shape drawn in letters, every tab as lines of numbers.

Bb  3211  ukulele           names, frets, tuning
  ═══════                   a double line for the nut; o above it for open, x for muted
  │ │ 1 1                   a finger where one is drawn, else a circle
  │ 2 │ │
  3 │ │ │
"""

from __future__ import annotations

from collections.abc import Iterator

from reader.errors import ExportError, NotationError
from reader.export import Exported
from reader.export.tab_text import to_tab_text
from reader.export.titles import open_flags, place, tab_stem
from reader.interpret_tabs import as_tab
from reader.library.collection import Collected, Collection
from reader.music.frame import Frame

STOP, STRING, OPEN, MUTED = "●", "│", "o", "x"
NUT, FRET_LINE = "═", "─"
_ABOVE = {0: OPEN, None: MUTED}


def to_text(collection: Collection) -> Exported:
    """A collection as plain text in UTF-8."""
    notes: list[str] = []
    blocks = [collection.title] if collection.title else []
    blocks += ["\n".join(_entry(collected)) for collected in collection.entries]
    for tab in collection.tabs:
        try:
            blocks.append(f"{tab_stem(tab)}\n{to_tab_text(as_tab((tab.standing.tab,)))}".rstrip())
        except (ExportError, NotationError) as error:
            notes.append(f"left out {tab_stem(tab)}: {error}")
    return Exported({"shapes.txt": ("\n\n".join(blocks) + "\n").encode("utf-8")}, tuple(notes))


def _entry(collected: Collected) -> Iterator[str]:
    entry = collected.entry
    names = " = ".join(name for name in (entry.name, *entry.other_names) if name)
    yield "  ".join(part for part in (names, str(entry.shape), entry.tuning) if part)
    yield from (f"  {line}" for line in draw_frame(entry.frame))
    label = f"written: {entry.label}; " if entry.label and entry.label != entry.name else ""
    yield f"  {label}{entry.state}, confidence {entry.confidence:.2f}"
    yield from (f"  look again: {flag.detail}" for flag in open_flags(collected))
    yield from (f"  seen on {p}" for p in dict.fromkeys(place(s.source, s.page) for s in collected.sightings) if p)


def draw_frame(frame: Frame) -> list[str]:
    """One diagram in letters, a row per fret space.

    Examples
    --------
    >>> from reader.music.frame import Frame
    >>> print("\\n".join(draw_frame(Frame((0, 2, 3, 2), (None, 1, 3, 2), 3))))
    o
    ═══════
    │ │ │ │
    │ 1 │ 2
    │ │ 3 │
    """
    stopped = [f for f in frame.frets if f]
    first = min([frame.first_fret, *stopped])
    last = max([frame.last_fret, *stopped])
    width = 2 * frame.string_count - 1
    above = " ".join(_ABOVE.get(f, " ") for f in frame.frets).rstrip()
    rows = [above] if above else []
    rows.append((NUT if first == 1 else FRET_LINE) * width)
    for fret in range(first, last + 1):
        cells = [_sign(frame, i) if f == fret else STRING for i, f in enumerate(frame.frets)]
        number = f"  fret {fret}" if fret == first and first > 1 else ""
        rows.append(" ".join(cells) + number)
    return rows


def _sign(frame: Frame, index: int) -> str:
    finger = frame.fingers[index]
    return STOP if finger is None else str(finger)
