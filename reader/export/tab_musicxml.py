"""MusicXML 4.0: a tab as a TAB staff with staff lines, staff tuning, string and fret.

Tab seldom says how long a note lasts. The schema asks for a ``duration`` on every note, so each group gets one
division; the time signature is ``senza-misura`` ("no time signature"), and notes carry no ``type`` and no stem:
order and grouping are written, rhythm is not.
"""

from __future__ import annotations

from lxml import etree

from reader.errors import ExportError
from reader.music.pitch import Pitch
from reader.music.tab import BarKind, Measure, Note, Tab, note_pitch
from reader.music.tuning import Tuning, get_tuning

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
BAR_STYLES = {
    "double": "light-light",
    "final": "light-heavy",
    "repeat-end": "light-heavy",
    "repeat-both": "light-heavy",
}
SIGN_TEXT = {"h": "H", "p": "P", "b": "bend", "~": "~"}
_SPELLED = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


def tab_tuning(tab: Tab) -> Tuning:
    """The tuning of a tab, with as many strings as the tab has lines.

    Raises
    ------
    ExportError
        When none is known or it has another number of strings.
    """
    if not tab.tuning:
        raise ExportError("The tab has no tuning, so its pitches are not known: choose one and export again.")
    tuning = get_tuning(tab.tuning)
    if tuning.string_count != tab.line_count:
        raise ExportError(
            f"The tab has {tab.line_count} lines and the tuning {tuning.id} {tuning.string_count} strings: "
            f"choose a tuning of {tab.line_count} strings."
        )
    return tuning


def spelled(midi: int) -> Pitch:
    """A pitch with the accidental that is usual outside a key.

    Examples
    --------
    >>> str(spelled(63))
    'Eb4'
    """
    return Pitch.parse(f"{_SPELLED[midi % 12]}{midi // 12 - 1}")


def to_tab_musicxml(tab: Tab, title: str = "") -> str:
    """A tab as MusicXML 4.0 text (``score-partwise``)."""
    tuning = tab_tuning(tab)
    score = etree.Element("score-partwise", version="4.0")
    if title:
        etree.SubElement(etree.SubElement(score, "work"), "work-title").text = title
    parts = etree.SubElement(score, "part-list")
    etree.SubElement(etree.SubElement(parts, "score-part", id="P1"), "part-name").text = tuning.instrument
    part = etree.SubElement(score, "part", id="P1")
    before: BarKind = "none"
    for number, measure in enumerate(tab.measures, 1):
        part.append(_measure(measure, number, tuning, measure.opening if number == 1 else before))
        before = measure.bar
    text = etree.tostring(score, pretty_print=True, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{DOCTYPE}\n{text}'


def _measure(measure: Measure, number: int, tuning: Tuning, before: BarKind) -> etree._Element:
    node = etree.Element("measure", number=str(number))
    if number == 1:
        node.append(_attributes(tuning))
    if before in ("repeat-start", "repeat-both"):
        node.append(_barline("left", "heavy-light", "forward"))
    for group in measure.groups:
        if group.text:
            direction = etree.SubElement(node, "direction", placement="above")
            words = etree.SubElement(etree.SubElement(direction, "direction-type"), "words")
            words.text = " ".join(SIGN_TEXT.get(s, s) for s in group.text.split())
        for i, note in enumerate(sorted(group.notes, key=lambda n: -n.string)):
            node.append(_note(note, tuning, joined=i > 0))
    if measure.bar in BAR_STYLES:
        repeat = "backward" if measure.bar in ("repeat-end", "repeat-both") else None
        node.append(_barline("right", BAR_STYLES[measure.bar], repeat))
    return node


def _attributes(tuning: Tuning) -> etree._Element:
    node = etree.Element("attributes")
    etree.SubElement(node, "divisions").text = "1"
    etree.SubElement(etree.SubElement(node, "time"), "senza-misura")
    clef = etree.SubElement(node, "clef")
    etree.SubElement(clef, "sign").text = "TAB"
    etree.SubElement(clef, "line").text = str(tuning.string_count - 1)
    details = etree.SubElement(node, "staff-details")
    etree.SubElement(details, "staff-lines").text = str(tuning.string_count)
    for line, midi in enumerate(tuning.pitches, 1):
        pitch = spelled(midi)
        at = etree.SubElement(details, "staff-tuning", line=str(line))
        etree.SubElement(at, "tuning-step").text = pitch.name.step
        if pitch.name.alteration:
            etree.SubElement(at, "tuning-alter").text = str(pitch.name.alteration)
        etree.SubElement(at, "tuning-octave").text = str(pitch.octave)
    return node


def _note(note: Note, tuning: Tuning, joined: bool) -> etree._Element:
    node = etree.Element("note")
    if joined:
        etree.SubElement(node, "chord")
    midi = note_pitch(note, tuning)
    sounding = note_pitch(Note(note.string, 0), tuning) if midi is None else midi
    assert sounding is not None
    pitch, pitched = spelled(sounding), etree.SubElement(node, "pitch")
    etree.SubElement(pitched, "step").text = pitch.name.step
    if pitch.name.alteration:
        etree.SubElement(pitched, "alter").text = str(pitch.name.alteration)
    etree.SubElement(pitched, "octave").text = str(pitch.octave)
    etree.SubElement(node, "duration").text = "1"
    etree.SubElement(node, "stem").text = "none"
    if midi is None:
        etree.SubElement(node, "notehead").text = "x"
    elif note.ghost:
        etree.SubElement(node, "notehead", parentheses="yes").text = "normal"
    technical = etree.SubElement(etree.SubElement(node, "notations"), "technical")
    etree.SubElement(technical, "string").text = str(note.string)
    etree.SubElement(technical, "fret").text = str(note.fret or 0)
    return node


def _barline(side: str, style: str, repeat: str | None) -> etree._Element:
    node = etree.Element("barline", location=side)
    etree.SubElement(node, "bar-style").text = style
    if repeat:
        etree.SubElement(node, "repeat", direction=repeat)
    return node
