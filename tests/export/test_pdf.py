"""PDF pages, looked at through pdfium: fonts, text, size; the contact sheet."""

from __future__ import annotations

import ctypes
import io

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from PIL import Image

from reader.errors import ExportError, NotationError
from reader.export.contact import ContactItem, contact_pages, contact_sheet
from reader.export.diagram import draw_frame, grid_box
from reader.export.drawing import SOFT, Drawing, Line, Picture, Text, bounds
from reader.export.paper import A4, LETTER, get_paper
from reader.export.pdf import to_pdf
from reader.export.png import to_png, to_pngs
from reader.export.thumbnails import thumbnail_pages
from reader.music.frame import Barre, Frame

C = Frame((0, 0, 0, 3), (None, None, None, 3), 4)
B_FLAT = Frame((3, 2, 1, 1), (3, 2, 1, 1), 4, 1, (Barre(1, 2, 1),))


def fonts_in(pdf: bytes) -> dict[str, bool]:
    """Each font used on any page, and whether its file travels inside."""
    out: dict[str, bool] = {}
    for page in pypdfium2.PdfDocument(pdf):
        for thing in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT]):
            font = pdfium.FPDFTextObj_GetFont(thing.raw)
            name = ctypes.create_string_buffer(200)
            pdfium.FPDFFont_GetBaseFontName(font, name, 200)
            out[name.value.decode()] = bool(pdfium.FPDFFont_GetIsEmbedded(font))
    return out


def text_in(pdf: bytes) -> str:
    return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(pdf))


def test_fonts_travel_inside_and_text_can_be_selected() -> None:
    pdf = to_pdf([draw_frame(B_FLAT, "B♭", under=("g", "C♯", "E", "A"))])
    fonts = fonts_in(pdf)
    assert fonts
    assert all(fonts.values())
    assert all("InkfretLettering" in name for name in fonts)
    text = text_in(pdf)
    assert "B♭" in text
    assert "C♯" in text


def test_same_drawing_same_bytes() -> None:
    assert to_pdf([draw_frame(C, "C")]) == to_pdf([draw_frame(C, "C")])
    assert to_pdf([draw_frame(C, "C")]) != to_pdf([draw_frame(B_FLAT, "C")])


def test_page_size_is_that_of_the_drawing() -> None:
    document = pypdfium2.PdfDocument(
        to_pdf([Drawing(A4.width, A4.height, ()), Drawing(LETTER.width, LETTER.height, ())])
    )
    # ISO 216 A4 and US Letter (8.5 by 11 inches) in points of 1/72 inch.
    assert document[0].get_size() == pytest.approx((595.28, 841.89), abs=0.01)
    assert document[1].get_size() == pytest.approx((612.0, 792.0), abs=0.01)


def test_nothing_to_draw_is_said() -> None:
    with pytest.raises(ExportError, match="nothing to draw"):
        to_pdf([])


def test_pictures_know_their_resolution() -> None:
    drawing = draw_frame(C, "C")
    picture = Image.open(io.BytesIO(to_png(drawing, 300.0)))
    assert picture.width == pytest.approx(drawing.width / 25.4 * 300.0, abs=1.0)
    assert picture.info["dpi"] == pytest.approx((300.0, 300.0), abs=0.1)
    assert to_pngs([drawing, drawing], 300.0)[1] == to_png(drawing, 300.0)


def _crop() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (200, 90), "#808080").save(out, "JPEG")
    return out.getvalue()


def _items(count: int) -> list[ContactItem]:
    flags = ("The first-fret number beside the grid could not be read: check the 12.",) * 6
    doubtful = ContactItem(B_FLAT, "B♭", flags, "to review", "a file with a rather long name.jpg, page 1", _crop())
    return [ContactItem(C, "C"), *[doubtful] * (count - 1)]


@pytest.mark.parametrize("paper", [A4, LETTER])
@pytest.mark.parametrize("count", [1, 12, 13, 40])
def test_contact_sheet_keeps_its_margins_and_its_order(count: int, paper: object) -> None:
    pages = contact_pages(_items(count), paper=paper)  # type: ignore[arg-type]
    assert len(pages) == -(-count // 12)
    assert sum(len(page.grids) for page in pages) == count
    for page in pages:
        content = (A4 if paper is A4 else LETTER).content
        assert all(bounds(item).inside(content) for item in page.items)
        texts = [bounds(item) for item in page.items if isinstance(item, Text) and len(item.text) > 1]
        pictures = [bounds(item) for item in page.items if isinstance(item, Picture)]
        for n, box in enumerate(texts):
            assert not any(box.overlaps(other, 0.2) for other in [*texts[n + 1 :], *pictures])


def test_contact_sheet_says_how_many_flags_it_left_out() -> None:
    text = text_in(contact_sheet(_items(2)))
    assert "△ The first-fret number" in text
    assert "… and 4 more" in text or "… and 5 more" in text


def test_contact_sheet_shows_where_a_shape_was_seen() -> None:
    source = "first-chords-handout.jpg, page 1 and 2 more places"
    item = ContactItem(C, "C", (), "accepted", source, _crop())
    (page,) = contact_pages([item, item])
    shown = [text.text for text in page.items if isinstance(text, Text)]
    assert shown[shown.index("accepted") + 1 :][:2] == ["first-chords-handout.jpg,", "page 1 and 2 more places"]


def test_contact_sheet_reaches_both_margins() -> None:
    (page,) = contact_pages(_items(2))
    rules = [bounds(item) for item in page.items if isinstance(item, Line) and item.y1 == item.y2 and item.ink == SOFT]
    assert min(rule.left for rule in rules) == pytest.approx(A4.content.left, abs=0.1)
    assert max(rule.right for rule in rules) == pytest.approx(A4.content.right, abs=0.1)


def test_contact_sheet_of_nothing_and_of_a_bad_crop() -> None:
    assert "No shapes yet." in text_in(contact_sheet([]))
    with pytest.raises(ExportError, match="not a picture"):
        contact_sheet([ContactItem(C, "C", crop=b"ink", source="a.jpg")])


@pytest.mark.parametrize("count", [1, 42, 43])
def test_thumbnails_keep_apart(count: int) -> None:
    pages = thumbnail_pages(_items(count))
    assert len(pages) == -(-count // 42)
    boxes = [[grid_box(grid) for grid in page.grids] for page in pages]
    assert sum(map(len, boxes)) == count
    for page, grids in zip(pages, boxes, strict=True):
        assert all(bounds(item).inside(A4.content) for item in page.items)
        assert not any(a.overlaps(b) for n, a in enumerate(grids) for b in grids[n + 1 :])
    marked = [item.text for page in pages for item in page.items if isinstance(item, Text) and "△" in item.text]
    assert len(marked) == count - 1


def test_paper_by_name() -> None:
    assert get_paper("Letter") is LETTER
    with pytest.raises(NotationError, match="no paper called 'a3'"):
        get_paper("a3")
