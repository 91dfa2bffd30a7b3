"""The chord qualities, one row each, to be checked with a finger.

Columns of the table, left to right

    written    what stands after the root in plain letters; ``·`` for nothing
    degrees    above the root, against its major scale
    left out   degrees that players usually leave out first, most dispensable first; the rest must sound
    MusicXML   ``kind`` of MusicXML 4.0, then its ``degree`` elements (add, alter or subtract, and the degree)
    Harte      shorthand of Harte et al., 'Symbolic representation of musical chords', ISMIR 2005; the shorthands
               5, sus2, min11, 11, maj13, min13 and 13 are later additions of the mir_eval library
    rarity     how unlikely a player is to choose this name: a plain triad is 0, a seventh 1; ``-`` is read in labels
               but never proposed. Weighed by hand (common practice, no source)
    also       other spellings that people write
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from reader.music.pitch import Degree

_TABLE = """
written   | degrees           | left out | MusicXML                                  | Harte            | rarity | also
·         | 1 3 5             |          | major                                     | maj              | 0   | maj M ma major
m         | 1 b3 5            |          | minor                                     | min              | 0   | min mi - minor
5         | 1 5               |          | power                                     | 5                | 0.5 | (no3)
dim       | 1 b3 b5           |          | diminished                                | dim              | 1.4 | ° o mb5 m(b5) m-5
aug       | 1 3 #5            |          | augmented                                 | aug              | 1.4 | + #5 (#5) +5
sus4      | 1 4 5             |          | suspended-fourth                          | sus4             | 1.3 | sus 4
sus2      | 1 2 5             |          | suspended-second                          | sus2             | 1.5 |
(b5)      | 1 3 b5            |          | major; alter b5                           | maj(*5,b5)       | 2.4 | b5 maj(b5) -5
6         | 1 3 5 6           |          | major-sixth                               | maj6             | 1.5 | M6 maj6 add6 (add6)
m6        | 1 b3 5 6          |          | minor-sixth                               | min6             | 1.4 | min6 mi6 -6 m(add6)
6/9       | 1 3 5 6 9         | 5        | major-sixth; add 9                        | maj6(9)          | 2   | 69 6add9 6(9) maj6/9 6(add9)
m6/9      | 1 b3 5 6 9        | 5        | minor-sixth; add 9                        | min6(9)          | 2.4 | m69 m6add9 min6/9 -69
7         | 1 3 5 b7          | 5        | dominant                                  | 7                | 0.9 | dom7
maj7      | 1 3 5 7           | 5        | major-seventh                             | maj7             | 1   | M7 Δ Δ7 ma7 MAJ7 j7 7M
m7        | 1 b3 5 b7         | 5        | minor-seventh                             | min7             | 1   | min7 mi7 -7 MIN7
m(maj7)   | 1 b3 5 7          | 5        | major-minor                               | minmaj7          | 2   | mM7 mmaj7 minmaj7 mΔ -Δ7 m/maj7 m(M7)
dim7      | 1 b3 b5 bb7       |          | diminished-seventh                        | dim7             | 1   | °7 o7
m7b5      | 1 b3 b5 b7        |          | half-diminished                           | hdim7            | 1.5 | ø ø7 m7(b5) -7b5 min7b5 m7-5 Ø
7b5       | 1 3 b5 b7         |          | dominant; alter b5                        | 7(*5,b5)         | 2.2 | 7(b5) 7-5
7#5       | 1 3 #5 b7         |          | augmented-seventh                         | 7(*5,#5)         | 2   | aug7 +7 7+ 7(#5) 7+5
maj7b5    | 1 3 b5 7          |          | major-seventh; alter b5                   | maj7(*5,b5)      | 2.6 | M7b5 maj7(b5) Δ7b5
maj7#5    | 1 3 #5 7          |          | major-seventh; alter #5                   | maj7(*5,#5)      | 2.4 | M7#5 maj7(#5) +maj7 augmaj7 Δ#5
m7#5      | 1 b3 #5 b7        |          | minor-seventh; alter #5                   | min7(*5,#5)      | -   | m7(#5) -7#5
m(#5)     | 1 b3 #5           |          | minor; alter #5                           | min(*5,#5)       | -   | m#5 m+
dim(maj7) | 1 b3 b5 7         |          | diminished; add 7                         | dim(7)           | 3.5 | °maj7 dimM7 m(maj7)b5 °Δ
7sus4     | 1 4 5 b7          | 5        | suspended-fourth; add b7                  | sus4(b7)         | 1.6 | 7sus sus7 7sus(4) sus4(7)
7sus2     | 1 2 5 b7          | 5        | suspended-second; add b7                  | sus2(b7)         | 2.9 | 7(sus2)
maj7sus4  | 1 4 5 7           | 5        | suspended-fourth; add 7                   | sus4(7)          | 3.2 | M7sus4 maj7sus
maj7sus2  | 1 2 5 7           | 5        | suspended-second; add 7                   | sus2(7)          | 3   | M7sus2
6sus4     | 1 4 5 6           | 5        | suspended-fourth; add 6                   | sus4(6)          | 3.4 | 6sus
6sus2     | 1 2 5 6           | 5        | suspended-second; add 6                   | sus2(6)          | 3.2 | 6(sus2)
sus2sus4  | 1 2 4 5           |          | suspended-fourth; add 2                   | sus4(2)          | 2.8 | sus24 sus2/4 sus4(add9) sus4add9
add9      | 1 3 5 9           | 5        | major; add 9                              | maj(9)           | 1.5 | 2 add2 (add9) /9 (9)
m(add9)   | 1 b3 5 9          | 5        | minor; add 9                              | min(9)           | 1.8 | madd9 m(9) m2 madd2 minadd9
add11     | 1 3 5 11          |          | major; add 11                             | maj(11)          | 2.5 | add4 (add11) (add4) (11)
m(add11)  | 1 b3 5 11         |          | minor; add 11                             | min(11)          | 2.5 | madd11 madd4 m(add4)
add#11    | 1 3 5 #11         |          | major; add #11                            | maj(#11)         | 2.8 | (#11) (add#11) add#4
m(addb13) | 1 b3 5 b13        |          | minor; add b13                            | min(b13)         | -   | m(b6) mb6 m(addb6) maddb13
9         | 1 3 5 b7 9        | 5        | dominant-ninth                            | 9                | 1.4 | 7/9 7(9) 7add9
maj9      | 1 3 5 7 9         | 5        | major-ninth                               | maj9             | 1.7 | M9 ma9 Δ9 maj7(9) 9M
m9        | 1 b3 5 b7 9       | 5        | minor-ninth                               | min9             | 1.7 | min9 mi9 -9 m7(9)
m(maj9)   | 1 b3 5 7 9        | 5        | major-minor; add 9                        | minmaj7(9)       | 2.8 | mM9 mmaj9 mΔ9
m9b5      | 1 b3 b5 b7 9      |          | half-diminished; add 9                    | hdim7(9)         | 3   | m9(b5) ø9
m7b9      | 1 b3 5 b7 b9      | 5        | minor-seventh; add b9                     | min7(b9)         | 3.6 | m7(b9)
m7b5b9    | 1 b3 b5 b7 b9     |          | half-diminished; add b9                   | hdim7(b9)        | 4   | m7b5(b9) øb9
9sus4     | 1 4 5 b7 9        | 5        | suspended-fourth; add b7; add 9           | sus4(b7,9)       | 2   | 9sus 7sus4(9)
7b9       | 1 3 5 b7 b9       | 5        | dominant; add b9                          | 7(b9)            | 1.9 | 7(b9) 7-9
7#9       | 1 3 5 b7 #9       | 5        | dominant; add #9                          | 7(#9)            | 2   | 7(#9) 7+9
7b9sus4   | 1 4 5 b7 b9       | 5        | suspended-fourth; add b7; add b9          | sus4(b7,b9)      | 3   | 7sus4b9 7sus4(b9) 7sus(b9)
9b5       | 1 3 b5 b7 9       |          | dominant-ninth; alter b5                  | 9(*5,b5)         | 2.8 | 9(b5) 9-5
9#5       | 1 3 #5 b7 9       |          | augmented-seventh; add 9                  | 9(*5,#5)         | 2.6 | aug9 +9 9+ 9(#5)
maj9#5    | 1 3 #5 7 9        |          | major-ninth; alter #5                     | maj9(*5,#5)      | 3.4 | maj9(#5)
7b5b9     | 1 3 b5 b7 b9      |          | dominant; alter b5; add b9                | 7(*5,b5,b9)      | 3   | 7b9b5 7(b5,b9) 7(b9b5)
7b5#9     | 1 3 b5 b7 #9      |          | dominant; alter b5; add #9                | 7(*5,b5,#9)      | 3   | 7#9b5 7(b5,#9)
7#5b9     | 1 3 #5 b7 b9      |          | augmented-seventh; add b9                 | 7(*5,#5,b9)      | 2.8 | 7b9#5 7(#5,b9) +7b9 aug7b9
7#5#9     | 1 3 #5 b7 #9      |          | augmented-seventh; add #9                 | 7(*5,#5,#9)      | 2.8 | 7#9#5 7(#5,#9) aug7#9
7b9#9     | 1 3 5 b7 b9 #9    | 5        | dominant; add b9; add #9                  | 7(b9,#9)         | 3.6 | 7(b9,#9)
7add11    | 1 3 5 b7 11       | 5        | dominant; add 11                          | 7(11)            | 2.8 | 7/11 7(11) 7add4
m7add11   | 1 b3 5 b7 11      | 5        | minor-seventh; add 11                     | min7(11)         | 2.2 | m7(11) m7add4 m7/11
maj7add11 | 1 3 5 7 11        | 5        | major-seventh; add 11                     | maj7(11)         | 3.6 | maj7(11)
7#11      | 1 3 5 b7 #11      | 5        | dominant; add #11                         | 7(#11)           | 2.2 | 7(#11) 7+11
maj7#11   | 1 3 5 7 #11       | 5        | major-seventh; add #11                    | maj7(#11)        | 2.2 | maj7(#11) M7#11 Δ#11
m7#11     | 1 b3 5 b7 #11     | 5        | minor-seventh; add #11                    | min7(#11)        | 4   | m7(#11)
11        | 1 3 5 b7 9 11     | 3 5 9    | dominant-11th                             | 11               | 2.6 |
m11       | 1 b3 5 b7 9 11    | 5 9      | minor-11th                                | min11            | 2.3 | min11 -11
maj11     | 1 3 5 7 9 11      | 3 5 9    | major-11th                                | maj7(9,11)       | 3.4 | M11 Δ11
m(maj11)  | 1 b3 5 7 9 11     | 5 9      | major-minor; add 9; add 11                | minmaj7(9,11)    | 4   | mmaj11 mM11
m11b5     | 1 b3 b5 b7 9 11   | 9        | half-diminished; add 9; add 11            | hdim7(9,11)      | 3.6 | m11(b5) ø11
9#11      | 1 3 5 b7 9 #11    | 5        | dominant-ninth; add #11                   | 9(#11)           | 2.8 | 9(#11) 9+11
maj9#11   | 1 3 5 7 9 #11     | 5        | major-ninth; add #11                      | maj9(#11)        | 2.8 | maj9(#11) M9#11
m9#11     | 1 b3 5 b7 9 #11   | 5        | minor-ninth; add #11                      | min9(#11)        | 4.4 | m9(#11)
7b9#11    | 1 3 5 b7 b9 #11   | 5        | dominant; add b9; add #11                 | 7(b9,#11)        | 3.4 | 7(b9,#11)
7#9#11    | 1 3 5 b7 #9 #11   | 5        | dominant; add #9; add #11                 | 7(#9,#11)        | 3.6 | 7(#9,#11)
7add13    | 1 3 5 b7 13       | 5        | dominant; add 13                          | 7(13)            | 3.6 | 7/13 7(13) 7add6 7/6
m7add13   | 1 b3 5 b7 13      | 5        | minor-seventh; add 13                     | min7(13)         | 3.4 | m7(13) m7add6 m7/6
maj7add13 | 1 3 5 7 13        | 5        | major-seventh; add 13                     | maj7(13)         | 3.4 | maj7(13) maj7/6 maj7add6
7b13      | 1 3 5 b7 b13      | 5        | dominant; add b13                         | 7(b13)           | 2.6 | 7(b13)
7b9b13    | 1 3 5 b7 b9 b13   | 5        | dominant; add b9; add b13                 | 7(b9,b13)        | 3   | 7(b9,b13)
9b13      | 1 3 5 b7 9 b13    | 5        | dominant-ninth; add b13                   | 9(b13)           | 3   | 9(b13)
13        | 1 3 5 b7 9 11 13  | 11 5 9   | dominant-13th                             | 13               | 2   |
maj13     | 1 3 5 7 9 11 13   | 11 5 9   | major-13th                                | maj13            | 2.4 | M13 Δ13
m13       | 1 b3 5 b7 9 11 13 | 11 5 9   | minor-13th                                | min13            | 2.6 | min13 -13
13sus4    | 1 4 5 b7 9 13     | 5 9      | suspended-fourth; add b7; add 9; add 13   | sus4(b7,9,13)    | 2.6 | 13sus
13b9      | 1 3 5 b7 b9 13    | 5        | dominant; add b9; add 13                  | 7(b9,13)         | 2.6 | 13(b9) 7(b9,13)
13#9      | 1 3 5 b7 #9 13    | 5        | dominant; add #9; add 13                  | 7(#9,13)         | 2.8 | 13(#9) 7(#9,13)
13#11     | 1 3 5 b7 9 #11 13 | 5 9      | dominant-ninth; add #11; add 13           | 9(#11,13)        | 3   | 13(#11)
maj13#11  | 1 3 5 7 9 #11 13  | 5 9      | major-ninth; add #11; add 13              | maj9(#11,13)     | 3   | maj13(#11)
13b5      | 1 3 b5 b7 9 13    | 9        | dominant-ninth; alter b5; add 13          | 9(*5,b5,13)      | 3.4 | 13(b5)
7alt      | 1 3 b7 b9 #9 b5 #5 | b9 #9 b5 #5 | dominant; subtract 5; add b9; add #9; add b5; add #5 | 7(*5,b9,#9,b5,#5) | - | alt 7(alt)
"""  # noqa: E501 (one row, one line)

NEVER_PROPOSED = float("inf")


@dataclass(frozen=True, slots=True)
class KindDegree:
    """A ``degree`` element of MusicXML 4.0.

    Parameters
    ----------
    value : int
    alter : int
        Semitones; for an added degree against a dominant chord (so a minor
        seventh is added with 0), for an altered one against the kind.
    type : str
        add, alter or subtract.
    """

    value: int
    alter: int
    type: str


@dataclass(frozen=True, slots=True)
class Quality:
    """One row of the table.

    Parameters
    ----------
    written : str
        After the root, in plain letters; empty for a major triad.
    degrees : tuple of Degree
    left_out : tuple of Degree
        That players leave out first; all others are essential.
    kind : str
        Of MusicXML 4.0.
    kind_degrees : tuple of KindDegree
    harte : str
    rarity : float
        0 for a plain triad.
    also : tuple of str
        Other spellings.
    """

    written: str
    degrees: tuple[Degree, ...]
    left_out: tuple[Degree, ...]
    kind: str
    kind_degrees: tuple[KindDegree, ...]
    harte: str
    rarity: float
    also: tuple[str, ...]

    def __hash__(self) -> int:
        return hash(self.written)

    def __str__(self) -> str:
        return self.written

    def __repr__(self) -> str:
        return f"get_quality({self.written!r})"

    @property
    def pitch_classes(self) -> frozenset[int]:
        """Semitones above the root, 0 to 11."""
        return frozenset(d.pitch_class for d in self.degrees)

    @property
    def essential(self) -> tuple[Degree, ...]:
        """The degrees that must sound."""
        return tuple(d for d in self.degrees if d not in self.left_out)

    @property
    def is_minor(self) -> bool:
        """Whether the third is minor."""
        return Degree(3, -1) in self.degrees

    @property
    def is_dominant(self) -> bool:
        """Whether it has a major third (or a fourth in its place) and a minor seventh."""
        return Degree(7, -1) in self.degrees and not self.is_minor

    @property
    def is_symmetric(self) -> bool:
        """Whether each of its tones can be its root: diminished seventh, augmented triad."""
        return self.written in ("dim7", "aug")


@cache
def all_qualities() -> tuple[Quality, ...]:
    """Every row of the table, in its order."""
    return tuple(_from_row(line) for line in _TABLE.strip().splitlines()[1:])


def get_quality(written: str) -> Quality:
    """The row with this plain spelling (``m7b5``).

    Raises
    ------
    KeyError
        When there is none; for what people write use ``parse_label``.
    """
    return by_written()[written]


@cache
def by_written() -> dict[str, Quality]:
    """Rows by their plain spelling."""
    return {q.written: q for q in all_qualities()}


@cache
def by_degrees() -> dict[frozenset[Degree], Quality]:
    """Rows by their degrees."""
    return {frozenset(q.degrees): q for q in all_qualities()}


def _from_row(line: str) -> Quality:
    written, degrees, left_out, kind, harte, rarity, also = (cell.strip() for cell in line.split("|"))
    kind, *kind_degrees = kind.split("; ")
    return Quality(
        written=written.replace("·", ""),
        degrees=_degrees(degrees),
        left_out=_degrees(left_out),
        kind=kind,
        kind_degrees=tuple(_kind_degree(text) for text in kind_degrees),
        harte=harte,
        rarity=NEVER_PROPOSED if rarity == "-" else float(rarity),
        also=tuple(also.split()),
    )


def _degrees(cell: str) -> tuple[Degree, ...]:
    return tuple(_degree(text) for text in cell.split())


@cache
def _degree(text: str) -> Degree:
    return Degree.parse(text)


def _kind_degree(text: str) -> KindDegree:
    action, name = text.split()
    degree = _degree(name)
    against_dominant = 1 if action == "add" and degree.number == 7 else 0
    return KindDegree(degree.number, degree.alteration + against_dominant, action)
