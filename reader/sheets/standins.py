"""What may replace a hard chord in a key, and what that costs in sound."""

from __future__ import annotations

from dataclasses import dataclass

from reader.music.chord import Chord, chord_of
from reader.music.fingering import Fingering
from reader.music.harmony import diatonic_chords, role
from reader.music.key import Key
from reader.music.label_style import LabelStyle, chord_text, note_text
from reader.music.pitch import Degree
from reader.music.quality import get_quality
from reader.music.shapes import POSITION_COST, familiarity, shapes_for
from reader.sheets.book import BEYOND_A_HAND, Book, missing_words, sheet_chord
from reader.sheets.chords import SheetChord, SheetShape
from reader.sheets.hands import main_fingering
from reader.sheets.words import INSTEAD, REPLACED, SAME_NAME, SHORTENED

WORTH_IT = 0.3
"""How much lighter (in `Difficulty.score`, a finger is about half a point) a stand-in must be."""

SAME_ROOT: dict[str, tuple[tuple[str, float, str], ...]] = {
    "": (
        ("maj7", 0.3, "softer, dreamier"),
        ("add9", 0.2, "brighter, wider"),
        ("6", 0.4, "sweeter"),
        ("7", 0.5, "restless: it wants to go on"),
        ("sus2", 0.5, "open, neither major nor minor"),
        ("sus4", 0.6, "it hangs and wants to settle"),
    ),
    "m": (
        ("m7", 0.1, "rounder, less dark"),
        ("m(add9)", 0.3, "wistful"),
        ("m6", 0.6, "more mysterious"),
        ("sus2", 0.5, "open, neither major nor minor"),
    ),
    "7": (("", 0.3, "plainer: it pulls on less"), ("9", 0.4, "richer"), ("7sus4", 0.4, "softer pull")),
    "dim": (("m7b5", 0.2, "fuller, less sharp"),),
}
"""Of each quality: what may stand in on the same root, how far it is from the sound meant, and how it differs
(common practice, no source)."""

KNOWN = 0.6  # weight of a shape that everybody teaches
RELATED_DISTANCE = 0.8
DOMINANT_FOR_LEADING = 0.3
ROOTLESS_DISTANCE = -0.8  # the short form is as well known as the full one
FEW_STRINGS = 4


@dataclass(frozen=True, slots=True)
class StandIn:
    """A chord that may replace another, or a shorter form of the same one, with its cost in sound in words."""

    hard: SheetChord
    easy: SheetChord
    words: str

    def title(self, labels: LabelStyle) -> str:
        """What replaces what, as a heading: ``G7 instead of Bdim``, ``An easier D7 (no root)``."""
        return self._said(INSTEAD, SAME_NAME, labels)

    def sentence(self, labels: LabelStyle) -> str:
        """The same with the shape and the cost."""
        return self._said(REPLACED, SHORTENED, labels)

    def _said(self, other: str, same: str, labels: LabelStyle) -> str:
        """One of two texts: for another chord, or for the same chord in another form."""
        shape = self.easy.main
        return (same if self.easy.chord == self.hard.chord else other).format(
            easy=chord_text(self.easy.chord, labels),
            hard=chord_text(self.hard.chord, labels),
            missing=shape.remark,
            shape=shape.frame.shape,
            words=self.words,
        )


def stand_ins(
    hard: SheetChord, key: Key, book: Book, labels: LabelStyle, most: int = 1, same_root: bool = False
) -> tuple[StandIn, ...]:
    """Lighter chords of the key that may replace a chord, best first; empty when none is lighter enough.

    Parameters
    ----------
    hard : SheetChord
    key : Key
        What stands in must belong to it.
    book : Book
    labels : LabelStyle
        Spelling of the notes in the words.
    most : int
    same_root : bool
        Leave out chords on other roots.
    """
    weight = _weight(hard, book)
    found: list[tuple[float, StandIn]] = []
    for chord, distance, effect in _candidates(hard.chord, key):
        easy = sheet_chord(chord, book)
        gain = weight - _weight(easy, book)
        if gain >= WORTH_IT and not (same_root and chord.root != hard.chord.root):
            rank = distance - gain - KNOWN * familiarity(easy.main.frame.shape, book.tuning)
            found.append((rank, StandIn(hard, easy, _words(hard.chord, chord, effect, labels))))
    found += _rootless(hard, weight, book, labels)
    found.sort(key=lambda pair: (pair[0], str(pair[1].easy.chord)))
    return tuple(stand_in for _, stand_in in found[:most])


def _rootless(hard: SheetChord, weight: float, book: Book, labels: LabelStyle) -> list[tuple[float, StandIn]]:
    """On four strings players shorten a dominant seventh to its upper three notes (common practice, no source)."""
    if hard.chord.quality.written != "7" or book.tuning.string_count > FEW_STRINGS:
        return []
    upper = chord_of(hard.chord.root.above(Degree(3)), frozenset(get_quality("dim").degrees))
    for option in shapes_for(upper, book.tuning, limit=1):
        gain = weight - _hand_weight(option.fingering)
        if gain >= WORTH_IT:
            short = SheetChord(hard.chord, (SheetShape(option.frame, "computed", missing_words((Degree(1),))),))
            words = _words(hard.chord, upper, "the same pull, only lighter", labels)
            return [(ROOTLESS_DISTANCE - gain, StandIn(hard, short, words))]
    return []


def _weight(chord: SheetChord, book: Book) -> float:
    """What a chord asks of the hand, its place on the neck included."""
    fingering = main_fingering(chord, book.tuning)
    return BEYOND_A_HAND if fingering is None else _hand_weight(fingering)


def _hand_weight(fingering: Fingering) -> float:
    return fingering.difficulty.score + POSITION_COST * (min(fingering.shape.stopped, default=1) - 1)


def _candidates(chord: Chord, key: Key) -> list[tuple[Chord, float, str]]:
    """Same root first, then chords of the key that share two notes, and V7 for the chord on the leading note."""
    out: list[tuple[Chord, float, str]] = []
    for written, distance, effect in SAME_ROOT.get(chord.quality.written, ()):
        candidate = chord_of(chord.root, frozenset(get_quality(written).degrees))
        if role(candidate, key).place == "diatonic":
            out.append((candidate, distance, effect))
    related = diatonic_chords(key) if chord.quality.written in ("", "m", "dim") else ()
    for candidate in related:
        shared = len(candidate.pitch_classes & chord.pitch_classes)
        if shared == 2 and candidate.root != chord.root and candidate.quality.written in ("", "m"):
            effect = "darker" if candidate.quality.is_minor else "brighter"
            out.append((candidate, RELATED_DISTANCE, effect))
    if chord.quality.written == "dim":
        dominant = diatonic_chords(key, sevenths=True)[4]
        if dominant.pitch_classes >= chord.pitch_classes:
            out.append((dominant, DOMINANT_FOR_LEADING, "the same pull, on a firmer root"))
    return out


def _words(hard: Chord, easy: Chord, effect: str, labels: LabelStyle) -> str:
    """Which notes are kept, gained and lost, and how that sounds."""
    old, new = hard.notes, easy.notes
    kept = [n for n in old if n in new]
    gained = [n for n in new if n not in old]
    lost = [n for n in old if n not in new]
    parts = [
        f"{verb} {' '.join(note_text(n, labels) for n in notes)}"
        for verb, notes in (("keeps", kept), ("adds", gained), ("loses", lost))
        if notes
    ]
    return f"{', '.join(parts)}: {effect}."
