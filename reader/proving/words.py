"""Words that mean nothing: invented syllables for text around the music."""

from __future__ import annotations

from reader.proving.dice import Dice

_HEADS = [
    "b",
    "br",
    "c",
    "cl",
    "d",
    "dr",
    "f",
    "fl",
    "g",
    "gr",
    "h",
    "j",
    "k",
    "l",
    "m",
    "n",
    "p",
    "pl",
    "r",
    "s",
    "sh",
    "st",
    "t",
    "tr",
    "v",
    "w",
]
_HEARTS = ["a", "e", "i", "o", "u", "ai", "ea", "oo", "ou", "a", "e", "i", "o"]
_TAILS = ["", "", "", "n", "r", "l", "s", "t", "m", "nd", "ck", "ll", "th", "ng"]
_TITLES = [
    "Chords",
    "Ukulele",
    "Lesson",
    "Week",
    "Warm-up",
    "Practice",
    "Group",
    "Songs",
    "Book",
    "Shapes",
    "New",
    "Old",
    "Easy",
    "Sheet",
    "Term",
    "Homework",
    "Monday",
    "Class",
    "Review",
    "Key",
    "Minor",
    "Major",
    "Set",
    "Part",
    "Level",
]


def word(dice: Dice) -> str:
    """One invented word."""
    return "".join(
        dice.pick(_HEADS) + dice.pick(_HEARTS) + dice.pick(_TAILS)
        for _ in range(dice.weigh({1: 0.55, 2: 0.38, 3: 0.07}))
    )


def phrase(dice: Dice, count: int) -> str:
    """Some invented words as a line of text."""
    text = " ".join(word(dice) for _ in range(max(count, 1)))
    if dice.chance(0.5):
        text = text[0].upper() + text[1:]
    return text + dice.weigh({"": 0.7, ",": 0.15, ".": 0.1, "!": 0.03, "?": 0.02})


def title(dice: Dice) -> str:
    """A heading of a hand-out."""
    parts = [dice.pick(_TITLES) for _ in range(dice.whole(1, 2))]
    if dice.chance(0.3):
        parts.append(str(dice.whole(1, 14)))
    if dice.chance(0.25):
        parts.insert(0, word(dice).capitalize())
    return " ".join(parts)
