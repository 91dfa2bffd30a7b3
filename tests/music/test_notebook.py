"""The package as a person uses it from a notebook."""

from __future__ import annotations

import subprocess
import sys

import pytest

from reader import music
from reader.music import (
    Degree,
    NoteName,
    Pitch,
    all_qualities,
    all_tunings,
    get_quality,
    get_tuning,
    parse_key,
    parse_label,
)

NAMES = {"parse_label": parse_label, "parse_key": parse_key, "get_tuning": get_tuning, "get_quality": get_quality}
NAMES |= {"NoteName": NoteName, "Degree": Degree, "Pitch": Pitch}


def test_every_name_is_at_hand() -> None:
    assert all(getattr(music, name) is not None for name in dir(music))
    with pytest.raises(AttributeError, match="no attribute 'guess'"):
        _ = music.guess


@pytest.mark.parametrize(
    "value",
    [
        *(parse_label(t) for t in ("Am7/G", "C7(no3)", "F#m7b5", "Cb(no3)")),
        *(parse_key(t) for t in ("Bb", "F#m")),
        *all_tunings(),
        get_tuning("D A D F# A C#"),
        get_tuning("gCEA capo 2"),
        *all_qualities(),
        NoteName.parse("Bb"),
        Degree.parse("bb7"),
        Pitch.parse("Eb4"),
    ],
    ids=repr,
)
def test_what_is_shown_builds_the_value_again(value: object) -> None:
    assert eval(repr(value), dict(NAMES)) == value


def test_an_explanation_prints_as_text() -> None:
    told = music.explain_shape(music.Shape.parse("0003"), music.get_tuning("ukulele"))
    assert str(told).splitlines()[2].startswith("C ")


def test_no_numpy_is_loaded() -> None:
    code = "import sys; from reader import music; [getattr(music, n) for n in dir(music)]; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert not {"numpy", "cv2", "PIL", "skimage"} & set(loaded)
