"""From strings and frets to the names that a player would write, best first, each with its reasons.

The order is the trade's (common practice, no source): a matching label; the bass is the root, except on re-entrant
instruments, where the lowest string means nothing; the key; the simplest kind of chord with the fewest omissions.
The weights below put that order into one number, the cost of a name.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from itertools import combinations, product

from reader.music.chord import ROOT, Chord
from reader.music.key import Key, parse_key, spell_between
from reader.music.label import parse_label
from reader.music.pitch import Degree, NoteName, Pitch, pitch_of
from reader.music.quality import NEVER_PROPOSED, Quality, all_qualities, get_quality
from reader.music.shape import Shape
from reader.music.tuning import Tuning

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
WITHOUT_ROOT = 3.0
WITHOUT_THIRD = 2.0
CLASHING_BASS = 1.2
"""More, for a bass that contradicts the chord: its other third, or the semitone above the root."""
IDLE_SLASH = 1.5
"""More, for a slash name of what is a plain chord in root position: Am7, not C/A."""
ADDED_TONE = 4.0
WORDS_FOR_ADDED_TONES = 4.5
"""Added tones are tried where every other name costs more than this."""
IN_KEY = -1.2
ROOTLESS_DOMINANT_IN_KEY = -5.0
"""With a key, a diminished triad is heard as the dominant seventh of one of its chords, without the root: the short D7
of ukulele players in G. Only where no bass says otherwise."""
ROOT_POSITION = 1.6
"""How rare a complete chord in root position may be to make slash names idle."""
AS_LABELLED = -100.0
TIE = 0.6
"""Names whose costs differ by less are told apart by neither the notes nor the bass."""
WORTH_SAYING = 3.0
"""Names that cost so much more than the best are not given, unless they are exact members of its family."""

_OMISSION = {5: 0.8, 11: 0.0, 9: 1.2, 3: 0.4}
"""Cost of leaving out a dispensable degree; the eleventh of a thirteenth chord is never missed."""
_SUSPENDED_WITHOUT_FIFTH = 0.8
"""More for the fifth of a suspended chord, which holds it together."""

FEWEST_OF_MANY = 4
"""A chord of six or seven tones is not heard in fewer than four of them."""
_MAY_LACK_ROOT = ("7", "9", "7b9", "7#9", "7#5", "7b5", "13", "13b9", "7b13")
_MAY_LACK_THIRD = ("6", "7", "maj7", "9", "maj9", "7b9")
_BASES_OF_ADDED = ("", "m", "7", "m7", "maj7", "dim", "aug", "sus4", "sus2", "m7b5", "dim7", "6", "m6")
_BASES_OF_TWO_ADDED = ("", "m", "7", "m7", "maj7", "6", "m6")
_ADDABLE = {1: Degree(9, -1), 2: Degree(9), 3: Degree(9, 1), 5: Degree(11), 6: Degree(11, 1), 8: Degree(13, -1)}
_ADDABLE |= {9: Degree(13)}

_LEADING_TONE = 6
_INTERVALS = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
_DEFAULT_MAJOR, _DEFAULT_DOMINANT, _DEFAULT_MINOR = -5, -4, -3
"""Where the twelve usual roots begin on the line of fifths: D flat, but C sharp 7 and C sharp minor."""


@dataclass(frozen=True, slots=True)
class Name:
    """One name of a shape.

    Parameters
    ----------
    text : str
        The label, in plain letters.
    chord : Chord or None
        None for a single note or an interval.
    reasons : tuple of str
        Why, in plain words.
    cost : float
        Lower is likelier; only differences mean something.
    missing : tuple of Degree
        Degrees of the chord that do not sound.
    rank : int
        1 for the best; names that nothing tells apart share a rank.
    root : NoteName or None
        What degrees are counted from: the root of the chord, the lower note
        of an interval.
    """

    text: str
    chord: Chord | None
    reasons: tuple[str, ...]
    cost: float
    missing: tuple[Degree, ...] = ()
    rank: int = 1
    root: NoteName | None = None

    @property
    def exact(self) -> bool:
        """Whether every degree sounds."""
        return self.chord is not None and not self.missing


@dataclass(frozen=True, slots=True)
class StringNote:
    """What one string sounds: its pitch as the chord spells it, and its degree there."""

    pitch: Pitch
    degree: Degree | None


@dataclass(frozen=True, slots=True)
class _Form:
    """A way to hear a set of pitch classes from one root."""

    quality: Quality
    added: tuple[Degree, ...]
    omitted: tuple[Degree, ...]
    missing: tuple[Degree, ...]
    cost: float


def name_shape(
    shape: Shape, tuning: Tuning, label: str | None = None, key: str | Key | None = None
) -> tuple[Name, ...]:
    """The names of a shape, best first.

    Parameters
    ----------
    shape : Shape
    tuning : Tuning
    label : str, optional
        What stands beside the diagram: settles between names that fit.
    key : str or Key, optional
        Key of the page: prefers its chords and spells by it.

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
    >>> [n.text for n in name_shape(Shape.parse("x32010"), get_tuning("guitar"))][:1]
    ['C']
    >>> [n.text for n in name_shape(Shape.parse("0000"), get_tuning("ukulele"))][:2]
    ['Am7', 'C6']
    """
    the_key = parse_key(key) if isinstance(key, str) else key
    sounding = [p for p in tuning.sounding(shape) if p is not None]
    lowest = tuning.lowest(shape)
    if lowest is None:
        return ()
    mask = _mask(p % 12 for p in sounding)
    bass = lowest % 12
    if mask.bit_count() < 3:
        found = _few_notes(sounding, lowest, the_key, tuning.reentrant)
    else:
        doubled = sum(p % 12 == bass for p in sounding) > 1
        found = list(_chord_names(mask, None if tuning.reentrant else bass, doubled, the_key))
        if tuning.reentrant:
            found.sort(key=lambda n: (n.cost, n.chord is None or n.chord.root.pitch_class != bass))
    if label:
        found = _with_label(found, label, mask, bass, tuning.reentrant)
    return _ranked(found)


def notes_of(shape: Shape, tuning: Tuning, name: Name, key: Key | None = None) -> tuple[StringNote | None, ...]:
    """What each string sounds under a name, leftmost first; None where it is not played.

    Double flats and sharps are written as the plain note that sounds the
    same, as players do.
    """
    return tuple(None if p is None else _string_note(p, name, key) for p in tuning.sounding(shape))


def best_chord_text(shape: Shape, tuning: Tuning) -> str:
    """The first name of a shape; ``nothing`` when no string sounds."""
    names = name_shape(shape, tuning)
    return names[0].text if names else "nothing"


@lru_cache(maxsize=4096)
def family_roots(pitch_classes: frozenset[int]) -> frozenset[int]:
    """Roots on which exactly these pitch classes are a row of the table."""
    mask = _mask(pitch_classes)
    forms = _forms()
    return frozenset(
        root
        for root in pitch_classes
        if any(not (f.missing or f.omitted) for f in forms.get(_seen_from(mask, root), ()))
    )


# ---------------------------------------------------------------- three notes or more


@lru_cache(maxsize=8192)
def _chord_names(mask: int, bass: int | None, doubled: bool, key: Key | None) -> tuple[Name, ...]:
    found: list[Name] = []
    forms = _forms()
    for root in range(12):
        found += [_name(form, root, bass, mask, key) for form in forms.get(_seen_from(mask, root), ())]
    settled = any(n.exact and n.cost <= ROOT_POSITION and n.chord and n.chord.bass is None for n in found)
    if bass is not None:
        more = (DOUBLED_FOREIGN_BASS if doubled else 0.0) + (IDLE_SLASH if settled else 0.0)
        found += _over_foreign_bass(mask, bass, more, key)
    if not any(n.cost <= WORDS_FOR_ADDED_TONES for n in found):
        forms = _forms_with_added_tones()
        for root in range(12):
            found += [_name(form, root, bass, mask, key) for form in forms.get(_seen_from(mask, root), ())]
    if not found:
        return (_just_notes(mask, bass, key),)
    found.sort(key=lambda n: (n.cost, n.text))
    best = found[0].cost
    named: dict[str, Name] = {}
    for name in found:
        if _is_family(name, mask) or name.cost <= best + WORTH_SAYING:
            named.setdefault(name.text, name)
    return tuple(named.values())


def _is_family(name: Name, mask: int) -> bool:
    """Whether it is a row of the table with exactly these notes, or a plain triad over a bass."""
    chord = name.chord
    if chord is None or not name.exact or chord.added or chord.omitted:
        return False
    return _mask(chord.without_bass().pitch_classes) == mask or chord.quality.written in ("", "m")


def _over_foreign_bass(mask: int, bass: int, more: float, key: Key | None) -> list[Name]:
    upper = mask & ~(1 << bass)
    if upper.bit_count() < 3:
        return []
    found = []
    for root in range(12):
        for form in _forms().get(_seen_from(upper, root), ()):
            if not (form.missing or form.omitted):
                cost = form.cost + more + _foreign_bass_cost(form.quality, (bass - root) % 12)
                found.append(_name(replace(form, cost=cost), root, bass, upper, key))
    return found


def _foreign_bass_cost(quality: Quality, interval: int) -> float:
    if len(quality.degrees) == 3 and interval in (10, 11):
        return SEVENTH_IN_BASS
    contradicts = interval in (1, 4 if quality.is_minor else 3)
    return FOREIGN_BASS + (CLASHING_BASS if contradicts else 0.0)


def _inversion_cost(quality: Quality, interval: int) -> float:
    if quality.is_symmetric:
        return SYMMETRIC_INVERSION
    return FIFTH_IN_BASS if interval == 7 else INVERSION


def _name(form: _Form, root: int, bass: int | None, mask: int, key: Key | None) -> Name:
    spelled = key.spell(root) if key else _default_root(root, form.quality)
    cost = form.cost
    reasons = []
    bass_name = None
    if bass is not None and bass != root:
        inverted = bool(mask & (1 << bass))
        if not (inverted and form.quality.is_symmetric):
            bass_name = _bass_name(spelled, form, bass, key)
        if inverted:
            cost += _inversion_cost(form.quality, (bass - root) % 12)
    chord = Chord(spelled, form.quality, form.added, form.omitted, bass_name)
    reasons.append(_why_notes(chord, form))
    if bass is not None:
        reasons.append(_why_bass(chord, mask, bass))
    if key:
        change, why = _why_key(chord, form, key, bass is None)
        cost += change
        reasons += why
    return Name(str(chord), chord, tuple(r for r in reasons if r), cost, form.missing, root=spelled)


def _why_notes(chord: Chord, form: _Form) -> str:
    gone = [f"{_ordinal(d)} ({chord.root.above(d)})" for d in form.missing if d != ROOT]
    parts = []
    if ROOT in form.missing:
        parts.append(f"without its root {chord.root}")
    if gone:
        parts.append("left out: " + ", ".join(gone))
    if not parts:
        parts.append("exact: " + " ".join(str(_simple(n)) for n in chord.notes))
    if form.added:
        parts.append("added: " + ", ".join(f"{_ordinal(d)} ({chord.root.above(d)})" for d in form.added))
    return "; ".join(parts)


def _why_bass(chord: Chord, mask: int, bass: int) -> str:
    if chord.bass is None:
        root = chord.root.pitch_class == bass
        return f"the bass {chord.root} is the root" if root else "any of its notes can be the root"
    if not mask & (1 << bass):
        return f"over the bass {chord.bass}"
    degree = next((d for d in chord.degrees if (chord.root.pitch_class + d.semitones) % 12 == bass), None)
    return f"inversion: the bass {chord.bass} is the {_ordinal(degree)}" if degree else f"over the bass {chord.bass}"


def _why_key(chord: Chord, form: _Form, key: Key, heard_alone: bool) -> tuple[float, list[str]]:
    if ROOT in form.missing and chord.quality.written == "7":
        target = chord.root.above(Degree(4))
        if heard_alone and target in key.scale and key.scale.index(target) != _LEADING_TONE:
            return ROOTLESS_DOMINANT_IN_KEY, [f"the dominant seventh of {target} in {key}"]
    own = {n.pitch_class for n in key.scale}
    if key.mode == "minor":
        own |= {key.tonic.above(Degree(7)).pitch_class} if chord.quality.is_dominant else set()
    if not chord.pitch_classes <= own:
        return 0.0, []
    return IN_KEY, [f"belongs to {key}"]


_ORDINALS = {1: "root", 2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth", 7: "seventh", 9: "ninth"}
_ORDINALS |= {11: "eleventh", 13: "thirteenth"}


def _ordinal(degree: Degree) -> str:
    return _ORDINALS[degree.number]


def _bass_name(root: NoteName, form: _Form, bass: int, key: Key | None) -> NoteName:
    relative = (bass - root.pitch_class) % 12
    for degree in (*form.quality.degrees, *form.added):
        if degree.pitch_class == relative:
            return _simple(root.above(degree))
    return key.spell(bass) if key else _near(bass, root)


def _near(pitch_class: int, root: NoteName) -> NoteName:
    """The plain spelling that lies nearest to a root on the line of fifths."""
    spellings = {spell_between(pitch_class, lowest) for lowest in (_DEFAULT_MAJOR, _DEFAULT_MINOR, -6, 0)}
    plain = [s for s in spellings if s.is_simple()]
    return min(plain, key=lambda s: abs(s.fifths - root.fifths - 1))


def _simple(name: NoteName) -> NoteName:
    """The plain note that sounds like a double flat or double sharp."""
    if abs(name.alteration) < 2:
        return name
    return spell_between(name.pitch_class, -5 if name.alteration < 0 else -1)


def _default_root(root: int, quality: Quality) -> NoteName:
    if quality.is_minor:
        return spell_between(root, _DEFAULT_MINOR)
    return spell_between(root, _DEFAULT_DOMINANT if quality.is_dominant else _DEFAULT_MAJOR)


# ---------------------------------------------------------------- the forms of every set


def _mask(pitch_classes: Iterable[int]) -> int:
    mask = 0
    for pc in pitch_classes:
        mask |= 1 << pc
    return mask


def _seen_from(mask: int, root: int) -> int:
    """The set turned so that the root is bit 0."""
    return ((mask >> root) | (mask << (12 - root))) & 0xFFF


@cache
def _forms() -> dict[int, tuple[_Form, ...]]:
    """Every way to hear a set of pitch classes above a root (bit 0) as a row of the table."""
    return _collected(_forms_of_rows())


@cache
def _forms_with_added_tones() -> dict[int, tuple[_Form, ...]]:
    """A row and one or two tones more, for sets that the table does not name."""
    return _collected(_rows_with_added_tones())


def _collected(forms: Iterable[tuple[int, _Form]]) -> dict[int, tuple[_Form, ...]]:
    table: dict[int, list[_Form]] = {}
    for mask, form in forms:
        table.setdefault(mask, []).append(form)
    return {mask: tuple(found) for mask, found in table.items()}


def _forms_of_rows() -> Iterable[tuple[int, _Form]]:
    for quality in all_qualities():
        if quality.rarity == NEVER_PROPOSED:
            continue
        for count in range(len(quality.left_out) + 1):
            for missing in combinations(quality.left_out, count):
                if len(quality.degrees) - count < (FEWEST_OF_MANY if len(quality.degrees) > 5 else 3):
                    continue
                cost = quality.rarity + sum(_omission(quality, d) for d in missing)
                yield _without(quality, missing), _Form(quality, (), (), _felt(quality, missing), cost)
        if quality.written in _MAY_LACK_ROOT:
            usual = tuple(d for d in quality.left_out if d.number == 11)
            cost = quality.rarity + WITHOUT_ROOT
            yield _without(quality, (ROOT, *usual)), _Form(quality, (), (), (ROOT,), cost)
        if quality.written in _MAY_LACK_THIRD:
            third = Degree(3)
            yield _without(quality, (third,)), _Form(quality, (), (third,), (), quality.rarity + WITHOUT_THIRD)


def _omission(quality: Quality, degree: Degree) -> float:
    suspended = degree.number == 5 and not any(d.number == 3 for d in quality.degrees)
    return _OMISSION[degree.number] + (_SUSPENDED_WITHOUT_FIFTH if suspended else 0.0)


def _felt(quality: Quality, missing: tuple[Degree, ...]) -> tuple[Degree, ...]:
    """Without the eleventh of a thirteenth chord, which nobody misses."""
    return tuple(d for d in missing if not (d.number == 11 and Degree(13) in quality.degrees))


def _without(quality: Quality, missing: tuple[Degree, ...]) -> int:
    return _mask(d.pitch_class for d in quality.degrees if d not in missing)


def _rows_with_added_tones() -> Iterable[tuple[int, _Form]]:
    for count, bases in ((1, _BASES_OF_ADDED), (2, _BASES_OF_TWO_ADDED)):
        for written, tones in product(bases, combinations(_ADDABLE, count)):
            quality = get_quality(written)
            base, extra = _without(quality, ()), _mask(tones)
            if not base & extra:
                added = tuple(_ADDABLE[t] for t in tones)
                yield base | extra, _Form(quality, added, (), (), quality.rarity + ADDED_TONE * count)


# ---------------------------------------------------------------- one or two notes, or a cluster


def _few_notes(sounding: list[int], lowest: int, key: Key | None, reentrant: bool) -> list[Name]:
    bass = lowest % 12
    others = {p % 12 for p in sounding} - {bass}
    spelled = key.spell(bass) if key else spell_between(bass, _DEFAULT_MAJOR)
    if not others:
        words = "one note" if len(sounding) == 1 else "unison" if len(set(sounding)) == 1 else "octaves"
        return [
            Name(f"{spelled} ({words})", None, (f"only {spelled} sounds: too little for a chord",), 0.0, root=spelled)
        ]
    other = others.pop()
    if (other - bass) % 12 in (5, 7):
        return [_power(bass, other, key, reentrant)]
    degree = Degree.parse(_INTERVALS[(other - bass) % 12])
    if not key and not _simple_pair(spelled, degree):
        spelled = spell_between(bass, _DEFAULT_MINOR)
    above = spelled.above(degree)
    reason = f"only {spelled} and {above} sound: an interval, too little for a chord"
    return [Name(f"{spelled} {above} ({degree.interval_name})", None, (reason,), 0.0, root=spelled)]


def _simple_pair(root: NoteName, degree: Degree) -> bool:
    return root.above(degree).is_simple()


def _power(bass: int, other: int, key: Key | None, reentrant: bool) -> Name:
    inverted = (other - bass) % 12 == 5
    root = other if inverted else bass
    spelled = key.spell(root) if key else spell_between(root, _DEFAULT_MAJOR)
    fifth = spelled.above(Degree(5))
    chord = Chord(spelled, get_quality("5"), bass=fifth if inverted and not reentrant else None)
    reasons = [f"only root {spelled} and fifth {fifth} sound: neither major nor minor"]
    if chord.bass:
        reasons.append(f"the fifth {fifth} is the bass")
    return Name(str(chord), chord, tuple(reasons), 0.0, root=spelled)


def _just_notes(mask: int, bass: int | None, key: Key | None) -> Name:
    start = bass if bass is not None else (mask & -mask).bit_length() - 1
    present = [(start + i) % 12 for i in range(12) if mask & (1 << (start + i) % 12)]
    names = [str(key.spell(pc) if key else spell_between(pc, _DEFAULT_MAJOR)) for pc in present]
    return Name(" ".join(names), None, ("these notes form no usual chord",), 0.0)


# ---------------------------------------------------------------- label and rank


def _with_label(found: list[Name], label: str, mask: int, bass: int, reentrant: bool) -> list[Name]:
    """Names spelled and ranked by the label, where it fits the notes."""
    wanted = parse_label(label)
    if not isinstance(wanted, Chord):
        return found
    out = []
    for name in found:
        chord = name.chord
        same = (
            chord is not None
            and chord.root.pitch_class == wanted.root.pitch_class
            and chord.quality == wanted.quality
            and (chord.added, chord.omitted) == (wanted.added, wanted.omitted)
        )
        out.append(_as_labelled(name, chord.with_root(wanted.root)) if same and chord is not None else name)
    return sorted(out, key=lambda n: n.cost)


def _as_labelled(name: Name, chord: Chord) -> Name:
    reasons = ("as the label says", *name.reasons)
    return replace(name, text=str(chord), chord=chord, root=chord.root, reasons=reasons, cost=name.cost + AS_LABELLED)


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
    return same_notes and better.chord.root != name.chord.root and name.cost - better.cost < TIE


def _string_note(midi: int, name: Name, key: Key | None) -> StringNote:
    root = name.root
    if root is None:
        spelled = key.spell(midi) if key else spell_between(midi % 12, _DEFAULT_MAJOR)
        return StringNote(pitch_of(midi, spelled), None)
    chord = name.chord
    for degree in chord.degrees if chord else ():
        if (root.pitch_class + degree.semitones - midi) % 12 == 0:
            return StringNote(pitch_of(midi, _simple(root.above(degree))), degree)
    if chord and chord.bass is not None and chord.bass.pitch_class == midi % 12:
        return StringNote(pitch_of(midi, chord.bass), root.degree_of(chord.bass))
    degree = Degree.parse(_INTERVALS[(midi - root.pitch_class) % 12])
    return StringNote(pitch_of(midi, _simple(root.above(degree))), degree)
