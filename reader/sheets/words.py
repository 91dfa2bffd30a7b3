"""The English words that stand on sheets."""

from __future__ import annotations

NO_BREAK = "\u00a0"

CAUTION = "Wrist straight, light touch, rest before you tire. If wrist or fingers hurt or go numb, stop for today."
NAME = "Name"
DATE = "Date"
NOTES = "Notes"
BLANKS = "Draw your own"
COMPUTED_SIGN = "□"
COMPUTED_LEGEND = "□ worked out from the tuning, not in your library"
STAND_INS = "Lighter stand-ins"
STAND_INS_REMARK = "What may replace a chord that is still hard, and what it costs in sound."
INSTEAD = "{easy} instead of {hard}"
SAME_NAME = "An easier {hard} ({missing})"

IN_ORDER = "In order"
CHANGES = "The changes"
CHANGES_REMARK = "Go back and forth between two chords slowly; fingers that stay are your anchor."
HARDEST = "▲ the hardest change here: practise it first"
EASIER = "Easier: play {chord} as {shape}, fingers {fingers}."
REPLACED = "Or play {easy} ({shape}) for {hard}: {words}"
SHORTENED = "Or play an easier {hard} ({shape}): {words}"

LEADS_HOME, LEADS_ON = "leads home to", "leads to"

OFFICES: dict[str, tuple[str, ...]] = {
    "major": (
        "home",
        "sets off towards V",
        "a softer home, on the way to vi or IV",
        "away from home",
        "pulls back home",
        "home in the shade",
        "pulls home like V7",
    ),
    "minor": (
        "home",
        "sets off towards V",
        "a brighter home",
        "away from home",
        "pulls home gently; V7 pulls harder",
        "away, brighter",
        "leads to III",
    ),
}
"""What each degree does in its key, in a student's words (common practice, no source)."""

NUMBER_WORDS = ("no", "one", "two", "three", "four", "five")
