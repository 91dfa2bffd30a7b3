"""MEI of tabs: valid, every note on its string and fret, no duration anywhere, loaded by an engraver."""

from __future__ import annotations

from functools import cache

import pytest
from hypothesis import given, settings
from lxml import etree
from tab_samples import SCHEMAS, sample_tab, tabs

from reader.export.tab_mei import NAMESPACE, to_tab_mei
from reader.music.tab import Tab, note_pitch
from reader.music.tuning import get_tuning

SEMITONES = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11}
ACCIDENTALS = {None: 0, "s": 1, "f": -1}


@cache
def schema() -> etree.RelaxNG:
    return etree.RelaxNG(etree.parse(SCHEMAS / "mei-all-5.0.rng"))


def parsed(tab: Tab) -> etree._Element:
    return etree.fromstring(to_tab_mei(tab, "Air").encode())


@settings(max_examples=25, deadline=None)
@given(tabs())
def test_any_tab_is_valid(tab: Tab) -> None:
    # schema: MEI 5.0, all modules, Music Encoding Initiative
    document = parsed(tab)
    assert schema().validate(document), schema().error_log


@settings(max_examples=40, deadline=None)
@given(tabs())
def test_strings_frets_and_pitches(tab: Tab) -> None:
    tuning = get_tuning(tab.tuning)
    wanted = [(n.string, n.fret, note_pitch(n, tuning)) for g in tab.groups for n in g.notes]
    found = []
    for note in parsed(tab).iter(f"{{{NAMESPACE}}}note"):
        fret = note.get("tab.fret")
        midi = None
        if fret is not None:
            letter, octave = note.get("pname") or "", int(note.get("oct") or 0)
            midi = 12 * (octave + 1) + SEMITONES[letter] + ACCIDENTALS[note.get("accid.ges")]
        found.append((int(note.get("tab.string") or 0), None if fret is None else int(fret), midi))
    assert found == wanted


def test_no_duration_is_made_up() -> None:
    document = parsed(sample_tab())
    assert not [n for n in document.iter() if n.get("dur") or n.get("dur.ppq")]
    assert {m.get("metcon") for m in document.iter(f"{{{NAMESPACE}}}measure")} == {"false"}


@pytest.mark.parametrize("form", ["mei", "musicxml"])
def test_an_engraver_draws_it(form: str) -> None:
    verovio = pytest.importorskip("verovio", reason="verovio, the engraver, is not installed")
    from reader.export.tab_musicxml import to_tab_musicxml

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    text = to_tab_mei(sample_tab()) if form == "mei" else to_tab_musicxml(sample_tab())
    assert toolkit.loadData(text)
    drawn = toolkit.renderToSVG(1)
    assert drawn.count('class="note') >= len([n for g in sample_tab().groups for n in g.notes])
