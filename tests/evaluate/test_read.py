"""Reading the pages of a truth file: order, time, and what happens to bad ones."""

from __future__ import annotations

from pathlib import Path

from page_samples import page
from PIL import Image

from reader.errors import InputError
from reader.evaluate.read import read_true_pages
from reader.evaluate.truth import true_page
from reader.image.pages import Page
from reader.reading import PageReading


def read_nothing(picture: Page) -> PageReading:
    """A reader that finds nothing, refuses red pages and stumbles over blue ones."""
    red, _, blue = picture.pixels[0, 0]
    if blue == 0:
        raise InputError("the page is red.")
    if red == 0:
        raise ZeroDivisionError("by zero")
    return PageReading(picture.source, picture.number, picture.width, picture.height)


def test_good_pages_are_read_and_bad_ones_carry_their_error(tmp_path: Path) -> None:
    white, red, blue = (Image.new("RGB", (120, 90), colour) for colour in ("white", "red", "blue"))
    white.save(tmp_path / "two.tiff", save_all=True, append_images=[red])
    blue.save(tmp_path / "blue.png")
    white.save(tmp_path / "seen.png")
    (tmp_path / "words.jpg").write_text("not a picture")
    pages = [
        page(source="two.tiff", page=1),
        page(source="two.tiff", page=2),
        page(source="words.jpg"),
        page(source="missing.png"),
        page(source="blue.png"),
        page(source="seen.png", seen=True),
        page(source="two.tiff", page=3),
    ]
    read = list(read_true_pages(map(true_page, pages), tmp_path, read_nothing))
    assert [(r.reading.source, r.reading.page) for r in read] == [
        ("two.tiff", 1),
        ("two.tiff", 2),
        ("words.jpg", 1),
        ("missing.png", 1),
        ("blue.png", 1),
        ("two.tiff", 3),
    ]
    assert [r.reading.error is None for r in read] == [True, False, False, False, False, False]
    assert read[1].reading.error == "the page is red."
    assert read[4].reading.error == "a fault in this program (ZeroDivisionError: by zero)."
    assert [r.seconds is not None for r in read] == [True, False, False, False, False, False]
    assert (read[0].reading.width, read[0].reading.height) == (120, 90)
