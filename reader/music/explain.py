"""Everything there is to say about one shape: names, notes, fingers, keys, and the label beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from reader.music.check import LabelCheck, check_label
from reader.music.drawn_fingers import hand_problem
from reader.music.fingering import Fingering, usual_fingerings
from reader.music.frame import Frame
from reader.music.harmony import LikelyKey, likely_keys, role
from reader.music.key import Key, parse_key
from reader.music.label_style import PLAIN, LabelStyle, note_text
from reader.music.naming import Name, StringNote, name_shape, notes_of
from reader.music.reasons import key_text
from reader.music.shape import Shape
from reader.music.tuning import Tuning


@dataclass(frozen=True, slots=True)
class Explanation:
    """What a shape is.

    Parameters
    ----------
    shape : Shape
    tuning : Tuning
    names : tuple of Name
        Best first; empty when nothing sounds.
    notes : tuple of (StringNote or None)
        Per string under the best name, leftmost first.
    fingerings : tuple of Fingering
        Most usual first; empty when most hands cannot play it.
    problem : str or None
        What keeps a hand from playing it.
    keys : tuple of LikelyKey
        Likeliest first; the asked-for key alone when one was given.
    label : str or None
    check : LabelCheck or None
    style : LabelStyle
        How names are written.
    """

    shape: Shape
    tuning: Tuning
    names: tuple[Name, ...]
    notes: tuple[StringNote | None, ...]
    fingerings: tuple[Fingering, ...]
    problem: str | None
    keys: tuple[LikelyKey, ...]
    label: str | None
    check: LabelCheck | None
    style: LabelStyle = PLAIN

    def __str__(self) -> str:
        """Everything for a person to read, several lines."""
        return to_text(self)

    @property
    def bass(self) -> StringNote | None:
        """The string note that sounds lowest."""
        sounding = [n for n in self.notes if n is not None]
        lowest = self.tuning.lowest(self.shape)
        if lowest is None:
            return None
        return min(sounding, key=lambda n: ((n.pitch.midi - lowest) % 12, n.pitch.midi))


def explain_shape(
    shape: Shape,
    tuning: Tuning,
    label: str | None = None,
    key: str | None = None,
    style: LabelStyle = PLAIN,
) -> Explanation:
    """Everything there is to say about one shape.

    Parameters
    ----------
    shape : Shape
    tuning : Tuning
    label : str, optional
        What stands beside the diagram, in the note names of ``style``.
    key : str, optional
        ``Bb``, ``F#m``.
    style : LabelStyle

    Raises
    ------
    NotationError
        When shape and tuning differ in strings, or the key is none.

    Examples
    --------
    >>> from reader.music.tuning import get_tuning
    >>> told = explain_shape(Shape.parse("0232"), get_tuning("ukulele"), label="G7")
    >>> told.names[0].text, told.check.verdict
    ('G', 'different')
    """
    the_key = None if key is None else parse_key(key)
    names = name_shape(shape, tuning, label, the_key, style)
    notes = notes_of(shape, tuning, names[0], the_key) if names else tuple(None for _ in shape.frets)
    check = check_label(shape, tuning, label, style.note_names) if label is not None else None
    fingerings = usual_fingerings(shape, tuning)
    problem = hand_problem(_bare_frame(shape), tuning)
    return Explanation(shape, tuning, names, notes, fingerings, problem, _keys(names, the_key), label, check, style)


def _bare_frame(shape: Shape) -> Frame:
    return Frame(shape.frets, (None,) * shape.string_count, fret_count=max(shape.stopped, default=1))


def _keys(names: tuple[Name, ...], key: Key | None) -> tuple[LikelyKey, ...]:
    chord = names[0].chord if names else None
    if chord is None:
        return ()
    if key is not None:
        return (LikelyKey(key, 1.0, (role(chord, key),)),)
    return likely_keys([chord])


# ---------------------------------------------------------------- as an object


def to_object(told: Explanation) -> dict[str, Any]:
    """An explanation as plain lists and dictionaries, ready for ``json.dumps``."""
    out: dict[str, Any] = {
        "shape": str(told.shape),
        "tuning": told.tuning.id,
        "names": [n.text for n in told.names],
        "reasons": [list(n.reasons) for n in told.names],
        "ranks": [n.rank for n in told.names],
        "notes": [None if n is None else str(n.pitch) for n in told.notes],
        "degrees": [None if n is None or n.degree is None else str(n.degree) for n in told.notes],
        "bass": None if told.bass is None else note_text(told.bass.pitch.name, told.style),
        "fingers": list(told.fingerings[0].fingers) if told.fingerings else None,
        "fingerings": [_fingering_object(f) for f in told.fingerings],
        "problem": told.problem,
        "keys": [key_text(k.key, told.style) for k in told.keys],
        "numerals": [k.roles[0].numeral for k in told.keys],
    }
    if told.check is not None:
        out["label"] = told.label
        out["label_check"] = told.check.verdict
        out["label_sentence"] = told.check.sentence
        out["repairs"] = [
            {
                "kind": r.kind,
                "shape": str(r.shape),
                "tuning": r.tuning.id,
                "label": r.label,
                "sentence": r.sentence,
            }
            for r in told.check.repairs
        ]
    return out


def _fingering_object(fingering: Fingering) -> dict[str, Any]:
    hard = fingering.difficulty
    return {
        "fingers": list(fingering.fingers),
        "barres": [{"fret": b.fret, "from_string": b.from_string, "to_string": b.to_string} for b in fingering.barres],
        "difficulty": {
            "level": hard.level,
            "score": hard.score,
            "fingers": hard.fingers,
            "stretch_mm": hard.stretch_mm,
            "barre_strings": hard.barre_strings,
            "skipped_strings": hard.skipped_strings,
        },
    }


# ---------------------------------------------------------------- for a person


def to_text(told: Explanation) -> str:
    """An explanation as a person reads it, several lines."""
    lines = [f"{told.shape}   {told.tuning.name}"]
    lines += [""] + (_name_lines(told) or ["no string sounds"])
    lines += ["", *_string_table(told), ""]
    lines += _finger_lines(told)
    if told.keys:
        keys = ", ".join(f"{key_text(k.key, told.style)} ({k.roles[0].numeral})" for k in told.keys)
        lines.append(f"keys     {keys}")
    if told.check is not None:
        lines += ["", told.check.sentence]
        lines += [f"  or: {r.sentence}" for r in told.check.repairs if r.sentence not in told.check.sentence]
    return "\n".join(lines)


def _name_lines(told: Explanation) -> list[str]:
    texts = [n.text for n in told.names]
    width = max(map(len, texts), default=0)
    lines = [f"{text.ljust(width)}   {'; '.join(n.reasons)}" for text, n in zip(texts, told.names, strict=True)]
    tied = [t for t, n in zip(texts, told.names, strict=True) if n.rank == 1]
    if len(tied) > 1:
        lines.append(f"The notes alone do not tell {', '.join(tied[:-1])} from {tied[-1]}: a label or --key does.")
    return lines


def _string_table(told: Explanation) -> list[str]:
    fingers = told.fingerings[0].fingers if told.fingerings else (None,) * told.shape.string_count
    columns = {
        "string": [str(told.shape.string_count - i) for i in range(told.shape.string_count)],
        "fret": ["x" if f is None else str(f) for f in told.shape.frets],
        "note": ["" if n is None else f"{note_text(n.pitch.name, told.style)}{n.pitch.octave}" for n in told.notes],
        "degree": ["" if n is None or n.degree is None else str(n.degree) for n in told.notes],
        "finger": ["" if f is None else str(f) for f in fingers],
    }
    width = max(len(cell) for cells in columns.values() for cell in cells)
    return [f"{title:<8} {' '.join(c.rjust(width) for c in cells)}".rstrip() for title, cells in columns.items()]


def _finger_lines(told: Explanation) -> list[str]:
    if told.problem or not told.fingerings:
        return [f"fingers  {told.problem}"]
    best = told.fingerings[0]
    if not told.shape.stopped:
        return ["fingers  none needed"]
    hard = best.difficulty
    words = [hard.level, f"{hard.fingers} finger{'s' * (hard.fingers != 1)}"]
    words += [f"barre at fret {b.fret}" for b in best.barres]
    words += [f"reach {hard.stretch_mm:.0f} mm"] if hard.stretch_mm else []
    words += [f"{hard.skipped_strings} inner string{'s' * (hard.skipped_strings != 1)} silent"] * bool(
        hard.skipped_strings
    )
    others = [_finger_row(f) for f in told.fingerings[1:3]]
    lines = [f"fingers  {_finger_row(best)}   {', '.join(words)}"]
    return lines + ([f"         or {', '.join(others)}"] if others else [])


def _finger_row(fingering: Fingering) -> str:
    return " ".join("-" if f is None else str(f) for f in fingering.fingers)
