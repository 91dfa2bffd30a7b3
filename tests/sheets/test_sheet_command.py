"""``inkfret sheet``: files of every kind, a library's shapes first, errors in one sentence."""

from __future__ import annotations

import ctypes
from pathlib import Path

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from library_samples import FAINT, make_page, make_reading
from lxml import etree
from PIL import Image

from cli.main import main
from reader.errors import ExportError
from reader.export.drawing import Drawing
from reader.library.store import Library
from reader.sheets.output import to_files

EACH = (
    ("practice", "C", "Am", "F", "G7"),
    ("key", "G"),
    ("progression", "I vi IV V7", "--key", "C"),
    ("order", "C", "G", "Am", "F"),
    ("cards", "C", "Am", "F"),
)


def run(*arguments: str | Path) -> int:
    """The exit code of a command."""
    with pytest.raises(SystemExit) as end:
        main(["sheet", *map(str, arguments)])
    return int(end.value.code or 0)


def pdf_text(path: Path) -> str:
    return "\n".join(page.get_textpage().get_text_range() for page in pypdfium2.PdfDocument(path.read_bytes()))


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """A library of three trusted ukulele shapes and one that somebody still has to look at."""
    path = tmp_path / "studio.inkfret"
    with Library.open(path, create=True) as opened:
        page = make_page(
            make_reading("5433", "C"),
            make_reading("2003", "Am"),
            make_reading("2020", "D7"),
            make_reading("0402", "G7", flags=(FAINT,)),
        )
        opened.add_page(page, "ab" * 32)
    return path


@pytest.mark.parametrize("arguments", EACH, ids=lambda a: a[0])
def test_pdf_fonts_travel_inside_and_text_can_be_selected(arguments: tuple[str, ...], tmp_path: Path) -> None:
    out = tmp_path / "sheet.pdf"
    assert run(*arguments, "--out", out) == 0
    for page in pypdfium2.PdfDocument(out.read_bytes()):
        for thing in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT]):
            font = pdfium.FPDFTextObj_GetFont(thing.raw)
            name = ctypes.create_string_buffer(100)
            pdfium.FPDFFont_GetBaseFontName(font, name, 100)
            assert pdfium.FPDFFont_GetIsEmbedded(font), name.value
    text = pdf_text(out)
    assert {"C", "Am"} <= set(text.split())
    assert list(tmp_path.iterdir()) == [out]


def test_letter_paper(tmp_path: Path) -> None:
    out = tmp_path / "key.pdf"
    assert run("key", "Bb", "--paper", "letter", "--out", out) == 0
    assert pypdfium2.PdfDocument(out.read_bytes())[0].get_size() == pytest.approx((612.0, 792.0), abs=0.01)


def test_svg_and_png_have_a_file_a_page(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("cards", "C", "F", "--out", tmp_path / "cards.svg") == 0
    assert run("practice", "C", "--out", tmp_path / "one.png") == 0
    printed = capsys.readouterr().out.split()
    assert [Path(p).name for p in printed] == ["cards-1.svg", "cards-2.svg", "one.png"]
    for name in ("cards-1.svg", "cards-2.svg"):
        assert etree.fromstring((tmp_path / name).read_bytes()).get("role") == "img"
    with Image.open(tmp_path / "one.png") as picture:
        assert picture.width == pytest.approx(210 / 25.4 * 200, abs=1)


def test_chords_and_shapes_of_a_library(library: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "order.pdf"
    assert run("order", "--library", library, "--out", out) == 0
    words = pdf_text(out).split()
    assert {"C", "Am", "D7"} <= set(words)
    assert "G7" not in words
    assert "3 diagrams on 1 page." in capsys.readouterr().err


def test_shapes_that_the_library_lacks_are_marked(library: Path, tmp_path: Path) -> None:
    out = tmp_path / "practice.pdf"
    assert run("practice", "C", "F", "--library", library, "--variants", "0", "--out", out) == 0
    text = pdf_text(out)
    assert "worked out from the tuning, not in your library" in text
    assert text.count("□") == 2  # the legend, and F


def test_german_and_solfege_names(tmp_path: Path) -> None:
    assert run("practice", "H7", "--names", "german", "--out", tmp_path / "a.pdf") == 0
    assert "H7" in pdf_text(tmp_path / "a.pdf").split()
    assert run("practice", "Sol7", "--names", "solfege", "--under", "notes", "--out", tmp_path / "b.pdf") == 0
    assert {"Sol7", "Si"} <= set(pdf_text(tmp_path / "b.pdf").split())


@pytest.mark.parametrize(
    ("arguments", "code", "sentence"),
    [
        (("practice", "Cmaj7x"), 2, "The label 'Cmaj7x' cannot be read from 'x' on."),
        (("practice",), 2, "There is no chord for Ukulele"),
        (("progression", "I vi"), 2, "add one, as in --key C"),
        (("key", "Q"), 2, "'Q' is not a key"),
        (("practice", "C", "--tuning", "zz"), 2, "'zz'"),
        (("practice", "C", "--library", "missing.inkfret"), 4, "missing.inkfret"),
        (("practice", "C", "--out", "sheet.doc"), 5, "cannot be written as 'doc'"),
        (("practice", "C", "--out", "nowhere/sheet.pdf"), 5, "nowhere/sheet.pdf cannot be written"),
    ],
)
def test_errors_are_one_sentence_and_leave_nothing(
    arguments: tuple[str, ...],
    code: int,
    sentence: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(*arguments) == code
    said = capsys.readouterr().err.strip()
    assert said.startswith("inkfret: ")
    assert sentence in said
    assert "\n" not in said
    assert list(tmp_path.iterdir()) == []


def test_the_same_sheet_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("a.pdf", "b.pdf"):
        assert run("key", "F", "--out", tmp_path / name) == 0
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_a_sheet_without_pages_is_an_error() -> None:
    none: list[Drawing] = []
    with pytest.raises(ExportError, match="no chord to put on a sheet"):
        to_files(none, "pdf")
