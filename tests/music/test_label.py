"""Labels as people write them, and back again."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reader.music.chord import Chord, chord_of
from reader.music.label import NO_CHORD, Unparsed, parse_label
from reader.music.label_style import STYLES, LabelStyle, NoteNames, chord_text
from reader.music.pitch import Degree, NoteName
from reader.music.quality import all_qualities


def degrees(label: str, note_names: NoteNames = "english") -> str:
    chord = parse_label(label, note_names)
    assert isinstance(chord, Chord), chord
    return " ".join(str(d) for d in chord.degrees)


@pytest.mark.parametrize(
    ("label", "plain", "spelled"),
    [
        # common practice, no source
        ("C", "C", "1 3 5"),
        ("c", "C", "1 3 5"),
        ("am", "Am", "1 b3 5"),
        ("Am", "Am", "1 b3 5"),
        ("A-", "Am", "1 b3 5"),
        ("Ami", "Am", "1 b3 5"),
        ("AMIN", "Am", "1 b3 5"),
        ("A minor", "Am", "1 b3 5"),
        ("CM7", "Cmaj7", "1 3 5 7"),
        ("Cm7", "Cm7", "1 b3 5 b7"),
        ("CMA7", "Cmaj7", "1 3 5 7"),
        ("CMI7", "Cm7", "1 b3 5 b7"),
        ("CΔ", "Cmaj7", "1 3 5 7"),
        ("C△7", "Cmaj7", "1 3 5 7"),
        ("Cj7", "Cmaj7", "1 3 5 7"),
        ("C7M", "Cmaj7", "1 3 5 7"),
        ("B°", "Bdim", "1 b3 b5"),
        ("Bo7", "Bdim7", "1 b3 b5 bb7"),
        ("Bdim7", "Bdim7", "1 b3 b5 bb7"),
        ("Bø", "Bm7b5", "1 b3 b5 b7"),
        ("Bø7", "Bm7b5", "1 b3 b5 b7"),
        ("Bm7(b5)", "Bm7b5", "1 b3 b5 b7"),
        ("B-7b5", "Bm7b5", "1 b3 b5 b7"),
        ("C+", "Caug", "1 3 #5"),
        ("Caug", "Caug", "1 3 #5"),
        ("C(#5)", "Caug", "1 3 #5"),
        ("C+7", "C7#5", "1 3 #5 b7"),
        ("C7+", "C7#5", "1 3 #5 b7"),
        ("C7+9", "C7#9", "1 3 5 b7 #9"),
        ("C7-9", "C7b9", "1 3 5 b7 b9"),
        ("C-9", "Cm9", "1 b3 5 b7 9"),
        ("Csus", "Csus4", "1 4 5"),
        ("C4", "Csus4", "1 4 5"),
        ("Csus2", "Csus2", "1 2 5"),
        ("C7sus", "C7sus4", "1 4 5 b7"),
        ("C7/4", "C7sus4", "1 4 5 b7"),
        ("C9sus4", "C9sus4", "1 4 5 b7 9"),
        ("Csus2sus4", "Csus2sus4", "1 2 4 5"),
        ("C2", "Cadd9", "1 3 5 9"),
        ("Cadd9", "Cadd9", "1 3 5 9"),
        ("C(add9)", "Cadd9", "1 3 5 9"),
        ("C/9", "Cadd9", "1 3 5 9"),
        ("Cmadd9", "Cm(add9)", "1 b3 5 9"),
        ("C6/9", "C6/9", "1 3 5 6 9"),
        ("C69", "C6/9", "1 3 5 6 9"),
        ("C6add9", "C6/9", "1 3 5 6 9"),
        ("Cm(maj7)", "Cm(maj7)", "1 b3 5 7"),
        ("CmM7", "Cm(maj7)", "1 b3 5 7"),
        ("C-Δ7", "Cm(maj7)", "1 b3 5 7"),
        ("C7(b9,#11)", "C7b9#11", "1 3 5 b7 b9 #11"),
        ("C 7 (b9)", "C7b9", "1 3 5 b7 b9"),
        ("C7/13", "C7add13", "1 3 5 b7 13"),
        ("C13b9", "C13b9", "1 3 5 b7 b9 13"),
        ("C9(13)", "C13", "1 3 5 b7 9 11 13"),  # the eleventh stands there by name only
        ("[Am]", "Am", "1 b3 5"),
        ("(C:)", "C", "1 3 5"),
        ("C5", "C5", "1 5"),
        ("C(no3)", "C5", "1 5"),
        ("C7no5", "C7(no5)", "1 3 b7"),
        ("Cmaj7#9", "Cmaj7(#9)", "1 3 5 7 #9"),
        ("C7b5#5", "C7#5(b5)", "1 3 b5 #5 b7"),
        ("F♯m7♭5", "F#m7b5", "1 b3 b5 b7"),
        ("F # m", "F#m", "1 b3 5"),
        ("B b 7", "Bb7", "1 3 5 b7"),
        ("B♭⁷", "Bb7", "1 3 5 b7"),
        # an accidental belongs to the root, but five frets of common sense: C flat as power chord is nobody's chord
        ("Bb5", "Bb5", "1 5"),
        ("Bbb5", "Bb(b5)", "1 3 b5"),
        ("B b5", "B(b5)", "1 3 b5"),
        ("Cb5", "C(b5)", "1 3 b5"),
    ],
)
def test_what_people_write(label: str, plain: str, spelled: str) -> None:
    assert str(parse_label(label)) == plain
    assert degrees(label) == spelled


@pytest.mark.parametrize(
    ("label", "bass"), [("C/E", "E"), ("Am7/G", "G"), ("D/F♯", "F#"), ("C6/9/E", "E"), ("G / B", "B"), ("F/b", "B")]
)
def test_slash_bass(label: str, bass: str) -> None:
    chord = parse_label(label)
    assert isinstance(chord, Chord)
    assert str(chord.bass) == bass


def test_the_root_as_bass_is_no_slash_chord() -> None:
    assert parse_label("C/C") == parse_label("C")


@pytest.mark.parametrize("label", ["N.C.", "NC", "n.c.", " N. C. ", "no chord"])
def test_no_chord(label: str) -> None:
    assert parse_label(label) is NO_CHORD


@pytest.mark.parametrize(
    ("label", "position", "reason"),
    [
        ("", 0, "it is empty"),
        ("  ", 2, "it is empty"),
        ("[", 1, "it is empty"),
        ("Hm", 0, "does not begin with the name of a note"),
        ("7", 0, "does not begin with the name of a note"),
        ("Cmaj7x", 5, "from 'x' on"),
        ("Cfoo", 1, "from 'foo' on"),
        ("C/", 1, "from '/' on"),
        ("C/H", 2, "from 'H' on"),
        ("C77", 2, "from '7' on"),
        ("Am7 verse", 4, "from 'verse' on"),
    ],
)
def test_what_cannot_be_read_is_returned_with_its_place(label: str, position: int, reason: str) -> None:
    found = parse_label(label)
    assert isinstance(found, Unparsed)
    assert (found.text, found.position) == (label, position)
    assert reason in found.reason


@pytest.mark.parametrize(
    ("label", "plain"),
    [
        # German practice (no source): H is B, B is B flat, -is and -es, small letters are minor
        ("H", "B"),
        ("B", "Bb"),
        ("B7", "Bb7"),
        ("h7", "Bm7"),
        ("a", "Am"),
        ("Fis", "F#"),
        ("fis", "F#m"),
        ("Es", "Eb"),
        ("Esus4", "Esus4"),
        ("Essus4", "Ebsus4"),
        ("As", "Ab"),
        ("Asus4", "Asus4"),
        ("Asmaj7", "Abmaj7"),
        ("Des7", "Db7"),
        ("H/Dis", "B/D#"),
        ("B/D", "Bb/D"),
    ],
)
def test_german_names(label: str, plain: str) -> None:
    assert str(parse_label(label, "german")) == plain


@pytest.mark.parametrize(
    ("label", "plain"),
    [
        ("Do", "C"),
        ("Dom", "Cm"),
        ("Sol7", "G7"),
        ("SIb", "Bb"),
        ("Fa#m", "F#m"),
        ("Réb", "Db"),
        ("La-7", "Am7"),
        ("Solsus4", "Gsus4"),
        ("Mi", "E"),
        ("Mim", "Em"),
        ("Do/Sol", "C/G"),
    ],
)
def test_solfege(label: str, plain: str) -> None:
    assert str(parse_label(label, "solfege")) == plain


@pytest.mark.parametrize("quality", all_qualities(), ids=lambda q: q.written or "major")
def test_every_spelling_of_the_table_means_its_row(quality: object) -> None:
    for written in (quality.written, *quality.also):  # type: ignore[attr-defined]
        for root in ("Ab", "F#"):
            chord = parse_label(root + written)
            assert isinstance(chord, Chord), root + written
            assert (chord.quality, chord.added, chord.omitted) == (quality, (), ()), root + written


@pytest.mark.parametrize(
    ("label", "style", "written"),
    [
        ("Bbm7b5", "signs", "B♭ø7"),
        ("C#dim7", "signs", "C♯°7"),
        ("Cmaj9", "signs", "CΔ9"),
        ("Cm(maj7)", "dashes", "C-(Δ7)"),
        ("Am/C", "dashes", "A-/C"),
        ("Caug", "signs", "C+"),
        ("Bbm/Db", "german", "Bm/Des"),
        ("Abmaj7", "solfege", "Labmaj7"),
    ],
)
def test_writing_in_a_style(label: str, style: str, written: str) -> None:
    chord = parse_label(label)
    assert isinstance(chord, Chord)
    assert chord_text(chord, STYLES[style]) == written


# ---------------------------------------------------------------- parse and print are inverse

notes = st.builds(NoteName, st.sampled_from("CDEFGAB"), st.integers(-1, 1))
extra = st.sampled_from([Degree.parse(d) for d in ("b9", "9", "#9", "11", "#11", "b13", "13", "b5", "#5")])


@st.composite
def chords(draw: st.DrawFn) -> Chord:
    """A row of the table with a tone added and perhaps one left out, perhaps over a bass, that a label can say."""
    quality = draw(st.sampled_from([q for q in all_qualities() if not {11, 13} & {d.number for d in q.degrees}]))
    added = draw(extra)
    gone = draw(st.sampled_from([frozenset(), frozenset({Degree(3)}), frozenset({Degree(5)})]))
    # An added tone takes the place of the plain one; altered fifths stand side by side.
    kept = frozenset(d for d in quality.degrees if d.number != added.number or (d.number == 5 and d.alteration))
    return chord_of(draw(notes), kept - gone | {added}, draw(st.none() | notes))


@given(st.builds(chord_of, notes, st.sampled_from([frozenset(q.degrees) for q in all_qualities()]), st.none() | notes))
def test_rows_survive_every_style(chord: Chord) -> None:
    for style in STYLES.values():
        assert parse_label(chord_text(chord, style), style.note_names) == chord


@given(chords(), st.sampled_from(list(STYLES.values())))
def test_what_is_written_is_read_back(chord: Chord, style: LabelStyle) -> None:
    read = parse_label(chord_text(chord, style), style.note_names)
    assert isinstance(read, Chord)
    assert (read.root, read.bass, read.pitch_classes) == (chord.root, chord.bass, chord.pitch_classes)
    assert parse_label(chord_text(read, style), style.note_names) == read


@given(st.text("ABCDEFGHabcdefgmMjsuiøΔ°+-#b♯♭/()24567911 13,.N", max_size=12))
def test_any_text_is_a_chord_or_says_where_it_is_none(text: str) -> None:
    for note_names in ("english", "german", "solfege"):
        found = parse_label(text, note_names)  # type: ignore[arg-type]
        if isinstance(found, Unparsed):
            assert 0 <= found.position <= len(text)
        elif isinstance(found, Chord):
            assert parse_label(str(found)) == found
