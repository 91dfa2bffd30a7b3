"""MEI 5.0: the shapes as a chord table, and a measure for each with the harmony that refers to it.

Strings carry `tab.string` (1 is the rightmost of an upright diagram) and `tab.fret`, absolute; later versions of MEI
call them courses. A chordDef says where its window begins (`tab.pos`) and the open strings (`tab.strings`, leftmost
first). MEI has no word for an alternative name: further names are written as implied harmonies.
"""

from __future__ import annotations

from lxml import etree

from reader.errors import ExportError, NotationError
from reader.export import Exported
from reader.export.sounding import Sounding, by_tuning
from reader.export.tab_mei import NAMESPACE, VERSION, to_tab_mei
from reader.export.tab_musicxml import spelled
from reader.export.titles import printed, tab_stem
from reader.interpret_tabs import as_tab
from reader.library.collection import Collection
from reader.music.frame import Barre, Frame
from reader.music.naming import StringNote
from reader.music.pitch import Degree, Pitch

XML_ID = "{http://www.w3.org/XML/1998/namespace}id"
HIGHEST_BARRE = 5
"""The last fret that MEI 5.0 lets a barre have; above it the barre is written without its fret."""

_ACCIDENTALS = {-2: "ff", -1: "f", 1: "s", 2: "ss"}
_OCTAVE = 7
_INTERVALS = {"perfect": "P", "major": "M", "minor": "m", "augmented": "A", "diminished": "d"}
_GENERAL_NOTE = "the number of frets drawn, confidence, flags and sources have no place in MEI; they are in the JSON."


def to_mei(collection: Collection) -> Exported:
    """A collection as MEI: the shapes of all tunings in one file, each tab in one of its own."""
    parts, notes = by_tuning(collection)
    files = {}
    if parts:
        files["shapes.mei"] = _encode(_document(collection.title, list(parts.values()), notes))
    for tab in collection.tabs:
        try:
            files[f"tabs/{tab_stem(tab)}.mei"] = to_tab_mei(as_tab((tab.standing.tab,))).encode("utf-8")
        except (ExportError, NotationError) as error:
            notes.append(f"left out {tab_stem(tab)}: {error}")
    return Exported(files, (_GENERAL_NOTE, *notes))


def _encode(root: etree._Element) -> bytes:
    text: str = etree.tostring(root, pretty_print=True, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}'.encode()


def _document(title: str, parts: list[list[Sounding]], notes: list[str]) -> etree._Element:
    root = etree.Element(f"{{{NAMESPACE}}}mei", nsmap={None: NAMESPACE}, meiversion=VERSION)
    description = _sub(_sub(root, "meiHead"), "fileDesc")
    _sub(_sub(description, "titleStmt"), "title").text = title
    _sub(description, "pubStmt")
    score = _sub(_sub(_sub(_sub(root, "music"), "body"), "mdiv"), "score")
    definition = _sub(score, "scoreDef")
    table = _sub(definition, "chordTable")
    staves = _sub(definition, "staffGrp")
    staff = _sub(staves, "staffDef", n="1", lines="5")
    staff.set("clef.shape", "G")
    staff.set("clef.line", "2")
    section = _sub(score, "section")
    number = 0
    for part in parts:
        for heard in part:
            number += 1
            _add_definition(table, heard, f"c{number}", notes)
            _add_measure(section, heard, number)
    return root


def _sub(parent: etree._Element, name: str, **attributes: str) -> etree._Element:
    return etree.SubElement(parent, f"{{{NAMESPACE}}}{name}", attributes)


# ---------------------------------------------------------------- chord table


def _add_definition(table: etree._Element, heard: Sounding, key: str, notes: list[str]) -> None:
    frame = heard.entry.frame
    node = _sub(table, "chordDef")
    node.set(XML_ID, key)
    node.set("label", heard.names[0].text)
    node.set("tab.pos", str(frame.first_fret))
    node.set("tab.strings", " ".join(_pitch_text(spelled(p)) for p in heard.tuning.pitches))
    if any(fret is None and finger is not None for fret, finger in zip(frame.frets, frame.fingers, strict=True)):
        notes.append(f"the finger on a muted string of {frame.shape} is left out.")
    for index, note in enumerate(heard.notes):
        _add_member(node, frame, index, note, f"{key}s{frame.string_count - index}")
    for barre in frame.barres:
        _add_barre(node, frame, barre, key, notes)


def _add_member(node: etree._Element, frame: Frame, index: int, note: StringNote | None, key: str) -> None:
    member = _sub(node, "chordMember")
    member.set(XML_ID, key)
    member.set("tab.string", str(frame.string_count - index))
    fret, finger = frame.frets[index], frame.fingers[index]
    if note is None or fret is None:
        member.set("tab.fing", "x")
        return
    member.set("pname", note.pitch.name.step.lower())
    member.set("oct", str(note.pitch.octave))
    if note.pitch.name.alteration:
        member.set("accid.ges", _ACCIDENTALS[note.pitch.name.alteration])
    if note.degree is not None and (interval := _interval(note.degree)):
        member.set("inth", interval)
    member.set("tab.fret", str(fret))
    if fret == 0:
        member.set("tab.fing", "o")
    elif finger is not None:
        member.set("tab.fing", str(finger).lower())


def _add_barre(node: etree._Element, frame: Frame, barre: Barre, key: str, notes: list[str]) -> None:
    made = _sub(node, "barre", startid=f"#{key}s{barre.from_string}", endid=f"#{key}s{barre.to_string}")
    if barre.fret <= HIGHEST_BARRE:
        made.set("fret", str(barre.fret))
    else:
        notes.append(
            f"the barre of {frame.shape} is written without its fret, {barre.fret}: MEI counts barres up to 5."
        )


def _interval(degree: Degree) -> str | None:
    """A degree above the root in MEI's letters; None for doubly altered ones.

    Examples
    --------
    >>> _interval(Degree(3, -1)), _interval(Degree(5)), _interval(Degree(11, 1))
    ('m3', 'P5', 'A11')
    """
    kind = _INTERVALS.get(degree.interval_name.split()[0])
    return None if kind is None else f"{kind}{degree.number}"


def _pitch_text(pitch: Pitch) -> str:
    return f"{pitch.name.step.lower()}{pitch.octave}{_ACCIDENTALS.get(pitch.name.alteration, '')}"


# ---------------------------------------------------------------- measures


def _add_measure(section: etree._Element, heard: Sounding, number: int) -> None:
    measure = _sub(section, "measure", n=str(number), metcon="false")
    layer = _sub(_sub(measure, "staff", n="1"), "layer", n="1")
    chord = _sub(layer, "chord", dur="1")
    chord.set(XML_ID, f"n{number}")
    for note in sorted((n.pitch for n in heard.notes if n is not None), key=lambda p: p.midi):
        made = _sub(chord, "note", pname=note.name.step.lower(), oct=str(note.octave))
        if note.name.alteration:
            made.set("accid", _ACCIDENTALS[note.name.alteration])
    for place, name in enumerate(heard.names):
        harmony = _sub(measure, "harm", staff="1", startid=f"#n{number}", chordref=f"#c{number}")
        harmony.set("form", "implied" if place else "explicit")
        harmony.text = printed(name.text)
