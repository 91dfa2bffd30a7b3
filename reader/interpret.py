"""The bridge: what was seen on a page becomes readings with names, evidence, confidence and flags."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reader.confidence import DEFAULT_ACCEPT_ERROR, judge
from reader.flags import Case, find_flags
from reader.frames import Option, count_rows, count_strings, first_fret_odds, options
from reader.image.crops import side_lengths
from reader.image.labels import Lettering
from reader.image.marks import Look
from reader.image.regions import Region
from reader.music.chord import Chord
from reader.music.frame import Frame
from reader.music.judging import judge as judge_label
from reader.music.label import parse_label
from reader.music.label_style import NoteNames
from reader.music.naming import name_shape
from reader.music.page_tuning import PageTuning, choose_tuning
from reader.music.shape import Shape
from reader.music.tuning import Tuning, get_tuning
from reader.reading import Alternative, Reading

LABEL_ODDS = 6.0
"""How much likelier a frame is that agrees with its label than one that does not (fitted by eye, on drawn pages)."""
LABEL_SURE = 0.3
"""Labels read with less certainty do not take part in a decision."""


@dataclass(frozen=True, slots=True)
class ReadSettings:
    """What the user may ask of a reading.

    Parameters
    ----------
    tuning : id or text of a tuning; None: chosen page by page
    note_names : how labels name notes
    accept_error : share of wrong shapes among accepted ones that is aimed at
    """

    tuning: str | None = None
    note_names: NoteNames = "english"
    accept_error: float = DEFAULT_ACCEPT_ERROR


@dataclass(frozen=True, slots=True)
class Seen:
    """All that the eyes report of one diagram.

    Parameters
    ----------
    spread : float
        Largest difference between the looks in what a string does, 0 to 1.
    ink : (strings, rows) ink around each place for a stop, beyond the lines
    cut : bool
        Whether the grid runs off the page.
    """

    region: Region
    look: Look
    lettering: Lettering
    spread: float
    ink: NDArray[np.float64]
    cut: bool = False


@dataclass(frozen=True, slots=True)
class _Draft:
    """One diagram on the way: its options and its label."""

    seen: Seen
    options: list[Option]
    label: str | None
    label_p: float

    @property
    def strings(self) -> int:
        return self.options[0].frame.string_count


def interpret(
    seen: list[Seen], settings: ReadSettings, elsewhere: list[tuple[Shape, str | None]] | None = None
) -> list[Reading]:
    """Readings of the diagrams of one page, in the order given.

    Parameters
    ----------
    seen : one per diagram
    elsewhere : shapes and labels of other pages of the file
    """
    drafts = [_draft(s) for s in seen]
    tunings = _tunings(drafts, settings, elsewhere or [])
    settled = _page_settles_first_fret(drafts, tunings)
    return [_reading(d, tunings[d.strings], settled, settings) for d in drafts]


def _draft(seen: Seen) -> _Draft:
    text, p = seen.lettering.label
    return _Draft(seen, options(seen.look, seen.lettering), text or None, p)


def _tunings(
    drafts: list[_Draft], settings: ReadSettings, elsewhere: list[tuple[Shape, str | None]]
) -> dict[int, PageTuning]:
    """The tuning for each string count on the page."""
    out: dict[int, PageTuning] = {}
    page = [(d.options[0].frame.shape, d.label if d.label_p >= LABEL_SURE else None) for d in drafts]
    for count in {d.strings for d in drafts}:
        given = settings.tuning
        if given is not None and get_tuning(given).string_count != count:
            given = None
        mine = [item for item in page if item[0].string_count == count]
        others = [item for item in elsewhere if item[0].string_count == count]
        out[count] = choose_tuning(mine, others, given=given, string_count=count, note_names=settings.note_names)
    return out


def verdict_of(frame: Frame, label: str | None, tuning: Tuning, names: NoteNames) -> str:
    """``agrees``, ``differs`` or ``silent`` (no label, or none that can be parsed)."""
    if label is None or frame.string_count != tuning.string_count:
        return "silent"
    chord = parse_label(label, names)
    if not isinstance(chord, Chord):
        return "silent"
    verdict, missing = judge_label(chord, frame.shape, tuning)
    if verdict == "short":
        return "differs" if any(d.number == 3 for d in missing) else "agrees"
    return "agrees" if verdict in ("same", "inversion", "family") else "differs"


def _page_settles_first_fret(drafts: list[_Draft], tunings: dict[int, PageTuning]) -> bool:
    """Whether the labels of the page show that its unnumbered grids start at the nut."""
    agree = differ = 0
    for d in drafts:
        top = d.options[0].frame
        if top.first_fret > 1 or d.label_p < LABEL_SURE:
            continue
        verdict = verdict_of(top, d.label, tunings[d.strings].tuning, "english")
        agree += verdict == "agrees"
        differ += verdict == "differs"
    return agree >= 2 and agree >= 3 * differ


def _ranked(draft: _Draft, tuning: Tuning, names: NoteNames) -> list[tuple[Option, float, str]]:
    """Options with their share of the probability once the label has spoken, best first."""
    rows = []
    for option in draft.options:
        verdict = verdict_of(option.frame, draft.label, tuning, names)
        weight = 1.0
        if verdict != "silent" and draft.label_p >= LABEL_SURE:
            weight = LABEL_ODDS if verdict == "agrees" else 1.0
        rows.append((option, option.probability * weight, verdict))
    total = sum(r[1] for r in rows) + 1e-9
    return sorted(((o, p / total, v) for o, p, v in rows), key=lambda r: -r[1])


def _reading(draft: _Draft, page: PageTuning, settled: bool, settings: ReadSettings) -> Reading:
    tuning = page.tuning
    ranked = _ranked(draft, tuning, settings.note_names)
    best, _, verdict = ranked[0]
    evidence = _evidence(draft, ranked, settled)
    confidence = judge().confidence(evidence)
    found = (
        name_shape(best.frame.shape, tuning, label=draft.label)
        if verdict != "differs"
        else name_shape(best.frame.shape, tuning)
    )
    case = Case(
        frame=best.frame, label=draft.label, label_p=draft.label_p, verdict=verdict, page=page, ranked=ranked,
        evidence=evidence, confidence=confidence, least=judge().least(settings.accept_error), cut=draft.seen.cut,
        looks=draft.seen.look, ink=draft.seen.ink, note_names=settings.note_names,
    )  # fmt: skip
    return Reading(
        corners=tuple((float(x), float(y)) for x, y in draft.seen.look.corners),
        frame=best.frame,
        label=draft.label,
        name=found[0].text if found else None,
        other_names=tuple(n.text for n in found[1:6]),
        tuning=tuning.id,
        confidence=confidence,
        flags=find_flags(case),
        alternatives=_alternatives(ranked),
        evidence=evidence,
    )


def _alternatives(ranked: list[tuple[Option, float, str]]) -> tuple[Alternative, ...]:
    reasons = {
        "agrees": "then it is the chord that the label says",
        "differs": "the label says otherwise",
        "silent": "the ink allows it",
    }
    return tuple(Alternative(o.frame, p, reasons[v]) for o, p, v in ranked[1:6] if p > 0.002)


def _evidence(draft: _Draft, ranked: list[tuple[Option, float, str]], settled: bool) -> dict[str, float]:
    seen, look = draft.seen, draft.seen.look
    best, _, verdict = ranked[0]
    n, strings_p = count_strings(look)
    rows, rows_p = count_rows(look, 1)
    state_p = [float(look.states[s, state]) for s, state in enumerate(best.states)]
    runner_up = ranked[1][0].probability if len(ranked) > 1 else 0.0
    stops, rest = _ink_of(best.frame, seen.ink)
    odds = first_fret_odds(look, seen.lettering, rows)
    moved_p = 1 - float(odds[1])
    seen_first, apart_first = int(look.first.argmax()), int(seen.lettering.numbers.argmax())
    across, _ = side_lengths(look.corners)
    no_number = (
        best.frame.first_fret == 1
        and look.nut < 0.5
        and 0 not in best.frame.frets
        and not settled
        and verdict != "agrees"
    )
    return {
        "shape": float(np.prod(state_p)),
        "weakest": min(state_p),
        "margin": runner_up / max(best.probability, 1e-9),
        "strings": strings_p,
        "rows": rows_p,
        "first": best.first_p,
        "number_unread": seen.lettering.unread,
        "first_disputed": float((seen_first > 1) != (apart_first > 0)),
        "moved_fret": moved_p,
        "diagram": float(look.kind[0]),
        "finder": seen.region.confidence,
        "way": float(look.way[0]),
        "spread": seen.spread,
        "moved": look.moved,
        "label": draft.label_p,
        "label_agrees": float(verdict == "agrees" and draft.label_p >= LABEL_SURE),
        "label_differs": float(verdict == "differs" and draft.label_p >= LABEL_SURE),
        "ink_missing": stops,
        "ink_extra": rest,
        "gap": across / max(n - 1, 1),
        "unnumbered": float(no_number),
        "nut": look.nut,
    }


def _ink_of(frame: Frame, ink: NDArray[np.float64]) -> tuple[float, float]:
    """Least ink at a stop, most ink where none is read."""
    least, most = 1.0, 0.0
    for s in range(min(frame.string_count, ink.shape[0])):
        fret = frame.frets[s]
        row = (fret - frame.first_fret) if fret else None
        for r in range(ink.shape[1]):
            barred = any(b.fret - frame.first_fret == r and b.covers(s, frame.string_count) for b in frame.barres)
            if row == r:
                least = min(least, float(ink[s, r]))
            elif not barred:
                most = max(most, float(ink[s, r]))
    return least, most
