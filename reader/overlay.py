"""A picture of every stage, drawn from the page and its saved reading alone.

So a reading's JSON line plus its page is a complete report of a fault.  Every
``draw_*`` takes values and returns a picture, uint8 [row, col, 3], RGB.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.export.diagram import FrameStyle, draw_frame
from reader.export.png import to_png
from reader.image.crops import in_crop
from reader.image.pages import Page
from reader.music.frame import Frame
from reader.reading import PageReading, Reading, TabReading

Picture = NDArray[np.uint8]
Points = NDArray[np.float64]
LONG_SIDE = 1800
"""Larger pages are reduced to this, so that the pictures open quickly."""
SURE, DOUBTFUL, MISSED = (20, 110, 60), (200, 70, 10), (150, 20, 120)
"""Inks of accepted readings (thin solid line), flagged ones (thick, with a word) and missed ones."""
PAPER = (250, 249, 245)
_FONT = cv2.FONT_HERSHEY_SIMPLEX


def _reduced(page: Page) -> tuple[Picture, float]:
    scale = min(1.0, LONG_SIDE / max(page.width, page.height))
    if scale == 1.0:
        return page.pixels.copy(), 1.0
    size = (round(page.width * scale), round(page.height * scale))
    return np.asarray(cv2.resize(page.pixels, size, interpolation=cv2.INTER_AREA), np.uint8), scale


def _write(picture: Picture, text: str, x: float, y: float, ink: tuple[int, int, int], size: float = 0.5) -> None:
    plain = text.encode("ascii", "replace").decode()
    at = (int(max(0, x)), int(max(12, y)))
    cv2.putText(picture, plain, at, _FONT, size, PAPER, 4, cv2.LINE_AA)
    cv2.putText(picture, plain, at, _FONT, size, ink, 1, cv2.LINE_AA)


def _ink(reading: Reading) -> tuple[int, int, int]:
    return SURE if reading.accepted else DOUBTFUL


def _outline(picture: Picture, corners: Points, ink: tuple[int, int, int], thick: int) -> None:
    cv2.polylines(picture, [np.round(corners).astype(np.int32)], True, ink, thick, cv2.LINE_AA)


def on_grid(corners: Points, frame: Frame, string: float, row: float) -> Points:
    """Page point of a string (0 is leftmost) at a row line (0 is the nut end)."""
    u = string / max(1, frame.string_count - 1)
    v = row / frame.fret_count
    return np.asarray((1 - v) * ((1 - u) * corners[0] + u * corners[1]) + v * ((1 - u) * corners[3] + u * corners[2]))


# ---------------------------------------------------------------- stages


def draw_page(page: Page, reading: PageReading) -> Picture:
    """The page as it is read: upright, reduced."""
    del reading
    return _reduced(page)[0]


def draw_ink(page: Page, reading: PageReading) -> Picture:
    """What stands out from the paper, light and shadow taken away."""
    del reading
    picture, _ = _reduced(page)
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    paper = cv2.medianBlur(grey, 51)
    ink = cv2.absdiff(grey, paper).astype(np.float32)
    ink = 255 - np.clip(ink * (255 / max(20.0, float(np.percentile(ink, 99.5)))), 0, 255)
    return np.repeat(ink.astype(np.uint8)[..., None], 3, axis=2)


def draw_regions(page: Page, reading: PageReading) -> Picture:
    """Where diagrams and tabs were found, nut end marked, with the finder's certainty."""
    picture, k = _reduced(page)
    for n, d in enumerate(reading.diagrams, 1):
        c = np.array(d.corners) * k
        _outline(picture, c, _ink(d), 2)
        cv2.line(picture, _int(c[0]), _int(c[1]), _ink(d), 5, cv2.LINE_AA)
        cv2.circle(picture, _int(c[0]), 6, _ink(d), -1, cv2.LINE_AA)
        _write(picture, f"{n}: {d.evidence.get('finder', 0):.2f}", c[:, 0].min(), c[:, 1].min() - 8, _ink(d))
    for t in reading.tabs:
        c = np.array(t.corners) * k
        _outline(picture, c, SURE if t.accepted else DOUBTFUL, 2)
        _write(
            picture, f"tab of {t.line_count} lines", c[:, 0].min(), c[:, 1].min() - 8, SURE if t.accepted else DOUBTFUL
        )
    return picture


def draw_grid(page: Page, reading: PageReading) -> Picture:
    """The fitted lattice: strings and frets as counted."""
    picture, k = _reduced(page)
    for d in reading.diagrams:
        c, f = np.array(d.corners) * k, d.frame
        for s in range(f.string_count):
            cv2.line(picture, _int(on_grid(c, f, s, 0)), _int(on_grid(c, f, s, f.fret_count)), _ink(d), 1, cv2.LINE_AA)
        for r in range(f.fret_count + 1):
            last = f.string_count - 1
            cv2.line(
                picture,
                _int(on_grid(c, f, 0, r)),
                _int(on_grid(c, f, last, r)),
                _ink(d),
                3 if r == 0 else 1,
                cv2.LINE_AA,
            )
        _write(
            picture,
            f"{f.string_count} x {f.fret_count}, from fret {f.first_fret}",
            c[:, 0].min(),
            c[:, 1].min() - 8,
            _ink(d),
        )
    return picture


def draw_marks(page: Page, reading: PageReading) -> Picture:
    """Stops, open and muted strings, barres and fingers as read, over the ink; numbers of tabs beside theirs."""
    picture, k = _reduced(page)
    for d in reading.diagrams:
        _marks(picture, np.array(d.corners) * k, d.frame, _ink(d))
    for t in reading.tabs:
        _tab_marks(picture, np.array(t.corners) * k, t)
    return picture


def _tab_marks(picture: Picture, corners: Points, tab: TabReading) -> None:
    ink = SURE if tab.accepted else DOUBTFUL
    _outline(picture, corners, ink, 1)
    gap = float(np.hypot(*(corners[3] - corners[0]))) / max(1, tab.line_count - 1)
    for event in tab.events:
        u = tab.part(event.x)
        top, foot = (1 - u) * corners[0] + u * corners[1], (1 - u) * corners[3] + u * corners[2]
        for note in event.notes:
            at = top + (foot - top) * (note.string - 1) / max(1, tab.line_count - 1)
            text = "x" if note.fret is None else str(note.fret)
            _write(picture, text, at[0] + 0.55 * gap, at[1] - 0.15 * gap, ink, 0.45)


def _marks(picture: Picture, corners: Points, frame: Frame, ink: tuple[int, int, int]) -> None:
    gap = float(np.hypot(*(corners[1] - corners[0]))) / max(1, frame.string_count - 1)
    radius = max(3, int(gap * 0.3))
    for barre in frame.barres:
        row = barre.fret - frame.first_fret + 0.5
        a = on_grid(corners, frame, frame.string_count - barre.from_string, row)
        b = on_grid(corners, frame, frame.string_count - barre.to_string, row)
        cv2.line(picture, _int(a), _int(b), ink, max(2, radius // 2), cv2.LINE_AA)
    for s, fret in enumerate(frame.frets):
        if fret is None or fret == 0:
            at = on_grid(corners, frame, s, -0.35)
            if fret == 0:
                cv2.circle(picture, _int(at), radius, ink, 2, cv2.LINE_AA)
            else:
                for sign in (1, -1):
                    k = np.array([radius, sign * radius]) * 0.8
                    cv2.line(picture, _int(at - k), _int(at + k), ink, 2, cv2.LINE_AA)
            continue
        at = on_grid(corners, frame, s, fret - frame.first_fret + 0.5)
        cv2.circle(picture, _int(at), radius, ink, 2, cv2.LINE_AA)
        finger = frame.fingers[s]
        if finger is not None:
            _write(picture, str(finger), at[0] + radius, at[1] + radius, ink)


def draw_lettering(page: Page, reading: PageReading) -> Picture:
    """Label, first fret and name of each diagram."""
    picture, k = _reduced(page)
    for d in reading.diagrams:
        c = np.array(d.corners) * k
        _outline(picture, c, _ink(d), 1)
        words = f"label {d.label or '-'}; fret {d.frame.first_fret}; name {d.name or '-'}"
        _write(picture, words, c[:, 0].min(), c[:, 1].min() - 8, _ink(d))
        if d.flags:
            _write(picture, d.flags[0].code, c[:, 0].min(), c[:, 1].max() + 16, DOUBTFUL, 0.45)
    return picture


def draw_redrawn(page: Page, reading: PageReading) -> Picture:
    """Every diagram's crop beside its clean redrawing."""
    cards = [draw_diagram_report(page, None, d) for d in reading.diagrams]
    if not cards:
        blank = np.full((120, 480, 3), PAPER, np.uint8)
        _write(blank, "No diagram on this page.", 20, 60, DOUBTFUL)
        return blank
    return _sheet(cards, 2 if len(cards) > 3 else 1)


STAGES: dict[str, Callable[[Page, PageReading], Picture]] = {
    "1-page": draw_page,
    "2-ink": draw_ink,
    "3-regions": draw_regions,
    "4-grid": draw_grid,
    "5-marks": draw_marks,
    "6-lettering": draw_lettering,
    "7-redrawn": draw_redrawn,
}
"""Name of the picture of each stage, in order."""


# ---------------------------------------------------------------- one diagram


CARD = 300


def draw_diagram_report(page: Page, truth: Reading | None, reading: Reading | None) -> Picture:
    """One diagram as a picture: its crop, the crop marked, the truth redrawn, the reading redrawn, words.

    Parameters
    ----------
    page : Page
    truth : Reading, optional
        What the drawing says; None where that is not known or nothing is drawn.
    reading : Reading, optional
        None when the diagram was missed.
    """
    known = reading or truth
    assert known is not None, "a report needs a reading or a truth"
    crop, matrix = _crop(page, np.array(known.corners))
    panels = [crop]
    if reading is not None:
        marked = crop.copy()
        corners = in_crop(np.array(reading.corners), matrix)
        _outline(marked, corners, _ink(reading), 1)
        _marks(marked, corners, reading.frame, _ink(reading))
        panels.append(marked)
    if truth is not None:
        panels.append(_redrawn(truth, "drawn"))
    if reading is not None:
        panels.append(_redrawn(reading, "read"))
    row = np.hstack(panels)
    words = _words(truth, reading)
    foot = np.full((18 * len(words) + 10, row.shape[1], 3), PAPER, np.uint8)
    for i, line in enumerate(words):
        _write(foot, line, 6, 18 * (i + 1), DOUBTFUL if reading is None or reading.flags else SURE, 0.42)
    return np.vstack([row, foot])


def _crop(page: Page, corners: Points) -> tuple[Picture, Points]:
    centre, half = corners.mean(0), max(8.0, float(np.ptp(corners, axis=0).max())) * 0.95
    scale = CARD / (2 * half)
    m = np.array([[scale, 0, CARD / 2 - centre[0] * scale], [0, scale, CARD / 2 - centre[1] * scale], [0, 0, 1]])
    out = cv2.warpAffine(
        page.pixels,
        m[:2],
        (CARD, CARD),
        flags=cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC,
        borderValue=(128, 128, 128),
    )
    return np.asarray(out, np.uint8), m


def _redrawn(reading: Reading, word: str) -> Picture:
    out = np.full((CARD, CARD, 3), PAPER, np.uint8)
    data = to_png(draw_frame(reading.frame, reading.label or reading.name or "", style=FrameStyle()), dpi=150)
    small = cv2.cvtColor(cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB)
    k = min((CARD - 30) / small.shape[0], (CARD - 10) / small.shape[1])
    small = cv2.resize(small, None, fx=k, fy=k, interpolation=cv2.INTER_AREA)
    y, x = 24, (CARD - small.shape[1]) // 2
    out[y : y + small.shape[0], x : x + small.shape[1]] = small
    _write(out, word, 6, 16, (60, 60, 60), 0.45)
    return out


def _words(truth: Reading | None, reading: Reading | None) -> list[str]:
    lines = []
    if truth is not None:
        lines.append(f"drawn: {truth.frame.shape}  label {truth.label or '-'}")
    if reading is None:
        return [*lines, "missed"]
    words = f"label {reading.label or '-'}  name {reading.name or '-'}  sure {reading.confidence:.3f}"
    lines.append(f"read: {reading.frame.shape}  {words}")
    lines += [f"{f.code}: {f.detail}"[:110] for f in reading.flags]
    return lines


def _sheet(cards: Sequence[Picture], columns: int) -> Picture:
    width = max(c.shape[1] for c in cards)
    rows = []
    for i in range(0, len(cards), columns):
        part = list(cards[i : i + columns])
        height = max(c.shape[0] for c in part)
        part += [np.zeros((0, width, 3), np.uint8)] * (columns - len(part))
        rows.append(np.hstack([_padded(c, height, width) for c in part]))
    return np.vstack(rows)


def _padded(card: Picture, height: int, width: int) -> Picture:
    return np.pad(card, ((0, height - card.shape[0]), (0, width - card.shape[1]), (0, 0)), constant_values=PAPER[0])


def _int(point: Points) -> tuple[int, int]:
    return round(float(point[0])), round(float(point[1]))
