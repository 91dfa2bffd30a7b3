"""What must hold for every shape."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from reader.music.check import check_label
from reader.music.drawn_fingers import hand_problem
from reader.music.explain import explain_shape, to_object, to_text
from reader.music.fingering import usual_fingerings
from reader.music.frame import Frame
from reader.music.naming import Name, name_shape
from reader.music.shape import Shape
from reader.music.tuning import Tuning, get_tuning

fret = st.none() | st.integers(0, 24)


def typed(pitches: list[int]) -> Tuning:
    return get_tuning(" ".join(map(str, pitches)))


@st.composite
def shapes_and_tunings(draw: st.DrawFn, highest: int = 24) -> tuple[Shape, Tuning]:
    """3 to 10 strings, in any tuning, on frets 0 to 24."""
    pitches = draw(st.lists(st.integers(28, 76), min_size=3, max_size=10))
    one_fret = st.none() | st.integers(0, highest)
    frets = draw(st.lists(one_fret, min_size=len(pitches), max_size=len(pitches)))
    return Shape(tuple(frets)), typed(pitches)


def identities(names: tuple[Name, ...], down: int = 0) -> set[tuple[object, ...]]:
    """Names without their spelling, moved down by semitones."""
    return {
        (
            (n.chord.root.pitch_class - down) % 12,
            n.chord.quality.written,
            n.chord.added,
            n.chord.omitted,
            None if n.chord.bass is None else (n.chord.bass.pitch_class - down) % 12,
            n.rank,
        )
        for n in names
        if n.chord is not None
    }


@given(shapes_and_tunings(highest=12), st.integers(1, 11))
def test_transposing_a_shape_transposes_every_name(given_shape: tuple[Shape, Tuning], up: int) -> None:
    shape, tuning = given_shape
    moved = Shape(tuple(None if f is None else f + up for f in shape.frets))
    before, after = name_shape(shape, tuning), name_shape(moved, tuning)
    assert identities(after, down=up) == identities(before)


@given(shapes_and_tunings(highest=12))
def test_twelve_frets_up_the_names_are_the_same(given_shape: tuple[Shape, Tuning]) -> None:
    shape, tuning = given_shape
    octave_up = Shape(tuple(None if f is None else f + 12 for f in shape.frets))
    assert [n.text for n in name_shape(octave_up, tuning)] == [n.text for n in name_shape(shape, tuning)]


@given(shapes_and_tunings(), st.randoms(use_true_random=False))
def test_the_order_of_strings_changes_no_notes(given_shape: tuple[Shape, Tuning], random: object) -> None:
    shape, tuning = given_shape
    order = list(range(shape.string_count))
    random.shuffle(order)  # type: ignore[attr-defined]
    other = typed([tuning.pitches[i] for i in order])
    shuffled = Shape(tuple(shape.frets[i] for i in order))

    def sounds(s: Shape, t: Tuning) -> set[int]:
        return {p % 12 for p in t.sounding(s) if p is not None}

    assert sounds(shuffled, other) == sounds(shape, tuning)
    if other.reentrant == tuning.reentrant:
        assert identities(name_shape(shuffled, other)) == identities(name_shape(shape, tuning))


@given(shapes_and_tunings())
def test_every_exact_name_has_exactly_the_notes(given_shape: tuple[Shape, Tuning]) -> None:
    shape, tuning = given_shape
    sounding = {p % 12 for p in tuning.sounding(shape) if p is not None}
    for name in name_shape(shape, tuning):
        if name.exact and name.chord is not None:
            unheard = name.chord.pitch_classes - sounding
            eleventh = (name.chord.root.pitch_class + 5) % 12
            assert sounding <= name.chord.pitch_classes
            assert unheard <= ({eleventh} if "13" in name.chord.quality.written else set())  # nobody misses it
        elif name.chord is not None:
            assert sounding < name.chord.pitch_classes


@given(shapes_and_tunings(), st.sampled_from(["C", "F#m7b5", "Bb13", "G/B", "N.C.", "what", ""]))
def test_no_shape_crashes(given_shape: tuple[Shape, Tuning], label: str) -> None:
    shape, tuning = given_shape
    told = explain_shape(shape, tuning, label=label, key="Eb")
    assert to_text(told)
    assert len(to_object(told)["notes"]) == shape.string_count
    assert bool(told.names) == (set(shape.frets) != {None})
    check_label(shape, tuning, label)


@given(st.lists(fret, min_size=3, max_size=10), st.data())
def test_no_drawn_fingers_crash(frets: list[int | None], data: st.DataObject) -> None:
    finger = st.none() | st.integers(1, 4) | st.just("T")
    fingers = data.draw(st.lists(finger, min_size=len(frets), max_size=len(frets)))
    tuning = typed([40 + 5 * i for i in range(len(frets))])
    frame = Frame(tuple(frets), tuple(fingers), fret_count=24)  # type: ignore[arg-type]
    problem = hand_problem(frame, tuning)
    assert problem is None or problem.endswith(".")


@given(shapes_and_tunings(highest=12))
def test_usual_fingerings_press_what_the_shape_says(given_shape: tuple[Shape, Tuning]) -> None:
    shape, tuning = given_shape
    for fingering in usual_fingerings(shape, tuning):
        assert [f is not None for f in fingering.fingers] == [bool(fret) for fret in shape.frets]
        drawn = Frame(shape.frets, fingering.fingers, fret_count=12, barres=fingering.barres)
        assert hand_problem(drawn, tuning) is None
