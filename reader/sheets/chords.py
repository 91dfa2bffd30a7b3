"""Chords as sheets show them: a label, one or more shapes, and words about them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from reader.export.diagram import ROW, draw_frame, nut_line
from reader.export.drawing import SOFT, Drawing, Item, Text, joined, placed
from reader.export.lettering import CAP_HEIGHT, fitted_size
from reader.music.chord import Chord
from reader.music.frame import Frame
from reader.music.label_style import LabelStyle, chord_text, note_text
from reader.music.pitch import NoteName
from reader.music.tuning import Tuning
from reader.sheets.page import LEADING, SheetStyle
from reader.sheets.words import COMPUTED_SIGN

Origin = Literal["library", "computed"]


@dataclass(frozen=True, slots=True)
class SheetShape:
    """A shape on a sheet, and where it comes from."""

    frame: Frame
    origin: Origin = "library"
    remark: str = ""


@dataclass(frozen=True, slots=True)
class SheetChord:
    """A chord on a sheet; the first shape is the one to learn, the others are further ways.

    Parameters
    ----------
    chord : Chord
    shapes : tuple of SheetShape
        At least one.
    """

    chord: Chord
    shapes: tuple[SheetShape, ...]

    @property
    def main(self) -> SheetShape:
        """The shape to learn."""
        return self.shapes[0]


def string_names(tuning: Tuning, style: LabelStyle) -> tuple[str, ...]:
    """Names of the open strings, leftmost first; a string higher than its right neighbour is written small.

    Common practice, no source: the re-entrant string of a ukulele is a small g.
    """
    names = [note_text(_usual_spelling(pitch % 12), style) for pitch in tuning.pitches]
    higher = [a > b for a, b in zip(tuning.pitches, tuning.pitches[1:], strict=False)] + [False]
    return tuple(name.lower() if up else name for name, up in zip(names, higher, strict=True))


_USUAL = tuple(NoteName.parse(n) for n in ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"))


def _usual_spelling(pitch_class: int) -> NoteName:
    return _USUAL[pitch_class]


def under_strings(frame: Frame, chord: Chord | None, tuning: Tuning, style: SheetStyle) -> tuple[str, ...]:
    """What stands under each string: its name, the note it sounds, or that note's degree in the chord."""
    if style.under == "none":
        return ()
    if style.under == "strings" or chord is None:
        return string_names(tuning, style.labels)
    named = {**_bass(chord, style), **{n.pitch_class: _spoken(chord, n, style) for n in chord.notes}}
    sounding = tuning.sounding(frame.shape)
    return tuple(
        "" if p is None else named.get(p % 12, note_text(_usual_spelling(p % 12), style.labels)) for p in sounding
    )


def _spoken(chord: Chord, note: NoteName, style: SheetStyle) -> str:
    if style.under == "notes":
        return note_text(note, style.labels)
    degree = next(d for d in chord.degrees if chord.root.above(d) == note)
    return str(degree).replace("b", "♭").replace("#", "♯")


def _bass(chord: Chord, style: SheetStyle) -> dict[int, str]:
    if chord.bass is None:
        return {}
    text = note_text(chord.bass, style.labels)
    if style.under == "degrees":
        text = str(chord.root.degree_of(chord.bass)).replace("b", "♭").replace("#", "♯")
    return {chord.bass.pitch_class: text}


def draw_chord(
    item: SheetChord, number: int, tuning: Tuning, style: SheetStyle, gap: float, caption: Sequence[str] = ()
) -> Drawing:
    """One shape of a chord with its label above and short lines under it.

    Parameters
    ----------
    item : SheetChord
    number : int
        Which of its shapes; the label is printed above the first one only.
    tuning : Tuning
    style : SheetStyle
    gap : float, millimetres
        Between strings, on a usual sheet.
    caption : sequence of str
        Lines under the diagram; they shrink to its width.
    """
    shape = item.shapes[number]
    title = chord_text(item.chord, style.labels)
    under = under_strings(shape.frame, item.chord, tuning, style)
    drawing = draw_frame(shape.frame, title, under=under, pitches=tuning.pitches, style=style.frames(gap))
    return captioned(drawing, caption, style)


def computed_mark(shape: SheetShape) -> str:
    """The sign of a shape that the library lacks, else nothing."""
    return COMPUTED_SIGN if shape.origin == "computed" else ""


def captioned(drawing: Drawing, lines: Sequence[str], style: SheetStyle, width: float | None = None) -> Drawing:
    """A drawing with centred lines under it; each shrinks to the width rather than touch its neighbour."""
    width = max(width or 0.0, drawing.width)
    size, y = style.sizes.small, drawing.height
    texts: list[Item] = []
    for line in lines:
        if line:
            y += size * LEADING
            fits = fitted_size(line, width, size)
            texts.append(Text(drawing.width / 2, y - size * (LEADING - CAP_HEIGHT) / 2, line, fits, "middle", ink=SOFT))
    words = Drawing(width, y, tuple(texts))
    return joined(drawing.width, y, [drawing, words], drawing.title, drawing.description)


WORDS_APART = 2.0  # millimetres between a diagram and the words beside it


def beside(diagram: Drawing, words: Drawing, style: SheetStyle, gap: float) -> Drawing:
    """A diagram and the words at its right, which begin below its first space: a left-handed fret number stands there.

    Parameters
    ----------
    diagram : Drawing
        As from `draw_chord` with this ``style`` and ``gap``.
    words : Drawing
    style : SheetStyle
    gap : float, millimetres
    """
    frames = style.frames(gap)
    x, y = diagram.width + WORDS_APART, nut_line(frames) + ROW * frames.gap
    height = max(diagram.height, y + words.height)
    return joined(x + words.width, height, [diagram, placed(words, x, y)], "", "")
