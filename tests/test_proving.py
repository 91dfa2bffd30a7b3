"""The proving pages: their truth has to be right by the contract, whatever becomes of the paper."""

from __future__ import annotations

import io

import cv2
import numpy as np
import pytest
from PIL import Image, ImageOps

from reader.proving.camera import aim
from reader.proving.chart import Bar, Chart, Dot, Side
from reader.proving.dice import Dice
from reader.proving.fonts import builtin_fonts
from reader.proving.pages import KINDS, make_page
from reader.proving.shapes import known_shapes, open_notes
from reader.proving.spelling import Speller, spell
from reader.proving.tool import meet
from reader.proving.warp import flat

# Half-steps above the root; common practice, no source.
QUALITIES = {
    "": {0, 4, 7}, "m": {0, 3, 7}, "7": {0, 4, 7, 10}, "m7": {0, 3, 7, 10}, "maj7": {0, 4, 7, 11}, "6": {0, 4, 7, 9},
    "m6": {0, 3, 7, 9}, "add9": {0, 2, 4, 7}, "sus4": {0, 5, 7}, "sus2": {0, 2, 7}, "7sus4": {0, 5, 7, 10},
    "aug": {0, 4, 8}, "dim7": {0, 3, 6, 9}, "m7b5": {0, 3, 6, 10}, "9": {0, 2, 4, 7, 10}, "7#9": {0, 3, 4, 7, 10},
    "5": {0, 7}, "m9": {0, 2, 3, 7, 10},
}  # fmt: skip
NOTES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}


def _pitch(name: str) -> int:
    return NOTES[name[0]] + name.count("#") - name[1:].count("b")


@pytest.mark.parametrize("instrument", ["ukulele", "guitar", "baritone", "mandolin", "banjo-4", "banjo-5", "box-3"])
def test_shapes_sound_the_chord_they_are_called(instrument: str) -> None:
    for name, frets in known_shapes(instrument):
        head, _, bass = name.partition("/")
        cut = 2 if head[1:2] in ("#", "b") else 1
        wanted = {(_pitch(head[:cut]) + step) % 12 for step in QUALITIES[head[cut:]]} | (
            {_pitch(bass)} if bass else set()
        )
        heard = {(n + f) % 12 for n, f in zip(open_notes(instrument), frets, strict=True) if f is not None}
        assert heard <= wanted, name
        assert len(wanted - heard) <= 1, name  # at most the root or the fifth is left out


def test_marks_read_by_the_rules_of_the_trade() -> None:
    chart = Chart(
        strings=6,
        spaces=4,
        dots=(Dot(2, 2, 3), Dot(4, 1, 2)),
        bars=(Bar(0, 1, 5, "arc"),),
        tops=("x", "", "", "", "", ""),
        sides=(Side(1, "4", 4),),
        label="E^m7",
        label_read="Em7",
    )
    truth = chart.truth([(0.0, 0.0)] * 4)
    assert truth["first_fret"] == 3  # a 4 beside the second row
    assert truth["frets"] == [None, 3, 5, 3, 4, 3]  # the barre, unless a dot lies further up
    assert truth["fingers"] == [None, None, 3, None, 2, None]
    assert truth["barres"] == [{"fret": 3, "from_string": 5, "to_string": 1}]


def test_a_string_without_any_mark_is_open() -> None:
    chart = Chart(strings=4, spaces=3, dots=(Dot(3, 2),), under=("0", "", "", "3"), under_fingers=True)
    truth = chart.truth([(0.0, 0.0)] * 4)
    assert truth["frets"] == [0, 0, 0, 3]
    assert truth["fingers"] == [None, None, None, 3]


def test_a_grid_with_nothing_on_it_is_no_diagram_unless_it_has_a_label() -> None:
    assert Chart(strings=4, spaces=4, dots=()).empty
    assert not Chart(strings=4, spaces=4, dots=(), label="C6").empty


def test_labels_keep_their_spelling_with_plain_accidentals() -> None:
    from reader.proving.shapes import Chord

    chord = Chord((2, 1, 2, 0), (2, 1, 3, None), None, "F#", "m7b5")
    written = spell(chord, Speller({}, raised=True, signs=True, capitals=False, style="plain"))
    assert written is not None
    assert (written.drawn, written.read) == ("F♯m^7♭5", "F#m7b5")


def test_lines_that_stop_short_still_meet() -> None:
    upright = np.array([[10.0, 12.0], [10.0, 90.0]])
    across = np.array([[14.0, 5.0], [80.0, 5.0]])
    assert meet(upright, across, (9.0, 6.0)) == pytest.approx((10.0, 5.0))


def test_points_move_with_the_pixels_of_the_photo() -> None:
    size = (600, 800)
    content = np.array([[100.0, 100.0], [500.0, 700.0]])
    warp = aim(size, content, (900, 700), Dice(5), 0.2, 1, bent=True)
    for spot in ((150, 200), (450, 640), (300, 400)):
        sheet = np.zeros((800, 600, 3), np.uint8)
        cv2.circle(sheet, spot, 6, (255, 255, 255), -1)
        seen = warp.take(sheet, (0, 0, 0))[..., 0].astype(float)
        y, x = np.mgrid[0 : seen.shape[0], 0 : seen.shape[1]]
        found = ((x * seen).sum() / seen.sum(), (y * seen).sum() / seen.sum())
        told = warp.forth(np.array([spot], float))[0]
        assert np.hypot(*(told - found)) < 0.3


def test_printed_corners_lie_on_dark_lines() -> None:
    from reader.proving.drafts import printed_draft

    draft = printed_draft(3, builtin_fonts(), Dice(3, "corners"), "printed", 1200, False, False)
    grey = draft.sheet.pixels.min(axis=2)
    assert draft.charts
    for drawn in draft.charts:
        for x, y in drawn.corners:
            assert grey[round(y) - 1 : round(y) + 2, round(x) - 1 : round(x) + 2].min() < 180


@pytest.mark.parametrize("kind", list(KINDS))
def test_every_kind_gives_a_page_in_the_form(kind: str) -> None:
    picture = make_page(11, 2, [kind], builtin_fonts())
    image = ImageOps.exif_transpose(Image.open(io.BytesIO(picture.encoded())))
    truth = picture.truth
    assert image.size == (truth["width"], truth["height"])
    assert (truth["kind"], truth["page"]) == (kind, 1)
    if kind == "negative":
        assert not truth["diagrams"]
        assert not truth["tabs"]
    if kind.startswith("tab-"):
        assert truth["tabs"]
    for d in truth["diagrams"]:
        n, low, high = d["string_count"], d["first_fret"], d["first_fret"] + d["fret_count"]
        assert len(d["frets"]) == len(d["fingers"]) == n
        assert all(f is None or f == 0 or low <= f < high for f in d["frets"])
        assert all(f is None or d["frets"][k] for k, f in enumerate(d["fingers"]))
        assert all(b["from_string"] > b["to_string"] for b in d["barres"])
    for t in truth["tabs"]:
        xs = [e["x"] for e in t["events"]]
        assert xs == sorted(xs)
        assert all(1 <= n["string"] <= t["line_count"] for e in t["events"] for n in e["notes"])


def test_a_page_is_the_same_whenever_it_is_made() -> None:
    kinds, fonts = ["tablet", "printed"], builtin_fonts()
    again = [make_page(4, 3, kinds, fonts) for _ in range(2)]
    assert again[0].truth == again[1].truth
    assert (again[0].pixels == again[1].pixels).all()
    assert make_page(5, 3, kinds, fonts).truth != again[0].truth


def test_the_sheet_itself_is_a_picture_of_itself() -> None:
    points = np.array([[3.0, 4.0], [20.5, 7.25]])
    assert flat((40, 30)).forth(points) == pytest.approx(points)
