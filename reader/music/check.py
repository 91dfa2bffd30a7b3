"""Does the label match the dots, and if not, which of the two is wrong?"""

from __future__ import annotations

from dataclasses import dataclass

from reader.music.chord import ROOT, Chord
from reader.music.judging import Verdict, judge
from reader.music.label import NoChord, Unparsed, parse_label
from reader.music.label_style import STYLE_OF_NAMES, LabelStyle, NoteNames, note_text
from reader.music.naming import best_chord_text
from reader.music.pitch import Degree
from reader.music.repairs import Repair, find_repairs
from reader.music.shape import Shape
from reader.music.tuning import Tuning

__all__ = ["LabelCheck", "Repair", "Verdict", "check_label", "judge"]


@dataclass(frozen=True, slots=True)
class LabelCheck:
    """What a label says against what the dots spell.

    Parameters
    ----------
    verdict : str
        ``same``; ``inversion``: the same notes over another bass; ``short``:
        a tone or the root left out; ``family``: the same notes, but the bass
        makes another name of them; ``different``; ``unparsed``.
    sentence : str
        One sentence for a person.
    missing : tuple of Degree
        Degrees of the label that do not sound.
    repairs : tuple of Repair
        Where they do not agree, likeliest first.
    """

    verdict: Verdict
    sentence: str
    missing: tuple[Degree, ...] = ()
    repairs: tuple[Repair, ...] = ()

    @property
    def agrees(self) -> bool:
        """Whether label and dots can both be right; a missing third is no agreement."""
        return _agrees(self.verdict, self.missing)


def check_label(
    shape: Shape, tuning: Tuning, label: str, note_names: NoteNames = "english", most_repairs: int = 5
) -> LabelCheck:
    """Hold a label against a shape.

    Parameters
    ----------
    shape : Shape
    tuning : Tuning
    label : str
        As written.
    note_names : {'english', 'german', 'solfege'}
    most_repairs : int
        Repairs returned at most, for a label that differs.

    Raises
    ------
    NotationError
        When shape and tuning differ in strings.

    Examples
    --------
    >>> from reader.music.tuning import get_tuning
    >>> check_label(Shape.parse("0232"), get_tuning("ukulele"), "G").verdict
    'same'
    >>> check_label(Shape.parse("320003"), get_tuning("guitar"), "G7").sentence
    'The label says G7; the dots spell G; G7 would have the first string at fret 1.'
    """
    tuning.check_strings(shape)
    wanted = parse_label(label, note_names)
    if isinstance(wanted, Unparsed):
        return LabelCheck("unparsed", wanted.reason)
    if isinstance(wanted, NoChord):
        return _check_silence(tuning.lowest(shape) is None)
    style = STYLE_OF_NAMES[note_names]
    verdict, missing = judge(wanted, shape, tuning)
    repairs: tuple[Repair, ...] = ()
    if not _agrees(verdict, missing):
        repairs = find_repairs(wanted, label, shape, tuning, style)[:most_repairs]
    sounds = best_chord_text(shape, tuning, style)
    sentence = _sentence(verdict, label, sounds, _gone(wanted, missing, style), repairs)
    return LabelCheck(verdict, sentence, missing, repairs)


def _check_silence(silent: bool) -> LabelCheck:
    if silent:
        return LabelCheck("same", "The label says that nothing is played, and no string sounds.")
    return LabelCheck("different", "The label says that nothing is played, but strings sound.")


def _agrees(verdict: Verdict, missing: tuple[Degree, ...]) -> bool:
    if verdict == "short":
        return not any(d.number == 3 for d in missing)
    return verdict in ("same", "inversion", "family")


def _gone(wanted: Chord, missing: tuple[Degree, ...], style: LabelStyle) -> str:
    """What does not sound, in words: the bass, where no degree is missing."""
    if not missing:
        return f"the bass {note_text(wanted.bass_or_root, style)}"
    words = ("root" if d == ROOT else d.interval_name for d in missing)
    notes = (note_text(wanted.root.above(d), style) for d in missing)
    return " and ".join(f"{note} ({word})" for note, word in zip(notes, words, strict=True))


def _sentence(verdict: Verdict, label: str, sounds: str, gone: str, repairs: tuple[Repair, ...]) -> str:
    other_dots = next((f"; {r.sentence}" for r in repairs if r.kind != "label"), "")
    texts: dict[Verdict, str] = {
        "same": f"The label {label} matches the dots.",
        "inversion": f"The label {label} matches the dots over another bass: {sounds}.",
        "short": f"The label {label} matches the dots without {gone}{other_dots}.",
        "family": f"The label {label} has the notes of the dots; their bass makes them {sounds}.",
        "different": f"The label says {label}; the dots spell {sounds}{other_dots}.",
    }
    return texts[verdict]
