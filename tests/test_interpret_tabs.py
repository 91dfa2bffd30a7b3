"""From what was seen of a tab to a reading: tuning, flags, and the tab as music."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reader.errors import NotationError
from reader.image.tabs import SeenEvent, SeenNote, SeenTab
from reader.interpret_tabs import as_tab, confidence, is_astray, is_sparse, is_tab, kept, settle_tuning, tab_reading
from reader.music.tab import Group, Note
from reader.reading import PageReading, TabReading, from_object, to_object

CORNERS = ((10.0, 10.0), (210.0, 10.0), (210.0, 60.0), (10.0, 60.0))


def note(line: int, fret: int | None, confidence: float = 0.99, x: float = 50.0) -> SeenNote:
    return SeenNote(line, fret, x, 10.0 + 10 * line, False, confidence, 8)


def seen(*events: SeenEvent, lines: int = 6, **evidence: float) -> SeenTab:
    clean = {"lines_seen": 0.99, "lines_beyond": 0.0, "line_misfit": 0.1}
    return SeenTab(CORNERS, lines, events, ((110.0, "single"), (205.0, "final")), clean | evidence)


PLAIN = (SeenEvent(50.0, (note(0, 3),)), SeenEvent(90.0, (note(1, 12), note(2, None)), "h"))


def test_a_clear_system_needs_no_look() -> None:
    reading = tab_reading(seen(*PLAIN))
    assert reading.accepted
    assert reading.tuning == "guitar"
    assert [(n.string, n.fret) for e in reading.events for n in e.notes] == [(1, 3), (2, 12), (3, None)]
    assert reading.confidence > 0.9


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        (seen(*PLAIN, lines_seen=0.3), "tab-lines"),
        (seen(*PLAIN, lines_beyond=0.8), "tab-lines"),
        (seen(*PLAIN, line_misfit=0.9), "tab-lines-faint"),
        (seen(*PLAIN, doubts=1.0), "tab-number-missed"),
        (seen(*PLAIN, guessed_bars=1.0), "tab-bars"),
        (seen(PLAIN[1]), "tab-few"),
        (seen(*PLAIN, unexplained=2.0), "tab-ink"),
        (seen(*PLAIN, outside_numbers=1.0), "tab-number-outside"),
        (seen(*PLAIN, SeenEvent(120.0, (note(3, 5, 0.4),))), "tab-number-unsure"),
        (seen(*PLAIN, SeenEvent(120.0, (note(0, 1), note(5, 14)))), "tab-hand"),
        (seen(*PLAIN, lines=8), "tab-tuning"),
    ],
)
def test_each_doubt_raises_its_flag(changed: SeenTab, code: str) -> None:
    reading = tab_reading(changed)
    assert code in {f.code for f in reading.flags}
    assert all(f.detail.endswith((".", ":")) for f in reading.flags)


def pair(x: float, upper: SeenNote, lower: SeenNote) -> SeenEvent:
    return SeenEvent(x, (upper, lower))


@pytest.mark.parametrize("lines", [4, 6])
def test_a_time_signature_is_no_pair_of_notes_and_is_asked_about(lines: int) -> None:
    middle = lines // 2
    gap = 50.0 / (lines - 1)
    signature = pair(10.0 + 0.9 * gap, note(middle - 1, 6), note(middle, 8))
    reading = tab_reading(seen(signature, *PLAIN, lines=lines))
    assert [e.x for e in reading.events] == [50.0, 90.0]
    assert [f.detail[:3] for f in reading.flags if f.code == "tab-time"] == ["6/8"]


@pytest.mark.parametrize(
    "first",
    [
        pair(45.0, note(1, 6), note(2, 8)),  # not at the beginning
        pair(18.0, note(1, 6), note(2, 7)),  # no such signature
        pair(18.0, note(0, 6), note(1, 8)),  # not about the middle
        pair(18.0, note(0, 4), note(3, 4)),  # on the outer lines
        SeenEvent(18.0, (note(1, 4),)),
        SeenEvent(18.0, (note(1, 4), note(2, 4), note(3, 4))),
    ],
)
def test_notes_at_the_beginning_stay_notes(first: SeenEvent) -> None:
    reading = tab_reading(seen(first, *PLAIN, lines=4))
    assert len(reading.events) == 3
    assert "tab-time" not in {f.code for f in reading.flags}


def test_few_numbers_make_a_tab_only_when_they_are_read_surely() -> None:
    assert is_tab(tab_reading(seen(*PLAIN)))
    assert not is_tab(tab_reading(seen(PLAIN[0]))), "one number"
    assert not is_tab(tab_reading(seen(*PLAIN, doubts=3.0))), "notes on a staff look like doubtful numbers"
    many = [SeenEvent(50.0 + 20 * k, (note(k % 6, k, 0.9),)) for k in range(8)]
    assert is_tab(tab_reading(seen(*many)))


def test_lines_with_hardly_any_numbers_are_a_staff() -> None:
    def system(length: float, **evidence: float) -> TabReading:
        reading = tab_reading(seen(*PLAIN, SeenEvent(150.0, tuple(note(k, 2) for k in range(6))), **evidence))
        (x, y), (_, foot) = CORNERS[0], CORNERS[3]
        long = replace(reading, corners=((x, y), (x + length, y), (x + length, foot), (x, foot)))
        return replace(long, confidence=evidence.get("confidence", long.confidence))

    for length, sure, staff in ((700.0, 0.5, False), (2000.0, 0.5, True), (2000.0, 0.95, False)):
        assert is_sparse(system(length, confidence=sure)) is staff, (length, sure)
    assert is_sparse(system(700.0, confidence=0.01, doubts=4.0, unexplained=6.0))
    assert not is_sparse(system(200.0, confidence=0.01, doubts=4.0, unexplained=6.0)), "a tab that is hard to read"


@pytest.mark.parametrize(
    ("sure", "evidence", "astray"),
    [
        (0.7, {"lines_uneven": 1.2}, True),
        (0.7, {"line_misfit": 0.45}, True),
        (0.7, {"lines_uneven": 0.6, "line_misfit": 0.2}, False),
        (0.95, {"lines_uneven": 1.2, "line_misfit": 0.45}, False),
    ],
)
def test_lines_that_leave_their_course_through_what_hardly_reads_are_no_tab(
    sure: float, evidence: dict[str, float], astray: bool
) -> None:
    events = tuple(SeenEvent(20.0 * i, (note(i % 6, 3, sure),)) for i in range(1, 9))
    reading = tab_reading(seen(*events, **evidence))
    assert is_astray(reading) is astray
    assert kept([reading]) == (() if astray else (reading,))


def test_a_short_system_is_told_by_another_one_with_the_same_lines() -> None:
    short, whole = tab_reading(seen(*PLAIN, doubts=3.0)), tab_reading(seen(*PLAIN))
    assert kept([short]) == ()
    assert kept([short, whole]) == (short, whole)
    assert kept([short, tab_reading(seen(*PLAIN, lines=5))])[0].line_count == 5, "a staff beside a tab"
    large = replace(whole, corners=tuple((2 * x, 2 * y) for x, y in CORNERS))
    assert kept([short, large]) == (large,)


def test_systems_side_by_side_on_the_same_lines_may_be_one() -> None:
    first = tab_reading(seen(*PLAIN))
    for right, down, flagged in ((60, 2, True), (60, 40, False), (900, 2, False)):
        other = replace(first, corners=tuple((x + 200 + right, y + down) for x, y in CORNERS))
        told = {tuple(f.code for f in tab.flags) for tab in kept([first, other])}
        assert told == {("tab-lines",) if flagged else ()}, (right, down)


@pytest.mark.parametrize(
    ("lines", "used", "bare"),
    [
        (8, range(1, 8), "top"),
        (8, range(7), "bottom"),
        (7, range(1, 7), "top"),
        (7, range(7), None),
        (6, range(1, 6), None),  # a usual count: a melody need not use every string
        (4, range(1), None),
    ],
)
def test_a_bare_outermost_line_of_an_unusual_count_is_flagged(lines: int, used: range, bare: str | None) -> None:
    events = [SeenEvent(50.0 + 20 * line, (note(line, 2),)) for line in used]
    details = [f.detail for f in tab_reading(seen(*events, lines=lines)).flags if f.code == "tab-lines"]
    assert details == (
        [f"{lines} lines were counted, and the {bare} one has no number: count them again."] if bare else []
    )


def test_doubts_lower_the_confidence() -> None:
    sure = confidence(seen(*PLAIN))
    for worse in (
        seen(*PLAIN, doubts=2.0),
        seen(*PLAIN, lines_seen=0.4),
        seen(SeenEvent(1.0, (note(0, 3, 0.5),)), *PLAIN),
    ):
        assert confidence(worse) < sure


@pytest.mark.parametrize(
    ("lines", "given", "letters", "wanted"),
    [
        (6, None, None, "guitar"),
        (4, None, None, "ukulele"),
        (4, "ukulele-baritone", None, "ukulele-baritone"),
        (6, "ukulele", None, "guitar"),  # what was said has another number of strings
        (6, None, "EBGDAD", "guitar-drop-d"),
        (6, None, "CCCCCC", "guitar"),  # no such tuning
        (6, None, "AECG", "guitar"),  # letters beside some of the lines only
        (4, None, "AECG", "ukulele"),
        (4, None, "EBGD", "ukulele-baritone"),
    ],
)
def test_the_tuning_is_settled_by_word_then_letters_then_custom(
    lines: int, given: str | None, letters: str | None, wanted: str
) -> None:
    seen_letters = tuple({name: 0.9, "A": 0.05} for name in letters or ())
    settled = settle_tuning(lines, given, seen_letters)
    assert settled is not None
    assert settled.id == wanted


@pytest.mark.parametrize(
    ("label", "frets", "flagged"),
    [
        ("C", (3, 0, 0, 0), False),
        ("Am7", (0, 0, 0, 0), False),
        ("F#m", (3, 0, 0, 0), True),
        ("Cm", (3, 0, 0, 0), True),
        ("qq", (3, 0, 0, 0), False),  # not a label that can be held against anything
        (None, (3, 0, 0, 0), False),
    ],
)
def test_a_label_that_disagrees_is_flagged(label: str | None, frets: tuple[int, ...], flagged: bool) -> None:
    # chords of a ukulele, top line first: common practice, no source
    chord = SeenEvent(50.0, tuple(note(line, fret) for line, fret in enumerate(frets)), label=label)
    flags = [f for f in tab_reading(seen(chord, PLAIN[0], lines=4)).flags if f.code == "tab-label"]
    assert bool(flags) is flagged
    assert all(f.group == 0 and f.detail.startswith(f"The label above group 1 says {label}; ") for f in flags)


def test_the_json_form_keeps_all_of_a_tab() -> None:
    ghost = SeenEvent(150.0, (replace(note(4, 7), ghost=True),))
    page = PageReading("a.png", 1, 300, 100, (), (tab_reading(seen(*PLAIN, ghost, doubts=1.0)),))
    again = from_object(to_object(page))
    assert again.tabs[0].bar_kinds == ("single", "final")
    assert again.tabs[0].events[2].notes[0].ghost
    assert to_object(again) == to_object(page)


def test_systems_go_on_in_the_next() -> None:
    reading = tab_reading(seen(*PLAIN))
    second = replace(reading, bar_lines=(12.0, 205.0), bar_kinds=("single", "single"))
    tab = as_tab((reading, second))
    assert len(tab.groups) == 4
    assert tab.groups[0] == Group((Note(1, 3),))
    assert [m.bar for m in tab.measures] == [
        "single",
        "final",
        "single",
    ]  # the bar line opening the second is no new one
    with pytest.raises(NotationError, match="4 and 6 lines"):
        as_tab((reading, replace(reading, line_count=4)))
