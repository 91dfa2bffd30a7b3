"""Shapes for a chord: what players use first, and what must hold for every chord and tuning."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reader.music.chord import Chord
from reader.music.fingering import usual_fingerings
from reader.music.frame import Barre
from reader.music.label import parse_label
from reader.music.pitch import NoteName
from reader.music.quality import all_qualities
from reader.music.shape import Shape
from reader.music.shapes import frame_of, required_pitch_classes, shapes_for
from reader.music.tuning import all_tunings, get_tuning

# Common practice, no source.
UKULELE = """
A 2100  A7 0100  Am 2000  Am7 0000  Bb 3211  B7 2322  Bm 4222  C 0003  C7 0001  Cm 0333  Cmaj7 0002  D 2220  D7 2223
Dm 2210  Dm7 2213  E 4442  E7 1202  Em 0432  Em7 0202  F 2010  F#m 2120  Fm 1013  G 0232  G7 0212  Gm 0231  Gsus4 0233
"""
GUITAR = """
C x32010  A x02220  G 320003  E 022100  D xx0232  Am x02210  Em 022000  Dm xx0231  F 133211  Bm x24432  A7 x02020
E7 020100  D7 xx0212  G7 320001  C7 x32310  B7 x21202  Cmaj7 x32000  Am7 x02010  Dsus4 xx0233  F#m 244222  Bb x13331
Cm x35543  Gm 355333  F#7 242322  Fmaj7 xx3210  Asus2 x02200
"""


def chord(text: str) -> Chord:
    out = parse_label(text)
    assert isinstance(out, Chord)
    return out


def pairs(table: str) -> list[tuple[str, str]]:
    words = table.split()
    return list(zip(words[::2], words[1::2], strict=True))


@pytest.mark.parametrize(("label", "shape"), pairs(UKULELE))
def test_the_first_ukulele_shape_is_the_usual_one(label: str, shape: str) -> None:
    assert str(shapes_for(chord(label), get_tuning("ukulele"))[0].shape) == shape


@pytest.mark.parametrize(("label", "shape"), pairs(GUITAR))
def test_the_usual_guitar_shape_is_among_the_first_two(label: str, shape: str) -> None:
    assert shape in [str(option.shape) for option in shapes_for(chord(label), get_tuning("guitar"))[:2]]


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from([q for q in all_qualities() if len(q.essential) <= 5]),
    st.sampled_from(["C", "C#", "Eb", "F#", "G", "Ab", "Bb", "B"]),
    st.sampled_from([t for t in all_tunings() if t.string_count <= 6]),
)
def test_every_shape_sounds_its_chord_and_fits_a_hand(quality: object, root: str, tuning: object) -> None:
    wanted = Chord(NoteName.parse(root), quality)  # type: ignore[arg-type]
    options = shapes_for(wanted, tuning)  # type: ignore[arg-type]
    assert [o.cost for o in options] == sorted(o.cost for o in options)
    assert len({o.shape for o in options}) == len(options)
    for option in options:
        classes = {p % 12 for p in tuning.sounding(option.shape) if p is not None}  # type: ignore[attr-defined]
        assert required_pitch_classes(wanted, tuning.string_count) <= classes <= wanted.pitch_classes  # type: ignore[attr-defined]
        silent = {wanted.root.above(d).pitch_class for d in option.missing}
        assert silent == {n.pitch_class for n in wanted.notes} - classes
        assert usual_fingerings(option.shape, tuning)[0] == option.fingering  # type: ignore[arg-type]
        assert option.frame.shape == option.shape
        assert all(option.frame.first_fret <= f <= option.frame.last_fret for f in option.shape.stopped)


def test_the_bass_counts_on_a_guitar_and_not_on_a_reentrant_ukulele() -> None:
    first = shapes_for(chord("Am/G"), get_tuning("guitar"), limit=40)
    lowest = [get_tuning("guitar").lowest(o.shape) for o in first if not o.inversion]
    assert {p % 12 for p in lowest if p is not None} == {7}
    assert not any(o.inversion for o in shapes_for(chord("C/E"), get_tuning("ukulele")))


def test_four_strings_leave_out_what_players_leave_out() -> None:
    option = shapes_for(chord("C9"), get_tuning("ukulele"))[0]
    assert [str(d) for d in option.missing] == ["5"]


def test_the_short_string_of_a_banjo_is_never_stopped() -> None:
    for label in ("C", "D7", "F#m", "Bb"):
        assert {o.shape.frets[0] for o in shapes_for(chord(label), get_tuning("banjo"), limit=50)} <= {0, None}


def test_frames_start_at_the_nut_where_they_can() -> None:
    high = frame_of(usual_fingerings(Shape.parse("5558"), get_tuning("ukulele"))[0])
    assert (high.first_fret, high.fret_count) == (5, 4)
    low = frame_of(usual_fingerings(Shape.parse("3211"), get_tuning("ukulele"))[0])
    assert (low.first_fret, low.fret_count, low.barres) == (1, 4, (Barre(1, 2, 1),))
    assert low.fingers == (3, 2, 1, 1)


def test_an_open_dataset_finds_its_first_ukulele_positions_among_our_first_three() -> None:
    """@tombatossals/chords-db 0.5.1 (npm, MIT): seven plain qualities on twelve roots, read from its package."""
    data = Path(__file__).resolve().parents[2] / "node_modules" / "@tombatossals" / "chords-db" / "lib" / "ukulele.json"
    if not data.exists():
        pytest.skip("the npm package @tombatossals/chords-db is not installed: .ci/run fetches it")
    suffixes = {"major": "", "minor": "m", "7": "7", "m7": "m7", "maj7": "maj7", "sus4": "sus4", "dim": "dim"}
    found = []
    for row in (row for rows in json.loads(data.read_text())["chords"].values() for row in rows):
        if row["suffix"] in suffixes:
            position = row["positions"][0]
            up = position["baseFret"] - 1
            frets = tuple(f + up if f > 0 else None if f < 0 else 0 for f in position["frets"])
            options = shapes_for(chord(row["key"] + suffixes[row["suffix"]]), get_tuning("ukulele"))[:3]
            found.append(frets in [o.shape.frets for o in options])
    assert len(found) == 84
    assert sum(found) >= 0.95 * len(found)
