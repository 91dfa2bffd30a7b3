"""MusicXML 4.0: every shape as a harmony with its frame, over the notes that it sounds.

One part per tuning, one measure per shape. `string` 1 is the rightmost string of an upright diagram; `fret` is
absolute. A muted string is a string without a frame-note. Further names follow as harmonies of the type
`alternate`. A library says no rhythm: the time is `senza-misura`, and the whole notes stand for nothing but the sound.
"""

from __future__ import annotations

from dataclasses import replace

from lxml import etree

from reader.errors import ExportError, NotationError
from reader.export import Exported
from reader.export.sounding import Sounding, by_tuning
from reader.export.tab_musicxml import DOCTYPE, to_tab_musicxml
from reader.export.titles import tab_stem
from reader.interpret_tabs import as_tab
from reader.library.collection import Collection
from reader.music.chord import Chord
from reader.music.frame import Barre, Frame
from reader.music.naming import Name
from reader.music.pitch import NoteName, Pitch
from reader.music.tuning import Tuning

WHOLE = 4
"""Divisions of a whole note: a quarter note has one."""
TREBLE_FLOOR, OCTAVE_TREBLE_FLOOR = 55, 38
"""MIDI numbers; when the lowest open string lies below, notes get the octave treble clef, or the bass clef."""

_GENERAL_NOTE = "confidence, flags and sources have no place in a score; they are in the JSON."


def to_musicxml(collection: Collection) -> Exported:
    """A collection as MusicXML: the shapes in one score, each tab in one of its own."""
    parts, notes = by_tuning(collection)
    files = {}
    if parts:
        score = etree.Element("score-partwise", version="4.0")
        etree.SubElement(etree.SubElement(score, "work"), "work-title").text = collection.title
        listing = etree.SubElement(score, "part-list")
        for number, heard in enumerate(parts.values(), 1):
            name = etree.SubElement(etree.SubElement(listing, "score-part", id=f"P{number}"), "part-name")
            name.text = heard[0].tuning.name
        for number, heard in enumerate(parts.values(), 1):
            score.append(_part(number, heard, notes))
        files["shapes.musicxml"] = encode(score)
    for tab in collection.tabs:
        try:
            files[f"tabs/{tab_stem(tab)}.musicxml"] = to_tab_musicxml(as_tab((tab.standing.tab,))).encode("utf-8")
        except (ExportError, NotationError) as error:
            notes.append(f"left out {tab_stem(tab)}: {error}")
    return Exported(files, (_GENERAL_NOTE, *notes))


def encode(score: etree._Element) -> bytes:
    """A score as a file with its declaration and document type."""
    text = etree.tostring(score, pretty_print=True, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{DOCTYPE}\n{text}'.encode()


def _part(number: int, heard: list[Sounding], notes: list[str]) -> etree._Element:
    part = etree.Element("part", id=f"P{number}")
    for place, sounding in enumerate(heard, 1):
        measure = etree.SubElement(part, "measure", number=str(place))
        if place == 1:
            measure.append(_attributes(sounding.tuning))
        measure.append(_harmony(sounding.names[0], "explicit", sounding, _frame(sounding.entry.frame, notes)))
        for name in sounding.names[1:]:
            measure.append(_harmony(name, "alternate", sounding, None))
        _add_notes(measure, sounding)
    return part


def _attributes(tuning: Tuning) -> etree._Element:
    node = etree.Element("attributes")
    etree.SubElement(node, "divisions").text = "1"
    etree.SubElement(etree.SubElement(node, "time"), "senza-misura")
    clef = etree.SubElement(node, "clef")
    lowest = min(tuning.pitches)
    bass = lowest < OCTAVE_TREBLE_FLOOR
    etree.SubElement(clef, "sign").text = "F" if bass else "G"
    etree.SubElement(clef, "line").text = "4" if bass else "2"
    if OCTAVE_TREBLE_FLOOR <= lowest < TREBLE_FLOOR:
        etree.SubElement(clef, "clef-octave-change").text = "-1"
    return node


# ---------------------------------------------------------------- harmony


def _harmony(name: Name, kind: str, sounding: Sounding, frame: etree._Element | None) -> etree._Element:
    node = etree.Element("harmony", type=kind)
    if name.chord is None:
        _add_note_name(node, "root", _lowest(sounding).name)
        etree.SubElement(node, "kind", text=name.text).text = "other"
    else:
        _add_chord(node, name.chord)
    if frame is not None:
        node.append(frame)
    return node


def _add_chord(node: etree._Element, chord: Chord) -> None:
    _add_note_name(node, "root", chord.root)
    suffix = str(replace(chord, root=NoteName("C"), bass=None))[1:]
    etree.SubElement(node, "kind", text=suffix).text = chord.quality.kind
    if chord.bass is not None:
        _add_note_name(node, "bass", chord.bass)
    degrees = [(d.value, d.alter, d.type) for d in chord.quality.kind_degrees]
    # An added seventh is counted from the minor seventh of a dominant chord; every other degree from the major scale.
    degrees += [(d.number, d.alteration + (d.number == 7), "add") for d in chord.added]
    degrees += [(d.number, 0, "subtract") for d in chord.omitted]
    for value, alter, kind in degrees:
        # The text of the kind says it already.
        degree = etree.SubElement(node, "degree")
        degree.set("print-object", "no")
        etree.SubElement(degree, "degree-value").text = str(value)
        etree.SubElement(degree, "degree-alter").text = str(alter)
        etree.SubElement(degree, "degree-type").text = kind


def _add_note_name(parent: etree._Element, tag: str, name: NoteName) -> None:
    node = etree.SubElement(parent, tag)
    etree.SubElement(node, f"{tag}-step").text = name.step
    if name.alteration:
        etree.SubElement(node, f"{tag}-alter").text = str(name.alteration)


def _lowest(sounding: Sounding) -> Pitch:
    return min((n.pitch for n in sounding.notes if n is not None), key=lambda p: p.midi)


# ---------------------------------------------------------------- frame


def _frame(frame: Frame, notes: list[str]) -> etree._Element:
    node = etree.Element("frame", unplayed="x")
    etree.SubElement(node, "frame-strings").text = str(frame.string_count)
    etree.SubElement(node, "frame-frets").text = str(frame.fret_count)
    if frame.first_fret > 1:
        etree.SubElement(node, "first-fret").text = str(frame.first_fret)
    ends = _barre_ends(frame, notes)
    for index, fret in enumerate(frame.frets):
        if fret is None:
            if frame.fingers[index] is not None:
                notes.append(f"the finger on a muted string of {frame.shape} is left out.")
            continue
        place = etree.SubElement(node, "frame-note")
        etree.SubElement(place, "string").text = str(frame.string_count - index)
        etree.SubElement(place, "fret").text = str(fret)
        if frame.fingers[index] is not None:
            etree.SubElement(place, "fingering").text = str(frame.fingers[index])
        if index in ends:
            etree.SubElement(place, "barre", type=ends[index])
    return node


def _barre_ends(frame: Frame, notes: list[str]) -> dict[int, str]:
    """Where barres start and stop, by index of string; a barre that no two frame-notes can bear is noted."""
    ends: dict[int, str] = {}
    for barre in frame.barres:
        strings = _strings_at(frame, barre)
        if len(strings) < 2 or strings[0] in ends or strings[-1] in ends:
            notes.append(f"the barre at fret {barre.fret} of {frame.shape} has too few strings of its own to be said.")
            continue
        ends |= {strings[0]: "start", strings[-1]: "stop"}
    return ends


def _strings_at(frame: Frame, barre: Barre) -> list[int]:
    return [i for i, f in enumerate(frame.frets) if f == barre.fret and barre.covers(i, frame.string_count)]


# ---------------------------------------------------------------- notes


def _add_notes(measure: etree._Element, sounding: Sounding) -> None:
    frame = sounding.entry.frame
    heard = [(i, n.pitch) for i, n in enumerate(sounding.notes) if n is not None]
    for place, (index, pitch) in enumerate(sorted(heard, key=lambda pair: pair[1].midi)):
        note = etree.SubElement(measure, "note")
        if place:
            etree.SubElement(note, "chord")
        _add_pitch(note, pitch)
        etree.SubElement(note, "duration").text = str(WHOLE)
        etree.SubElement(note, "type").text = "whole"
        technical = etree.SubElement(etree.SubElement(note, "notations"), "technical")
        etree.SubElement(technical, "string").text = str(frame.string_count - index)
        etree.SubElement(technical, "fret").text = str(frame.frets[index])


def _add_pitch(note: etree._Element, pitch: Pitch) -> None:
    node = etree.SubElement(note, "pitch")
    etree.SubElement(node, "step").text = pitch.name.step
    if pitch.name.alteration:
        etree.SubElement(node, "alter").text = str(pitch.name.alteration)
    etree.SubElement(node, "octave").text = str(pitch.octave)
