"""Strings, frets, pitches and chord names: no pixels here.

From a notebook::

    >>> from reader import music
    >>> shape, ukulele = music.Shape.parse("0232"), music.get_tuning("gCEA")
    >>> print(music.check_label(shape, ukulele, "G7").sentence)
    The label says G7; the dots spell G; G7 would have the second string at fret 1.

Nothing is loaded before it is asked for.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

_HOMES = {
    "pitch": ("Degree", "NoteName", "Pitch", "frequency"),
    "tuning": ("Tuning", "all_tunings", "default_tuning", "get_tuning", "tunings_with"),
    "shape": ("Shape",),
    "frame": ("Barre", "Frame"),
    "quality": ("Quality", "all_qualities", "get_quality"),
    "chord": ("Chord", "chord_of"),
    "label": ("parse_label",),
    "label_style": ("STYLES", "LabelStyle", "chord_text"),
    "naming": ("Name", "name_shape", "notes_of"),
    "check": ("LabelCheck", "check_label"),
    "page_tuning": ("choose_tuning",),
    "key": ("Key", "parse_key"),
    "harmony": ("borrowed_chords", "diatonic_chords", "likely_keys", "role", "secondary_dominants"),
    "fingering": ("Fingering", "change", "easiest_change", "usual_fingerings"),
    "drawn_fingers": ("hand_problem",),
    "explain": ("Explanation", "explain_shape"),
}
_HOME_OF = {name: home for home, names in _HOMES.items() for name in names}

__all__ = sorted(_HOME_OF)  # noqa: PLE0605 (a list of strings, but computed)


def __getattr__(name: str) -> Any:
    if name not in _HOME_OF:
        raise AttributeError(f"module 'reader.music' has no attribute '{name}'")
    return getattr(import_module(f"reader.music.{_HOME_OF[name]}"), name)


def __dir__() -> list[str]:
    return __all__
