"""The bridge: what was seen on a page becomes readings with names, evidence, confidence and flags."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from reader.confidence import DEFAULT_ACCEPT_ERROR, judge
from reader.flags import UNREAD, Case, find_flags
from reader.frames import Option, count_rows, count_strings, options
from reader.image.crops import on_grid, side_lengths
from reader.image.labels import Lettering
from reader.image.marks import FIRST_ROW, Look
from reader.image.regions import Region
from reader.music.chord import Chord
from reader.music.frame import Frame
from reader.music.label import parse_label
from reader.music.label_style import NoteNames
from reader.music.naming import name_shape
from reader.music.page_tuning import PageTuning, choose_tuning
from reader.music.shape import Shape
from reader.music.tuning import get_tuning
from reader.numbers_between import find_between, handed_on, on_one_side, without_number
from reader.page_habits import Glance, told_by_others
from reader.reading import Alternative, Reading
from reader.weighing import LABEL_SURE, Agreement, Weighed, agreement, weigh
from reader.written_fingers import as_the_page_writes

SURE_FIND = 0.5
"""Confidence of the finder from which a find helps to tell how strong the ink of a page is."""
PLACED = 0.8
"""Probability of the first fret from which a diagram takes part in choosing the tuning."""


NO_NUT = 0.2
"""Probability of a nut up to which a grid counts as one without."""
MORE_AGREEING = 2
"""Labels more that must agree once all labels, or all numbers, of a page are taken to stand on one side of grids."""
LEVEL = 0.5
"""Rows from the middle of a stop's within which a word stands level with it."""
SECOND_TUNING = 3
"""Different labelled shapes that must agree under a second tuning, and only there, for a page to have two."""


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
    strength : how strong its ink is against the paper, grey levels
    page_strength : the same of all that stands on the page
    cut : bool
        Whether the grid runs off the page.
    note_names : how its label was read to name notes; None: as the user says
    nut_astray : bool
        Whether the nut lies at the right or at the foot while the page is upright.
    """

    region: Region
    look: Look
    lettering: Lettering
    spread: float
    ink: NDArray[np.float64]
    strength: float
    page_strength: float = 0.0
    cut: bool = False
    note_names: NoteNames | None = None
    nut_astray: bool = False


@dataclass(frozen=True, slots=True)
class _Draft:
    """One diagram on the way: its options, its label and how that names notes."""

    seen: Seen
    options: list[Option]
    label: str | None
    label_p: float
    names: NoteNames

    @property
    def strings(self) -> int:
        return self.options[0].frame.string_count

    @property
    def placed(self) -> bool:
        """Whether it is clear where on the neck it lies: else its label cannot speak for a tuning."""
        return self.options[0].first_p >= PLACED and self.seen.lettering.unread <= UNREAD


def interpret(
    seen: list[Seen], settings: ReadSettings, elsewhere: list[tuple[Shape, str | None]] | None = None
) -> list[Reading]:
    """Readings of the diagrams of one page, in the order given.

    Parameters
    ----------
    seen : one per diagram
    elsewhere : shapes and labels of other pages of the file
    """
    looks, around = as_the_page_writes([s.look for s in seen], [s.lettering for s in seen])
    seen = [replace(s, look=k, lettering=a) for s, k, a in zip(seen, looks, around, strict=True)]
    drafts = [_draft(s, settings.note_names) for s in seen]
    tell = partial(_tunings, settings=settings, elsewhere=elsewhere or [])
    tunings = tell(drafts)
    drafts, tunings = _where_more_agree(drafts, tunings, _labels_on_one_side(drafts, settings), tell)
    left = sum(d.label_p >= LABEL_SURE for d in drafts) - _agreeing(drafts, tunings)
    if left >= MORE_AGREEING:
        drafts, tunings = _where_more_agree(drafts, tunings, _numbers_on_one_side(drafts, settings), tell)
    drafts = _with_numbers_between(drafts, tunings, settings.note_names)
    usual = _usual_strength(seen)
    settled = _page_settles_first_fret(drafts, tunings)
    second = {} if settings.tuning else _second_tunings(drafts, tunings)
    pages = [second.get(i, tunings[d.strings]) for i, d in enumerate(drafts)]
    others = told_by_others([_glance(d) for d in drafts])
    return [
        _reading(d, page, settled, usual, rest, settings.accept_error)
        for d, page, rest in zip(drafts, pages, others, strict=True)
    ]


def _glance(draft: _Draft) -> Glance:
    states = draft.options[0].states
    sure = tuple(float(draft.seen.look.states[s, state]) for s, state in enumerate(states))
    return Glance(states, sure, float(draft.seen.lettering.numbers[0]) < 0.5, draft.label is not None)


def _draft(seen: Seen, names: NoteNames) -> _Draft:
    text, p = seen.lettering.label
    return _Draft(seen, options(seen.look, seen.lettering), text or None, p, seen.note_names or names)


def _labels_on_one_side(drafts: list[_Draft], settings: ReadSettings) -> Iterator[list[_Draft]]:
    """The drafts with all labels on one side of their grids, side by side."""
    for side in range(min((len(d.seen.lettering.labels_beside) for d in drafts), default=0)):
        sided = [(d.seen, *d.seen.lettering.labels_beside[side]) for d in drafts]
        yield [
            _draft(replace(s, lettering=replace(s.lettering, labels=labels, label_places=places)), settings.note_names)
            for s, labels, places in sided
        ]


def _numbers_on_one_side(drafts: list[_Draft], settings: ReadSettings) -> Iterator[list[_Draft]]:
    """The drafts with all numbers on one side of their grids, side by side."""
    for side in range(min((len(d.seen.lettering.one_sided) for d in drafts), default=0)):
        changed = [on_one_side(d.seen.look, d.seen.lettering, side) for d in drafts]
        pairs = zip(drafts, changed, strict=True)
        yield [_draft(replace(d.seen, look=k, lettering=a), settings.note_names) for d, (k, a) in pairs]


def _where_more_agree(
    drafts: list[_Draft],
    tunings: dict[int, PageTuning],
    choices: Iterable[list[_Draft]],
    tell: Callable[[list[_Draft]], dict[int, PageTuning]],
) -> tuple[list[_Draft], dict[int, PageTuning]]:
    """The drafts and tunings, or other choices of them where clearly more labels agree with their dots."""
    found, most = (drafts, tunings), _agreeing(drafts, tunings) + MORE_AGREEING
    for other in choices:
        told = tell(other)
        if (agreeing := _agreeing(other, told)) >= most:
            found, most = (other, told), agreeing + 1
    return found


def _agreeing(drafts: list[_Draft], tunings: dict[int, PageTuning]) -> int:
    """How many drafts sound what their label says."""
    return sum(d.label_p >= LABEL_SURE and _verdict(d, tunings[d.strings]) == "agrees" for d in drafts)


def _with_numbers_between(drafts: list[_Draft], tunings: dict[int, PageTuning], names: NoteNames) -> list[_Draft]:
    """The drafts, a number between two grids given to the other where only then both labels agree with their dots."""
    out = list(drafts)
    for i, k in find_between([d.seen.look for d in drafts], [d.seen.lettering for d in drafts]):
        pair = (out[i], out[k])
        mine, theirs = handed_on(*(d.seen.lettering for d in pair))
        other = (
            _draft(replace(pair[0].seen, lettering=mine, look=without_number(pair[0].seen.look)), names),
            _draft(replace(pair[1].seen, lettering=theirs), names),
        )
        told = all(d.label_p >= LABEL_SURE and tunings[d.strings].certain for d in pair)
        wrong = _verdict(pair[0], tunings[pair[0].strings]) == "differs"
        if told and wrong and {_verdict(d, tunings[d.strings]) for d in other} == {"agrees"}:
            out[i], out[k] = other
    return out


def _tunings(
    drafts: list[_Draft], settings: ReadSettings, elsewhere: list[tuple[Shape, str | None]]
) -> dict[int, PageTuning]:
    """The tuning for each string count on the page."""
    out: dict[int, PageTuning] = {}
    names = _usual_names(drafts)
    page = [
        (d.options[0].frame.shape, d.label if d.label_p >= LABEL_SURE and d.placed and d.names == names else None)
        for d in drafts
    ]
    for count in {d.strings for d in drafts}:
        given = settings.tuning
        if given is not None and get_tuning(given).string_count != count:
            given = None
        mine = [item for item in page if item[0].string_count == count]
        others = [item for item in elsewhere if item[0].string_count == count]
        out[count] = choose_tuning(mine, others, given=given, string_count=count, note_names=names)
    return out


def _usual_names(drafts: list[_Draft]) -> NoteNames:
    """How most labels of a page name notes."""
    counts = Counter(d.names for d in drafts)
    return max(counts, key=lambda n: counts[n]) if counts else "english"


def _second_tunings(drafts: list[_Draft], tunings: dict[int, PageTuning]) -> dict[int, PageTuning]:
    """Another tuning for the drafts whose labels agree under it only: a sheet may serve two instruments."""
    out: dict[int, PageTuning] = {}
    for count, usual in tunings.items():
        apart = {
            i: (d.options[0].frame.shape, d.label)
            for i, d in enumerate(drafts)
            if d.strings == count and d.placed and d.label_p >= LABEL_SURE and _verdict(d, usual) == "differs"
        }
        if len(set(apart.values())) < SECOND_TUNING:
            continue
        other = choose_tuning(list(apart.values()), string_count=count, note_names=_usual_names(drafts))
        if other.tuning.capo:
            continue  # what would agree under a capo are rather fret numbers that were read too low
        agreeing = [i for i in apart if _verdict(drafts[i], other) == "agrees"]
        if len({apart[i] for i in agreeing}) >= SECOND_TUNING and 2 * len(agreeing) >= len(apart):
            out |= dict.fromkeys(agreeing, other)
    return out


def _verdict(draft: _Draft, page: PageTuning) -> Agreement:
    """Whether the likeliest frame of a draft sounds what its label says."""
    top = draft.options[0]
    return agreement(top.frame, draft.label, page.tuning, draft.names, top.bare)


def _page_settles_first_fret(drafts: list[_Draft], tunings: dict[int, PageTuning]) -> bool:
    """Whether the labels of the page show that its grids without nut and number start at the nut all the same."""
    agree = differ = 0
    for d in drafts:
        top = d.options[0].frame
        if top.first_fret > 1 or d.label_p < LABEL_SURE or d.seen.look.nut > NO_NUT:
            continue
        verdict = _verdict(d, tunings[d.strings])
        agree += verdict == "agrees"
        differ += verdict == "differs"
    return agree >= 2 and agree >= 3 * differ


def _reading(
    draft: _Draft, page: PageTuning, settled: bool, usual: float, others: dict[str, float], accept_error: float
) -> Reading:
    tuning = page.tuning
    ranked = weigh(draft.options, draft.seen.lettering.labels, page, draft.names)
    best = ranked[0]
    frame = best.option.frame
    evidence = _evidence(draft, ranked, settled, usual) | others
    confidence = judge().confidence(evidence)
    found = name_shape(frame.shape, tuning, label=best.label if best.verdict != "differs" else None)
    case = Case(
        ranked=ranked, page=page, evidence=evidence, confidence=confidence, least=judge().least(accept_error),
        cut=draft.seen.cut, looks=draft.seen.look, note_names=draft.names,
        apart=(draft.label, draft.options[0].frame),
    )  # fmt: skip
    return Reading(
        corners=tuple((float(x), float(y)) for x, y in draft.seen.look.corners),
        frame=frame,
        label=best.label,
        name=found[0].text if found else None,
        other_names=tuple(n.text for n in found[1:6]),
        tuning=tuning.id,
        confidence=confidence,
        flags=find_flags(case),
        alternatives=_alternatives(ranked),
        evidence=evidence,
        label_at=draft.seen.lettering.label_places.get(best.label or "", ()),
    )


def _alternatives(ranked: list[Weighed]) -> tuple[Alternative, ...]:
    reasons = {
        "agrees": "then it is the chord that the label says",
        "differs": "the label says otherwise",
        "silent": "the ink allows it",
    }
    return tuple(Alternative(w.option.frame, w.share, reasons[w.verdict]) for w in ranked[1:6] if w.share > 0.002)


def _evidence(draft: _Draft, ranked: list[Weighed], settled: bool, usual: float) -> dict[str, float]:
    seen, look = draft.seen, draft.seen.look
    best = ranked[0]
    option = best.option
    n, strings_p = count_strings(look)
    _, rows_p = count_rows(look, 1)
    state_p = [float(look.states[s, state]) for s, state in enumerate(option.states)]
    stops, rest = _ink_of(option.frame, seen.ink)
    apart_first = int(seen.lettering.numbers.argmax())
    across, _ = side_lengths(look.corners)
    no_number = (
        option.frame.first_fret == 1
        and look.nut < 0.5
        and 0 not in option.frame.frets
        and not settled
        and not (best.verdict == "agrees" and _tells_place(best.label, draft.names))
    )
    sure = best.label_p >= LABEL_SURE
    return {
        "shape": float(np.prod(state_p)),
        "weakest": min(state_p),
        "margin": ranked[1].share / max(best.share, 1e-9) if len(ranked) > 1 else 0.0,
        "strings": strings_p,
        "rows": rows_p,
        "first": option.first_p,
        "number_unread": seen.lettering.unread,
        "first_disputed": float((look.first[1] < 0.5) != (apart_first > 0)),
        "diagram": float(look.kind[0]),
        "finder": seen.region.confidence,
        "way": float(look.way[0]),
        "nut_astray": float(seen.nut_astray),
        "spread": seen.spread,
        "moved": look.moved,
        "label": best.label_p,
        "label_agrees": float(best.verdict == "agrees" and sure),
        "label_differs": float(best.verdict == "differs" and sure),
        "ink_missing": stops,
        "ink_extra": rest,
        "gap": across / max(n - 1, 1),
        "unnumbered": float(no_number),
        "nut": look.nut,
        "strength": min(1.0, seen.strength / usual),
        "number_on_nut": look.nut * (option.frame.first_fret > 1),
        "on_ink": look.on_ink,
        "close": look.close,
        "number_on_string": float(1 + _number_on_string(draft, option)),
    }


def _number_on_string(draft: _Draft, option: Option) -> int:
    """The outer string whose stop stands level with a word ``fret`` that has no number, or -1."""
    look, n = draft.seen.look, option.frame.string_count
    for word in draft.seen.lettering.words_alone:
        across, along = on_grid(word[None], look.corners)[0]
        string = 0 if across < 0 else n - 1
        row = option.states[string] - FIRST_ROW
        if row >= 0 and abs(along * count_rows(look, 1)[0] - row - 0.5) < LEVEL:
            return string
    return -1


def _tells_place(label: str | None, names: NoteNames) -> bool:
    """Whether a label can tell where on the neck its shape lies: the same stops elsewhere would be another chord."""
    chord = parse_label(label, names) if label else None
    return isinstance(chord, Chord) and not chord.quality.is_symmetric and chord.quality.written != "dim"


def _usual_strength(seen: list[Seen]) -> float:
    """How strong the ink of the page and of its surest finds is: what shows through from the other side is paler."""
    sure = [s.strength for s in seen if s.region.confidence > SURE_FIND] or [s.strength for s in seen]
    return max(1.0, float(np.percentile(sure, 75)), *(s.page_strength for s in seen)) if sure else 1.0


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
