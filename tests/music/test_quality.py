"""The table of qualities against the world: MusicXML's definitions, mir_eval (Harte 2005), pychord, tonal."""

from __future__ import annotations

import json
import re
import subprocess
from collections import Counter
from functools import cache
from pathlib import Path
from shutil import which
from xml.etree import ElementTree

import mir_eval.chord
import numpy as np
import pychord
import pytest

from reader.music.pitch import Degree
from reader.music.quality import NEVER_PROPOSED, KindDegree, Quality, all_qualities, get_quality

ROOT = Path(__file__).resolve().parents[2]
XSD = ROOT / "fixtures" / "schemas" / "musicxml.xsd"
TONAL = ROOT / "node_modules" / "tonal"
QUALITIES = all_qualities()


def by_name(quality: Quality) -> str:
    return quality.written or "major"


# ---------------------------------------------------------------- the table itself


def test_each_row_is_its_own_chord() -> None:
    spellings = Counter(s for q in QUALITIES for s in {q.written, *q.also})
    assert [s for s, n in spellings.items() if n > 1] == []
    sets = Counter(q.pitch_classes for q in QUALITIES)
    assert [sorted(s) for s, n in sets.items() if n > 1] == []


def test_each_row_has_a_root_and_ascends() -> None:
    for quality in QUALITIES:
        assert quality.degrees[0] == Degree(1)
        assert set(quality.left_out) < set(quality.degrees)
        if quality.written != "7alt":  # no order among alternatives
            assert [d.semitones for d in quality.degrees] == sorted(d.semitones for d in quality.degrees)


REQUIRED = (
    # what the table must hold: triads, power, sixths, sevenths of every kind, suspended, added tones, ninths to
    # thirteenths, altered dominants (common practice, no source)
    *("", "m", "dim", "aug", "5", "6", "m6", "6/9", "m6/9", "7", "maj7", "m7", "m(maj7)", "dim7", "m7b5", "7b5", "7#5"),
    *("sus4", "sus2", "7sus4", "9sus4", "add9", "m(add9)", "add11", "9", "maj9", "m9", "11", "maj11", "m11", "13"),
    *("maj13", "m13", "7b9", "7#9", "7#11", "7b13", "13b9", "13#11", "maj7#11", "maj7#5", "maj7b5", "7alt"),
)


@pytest.mark.parametrize("written", REQUIRED)
def test_the_table_holds_what_players_write(written: str) -> None:
    assert get_quality(written).written == written


# ---------------------------------------------------------------- MusicXML 4.0

_INTERVALS = {
    "major second": "2",
    "minor third": "b3",
    "major third": "3",
    "perfect fourth": "4",
    "diminished fifth": "b5",
    "perfect fifth": "5",
    "augmented fifth": "#5",
    "added sixth": "6",
    "diminished seventh": "bb7",
    "minor seventh": "b7",
    "major seventh": "7",
    "major ninth": "9",
    "perfect 11th": "11",
    "major 13th": "13",
}


@cache
def standard_kinds() -> dict[str, tuple[Degree, ...]]:
    """Degrees of each kind, worked out from the words of the standard ('major-ninth (major-seventh, major ninth)')."""
    schema = ElementTree.parse(XSD)
    space = {"xs": "http://www.w3.org/2001/XMLSchema"}
    text = schema.findtext(".//xs:simpleType[@name='kind-value']/xs:annotation/xs:documentation", "", space)
    kinds: dict[str, tuple[Degree, ...]] = {}
    for kind, words in re.findall(r"^\s+([\w-]+) \(([^)]*)\)$", text, re.M):
        degrees: list[Degree] = [Degree(1)]
        for word in words.split(", "):
            base = word.removesuffix(" triad").replace("dominant-seventh", "dominant")
            if base in kinds:
                degrees = [*kinds[base]]
            elif word in _INTERVALS:
                degrees.append(Degree.parse(_INTERVALS[word]))
            else:
                break
        else:
            kinds[kind] = tuple(degrees)
    return kinds


def test_the_standard_defines_25_fixed_kinds() -> None:
    assert len(standard_kinds()) == 25  # facts: 25 fixed MusicXML kinds
    assert set(standard_kinds()) <= {q.kind for q in QUALITIES}


def apply(degrees: tuple[Degree, ...], change: KindDegree) -> tuple[Degree, ...]:
    """A degree element, by the words of the standard: added ones against a dominant chord, others against the kind."""
    if change.type == "add":
        dominant = -1 if change.value == 7 else 0
        return (*degrees, Degree(change.value, change.alter + dominant))
    old = next(d for d in degrees if d.number == change.value)
    rest = tuple(d for d in degrees if d is not old)
    return rest if change.type == "subtract" else (*rest, Degree(old.number, old.alteration + change.alter))


@pytest.mark.parametrize("quality", QUALITIES, ids=by_name)
def test_kind_and_degrees_spell_the_chord(quality: Quality) -> None:
    degrees = standard_kinds()[quality.kind]
    for change in quality.kind_degrees:
        degrees = apply(degrees, change)
    assert set(degrees) == set(quality.degrees)


def test_families_of_equal_notes() -> None:
    # facts: 25 kinds x 12 roots give 300 names but 223 pitch-class sets, 55 of them with more than one name
    sets = Counter(
        frozenset((root + d.semitones) % 12 for d in degrees)
        for degrees in standard_kinds().values()
        for root in range(12)
    )
    assert sum(sets.values()) == 300
    assert len(sets) == 223
    assert sum(n > 1 for n in sets.values()) == 55


# ---------------------------------------------------------------- mir_eval: Harte 2005


@pytest.mark.parametrize("quality", QUALITIES, ids=by_name)
def test_harte_form_in_mir_eval(quality: Quality) -> None:
    """mir_eval knows ninths and more only when it may split them into a seventh and added degrees."""
    _, bitmap, _ = mir_eval.chord.encode(f"C:{quality.harte}", reduce_extended_chords=True)
    assert frozenset(np.flatnonzero(bitmap).tolist()) == quality.pitch_classes


# ---------------------------------------------------------------- pychord

PYCHORD_DIFFERS = {
    # our name: what it has more or less, and why we keep ours
    "7b9b13": ({5}, "keeps the eleventh of a thirteenth chord, which players never sound beside a major third"),
    "13b9": ({5}, "keeps the eleventh"),
    "13#9": ({5}, "keeps the eleventh"),
}


def pychord_set(spelling: str) -> frozenset[int] | None:
    try:
        return frozenset(tone % 12 for tone in pychord.Chord("C" + spelling).components(visible=False))
    except ValueError:
        return None


def test_pychord_agrees() -> None:
    compared = 0
    for quality in QUALITIES:
        spellings = [s for s in (quality.written, *quality.also) if "/" not in s]  # it takes every slash for a bass
        theirs = next((s for s in map(pychord_set, spellings) if s is not None), None)
        if theirs is None:
            continue
        compared += 1
        more = PYCHORD_DIFFERS.get(quality.written, (set(), ""))[0]
        assert theirs ^ quality.pitch_classes == more, quality.written
    assert compared >= 50


# ---------------------------------------------------------------- tonal

TONAL_DIFFERS: dict[str, tuple[set[int], str]] = {
    "7b5b9": ({7}, "hears the flat fifth as a sharp eleventh beside the fifth; the label says that the fifth is flat"),
    "7b5#9": ({7}, "the same"),
    "11": ({4}, "leaves out the third, as players do; ours has it among the tones that may be left out"),
    "7b13": ({7}, "leaves out the fifth, which ours may leave out"),
    "9b13": ({7}, "the same"),
    "13": ({5}, "leaves out the eleventh, which ours may leave out"),
    "maj13": ({5}, "the same"),
    "m13": ({5}, "the same"),
    "7alt": ({1, 6}, "takes the sharp fifth and ninth alone; the label leaves the choice to the player"),
}


@cache
def tonal_sets() -> dict[str, frozenset[int]]:
    if not TONAL.is_dir() or which("node") is None:
        pytest.skip("the npm package tonal is not installed: .ci/run fetches it")
    script = f"console.log(JSON.stringify(require({str(TONAL)!r}).ChordType.all()))"
    kinds = json.loads(subprocess.run(["node", "-e", script], capture_output=True, text=True, check=True).stdout)
    return {a: frozenset(i for i, bit in enumerate(k["chroma"]) if bit == "1") for k in kinds for a in k["aliases"]}


def test_tonal_agrees() -> None:
    theirs = tonal_sets()
    compared = 0
    for quality in QUALITIES:
        known = next((theirs[s] for s in (quality.written, *quality.also) if s in theirs), None)
        if known is not None:
            compared += 1
            more = TONAL_DIFFERS.get(quality.written, (set(), ""))[0]
            assert known ^ quality.pitch_classes == more, quality.written
    assert compared >= 50


def test_what_is_never_proposed_is_still_read() -> None:
    assert {q.written for q in QUALITIES if q.rarity == NEVER_PROPOSED} == {"7alt", "m(#5)", "m7#5", "m(addb13)"}
