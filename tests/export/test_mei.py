"""MEI: valid by the official schema, and the chord table says what the frames say."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest
from lxml import etree
from tab_samples import SCHEMAS

from reader.export.mei import XML_ID, to_mei
from reader.export.tab_mei import NAMESPACE
from reader.library.collection import Collection
from reader.music.frame import Barre, Frame

NS = {"m": NAMESPACE}
SEMITONES = {"c": 0, "d": 2, "e": 4, "f": 5, "g": 7, "a": 9, "b": 11}
ALTERATIONS = {"ff": -2, "f": -1, "s": 1, "ss": 2, None: 0}


@cache
def schema() -> etree.RelaxNG:
    # MEI 5.0, all modules, Music Encoding Initiative
    return etree.RelaxNG(etree.parse(SCHEMAS / "mei-all-5.0.rng"))


def document(collection: Collection) -> etree._Element:
    return etree.fromstring(to_mei(collection).files["shapes.mei"])


def member_pitch(member: etree._Element) -> int:
    alteration = ALTERATIONS[member.get("accid.ges")]
    return SEMITONES[member.get("pname")] + alteration + 12 * (int(member.get("oct")) + 1)


def test_everything_is_valid(collection: Collection) -> None:
    for name, data in to_mei(collection).files.items():
        assert schema().validate(etree.fromstring(data)), (name, schema().error_log)


def test_the_chord_table_says_strings_frets_fingers_and_pitches(collection: Collection) -> None:
    definitions = document(collection).findall(".//m:chordDef", NS)
    entries = {c.entry.name: c.entry for c in collection.entries if c.entry.name}
    assert len(definitions) == len([c for c in collection.entries if c.entry.name])
    b_flat = next(d for d in definitions if d.get("label") == "Bb")
    said = {
        int(m.get("tab.string")): (m.get("tab.fret"), m.get("tab.fing")) for m in b_flat.findall("m:chordMember", NS)
    }
    assert said == {4: ("3", "3"), 3: ("2", "2"), 2: ("1", "1"), 1: ("1", "1")}
    assert b_flat.get("tab.strings") == "g4 c4 e4 a4"
    # 3211 on g4 C4 E4 A4 sounds B flat, D, F, B flat (common practice, no source)
    assert [member_pitch(m) for m in b_flat.findall("m:chordMember", NS)] == [70, 62, 65, 70]
    barre = b_flat.find("m:barre", NS)
    ends = {m.get(XML_ID): m.get("tab.string") for m in b_flat.findall("m:chordMember", NS)}
    assert [ends[barre.get(a).removeprefix("#")] for a in ("startid", "endid")] == ["2", "1"]
    assert barre.get("fret") == "1"
    assert entries["Bb"].frame.barres == (Barre(1, 2, 1),)


def test_muted_open_and_thumb(collection: Collection) -> None:
    definitions = {d.get("label"): d for d in document(collection).findall(".//m:chordDef", NS)}
    said = [m.get("tab.fing") for m in definitions["Gm"].findall("m:chordMember", NS)]
    assert said == ["x", "1", "3", "4", "2", "x"]
    thumb = definitions["D/F#"].findall("m:chordMember", NS)
    assert [m.get("tab.fing") for m in thumb] == ["t", "x", "o", "1", "3", "2"]
    assert definitions["Gm"].get("tab.pos") == "10"
    assert [m.get("tab.fing") for m in definitions["Am"].findall("m:chordMember", NS)] == [None, "o", "o", "o"]


def test_harmonies_refer_to_the_table_and_carry_every_name(collection: Collection) -> None:
    root = document(collection)
    known = {d.get(XML_ID) for d in root.findall(".//m:chordDef", NS)}
    harmonies = root.findall(".//m:harm", NS)
    assert {h.get("chordref").removeprefix("#") for h in harmonies} == known
    assert [(h.text, h.get("form")) for h in harmonies if h.text in ("Am7", "C6")] == [
        ("Am7", "explicit"),
        ("C6", "implied"),
    ]
    assert any(h.text == "F♯m" for h in harmonies)


def test_intervals_count_from_the_root(collection: Collection) -> None:
    definitions = {d.get("label"): d for d in document(collection).findall(".//m:chordDef", NS)}
    # common practice, no source: A minor on 2000 is A C E A: root, minor third, fifth, root
    assert [m.get("inth") for m in definitions["Am"].findall("m:chordMember", NS)] == ["P1", "m3", "P5", "P1"]


def test_barres_above_the_fifth_fret_are_noted(
    collect_frames: Callable[[list[tuple[Frame, str]]], Collection],
) -> None:
    exported = to_mei(collect_frames([(Frame((8, 8, 8, 8), (1, 1, 1, 1), 4, 8, (Barre(8, 4, 1),)), "ukulele")]))
    assert any("barre of 8888 is written without its fret, 8" in note for note in exported.notes)
    barre = etree.fromstring(exported.files["shapes.mei"]).find(".//m:barre", NS)
    assert barre.get("fret") is None


def test_an_engraver_draws_it(collection: Collection) -> None:
    verovio = pytest.importorskip("verovio", reason="verovio, the engraver, is not installed")
    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    assert toolkit.loadData(to_mei(collection).files["shapes.mei"].decode())
    drawn = toolkit.renderToSVG(1)
    assert "Am7" in drawn
    assert drawn.count('class="chord"') > 5
