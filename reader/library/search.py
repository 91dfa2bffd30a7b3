"""Finding entries: criteria as one value, turned into one SELECT."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from reader.errors import NotationError
from reader.library.entry import COUNTED, Entry, State
from reader.library.facts import ChordName, chord_name, facts_of
from reader.library.rows import marks, to_entry
from reader.music.frame import Frame
from reader.music.pitch import NoteName
from reader.music.shape import Shape

Sort = Literal["name", "shape", "fret", "difficulty", "confidence", "seen", "due", "recent"]

_SORTS: dict[Sort, str] = {
    "name": "entry.name IS NULL, entry.name COLLATE NOCASE, entry.lowest_fret, entry.shape, entry.tuning",
    "shape": "entry.strings, entry.shape, entry.tuning",
    "fret": "entry.lowest_fret, entry.highest_fret, entry.shape, entry.tuning",
    "difficulty": "entry.difficulty, entry.lowest_fret, entry.shape, entry.tuning",
    "confidence": "entry.confidence, entry.id",
    "seen": "entry.sightings DESC, entry.id",
    "due": "entry.due DESC, entry.sightings DESC, entry.id",
    "recent": "entry.id DESC",
}


@dataclass(frozen=True, slots=True)
class Query:
    """Which entries; all that is given must hold.

    Parameters
    ----------
    chord : str
        In any spelling: ``Bbm7`` also finds an A# minor seventh, and shapes whose further names include it.
    shape : str
        One-line text, ``0003``.
    notes : tuple of str
        Notes that must sound.
    root, quality : str
        Of the best name: ``Bb``; ``m7`` (empty for major).
    key : str
        ``G``, ``Em``: nothing foreign to this key sounds (a minor key has its raised seventh too).
    tuning : str
        Id, or anything else that names one.
    strings, highest_fret, stretch, fingers, difficulty
        Strings exactly; the others at most.
    open_strings, lowest_fret
        At least.
    barre : bool
    source, words : str
        Part of a file name; words that all stand on the label. Capitals do not matter.
    states : tuple of State
        Rejected ones are left out unless asked for.
    flag : str
        Code of a flag that nobody has settled.
    sort, descending, limit, offset
    """

    chord: str | None = None
    shape: str | None = None
    notes: tuple[str, ...] = ()
    root: str | None = None
    quality: str | None = None
    key: str | None = None
    tuning: str | None = None
    strings: int | None = None
    highest_fret: int | None = None
    lowest_fret: int | None = None
    stretch: int | None = None
    fingers: int | None = None
    difficulty: float | None = None
    open_strings: int | None = None
    barre: bool | None = None
    source: str | None = None
    words: str | None = None
    states: tuple[State, ...] = ()
    flag: str | None = None
    sort: Sort = "name"
    descending: bool = False
    limit: int | None = None
    offset: int = 0


@dataclass(frozen=True, slots=True)
class _Condition:
    """Part of a WHERE, with the values for its question marks."""

    text: str
    values: tuple[Any, ...]


def select_entries(connection: sqlite3.Connection, query: Query) -> list[Entry]:
    """Entries of a query, sorted.

    Raises
    ------
    NotationError
        When a chord, shape, note, key or tuning in the query cannot be understood.
    """
    where = _where(query)
    order = _SORTS[query.sort]
    if query.descending:
        order = ", ".join(
            part.removesuffix(" DESC") + ("" if part.endswith(" DESC") else " DESC") for part in order.split(", ")
        )
    if query.chord is not None:
        order = f"(SELECT min(place) FROM entry_name WHERE entry_id = entry.id AND root = ? AND quality = ?), {order}"
        wanted = _parse_chord(query.chord)
        where = _Condition(where.text, (*where.values, wanted.root, wanted.quality))
    limit = -1 if query.limit is None else query.limit
    rows = connection.execute(
        f"SELECT * FROM entry WHERE {where.text} ORDER BY {order} LIMIT ? OFFSET ?",
        (*where.values, limit, query.offset),
    )
    return [to_entry(row) for row in rows]


def count_entries(connection: sqlite3.Connection, query: Query) -> int:
    """How many entries a query has, its limit aside."""
    where = _where(query)
    (count,) = connection.execute(f"SELECT count(*) FROM entry WHERE {where.text}", where.values).fetchone()
    return int(count)


def _where(query: Query) -> _Condition:
    states = query.states or COUNTED
    conditions = [_Condition(f"entry.state IN ({marks(states)})", states)]
    for field, condition in _CRITERIA.items():
        value = getattr(query, field)
        if value is not None and value != ():
            conditions.append(condition(value))
    return _Condition(" AND ".join(c.text for c in conditions), tuple(value for c in conditions for value in c.values))


# ---------------------------------------------------------------- one criterion each


def _simple(text: str) -> Callable[[Any], _Condition]:
    return lambda value: _Condition(text, (int(value) if isinstance(value, bool) else value,))


def _chord(text: str) -> _Condition:
    wanted = _parse_chord(text)
    return _Condition(
        "entry.id IN (SELECT entry_id FROM entry_name WHERE root = ? AND quality = ?)", (wanted.root, wanted.quality)
    )


def _parse_chord(text: str) -> ChordName:
    name = chord_name(text)
    if name is None:
        raise NotationError(f"'{text}' is not a chord: write it as on a song sheet, as in Am, F#m7 or Bbmaj7.")
    return name


def _notes(names: tuple[str, ...]) -> _Condition:
    wanted = sum({1 << NoteName.parse(name).pitch_class for name in names})
    return _Condition("entry.pitch_set & ? = ?", (wanted, wanted))


def _root(name: str) -> _Condition:
    return _Condition(
        "entry.id IN (SELECT entry_id FROM entry_name WHERE place = 0 AND root = ?)",
        (NoteName.parse(name).pitch_class,),
    )


def _quality(text: str) -> _Condition:
    suffix = _parse_chord(f"C{text}").quality
    return _Condition("entry.id IN (SELECT entry_id FROM entry_name WHERE place = 0 AND quality = ?)", (suffix,))


def _key(text: str) -> _Condition:
    return _Condition("entry.pitch_set != 0 AND entry.pitch_set & ~? = 0", (key_pitch_set(text),))


def key_pitch_set(text: str) -> int:
    """Twelve bits for the notes of a key: the major scale, or the minor scale with its raised seventh.

    Raises
    ------
    NotationError
        When the text names no key.

    Examples
    --------
    >>> f"{key_pitch_set('C'):012b}"
    '101010110101'
    """
    key = chord_name(text)
    steps = {"": (0, 2, 4, 5, 7, 9, 11), "m": (0, 2, 3, 5, 7, 8, 10, 11)}
    if key is None or key.quality not in steps:
        raise NotationError(f"'{text}' is not a key: write G for G major, Em for E minor.")
    return sum(1 << (key.root + step) % 12 for step in steps[key.quality])


def _tuning(text: str) -> _Condition:
    from reader.music.tuning import get_tuning

    return _Condition("entry.tuning = ?", (get_tuning(text).id,))


def _words(text: str) -> _Condition:
    words = text.casefold().split()
    return _Condition(" AND ".join(["instr(entry.labels, ?)"] * len(words)) or "1", tuple(words))


_CRITERIA: dict[str, Callable[[Any], _Condition]] = {
    "chord": _chord,
    "shape": lambda text: _Condition("entry.shape = ?", (str(Shape.parse(text)),)),
    "notes": _notes,
    "root": _root,
    "quality": _quality,
    "key": _key,
    "tuning": _tuning,
    "strings": _simple("entry.strings = ?"),
    "highest_fret": _simple("entry.highest_fret <= ?"),
    "lowest_fret": _simple("entry.lowest_fret >= ?"),
    "stretch": _simple("entry.stretch <= ?"),
    "fingers": _simple("entry.fingers <= ?"),
    "difficulty": _simple("entry.difficulty <= ?"),
    "open_strings": _simple("entry.open_strings >= ?"),
    "barre": _simple("entry.barre = ?"),
    "source": lambda text: _Condition("instr(entry.sources, ?)", (text.casefold(),)),
    "words": _words,
    "flag": lambda code: _Condition("instr(entry.flags, ?)", (f" {code} ",)),
}


# ---------------------------------------------------------------- similar shapes


@dataclass(frozen=True, slots=True)
class Similar:
    """Neighbours of an entry in its own tuning.

    Parameters
    ----------
    same_chord : tuple of Entry
        The same pitch classes elsewhere on the neck, lowest first.
    one_finger : tuple of Entry
        Shapes reached by placing, lifting or moving one finger; a finger that lies across strings moves as one.
    """

    same_chord: tuple[Entry, ...]
    one_finger: tuple[Entry, ...]


def find_similar(connection: sqlite3.Connection, frame: Frame, tuning: str) -> Similar:
    """Neighbours of a frame among the entries that are not rejected."""
    text = str(frame.shape)
    rows = connection.execute(
        "SELECT id, shape, pitch_set FROM entry WHERE tuning = ? AND shape != ? AND strings = ? "
        f"AND state IN ({marks(COUNTED)})",
        (tuning, text, frame.string_count, *COUNTED),
    ).fetchall()
    sounds = facts_of(frame, tuning).pitch_set
    here = text.split("-") if "-" in text else text
    # Only few are neighbours: making entries of the rest would take far longer than comparing their texts.
    same = _entries_by_fret(connection, [i for i, _, heard in rows if sounds and heard == sounds])
    near = _entries_by_fret(connection, [i for i, shape, _ in rows if _moves(here, shape) == 1])
    return Similar(tuple(same), tuple(e for e in near if one_finger_apart(frame, e.frame)))


def _entries_by_fret(connection: sqlite3.Connection, ids: list[int]) -> list[Entry]:
    query = f"SELECT * FROM entry WHERE id IN ({marks(ids)}) ORDER BY lowest_fret, shape"
    return [to_entry(row) for row in connection.execute(query, ids)]


def one_finger_apart(left: Frame, right: Frame) -> bool:
    """Whether one finger, placed, lifted or moved, leads from one frame to the other.

    Muting or unmuting one string counts as well. Several strings that change together from the same fret
    to the same fret are one finger lying across them, unless different fingers are drawn there.
    """
    changed = [i for i, (a, b) in enumerate(zip(left.frets, right.frets, strict=True)) if a != b]
    moves = {(left.frets[i], right.frets[i]) for i in changed}
    return len(moves) == 1 and all(_one_finger(frame, changed) for frame in (left, right))


def _one_finger(frame: Frame, strings: list[int]) -> bool:
    return len({frame.fingers[i] for i in strings if frame.frets[i] and frame.fingers[i] is not None}) <= 1


def _moves(here: Sequence[str], there: str) -> int:
    """How many different changes of fret lead from one shape to another, both given as texts."""
    other = there.split("-") if "-" in there else there
    return len({(a, b) for a, b in zip(here, other, strict=True) if a != b})
