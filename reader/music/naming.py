"""From strings and frets to the names that a player would write, best first, each with its reasons.

The order is the trade's (common practice, no source): a matching label; the bass is the root, except on re-entrant
instruments, where the lowest string means nothing; the key; the simplest kind of chord with the fewest omissions.
The weights below, and the rarities in the table of qualities, put that order into one number, the cost of a name.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

from reader.music.chord import ROOT, Chord
from reader.music.few_notes import SIMPLE_DEGREES, name_few_notes, name_no_chord
from reader.music.forms import Form, forms, forms_with_added_tones, mask_of, seen_from
from reader.music.judging import judge
from reader.music.key import Key, parse_key
from reader.music.label import parse_label
from reader.music.label_style import PLAIN, LabelStyle, chord_text, note_text
from reader.music.name import Hearing, Name
from reader.music.pitch import Degree, NoteName, Pitch, pitch_of
from reader.music.quality import Quality
from reader.music.reasons import key_text, why_bass, why_notes
from reader.music.shape import Shape
from reader.music.spelling import note_near, plain_note, usual_note, usual_root
from reader.music.tuning import Tuning

__all__ = ["Name", "StringNote", "best_chord_text", "name_shape", "notes_of"]

FEWEST_FOR_CHORD = 3
INVERSION = 1.8
"""Cost of a bass that is another tone of the chord."""
FIFTH_IN_BASS = 1.2
"""Cost when it is the fifth, as under many barre shapes."""
SYMMETRIC_INVERSION = 0.5
"""Cost in a diminished seventh or augmented triad, where every tone can be the root: nobody writes the bass."""
SEVENTH_IN_BASS = 2.2
"""Cost of a seventh heard only as the bass of a triad: Am/G rather than Am7/G."""
FOREIGN_BASS = 2.65
"""Cost of a bass that the chord above it lacks."""
DOUBLED_FOREIGN_BASS = 1.5
"""More, when that note sounds above the bass too and so is heard as part of the chord."""
CLASHING_BASS = 1.2
"""More, for a bass that contradicts the chord: its other third, or the semitone above the root."""
IDLE_SLASH = 1.5
"""More, for a slash name of what is a plain chord in root position: Am7, not C/A."""
ROOT_POSITION = 1.6
"""How rare a complete chord in root position may be to make slash names idle."""
WORDS_FOR_ADDED_TONES = 4.5
"""Added tones are tried where every other name costs more than this."""
IN_KEY = -1.2
ROOTLESS_DOMINANT_IN_KEY = -5.0
"""With a key, a diminished triad is heard as the dominant seventh of one of its chords, without the root: the short D7
of ukulele players in G. Only where no bass says otherwise."""
AS_LABELLED, SHORT_AS_LABELLED = -100.0, 3.0
TIE = 0.6
"""Names whose costs differ by less are told apart by neither the notes nor the bass."""
WORTH_SAYING = 3.0
"""Names that cost so much more than the best are not given, unless they are exact members of its family; nor are names
that lack two tones where another lacks none."""
MOST_MISSING = 3
LEADING_TONE = 6
"""Place of the seventh degree in a scale; no dominant leads to the chord on it."""


@dataclass(frozen=True, slots=True)
class StringNote:
    """What one string sounds: its pitch as the chord spells it, and its degree there."""

    pitch: Pitch
    degree: Degree | None


def name_shape(
    shape: Shape,
    tuning: Tuning,
    label: str | None = None,
    key: str | Key | None = None,
    style: LabelStyle = PLAIN,
) -> tuple[Name, ...]:
    """The names of a shape, best first.

    Parameters
    ----------
    shape : Shape
    tuning : Tuning
    label : str, optional
        What stands beside the diagram, in the note names of ``style``:
        settles between names that fit.
    key : str or Key, optional
        Key of the page: prefers its chords and spells by it.
    style : LabelStyle
        How names and reasons are written.

    Returns
    -------
    tuple of Name
        Every member of the family of equal pitch-class sets; one honest
        answer for one or two pitch classes; empty when nothing sounds.

    Raises
    ------
    NotationError
        When shape and tuning differ in strings, or the key is none.

    Examples
    --------
    >>> from reader.music.tuning import get_tuning
    >>> [n.text for n in name_shape(Shape.parse("002210"), get_tuning("guitar"))]
    ['Am/E']
    >>> [n.text for n in name_shape(Shape.parse("0000"), get_tuning("ukulele"))]
    ['Am7', 'C6']
    """
    the_key = parse_key(key) if isinstance(key, str) else key
    sounding = [p for p in tuning.sounding(shape) if p is not None]
    lowest = tuning.lowest(shape)
    if lowest is None:
        return ()
    bass = lowest % 12
    hearing = Hearing(None if tuning.reentrant else bass, the_key, style)
    mask = mask_of(p % 12 for p in sounding)
    if mask.bit_count() < FEWEST_FOR_CHORD:
        found = [name_few_notes(sounding, lowest, hearing)]
    else:
        doubled = sum(p % 12 == bass for p in sounding) > 1
        found = list(_chord_names(mask, doubled, hearing))
        found.sort(key=lambda n: _order(n, bass))
    if label:
        found = _with_label(found, label, shape, tuning, style)
    return _ranked(found)


def notes_of(shape: Shape, tuning: Tuning, name: Name, key: Key | None = None) -> tuple[StringNote | None, ...]:
    """What each string sounds under a name, leftmost first; None where it is not played.

    Double flats and sharps are written as the plain note that sounds the
    same, as players do.
    """
    return tuple(None if p is None else _string_note(p, name, key) for p in tuning.sounding(shape))


def best_chord_text(shape: Shape, tuning: Tuning, style: LabelStyle = PLAIN) -> str:
    """The first name of a shape; ``nothing`` when no string sounds."""
    names = name_shape(shape, tuning, style=style)
    return names[0].text if names else "nothing"


# ---------------------------------------------------------------- three notes or more


@lru_cache(maxsize=8192)
def _chord_names(mask: int, doubled: bool, hearing: Hearing) -> tuple[Name, ...]:
    found = list(_names_from(forms(), mask, mask, 0.0, hearing))
    if hearing.bass is not None:
        settled = any(n.exact and n.cost <= ROOT_POSITION and n.chord and n.chord.bass is None for n in found)
        more = DOUBLED_FOREIGN_BASS * doubled + IDLE_SLASH * settled
        upper = mask & ~(1 << hearing.bass)
        over_it = _names_from(forms(), upper, mask, more, hearing)
        found += [n for n in over_it if n.exact and n.chord and not n.chord.omitted]
    if not any(n.cost <= WORDS_FOR_ADDED_TONES for n in found):
        found += _names_from(forms_with_added_tones(), mask, mask, 0.0, hearing)
    if not found:
        return (name_no_chord(mask, hearing),)
    found.sort(key=lambda n: n.cost)
    worth = found[0].cost + WORTH_SAYING
    most_missing = 1 if any(n.exact for n in found) else MOST_MISSING
    named: dict[str, Name] = {}
    for name in found:
        if _is_family(name, mask) or (name.cost <= worth and len(name.missing) <= most_missing):
            named.setdefault(name.text, name)
    return tuple(named.values())


def _names_from(
    table: Mapping[int, tuple[Form, ...]], upper: int, mask: int, more: float, hearing: Hearing
) -> Iterator[Name]:
    """Names of the set ``upper``, which is all that sounds or all but the bass."""
    if upper.bit_count() < FEWEST_FOR_CHORD:
        return
    for root in range(12):
        for form in table.get(seen_from(upper, root), ()):
            yield _name(form, root, upper == mask, more, hearing)


def _name(form: Form, root: int, bass_belongs: bool, more: float, hearing: Hearing) -> Name:
    spelled = usual_root(root, form.quality, hearing.key)
    bass = hearing.bass
    slash = None
    cost = form.cost + more
    if bass is not None and bass != root:
        cost += (_inversion_cost if bass_belongs else _foreign_bass_cost)(form.quality, (bass - root) % 12)
        if not (bass_belongs and form.quality.is_symmetric):
            slash = _bass_name(spelled, form, bass, hearing.key)
    chord = Chord(spelled, form.quality, form.added, form.omitted, slash)
    reasons = list(why_notes(chord, form, hearing.style))
    if bass is not None:
        reasons.append(why_bass(chord, bass, hearing.style))
    if hearing.key:
        change, why = _in_key(chord, form, hearing.key, hearing)
        cost += change
        reasons += why
    return Name(chord_text(chord, hearing.style), chord, tuple(reasons), cost, form.missing, root=spelled)


def _is_family(name: Name, mask: int) -> bool:
    """Whether it is a row of the table with exactly these notes, or a plain triad over a bass."""
    chord = name.chord
    if chord is None or not name.exact or chord.added or chord.omitted:
        return False
    return mask_of(chord.without_bass().pitch_classes) == mask or chord.quality.written in ("", "m")


def _inversion_cost(quality: Quality, interval: int) -> float:
    if quality.is_symmetric:
        return SYMMETRIC_INVERSION
    return FIFTH_IN_BASS if interval == 7 else INVERSION


def _foreign_bass_cost(quality: Quality, interval: int) -> float:
    if len(quality.degrees) == 3 and interval in (10, 11):
        return SEVENTH_IN_BASS
    contradicts = interval in (1, 4 if quality.is_minor else 3)
    return FOREIGN_BASS + CLASHING_BASS * contradicts


def _bass_name(root: NoteName, form: Form, bass: int, key: Key | None) -> NoteName:
    relative = (bass - root.pitch_class) % 12
    for degree in (*form.quality.degrees, *form.added):
        if degree.pitch_class == relative:
            return plain_note(root.above(degree))
    return key.spell(bass) if key else note_near(bass, root)


def _in_key(chord: Chord, form: Form, key: Key, hearing: Hearing) -> tuple[float, list[str]]:
    """What a key adds to the cost, and why."""
    style, in_words = hearing.style, key_text(key, hearing.style)
    if ROOT in form.missing and chord.quality.written == "7" and hearing.bass is None:
        target = chord.root.above(Degree(4))
        if target in key.scale and key.scale.index(target) != LEADING_TONE:
            return ROOTLESS_DOMINANT_IN_KEY, [f"the dominant seventh of {note_text(target, style)} in {in_words}"]
    own = {n.pitch_class for n in key.scale}
    if key.mode == "minor" and chord.quality.is_dominant:
        own.add(key.tonic.above(Degree(7)).pitch_class)
    return (IN_KEY, [f"belongs to {in_words}"]) if chord.pitch_classes <= own else (0.0, [])


# ---------------------------------------------------------------- label, rank, strings


def _with_label(found: list[Name], label: str, shape: Shape, tuning: Tuning, style: LabelStyle) -> list[Name]:
    """Names spelled and ranked by the label, where it fits the notes."""
    wanted = parse_label(label, style.note_names)
    if not isinstance(wanted, Chord):
        return found
    matching = [n.chord is not None and _same_chord(n.chord, wanted) for n in found]
    out = [_as_labelled(n, wanted, style) if fits else n for n, fits in zip(found, matching, strict=True)]
    if not any(matching):
        verdict, missing = judge(wanted, shape, tuning)
        if verdict != "different":
            form = Form(wanted.quality, wanted.added, wanted.omitted, missing, missing, SHORT_AS_LABELLED)
            reasons = why_notes(wanted, form, style)
            name = Name(chord_text(wanted, style), wanted, reasons, form.cost, missing, root=wanted.root)
            out.append(_as_labelled(name, wanted, style))
    return sorted(out, key=lambda n: n.cost)


def _order(name: Name, bass: int) -> tuple[float, int, str]:
    """By cost; names of equal cost by their root, from the lowest note up."""
    root = 0 if name.root is None else (name.root.pitch_class - bass) % 12
    return round(name.cost, 6), root, name.chord.quality.written if name.chord else ""


def _same_chord(one: Chord, other: Chord) -> bool:
    """Whether both are the same but for spelling and bass."""
    kind = (one.quality, one.added, one.omitted) == (other.quality, other.added, other.omitted)
    return kind and one.root.pitch_class == other.root.pitch_class


def _as_labelled(name: Name, wanted: Chord, style: LabelStyle) -> Name:
    chord = wanted if name.chord is None else name.chord.with_root(wanted.root)
    reasons = ("as the label says", *name.reasons)
    return replace(
        name, text=chord_text(chord, style), chord=chord, root=chord.root, reasons=reasons, cost=name.cost + AS_LABELLED
    )


def _ranked(found: list[Name]) -> tuple[Name, ...]:
    out: list[Name] = []
    for i, name in enumerate(found):
        tied = i > 0 and _nothing_tells_apart(found[i - 1], name)
        out.append(replace(name, rank=out[-1].rank if tied else i + 1))
    return tuple(out)


def _nothing_tells_apart(better: Name, name: Name) -> bool:
    """Whether both are complete chords of the same notes on different roots, and neither bass nor key decides."""
    if better.chord is None or name.chord is None or not (better.exact and name.exact):
        return False
    same_notes = better.chord.without_bass().pitch_classes == name.chord.without_bass().pitch_classes
    return same_notes and better.root != name.root and name.cost - better.cost < TIE


def _string_note(midi: int, name: Name, key: Key | None) -> StringNote:
    root, chord = name.root, name.chord
    if root is None:
        return StringNote(pitch_of(midi, usual_note(midi % 12, key)), None)
    for degree in chord.degrees if chord else ():
        if (root.pitch_class + degree.semitones - midi) % 12 == 0:
            return StringNote(pitch_of(midi, plain_note(root.above(degree))), degree)
    if chord and chord.bass is not None and chord.bass.pitch_class == midi % 12:
        return StringNote(pitch_of(midi, chord.bass), root.degree_of(chord.bass))
    degree = SIMPLE_DEGREES[(midi - root.pitch_class) % 12]
    return StringNote(pitch_of(midi, plain_note(root.above(degree))), degree)
