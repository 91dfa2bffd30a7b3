"""Samples for the text network: pieces of lettering as the reader finds them, and the signs that stand there.

Two ways lead to them. Whole sheets are drawn, taken and searched as a page is
(``sheet_lines``): true, and slow. Or a text is written on a scrap of paper, spoilt as pages
are, and taken up by the same steps that cut a piece out (``scrap_lines``).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.image import lettering as finding
from reader.image.crops import cut, side_lengths
from reader.image.frames_around import without_frames
from reader.image.signs import AROUND_SIZE, INK_SHARE, LEAST_INK, around_matrix
from reader.image.text import as_line
from reader.training.brush import Written
from reader.training.camera import compress, noise
from reader.training.lettering import Hand, trim, turned
from reader.training.samples import LEAST_SIDE, shaken
from reader.training.strokes import Mask, Points, Rng, choice, draw_line, draw_pressed, ellipse, paste, wobble
from reader.training.text_words import Words, plain_signs, sample_label_words, sample_number_words, sample_other_words
from reader.training.windows import Window, make_drawing, take

LEGIBLE = {"label": 6.5, "number": 5.0}
"""Heights in picture pixels below which nobody can read a label or a number: they are not asked for."""
COVERED = 0.12
"""Share of a text's height by which a piece may stop short of its ends."""
BEYOND, AROUND_FRAME = 0.4, 1.2
"""Share of a text's height by which a piece may reach further than the text does, without and with a frame."""
TALL_COVERED = 0.72
"""Share of a text's height that a piece has at least: the rest may lie within the grid."""
LINES_BY_HAND = 12
"""Scraps written by one hand."""
FRAMED = 0.09
"""How often a ring, a box or a line is drawn around a label or number."""
KINDS = {"label": 50, "number": 27, "word": 10, "lying": 5, "mark": 4, "bit": 4}
ALIKE_LYING, ALIKE_TURNED = set("OoXx+°øØ0I-1l"), set("OoXx+°øØ0HINSZ689#-/1l")
"""Signs that read as signs when they lie on their side, or upside down: nothing is asked of texts of such alone."""
Grey = NDArray[np.float32]


@dataclass(frozen=True)
class Line:
    """One picture of a word and what it says.

    Parameters
    ----------
    picture : uint8 [LINE, width], dark on white, width a multiple of 16
    text : signs of ``reader.image.ctc.SIGNS``, empty where nothing is lettered
    what : 'label', 'number', 'word', 'lying', 'mark' or 'bit'
    where : 'sheet' or 'scrap'
    """

    picture: NDArray[np.uint8]
    text: str
    what: str
    where: str


def _as_line(picture: NDArray[np.uint8], text: str, what: str, where: str) -> Line:
    values = as_line(picture)
    return Line(np.rint((values + 1) * 127.5).astype(np.uint8), text, what, where)


# ---------------------------------------------------------------- from whole sheets


def sheet_lines(rng: Rng, takes: int = 2) -> list[Line]:
    """All labels and fret numbers that the reader finds whole on one drawn sheet, taken more than once."""
    drawing = make_drawing(rng, most=8)
    out: list[Line] = []
    for _ in range(takes if drawing.diagrams else 0):
        window = take(rng, drawing)
        for k, d in enumerate(window.diagrams):
            if min(side_lengths(d.corners)) >= LEAST_SIDE and not d.extra.get("cut"):
                out += _around(window, k, rng)
    return out


def _around(window: Window, k: int, rng: Rng) -> list[Line]:
    """The lines round diagram ``k``."""
    corners = shaken(window.diagrams[k].corners, rng, rough=False)
    m = around_matrix(corners, window.turn)
    crop = cut(window.picture, m, AROUND_SIZE)

    def on_crop(points: Points) -> Points:
        return np.asarray(cv2.perspectiveTransform(points[None].astype(float), m)[0])

    others = [on_crop(d.corners) for i, d in enumerate(window.diagrams) if i != k]
    near = [o for o in others if (o.max(0) > 0).all() and (o.min(0) < AROUND_SIZE).all()]
    pieces, _, _ = finding.find_pieces(crop, on_crop(corners), near)
    written = [(t, on_crop(t.box)) for t in window.diagrams[k].written if _legible(t, window)]
    out = []
    for text, box in written:
        for piece in pieces:
            if _shows(piece.box, box, AROUND_FRAME if text.framed else BEYOND):
                signs = plain_signs(text.text)
                out.append(_as_line(piece.picture, signs, text.what, "sheet"))
                if piece.levelled is not None and text.what == "label":
                    out.append(_as_line(piece.levelled, signs, text.what, "sheet"))
    return out


def _legible(text: Written, window: Window) -> bool:
    h, w = window.picture.shape[:2]
    tall = min(np.hypot(*(text.box[3] - text.box[0])), np.hypot(*(text.box[1] - text.box[0])) * 2.5)
    return bool(tall >= LEGIBLE[text.what] and (text.box > -1).all() and (text.box < [w + 1, h + 1]).all())


def _shows(piece: tuple[int, int, int, int], box: Points, beyond: float) -> bool:
    """Whether a piece is this text, all of it, and reaches no further than ``beyond``, in heights of the text."""
    (x0, y0, x1, y1), (a, b), (c, d) = piece, box.min(0), box.max(0)
    tall = min(d - b, c - a) if d - b > 1.6 * (c - a) else d - b
    short = COVERED * tall
    whole = x0 < a + short and x1 > c - short and min(y1, d) - max(y0, b) > TALL_COVERED * (d - b)
    alone = min(x0 - a, c - x1, y0 - b, d - y1) > -beyond * tall
    return bool(whole and alone)


# ---------------------------------------------------------------- from scraps


def scrap_lines(rng: Rng, count: int = LINES_BY_HAND) -> list[Line]:
    """Lines of one hand, each on its own scrap."""
    printed = rng.random() < 0.4
    hand = Hand("print" if printed else choice(rng, {"font": 62, "strokes": 38}), rng)
    out: list[Line] = []
    for _ in range(count):
        out += _scrap(hand, printed, rng)
    return out


def sample_lying_words(rng: Rng) -> Words:
    """What may lie the wrong way up."""
    return sample_label_words(rng) if rng.random() < 0.7 else sample_other_words(rng)


WORDS: dict[str, Callable[[Rng], Words]] = {
    "label": sample_label_words,
    "number": sample_number_words,
    "word": sample_other_words,
    "lying": sample_lying_words,
}


def _scrap(hand: Hand, printed: bool, rng: Rng) -> list[Line]:
    what = choice(rng, KINDS)
    small = float(np.exp(rng.uniform(*np.log(choice(rng, {(6.0, 10.0): 26, (9.0, 18.0): 36, (16.0, 60.0): 38})))))
    fine = 1.0 if printed and rng.random() < 0.3 else float(np.clip(26 / small, 1.0, 3.0))
    if what in ("mark", "bit"):
        text, stamp = (_marks if what == "mark" else _bits)(small * fine, rng)
    else:
        words = WORDS[what](rng)
        if not all(hand.knows(p.text) for p in words.parts):
            return []
        text, stamp = words.text, _written(words, hand, small * fine, rng)
        if what == "lying":
            quarters = int(rng.integers(1, 4))
            if set(text) <= (ALIKE_TURNED if quarters == 2 else ALIKE_LYING) or len(text) < 2:
                return []
            # a page that lies the wrong way up must not seem to read well
            text, stamp = "", np.ascontiguousarray(np.rot90(stamp, quarters))
    if not printed and rng.random() < 0.5:
        stamp = turned(stamp, float(rng.normal(0, 3)))
    mask, box = _on_paper(stamp, small * fine, what, printed, rng)
    large = float(np.exp(rng.uniform(np.log(17), np.log(72))))
    found = _taken_up(mask, box, 1 / fine, large / small, small, rng)
    if found is None:
        return []
    picture, levelled = found
    lines = [_as_line(picture, text, what, "scrap")]
    if levelled is not None and what in ("label", "word"):
        lines.append(_as_line(levelled, text, what, "scrap"))
    return lines


def _written(words: Words, hand: Hand, height: float, rng: Rng) -> Mask:
    """The parts of a text beside each other."""
    stamps = [hand.stamp(p.text, max(5.0, height * p.size), rng) for p in words.parts]
    # a trimmed stamp of signs without height stands on its foot, whatever the hand
    first = float(stamps[0].shape[0])
    gaps = [round(p.gap * height) for p in words.parts]
    foot = [round(p.lift * first) for p in words.parts]
    top = max(f + s.shape[0] for f, s in zip(foot, stamps, strict=True))
    low = min(0, *foot)
    out = np.zeros((top - low, sum(gaps) + sum(s.shape[1] for s in stamps)), np.uint8)
    x = 0
    for stamp, gap, f in zip(stamps, gaps, foot, strict=True):
        x += gap
        paste(out, stamp, x, top - f - stamp.shape[0])
        x += stamp.shape[1]
    return trim(out)


def _marks(height: float, rng: Rng) -> tuple[str, Mask]:
    """A few rings and crosses side by side, as over the strings."""
    text = "".join(rng.choice(["o", "x"], int(choice(rng, {1: 50, 2: 30, 3: 20}))))
    r, pen = height / 2, max(1.0, height * float(rng.uniform(0.06, 0.16)))
    pitch = height * float(rng.uniform(1.15, 1.6))
    slim = float(rng.uniform(0.55, 0.8)) if rng.random() < 0.25 else 1.0
    out = np.zeros((round(height * 1.8), round(pitch * len(text) + height)), np.uint8)
    for k, sign in enumerate(text):
        at = np.array([height * 0.8 + k * pitch, height * 0.9]) + rng.normal(0, 0.04, 2) * height
        if sign == "o":
            across = r * slim
            draw_line(out, ellipse(at, across, r, rng, 0.06, float(rng.uniform(0.95, 1.06))), pen)
        else:
            for side in (1, -1):
                draw_line(
                    out, np.array([at - [r * side, r], at + [r * side, r]]) + rng.normal(0, 0.05 * r, (2, 2)), pen
                )
    return text, trim(out)


def _bits(height: float, rng: Rng) -> tuple[str, Mask]:
    """What a grid leaves behind: ends of its lines, a corner, the half of a dot; or somebody's tick beside it."""
    out = np.zeros((round(height * 2.2), round(height * 2.4)), np.uint8)
    pen = max(1.0, height * float(rng.uniform(0.05, 0.2)))
    for _ in range(int(choice(rng, {1: 55, 2: 30, 3: 15}))):
        at = np.array(out.shape[::-1]) / 2 + rng.uniform(-0.5, 0.5, 2) * height
        kind = choice(rng, {"end": 52, "corner": 18, "dot": 18, "tick": 12})
        if kind == "dot":
            r = height * float(rng.uniform(0.15, 0.4))
            cv2.fillPoly(out, [np.rint(ellipse(at, r, r, rng, 0.1)).astype(np.int32)], 255, cv2.LINE_AA)
            out[: round(at[1])] = 0
            continue
        if kind == "tick":
            way = np.array([[0, 0], [0.22, 0.3], [0.85, -0.65]]) * rng.uniform(0.6, 1.2, (3, 2)) * height
            draw_pressed(out, wobble(at + way, 0.03 * height, rng, 10), pen, rng, 0.2)
            continue
        along = np.array([[0, 1.0], [1, 0]][int(rng.integers(2))]) * height * rng.uniform(0.25, 0.9)
        path = [at, at + along] if kind == "end" else [at + along[::-1], at, at + along]
        draw_pressed(out, wobble(np.array(path), 0.03 * height, rng, 8), pen, rng, 0.15)
    return "", trim(out)


def _on_paper(stamp: Mask, height: float, what: str, printed: bool, rng: Rng) -> tuple[Mask, Points]:
    """A scrap with the stamp on it and perhaps ends of lines beside, and the box (x0, y0, x1, y1) of the stamp."""
    margin = round(height * 0.9) + 6
    h, w = stamp.shape
    if what in ("label", "number", "word") and rng.random() < 0.25:  # squeezed or stretched
        w = max(2, round(w * float(np.exp(rng.normal(0, 0.15)))))
        stamp = np.asarray(cv2.resize(stamp, (w, h), interpolation=cv2.INTER_LINEAR), np.uint8)
    out = np.zeros((h + 2 * margin, w + 2 * margin), np.uint8)
    paste(out, stamp, margin, margin)
    if not printed and what != "bit":
        out = _shaken(out, height, rng)
    if rng.random() < 0.3 and height > 12:
        kernel = np.ones((2, 2) if height < 40 or rng.random() < 0.6 else (3, 3), np.uint8)
        thinner = cv2.erode(out, kernel)
        out = cv2.dilate(out, kernel) if rng.random() < 0.6 or thinner.sum() < 0.5 * out.sum() else thinner
    if what in ("label", "number") and rng.random() < 0.15:
        _lay_ends(out, margin, height, rng)
    if what in ("label", "number") and rng.random() < FRAMED:
        _lay_frame(out, margin, height, rng)
    if what in ("label", "word") and rng.random() < 0.1:  # its foot stands within the grid
        out[margin + h - round(h * float(rng.uniform(0.03, 0.18))) :] = 0
    return np.asarray(out, np.uint8), np.array([margin, margin, margin + w, margin + h], float)


def _shaken(image: Mask, height: float, rng: Rng) -> Mask:
    """Letters bent and pushed about a little, so that no two of a font are the same."""
    h, w = image.shape
    shape = (max(2, round(h / height * 1.5) + 1), max(2, round(w / height * 1.5) + 1))
    amount = height * float(rng.uniform(0.0, 0.06))
    moves = [cv2.resize(m, (w, h), interpolation=cv2.INTER_CUBIC) for m in rng.normal(0, amount, (2, *shape))]
    yy, xx = np.mgrid[0:h, 0:w]
    return np.asarray(
        cv2.remap(image, (xx + moves[0]).astype(np.float32), (yy + moves[1]).astype(np.float32), cv2.INTER_LINEAR),
        np.uint8,
    )


def _lay_ends(out: Mask, margin: int, height: float, rng: Rng) -> None:
    """Ends of the grid's lines close to the text: below it, or beside."""
    h, w = out.shape
    pen = max(1.0, height * float(rng.uniform(0.04, 0.14)))
    if rng.random() < 0.5:
        for _ in range(int(rng.integers(1, 3))):
            x = float(rng.uniform(margin, w - margin))
            foot = h - margin + height * float(rng.uniform(-0.05, 0.12))
            draw_line(out, np.array([[x, foot], [x, foot + height * rng.uniform(0.1, 0.22)]]), pen)
        return
    x = w - margin + height * 0.1 if rng.random() < 0.5 else margin - height * 0.1
    away = height * float(rng.uniform(0.08, 0.25)) * (1 if x > w / 2 else -1)
    y = float(rng.uniform(margin, h - margin))
    draw_line(out, np.array([[x, y], [x + away, y]]), pen)


def _lay_frame(out: Mask, margin: int, height: float, rng: Rng) -> None:
    """A ring or a box around the text, which may touch it, or a line under it."""
    h, w = out.shape
    centre, half = np.array([w, h]) / 2, np.array([w, h]) / 2 - margin
    half = half + height * rng.uniform(-0.05, 0.45, 2)
    pen = max(1.0, height * float(rng.uniform(0.04, 0.12)))
    form = choice(rng, {"ring": 60, "box": 25, "line": 15})
    if form == "ring":
        across, down = half * np.array([rng.uniform(1.0, 1.25), 1.0])
        draw_line(out, ellipse(centre, across, down, rng, 0.04, float(rng.uniform(0.97, 1.06))), pen)
        return
    corners = centre + np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half + rng.normal(0, 0.05, (4, 2)) * height
    sides = [(2, 3)] if form == "line" else [(0, 1), (1, 2), (2, 3), (3, 0)]
    for a, b in sides:
        draw_line(out, wobble(corners[[a, b]], 0.03 * height, rng, 8), pen)


def _taken_up(
    mask: Mask, box: Points, reduce: float, enlarge: float, small: float, rng: Rng
) -> tuple[NDArray[np.uint8], NDArray[np.uint8] | None] | None:
    """The scrap as the reader would cut its piece out of a page: the picture and its levelled form.

    Parameters
    ----------
    box : of the text on the mask
    reduce : from the mask to the picture of the page
    enlarge : from there to the crop round a grid
    small : height of the lettering on the page, pixels
    """
    page = _photographed(mask, reduce, small, rng)
    if page is None:
        return None
    grey, contrast = page
    paper = float(np.median(grey))
    how = cv2.INTER_LINEAR if enlarge > 1 / 1.4 else cv2.INTER_AREA
    large = cv2.resize(grey, None, fx=enlarge, fy=enlarge, interpolation=how)
    ink = np.abs(large - np.float32(paper))
    level = contrast * float(rng.uniform(0.55, 1.25))
    least = max(LEAST_INK, INK_SHARE * level, float(np.median(ink)) * 3.5)
    dark = (ink > least).astype(np.uint8)
    pad = finding.PAD + 1
    dark[:pad], dark[-pad:], dark[:, :pad], dark[:, -pad:] = 0, 0, 0, 0
    count, names, stats, _ = cv2.connectedComponentsWithStats(dark, connectivity=8)
    signs = np.column_stack([stats[1:, :4], np.arange(1, count)]).astype(np.int64)
    signs = signs[(np.maximum(signs[:, 2], signs[:, 3]) >= 5) & (stats[1:, cv2.CC_STAT_AREA] >= 10)]
    signs = without_frames(signs, names)
    members = _members(signs, box * reduce * enlarge)
    if members is None:
        return None
    hull = finding._hull(members)
    picture = finding._picture(ink, names, members[:, 4], hull)
    return picture, finding._levelled(picture, members, hull)


def _members(signs: NDArray[np.int64], box: Points) -> NDArray[np.int64] | None:
    """The signs that make up the piece over the text; None where it would fall apart or lacks an end."""
    if not len(signs):
        return None
    a, b, c, d = box
    groups = [g for g in finding._grouped(signs, 0.6) if _meet(finding._hull(signs[g]), box)]
    if not 1 <= len(groups) <= 2:
        return None
    members = signs[[i for g in groups for i in g]]
    x0, y0, x1, y1 = finding._hull(members)
    short = 0.2 * (d - b)
    if x0 > a + short or x1 < c - short or y1 - y0 < 8 or x1 - x0 < 5 or y1 - y0 < 0.6 * (d - b):
        return None
    return members


def _meet(hull: tuple[int, int, int, int], box: Points) -> bool:
    x, y = (hull[0] + hull[2]) / 2, (hull[1] + hull[3]) / 2
    room = 0.1 * (box[3] - box[1])
    return bool(box[0] - room < x < box[2] + room and box[1] - room < y < box[3] + room)


def _photographed(mask: Mask, reduce: float, small: float, rng: Rng) -> tuple[Grey, float] | None:
    """Grey picture of a scrap as camera or scanner give it, and how much its ink differs from the paper."""
    h, w = max(4, round(mask.shape[0] * reduce)), max(4, round(mask.shape[1] * reduce))
    cover = cv2.resize(mask, (w, h), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    contrast = float(choice(rng, {(28.0, 80.0): 20, (80.0, 170.0): 35, (170.0, 235.0): 45})[0])
    contrast *= float(rng.uniform(1.0, 1.4))
    if rng.random() < 0.25:  # pencil, chalk, a dry pen
        grain = cv2.GaussianBlur(noise(rng, h, w), (0, 0), float(rng.uniform(0.5, 1.1)))
        cover *= np.clip(1 + grain * float(rng.uniform(0.3, 1.4)), 0.15, 1.1)
    if rng.random() < 0.07 and small > 8:  # a copy of a copy has lost parts of the strokes
        holes = cv2.GaussianBlur(noise(rng, h, w), (0, 0), float(rng.uniform(0.06, 0.14)) * small)
        cover *= (holes < float(rng.uniform(0.6, 1.6)) * holes.std()).astype(np.float32)
        contrast = max(contrast, 150.0)
    grey = 240 - np.minimum(cover, 1) * min(contrast, 232)
    if rng.random() < 0.55:
        grey = cv2.GaussianBlur(
            grey, (0, 0), max(0.3, min(abs(float(rng.normal(0, 0.055))) * small, 0.11 * small, 4.0))
        )
    if rng.random() < 0.6:
        grey = grey + noise(rng, h, w) * float(rng.uniform(0.5, 9)) * min(1.0, contrast / 120)
    if rng.random() < 0.12:  # out of the copier
        middle = 240 - contrast * float(rng.uniform(0.25, 0.6))
        grey = np.clip((grey - middle) * float(rng.uniform(1.5, 6)) + 128, 240 - contrast, 240)
    out = np.clip(grey, 0, 255).astype(np.uint8)
    if rng.random() < 0.6:
        out = compress(np.repeat(out[..., None], 3, axis=2), rng, small > 9)[..., 0]
    return np.asarray(out, np.float32), contrast
