"""MEI 5.0: a tab as a TAB staff; every note says its string and fret (``tab.string``, ``tab.fret``) and its pitch.

No ``dur`` is written anywhere: the schema leaves it out freely, and the page did not say it. Measures carry
``metcon="false"``, 'not metrically conformant'. MEI 5.0 names strings ``tab.string``; later versions rename it.
"""

from __future__ import annotations

from lxml import etree

from reader.export.tab_musicxml import spelled, tab_tuning
from reader.music.pitch import Pitch
from reader.music.tab import Group, Measure, Note, Tab, note_pitch
from reader.music.tuning import Tuning

NAMESPACE = "http://www.music-encoding.org/ns/mei"
VERSION = "5.0"
BAR_FORMS = {
    "none": "invis",
    "single": "single",
    "double": "dbl",
    "final": "end",
    "repeat-start": "rptstart",
    "repeat-end": "rptend",
    "repeat-both": "rptboth",
}
ACCIDENTALS = {-1: "f", 1: "s"}


def to_tab_mei(tab: Tab, title: str = "") -> str:
    """A tab as MEI 5.0 text."""
    tuning = tab_tuning(tab)
    mei = etree.Element(f"{{{NAMESPACE}}}mei", nsmap={None: NAMESPACE}, meiversion=VERSION)
    _head(mei, title or "Tablature")
    score = _sub(_sub(_sub(_sub(mei, "music"), "body"), "mdiv"), "score")
    group = _sub(_sub(score, "scoreDef"), "staffGrp")
    strings = " ".join(_open_string(spelled(p)) for p in reversed(tuning.pitches))
    staff = _sub(group, "staffDef", n="1", lines=str(tab.line_count), notationtype="tab")
    staff.set("tab.strings", strings)
    staff.set("clef.shape", "TAB")
    staff.set("clef.line", str(tab.line_count))
    section = _sub(score, "section")
    for number, measure in enumerate(tab.measures, 1):
        _measure(section, measure, number, tuning)
    text: str = etree.tostring(mei, pretty_print=True, encoding="unicode")
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + text


def _sub(parent: etree._Element, name: str, **attributes: str) -> etree._Element:
    return etree.SubElement(parent, f"{{{NAMESPACE}}}{name}", attributes)


def _head(mei: etree._Element, title: str) -> None:
    description = _sub(_sub(mei, "meiHead"), "fileDesc")
    _sub(_sub(description, "titleStmt"), "title").text = title
    _sub(description, "pubStmt")


def _open_string(pitch: Pitch) -> str:
    return f"{pitch.name.step.lower()}{pitch.octave}{ACCIDENTALS.get(pitch.name.alteration, '')}"


def _measure(section: etree._Element, measure: Measure, number: int, tuning: Tuning) -> None:
    node = _sub(section, "measure", n=str(number), metcon="false", right=BAR_FORMS[measure.bar])
    if measure.opening != "none":
        node.set("left", BAR_FORMS[measure.opening])
    layer = _sub(_sub(node, "staff", n="1"), "layer", n="1")
    for i, group in enumerate(measure.groups):
        name = f"m{number}g{i + 1}"
        _group(layer, group, name, tuning)
        if group.text:
            _sub(node, "dir", startid=f"#{name}", place="above").text = group.text


def _group(layer: etree._Element, group: Group, name: str, tuning: Tuning) -> None:
    node = layer if len(group.notes) == 1 else _sub(layer, "chord")
    if node is not layer:
        node.set("{http://www.w3.org/XML/1998/namespace}id", name)
    for note in group.notes:
        made = _note(node, note, tuning)
        if node is layer:
            made.set("{http://www.w3.org/XML/1998/namespace}id", name)


def _note(parent: etree._Element, note: Note, tuning: Tuning) -> etree._Element:
    node = _sub(parent, "note")
    node.set("tab.string", str(note.string))
    midi = note_pitch(note, tuning)
    if midi is None:
        node.set("tab.fing", "x")
        node.set("head.shape", "x")
        return node
    pitch = spelled(midi)
    node.set("tab.fret", str(note.fret))
    node.set("pname", pitch.name.step.lower())
    node.set("oct", str(pitch.octave))
    if pitch.name.alteration:
        node.set("accid.ges", ACCIDENTALS[pitch.name.alteration])
    if note.ghost:
        node.set("enclose", "paren")
    return node
