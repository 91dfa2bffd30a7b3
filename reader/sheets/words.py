"""The English words that stand on sheets."""

from __future__ import annotations

CAUTION = "Wrist straight, light touch, rest before you tire. If wrist or fingers hurt or go numb, stop for today."
NAME = "Name"
DATE = "Date"
NOTES = "Notes"
BLANKS = "Draw your own"
COMPUTED_SIGN = "□"
COMPUTED_LEGEND = "□ worked out from the tuning, not in your library"
OTHER_WAYS = "other ways"
