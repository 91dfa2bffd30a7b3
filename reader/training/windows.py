"""Composes pieces of pages: diagrams of one hand among words, staves and things that only look like diagrams."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from reader.training.brush import KIND_OTHER, Drawn, Sheet
from reader.training.camera import Picture, bend, compose, compress, photograph, reduced, scan
from reader.training.captions import number_text
from reader.training.content import Content
from reader.training.desks import lay_on_desk
from reader.training.diagrams import Painter, extent, place, sample_diagram, sample_scale, sample_strings
from reader.training.scenery import Scenery, words
from reader.training.strokes import Mask, Rng, choice
from reader.training.style import Style, sample_style, with_fingers

SCALE_BOXES = 0.04
"""Share of grids that show the notes of a scale: drawn like diagrams, but no chord."""


@dataclass
class Window:
    """A piece of a page with all that is drawn on it.

    ``turn``: quarter turns (counter-clockwise) that bring the lettering upright.
    """

    picture: Picture
    diagrams: list[Drawn]
    turn: int
    medium: str


def sample_gap(rng: Rng) -> float:
    """Pixels between strings in the finished picture: from songbook scans to close-ups."""
    low, high = choice(rng, {(6.0, 12.0): 22, (10.0, 22.0): 34, (18.0, 45.0): 30, (40.0, 100.0): 14})
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


@dataclass
class Drawing:
    """Ink masks of one sheet in the size of its picture, before paper and camera."""

    masks: dict[str, Mask]
    size: tuple[int, int]
    diagrams: list[Drawn]
    style: Style
    gap: float


def make_drawing(rng: Rng, most: int = 8, written: bool = False) -> Drawing:
    """Draw one sheet.

    Parameters
    ----------
    most : diagrams at most
    written : whether it is mostly one with fingers, large enough to be read
    """
    style = sample_style(rng)
    gap = sample_gap(rng)
    if written and rng.random() < 0.6:
        style = with_fingers(style, rng)
        gap = float(np.clip(rng.uniform(7, 15) / style.finger_height, gap, 100))
    if style.fragile and gap < 10:
        gap *= 2
    side = float(np.clip(gap * rng.uniform(12, 26), 300, 900))
    w, h = int(side * rng.uniform(0.85, 1.25)), int(side * rng.uniform(0.85, 1.25))
    fine = float(np.clip(26 / gap, 1.0, 3.0))
    if style.medium == "print" and rng.random() < 0.25:
        fine = 1.0 if gap > 14 else fine
    sheet = Sheet(int(w * fine), int(h * fine))
    drawn = _fill(rng, sheet, style, gap * fine, most)
    _mark_clashes(drawn)
    for d in drawn:
        _rescale(d, w / sheet.width, h / sheet.height)
    return Drawing(reduced(sheet, (w, h)), (w, h), drawn, style, gap)


def take(rng: Rng, drawing: Drawing) -> Window:
    """Give a drawing its paper and photograph or scan it; every take is another one."""
    picture = compose(drawing.masks, drawing.style, drawing.size, rng, drawing.gap if drawing.style.squared else 0.0)
    return _take(rng, picture, [replace(d) for d in drawing.diagrams], drawing.style, drawing.gap)


def make_window(rng: Rng, most: int = 8) -> Window:
    """Draw one sheet and take it once."""
    return take(rng, make_drawing(rng, most))


def _mark_clashes(drawn: list[Drawn]) -> None:
    """Labels written over one another are no longer asked for."""
    placed = [d for d in drawn if d.label_at is not None]
    boxes = np.array([np.asarray(d.label_at)[[0, 2]].ravel() for d in placed]).reshape(-1, 4)
    for i, d in enumerate(placed):
        others = np.delete(boxes, i, axis=0)
        wide = np.minimum(others[:, 2], boxes[i, 2]) - np.maximum(others[:, 0], boxes[i, 0])
        high = np.minimum(others[:, 3], boxes[i, 3]) - np.maximum(others[:, 1], boxes[i, 1])
        tall = boxes[i, 3] - boxes[i, 1]
        if ((wide > 0.12 * tall) & (high > 0.12 * tall)).any():
            d.extra["label clash"] = True


def _rescale(d: Drawn, kx: float, ky: float) -> None:
    # pixel centres: (x + 0.5) * k - 0.5
    k = np.array([kx, ky])
    d.extra["heights"] = {what: height * ky for what, height in d.extra["heights"].items()}
    d.corners = (d.corners + 0.5) * k - 0.5
    if d.label_at is not None:
        d.label_at = (d.label_at + 0.5) * k - 0.5
    if d.number_at is not None:
        d.number_at = (d.number_at + 0.5) * k - 0.5
    d.written = [replace(t, box=(t.box + 0.5) * k - 0.5) for t in d.written]


def _take(rng: Rng, picture: Picture, drawn: list[Drawn], style: Style, gap: float) -> Window:
    """Scan it or photograph it; perhaps turn it."""
    way = choice(
        rng,
        {"photo": 42, "scan": 38, "clean": 20}
        if style.medium not in ("print", "inverse", "stylus")
        else {"photo": 30, "scan": 32, "clean": 38},
    )
    most_blur, detour = (0.05, gap > 18) if style.fragile else (0.11, gap > 9)
    copied = 0.22 if gap > (18 if style.fragile else 8) else 0.04
    points = _all_points(drawn)
    if way == "photo":
        strength = float(rng.uniform(0.2, 1.0))
        if rng.random() < 0.45:
            picture, points = lay_on_desk(picture, points, rng)
        picture, points = bend(picture, points, rng, strength)
        picture = photograph(picture, rng, strength, gap, style.medium == "marker", most_blur)
        picture = compress(picture, rng, detour)
    elif way == "scan":
        picture, points = bend(picture, points, rng, 0.15)
        picture = photograph(picture, rng, 0.22, gap, most_blur=most_blur)
        picture = compress(scan(picture, rng, copied), rng, detour)
    elif rng.random() < 0.5:
        picture = compress(picture, rng, detour)
    turn = int(choice(rng, {0: 84, 1: 5, 2: 6, 3: 5}))
    if turn:
        h, w = picture.shape[:2]
        # the picture is turned clockwise, so that ``turn`` counter-clockwise quarters undo it
        picture = np.ascontiguousarray(np.rot90(picture, -turn))
        x, y = points[:, 0], points[:, 1]
        points = np.stack({1: (h - 1 - y, x), 2: (w - 1 - x, h - 1 - y), 3: (y, w - 1 - x)}[turn], axis=1)
    _put_points(drawn, points)
    return Window(picture, drawn, turn, style.medium)


def _all_points(drawn: list[Drawn]) -> np.ndarray:
    parts = [np.zeros((0, 2))]
    for d in drawn:
        parts.append(d.corners)
        parts.append(d.label_at if d.label_at is not None else np.zeros((4, 2)))
        parts.append((d.number_at if d.number_at is not None else np.zeros(2))[None])
        parts += [t.box for t in d.written]
    return np.vstack(parts)


def _put_points(drawn: list[Drawn], points: np.ndarray) -> None:
    at = 0
    for d in drawn:
        part = points[at : at + 9]
        at += 9
        d.corners = part[:4].copy()
        if d.label_at is not None:
            d.label_at = part[4:8].copy()
        if d.number_at is not None:
            d.number_at = part[8].copy()
        d.written = [replace(t, box=points[at + 4 * k : at + 4 * k + 4].copy()) for k, t in enumerate(d.written)]
        at += 4 * len(d.written)


def _fill(rng: Rng, sheet: Sheet, style: Style, gap: float, most: int) -> list[Drawn]:
    """Lay rows of diagrams, words and other things on the sheet; lengths in sheet pixels."""
    scenery = Scenery(sheet, style, gap, rng)
    strings = sample_strings(rng)
    mood = choice(rng, {"handout": 58, "songbook": 20, "other": 16, "mixed": 6})
    crowd = float(choice(rng, {1.0: 40, 1.5: 40, 2.4: 20}))
    drawn: list[Drawn] = []
    y = float(rng.uniform(-1, 4)) * gap
    while y < sheet.height - 2 * gap:
        if mood == "other" or (mood == "mixed" and rng.random() < 0.4):
            y += _row_of_others(rng, scenery, sheet, y, gap)
            continue
        if (mood == "songbook" and rng.random() < 0.5) or rng.random() < 0.07:
            tall = gap * rng.uniform(1.5, 4)
            kind = rng.random()
            if kind < 0.75:
                scenery.word_lines(gap * rng.uniform(0, 3), y, sheet.width, tall)
            elif kind < 0.9:
                scenery.staff(gap, y, sheet.width - 2 * gap)
                tall = gap * 4
            else:
                scenery.tab(gap, y, sheet.width - 2 * gap)
                tall = gap * 6
            y += tall + gap
            continue
        y = _row_of_diagrams(rng, scenery, sheet, style, strings, gap, y, crowd, drawn, most)
    return drawn


def _row_of_others(rng: Rng, scenery: Scenery, sheet: Sheet, y: float, gap: float) -> float:
    x = float(rng.uniform(0, 3)) * gap
    tall = gap * float(rng.uniform(3, 9))
    if rng.random() < 0.3:
        [scenery.staff, scenery.tab][int(rng.integers(2))](gap, y, sheet.width - 2 * gap)
        return gap * 6
    while x < sheet.width - 2 * gap:
        w = gap * float(rng.uniform(3, 10))
        if rng.random() < 0.7:
            scenery.impostor(x, y, w, tall)
        else:
            scenery.word_lines(x, y, w, tall)
        x += w + gap * float(rng.uniform(0.5, 3))
    return tall + gap * float(rng.uniform(0.5, 2))


def _row_of_diagrams(
    rng: Rng,
    scenery: Scenery,
    sheet: Sheet,
    style: Style,
    strings: int,
    gap: float,
    y: float,
    crowd: float,
    drawn: list[Drawn],
    most: int,
) -> float:
    """One row; returns the y of the next."""
    marked = style.marks != "none" or style.fingers == "above"
    above = gap * ((2.2 if style.label_place.startswith("above") else 1.1) + (1 if marked else 0))
    x = float(rng.uniform(0.3, 2.5)) * gap
    deepest = gap * 3
    while x < sheet.width - 2 * gap:
        if len(drawn) >= most:
            scenery.word_lines(x, y + above, sheet.width - x, gap * 4)
            break
        st = style if rng.random() > 0.06 else _cousin(rng, style)
        n = strings if rng.random() > 0.06 else sample_strings(rng)
        size = gap * (1.0 if st.squared or rng.random() < 0.85 else float(rng.uniform(0.75, 1.35)))
        scale = rng.random() < SCALE_BOXES
        content = sample_scale(rng, n) if scale else sample_diagram(rng, st, n)
        w, h = extent(st, content, size)
        letters = len(number_text(st.number_form, content.first_fret))
        beside = size * (1.0 + 0.6 * st.number_size * letters) if content.first_fret > 1 else 0.0
        beside += size * 2.2 if st.label_place == "left" else 0.0
        left = (
            x
            + (beside if st.number_side == "left" or st.label_place == "left" else 0)
            + (size * 1.1 if st.sideways else 0)
        )
        drift = float(rng.normal(0, 0.25)) * gap
        if left + w > sheet.width + gap:
            break
        corners = place(rng, st, content, size, left, y + above + drift)
        if corners[:, 1].max() > sheet.height + gap * 0.5:
            break
        d = Painter(sheet, replace(st, fingers="none", marks="none") if scale else st, content, corners, rng).paint()
        if scale:
            d.kind = KIND_OTHER
            if rng.random() < 0.7:
                top = corners.min(0)
                scenery.text(top[0], top[1] - 1.6 * size, size * rng.uniform(0.5, 0.9), words(rng, 2))
        inside = (
            (corners.min() > 1) and corners[:, 0].max() < sheet.width - 2 and corners[:, 1].max() < sheet.height - 2
        )
        if not inside:
            d.extra["cut"] = True
        drawn.append(d)
        deepest = max(deepest, h)
        x = left + w + (beside if st.number_side == "right" else 0) + gap * float(rng.uniform(0.75, 2.1)) * crowd
        if rng.random() < 0.05:
            x += scenery.small_word(x - 0.3 * gap, y + above + h / 2)
    free = style.fingers != "below" and style.label_place != "below" and not style.marks_at_foot
    below = gap * (0.6 if free else 1.6)
    if free and rng.random() < 0.2:
        # a line of words right under the grids, some of its letters reaching into them
        tall = gap * float(rng.uniform(0.5, 1.1))
        scenery.text(gap * rng.uniform(0, 2), y + above + deepest + gap * rng.uniform(-0.1, 0.5), tall, words(rng, 7))
        below += tall
    return y + above + deepest + below + gap * float(rng.uniform(0.3, 1.5)) * crowd


def _cousin(rng: Rng, style: Style) -> Style:
    """Another set of habits in the same ink, as on a sheet pasted together."""
    other = sample_style(rng)
    other.colours = style.colours
    other.medium = style.medium
    other.squared = style.squared
    if style.medium in ("print", "inverse"):
        other.wobble = other.jitter = other.dot_drift = 0.0
    return other


__all__ = ["Content", "Drawing", "Window", "make_drawing", "make_window", "take"]
