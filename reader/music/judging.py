"""Whether a chord is what a shape sounds: the verdict alone, quick enough to score many readings."""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

from reader.music.chord import ROOT, Chord
from reader.music.forms import family_roots, never_missed
from reader.music.pitch import Degree
from reader.music.shape import Shape
from reader.music.tuning import Tuning

Verdict = Literal["same", "inversion", "short", "family", "different", "unparsed"]

_FIFTH = Degree(5)
_PLAIN_TRIADS = ((0, 4, 7), (0, 3, 7))


def judge(wanted: Chord, shape: Shape, tuning: Tuning) -> tuple[Verdict, tuple[Degree, ...]]:
    """Hold a chord against a shape.

    Returns
    -------
    verdict : str
        ``same``; ``inversion``: the same notes over another bass; ``short``:
        a tone or the root left out, as players do; ``family``: the same notes,
        but another root is the bass; ``different``.
    missing : tuple of Degree
        Degrees of the chord that do not sound.

    Examples
    --------
    >>> from reader.music.label import parse_label
    >>> from reader.music.tuning import get_tuning
    >>> verdict, missing = judge(parse_label("D7"), Shape.parse("2020"), get_tuning("ukulele"))
    >>> verdict, [str(d) for d in missing]
    ('short', ['1'])
    """
    lowest = tuning.lowest(shape)
    if lowest is None:
        return "different", ()
    pitches = tuning.sounding(shape)
    bass = None if tuning.reentrant else lowest % 12
    verdict, missing = _judge(wanted, frozenset(p % 12 for p in pitches if p is not None), bass)
    if verdict == "different" and tuning.starts:
        # the short string of a banjo sounds on under every chord
        drones = [start > 0 and fret == 0 for start, fret in zip(tuning.starts, shape.frets, strict=True)]
        stopped = frozenset(p % 12 for p, drone in zip(pitches, drones, strict=True) if p is not None and not drone)
        if any(drones) and stopped:
            return _judge(wanted, stopped, bass)
        # a stop below its own nut does nothing; who draws one counts as on a string as long as the others
        frets = zip(tuning.pitches, tuning.starts, shape.frets, strict=True)
        if any(f is not None and 0 < f <= start for _, start, f in frets):
            pairs = zip(tuning.pitches, shape.frets, strict=True)
            return _judge(wanted, frozenset((p + f) % 12 for p, f in pairs if f is not None), bass)
    return verdict, missing


@lru_cache(maxsize=16384)
def _judge(wanted: Chord, sounding: frozenset[int], bass: int | None) -> tuple[Verdict, tuple[Degree, ...]]:
    if not sounding <= wanted.pitch_classes:
        return "different", ()
    root = wanted.root.pitch_class
    silent = [d for d in wanted.degrees if (root + d.semitones) % 12 not in sounding]
    missing = tuple(d for d in silent if not never_missed(wanted.quality, d))
    lacks_bass = wanted.bass is not None and wanted.bass.pitch_class not in sounding
    if missing or lacks_bass:
        return "short" if _may_be_short(wanted, missing, sounding, bass) else "different", missing
    return _judge_bass(wanted, sounding, bass), ()


def _judge_bass(wanted: Chord, sounding: frozenset[int], bass: int | None) -> Verdict:
    if bass is None or bass == wanted.bass_or_root.pitch_class:
        return "same"
    if wanted.bass is None and wanted.quality.is_symmetric:
        return "same"
    if wanted.bass is None and bass in family_roots(sounding):
        return "family"
    return "inversion"


def _may_be_short(wanted: Chord, missing: tuple[Degree, ...], sounding: frozenset[int], bass: int | None) -> bool:
    """Whether players leave these tones out; never so that a plain triad on another root remains.

    But a sixth over its own root as the bass goes without its fifth (common practice, no source).
    """
    if len(sounding) < 2:
        return False
    if ROOT in missing and not _may_lack_root(wanted, sounding):
        return False
    if missing and ROOT not in missing and _is_plain_triad(sounding):
        return missing == (_FIFTH,) and bass == wanted.bass_or_root.pitch_class == wanted.root.pitch_class
    usual = (ROOT, _FIFTH, *wanted.quality.left_out)
    unusual = sum(d not in usual for d in missing)
    return unusual <= (1 if len(missing) == 1 else 0)


def _may_lack_root(wanted: Chord, sounding: frozenset[int]) -> bool:
    """Dominants, and chords of five tones or more, are played without their root."""
    tones = len(wanted.degrees)
    return len(sounding) > 2 and (tones > 4 or (tones == 4 and wanted.quality.is_dominant))


def _is_plain_triad(sounding: frozenset[int]) -> bool:
    return any({(r + i) % 12 for i in triad} == sounding for r in sounding for triad in _PLAIN_TRIADS)
