"""Sheets as they are drawn, before anybody scans or photographs them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import cv2
import numpy as np

from reader.proving.artist import Artist, program, writer
from reader.proving.dice import Dice
from reader.proving.draft import Draft
from reader.proving.fonts import FontBox
from reader.proving.layouts import PAGES, Job, lay_grid
from reader.proving.negatives import LEAVES, Leaf
from reader.proving.paper import clean_sheet, real_sheet, rule, show_through, stain
from reader.proving.printer import Printer
from reader.proving.sheet import Colour, Sheet
from reader.proving.tabs import fill_with_systems, make_tab_habit
from reader.proving.words import title

_SHAPES = {"tall": 0.707, "wide": 1.414, "square": 1.0, "phone": 0.56, "slip": 2.6}
_LAYOUTS: dict[str, dict[str, float]] = {
    "printed": {
        "chart": 0.42, "lesson": 0.2, "margin": 0.08, "scatter": 0.06, "closeup": 0.09, "strip": 0.12, "either": 0.02,
        "lead": 0.06,
    },
    "hand": {
        "chart": 0.38, "lesson": 0.16, "scatter": 0.15, "closeup": 0.1, "strip": 0.09, "margin": 0.05, "either": 0.04,
        "staff": 0.03, "lead": 0.02,
    },
    "board": {"scatter": 0.35, "chart": 0.35, "closeup": 0.15, "strip": 0.1, "either": 0.05},
    "tablet": {"closeup": 0.38, "scatter": 0.17, "chart": 0.28, "strip": 0.17},
    "song": {"song": 0.86, "lead": 0.14},
    "blank": {"blank": 1.0},
}  # fmt: skip
_LENGTH_MM = {"closeup": 95.0, "strip": 170.0}  # longer side of the sheet; 297 elsewhere


def _canvas(dice: Dice, layout: str, long_side: int) -> tuple[tuple[int, int], float]:
    """Size in pixels, and the width of a thin pen."""
    shape = dice.weigh({"tall": 0.62, "wide": 0.22, "square": 0.06, "phone": 0.1})
    if layout == "strip":
        shape = dice.weigh({"slip": 0.7, "wide": 0.3})
    if layout in ("margin", "song"):
        shape = dice.weigh({"tall": 0.9, "phone": 0.1})
    if layout in _LENGTH_MM and dice.chance(0.3):
        long_side = max(round(long_side * 0.38), 280)
    ratio = _SHAPES[shape]
    size = (round(long_side * ratio), long_side) if ratio < 1 else (long_side, round(long_side / ratio))
    length = _LENGTH_MM.get(layout, 297.0)
    return size, max(0.9, long_side / length * dice.between(0.3, 0.5))


def _others(make: Callable[[Dice], Artist], dice: Dice, share: float) -> tuple[Artist, ...]:
    return tuple(make(dice.child("other", k)) for k in range(dice.whole(1, 3))) if dice.chance(share) else ()


def _name(artist: Artist, others: Sequence[Artist]) -> str:
    return artist.name if not others else artist.name + "+"


def _draw(
    sheet: Sheet, artist: Artist, others: tuple[Artist, ...], layout: str, dice: Dice, form: Printer | None
) -> Draft:
    draft = Draft(sheet, _name(artist, others))
    PAGES[layout](Job(draft, artist, others, dice.child("layout"), form))
    return draft


def printed_draft(seed: int, fonts: FontBox, dice: Dice, family: str, long_side: int, paper: bool, dark: bool) -> Draft:
    """A page from a printing program."""
    layout = dice.weigh(_LAYOUTS[family])
    size, fine = _canvas(dice, layout, long_side)
    artist = program(seed, fonts, dark, dice.child("artist"), lying=family != "song")
    colour: Colour = (30, 32, 38) if dark else (255, 255, 255)
    sheet = (
        real_sheet(size, fine, dice.child("paper")) if paper else clean_sheet(size, fine, dice.child("paper"), colour)
    )
    others = () if dark else _others(lambda d: program(seed, fonts, False, d), dice, 0.12)
    return _draw(sheet, artist, others, layout, dice, None)


def hand_draft(seed: int, fonts: FontBox, dice: Dice, family: str, long_side: int) -> Draft:
    """A hand-drawn hand-out on paper."""
    layout = dice.weigh(_LAYOUTS[family])
    size, fine = _canvas(dice, layout, long_side)
    sheet = real_sheet(size, fine, dice.child("paper"))
    tint = np.median(sheet.pixels[::17, ::17].reshape(-1, 3), axis=0)
    paper: Colour = (int(tint[0]), int(tint[1]), int(tint[2]))
    artist = writer(seed, "paper", fonts, fine, paper, dice.child("artist"), lying=family != "song")
    if dice.chance(0.05):
        behind = hand_draft(seed, fonts, dice.child("behind"), "hand", long_side).sheet.pixels
        if behind.shape == sheet.pixels.shape:
            show_through(sheet, behind, dice.child("through"))
    others = _others(lambda d: writer(seed, "paper", fonts, fine, paper, d), dice, 0.05)
    form = None
    if layout in ("chart", "strip") and dice.chance(0.12) and not artist.sideways:
        grey = dice.pick([(0, 0, 0), (90, 90, 90), (140, 150, 170)])
        form = Printer(sheet, fonts.printed[0], fonts.printed[0], {"grid": grey})
    draft = _draw(sheet, artist, others, layout, dice, form)
    if dice.chance(0.08):
        stain(sheet, dice.child("stain"))
    return draft


def board_draft(seed: int, fonts: FontBox, dice: Dice, long_side: int) -> Draft:
    """A whiteboard, or now and then a blackboard."""
    layout = dice.weigh(_LAYOUTS["board"])
    size = (long_side, round(long_side / dice.between(1.2, 1.8)))
    chalk = dice.chance(0.14)
    colour: Colour = dice.pick([(34, 62, 52), (40, 42, 46)]) if chalk else dice.pick([(247, 249, 249), (240, 243, 246)])
    sheet = clean_sheet(size, long_side / dice.between(380, 620), dice.child("board"), colour)
    medium = "board" if chalk else "whiteboard"
    artist = writer(seed, medium, fonts, sheet.fine, colour, dice.child("artist"))
    smudge(sheet, dice.child("smudge"), chalk)
    board_rim(sheet, dice.pick([(165, 168, 172), (120, 85, 50), (60, 62, 66)]))
    return _draw(sheet, artist, (), layout, dice, None)


def board_rim(sheet: Sheet, colour: Colour) -> None:
    """The frame of a board."""
    wide, high = sheet.size
    for thick, tint in ((0.016, colour), (0.003, (95, 95, 95))):
        t = round(thick * wide)
        cv2.rectangle(sheet.pixels, (t // 2, t // 2), (wide - 1 - t // 2, high - 1 - t // 2), tint, t)


def smudge(sheet: Sheet, dice: Dice, chalk: bool) -> None:
    """What the wiper left."""
    wide, high = sheet.size
    mask = np.zeros((high // 8 + 1, wide // 8 + 1), np.float32)
    for _ in range(dice.whole(2, 14)):
        a = (dice.whole(0, wide // 8), dice.whole(0, high // 8))
        b = (a[0] + dice.whole(-wide // 30, wide // 30), a[1] + dice.whole(-20, 20))
        cv2.line(mask, a, b, dice.between(0.03, 0.12), dice.whole(4, 14))
    mask = cv2.GaussianBlur(mask, (0, 0), 3)
    sheet.lay(0, 0, cv2.resize(mask, (wide, high)), (225, 225, 225) if chalk else (120, 125, 140), chalk)


def tablet_draft(seed: int, fonts: FontBox, dice: Dice, long_side: int) -> Draft:
    """A drawing made with a stylus."""
    layout = dice.weigh(_LAYOUTS["tablet"])
    size, _ = _canvas(dice, layout, long_side)
    dark = dice.chance(0.07)
    colour: Colour = (24, 24, 28) if dark else dice.pick([(255, 255, 255), (255, 255, 255), (252, 250, 244)])
    fine = long_side / (dice.between(170, 420) if layout == "closeup" else dice.between(420, 800))
    sheet = clean_sheet(size, fine, dice.child("paper"), colour)
    if not dark and dice.chance(0.25):
        rule(sheet, dice.pick(["squares", "lines", "dots"]), dice.child("rule"))
    medium = "board" if dark else "tablet"
    artist = writer(seed, medium, fonts, fine, colour, dice.child("artist"))
    return _draw(sheet, artist, (), layout, dice, None)


def leaf_draft(seed: int, fonts: FontBox, dice: Dice, name: str, side: int, by_hand: bool) -> Draft:
    """A page of one sort of thing that is no diagram."""
    size, fine = _canvas(dice, "lesson", side)
    sheet = real_sheet(size, fine, dice.child("paper"))
    if by_hand:
        artist = writer(seed, "paper", fonts, fine, (250, 250, 250), dice.child("artist"))
    else:
        artist = program(seed, fonts, False, dice.child("artist"))
    draft = Draft(sheet, artist.name)
    LEAVES[name](Leaf(draft, artist.tool(sheet, dice.child("tool")), dice.child("leaf")))
    return draft


def _systems(dice: Dice) -> int:
    return dice.weigh({1: 0.2, 2: 0.2, 3: 0.2, 4: 0.18, 5: 0.12, 6: 0.1})


def tab_draft(seed: int, fonts: FontBox, dice: Dice, medium: str, side: int) -> Draft:
    """Tablature by hand (on paper or a tablet) or printed, now and then under a row of diagrams."""
    count = _systems(dice)
    shape = dice.weigh({"tall": 0.7, "wide": 0.3}) if count > 2 else dice.weigh({"tall": 0.2, "wide": 0.4, "slip": 0.4})
    ratio = _SHAPES[shape]
    size = (round(side * ratio), side) if ratio < 1 else (side, round(side / ratio))
    fine = max(0.9, side / (297.0 if shape != "slip" else 200.0) * dice.between(0.3, 0.5))
    by_hand = medium != "print"
    if medium == "paper" or (medium == "print" and dice.chance(0.5)):
        sheet = real_sheet(size, fine, dice.child("paper"))
    else:
        sheet = clean_sheet(size, fine * (1.6 if medium == "tablet" else 1.0), dice.child("paper"))
    if by_hand:
        artist = writer(seed, medium, fonts, sheet.fine, (255, 255, 255), dice.child("artist"))
    else:
        artist = program(seed, fonts, False, dice.child("artist"))
    draft = Draft(sheet, artist.name)
    tool = artist.tool(sheet, dice.child("tool"))
    upper = 0.04
    if dice.chance(0.5):
        tool.write(title(dice), (size[0] / 2, 0.04 * size[1]), 0.02 * max(size), "c")
        upper = 0.08
    if dice.chance(0.15) and shape != "slip" and not artist.sideways:
        lay_grid(
            Job(draft, artist, (), dice.child("row")),
            dice.whole(3, 6),
            1,
            (0.06 * size[0], upper * size[1], 0.94 * size[0], (upper + 0.16) * size[1]),
        )
        upper += 0.17
    press = Printer(sheet, fonts.printed[0], fonts.printed[0]) if by_hand and dice.chance(0.2) else None
    habit = make_tab_habit(dice.child("habit"), by_hand)
    fill_with_systems(draft, tool, habit, artist.unrest, count, dice.child("systems"), press, upper)
    return draft
