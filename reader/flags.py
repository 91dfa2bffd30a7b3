"""When a person is asked to look, and what the sentence says."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from reader.image.marks import FIRST_ROW, MUTED, OPEN_BARE, OPEN_MARKED, Look
from reader.music.check import check_label
from reader.music.chord import Chord
from reader.music.frame import Frame
from reader.music.judging import judge
from reader.music.label import Unparsed, parse_label
from reader.music.label_style import NoteNames
from reader.music.page_tuning import PageTuning
from reader.music.tuning import DEFAULT_IDS
from reader.reading import Flag
from reader.weighing import Weighed

WIDEST_SPAN = 5
"""Frets between the lowest and the highest stop beyond which no hand reaches (common practice, no source)."""

UNREAD = 0.4
"""Something that stands where a fret number would and cannot be read, from this certainty on."""

BY_CONFIDENCE = ("faint-mark", "two-marks", "unsure")
"""Codes of flags that are raised only for want of confidence."""

SETTLED = 0.95
"""Share from which a label that agrees with one first fret only tells where the grid lies on the neck."""

SURE_LABEL, SURE_DOTS, FEWEST_NOTES = 0.9, 0.98, 3
"""Certainty of the label and of the dots, and notes of the chord, from which a label that agrees with one first fret
and with no other tells it, however the number beside the grid looks; of 74 on nine sets of drawn pages that nothing but
the number held back, the two that were wrong had a label less sure or dots less sure."""

ODD_ONE = 0.3
"""Share of the other diagrams of a page that have as many strings, below which the count is asked about (judged by
hand)."""
PALE = 0.45
"""Strength of ink, as a share of what is usual on the page, below which it may be that of the other side of the paper
(judged by hand)."""

FEWEST_CHECKED, MOSTLY_LABELLED = 4, 0.6
"""Labels of a page, and share of its diagrams that have one, from which it tells something that most labels disagree
with their dots: the page may have been read the wrong way round, and diagrams without label are asked about too (judged
by hand). On a page without labels a few are seen where none are."""

NUMBERED, NO_NUT = 0.33, 0.2
"""Share of the other grids of a labelled page that have numbers, from which one with neither and without a nut (up to
this probability of one) may have lost both."""

NEARLY_ALL = 0.8
"""Share of the labels of a page that agree with their dots, from which it lies the right way up (judged by hand)."""
SURE_SHAPE = 0.98
"""Confidence from which a shape that its label names is believed even where it asks for a fifth finger."""

HARDLY_FOUND = 0.25
"""The finder's confidence below which a find whose label does not agree may be a piece of a staff or a table; of 4,500
accepted diagrams on drawn pages four are so."""

ALL_MARKED = 0.95
"""Share of the strings without a stop that have a mark, from which a page marks all of them."""

WORN, SURE_MARK = 0.06, 0.97
"""Share of the other diagrams' marks that are hard to make out, from which a page is a worn copy; probability of a mark
below which it is asked about there."""

TWO_LOOKS = 0.8
"""How far the looks at the whole and at the cells may be apart on one string (largest difference of probability); of
3,574 accepted diagrams on drawn pages nine are further, among them one of the three that were wrong."""
NOWHERE_WRITTEN = 0.1
"""Probability of the first fret from the drawing, and of something unread where its number would stand, below which
only the label speaks for a place up the neck; of 3,100 accepted diagrams on six sets of drawn pages four are so, and
one of them was wrong: its label named the shape moved to where the number of the grid beside it says."""
LEAST_SHARE = 0.9
"""Share of the probability that the chosen reading must hold among all that the ink allows, whatever the confidence
says: below it two readings stand against each other (judged by hand)."""


@dataclass(frozen=True, slots=True)
class Case:
    """All that the rules look at.

    ``apart`` is the likeliest label, whatever the dots, and the likeliest frame, whatever the label.
    """

    ranked: list[Weighed]
    page: PageTuning
    evidence: dict[str, float]
    confidence: float
    least: float
    cut: bool
    looks: Look
    note_names: NoteNames
    apart: tuple[str | None, Frame]

    @property
    def best(self) -> Weighed:
        """The reading that is given."""
        return self.ranked[0]

    @property
    def frame(self) -> Frame:
        """Its frame."""
        return self.best.option.frame


def find_flags(case: Case) -> tuple[Flag, ...]:
    """Every reason to look again, the weightiest first."""
    found = [flag for rule in RULES for flag in [rule(case)] if flag is not None]
    if not found and (case.confidence < case.least or _share(case) < LEAST_SHARE):
        found = [_weakest_part(case)]
    return tuple(found)


def string_name(index: int, count: int) -> str:
    """How players number it: 'string 4' is the leftmost of four."""
    return f"string {count - index}"


def state_words(state: int, first_fret: int) -> str:
    """What a string does, in words."""
    if state == MUTED:
        return "not played"
    if state in (OPEN_MARKED, OPEN_BARE):
        return "open"
    return f"fret {first_fret + state - FIRST_ROW}"


def _grid_cut(case: Case) -> Flag | None:
    if not case.cut:
        return None
    return Flag("grid-cut", "The grid runs off the edge of the page: check that no string or fret is missing.")


def _weak_grid(case: Case) -> Flag | None:
    e = case.evidence
    if e["strings"] < 0.6:
        counted = f"{case.frame.string_count} strings are counted, but it may be another number"
        return Flag("weak-grid", f"The grid is hard to make out: {counted}.")
    if e["alike"] < ODD_ONE and not e["label_agrees"]:
        counted = f"{case.frame.string_count} strings are counted here, and another number in most diagrams of the page"
        return Flag("weak-grid", f"{counted}: count them.")
    if e["strength"] < PALE and not e["label_agrees"]:
        paler = "Its ink is much paler than the rest of the page"
        return Flag("weak-grid", f"{paler}: check that it does not show through from the other side.")
    if e["diagram"] < 0.5 or (e["finder"] < HARDLY_FOUND and not e["label_agrees"]):
        return Flag("weak-grid", "This may not be a chord diagram at all: check whether it belongs here.")
    return None


def _two_looks(case: Case) -> Flag | None:
    """A grid whose corners were taken wrongly is read from the wrong places, and may read surely there."""
    if case.evidence["spread"] < TWO_LOOKS:
        return None
    return Flag("unsure", "Two looks at this drawing say different things: compare it once with the redrawing.")


def _bent(case: Case) -> Flag | None:
    """A label and a frame that were each read otherwise to fit the other may agree by chance."""
    label, frame = case.apart
    if case.frame.frets == frame.frets:
        return None
    if case.best.label == label:
        return _half_agreed(case, frame)
    return Flag(
        "unsure",
        f"Label and dots were read to fit each other; each alone reads otherwise ('{label or 'no label'}', "
        f"first fret {frame.first_fret}): compare them once with the drawing.",
    )


def _half_agreed(case: Case, frame: Frame) -> Flag | None:
    """Dots that were read otherwise to fit a label which names more notes than they sound may fit it by chance."""
    chord = parse_label(case.best.label or "", case.note_names)
    if frame.first_fret != case.frame.first_fret or not isinstance(chord, Chord) or case.best.verdict != "agrees":
        return None
    if not frame.string_count == case.frame.string_count == case.page.tuning.string_count:
        return None
    if judge(chord, case.frame.shape, case.page.tuning)[0] != "short":
        return None
    at = next(s for s, (a, b) in enumerate(zip(case.frame.frets, frame.frets, strict=True)) if a != b)
    return Flag(
        "two-marks",
        f"Read to fit the label, of which a note is missing: compare {string_name(at, frame.string_count)} once with "
        "the drawing.",
        string=at,
    )


def _way_up(case: Case) -> Flag | None:
    if case.evidence["nut_astray"] and not _is_usual(case.page):
        return Flag(
            "way-up",
            "The nut seems to lie at the right or at the foot: check which end it is, and that the diagram is not "
            "drawn for the left hand, in mirror image.",
        )
    if case.evidence["way"] >= 0.5 or (case.evidence["label_agrees"] and _labels_agree(case.page)):
        return None
    return Flag("way-up", "Which end is the nut is not sure: check that the diagram is not read upside down.")


def _is_usual(page: PageTuning) -> bool:
    """Whether nearly all labels of a page agree with their dots on the usual strings: others may be a mirror image."""
    return _labels_agree(page) and page.tuning.id == DEFAULT_IDS.get(page.tuning.string_count)


def _labels_agree(page: PageTuning) -> bool:
    """Whether nearly all labels of a page agree with their dots, as they would not if it lay another way."""
    agreeing = page.votes[0].agreeing if page.votes else 0
    return page.certain and page.checked >= FEWEST_CHECKED and agreeing >= NEARLY_ALL * page.checked


def _unmarked(case: Case) -> Flag | None:
    """Where every string without a stop has a mark, one that has none may have lost it."""
    bare = [s for s, state in enumerate(case.best.option.states) if state == OPEN_BARE]
    if not bare or case.evidence["marked"] < ALL_MARKED:
        return None
    name = string_name(bare[0], case.frame.string_count)
    return Flag(
        "faint-mark",
        f"On {name} there is neither a stop nor a mark, and this page marks the other strings: check for a lost mark.",
        string=bare[0],
    )


def _worn_mark(case: Case) -> Flag | None:
    """Where a copier has eaten some of the marks over the strings, one that is not quite clear may be another."""
    if case.evidence["worn"] < WORN:
        return None
    for s, state in enumerate(case.best.option.states):
        if state in (MUTED, OPEN_MARKED) and case.looks.states[s, state] < SURE_MARK:
            name, reads = string_name(s, case.frame.string_count), state_words(state, case.frame.first_fret)
            return Flag("faint-mark", f"The marks of this page are worn: on {name} one reads as {reads}.", string=s)
    return None


def _number_on_string(case: Case) -> Flag | None:
    """A fret number that runs into the next grid reads as a stop there."""
    string = int(case.evidence["number_on_string"]) - 1
    if string < 0:
        return None
    name = string_name(string, case.frame.string_count)
    return Flag(
        "two-marks",
        f"'fret' stands beside the grid without a number: what reads as a stop on {name} may be that number.",
        string=string,
        fret=case.frame.frets[string],
    )


def _first_fret(case: Case) -> Flag | None:
    e = case.evidence
    if e["unnumbered"]:
        return Flag(
            "first-fret-unread",
            "No nut and no fret number is drawn and no string is open: check that the first space is fret 1.",
            fret=case.frame.first_fret,
        )
    lost = e["numbered"] > NUMBERED and e["labelled"] > MOSTLY_LABELLED and e["nut"] < NO_NUT
    if lost and case.best.label is None and case.frame.first_fret == 1:
        return Flag(
            "first-fret-unread",
            "No label and no fret number is read here, and this page has both at other grids: check the first fret.",
            fret=case.frame.first_fret,
        )
    if case.frame.first_fret > 1 and max(e["first"], e["number_unread"]) < NOWHERE_WRITTEN:
        return Flag(
            "first-fret-unread",
            f"No fret number is seen beside this grid; only the label says that it begins at {case.frame.first_fret}.",
            fret=case.frame.first_fret,
        )
    settled = case.best.verdict == "agrees" and case.best.share >= SETTLED
    if not settled and not _told_by_label(case) and (e["first"] < 0.6 or e["number_unread"] > UNREAD):
        return Flag(
            "first-fret-unread",
            f"The fret number beside the grid is hard to read: {case.frame.first_fret} is a guess.",
            fret=case.frame.first_fret,
        )
    return None


def _told_by_label(case: Case) -> bool:
    """Whether a sure label agrees with sure dots at this first fret and nowhere else on the neck."""
    e, best = case.evidence, case.best
    if best.verdict != "agrees" or not case.page.certain or e["label"] < SURE_LABEL or e["shape"] < SURE_DOTS:
        return False
    chord = parse_label(best.label or "", case.note_names)
    if not isinstance(chord, Chord) or len(chord.pitch_classes) < FEWEST_NOTES:
        return False
    return not any(w.verdict == "agrees" and w.option.frame.first_fret != case.frame.first_fret for w in case.ranked)


def _share(case: Case) -> float:
    """Share of the reading given; the same dots at other first frets are no rivals where the label tells it."""
    if not _told_by_label(case):
        return case.best.share
    return sum(w.share for w in case.ranked if w.option.states == case.best.option.states)


def _nothing_drawn(case: Case) -> Flag | None:
    """A grid left for the pupil to fill looks like a shape with every string open."""
    bare = all(case.best.option.bare) and not any(case.frame.frets)
    if not bare or case.evidence["label_agrees"]:
        return None
    return Flag("nothing-drawn", "No mark is drawn on this grid: check whether it is meant to be empty.")


def _label(case: Case) -> Flag | None:
    label = case.best.label
    if label is None:
        return None
    if isinstance(parse_label(label, case.note_names), Unparsed):
        return Flag("label-unread", f"The label reads like '{label}', which is no chord name: check it.")
    if case.best.verdict == "differs":
        check = check_label(case.frame.shape, case.page.tuning, label, case.note_names)
        if case.best.label_p < 0.5:
            return Flag("label-unread", f"The label is hard to read; as '{label}' it would not match the dots.")
        return Flag("label-disagrees", check.sentence)
    return None


def _span(case: Case) -> Flag | None:
    stops = [f for f in case.frame.frets if f]
    if stops and max(stops) - min(stops) >= WIDEST_SPAN:
        return Flag(
            "wide-span", f"Frets {min(stops)} to {max(stops)} are further apart than a hand reaches: check the dots."
        )
    return None


def _hand(case: Case) -> Flag | None:
    """More separate stops than fingers, however they are barred."""
    frame = case.frame
    barred = {
        s
        for b in frame.barres
        for s in range(frame.string_count)
        if b.covers(s, frame.string_count) and frame.frets[s] == b.fret
    }
    lone = {s: f for s, f in enumerate(frame.frets) if f and s not in barred}
    flat = {b.fret for b in frame.barres} | {min(lone.values(), default=0)}
    # one finger may lie flat over all stops of the lowest fret even where no barre is drawn, and over neighbours
    runs = [s for s, f in lone.items() if f not in flat and lone.get(s - 1) != f]
    needed = len(flat - {0}) + len(runs)
    sure = case.best.verdict == "agrees" and case.confidence >= SURE_SHAPE
    if needed > 4 and not sure:
        return Flag("too-many-fingers", f"The shape needs {needed} fingers: check whether every dot is one.")
    return None


def _fingers(case: Case) -> Flag | None:
    seen: dict[object, int] = {}
    for s, finger in enumerate(case.frame.fingers):
        fret = case.frame.frets[s]
        if finger is None or not fret:
            continue
        if finger != "T" and finger in seen and seen[finger] != fret:
            return Flag(
                "fingers-disagree",
                f"Finger {finger} is written at fret {seen[finger]} and at fret {fret}: one of the two is not right.",
                string=s,
                fret=fret,
            )
        seen[finger] = fret
    return None


def _tuning(case: Case) -> Flag | None:
    if case.page.certain or case.page.checked < 2:
        return None
    agreeing = case.page.votes[0].agreeing if case.page.votes else 0
    told = case.page.checked >= FEWEST_CHECKED and case.evidence["labelled"] > MOSTLY_LABELLED
    mostly_wrong = told and 2 * agreeing < case.page.checked
    if case.best.verdict == "differs" or (case.best.label is None and mostly_wrong):
        return Flag("tuning-uncertain", f"The labels do not settle the tuning: {case.page.tuning.name} is assumed.")
    return None


RULES: tuple[Callable[[Case], Flag | None], ...] = (
    _grid_cut, _weak_grid, _two_looks, _bent, _way_up, _unmarked, _worn_mark, _number_on_string, _first_fret,
    _nothing_drawn, _label, _span, _hand, _fingers, _tuning,
)  # fmt: skip


def _weakest_part(case: Case) -> Flag:
    """Confidence too low without any rule broken: point at the string that is least sure."""
    frame, n = case.frame, case.frame.string_count
    best = case.best.option
    rival = case.ranked[1].option if len(case.ranked) > 1 and case.best.share < LEAST_SHARE else best
    if rival.frame.first_fret != frame.first_fret and rival.states == best.states:
        either = f"fret {frame.first_fret} or fret {rival.frame.first_fret}"
        return Flag(
            "first-fret-unread",
            f"The first space may be {either}: check the number beside the grid.",
            fret=frame.first_fret,
        )
    weakest = min(range(n), key=lambda s: float(case.looks.states[s, best.states[s]]))
    odds = case.looks.states[weakest].copy()
    odds[0] = 0
    order = np.argsort(odds)[::-1]
    reads = state_words(best.states[weakest], frame.first_fret)
    rivals = (int(k) for k in order if int(k) != best.states[weakest])
    other = next((k for k in rivals if state_words(k, frame.first_fret) != reads), MUTED)
    name, fret = string_name(weakest, n), frame.frets[weakest]
    if odds[other] > 0.03:
        may = state_words(other, frame.first_fret)
        code = "faint-mark" if "open" in (reads, may) else "two-marks"
        return Flag(code, f"On {name} the drawing reads as {reads}, but it may be {may}.", string=weakest, fret=fret)
    if case.evidence["ink_extra"] > 0.5:
        return Flag("two-marks", "There is ink on the grid that no mark explains: check for a dot that was missed.")
    return Flag(
        "unsure",
        "The drawing is unlike what reads surely: compare it once with the redrawing.",
        string=weakest,
        fret=fret,
    )
