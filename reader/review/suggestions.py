"""Other readings of a diagram, likeliest first, each with what speaks for it.

Two witnesses are asked: the ink (the alternatives that the reader kept) and the label (what would make it and the
dots agree). What both name comes first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

from reader.errors import NotationError
from reader.library.entry import Sighting
from reader.music.check import LabelCheck, Repair, check_label
from reader.music.frame import Frame
from reader.music.naming import best_chord_text
from reader.music.tuning import Tuning, get_tuning
from reader.review.edits import Draft, with_frets
from reader.review.texts import Texts

MOST = 9
"""One for each digit key."""
LABEL_WEIGHT = 0.35
"""What a repair by the label is worth beside the ink's probability, at the lowest cost (judged by hand)."""


@dataclass(frozen=True, slots=True)
class Suggestion:
    """Another reading.

    Parameters
    ----------
    draft : Draft
    name : str
        What it would sound.
    change : str
        What differs from the reading as it stands, in words.
    reasons : tuple of str
        What speaks for it.
    weight : float
        For the order alone.
    """

    draft: Draft
    name: str
    change: str
    reasons: tuple[str, ...]
    weight: float


def draft_of(sighting: Sighting) -> Draft:
    """A sighting as it stands."""
    return Draft(sighting.standing.frame, sighting.standing.label, sighting.standing.tuning)


@lru_cache(maxsize=512)
def label_check(draft: Draft) -> LabelCheck | None:
    """What the label says about the dots; None without a label or a fitting tuning."""
    if draft.label is None:
        return None
    try:
        return check_label(draft.frame.shape, get_tuning(draft.tuning), draft.label)
    except NotationError:
        return None


def suggest(sighting: Sighting, texts: Texts) -> list[Suggestion]:
    """Other readings of one sighting, at most nine."""
    standing = draft_of(sighting)
    found: dict[str, Suggestion] = {}
    for alternative in sighting.reading.alternatives:
        draft = replace(standing, frame=alternative.frame)
        reasons = (texts("suggest.ink", share=_percent(alternative.probability)), _label_reason(draft, texts))
        _add(found, standing, draft, tuple(r for r in reasons if r), alternative.probability, texts)
    if sighting.standing.frame != sighting.reading.frame:
        read = Draft(sighting.reading.frame, sighting.reading.label, sighting.reading.tuning)
        _add(found, standing, read, (texts("suggest.as-read"),), sighting.confidence, texts)
    check = label_check(standing)
    for repair in check.repairs if check is not None else ():
        weight = LABEL_WEIGHT * math.exp(1.0 - repair.cost)
        _add(found, standing, _repaired(standing, repair), (_sentence(repair),), weight, texts)
    return sorted(found.values(), key=lambda s: -s.weight)[:MOST]


def _add(
    found: dict[str, Suggestion], standing: Draft, draft: Draft, reasons: tuple[str, ...], weight: float, texts: Texts
) -> None:
    """Put a draft in, or strengthen the one that plays and reads the same."""
    key = f"{draft.frame.shape} {draft.frame.first_fret} {draft.label} {draft.tuning}"
    if draft.frame.shape == standing.frame.shape and (draft.label, draft.tuning) == (standing.label, standing.tuning):
        return
    known = found.get(key)
    if known is None:
        change = describe_change(standing, draft, texts)
        found[key] = Suggestion(draft, _name(draft), change, reasons, weight)
        return
    # the label's sentence repeats what the change and the ink's reason already say
    found[key] = replace(known, weight=known.weight + weight)


def _repaired(standing: Draft, repair: Repair) -> Draft:
    frame = standing.frame if repair.shape == standing.frame.shape else _reframed(standing.frame, repair)
    return Draft(frame, repair.label, repair.tuning.id)


def _reframed(frame: Frame, repair: Repair) -> Frame:
    return with_frets(frame, repair.shape.frets)


def _sentence(repair: Repair) -> str:
    return repair.sentence[:1].upper() + repair.sentence[1:] + "."


def _label_reason(draft: Draft, texts: Texts) -> str:
    check = label_check(draft)
    if check is None or check.verdict == "unparsed":
        return ""
    return texts("suggest.label-agrees" if check.agrees else "suggest.label-differs", label=draft.label)


def _name(draft: Draft) -> str:
    tuning = get_tuning(draft.tuning)
    if tuning.string_count != draft.frame.string_count:
        return ""
    return best_chord_text(draft.frame.shape, tuning)


def describe_change(standing: Draft, draft: Draft, texts: Texts) -> str:
    """What differs between two drafts, in words for a player."""
    if standing.tuning != draft.tuning:
        return texts("change.tuning", tuning=_tuning_name(draft))
    if standing.label != draft.label and standing.frame.shape == draft.frame.shape:
        return texts("change.label", label=draft.label or texts("change.none"))
    old, new = standing.frame, draft.frame
    if old.string_count != new.string_count:
        return texts("change.strings", count=new.string_count)
    different = [i for i in range(new.string_count) if old.frets[i] != new.frets[i]]
    if old.first_fret != new.first_fret and len(different) > 1:
        return texts("change.first-fret", fret=new.first_fret)
    if len(different) > 2:
        return texts("change.shape", shape=str(new.shape))
    parts = [
        texts("change.string", number=new.string_count - i, place=place_words(new.frets[i], texts))
        for i in reversed(different)
    ]
    return texts("change.and").join(parts)


def place_words(fret: int | None, texts: Texts) -> str:
    """Where a string is stopped, in words."""
    if fret is None:
        return texts("place.muted")
    return texts("place.fret", fret=fret) if fret else texts("place.open")


def _tuning_name(draft: Draft) -> str:
    tuning: Tuning = get_tuning(draft.tuning)
    return tuning.name


def _percent(share: float) -> str:
    """A share for reading aloud: no more digits than it can bear."""
    return f"{share * 100:.0f}" if share >= 0.095 else f"{share * 100:.1f}"
