"""Plain text tab: one row of characters per line, hyphens for the line, numbers where they are played.

    e|-------0---|
    B|-----1-----|
    G|---0-------|
    D|-2---------|
    A|3----------|
    E|-----------|

Each column of numbers is one group; a bar line is ``|``, a double bar ``||``, repeats ``|:`` and ``:|``, the end
``|]``. Signs after a number (``h p / \\ b ~``) stand behind it; brackets mark ghost notes. Reading and writing are
inverse for all that this form can say; a slur cannot be said and is left out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from reader.errors import NotationError
from reader.music.tab import FEWEST_LINES, MOST_LINES, BarKind, Group, Measure, Note, Tab
from reader.music.tuning import get_tuning

SIGNS = "hp/\\b~"
WIDTH = 78
BAR_TEXT: dict[BarKind, str] = {
    "none": "",
    "single": "|",
    "double": "||",
    "final": "|]",
    "repeat-start": "|:",
    "repeat-end": ":|",
    "repeat-both": ":|:",
}
_BARS = {text: kind for kind, text in BAR_TEXT.items() if text}
_CELL = re.compile(r"(\()?(\d{1,2}|[xX])(\))?([hp/\\b~]*)")
_FLAT_OR_SHARP_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


def to_tab_text(tab: Tab, width: int = WIDTH) -> str:
    """A tab as plain text, wrapped between measures where a row grows longer than ``width`` characters."""
    names = line_names(tab)
    widest = max(len(n) for n in names)
    rows = [""] * tab.line_count
    systems: list[list[str]] = []
    for measure in tab.measures:
        piece = _measure_rows(measure, tab.line_count)
        if rows[0] and widest + 1 + len(rows[0]) + len(piece[0]) > width:
            systems.append(rows)
            rows = [""] * tab.line_count
        rows = [r + p for r, p in zip(rows, piece, strict=True)]
    systems.append(rows)
    blocks = ["\n".join(f"{n:<{widest}}|{r}" for n, r in zip(names, rows, strict=True)) for rows in systems]
    return "\n\n".join(blocks) + "\n"


def line_names(tab: Tab) -> list[str]:
    """Letters at the left of each line, top line first; blank when the tuning is not known."""
    if not tab.tuning:
        return [""] * tab.line_count
    tuning = get_tuning(tab.tuning)
    names = [_FLAT_OR_SHARP_NAMES[p % 12] for p in reversed(tuning.pitches)]
    return [n.lower() if i == 0 and names.count(n) > 1 else n for i, n in enumerate(names)]


def _measure_rows(measure: Measure, lines: int) -> list[str]:
    opening, bar = (BAR_TEXT[k] for k in (measure.opening, measure.bar))
    rows = [opening + "-"] * lines
    for group in measure.groups:
        cells = {note.string: _cell(note, group) for note in group.notes}
        wide = max(len(c) for c in cells.values())
        rows = [r + cells.get(i + 1, "").ljust(wide, "-") + "-" for i, r in enumerate(rows)]
    return [r + bar for r in rows]


def _cell(note: Note, group: Group) -> str:
    written = "x" if note.fret is None else str(note.fret)
    signs = "".join(s for s in (group.text or "").split() if s in SIGNS and len(s) == 1)
    first = min(n.string for n in group.notes)
    return (f"({written})" if note.ghost else written) + (signs if note.string == first else "")


# ---------------------------------------------------------------- reading


def parse_tab_text(text: str, tuning: str = "") -> Tab:
    """Read plain text tab.

    Parameters
    ----------
    text : str
        Systems of equally long rows; other rows (words, chord names) between systems are passed over.
    tuning : str, optional
        Id to give the tab.

    Raises
    ------
    NotationError
        When no system is found, or its rows do not fit together, with the row's number.
    """
    systems = list(_systems(text))
    if not systems:
        raise NotationError("No tab was found: rows such as e|--0--2--| are needed, one per string.")
    counts = {len(rows) for _, rows in systems}
    if len(counts) > 1:
        raise NotationError(f"The systems have {' and '.join(map(str, sorted(counts)))} rows: give one tab at a time.")
    measures = [m for i, (number, rows) in enumerate(systems) for m in _system_measures(number, rows, i == 0)]
    return Tab(counts.pop(), tuple(measures), tuning)


def _systems(text: str) -> Iterator[tuple[int, list[str]]]:
    rows: list[str] = []
    start = 0
    for number, line in enumerate([*text.splitlines(), ""], 1):
        found = re.match(r"\s*[A-Ga-g]?[#b]?\d?\|(.*\S)?\s*$", line)
        if found and "-" in line:
            start = start if rows else number
            rows.append(found.group(1) or "")
            continue
        if FEWEST_LINES <= len(rows) <= MOST_LINES:
            yield start, rows
        rows = []


def _system_measures(number: int, rows: list[str], first: bool) -> Iterator[Measure]:
    _check_lengths(number, rows)
    groups: list[Group] = []
    opening: BarKind = "none"
    at = 0
    while at < len(rows[0]):
        bar = _bar_at(rows[0], at)
        cells = [_CELL.match(row, at) for row in rows]
        if bar and first and at == 0:
            opening = bar
        elif bar:
            yield Measure(tuple(groups), bar, opening)
            groups, opening = [], "none"
        elif any(cells):
            groups.append(_group(cells))
        at = at + len(BAR_TEXT[bar]) if bar else max((c.end() for c in cells if c), default=at + 1)
    if groups or opening != "none":
        yield Measure(tuple(groups), "none", opening)


def _check_lengths(number: int, rows: list[str]) -> None:
    for i, row in enumerate(rows):
        if len(row) != len(rows[0]):
            raise NotationError(
                f"Row {number + i} of the tab is {len(row)} characters long and row {number} is {len(rows[0])}: "
                "rows of one system need the same length."
            )


def _bar_at(row: str, at: int) -> BarKind | None:
    for text in sorted(_BARS, key=len, reverse=True):
        if row.startswith(text, at):
            return _BARS[text]
    return None


def _group(cells: list[re.Match[str] | None]) -> Group:
    notes, signs = [], ""
    for i, cell in enumerate(cells):
        if cell:
            fret = None if cell.group(2) in "xX" else int(cell.group(2))
            notes.append(Note(i + 1, fret, ghost=bool(cell.group(1))))
            signs = signs or cell.group(4)
    return Group(tuple(notes), " ".join(signs) or None)
