"""Tablature: systems of lines with numbers, by hand and printed, and what they read as."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from reader.proving.dice import Dice
from reader.proving.draft import Draft, Event, Note, System
from reader.proving.neck import Mark
from reader.proving.printer import Printer
from reader.proving.sheet import Sheet, joined
from reader.proving.signs import Sign, number_words, signs_of
from reader.proving.tool import Place, Points, Tool
from reader.proving.words import phrase

_LEAST_GAP = 11.0  # pixels between lines: with less the numbers could not be read
_NAMES = {4: "AECG", 5: "DBGDG", 6: "eBGDAE", 7: "eBGDAEB", 8: "eBGDAEBF"}


@dataclass(frozen=True, slots=True)
class TabHabit:
    """How one writer or program sets tablature.

    Parameters
    ----------
    lines : int
    cap : float
        Height of numbers in line distances.
    broken : bool
        Lines stop around the numbers.
    bars : str
        ``none``, ``inner`` or ``all`` bar lines; ``ends`` adds a thick last one.
    opening : str
        What stands at the left: ``none``, ``tab``, ``names`` or ``time``.
    stems : float
        Chance of stems below a measure; likewise the others.
    dense : float
        Distance of events in line distances.
    above : bool
        Numbers sit on top of their line rather than across it.
    ringed : float
        Chance of a finger number in a ring over an event.
    ringing : float
        Chance of a dashed line with words over a stretch.
    """

    lines: int
    cap: float
    broken: bool
    bars: str
    opening: str
    stems: float
    slurs: float
    slides: float
    words_below: float
    chords_above: float
    dense: float
    muted: float
    dashed: bool
    above: bool
    ringed: float
    ringing: float


def make_tab_habit(dice: Dice, by_hand: bool) -> TabHabit:
    """Invent a way of setting tablature."""
    return TabHabit(
        lines=dice.weigh({6: 0.55, 4: 0.33, 5: 0.07, 7: 0.03, 8: 0.02}),
        cap=dice.between(0.62, 0.92) if by_hand else dice.between(0.6, 0.95),
        broken=not by_hand and dice.chance(0.8),
        bars=dice.weigh(
            {"none": 0.25, "inner": 0.3, "all": 0.45} if by_hand else {"inner": 0.15, "all": 0.5, "ends": 0.35}
        ),
        opening=dice.weigh({"none": 0.5, "tab": 0.25, "names": 0.2, "time": 0.05}),
        stems=dice.weigh({0.0: 0.7, 1.0: 0.3}),
        slurs=dice.weigh({0.0: 0.5, 0.15: 0.5}),
        slides=dice.weigh({0.0: 0.5, 0.12: 0.5}),
        words_below=dice.weigh({0.0: 0.7, 0.8: 0.3}),
        chords_above=dice.weigh({0.0: 0.65, 0.8: 0.35}),
        dense=dice.between(1.9, 4.0),
        muted=dice.weigh({0.0: 0.6, 0.04: 0.4}),
        dashed=not by_hand and dice.chance(0.07),
        above=dice.chance(0.03),
        ringed=dice.weigh({0.0: 0.88, 0.4: 0.12}) if by_hand else 0.0,
        ringing=dice.weigh({0.0: 0.8, 0.5: 0.2}),
    )


@dataclass
class Setter:
    """One system being drawn."""

    tool: Tool
    habit: TabHabit
    dice: Dice
    unrest: float
    gap: float
    left: float
    right: float
    top: float
    press: Tool | None = None

    def __post_init__(self) -> None:
        slope = self.dice.bell(0, 0.006 * self.unrest) * (self.right - self.left)
        squeeze = 1 + self.dice.bell(0, 0.035 * self.unrest)
        n, d = self.habit.lines, self.dice
        self.starts = [self.top + k * self.gap + d.bell(0, 0.07 * self.unrest) * self.gap for k in range(n)]
        self.ends = [
            self.top + slope + k * self.gap * squeeze + d.bell(0, 0.07 * self.unrest) * self.gap for k in range(n)
        ]
        self.paths: list[Points] = []
        self.numbers: list[tuple[Mark, ...]] = []

    def y_at(self, line: int, x: float) -> float:
        """Height of a line (1 uppermost) at x."""
        if self.paths:
            path = self.paths[line - 1]
            return float(np.interp(x, path[:, 0], path[:, 1]))
        share = (x - self.left) / (self.right - self.left)
        return self.starts[line - 1] * (1 - share) + self.ends[line - 1] * share

    # -- what is played
    def _frets(self) -> list[int | None]:
        d, n = self.dice, self.habit.lines
        base = d.weigh({0: 0.5, 2: 0.12, 5: 0.14, 7: 0.1, 9: 0.06, 12: 0.06, 17: 0.02})
        count = d.weigh({1: 0.72, 2: 0.13, 3: 0.07, n: 0.08})
        start = d.whole(1, n - count + 1)
        frets: list[int | None] = [None] * n
        for k in range(start - 1, start - 1 + count):
            frets[k] = 0 if d.chance(0.12) else min(base + d.whole(0, 4), 24)
        return frets

    def measures(self) -> tuple[list[tuple[float, tuple[Note, ...]]], list[float]]:
        """Times of all events as x, and x of the inner bar lines."""
        h, d = self.habit, self.dice
        x = self.left + self.gap * {"none": 1.4, "tab": 2.6, "names": 1.2, "time": 2.6}[h.opening]
        step = self.gap * h.dense
        events, bars = [], []
        left_in_bar = d.pick([3, 4, 4, 6, 8])
        full = left_in_bar
        while x < self.right - 0.9 * step:
            notes = []
            for k, fret in enumerate(self._frets()):
                if fret is not None:
                    notes.append(Note(k + 1, None if d.chance(h.muted) else fret))
            if d.chance(0.93):
                events.append((x, tuple(notes)))
            x += step * d.between(0.75, 1.35)
            left_in_bar -= 1
            if left_in_bar == 0 and h.bars != "none" and x < self.right - 2.2 * step:
                bars.append(x - 0.1 * step)
                x += 0.75 * step
                left_in_bar = full
        return events, bars

    # -- drawing
    def draw(self) -> System:
        """Draw the system; returns what it reads as."""
        h = self.habit
        events, bars = self.measures()
        self._lines(events)
        verticals = list(bars)
        if h.bars in ("all", "ends"):
            verticals = [self.left, *bars, self.right]
        for k, x in enumerate(verticals):
            heavy = h.bars == "ends" and k == len(verticals) - 1
            self._bar(x, heavy)
        self._opening()
        drawn = [self._event(x, notes) for x, notes in events]
        self._ornaments(drawn)
        self._around(drawn, [self.left, *bars])
        n = h.lines
        first, last = self.paths[0], self.paths[-1]
        corners: list[Place] = [(float(p[0]), float(p[1])) for p in (first[0], first[-1], last[-1], last[0])]
        middle = (n + 1) / 2
        bar_places = tuple((x, self.y_at(round(middle), x)) for x in verticals)
        cap, numbers, paths = h.cap * self.gap, tuple(self.numbers), tuple(self.paths)
        return System(corners, n, tuple(drawn), bar_places, cap, h.above, numbers, paths)

    def _lines(self, events: list[tuple[float, tuple[Note, ...]]]) -> None:
        tool, h, d = self.press or self.tool, self.habit, self.dice
        jut = 0.3 * self.gap * self.unrest if self.press is None and h.bars not in ("all", "ends") else 0.0
        paths = []
        for k in range(h.lines):
            a = (self.left + d.bell(0, jut), self.starts[k])
            b = (self.right + d.bell(0, jut), self.ends[k])
            stops = [(x, n) for x, notes in events for n in notes if n.line == k + 1] if h.broken else []
            if not stops and not h.dashed:
                paths.append(tool.line(a, b, 0.75))
                continue
            x = a[0]
            for at, note in [*stops, (1e9, None)]:
                text = "x" if note is None or note.fret is None else str(note.fret)
                half = (tool.width(text, h.cap * self.gap) / 2 + 0.12 * self.gap) if note else 0.0
                end = min(at - half, b[0])
                if end > x:
                    self._piece(tool, (x, a[1]), (end, a[1] + (b[1] - a[1]) * (end - a[0]) / (b[0] - a[0])))
                x = at + half
            paths.append(np.array([a, b], float))
        self.paths = paths

    def _piece(self, tool: Tool, a: Place, b: Place) -> None:
        if not self.habit.dashed:
            tool.line(a, b, 0.75)
            return
        dash = 0.45 * self.gap
        for x in np.arange(a[0], b[0] - dash, 1.35 * dash):
            tool.line((float(x), a[1]), (float(x) + dash, a[1]), 0.8)

    def _bar(self, x: float, heavy: bool) -> None:
        tool, n, d = self.press or self.tool, self.habit.lines, self.dice
        jut = 0.1 * self.gap * self.unrest
        lean = d.bell(0, 0.05 * self.unrest) * self.gap
        tool.line((x + lean, self.y_at(1, x) - jut), (x - lean, self.y_at(n, x) + jut), 2.6 if heavy else 0.9)

    def _opening(self) -> None:
        h, n = self.habit, self.habit.lines
        x = self.left + 1.0 * self.gap
        if h.opening == "tab":
            for k, sign in enumerate("TAB"):
                y = self.top + (n - 1) * self.gap * (0.22 + 0.28 * k)
                self.tool.write(sign, (x, y), 0.2 * (n - 1) * self.gap, "c", "grid")
        elif h.opening == "names":
            for k in range(n):
                name = _NAMES[n][k] if n in _NAMES else "GDG"[k % 3]
                self.tool.write(
                    name, (self.left - 0.6 * self.gap, self.y_at(k + 1, self.left)), 0.55 * self.gap, "c", "label"
                )
        elif h.opening == "time":
            for k, sign in enumerate(self.dice.pick(["44", "34", "68"])):
                y = self.top + (n - 1) * self.gap * (0.3 + 0.4 * k)
                self.tool.write(sign, (x, y), 0.3 * (n - 1) * self.gap, "c", "label")

    def _event(self, x: float, notes: tuple[Note, ...]) -> Event:
        d, h = self.dice, self.habit
        ys = []
        for note in notes:
            y = self.y_at(note.line, x)
            lift = -0.5 * self.gap if h.above else d.bell(0, 0.05 * self.unrest) * self.gap
            at = (x + d.bell(0, 0.05 * self.unrest) * self.gap, y + lift)
            ys.append(y)
            self._number(note, at)
        return Event((x, float(np.mean(ys))), notes)

    def _number(self, note: Note, at: Place) -> None:
        """Write one number, and remember its signs."""
        cap, tool = self.habit.cap * self.gap, self.tool
        text = "x" if note.fret is None else str(note.fret)
        with tool.sheet.apart("signs", meant=True) as patches:
            if note.fret is None:
                tool.cross(at, 0.36 * cap, "number")
            else:
                tool.write(text, at, cap, "c", "number")
        if not patches:
            return
        trace = joined(patches)
        if note.fret is None:
            signs = [Sign(text, 0, trace)]
        else:
            signs = list(signs_of(trace, text, number_words(text), lambda part: tool.width(part, cap), at, 0.0))
        self.numbers.append(tuple(Mark("signs", note.line, trace, sign) for sign in signs))

    def _ornaments(self, events: list[Event]) -> None:
        h, d, g = self.habit, self.dice, self.gap
        for a, b in itertools.pairwise(events):
            shared = {n.line for n in a.notes if n.fret is not None} & {n.line for n in b.notes if n.fret is not None}
            room = b.at[0] - a.at[0]
            if not shared or room < 1.5 * g:
                continue
            line = min(shared)
            y = self.y_at(line, a.at[0])
            if d.chance(h.slurs):
                t = np.linspace(0, 1, 16)
                rise = 0.55 * g + 0.35 * g * 4 * t * (1 - t)
                self.tool.path(np.column_stack([a.at[0] + t * room, y - rise]), 0.8, "grid")
                if d.chance(0.4):
                    self.tool.write(d.pick("hp"), (a.at[0] + room / 2, y - 1.35 * g), 0.5 * g, "c", "grid")
            elif d.chance(h.slides):
                up = d.pick([1, -1]) * 0.3 * g
                p, q = (a.at[0] + 0.32 * room, y + up), (a.at[0] + 0.68 * room, y - up)
                self.tool.line(p, q, 0.9, "number")

    def _over(self, events: list[Event]) -> None:
        """Ringed finger numbers, and a dashed line over a stretch that goes on ringing."""
        h, d, g = self.habit, self.dice, self.gap
        y = self.top - 1.5 * g
        if d.chance(h.ringing) and len(events) > 4 and not h.chords_above:
            a, b = sorted((d.pick(events).at[0], d.pick(events).at[0]))
            self.tool.write(d.pick(["let ring", "P.M.", "rit."]), (a, y), 0.5 * g, "l", "label")
            for x in np.arange(a + 3.5 * g, b - 0.5 * g, 0.8 * g):
                self.tool.line((float(x), y), (float(x) + 0.4 * g, y), 0.6)
            return
        for e in events:
            if d.chance(h.ringed):
                self.tool.write(str(d.whole(1, 4)), (e.at[0], y), 0.5 * g, "c", "dot")
                self.tool.ring((e.at[0], y), 0.45 * g, 0.45 * g, "dot", 0.8)

    def _around(self, events: list[Event], bars: list[float]) -> None:
        h, d, g = self.habit, self.dice, self.gap
        self._over(events)
        low = self.top + (h.lines - 1) * g
        if h.stems and events:
            for e in events:
                base = max(self.y_at(h.lines, e.at[0]), low) + 0.7 * g
                self.tool.line((e.at[0], base), (e.at[0], base + 1.3 * g), 0.7)
            for a, b in zip(events[::2], events[1::2], strict=False):
                if b.at[0] - a.at[0] < 4 * g and d.chance(0.6):
                    y = low + 2.0 * g
                    self.tool.line((a.at[0], y), (b.at[0], y), 2.0)
        elif h.words_below and d.chance(h.words_below):
            for e in events[:: d.whole(1, 3)]:
                text = d.pick("abcdefg") if d.chance(0.4) else phrase(d, 1)[:5]
                self.tool.write(text, (e.at[0], low + 1.3 * g), 0.6 * g, "c", "label")
        if h.chords_above and d.chance(h.chords_above):
            for x in bars:
                self.tool.write(
                    d.pick(["C", "Am", "F", "G7", "Dm", "Em7", "D", "A7"]), (x + 1.5 * g, self.top - 1.9 * g), 0.9 * g
                )


def staff_above(tool: Tool, sheet: Sheet, left: float, right: float, top: float, gap: float, dice: Dice) -> None:
    """A staff with note heads, as stands over printed tablature."""
    for k in range(5):
        tool.line((left, top + k * gap), (right, top + k * gap), 0.6)
    x = left + 3 * gap
    while x < right - 2 * gap:
        step = dice.whole(-1, 9)
        y = top + step * gap / 2
        tool.blob((x, y), 0.5 * gap, dice.pick(["solid", "solid", "ring"]), "grid")
        side = 1 if step > 4 else -1
        tool.line((x + side * 0.48 * gap, y), (x + side * 0.48 * gap, y - side * 3.2 * gap), 0.7)
        x += gap * dice.between(2.2, 4.5)
        if dice.chance(0.2):
            tool.line((x - gap, top), (x - gap, top + 4 * gap), 0.8)


def fill_with_systems(
    draft: Draft,
    tool: Tool,
    habit: TabHabit,
    unrest: float,
    count: int,
    dice: Dice,
    press: Tool | None = None,
    upper: float = 0.1,
) -> None:
    """Put some systems below one another on a page."""
    wide, high = draft.sheet.size
    room = high * (0.95 - upper) / count
    staff = isinstance(tool, Printer) and dice.chance(0.35)
    tall = habit.lines + 5.0 + (9.0 if staff else 0.0)
    while count > 1 and room / tall < _LEAST_GAP:
        count -= 1
        room = high * (0.95 - upper) / count
    gap = min(room / tall, wide / 26) * dice.between(0.8, 1.0)
    tool.thin(0.16 * gap)
    tool.calm(0.14 * gap)
    margin = wide * dice.between(0.06, 0.1)
    y = high * upper + 2.5 * gap
    for k in range(count):
        d = dice.child(k)
        right = wide - margin - (wide * d.between(0, 0.4) if k == count - 1 and d.chance(0.3) else 0.0)
        if staff:
            staff_above(tool, draft.sheet, margin, right, y, gap, d.child("staff"))
            y += 8.0 * gap
        setter = Setter(tool, habit, d, unrest, gap, margin, right, y, press)
        draft.systems.append(setter.draw())
        draft.smallest = min(draft.smallest, gap)
        y += max(room, tall * gap) - (8.0 * gap if staff else 0.0)
