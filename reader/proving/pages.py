"""The kinds of page, and how each is made."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import cv2

from reader.proving.dice import Dice
from reader.proving.draft import Draft
from reader.proving.drafts import (
    board_draft,
    hand_draft,
    leaf_draft,
    printed_draft,
    tab_draft,
    tablet_draft,
)
from reader.proving.finish import (
    Picture,
    as_is,
    as_stored,
    crop,
    glare,
    page_truth,
    through_camera,
    through_scanner,
)
from reader.proving.fonts import FontBox
from reader.proving.legible import as_seen
from reader.proving.legible_tabs import tabs_as_seen
from reader.proving.negatives import LEAVES
from reader.proving.paper import punch, show_through
from reader.proving.sheet import Shots
from reader.proving.warp import Warp, flat

Done = tuple[Draft, Shots, Warp]


def _photo_side(dice: Dice) -> int:
    """Longer side of a photo: mostly reduced, some as the sensor gave them."""
    return 4032 if dice.chance(0.12) else dice.whole(1200, 2400)


def make_printed(seed: int, fonts: FontBox, dice: Dice) -> Done:
    """A clean rendering."""
    draft = printed_draft(seed, fonts, dice, "printed", dice.whole(700, 2400), False, dice.chance(0.04))
    return draft, *as_is(draft, dice.child("out"))


def make_printed_scan(seed: int, fonts: FontBox, dice: Dice) -> Done:
    """A print, copied or scanned, now and then photographed."""
    draft = printed_draft(seed, fonts, dice, "printed", dice.whole(1100, 2300), dice.chance(0.7), False)
    if dice.chance(0.15):
        return draft, *through_camera(draft, dice.child("camera"), _photo_side(dice), 0.14, 1.0, False)
    return draft, *through_scanner(draft, dice.child("scan"), dice.between(0.8, 1.1), dice.chance(0.45))


def make_hand_scan(seed: int, fonts: FontBox, dice: Dice) -> Done:
    """A hand-out on a flat-bed."""
    draft = hand_draft(seed, fonts, dice, "hand", dice.whole(1000, 2400))
    if dice.chance(0.15):
        punch(draft.sheet, dice.child("punch"), (238, 238, 236))
    return draft, *through_scanner(draft, dice.child("scan"), dice.between(0.8, 1.1), dice.chance(0.2))


def make_hand_photo(seed: int, fonts: FontBox, dice: Dice) -> Done:
    """A hand-out photographed with a phone."""
    side = _photo_side(dice)
    draft = hand_draft(seed, fonts, dice, "hand", min(2400, round(side * dice.between(0.75, 1.0))))
    if dice.chance(0.12):
        punch(draft.sheet, dice.child("punch"), (95, 80, 70))
    return draft, *through_camera(draft, dice.child("camera"), side, 0.2, 1.0, False)


def make_whiteboard(seed: int, fonts: FontBox, dice: Dice) -> Done:
    """A board photographed after a lesson."""
    draft = board_draft(seed, fonts, dice, dice.whole(1500, 2300))
    side = min(_photo_side(dice), 3000)
    shots, warp = through_camera(draft, dice.child("camera"), side, 0.16, 0.7, True, dice.chance(0.25))
    return draft, shots.each(lambda p: glare(p, dice.child("glare"))) if dice.chance(0.6) else shots, warp


def make_songbook(seed: int, fonts: FontBox, dice: Dice) -> Done:
    """Words with tiny grids, by hand or printed, on a screen, a scan or a photo."""
    side = dice.whole(1200, 1900)
    by_hand = dice.chance(0.5)
    out = dice.weigh({"scan": 0.55, "as is": 0.2, "photo": 0.25})
    if by_hand:
        draft = hand_draft(seed, fonts, dice, "song", side)
    else:
        draft = printed_draft(seed, fonts, dice, "song", side, out != "as is" and dice.chance(0.6), False)
    if out == "as is":
        return draft, *as_is(draft, dice.child("out"))
    if out == "scan":
        return draft, *through_scanner(draft, dice.child("scan"), dice.between(0.95, 1.15), dice.chance(0.3))
    return draft, *through_camera(draft, dice.child("camera"), round(side * dice.between(1.15, 1.4)), 0.1, 0.8, False)


def make_tablet(seed: int, fonts: FontBox, dice: Dice) -> Done:
    """A drawing from a tablet."""
    draft = tablet_draft(seed, fonts, dice, dice.whole(600, 2000))
    return draft, *as_is(draft, dice.child("out"))


def make_negative(seed: int, fonts: FontBox, dice: Dice) -> Done:
    """A page with nothing to read, by hand or printed, scanned or photographed."""
    side = dice.whole(1000, 2200)
    by_hand = dice.chance(0.5)
    if dice.chance(0.07):
        front = leaf_draft(seed, fonts, dice.child("front"), dice.pick(["text", "squares", "form"]), side, by_hand)
        behind = hand_draft(seed, fonts, dice.child("behind"), "hand", side).sheet.pixels
        show_through(front.sheet, cv2.resize(behind, front.sheet.size), dice.child("through"))
        draft = front
    elif dice.chance(0.07):
        blank = hand_draft(seed, fonts, dice.child("blank"), "blank", side)
        draft = Draft(blank.sheet, blank.writer, ignore=blank.ignore)
    else:
        draft = leaf_draft(seed, fonts, dice, dice.pick(list(LEAVES)), side, by_hand)
    out = dice.weigh({"as is": 0.25, "scan": 0.35, "photo": 0.4})
    if out == "as is":
        return draft, *as_is(draft, dice.child("out"))
    if out == "scan":
        return draft, *through_scanner(draft, dice.child("scan"), dice.between(0.8, 1.1), dice.chance(0.3))
    return draft, *through_camera(draft, dice.child("camera"), _photo_side(dice), 0.18, 1.0, False)


def make_tab_printed(seed: int, fonts: FontBox, dice: Dice) -> Done:
    """Tablature from a program, on a screen or scanned."""
    draft = tab_draft(seed, fonts, dice, "print", dice.whole(1000, 2300))
    if dice.chance(0.5):
        return draft, draft.sheet.shots, flat(draft.sheet.size)
    return draft, *through_scanner(draft, dice.child("scan"), dice.between(0.85, 1.1), dice.chance(0.3), turns=False)


def make_tab_hand(seed: int, fonts: FontBox, dice: Dice) -> Done:
    """Tablature by hand, scanned or from a tablet."""
    medium = dice.weigh({"paper": 0.65, "tablet": 0.35})
    draft = tab_draft(seed, fonts, dice, medium, dice.whole(1000, 2300))
    if medium == "tablet":
        return draft, draft.sheet.shots, flat(draft.sheet.size)
    return draft, *through_scanner(draft, dice.child("scan"), dice.between(0.85, 1.1), dice.chance(0.15), turns=False)


def make_tab_photo(seed: int, fonts: FontBox, dice: Dice) -> Done:
    """Tablature photographed with a phone."""
    side = _photo_side(dice)
    draft = tab_draft(seed, fonts, dice, dice.weigh({"paper": 0.6, "print": 0.4}), min(2300, round(side * 0.9)))
    return draft, *through_camera(draft, dice.child("camera"), side, 0.16, 1.0, False, turns=False)


KINDS: dict[str, Callable[[int, FontBox, Dice], Done]] = {
    "printed": make_printed,
    "printed-scan": make_printed_scan,
    "hand-scan": make_hand_scan,
    "hand-photo": make_hand_photo,
    "whiteboard": make_whiteboard,
    "songbook": make_songbook,
    "tablet": make_tablet,
    "negative": make_negative,
    "tab-printed": make_tab_printed,
    "tab-hand": make_tab_hand,
    "tab-photo": make_tab_photo,
}


def make_page(seed: int, number: int, kinds: Sequence[str], fonts: FontBox) -> Picture:
    """Page `number` (from 0) of a seed; the same whatever the number of pages.

    Parameters
    ----------
    seed, number : int
    kinds : sequence of str
        Kinds to take in turn.
    fonts : FontBox

    Returns
    -------
    Picture
        Its truth names the file ``KIND-NNNN.SUFFIX``.
    """
    kind = kinds[number % len(kinds)]
    dice = Dice(seed, "page", number, kind)
    draft, shots, warp = KINDS[kind](seed, fonts, dice)
    last = dice.child("last")
    if kind not in ("negative",) and not kind.startswith("tab-") and last.chance(0.035):
        shots, warp = crop(shots, warp, last)
    photo = kind in ("hand-photo", "whiteboard", "tab-photo") or max(warp.size) > 2800
    suffix = "jpg" if photo or last.chance(0.45) else "png"
    orientation = last.weigh({1: 0.85, 6: 0.09, 8: 0.03, 3: 0.03}) if photo else 1
    quality = last.whole(55, 93)
    if draft.charts or draft.systems:
        stored = shots.each(lambda p: as_stored(p, suffix, quality))
        draft = tabs_as_seen(as_seen(draft, stored, warp), stored, warp)
    truth = page_truth(draft, warp, kind, f"{kind}-{number:04d}.{suffix}")
    return Picture(shots.pixels, suffix, quality, orientation, truth)
