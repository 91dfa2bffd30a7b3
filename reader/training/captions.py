"""Draws the lettering around a grid: the number of a fret, the label, the names of the strings."""

from __future__ import annotations

import cv2
import numpy as np

from reader.training.brush import Brush, Written, box_of
from reader.training.content import MUTED, LabelText
from reader.training.lettering import raised, turned
from reader.training.strokes import Mask, choice, ellipse, paste

ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII", "XIII", "XIV", "XV", "XVI")

STANDS_HIGH = {"-": 0.4, "+": 0.25, "°": 0.55}
"""How far above the base line a sign alone stands, in heights of a capital."""


class CaptionBrush(Brush):
    """Draws numbers and words."""

    def _paint_number(self) -> None:
        st, c, rng = self.style, self.content, self.rng
        if c.first_fret == 1 and (self.nut or rng.random() > 0.012):
            return
        row = min(st.number_row, c.rows)
        rows = range(1, c.rows + 1) if st.number_form == "all" else [row]
        height = max(5.0, st.number_size * self.unit)
        for k in rows:
            value = c.first_fret + k - 1
            text = number_text(st.number_form, value)
            stamp = st.digit_hand.stamp(text, height, rng)
            if st.sideways and st.digits_turned:
                stamp = turned(stamp, -90 if st.sideways == 1 else 90)
            elif st.number_turned:
                stamp = turned(stamp, st.number_turned)
            far = self._clear_of(stamp)
            string = -far if st.number_side == "left" else c.strings - 1 + far
            v = k - 1 + (float(rng.choice([0.5, 0.5, 0.5, 0.1, 0.25])) if k == 1 else 0.5)
            if self.hand_drawn:
                v += float(rng.normal(0, 0.1))
            spot = self.at(string, v)
            x, y = spot[0] - stamp.shape[1] / 2, spot[1] - stamp.shape[0] / 2
            paste(self.sheet.masks["text" if rng.random() < 0.5 else "digit"], stamp, x, y)
            if st.digit_hand.knows(text) and not st.number_turned:
                self.written.append(Written("number", text, box_of(stamp, x, y)))
            self._note_height("number", height)
            if k == rows[0]:
                self.number, self.number_at = value, spot

    def _clear_of(self, stamp: Mask) -> float:
        """How far from the outer string a stamp's middle has to stand, in gaps."""
        size = stamp.shape[1] if self.style.sideways == 0 else stamp.shape[0]
        clear = self.style.number_away * self.rng.uniform(0.8, 1.2)
        if self.style.dot_size > 0.3 or self.content.barres:
            clear += 0.3
        return float(size / 2 / self.gap + clear)

    def _paint_label(self) -> None:
        st, label = self.style, self.content.label
        assert label is not None
        stamp = self._squeezed(self._label_stamp(label))
        self._note_height("label", float(stamp.shape[0]))
        room = self._frame_room(stamp)
        x, y = self._label_spot(np.pad(stamp, room))
        x, y = x + room, y + room
        paste(self.sheet.masks["text"], stamp, x, y)
        if room:
            self._paint_frame(stamp, x, y, room)
        self.label = label.truth
        self.label_at = box_of(stamp, x, y)
        if st.hand.knows(label.base + label.suffix + label.bass):
            self.written.append(
                Written("label", label.base + as_meant(label.suffix) + label.bass, self.label_at, room > 0)
            )

    def _frame_room(self, stamp: Mask) -> int:
        """How far the ring, box or line around a label reaches beyond it, sheet pixels."""
        if not self.style.label_frame:
            return 0
        share = 0.1 if self.style.label_frame == "line" else 0.25
        return max(2, int(self.rng.uniform(share, 2 * share) * stamp.shape[0]))

    def _paint_frame(self, stamp: Mask, x: float, y: float, room: int) -> None:
        """A ring or a box around a label at (x, y), or a line under it."""
        st, rng = self.style, self.rng
        h, w = stamp.shape
        pen = max(1.0, st.pen * self.gap * rng.uniform(0.8, 1.4))
        if st.label_frame == "ring":
            wide = (w + 2 * room) / 2 * rng.uniform(1.0, 1.25)
            path = ellipse(
                np.array([x + w / 2, y + h / 2]), wide, h / 2 + room, rng, 0.04 if self.hand_drawn else 0.0, 1.05
            )
            self._line(path if self.hand_drawn else np.vstack([path, path[:1]]), pen, "text")
            return
        low, high = np.array([x - room, y - room]), np.array([x + w + room, y + h + room])
        box = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
        box = box + (rng.normal(0, 0.15 * room, (4, 2)) if self.hand_drawn else 0.0)
        sides = [(2, 3)] if st.label_frame == "line" else [(0, 1), (1, 2), (2, 3), (3, 0)]
        for a, b in sides:
            self._line(box[[a, b]], pen, "text")

    def _label_stamp(self, label: LabelText) -> Mask:
        st, rng = self.style, self.rng
        height = max(6.0, st.label_size * self.unit * (1.0 if self.content.strings < 6 else 1.25))
        stamp = st.hand.stamp(label.base, height, rng)
        if label.suffix:
            stamp = self._with_suffix(stamp, label.suffix, height)
        if label.bass:
            stamp = raised(stamp, st.hand.stamp(label.bass, height * rng.uniform(0.8, 1), rng), 0.0, height * 0.08)
        if self.hand_drawn and rng.random() < 0.5:
            stamp = turned(stamp, float(rng.normal(0, 3)))
        return stamp

    def _with_suffix(self, stamp: Mask, suffix: str, height: float) -> Mask:
        """What follows the note: raised and small, or as large on the same line."""
        st, rng = self.style, self.rng
        small = st.label_raised and suffix[0] != " "
        k = rng.uniform(0.55, 0.8) if small else (0.75 if st.capitals and rng.random() < 0.5 else 1.0)
        # a small capital M is a minor: it must be seen to be small
        if st.capitals and suffix.startswith("m") and rng.random() < 0.6:
            k = min(k, 0.7)
            suffix = "M" + suffix[1:]
        return raised(
            stamp,
            st.hand.stamp(suffix, height * k, rng),
            rng.uniform(0.3, 0.6) if small else STANDS_HIGH.get(suffix, 0.0),
            height * rng.uniform(0.05, 0.3),
        )

    def _squeezed(self, stamp: Mask) -> Mask:
        """A label too wide for its grid, made to fit."""
        st = self.style
        room = self.gap * (self.content.strings + self.rng.uniform(0.2, 1.6))
        if st.sideways or stamp.shape[1] <= room or st.label_place == "left":
            return stamp
        k = max(0.55, room / stamp.shape[1])
        size = (round(stamp.shape[1] * k), max(4, round(stamp.shape[0] * k**0.5)))
        return np.asarray(cv2.resize(stamp, size, interpolation=cv2.INTER_AREA), np.uint8)

    def _label_spot(self, stamp: Mask) -> tuple[float, float]:
        """Left and top edge of the label on the sheet, clear of the marks and whatever else stands on its side."""
        st, c, rng = self.style, self.content, self.rng
        box = np.vstack([self.nodes[0, 0], self.nodes[-1, 0], self.nodes[-1, -1], self.nodes[0, -1]])
        lo, hi = box.min(0), box.max(0)
        h, w = stamp.shape
        marked = st.marks != "none" or MUTED in self.states
        marks = self.unit * (st.mark_distance + st.mark_size) if marked or st.fingers == "above" else 0.0
        foot = marked and self._marks_at_foot() and not st.sideways
        over = 0.0 if st.sideways or (foot and st.fingers != "above") else marks
        space = self.unit * rng.uniform(-0.03 if self.hand_drawn else 0.06, 0.75)
        mid = (lo[0] + hi[0]) / 2 + (rng.normal(0, 0.35) * self.unit if self.hand_drawn else 0)
        if st.label_place == "above":
            return mid - w / 2, lo[1] - over - space - h
        if st.label_place == "above-left":
            return lo[0] - rng.uniform(0, 0.5) * self.unit, lo[1] - over - space - h
        if st.label_place == "below":
            row = self.unit * 0.95 if st.fingers == "below" or st.run_on or st.strings_named else 0.0
            return mid - w / 2, hi[1] + (max(row, marks) if foot else row) + space
        left = self.unit * (1.2 if st.number_side == "left" and c.first_fret > 1 else 0.4)
        left += marks if st.sideways else 0.0
        return lo[0] - w - left - space * 0.5, lo[1] + rng.uniform(-0.2, 0.5) * self.unit

    def _paint_string_names(self) -> None:
        st, c, rng = self.style, self.content, self.rng
        names = list({4: "gCEA", 6: "EADGBE", 5: "gDGBD", 3: "GDG"}.get(c.strings, "EADGBEAD"))
        below = st.fingers != "below" and rng.random() < 0.8
        if not below and (st.marks != "none" or st.fingers == "above" or st.label_place.startswith("above")):
            return
        if rng.random() < 0.4:  # the notes that sound rather than the strings
            names = [note + choice(rng, {"": 80, "#": 12, "b": 8}) for note in rng.choice(list("ABCDEFG"), c.strings)]
        size = max(5.0, rng.uniform(0.34, 0.6) * self.unit)
        for s in range(c.strings):
            stamp = st.hand.stamp(names[s % len(names)], size, rng)
            spot = self.at(s, c.rows + 0.55 * self.unit / self.cell if below else -0.5 * self.unit / self.cell)
            paste(self.sheet.masks["text"], stamp, spot[0] - stamp.shape[1] / 2, spot[1] - stamp.shape[0] / 2)


def as_meant(suffix: str) -> str:
    """What follows a note, a circle that stands for diminished as that sign."""
    return "°" + suffix[1:] if suffix in ("o", "o7") else suffix


def number_text(form: str, value: int) -> str:
    """A fret number in one of the usual forms."""
    ending = {1: "st", 2: "nd", 3: "rd"}.get(value, "th")
    roman = ROMAN[value - 1] if value <= len(ROMAN) else str(value)
    table = {
        "n": f"{value}", "all": f"{value}", "fr": f"{value}fr", "roman": roman, "ordinal": f"{value}{ending}",
        "ordinal fr": f"{value}{ending} fr", "bracket": f"({value})",
        "words": f"{value}{ending} fret", "dot": f"{value}.", "fr n": f"fr {value}", "roman small": roman.lower(),
        "fret n": f"fret {value}", "dot fret": f"{value}. fret", "fr. n": f"fr.{value}", "pos": f"pos. {roman}",
        "pos n": f"Pos.{value}", "equals": f"={value}",
    }  # fmt: skip
    return table[form]
