"""Which marks a person can make out in a finished picture: what each one changed, held against how it was drawn."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import cv2
import numpy as np

from reader.proving.chart import Bar, Chart, Side
from reader.proving.draft import Draft
from reader.proving.neck import Mark
from reader.proving.sheet import Cover, Pixels, Sheet, Shots, Trace
from reader.proving.warp import Points, Warp

_ROOM = 0.6  # of its longer side: how far around a mark is looked at
_LARGE = 240  # pixels; larger marks are looked at reduced
_FINE = 0.16  # of its longer side: coarser changes than this are no strokes
_DIM = 12.0  # grey levels: what the eye takes for one colour

# The bounds below were set by eye on some hundred enlarged marks of four seeds; what was doubtful counts as legible.
_FAINT = 13.0  # grey levels below which a small mark is not seen
_LOST = 3.2  # grey levels, weighed by how the mark stands out from the lines around
_PATCHY = 0.75  # strokes that came through more unevenly than this are specks
_VEILED, _DROWNED = 0.6, 0.22  # likeness below which pale, and still clear strokes are lost among others

# Likeness to the whole sign below which one of a line cannot be told; set by eye on some 250 enlarged lines.
_LETTER = 0.62
_WEAK = 0.7  # where it is pale, or what else lies there is as strong
_SWOLLEN = 0.5  # where its ink ran, but all of it is there
_FIGURE, _PALE_FIGURE = 0.74, 0.84  # of a small fret number, which nothing else explains,
_ENDED = 0.58  # unless it has an ending


@dataclass(frozen=True, slots=True)
class Sight:
    """How one mark came out in a picture.

    Parameters
    ----------
    size : float
        Its longer side, pixels.
    strength : float
        Grey levels by which its strokes differ from what they lie on; strokes on ink of the same colour count as 0.
    contrast : float
        Grey levels of its strokes against what lies between them.
    likeness : float
        Correlation of what it changed with how it was drawn (a sign: meant to be drawn), coarse changes left out.
    plain : float
        The same for the picture itself, with all that lies there, in the colour that tells the mark best.
    ratio : float
        Its fine structure over that of everything else there.
    patchy : float
        How unevenly its strokes came through: spread over mean.
    """

    size: float
    strength: float
    contrast: float
    likeness: float
    plain: float
    ratio: float
    patchy: float

    @property
    def shows(self) -> bool:
        """Whether it differs from what lies below; the larger it is, the less it need."""
        return self.strength >= _FAINT * min(1.0, 12 / self.size)

    @property
    def seen(self) -> bool:
        """Whether a person who looks closely sees it among the lines."""
        return self.shows and self.strength * self.ratio >= _LOST

    @property
    def read(self) -> bool:
        """Whether a person can tell which sign it is: the larger it is, the paler or softer it may be."""
        need = min(1.0, 18 / self.size)
        sharp = max(self.likeness, self.plain) >= np.clip(0.84 - 0.04 * (self.size - 8), 0.5, 0.84)
        veiled = self.contrast < 50 * need and self.plain < min(_VEILED, self.likeness - 0.1)
        drowned = self.contrast < 90 and self.plain < _DROWNED
        clear = self.contrast >= 25 * need and not veiled and not drowned
        return bool(self.seen and sharp and clear and self.patchy <= _PATCHY)

    @property
    def there(self) -> bool:
        """Whether a small sign stands out from what lies around it."""
        return self.contrast >= _FAINT * min(1.0, 12 / self.size) and self.strength * self.ratio >= _LOST

    def told(self, line: Literal["label", "number", "ended number"]) -> bool:
        """Whether a person can tell a sign of a label, of a bare fret number, or of one with an ending as in `3rd`."""
        weak = self.contrast < 25 * min(1.0, 18 / self.size) or self.ratio < 1.3
        if line == "ended number":
            return self.there and self.likeness >= _ENDED
        if line == "number":
            need = _PALE_FIGURE if weak else np.clip(_FIGURE - 0.03 * (self.size - 12), 0.6, _FIGURE)
            return bool(self.there and self.likeness >= need and self.patchy <= _PATCHY)
        swollen = self.contrast >= 60 and self.patchy < 0.25
        return self.there and self.likeness >= (_WEAK if weak else _SWOLLEN if swollen else _LETTER)


def _soft(image: Cover, sigma: float) -> Cover:
    return np.asarray(cv2.GaussianBlur(image, (0, 0), max(sigma, 0.3), borderType=cv2.BORDER_REFLECT), np.float32)


def _likeness(a: Cover, b: Cover, where: Cover) -> float:
    """Correlation of two images in a part of them."""
    a = a - (a * where).sum() / where.sum()
    b = b - (b * where).sum() / where.sum()
    return float((a * b * where).sum() / np.sqrt((a * a * where).sum() * (b * b * where).sum() + 1e-9))


def _power(image: Cover, where: Cover) -> float:
    return float(np.sqrt((image * image * where).sum() / where.sum()))


def _difference(a: Cover, b: Cover) -> Cover:
    """Grey levels between two colour images."""
    return np.asarray(np.sqrt(((a - b) ** 2).mean(axis=2)), np.float32)


def _drawn(sheet: Sheet, mark: Mark) -> Cover:
    """What a mark changed on the sheet where its ink lies, grey levels, on its own raster."""
    trace, out = mark.trace, np.zeros_like(mark.trace.cover)
    high, wide = out.shape
    x0, y0 = max(trace.x, 0), max(trace.y, 0)
    x1, y1 = min(trace.x + wide, sheet.size[0]), min(trace.y + high, sheet.size[1])
    if x0 < x1 and y0 < y1:
        parts = [p[y0:y1, x0:x1].astype(np.float32) for p in (sheet.pixels, sheet.shots.without[mark.layer])]
        out[y0 - trace.y : y1 - trace.y, x0 - trace.x : x1 - trace.x] = _difference(*parts)
    out[trace.cover <= 0] = 0  # what others changed there
    return out


@dataclass(frozen=True)
class _Window:
    """The part of a picture around one mark: left upper pixel, cells across and down, pixels per cell."""

    x: int
    y: int
    wide: int
    high: int
    step: int
    size: float  # of the mark, cells

    def cut(self, pixels: Pixels) -> Cover:
        """That part of a picture, reduced to its cells."""
        part = pixels[self.y : self.y + self.high * self.step, self.x : self.x + self.wide * self.step]
        small = cv2.resize(part.astype(np.float32), (self.wide, self.high), interpolation=cv2.INTER_AREA)
        return np.asarray(small, np.float32)

    def places(self, warp: Warp) -> Points:
        """Where on the sheet the cells lie, each parted into finer ones: rows of columns of points."""
        fold = 4 if self.wide * self.high < 6400 else 2
        rows, columns = np.mgrid[0 : self.high * fold, 0 : self.wide * fold]
        cells = np.column_stack([columns.ravel(), rows.ravel()])
        return warp.back((cells + 0.5) / fold * self.step - 0.5 + (self.x, self.y)).reshape(*rows.shape, 2)

    def lay(self, trace: Trace, images: list[Cover], places: Points) -> list[Cover]:
        """Images on the raster of a mark as they would come to lie in the picture, perfectly sharp."""
        x, y = ((places[..., k] - at).astype(np.float32) for k, at in enumerate((trace.x, trace.y)))
        moved = [cv2.remap(image, x, y, cv2.INTER_LINEAR, borderValue=0) for image in images]
        size = (self.wide, self.high)
        return [np.asarray(cv2.resize(m, size, interpolation=cv2.INTER_AREA), np.float32) for m in moved]


def _window(trace: Trace, warp: Warp) -> _Window | None:
    """Where in the picture a mark lies; None where next to nothing of it does."""
    high, wide = trace.cover.shape
    corners = np.array([[0, 0], [wide - 1, 0], [wide - 1, high - 1], [0, high - 1]], float) + (trace.x, trace.y)
    q = warp.forth(corners)
    low, top = q.min(axis=0), q.max(axis=0)
    size = float((top - low).max()) + 1
    step = max(1, round(size / _LARGE))
    room = _ROOM * size + 2
    x0, y0 = np.maximum(np.floor(low - room), 0).astype(int)
    x1, y1 = np.minimum(np.ceil(top + room) + 1, warp.size).astype(int)
    cells = (int(x1 - x0) // step, int(y1 - y0) // step)
    return _Window(int(x0), int(y0), *cells, step, size / step) if min(cells) >= 3 else None


def sight(sheet: Sheet, mark: Mark, shots: Shots, warp: Warp) -> Sight | None:
    """How a mark came out in the picture of a sheet; None where it lies outside."""
    trace = mark.sign.trace if mark.sign else mark.trace
    window = _window(trace, warp)
    if window is None:
        return None
    places = window.places(warp)
    line, ideal = window.lay(mark.trace, [mark.trace.cover, _drawn(sheet, mark)], places)
    cover = window.lay(trace, [trace.cover], places)[0] if mark.sign else line
    picture, bare = window.cut(shots.pixels), window.cut(shots.without[mark.layer])
    strokes = cover > 0.5 * cover.max()
    if not strokes.any():
        return None
    near = (_soft((cover > 0.15 * cover.max()).astype(np.float32), 0.1 * window.size) > 0.1).astype(np.float32)
    if near.sum() < 4:  # thin or tiny
        near = np.ones_like(near)
    changed = _difference(picture, bare)
    most = max(float(np.percentile(ideal[strokes], 90)), 1.0)
    if mark.sign:  # must look as it was meant, not as the pen left it
        ideal = line * np.float32(most / line.max())
    fine_ideal, fine_changed = (a - _soft(a, _FINE * window.size) for a in (ideal, changed))
    own = np.where(cover > 0, ideal, np.float32(0))
    shown = own > 0.5 * most
    through = changed[shown] / own[shown] if shown.any() else np.zeros(1, np.float32)
    plain, ratio = _among_others(picture, bare, line, near, window.size)
    return Sight(
        size=window.size * window.step,
        strength=float((changed * own).sum() / (own.sum() + 1e-6) * own[strokes].mean() / most),
        contrast=most * float((fine_changed * fine_ideal * near).sum() / ((fine_ideal**2 * near).sum() + 1e-6)),
        likeness=_likeness(fine_changed, fine_ideal, near),
        plain=plain,
        ratio=ratio,
        patchy=float(through.std() / (through.mean() + 1e-3)),
    )


def _among_others(picture: Cover, bare: Cover, cover: Cover, near: Cover, size: float) -> tuple[float, float]:
    """How like its drawing the picture is where a mark lies, and how strong the mark is against the rest.

    Both are taken along the one colour that tells the mark best from what else is there.
    """
    fine_picture, fine_bare = (a - _soft(a, _FINE * size) for a in (picture, bare))
    others = fine_bare[near > 0]
    spread = others.T @ others / len(others) + np.eye(3) * _DIM**2
    colour = np.linalg.solve(spread, ((picture - bare) * cover[..., None]).sum(axis=(0, 1)) / cover.sum())
    colour = (colour / (np.linalg.norm(colour) + 1e-9)).astype(np.float32)
    seen, rest = fine_picture @ colour, fine_bare @ colour
    plain = _likeness(seen, cover - _soft(cover, _FINE * size), near)
    return plain, _power(seen - rest, near) / (_power(rest, near) + 2)


def _line(mark: Mark) -> Literal["label", "number", "ended number"]:
    """What kind of lettering a sign is of."""
    if not isinstance(mark.of, Side):
        return "label"
    return "ended number" if any(sign.islower() for sign in mark.of.text) else "number"


def _chart_as_seen(chart: Chart, marks: tuple[Mark, ...], sheet: Sheet, shots: Shots, warp: Warp) -> Chart:
    unseen: set[object] = set()
    unread: set[object] = set()
    words: dict[tuple[object, int], list[bool]] = {}
    for mark in marks:
        came_out = sight(sheet, mark, shots, warp)
        if came_out is None:
            continue
        if mark.sign:
            words.setdefault((mark.of, mark.sign.word), []).append(came_out.told(_line(mark)))
        elif mark.layer == "signs" and not came_out.read:
            unread.add(mark.of)
        # a bar is longer than the lines that it crosses and cannot be lost among them
        if mark.layer == "stops" and not (came_out.shows if isinstance(mark.of, Bar) else came_out.seen):
            unseen.add(mark.of)
    # half of a word tells the rest of it
    unread |= {line for (line, _), told in words.items() if 2 * sum(told) <= len(told)}
    strings = range(chart.strings)
    stopped = replace(
        chart,
        dots=tuple(d for d in chart.dots if d not in unseen),
        bars=tuple(b for b in chart.bars if b not in unseen),
    )
    fingered = replace(
        chart,
        dots=tuple(replace(d, finger=None) if d in unread else d for d in chart.dots),
        under=tuple("" if k in unread else text for k, text in enumerate(chart.under)),
    )
    misplaced = chart.first_fret != 1 and not _numbered(chart, unread)
    return replace(
        chart,
        hard=chart.hard or misplaced or any(stopped.fret_of(k) != chart.fret_of(k) for k in strings),
        label_scored=chart.label_scored and "label" not in unread,
        fingers_sure=chart.fingers_sure and all(fingered.finger_of(k) == chart.finger_of(k) for k in strings),
    )


def _numbered(chart: Chart, unread: set[object]) -> bool:
    """Whether some number beside or on the grid that can be read tells a fret."""
    written = [d for d in chart.dots if d.text and d.text.isdigit()]
    return any(number not in unread for number in (*chart.sides, *written))


def as_seen(draft: Draft, shots: Shots, warp: Warp) -> Draft:
    """The draft with what cannot be made out in its picture marked.

    Parameters
    ----------
    draft : Draft
    shots : Shots
        The finished picture, and the same without the signs and without the stops.
    warp : Warp
        From the sheet to the picture.

    Returns
    -------
    Draft
        Diagrams with a stop that cannot be seen are hard, and so are those whose first fret no number tells that can
        be read; fingers that cannot be read are not sure, labels are not scored.
    """
    charts = [replace(d, chart=_chart_as_seen(d.chart, d.marks, draft.sheet, shots, warp)) for d in draft.charts]
    return replace(draft, charts=charts)
