"""The story of a tab: find systems, follow and straighten their lines, read the strip, gather the evidence.

Returns what was *seen* (lines and numbers in page pixels). Pitches, names and
flags are made in ``reader/interpret_tabs.py``.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from reader.image import tab_bars, tab_close, tab_ink, tab_lines, tab_strip
from reader.image.ctc import Tree
from reader.image.engines import load_engine
from reader.image.levels import Levels, Pixels, levels_of
from reader.image.regions import covered
from reader.image.tab_find import FEWEST_LINES, SAME_ABOVE, Floats, Run, TabRegion, find_regions
from reader.image.tab_labels import read_labels
from reader.image.tab_letters import Letters, read_letters
from reader.image.tab_lines import GAP, MARGIN, Frame

Scores = tuple[Floats, Floats]
"""Raw scores of the strip network: notes (25, blocks, columns) and bars (7, columns)."""
MOST_LINES = 8
END_SEEN, LONGER = 0.8, (8.0, 16.0, 32.0, 64.0)
"""Gaps from the end of a strip within which the end of a system's lines was not seen; gaps by which it is lengthened
then, again and again: of one system seen at a size that does not suit it the finder saw a half."""
TOGETHER_WITHIN = 0.45
"""Gaps along the line within which numbers on different lines were struck together."""
CLEAR = 0.93
"""Clearness above which no other size is tried."""
OTHER_COUNT = 0.6
"""What is left of it where the finder saw another number of lines: ruled paper has lines below a system too."""
DOWN = (-0.5, 0.5)
"""Gaps below the middle of a region at which the lines of others are laid over it."""
MOSTLY_INKED = 0.5
"""Share of the lines' course without ink up to which lines that a system was given from others are its own (judged by
hand)."""
RAISED, READ_SURELY, SURER, NEARLY_ALL = 0.4, 0.95, 0.03, 0.7
"""Gaps above their lines at which numbers are looked for that were written there; mean confidence of the numbers of a
page from which nobody looks; how much higher it must be there, and how many of the numbers must be found (judged on two
drawn pages and the 140 others with tabs at hand)."""
EVEN = 0.3
"""Unevenness of the lines from which it is less; of 1,122 looks at systems a fifth had more."""
FEWEST_OF_CHORD = 3
"""Notes struck together from which a label above can be held against them."""
SHORTEST = 3.0
"""Gaps of line below which nothing is called a system."""
IS_TAB: dict[str, float] = {"finder": 0.65, "inside": 0.92, "lines_seen": 0.82, "numbers": 1.0, "sure": 0.45}
"""Evidence that a tab has at least this much of. Of 201 systems on the proving pages the poorest had 0.87, 0.98, 0.94,
2 and 0.62; wood grain, staves, ruled paper and diagrams on their side mostly lack one of them."""
PLAIN_TAB: dict[str, float] = {"finder": 0.95, "count_vote": 0.9, "lines_seen": 0.85, "numbers": 12.0, "sure": 0.75}
"""Evidence from which doubts do not count: three systems drawn on dotted paper had 0.98, 1, 0.88, 21 and 0.81, both
finds that were none 0.65 and 0.69 for the finder."""
NO_NOTE_BEFORE = 0.1
"""Gaps after the beginning of the lines before which there is no number, only the names of the strings: on 532 drawn
systems the first number of 99 in 100 stood at least 0.9 gaps from it."""
MOST_NUMBERS_PER_GAP, SURELY_READ = 1.6, 0.9
"""More numbers than this to a gap of length are grain or noise, twice as many where they read so surely on average;
a system drawn by hand has 1.54."""


@dataclass(frozen=True, slots=True)
class SeenNote:
    """A number on a line: line 0 is the top one, fret None an x, ``second`` the next likely value."""

    line: int
    fret: int | None
    x: float
    y: float
    ghost: bool
    confidence: float
    second: int | None


@dataclass(frozen=True, slots=True)
class SeenEvent:
    """Notes struck together at ``x``, the signs that follow them, and the chord label read above."""

    x: float
    notes: tuple[SeenNote, ...]
    text: str | None = None
    label: str | None = None


@dataclass(frozen=True, slots=True)
class SeenTab:
    """One tab system as seen.

    Parameters
    ----------
    corners : four (x, y), page pixels
        Top left, top right, bottom right, bottom left, on the lines' centres.
    line_count : int
    events : tuple of SeenEvent
        From left to right.
    bars : tuple of (x, kind)
    evidence : dict of str to float
        What speaks for and against the reading, each 0–1 or a count.
    letters : tuple of dict
        Probability of each note name left of each line, top line first; empty where nothing stands there.
    """

    corners: tuple[tuple[float, float], ...]
    line_count: int
    events: tuple[SeenEvent, ...]
    bars: tuple[tuple[float, str], ...]
    evidence: dict[str, float] = field(default_factory=dict)
    letters: Letters = ()


def line_gap(corners: tuple[tuple[float, float], ...], line_count: int) -> float:
    """Mean distance of the lines of a system between its corners, page pixels."""
    (ax, ay), (bx, by), (cx, cy), (dx, dy) = corners
    return float(np.hypot(dx + cx - ax - bx, dy + cy - ay - by)) / 2 / (line_count - 1)


def find_tabs(pixels: Pixels | Levels, run: Run | None = None) -> list[TabRegion]:
    """Tab systems on a page, in reading order.

    Parameters
    ----------
    pixels : (height, width, 3) uint8, RGB
    run : callable, optional
        The finder network; the installed one by default.
    """
    return find_regions(pixels, run or load_engine("tab-finder").run)


@dataclass(frozen=True, slots=True)
class Cut:
    """One look at a region: its lines followed and its strip read, before any number is looked at closely.

    Parameters
    ----------
    frame : Frame
    fine, strip : uint8 [row, col, 3]
        The strip at ``FINE`` times its size and at its own, dark ink on light paper.
    answer : Answer
        What the strip network says.
    facts : dict of str to float
        Evidence gathered so far.
    spans : list of (start, end)
        Strip columns between which its lines run: one system each.
    raised : bool
        Whether ``fine`` is cut a little higher than the lines, where numbers stand that were written above them.
    """

    frame: Frame
    fine: Pixels
    strip: Pixels
    answer: tab_strip.Answer
    facts: dict[str, float]
    spans: list[tuple[float, float]]
    raised: bool = False

    @property
    def clear(self) -> float:
        """How clearly the lines came out, and in the number that the finder saw, 0–1; 0 when nothing was seen."""
        if self.facts["lines_seen"] < IS_TAB["lines_seen"]:
            return 0.0
        uneven = (tab_lines.unevenness(self.frame, span) for span in self.spans)
        return min((_clear(self.facts | {"lines_uneven": u}) for u in uneven), default=0.0)


@dataclass(frozen=True, slots=True)
class Read:
    """The systems of one region, and the look at it from which they were read."""

    tabs: tuple[SeenTab, ...] = ()
    cut: Cut | None = None

    @property
    def clear(self) -> float:
        """How clearly the lines came out, and in the number that the finder saw, 0–1; 0 when nothing was seen."""
        return min((_clear(s.evidence) for s in self.tabs), default=0.0)


def read_tab(pixels: Pixels, region: TabRegion, labels: Tree | None = None) -> Read:
    """What stands in one region: usually one system, two where two stand side by side, none where it was no tab.

    Where the lines did not come out clearly, the region as seen at other sizes of the page is tried as well.
    With spellings of chord ``labels`` those above chords are read.
    """
    cuts: list[Cut] = []
    for one in (r for r in (region, *region.others) if r.confidence >= IS_TAB["finder"]):
        cuts.append(cut_region(pixels, one))
        if cuts[-1].clear > CLEAR:
            break
    for cut in sorted(cuts, key=lambda c: -c.clear):
        if seen := read_cut(pixels, cut, labels):
            return Read(seen, cut)
    return Read()


def cut_region(pixels: Pixels, region: TabRegion) -> Cut:
    """A region straightened, as far as its lines run."""
    cut = straightened(pixels, region)
    for more in LONGER:
        # the finder may miss a part of a system: its lines then run on to the end of the strip
        longer = lengthened(region, cut, pixels.shape[1], more)
        if longer is None or cut.facts["lines_seen"] < IS_TAB["lines_seen"]:
            break
        region, cut = longer, straightened(pixels, longer)
    return cut


def read_cut(pixels: Pixels, cut: Cut, labels: Tree | None = None) -> tuple[SeenTab, ...]:
    """The systems of a straightened region, without what lacks the evidence of a tab."""
    if cut.clear <= 0:
        return ()
    near = [s for s in cut.answer.spots if any(start - GAP < s.column < end + GAP for start, end in cut.spans)]
    run = load_engine("tab-numbers").run
    numbers, doubts = tab_close.looked_closely(cut.fine, tuple(near), run, on_lines=not cut.raised)
    answer = replace(cut.answer, numbers=numbers, doubts=doubts)
    around = tab_lines.halved(cut.fine) if cut.raised else cut.strip
    tabs = [(gathered(cut.frame, around, answer, span, cut.facts), span) for span in cut.spans]
    kept = [replace(t, letters=read_letters(cut.strip, span[0], t.line_count)) for t, span in tabs if is_tab(t)]
    return tuple(kept if labels is None else (labelled(pixels, cut.frame, t, labels) for t in kept))


def lengthened(region: TabRegion, cut: Cut, page_width: int, gaps: float) -> TabRegion | None:
    """The region with more of the page on the sides where its lines show no end; None where all ends are seen."""
    spans, frame = cut.spans, cut.frame
    if not spans:
        return None
    more, edge = gaps * frame.gap, END_SEEN * tab_lines.GAP
    start, end = region.xs[0], region.xs[-1]
    left = max(0.0, start - more) if spans[0][0] < edge else start
    right = min(page_width - 1.0, end + more) if spans[-1][1] > frame.width - edge else end
    if start - left < frame.gap and right - end < frame.gap:
        return None
    return region.reaching(left, right)


def labelled(pixels: Pixels, frame: Frame, tab: SeenTab, labels: Tree) -> SeenTab:
    """The system with the labels above its chords."""
    chords = [i for i, e in enumerate(tab.events) if sum(n.fret is not None for n in e.notes) >= FEWEST_OF_CHORD]
    places = [float(np.interp(tab.events[i].x, frame.xs, np.arange(frame.width))) for i in chords]
    events = list(tab.events)
    for i, label in zip(chords, read_labels(pixels, frame, places, labels), strict=True):
        events[i] = replace(events[i], label=label)
    return replace(tab, events=tuple(events))


def _clear(e: dict[str, float]) -> float:
    other = OTHER_COUNT if e["count_vote"] < 0.5 else 1.0
    uneven = float(np.clip(e["lines_uneven"] - EVEN, 0, 0.5))
    return e["lines_seen"] * (1 - e["lines_beyond"]) * other * (1 - uneven)


def straightened(pixels: Pixels, region: TabRegion) -> Cut:
    """Follow the lines, cut the strip and ask the networks; once more where lines were seen elsewhere than expected."""
    facts: dict[str, float] = {"finder": region.confidence}
    frame = tab_lines.rough_frame(region, region.line_count)
    ridges = tab_lines.ridge(tab_lines.darkness(upright_ink(tab_lines.cut(pixels, frame), region.line_count)))
    lines, share = tab_lines.count_lines(region, ridges)
    facts["count_share"] = share
    frame = tab_lines.rough_frame(region, lines)
    ruled: list[int] = []
    for attempt in range(3):
        frame, fine = laid_on_lines(pixels, frame, facts)
        strip = tab_lines.halved(fine)
        answer = tab_strip.read_answer(*scores_of(strip))
        own = tab_lines.paper_edge(strip, frame.line_count)
        if ruled:  # what was left out because it is the paper's does not come back
            answer.lines[ruled] = 0.0
        moved = moved_frame(frame, answer.lines) if own is None else kept_lines(frame, *own)
        facts["recuts"] = float(attempt)
        if moved is None or attempt == 2:
            break
        if own is not None:
            ruled = [MARGIN - 1] if own[0] > MARGIN else [-MARGIN]
        frame = moved
    inner = answer.lines[MARGIN : len(answer.lines) - MARGIN]
    outer = np.concatenate([answer.lines[:MARGIN], answer.lines[-MARGIN:]])
    facts["lines_seen"] = float(inner.min())
    facts["lines_beyond"] = float(outer.max())
    facts["count_vote"] = region.count_votes[frame.line_count - FEWEST_LINES]
    return Cut(frame, fine, strip, answer, facts, tab_strip.spans(answer.inside, SHORTEST))


def upright_ink(strip: Pixels, lines: int) -> Pixels:
    """Dark ink on light paper, whatever the page has."""
    return np.asarray(255 - strip, np.uint8) if tab_lines.is_light_on_dark(strip, lines) else strip


def laid_on_lines(pixels: Pixels, frame: Frame, facts: dict[str, float]) -> tuple[Frame, Pixels]:
    """The frame moved onto the lines, and its strip at ``FINE`` times the size, dark ink on light paper."""
    lines = frame.line_count
    strip = tab_lines.cut(pixels, frame)
    dark = tab_lines.is_light_on_dark(strip, lines)
    ridges = tab_lines.ridge(tab_lines.darkness(np.asarray(255 - strip, np.uint8) if dark else strip))
    away = tab_lines.follow(ridges, lines)
    facts["line_misfit"] = tab_lines.misfit(ridges, away)
    frame = tab_lines.refined(frame, away)
    return frame, cut_fine(pixels, frame, dark)


def cut_fine(pixels: Pixels, frame: Frame, dark: bool) -> Pixels:
    """The strip of a frame at ``FINE`` times its size, dark ink on light paper; ``dark``: whether the paper is dark."""
    fine = tab_lines.cut(pixels, frame, tab_lines.FINE)
    return np.asarray(255 - fine, np.uint8) if dark else fine


def scores_of(strip: Pixels) -> Scores:
    """Raw scores of the network: notes (25, blocks, columns) and bars (7, columns)."""
    picture = np.ascontiguousarray(strip.transpose(2, 0, 1)[None], dtype=np.float32)
    out = load_engine("tab-strip").run({"picture": picture})
    return np.asarray(out["notes"][0], np.float64), np.asarray(out["bars"][0, :, 0], np.float64)


def moved_frame(frame: Frame, seen: Floats) -> Frame | None:
    """The frame shifted or resized so that its lines are the ones that the network saw; None when they already are."""
    span = tab_strip.line_span(seen)
    if span is None or span == tab_strip.expected_span(len(seen)):
        return None
    return kept_lines(frame, *span)


def kept_lines(frame: Frame, first: int, last: int) -> Frame | None:
    """The frame whose lines are the blocks from ``first`` to ``last``; None for a number of lines that no tab has."""
    if not FEWEST_LINES <= last - first + 1 <= MOST_LINES:
        return None
    step_up, step_down = frame.offsets[1] - frame.offsets[0], frame.offsets[-1] - frame.offsets[-2]
    offsets = list(frame.offsets[first : last + 1])
    for _ in range(MARGIN):
        offsets = [offsets[0] - step_up, *offsets, offsets[-1] + step_down]
    return replace(frame, offsets=np.stack(offsets))


def gathered(
    frame: Frame, strip: Pixels, answer: tab_strip.Answer, span: tuple[float, float], facts: dict[str, float]
) -> SeenTab:
    """One system from the part of a strip where its lines run."""
    lines = frame.line_count
    start, end = span[0] + NO_NOTE_BEFORE * GAP, span[1] + 0.6 * GAP
    seen = [n for n in answer.numbers if start < n.column < end and not tab_bars.opens(n, span[0])]
    within, bars, guessed = tab_bars.told_apart(seen, [b for b in answer.bars if start < b[0] < end], lines)
    numbers = [n for n in within if MARGIN <= n.block < MARGIN + lines]
    events = as_events(frame, numbers)
    events = with_signs(events, frame, [s for s in answer.signs if start < s[0] < end])
    bar_points = frame.page_points(np.array([b[0] for b in bars]), np.full(len(bars), middle_row(frame)))
    corner_rows = np.array([MARGIN, MARGIN, MARGIN + lines - 1, MARGIN + lines - 1]) * GAP + GAP / 2
    corners = frame.page_points(np.array([span[0], span[1], span[1], span[0]]), corner_rows)
    inside = answer.inside[int(span[0] // 4) : max(int(span[0] // 4) + 1, int(span[1] // 4))]
    evidence = dict(facts)
    evidence |= {
        "inside": float(inside.mean()),
        "lines_uneven": tab_lines.unevenness(frame, span),
        "outside_numbers": float(len(within) - len(numbers)),
        "doubts": float(sum(start < d.column < end and MARGIN <= d.block < MARGIN + lines for d in answer.doubts)),
        "numbers": float(len(numbers)),
        "sure": float(np.mean([n.confidence for n in numbers])) if numbers else 0.0,
        "weakest": min((n.confidence for n in numbers), default=1.0),
        "unexplained": float(tab_ink.unexplained(strip, answer, span, lines)),
        "length": (span[1] - span[0]) / GAP,
        "guessed_bars": float(guessed),
    }
    return SeenTab(
        tuple((float(x), float(y)) for x, y in corners),
        lines,
        tuple(events),
        tuple((float(p[0]), b[1]) for p, b in zip(bar_points, bars, strict=True)),
        evidence,
    )


def middle_row(frame: Frame) -> float:
    """Strip row half-way between the outer lines."""
    return (MARGIN + (frame.line_count - 1) / 2) * GAP + GAP / 2


def as_events(frame: Frame, numbers: list[tab_strip.Number]) -> list[SeenEvent]:
    """Numbers grouped into events: those close together on different lines were struck together."""
    groups: list[list[tab_strip.Number]] = []
    for number in sorted(numbers, key=lambda n: n.column):
        if groups and belongs(number, groups[-1]):
            groups[-1].append(number)
        else:
            groups.append([number])
    out = []
    for group in groups:
        ordered = sorted(group, key=lambda n: n.block)
        points = frame.page_points(
            np.array([n.column for n in ordered]), np.array([n.block * GAP + GAP / 2 for n in ordered], np.float64)
        )
        notes = tuple(
            SeenNote(n.block - MARGIN, n.fret, float(p[0]), float(p[1]), n.ghost, n.confidence, n.second)
            for n, p in zip(ordered, points, strict=True)
        )
        out.append(SeenEvent(float(points[:, 0].mean()), notes))
    return out


def belongs(number: tab_strip.Number, group: list[tab_strip.Number]) -> bool:
    """Whether a number is struck together with a group: near its middle, and its line still free."""
    if any(n.block == number.block for n in group):
        return False
    middle = float(np.mean([n.column for n in group]))
    return abs(number.column - middle) < TOGETHER_WITHIN * GAP


def with_signs(events: list[SeenEvent], frame: Frame, signs: list[tuple[float, int, str]]) -> list[SeenEvent]:
    """Each sign as text on the event that it follows on its line."""
    texts: dict[int, list[str]] = {}
    for column, block, kind in signs:
        x = float(frame.page_points(np.array([column]), np.array([block * GAP + GAP / 2]))[0, 0])
        before = [i for i, e in enumerate(events) if e.x < x and any(n.line == block - MARGIN for n in e.notes)]
        if before and x - events[before[-1]].x < 8 * frame.gap:
            texts.setdefault(before[-1], []).append(kind)
    return [replace(e, text=" ".join(texts[i]) if i in texts else None) for i, e in enumerate(events)]


def is_tab(seen: SeenTab) -> bool:
    """Whether the evidence is that of a tab; where there are more doubts than numbers it is words on their side.

    Of 420 systems on 440 drawn pages none had more, and both finds that were no systems did. Dotted paper leaves a
    doubt at every dot: a system that is plainly seen stays one.
    """
    e = seen.evidence
    most = MOST_NUMBERS_PER_GAP * e["length"] * (2 if e["sure"] > SURELY_READ else 1)
    plain = all(e.get(k, 0.0) >= least for k, least in PLAIN_TAB.items())
    doubtful = e["doubts"] > e["numbers"] and not plain
    return all(e[k] >= least for k, least in IS_TAB.items()) and not doubtful and e["numbers"] <= most


def read_seen(pixels: Pixels | Levels, labels: Tree | None = None) -> tuple[SeenTab, ...]:
    """All tab systems of a page as seen, in reading order; labels above chords where their spellings are given.

    A system whose lines do not come out is tried with the number of lines and the gap of those that do.
    """
    page = levels_of(pixels)
    regions = find_tabs(page)
    read: list[Read] = []
    for region in regions:
        # one that was found in pieces is read whole, as far as its lines run, from the first of them
        clear = _clear_ones(read)
        known = any(covered(np.array(region.corners), np.array(tab.corners)) > SAME_ABOVE for tab in clear)
        read.append(Read() if known else read_tab(page.pixels, region, labels=labels))
    model = usual_lines(_clear_ones(read))
    if model is not None:
        for i, region in enumerate(regions):
            if read[i].clear <= CLEAR and region.confidence >= IS_TAB["finder"]:
                cut = ruled_cut(page.pixels, region, *model)
                better = cut.clear > read[i].clear and cut.facts["line_misfit"] < MOSTLY_INKED
                again = read_cut(page.pixels, cut, labels) if better else ()
                read[i] = Read(again, cut) if again else read[i]
    return once([tab for one in as_written(page.pixels, read, labels) for tab in one.tabs])


def _clear_ones(read: list[Read]) -> list[SeenTab]:
    """The systems whose lines came out clearly."""
    return [tab for one in read if one.clear > CLEAR for tab in one.tabs]


def as_written(pixels: Pixels, read: list[Read], labels: Tree | None = None) -> list[Read]:
    """The systems of a page, looked at above their lines where all numbers together are read more surely there.

    Who writes them as words on ruled paper has each stand on its line.
    """
    count, before = _told(read)
    if before >= READ_SURELY:
        return read
    again = [Read(read_cut(pixels, raised(pixels, r.cut), labels), r.cut) if r.tabs and r.cut else r for r in read]
    there, after = _told(again)
    return again if after > before + SURER and there > NEARLY_ALL * count else read


def raised(pixels: Pixels, cut: Cut) -> Cut:
    """The same look at the numbers above their lines."""
    dark = tab_lines.is_light_on_dark(tab_lines.cut(pixels, cut.frame), cut.frame.line_count)
    fine = cut_fine(pixels, tab_lines.lifted(cut.frame, RAISED), dark)
    seen = tab_strip.read_answer(*scores_of(tab_lines.halved(fine)))
    answer = replace(cut.answer, spots=seen.spots, signs=seen.signs)
    return replace(cut, fine=fine, answer=answer, facts=cut.facts | {"raised": 1.0}, raised=True)


def _told(read: list[Read]) -> tuple[float, float]:
    """How many numbers of a page were read, and how surely on average; 1 where there are none.

    One that was also read on the next line, right above or below it, may stand between both: it is half a number, and
    half as sure.
    """
    sure = [
        (0.5 if any(_may_be_one(note, other) for other in event.notes) else 1.0, note.confidence)
        for one in read
        for tab in one.tabs
        for event in tab.events
        for note in event.notes
    ]
    return sum(s for s, _ in sure), float(np.mean([s * c for s, c in sure] or [1.0]))


def _may_be_one(note: SeenNote, other: SeenNote) -> bool:
    """Whether the same number was read on two lines next to each other."""
    return abs(note.line - other.line) == 1 and note.fret == other.fret


def ruled_cut(pixels: Pixels, region: TabRegion, line_count: int, gap: float) -> Cut:
    """A region cut with so many lines so far apart, about its middle, as seen at any size, or a little aside."""
    cuts: list[Cut] = []
    for seen, down in [(region, 0.0), *((other, 0.0) for other in region.others), *((region, d) for d in DOWN)]:
        cuts.append(cut_region(pixels, seen.ruled(line_count, gap, down)))
        if cuts[-1].clear > CLEAR:
            break
    return max(cuts, key=lambda cut: cut.clear)


def once(found: list[SeenTab]) -> tuple[SeenTab, ...]:
    """Of systems that cover each other the one in which most is read surely, in the order given."""

    def told(tab: SeenTab) -> float:
        return sum(note.confidence for event in tab.events for note in event.notes)

    kept: list[SeenTab] = []
    for tab in sorted(found, key=told, reverse=True):
        if all(covered(np.array(tab.corners), np.array(other.corners)) < SAME_ABOVE for other in kept):
            kept.append(tab)
    return tuple(tab for tab in found if any(tab is k for k in kept))


def usual_lines(clear: list[SeenTab]) -> tuple[int, float] | None:
    """The commonest number of lines of systems that came out clearly, and their middle gap; None where none did."""
    counts = [tab.line_count for tab in clear]
    if not counts:
        return None
    usual = max(counts, key=counts.count)
    return usual, float(np.median([line_gap(t.corners, usual) for t in clear if t.line_count == usual]))
