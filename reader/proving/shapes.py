"""Chord shapes by instrument, from common practice (no source), and new ones made by moving them along the neck."""

from __future__ import annotations

from dataclasses import dataclass

from reader.proving.dice import Dice

Fret = int | None
Finger = int | str | None

_TABLES = {
    "ukulele": (
        (67, 60, 64, 69),
        "C:0003 C7:0001 Cmaj7:0002 Cm:0333 Cm7:3333 C6:0000 Cadd9:0203 Csus4:0013 Csus2:0233 Caug:1003 Cdim7:2323 "
        "D:2220 D7:2223 Dmaj7:2224 Dm:2210 Dm7:2213 Dsus4:0230 Dsus2:2200 D6:2222 Eb:0331 Eb7:3334 E:4442 "
        "E:1402 E7:1202 Em:0432 Em7:0202 F:2010 F7:2313 Fm:1013 Fmaj7:2413 F6:2213 F#m:2120 F#:3121 F#7:3424 "
        "G:0232 G7:0212 Gm:0231 Gm7:0211 Gmaj7:0222 G6:0202 Gsus4:0233 Gaug:0332 Gdim7:0101 Ab:5343 A:2100 "
        "A7:0100 Am:2000 Am7:0000 Amaj7:1100 Asus4:2200 A7sus4:0200 Asus2:2452 "
        "Bb:3211 Bb7:1211 Bbm:3111 B:4322 B7:2322 Bm:4222 Bm7:2222 Em6:0102 Dm7b5:1213 Am6:2020 F9:2333 A9:0102 "
        "E7#9:1232",
    ),
    "guitar": (
        (40, 45, 50, 55, 59, 64),
        "C:x32010 C7:x32310 Cmaj7:x32000 Cadd9:x32030 D:xx0232 D7:xx0212 Dm:xx0231 Dm7:xx0211 Dmaj7:xx0222 "
        "Dsus4:xx0233 Dsus2:xx0230 D/F#:200232 E:022100 E7:020100 Em:022000 Em7:022030 Em7:020000 Esus4:022200 "
        "F:133211 Fmaj7:xx3210 F:xx3211 Fm:133111 G:320003 G:320033 G7:320001 G/B:x20003 Gmaj7:320002 A:x02220 "
        "Am:x02210 A7:x02020 Am7:x02010 Amaj7:x02120 Asus2:x02200 Asus4:x02230 Am/G:302210 B7:x21202 Bm:x24432 "
        "B:x24442 Bb:x13331 Bbm:x13321 Bm7:x20202 Bm7:x24232 F#m:244222 F#:244322 Gm:355333 Cm:x35543 C#m:x46654 "
        "E7#9:x7678x Adim7:x01212 C6:x32210 G6:320000 A7sus4:x02030 E5:022xxx A5:x022xx D5:xx023x Bm7b5:x2323x "
        "Caug:x32110 Em9:020002 C/G:332010 Am9:x02413 Fadd9:xx3213 D9:x5455x",
    ),
    "baritone": (
        (50, 55, 59, 64),
        "G:0003 G7:0001 Gmaj7:0002 C:2010 C7:2313 D:0232 D7:0212 Dm:0231 Dsus4:0233 Em:2000 E7:2130 E:2100 Am:2210 "
        "Am7:2010 A:2220 A7:2223 F:3211 Bm:4432 Gm:0333 Cmaj7:2000",
    ),
    "mandolin": (
        (55, 62, 69, 76),
        "G:0023 C:0230 D:2002 A:2245 Am:2235 Em:0220 F:5301 D7:2032 G7:0021 A7:2243 E:1220 Bm:4022 Dm:2001 C5:5533",
    ),
    "banjo-4": ((50, 55, 59, 62), "G:0000 C:2012 D:0234 D7:0214 Em:2002 Am:2212 F:3213 A:2222 G7:0003"),
    "banjo-5": ((67, 50, 55, 59, 62), "G:00000 C:02012 Em:02002 Am:x2212 D:x0234 D7:x0214 F:x3213 A:x2222"),
    "box-3": ((43, 50, 55), "G5:000 A5:222 C5:555 D5:777 Bb5:333 G:004 F5:10-10-10"),
    "bass": ((28, 33, 38, 43), "G5:35xx C5:x35x E5:02xx A5:x02x D5:x57x"),
    "seven": (
        (35, 40, 45, 50, 55, 59, 64),
        "E:x022100 G:x320003 D:xxx0232 Am:xx02210 C:xx32010 B5:022xxxx B5:0224xxx Em7:x020000",
    ),
    "eight": ((30, 35, 40, 45, 50, 55, 59, 64), "E:xx022100 G:xx320003 Am:xxx02210 C:xxx32010 F#5:022xxxxx"),
}

INSTRUMENTS = {
    "ukulele": 0.5,
    "guitar": 0.28,
    "baritone": 0.05,
    "mandolin": 0.04,
    "banjo-4": 0.025,
    "banjo-5": 0.035,
    "box-3": 0.025,
    "bass": 0.015,
    "seven": 0.02,
    "eight": 0.01,
}

_SHARPS = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
_FLATS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


@dataclass(frozen=True, slots=True)
class Chord:
    """One way to hold a chord, as a player would.

    Parameters
    ----------
    frets : tuple of int or None
        Leftmost string first; 0 open, None not played.
    fingers : tuple
        Usual left-hand fingers, None on strings that are not stopped.
    bar : (fret, left, right), optional
        Strings (as drawn, 0 leftmost) that one finger holds at one fret.
    root, quality, bass : str or None
        Name that a musician would give it; None when it has none.
    """

    frets: tuple[Fret, ...]
    fingers: tuple[Finger, ...]
    bar: tuple[int, int, int] | None
    root: str | None
    quality: str | None
    bass: str | None = None


def parse_frets(text: str) -> tuple[Fret, ...]:
    """``x32010`` or ``10-10-10`` as frets."""
    parts = text.split("-") if "-" in text else list(text)
    return tuple(None if p == "x" else int(p) for p in parts)


def find_bar(frets: tuple[Fret, ...]) -> tuple[int, int, int] | None:
    """The barre that holds the lowest fret, when a hand needs or favours one."""
    stopped = [f for f in frets if f]
    if not stopped:
        return None
    low = min(stopped)
    at = [k for k, f in enumerate(frets) if f == low]
    left, right = at[0], at[-1]
    inside = frets[left : right + 1]
    if left == right or any(f is None or f < low for f in inside):
        return None
    return (low, left, right) if right - left >= 2 or len(stopped) > 4 else None


def usual_fingers(frets: tuple[Fret, ...], bar: tuple[int, int, int] | None) -> tuple[Finger, ...]:
    """Fingers by the usual rule: the index on the lowest fret, then by fret and from left to right."""
    fingers: list[Finger] = [None] * len(frets)
    rest = []
    for fret, k in sorted((f, k) for k, f in enumerate(frets) if f):
        if bar and fret == bar[0] and bar[1] <= k <= bar[2]:
            fingers[k] = 1
        else:
            rest.append((fret, k))
    free = 2 if bar or (rest and len(rest) < 4 and rest[0][0] == 2) else 1
    for n, (_, k) in enumerate(rest):
        fingers[k] = min(free + n, 4)
    return tuple(fingers)


def _split(name: str) -> tuple[str, str, str | None]:
    head, _, bass = name.partition("/")
    cut = 2 if len(head) > 1 and head[1] in "#b" else 1
    return head[:cut], head[cut:], bass or None


def move_name(root: str, steps: int, flat: bool) -> str:
    """A note name moved by half-steps."""
    at = (_SHARPS if root in _SHARPS else _FLATS).index(root)
    return (_FLATS if flat else _SHARPS)[(at + steps) % 12]


def known_shapes(instrument: str) -> list[tuple[str, tuple[Fret, ...]]]:
    """Names and frets of the table of one instrument."""
    return [(n, parse_frets(f)) for n, f in (entry.split(":") for entry in _TABLES[instrument][1].split())]


def open_notes(instrument: str) -> tuple[int, ...]:
    """MIDI numbers of the open strings, left to right as drawn."""
    return _TABLES[instrument][0]


def known_chord(instrument: str, name: str, steps: int = 0) -> Chord:
    """A shape of the table by its name, moved up by so many frets.

    Raises
    ------
    KeyError
        When the table of the instrument has no such name.
    """
    frets = dict(known_shapes(instrument))[name]
    root, quality, bass = _split(name)
    if steps:
        frets = tuple(None if f is None else f + steps for f in frets)
        root, bass = move_name(root, steps, True), None if bass is None else move_name(bass, steps, True)
    bar = find_bar(frets)
    return Chord(frets, usual_fingers(frets, bar), bar, root, quality, bass)


def _random_frets(dice: Dice, strings: int) -> tuple[Fret, ...]:
    base = dice.weigh({1: 0.4, 2: 0.15, 3: 0.12, 5: 0.13, 7: 0.1, 8: 0.05, 10: 0.05})
    frets: list[Fret] = []
    for _ in range(strings):
        kind = dice.weigh({"stop": 0.55, "open": 0.33 if base < 4 else 0.1, "mute": 0.1})
        frets.append({"stop": base + dice.whole(0, 3), "open": 0, "mute": None}[kind])
    stopped = [k for k, f in enumerate(frets) if f]
    for k in stopped[4:]:
        frets[k] = base
    return tuple(frets)


def pick_chord(dice: Dice, instrument: str, up_neck: float) -> Chord:
    """A chord for one diagram; `up_neck` is the chance that a known shape is moved up."""
    table = known_shapes(instrument)
    if dice.chance(0.06):
        frets = _random_frets(dice, len(open_notes(instrument)))
        bar = find_bar(frets)
        root = dice.pick(_SHARPS) if dice.chance(0.5) else None
        quality = None if root is None else dice.pick(["", "m", "7", "m7", "maj7", "9", "7#9", "m7b5", "13", "6/9"])
        return Chord(frets, usual_fingers(frets, bar), bar, root, quality)
    name, frets = dice.pick(table)
    root, quality, bass = _split(name)
    if dice.chance(up_neck):
        steps = dice.whole(1, 8)
        top = max(f or 0 for f in frets)
        steps = min(steps, max(1, 14 - top))
        frets = tuple(None if f is None else f + steps for f in frets)
        flat = dice.chance(0.5)
        root, bass = move_name(root, steps, flat), None if bass is None else move_name(bass, steps, flat)
    bar = find_bar(frets)
    fingers = usual_fingers(frets, bar)
    if instrument == "guitar" and frets[0] in (1, 2, 3) and bar is None and dice.chance(0.1):
        fingers = ("T", *fingers[1:])  # the thumb comes over the neck
    return Chord(frets, fingers, bar, root, quality, bass)
