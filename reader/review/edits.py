"""Changes of one diagram, as values: a draft and an edit give a new draft.

A dot stays where the ink is: a new first fret moves all frets with it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from reader.errors import NotationError
from reader.music.frame import Barre, Finger, Frame
from reader.music.shape import MAX_FRET, MAX_STRINGS, Shape
from reader.music.tuning import default_tuning, get_tuning
from reader.reading import frame_from_object, frame_to_object

T = TypeVar("T")

FEWEST_STRINGS = 3


@dataclass(frozen=True, slots=True)
class Draft:
    """What a person is about to say of a diagram."""

    frame: Frame
    label: str | None
    tuning: str

    def to_object(self) -> dict[str, Any]:
        """As plain JSON, for the page to carry."""
        return {**frame_to_object(self.frame), "label": self.label, "tuning": self.tuning}


def draft_from(data: Mapping[str, Any]) -> Draft:
    """Inverse of `Draft.to_object`.

    Raises
    ------
    NotationError
        When it is no diagram.
    """
    try:
        frame = frame_from_object(dict(data))
        label, tuning = data["label"], str(data["tuning"])
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise NotationError(f"The diagram sent is not complete ({error}): load the page again.") from None
    get_tuning(tuning)
    return Draft(_checked(frame), label if label is None else str(label), tuning)


def _checked(frame: Frame) -> Frame:
    Shape(frame.frets)  # raises on impossible frets
    if frame.first_fret > MAX_FRET or frame.fret_count > MAX_FRET:
        raise NotationError(f"A diagram has frets up to {MAX_FRET}: check the first fret and the number of spaces.")
    return frame


# ---------------------------------------------------------------- frets


def set_fret(draft: Draft, string: int, fret: int | None) -> Draft:
    """One string stopped at a fret, open (0) or not played (None)."""
    frets = [*draft.frame.frets]
    frets[_index(draft, string)] = fret
    return replace(draft, frame=with_frets(draft.frame, tuple(frets)))


def move_fret(draft: Draft, string: int, by: int) -> Draft:
    """One string a place further along: not played, open, then the spaces of the window."""
    frame = draft.frame
    places: list[int | None] = [None, 0, *range(frame.first_fret, frame.last_fret + 1)]
    fret = frame.frets[_index(draft, string)]
    # a stop outside the window enters it at its nearest end
    at = places.index(fret) if fret in places else (1 if fret is not None and fret < frame.first_fret else len(places))
    return set_fret(draft, string, places[min(max(at + by, 0), len(places) - 1)])


def type_frets(draft: Draft, text: str) -> Draft:
    """All frets from their one-line text; another number of strings changes that too."""
    frets = Shape.parse(text).frets
    return _fitting_tuning(replace(draft, frame=with_frets(draft.frame, frets)))


def with_frets(frame: Frame, frets: tuple[int | None, ...]) -> Frame:
    """The frame with other frets: fingers stay with stops that stay, barres with strings that they still stop."""
    shifted = _shifted_window(frame, frets)
    if shifted is not None:
        return shifted
    fingers: list[Finger] = [
        frame.fingers[i] if i < frame.string_count and fret and frame.frets[i] == fret else None
        for i, fret in enumerate(frets)
    ]
    barres = tuple(b for b in frame.barres if len(frets) == frame.string_count and _still_stops(b, frets))
    first, count = _window(frame, frets)
    return _checked(Frame(frets, tuple(fingers), count, first, barres))


def _shifted_window(frame: Frame, frets: tuple[int | None, ...]) -> Frame | None:
    """The whole frame moved along the neck, when that is all the new frets say."""
    if len(frets) != frame.string_count or [not f for f in frets] != [not f for f in frame.frets]:
        return None
    by = {new - old for new, old in zip(frets, frame.frets, strict=True) if new and old}
    if len(by) != 1 or (moved := by.pop()) == 0 or frame.first_fret + moved < 1:
        return None
    # one lone dot is more likely on another row of the paper than under another number
    if len(frame.shape.stopped) == 1:
        return None
    barres = tuple(replace(b, fret=b.fret + moved) for b in frame.barres)
    return replace(frame, frets=frets, first_fret=frame.first_fret + moved, barres=barres)


def _still_stops(barre: Barre, frets: tuple[int | None, ...]) -> bool:
    under = [f for i, f in enumerate(frets) if barre.covers(i, len(frets))]
    return all(f is None or f >= barre.fret for f in under) and barre.fret in under


def _window(frame: Frame, frets: tuple[int | None, ...]) -> tuple[int, int]:
    """First fret and number of spaces in which all stops lie."""
    stopped = [f for f in frets if f]
    if not stopped or (frame.first_fret <= min(stopped) and max(stopped) <= frame.last_fret):
        return frame.first_fret, frame.fret_count
    if max(stopped) <= frame.fret_count:
        return 1, frame.fret_count
    return min(stopped), max(frame.fret_count, max(stopped) - min(stopped) + 1)


# ---------------------------------------------------------------- the rest of the frame


def set_finger(draft: Draft, string: int, finger: str) -> Draft:
    """The finger on one string; the same again takes it away."""
    index = _index(draft, string)
    (wanted,) = _parse_fingers(finger, 1)
    fingers = [*draft.frame.fingers]
    fingers[index] = None if fingers[index] == wanted else wanted
    return replace(draft, frame=replace(draft.frame, fingers=tuple(fingers)))


def type_fingers(draft: Draft, text: str) -> Draft:
    """All fingers as one text, a sign per string: 1 to 4, T, and - for none."""
    return replace(draft, frame=replace(draft.frame, fingers=_parse_fingers(text, draft.frame.string_count)))


def fingers_text(frame: Frame) -> str:
    """Inverse of `type_fingers`."""
    return "".join("-" if f is None else str(f) for f in frame.fingers)


def _parse_fingers(text: str, count: int) -> tuple[Finger, ...]:
    signs = text.replace(" ", "").upper()
    if not signs:
        return (None,) * count
    bad = next((s for s in signs if s not in "01234T-X"), None)
    if bad is not None or len(signs) != count:
        raise NotationError(
            f"The fingers '{text}' do not fit {count} strings: give one sign per string, 1 to 4, T for the thumb, "
            "- for none."
        )
    return tuple(None if s in "0-X" else "T" if s == "T" else int(s) for s in signs)


def set_first_fret(draft: Draft, fret: int) -> Draft:
    """Another number for the first space; dots and barres keep their rows."""
    frame, by = draft.frame, fret - draft.frame.first_fret
    if fret < 1:
        raise NotationError("The first space is fret 1 or higher.")
    frets = tuple(f + by if f else f for f in frame.frets)
    barres = tuple(replace(b, fret=b.fret + by) for b in frame.barres)
    if any(f is not None and f < 0 for f in frets):
        raise NotationError("A dot would lie behind the nut: move it first.")
    return replace(draft, frame=_checked(replace(frame, frets=frets, first_fret=fret, barres=barres)))


def set_rows(draft: Draft, count: int) -> Draft:
    """Another number of fret spaces, not fewer than the dots need."""
    frame = draft.frame
    lowest = max([f - frame.first_fret + 1 for f in frame.frets if f], default=1)
    return replace(draft, frame=_checked(replace(frame, fret_count=max(1, count, lowest))))


def set_strings(draft: Draft, count: int) -> Draft:
    """Another number of strings; new ones come at the right, open."""
    if not FEWEST_STRINGS <= count <= MAX_STRINGS:
        raise NotationError(f"A diagram has {FEWEST_STRINGS} to {MAX_STRINGS} strings.")
    frame = draft.frame
    frets = (*frame.frets, *(0,) * count)[:count]
    fingers = (*frame.fingers, *(None,) * count)[:count]
    changed = replace(frame, frets=frets, fingers=fingers, barres=())
    return _fitting_tuning(replace(draft, frame=changed))


def set_tuning(draft: Draft, text: str) -> Draft:
    """Another tuning, by its id, name or notes."""
    tuning = get_tuning(text)
    tuning.check_strings(draft.frame.shape)
    return replace(draft, tuning=tuning.id)


def set_label(draft: Draft, text: str) -> Draft:
    """Another label; nothing takes it away."""
    return replace(draft, label=text.strip() or None)


def toggle_barre(draft: Draft, string: int) -> Draft:
    """A barre from one string to the last that it can stop, at that string's fret; the same again takes it away."""
    frame, index = draft.frame, _index(draft, string)
    fret, count = frame.frets[index], frame.string_count
    here = [b for b in frame.barres if b.covers(index, count) and b.fret == fret]
    if here:
        return replace(draft, frame=replace(frame, barres=tuple(b for b in frame.barres if b not in here)))
    if not fret:
        raise NotationError("A barre starts on a string that is stopped: choose one.")
    last = index
    while last + 1 < count and (frame.frets[last + 1] or 0) >= fret:
        last += 1
    if last == index:
        raise NotationError("A barre stops two strings or more: the next string is open or stopped lower.")
    barre = Barre(fret, count - index, count - last)
    return replace(draft, frame=replace(frame, barres=(*frame.barres, barre)))


def _index(draft: Draft, string: int) -> int:
    if not 0 <= string < draft.frame.string_count:
        raise NotationError(f"There is no string at place {string + 1}.")
    return string


def _fitting_tuning(draft: Draft) -> Draft:
    count = draft.frame.string_count
    if get_tuning(draft.tuning).string_count == count:
        return draft
    try:
        return replace(draft, tuning=default_tuning(count).id)
    except NotationError:
        raise NotationError(f"No usual tuning has {count} strings: check the number of strings.") from None


EDITS: dict[str, Callable[..., Draft]] = {
    "fret": set_fret,
    "move": move_fret,
    "frets": type_frets,
    "finger": set_finger,
    "fingers": type_fingers,
    "first-fret": set_first_fret,
    "rows": set_rows,
    "strings": set_strings,
    "tuning": set_tuning,
    "label": set_label,
    "barre": toggle_barre,
}
"""What the page may ask for; each takes the draft and the values named in its signature."""


def apply_edit(draft: Draft, name: str, values: Mapping[str, Any]) -> Draft:
    """Carry out one edit.

    Raises
    ------
    NotationError
        When there is no such edit, or it makes no diagram.
    """
    return carry_out(EDITS, draft, name, values)


def carry_out(edits: Mapping[str, Callable[..., T]], subject: T, name: str, values: Mapping[str, Any]) -> T:
    """Carry out one of the edits that a page may ask for.

    Parameters
    ----------
    edits : by name; each takes the subject and the values named in its signature
    subject : what is edited

    Raises
    ------
    NotationError
        When there is no such edit, its values do not fit, or it makes no sense.
    """
    edit = edits.get(name)
    if edit is None:
        raise NotationError(f"'{name}' is no edit: load the page again.")
    try:
        return edit(subject, **values)
    except TypeError:
        raise NotationError(f"The edit '{name}' came with values that do not fit: load the page again.") from None
