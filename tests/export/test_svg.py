"""SVG against an XML parser and a second renderer."""

from __future__ import annotations

import io

import numpy as np
import pytest
from lxml import etree
from PIL import Image

from reader.export.contact import ContactItem, contact_pages
from reader.export.diagram import FrameStyle, draw_frame
from reader.export.drawing import Drawing, Line, Path, Picture, Text
from reader.export.png import render_pages
from reader.export.svg import to_svg
from reader.music.frame import Barre, Frame

SVG = "{http://www.w3.org/2000/svg}"
HIGH = draw_frame(
    Frame((None, 12, 14, 12, 14, 0), (None, 1, 3, 1, 4, None), 4, 12, (Barre(12, 5, 3),)),
    "C♯m7♭5",
    under=("E", "A", "D", "G♯", "B♭", "E"),
    pitches=(40, 45, 50, 55, 59, 64),
)


def test_screen_readers_get_title_and_description() -> None:
    root = etree.fromstring(to_svg(HIGH))
    title, words = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert root.get("role") == "img"
    assert root.get("aria-labelledby").split() == [title.get("id"), words.get("id")]
    assert title.text == "C♯m7♭5"
    assert "String 5 (A): fret 12, finger 1." in words.text
    # SVG Accessibility API Mappings: the drawing's inside is not announced piece by piece.
    assert root.find(f"{SVG}g").get("aria-hidden") == "true"


def test_size_is_in_millimetres() -> None:
    root = etree.fromstring(to_svg(draw_frame(Frame((0,) * 6, (None,) * 6, 4), style=FrameStyle.for_width(18.0, 6))))
    assert root.get("width") == "18mm"
    assert root.get("viewBox").split()[:3] == ["0", "0", "18"]


def test_markup_in_a_title_is_escaped() -> None:
    drawing = draw_frame(Frame((0, 0, 0, 3), (None,) * 4, 4), 'A<B & "C"')
    for lettering in ("outlines", "text"):
        root = etree.fromstring(to_svg(drawing, lettering))  # type: ignore[arg-type]
        assert root.find(f"{SVG}title").text == 'A<B & "C"'


def test_ids_can_be_told_apart() -> None:
    ids = [
        element.get("id")
        for key in ("one", "two")
        for element in etree.fromstring(to_svg(HIGH, key=key)).iter()
        if element.get("id")
    ]
    assert len(ids) == len(set(ids)) == 4


def test_outlines_need_no_font_and_text_stays_text() -> None:
    assert not list(etree.fromstring(to_svg(HIGH)).iter(f"{SVG}text"))
    texts = [t.text for t in etree.fromstring(to_svg(HIGH, "text")).iter(f"{SVG}text")]
    assert texts[:2] == ["C♯m7♭5", "12"]
    assert "B♭" in texts


def _second_renderer(svg: str, dpi: float) -> np.ndarray:
    resvg = pytest.importorskip("resvg_py", reason="second SVG renderer not installed")
    data = resvg.svg_to_bytes(svg_string=svg, dpi=dpi, background="white")
    return np.asarray(Image.open(io.BytesIO(bytes(data))).convert("L"), dtype=float)


def _difference(drawing: Drawing) -> float:
    """Share of pixels, after a slight blur, that differ by more than a third of full darkness."""
    ours = next(render_pages([drawing], 254.0)).convert("L")  # ten pixels a millimetre: no rounding of sizes
    theirs = Image.fromarray(_second_renderer(to_svg(drawing), 254.0).astype(np.uint8))
    small = (ours.width // 2, ours.height // 2)
    a, b = (np.asarray(picture.resize(small), dtype=float) for picture in (ours, theirs))
    return float((np.abs(a - b) > 85).mean())


def test_a_second_renderer_shows_the_same_as_the_pdf() -> None:
    every = Drawing(
        40.0,
        30.0,
        (
            Line(2, 2, 38, 4, 0.5, dash=1.0),
            Path((("M", (5, 10)), ("C", (10, 5, 20, 25, 35, 10)), ("L", (30, 20)), ("Z", ())), fill="#555555"),
            Text(20, 27, "Größe ♯♭ °øΔ", 4.0, "middle", bold=True),
        ),
    )
    assert _difference(HIGH) < 0.004
    assert _difference(every) < 0.004


def test_pictures_travel_inside() -> None:
    out = io.BytesIO()
    Image.new("RGB", (30, 60), "#707070").save(out, "PNG")
    frame = Frame((0, 0, 0, 3), (None, None, None, 3), 4)
    flags = ("Look at string 3: the mark is faint.",)
    (page,) = contact_pages([ContactItem(frame, "C", flags, "to review", "sheet.pdf, page 2", out.getvalue())])
    (image,) = etree.fromstring(to_svg(page)).iter(f"{SVG}image")
    assert image.get("href").startswith("data:image/png;base64,")
    assert image.find(f"{SVG}title").text == "The ink that C was read from"
    (picture,) = (i for i in page.items if isinstance(i, Picture))
    assert picture.height / picture.width == pytest.approx(2.0)
