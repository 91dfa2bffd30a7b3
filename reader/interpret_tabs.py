"""From seen tab systems to readings: tuning, confidence, and the reasons for a person to look."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import permutations

import numpy as np

from reader.errors import NotationError
from reader.image.levels import Levels, Pixels, levels_of
from reader.image.tab_letters import Letters
from reader.image.tabs import SeenEvent, SeenTab, line_gap, read_seen
from reader.lexicon import lexicon
from reader.music.check import check_label
from reader.music.label_style import STYLE_OF_NAMES, NoteNames
from reader.music.naming import best_chord_text
from reader.music.pitch import NoteName
from reader.music.tab import BAR_KINDS, HIGHEST_FRET, BarKind, Group, Note, Tab, group_problem, group_shape, tab_of
from reader.music.tuning import Tuning, default_tuning, get_tuning, tunings_with
from reader.reading import Flag, TabEvent, TabNote, TabReading
from reader.tab_opening import split_time_signature
from reader.tab_ways import levelled, surety, unruled, whichever_way

SURE_NOTE = 0.98
"""Probability below which a number is shown to a person: of 19,228 surer ones on drawn pages 61 were wrong."""
SURE_LINES, SURE_BEYOND = 0.6, 0.4
"""The least sure line of the system, and the surest trace of a line outside it, as the network saw them."""
MISFIT_BELOW = 0.45
"""Share of the lines' course without ink above which the lines may have been followed wrongly."""
EVEN_BELOW = 0.5
"""Unevenness of the lines (``tab_lines.unevenness``) above which the same is feared."""
LETTERS_ABOVE = 0.35
"""Geometric mean of the letters' probabilities above which they settle the tuning."""
USUAL_LINES = (4, 5, 6)
"""With other counts an outermost line without any number may be a ruled line of the paper."""
HARDLY_A_TAB = 2
"""Numbers up to which a person is asked whether a system is one."""
FEWEST_NUMBERS, FEW_NUMBERS, FEW_SURE = 2, 5, 0.7
"""Numbers that a system has at least; with so few it must be read this surely, or it is a staff, a table or lyrics. On
530 drawn pages none of 305 systems falls short of this, and 27 of 28 false ones do."""
PARTS_APART, PARTS_ALIGNED = 25.0, 1.2
"""Gaps between two systems side by side, and between their middles, up to which they may be one (judged by hand)."""
SPARSE, SPARSE_BUT_SURE = 0.08, 0.9
"""Numbers to a gap of line below which lines are a staff or ruled paper unless they read as surely as this: of 1,090
systems on ten sets of drawn pages one had as few, of 22 false ones 15."""
THIN, HARDLY_READ, MUCH_UNREAD = 0.25, 0.02, 4
"""The same for systems that read as badly as this, with so much ink unexplained and with more doubts and such ink than
numbers: one of these systems had so few, five false ones."""
BADLY_READ, OFF_COURSE, BEYOND_COURSE = 0.8, 1.0, 0.35
"""Mean probability of its numbers below which a system is words or a table where its lines leave their course by so
many gaps, or are without ink on so much of it: of 1,300 systems on eleven sets of drawn pages none, of 36 false ones
five."""
SAME_GAP = 1.4
"""How far the distances between the lines of two systems of one page may be apart for one to tell that the other, with
as many lines, is a tab too, however few its numbers (judged by hand)."""


def read_tabs(
    pixels: Pixels | Levels, tuning: str | None = None, names: NoteNames = "english", *, across: bool = True
) -> tuple[TabReading, ...]:
    """All tab systems of a page, in reading order, whichever way the page lies.

    Parameters
    ----------
    pixels : (height, width, 3) uint8, RGB
    tuning : str, optional
        What a person said the tuning is; used where it has as many strings as the system has lines.
    names : {'english', 'german', 'solfege'}
        How chord labels name notes.
    across : bool
        Whether systems that run up or down the page are looked for as well.
    """

    def lying(page: Levels) -> tuple[TabReading, ...]:
        return kept([tab_reading(seen, tuning, names) for seen in read_seen(page, lexicon(names).labels)])

    def read(page: Levels) -> tuple[TabReading, ...]:
        return levelled(page, unruled(page, lying(page), lying), lying)

    page = levels_of(pixels)
    return whichever_way(page, read(page), read, across=across)


def is_tab(tab: TabReading) -> bool:
    """Whether enough numbers were read, and surely enough, for it to be a tab."""
    count = sum(len(event.notes) for event in tab.events)
    return count > FEW_NUMBERS or (count >= FEWEST_NUMBERS and tab.confidence >= FEW_SURE)


def is_sparse(tab: TabReading) -> bool:
    """Whether there are hardly any numbers for the length of its lines: a staff or ruled paper that things cross."""
    numbers = sum(len(event.notes) for event in tab.events)
    length = float(np.hypot(*np.subtract(tab.corners[1], tab.corners[0])))
    density = numbers * line_gap(tab.corners, tab.line_count) / max(1.0, length)
    if density < SPARSE:
        return tab.confidence < SPARSE_BUT_SURE
    unexplained, doubts = (tab.evidence.get(name, 0.0) for name in ("unexplained", "doubts"))
    unread = unexplained >= MUCH_UNREAD and doubts + unexplained >= numbers
    return density < THIN and tab.confidence < HARDLY_READ and unread


def is_astray(tab: TabReading) -> bool:
    """Whether lines that hardly are lines run through what hardly reads as numbers."""
    if not tab.events or surety((tab,)) >= BADLY_READ:
        return False
    return tab.evidence.get("lines_uneven", 0.0) > OFF_COURSE or tab.evidence.get("line_misfit", 0.0) > BEYOND_COURSE


def kept(found: list[TabReading]) -> tuple[TabReading, ...]:
    """The tabs among what was found on a page: a short one may be told by another with the same lines.

    Where two have the same lines, one beside the other, they may be parts of one, of which a piece was not seen.
    """
    found = [tab for tab in found if not is_sparse(tab) and not is_astray(tab)]
    sure = [tab for tab in found if is_tab(tab)]
    tabs = [tab for tab in found if is_tab(tab) or _is_alike(tab, sure)]
    parts = {id(tab) for pair in permutations(tabs, 2) if _goes_on(*pair) for tab in pair}
    asked = Flag("tab-lines", "The lines may go on between this system and the one beside it: look for more numbers.")
    return tuple(replace(tab, flags=(*tab.flags, asked)) if id(tab) in parts else tab for tab in tabs)


def _goes_on(tab: TabReading, other: TabReading) -> bool:
    """Whether another system begins to the right of one, about where its lines would come to lie."""
    left, right = np.array(tab.corners), np.array(other.corners)
    gap = line_gap(tab.corners, tab.line_count)
    (ax, ay), (bx, by) = left[[0, 3]].mean(0), left[[1, 2]].mean(0)
    cx, cy = right[[0, 3]].mean(0)
    if cx < bx - gap or cx > bx + PARTS_APART * gap or bx <= ax:
        return False
    return bool(abs(by + (cx - bx) * (by - ay) / (bx - ax) - cy) < PARTS_ALIGNED * gap)


def _is_alike(tab: TabReading, others: list[TabReading]) -> bool:
    """Whether a system of few numbers has the lines of another one on its page."""
    alike = [line_gap(o.corners, o.line_count) for o in others if o.line_count == tab.line_count]
    gap = line_gap(tab.corners, tab.line_count)
    near = [other for other in alike if gap / SAME_GAP < other < gap * SAME_GAP]
    return bool(near) and sum(len(event.notes) for event in tab.events) >= FEWEST_NUMBERS


def tab_reading(seen: SeenTab, tuning: str | None = None, names: NoteNames = "english") -> TabReading:
    """The reading of a system that was seen.

    Parameters
    ----------
    seen : SeenTab
    tuning : str, optional
        As given by a person.
    names : {'english', 'german', 'solfege'}
        How chord labels name notes.
    """
    settled = settle_tuning(seen.line_count, tuning, seen.letters)
    seen, time = split_time_signature(seen)
    events = tuple(_event(e) for e in seen.events)
    flags = (
        *_few_flags(events), *_time_flags(time), *_bar_flags(seen), *_ink_flags(seen), *_note_flags(seen),
        *_hand_flags(seen, settled), *_label_flags(seen, settled, names),
    )  # fmt: skip
    return TabReading(
        corners=seen.corners,
        line_count=seen.line_count,
        events=events,
        bar_lines=tuple(x for x, _ in seen.bars),
        tuning="" if settled is None else settled.id,
        confidence=confidence(seen),
        flags=flags,
        bar_kinds=tuple(kind for _, kind in seen.bars),
        evidence=dict(seen.evidence),
    )


def settle_tuning(lines: int, given: str | None, letters: Letters = ()) -> Tuning | None:
    """The tuning of a system: what was said, else what its letters say, else the usual one for so many lines."""
    if given is not None:
        try:
            said = get_tuning(given)
        except NotationError:
            said = None
        if said is not None and said.string_count == lines:
            return said
    lettered = tuning_of_letters(letters) if len(letters) == lines else None
    if lettered is not None:
        return lettered
    try:
        return default_tuning(lines)
    except NotationError:
        return None


def tuning_of_letters(letters: Letters) -> Tuning | None:
    """The listed tuning whose open strings the letters name best, or None where none fits well enough."""
    best, most = None, LETTERS_ABOVE
    for tuning in tunings_with(len(letters)):
        names = (pitch % 12 for pitch in reversed(tuning.pitches))
        shares = [_named(pitch_class, of) for pitch_class, of in zip(names, letters, strict=True)]
        fit = float(np.exp(np.mean(np.log(np.maximum(shares, 0.02)))))
        if fit > most:
            best, most = tuning, fit
    return best


def _named(pitch_class: int, letters: dict[str, float]) -> float:
    return sum(p for name, p in letters.items() if NoteName.parse(name).pitch_class == pitch_class)


def confidence(seen: SeenTab) -> float:
    """Probability that every number of a system is right."""
    notes = [n.confidence for e in seen.events for n in e.notes]
    sure = float(np.prod(np.clip(notes, 1e-3, 1.0))) if notes else 0.5
    e = seen.evidence
    lines = min(1.0, e.get("lines_seen", 1.0) * 1.25) * (1 - max(0.0, e.get("lines_beyond", 0.0) - 0.2))
    left_over = 0.8 ** (e.get("doubts", 0.0) + e.get("outside_numbers", 0.0)) * 0.7 ** e.get("unexplained", 0.0)
    return float(np.clip(sure * lines * left_over, 0.0, 1.0))


def _event(event: SeenEvent) -> TabEvent:
    notes = tuple(TabNote(n.line + 1, n.fret, n.confidence, n.ghost, (n.x, n.y)) for n in event.notes)
    return TabEvent(event.x, notes, event.text)


# ---------------------------------------------------------------- flags


def _time_flags(time: str | None) -> Iterator[Flag]:
    if time is not None:
        yield Flag("tab-time", f"{time} at the beginning was taken for the time signature: add it if it is two notes.")


def _few_flags(events: tuple[TabEvent, ...]) -> Iterator[Flag]:
    """A neck lying on its side with marks at its nut looks like a system of two numbers, and may read surely."""
    count = sum(len(event.notes) for event in events)
    if count <= HARDLY_A_TAB:
        yield Flag("tab-few", f"Only {count} numbers stand on these lines: check that it is a tab.")


def _bar_flags(seen: SeenTab) -> Iterator[Flag]:
    guessed = int(seen.evidence.get("guessed_bars", 0.0))
    if guessed:
        yield Flag("tab-bars", f"Upright strokes on all lines were taken for {guessed} bar lines: add any ones.")


def _ink_flags(seen: SeenTab) -> Iterator[Flag]:
    e = seen.evidence
    if e.get("lines_seen", 1.0) < SURE_LINES or e.get("lines_beyond", 0.0) > SURE_BEYOND:
        yield Flag("tab-lines", f"The system may not have {seen.line_count} lines: count them.")
    elif bare := _bare_outer_line(seen):
        yield Flag(
            "tab-lines", f"{seen.line_count} lines were counted, and the {bare} one has no number: count them again."
        )
    if e.get("line_misfit", 0.0) > MISFIT_BELOW or e.get("lines_uneven", 0.0) > EVEN_BELOW:
        yield Flag("tab-lines-faint", "The lines are faint, broken or uneven: check that each number is on its line.")
    if e.get("raised", 0.0) > 0 and all(note.line > 0 for event in seen.events for note in event.notes):
        yield Flag("tab-lines", "The numbers were taken to stand above their lines: check that they do.")
    if e.get("outside_numbers", 0.0) > 0:
        yield Flag("tab-number-outside", "A number seems to stand on a line outside the system.")
    if e.get("doubts", 0.0) > 0:
        yield Flag("tab-number-missed", f"{int(e['doubts'])} faint or odd marks may be numbers that were not read.")
    if e.get("unexplained", 0.0) > 0:
        yield Flag(
            "tab-ink", f"{int(e['unexplained'])} marks on the lines are neither numbers nor signs that were read."
        )


def _bare_outer_line(seen: SeenTab) -> str | None:
    """Which outermost line of an unusual number of lines carries no number at all."""
    used = {note.line for event in seen.events for note in event.notes}
    if seen.line_count in USUAL_LINES or not used:
        return None
    ends = {"top": 0, "bottom": seen.line_count - 1}
    return next((name for name, line in ends.items() if line not in used), None)


def _note_flags(seen: SeenTab) -> Iterator[Flag]:
    for i, event in enumerate(seen.events, 1):
        for note in event.notes:
            if note.confidence < SURE_NOTE:
                said, other = (_written(f) for f in (note.fret, note.second))
                where = f"string {note.line + 1} at group {i}"
                detail = f"The number on {where} was read as {said}; it may be {other} or nothing."
                yield Flag("tab-number-unsure", detail, string=note.line, group=i - 1)


def _written(fret: int | None) -> str:
    return "x" if fret is None else str(fret)


def _hand_flags(seen: SeenTab, tuning: Tuning | None) -> Iterator[Flag]:
    if tuning is None:
        yield Flag("tab-tuning", f"No usual tuning has {seen.line_count} strings: choose one.")
        return
    for i, event in enumerate(seen.events, 1):
        problem = group_problem(seen_group(event), tuning)
        if problem is not None:
            yield Flag("tab-hand", f"Group {i}: {problem}", group=i - 1)


def seen_group(event: SeenEvent) -> Group:
    """Notes struck together, as music."""
    notes = (Note(n.line + 1, n.fret, n.ghost) for n in event.notes if n.fret is None or n.fret <= HIGHEST_FRET)
    return Group(tuple(notes), event.text)


def _label_flags(seen: SeenTab, tuning: Tuning | None, names: NoteNames) -> Iterator[Flag]:
    """Where the chord label above notes struck together disagrees with them."""
    for i, event in enumerate(seen.events if tuning is not None else (), 1):
        if event.label is None or tuning is None:
            continue
        shape = group_shape(seen_group(event), tuning.string_count)
        check = check_label(shape, tuning, event.label, names, most_repairs=0)
        if not check.agrees and check.verdict != "unparsed":
            sounds = best_chord_text(shape, tuning, STYLE_OF_NAMES[names])
            yield Flag(
                "tab-label", f"The label above group {i} says {event.label}; its notes are {sounds}.", group=i - 1
            )


# ---------------------------------------------------------------- music


def as_tab(readings: tuple[TabReading, ...]) -> Tab:
    """Systems read one after the other as one tab; a system without a bar line at its end runs on in the next.

    Raises
    ------
    NotationError
        When there is no system or the systems have different numbers of lines.
    """
    counts = sorted({r.line_count for r in readings})
    if len(counts) != 1:
        raise NotationError(
            f"The systems have {' and '.join(map(str, counts)) or 'no'} lines: join systems of one kind."
        )
    groups: list[tuple[float, Group]] = []
    bars: list[tuple[float, BarKind]] = []
    for i, reading in enumerate(readings):
        for event in reading.events:
            notes = tuple(Note(n.string, n.fret, n.ghost) for n in event.notes)
            groups.append((_order(i, reading, event.x), Group(notes, event.text)))
        kinds = reading.bar_kinds or ("single",) * len(reading.bar_lines)
        for x, kind in zip(reading.bar_lines, kinds, strict=True):
            bars.append((_order(i, reading, x), _bar_kind(kind)))
    return tab_of(groups, _without_openings(groups, bars), counts[0], readings[0].tuning)


def _order(system: int, reading: TabReading, x: float) -> float:
    """Where something stands in a row of systems: their number and the part of the one that lies before it."""
    return system + 0.05 + 0.9 * min(max(reading.part(x), -0.05), 1.05)


def _bar_kind(text: str) -> BarKind:
    return next((kind for kind in BAR_KINDS if kind == text), "single")


def _without_openings(
    groups: list[tuple[float, Group]], bars: list[tuple[float, BarKind]]
) -> list[tuple[float, BarKind]]:
    """Bar lines less the plain ones at the left end of a system, where the one before already ended with one."""
    out: list[tuple[float, BarKind]] = []
    for place, kind in sorted(bars):
        empty = bool(out) and not any(out[-1][0] < g <= place for g, _ in groups)
        if not (empty and kind == "single"):
            out.append((place, kind))
    return out
