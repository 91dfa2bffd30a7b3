"""How players spell roots and basses where no key says it: D flat, but C sharp minor and C sharp 7."""

from __future__ import annotations

from functools import lru_cache

from reader.music.key import Key, spell_between
from reader.music.pitch import NoteName
from reader.music.quality import Quality

LOWEST_MAJOR, LOWEST_DOMINANT, LOWEST_MINOR = -5, -4, -3
"""Where the twelve usual roots begin on the line of fifths, by kind of chord (common practice, no source)."""


def usual_root(pitch_class: int, quality: Quality, key: Key | None = None) -> NoteName:
    """The root of a chord as players write it, or as the key spells it."""
    if key:
        return key.spell(pitch_class)
    if quality.is_minor:
        return spell_between(pitch_class, LOWEST_MINOR)
    return spell_between(pitch_class, LOWEST_DOMINANT if quality.is_dominant else LOWEST_MAJOR)


def usual_note(pitch_class: int, key: Key | None = None) -> NoteName:
    """A note that belongs to no chord."""
    return key.spell(pitch_class) if key else spell_between(pitch_class, LOWEST_MAJOR)


@lru_cache(maxsize=512)
def note_near(pitch_class: int, root: NoteName) -> NoteName:
    """The plain spelling that lies nearest to a root on the line of fifths: the bass under a chord that lacks it."""
    spellings = {spell_between(pitch_class, lowest) for lowest in (LOWEST_MAJOR, LOWEST_MINOR, -6, 0)}
    plain = [s for s in spellings if s.is_simple()]
    return min(plain, key=lambda s: abs(s.fifths - root.fifths - 1))


def plain_note(name: NoteName) -> NoteName:
    """The note that players write for a double flat or double sharp."""
    if abs(name.alteration) < 2:
        return name
    return spell_between(name.pitch_class, LOWEST_MAJOR if name.alteration < 0 else -1)
