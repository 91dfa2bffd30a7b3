"""The sheet that diagrams are drawn on, what a drawn diagram shows, and the hand that draws it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reader.training.content import Content
from reader.training.strokes import Mask, Points, Rng, draw_line, draw_pressed, wobble
from reader.training.style import Style

KIND_DIAGRAM, KIND_EMPTY, KIND_OTHER = 0, 1, 2


@dataclass(frozen=True)
class Written:
    """Lettering beside a grid.

    Parameters
    ----------
    what : 'label' or 'number'
    text : sign by sign as it is meant; a small capital M of a minor is an ``m``, a circle behind a note a ``°``
    box : (4, 2) sheet pixels
    framed : whether a ring, a box or a line is drawn around it
    """

    what: str
    text: str
    box: Points
    framed: bool = False


def box_of(stamp: Mask, x: float, y: float) -> Points:
    """Corners (4, 2) of a stamp whose top left corner lies at (x, y)."""
    h, w = stamp.shape
    return np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]], float)


@dataclass
class Drawn:
    """What one drawn diagram shows; points are in sheet pixels.

    ``corners``: nut end left, nut end right, far end right, far end left.
    ``finger`` per string 0 none, 1 to 4, 5 thumb; ``barre`` per string the row or 0.
    ``number`` the number written beside the grid (0 none) and ``number_at`` where.
    ``written`` the label and all numbers, sign by sign.
    """

    corners: Points
    strings: int
    rows: int
    first_fret: int
    states: list[int]
    open_marks: list[bool]
    fingers: list[int]
    barre: list[int]
    nut: bool
    label: str
    label_at: Points | None
    number: int
    number_at: Points | None
    kind: int = KIND_DIAGRAM
    sideways: int = 0
    written: list[Written] = field(default_factory=list)
    extra: dict[str, Any] = field(default_factory=dict)


class Sheet:
    """Ink masks by pen: pale (under everything), grid, mark, text, digit."""

    PENS = ("pale", "grid", "mark", "text", "digit")

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        self.masks: dict[str, Mask] = {name: np.zeros((height, width), np.uint8) for name in self.PENS}


class Brush:
    """One diagram in one style at one place: where its lines run and how its strokes look.

    Parameters
    ----------
    corners : (4, 2) sheet pixels
        Nut end left, nut end right, far end right, far end left.
    """

    def __init__(self, sheet: Sheet, style: Style, content: Content, corners: Points, rng: Rng) -> None:
        self.sheet, self.style, self.content, self.rng = sheet, style, content, rng
        self.corners = corners
        s, r = content.strings, content.rows
        across = (np.hypot(*(corners[1] - corners[0])) + np.hypot(*(corners[2] - corners[3]))) / 2
        along = (np.hypot(*(corners[3] - corners[0])) + np.hypot(*(corners[2] - corners[1]))) / 2
        self.gap = float(across / (s - 1))
        self.cell = float(along / r)
        self.unit = min(self.gap, self.cell * 1.3)
        self.nodes = self._lattice()
        self.hand_drawn = style.medium not in ("print", "inverse")
        self.free = self.hand_drawn and style.medium != "preprinted"
        self.states = list(content.states)
        self.fingers = [0] * s
        self.barre = [0] * s
        self.open_marks = [False] * s
        self.label = ""
        self.label_at: Points | None = None
        self.number = 0
        self.number_at: Points | None = None
        self.written: list[Written] = []
        self.nut = False
        self.heights: dict[str, float] = {}
        self.frets: dict[int, int] = {}
        self.nut_line = self.mark_line = 0.0

    def _lattice(self) -> NDArray[np.float64]:
        """(strings, rows + 1, 2) crossings, shaken by the hand; the four outer corners stay."""
        c, rng, j = self.content, self.rng, self.style.jitter
        u = np.linspace(0, 1, c.strings)
        if c.strings > 2:
            u[1:-1] += rng.normal(0, j, c.strings - 2) / (c.strings - 1)
        uneven = j * (2.5 if rng.random() < 0.15 else 1.0)
        v = np.linspace(0, 1, c.rows + 1)
        if j and rng.random() < 0.05:  # rows drawn as they come, one twice as high as another
            steps = rng.uniform(0.45, 1.35, c.rows)
            v[1:] = np.cumsum(steps) / steps.sum()
        elif c.rows > 1:
            v[1:-1] += rng.normal(0, uneven, c.rows - 1) / c.rows
        tilt_u = rng.normal(0, j, c.strings) / (c.strings - 1) * 0.7
        tilt_v = rng.normal(0, j, c.rows + 1) / c.rows * 0.7
        tilt_u[[0, -1]] = 0
        tilt_v[[0, -1]] = 0
        a, b, d, e = self.corners  # nut left, nut right, far right, far left
        uu = u[:, None] + tilt_u[:, None] * (v[None, :] - 0.5)
        vv = v[None, :] + tilt_v[None, :] * (u[:, None] - 0.5)
        uu, vv = uu[..., None], vv[..., None]
        return np.asarray((1 - vv) * ((1 - uu) * a + uu * b) + vv * ((1 - uu) * e + uu * d))

    def at(self, string: float, row: float) -> Points:
        """Page point on a (fractional) string at a (fractional) row line; runs on beyond the grid."""
        n = self.nodes
        s0 = min(max(int(string // 1), 0), n.shape[0] - 2)
        r0 = min(max(int(row // 1), 0), n.shape[1] - 2)
        fs, fr = string - s0, row - r0
        near, far = n[s0], n[s0 + 1]
        return np.asarray(
            (near[r0] * (1 - fs) + far[r0] * fs) * (1 - fr) + (near[r0 + 1] * (1 - fs) + far[r0 + 1] * fs) * fr
        )

    def _line(self, points: Points, width: float, pen: str = "grid", light: float = 1.0, whole: bool = False) -> None:
        mask = self.sheet.masks[pen]
        if self.style.dashes and pen == "grid" and not whole:
            self._dashed(points, width, int(255 * light))
            return
        if not self.hand_drawn or (self.style.medium == "preprinted" and pen == "grid"):
            draw_line(mask, points, width, int(255 * light))
            return
        path = wobble(points, self.style.wobble * self.gap, self.rng, 12)
        if pen == "grid" and self.rng.random() < self.style.hooked:  # where the pen lands or leaves
            end = int(self.rng.integers(2)) - 1
            hook = path[end] + self.rng.normal(0, 0.09, 2) * self.unit
            path = np.vstack([path, hook] if end else [hook, path])
        if light < 1:
            draw_line(mask, path, width, int(255 * light))
        else:
            draw_pressed(mask, path, width, self.rng, 0.18)

    def _dashed(self, points: Points, width: float, value: int) -> None:
        """A line of the grid in dashes, ``style.dashes`` fret spaces each."""
        path = wobble(points, self.style.wobble * self.gap if self.hand_drawn else 0.0, self.rng, 60)
        pieces = max(3, round(float(np.hypot(*(points[-1] - points[0]))) / (1.6 * self.style.dashes * self.cell)))
        pieces = min(pieces, 29)
        cuts = np.linspace(0, len(path) - 1, 2 * pieces)
        for a, b in zip(cuts[::2], cuts[1::2], strict=True):
            draw_line(self.sheet.masks["grid"], path[int(a) : int(np.ceil(b)) + 1], width, value)

    def _mark_line(self, path: Points, width: float, pen: str = "mark") -> None:
        if self.hand_drawn:
            draw_pressed(self.sheet.masks[pen], path, width, self.rng, 0.1)
        else:
            draw_line(self.sheet.masks[pen], path, width)

    def _marks_at_foot(self) -> bool:
        """Whether open and muted marks stand at the other end of the strings, where nothing else does."""
        st = self.style
        return st.marks_at_foot and st.fingers != "below" and not st.strings_named and not st.run_on

    def _note_height(self, what: str, height: float) -> None:
        """Keep how small the lettering of this kind gets, in sheet pixels: what is too small nobody can read."""
        self.heights[what] = min(height, self.heights.get(what, height))
