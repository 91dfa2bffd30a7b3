"""Forty varied shapes: what a player would want to be told, and why.

Names first to last; a star marks names that the notes do not tell from the first. All common practice, no source.
"""

from __future__ import annotations

import pytest

from reader.music.explain import explain_shape, to_text
from reader.music.shape import Shape
from reader.music.tuning import get_tuning

SHAPES = [
    # ukulele, re-entrant: no bass, so never a slash
    ("0003", "ukulele", "C", "...3", "the first chord that everybody learns"),
    ("2010", "ukulele", "F", "2.1.", "no F/A, although the leftmost string sounds A"),
    ("0212", "ukulele", "G7", ".213", "a complete seventh"),
    ("0232", "ukulele", "G", ".132", "a triad"),
    ("2220", "ukulele", "D", "123.", "three fingers in a row, the little one spared"),
    ("4442", "ukulele", "E", "2341", "the hard one: the index lies lowest, the others in a row"),
    ("2223", "ukulele", "D7", "1112", "the barre form"),
    ("2020", "ukulele", "F#dim D7", "2.3.", "sounds F#dim; players mean D7 without its root, so it is offered too"),
    ("0000", "ukulele", "Am7 C6*", "....", "the same four notes: only a label or a key tells"),
    ("3333", "ukulele", "Cm7 Eb6*", "1111", "the same family under a full barre"),
    ("0233", "ukulele", "Gsus4 Csus2* D7sus4", ".123", "sus4 and sus2 are one family; D7sus4 would lack its fifth"),
    ("1003", "ukulele", "Caug Eaug* Abaug*", "1..3", "an augmented triad has three roots"),
    ("0101", "ukulele", "C#dim7 Edim7* Gdim7* Bbdim7*", ".1.2", "a diminished seventh has four roots"),
    ("1222", "ukulele", "Bm6 G#m7b5* E9", "1234", "sixth, half-diminished, and the ninth without root that it is for"),
    ("0203", "ukulele", "Cadd9", ".2.3", "an added ninth, no seventh: not C9"),
    ("2310", "ukulele", "F7", "231.", "E flat, not D sharp, is the seventh of F"),
    ("4222", "ukulele", "Bm", "3111", "barre, and the ring finger two frets up"),
    ("x003", "ukulele", "C E (major third)", "...3", "two notes are an interval, not a guess"),
    ("00xx", "ukulele", "C5", "....", "root and fifth alone: neither major nor minor"),
    ("0002", "ukulele-low-g", "Cmaj7/G", "...2", "with a low G the bass is real"),
    ("5555", "ukulele-d", "Em7 G6*", "1111", "the same frets on another tuning are another chord"),
    ("0003", "ukulele-baritone", "G/D", "...3", "the ukulele's C shape, a fourth lower, over the low D"),
    # guitar: the bass decides
    ("x32010", "guitar", "C", ".32.1.", "root position"),
    ("032010", "guitar", "C/E", ".32.1.", "the low string open: first inversion, not a chord on E"),
    ("200232", "guitar", "D/F#", "1..243", "first inversion"),
    ("302210", "guitar", "Am/G C6/G Am7/G", "4.231.", "a passing bass: A minor over G"),
    ("x02010", "guitar", "Am7 C6/A C/A", "..2.1.", "the bass settles Am7 against C6"),
    ("x20232", "guitar", "Bm7 D6/B D/B", ".1.243", "D over B is B minor seventh"),
    ("335533", "guitar", "Gsus4 Csus2/G", "113411", "the bass settles sus4 against sus2"),
    ("320001", "guitar", "G7", "32...1", "a complete seventh"),
    ("133211", "guitar", "F", "134211", "the full barre"),
    ("x46654", "guitar", "C#m", ".13421", "C sharp minor, not D flat minor"),
    ("x7678x", "guitar", "E7#9", ".2134.", "major and minor third together: the sharp ninth; the fifth is left out"),
    ("xx1212", "guitar", "Ebdim7 F#dim7* Adim7* Cdim7*", "..1324", "nobody writes the bass of a diminished seventh"),
    ("020202", "guitar", "E9sus4 E11 Bm7/E", ".1.2.3", "also written E11, also Bm7 over E"),
    ("355xxx", "guitar", "G5", "134...", "a power chord"),
    ("xx3433", "guitar", "G/F G7/F", "..1211", "the seventh only in the bass"),
    ("x02210", "guitar-half-down", "G#m", "..231.", "A minor shape, half a step down"),
    ("000000", "guitar-open-d", "D", "......", "an open tuning spells its chord"),
    # other instruments
    ("0023", "mandolin", "G", "..23", "tuned in fifths"),
    ("00012", "banjo", "Cadd9", "...12", "the short fifth string and the open D ring along; re-entrant: no bass"),
    ("02010", "charango", "Gm6 Em7b5* C9", ".2.1.", "re-entrant courses; C9 without its root"),
]


@pytest.mark.parametrize(("shape", "tuning", "names", "fingers", "why"), SHAPES)
def test_what_a_player_is_told(shape: str, tuning: str, names: str, fingers: str, why: str) -> None:
    told = explain_shape(Shape.parse(shape), get_tuning(tuning))
    shown = [n.text + "*" * (i > 0 and n.rank == 1) for i, n in enumerate(told.names)]
    wanted = [names] if "(" in names else names.split()
    assert shown[: len(wanted)] == wanted, why
    assert sum(name.endswith("*") for name in shown) == sum(name.endswith("*") for name in wanted), why
    usual = ["".join("." if f is None else str(f) for f in fingering.fingers) for fingering in told.fingerings]
    assert usual[0] == fingers, why
    text = to_text(told)
    assert all(name.rstrip("*") in text for name in wanted)


def test_there_are_at_least_forty() -> None:
    assert len({(shape, tuning) for shape, tuning, *_ in SHAPES}) >= 40
