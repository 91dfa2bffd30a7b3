"""Every kind of file gives the same upright pixels, and bad files give one clear sentence."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from PIL import Image
from reportlab.pdfgen import canvas

from reader.errors import InputError
from reader.image.pages import MAX_SIDE, MIN_SIDE, Page, PageFile, list_inputs, open_pages

FIXTURES = Path(__file__).parents[2] / "fixtures"
WIDTH, HEIGHT = 160, 96
RED, GREEN, BLUE, YELLOW = (200, 30, 30), (30, 160, 30), (30, 30, 200), (220, 220, 40)


def quarters(width: int = WIDTH, height: int = HEIGHT) -> npt.NDArray[np.uint8]:
    """Red and green above, blue and yellow below: every turn and mirror image looks different."""
    pixels = np.zeros((height, width, 3), np.uint8)
    pixels[: height // 2, : width // 2], pixels[: height // 2, width // 2 :] = RED, GREEN
    pixels[height // 2 :, : width // 2], pixels[height // 2 :, width // 2 :] = BLUE, YELLOW
    return pixels


def picture() -> Image.Image:
    return Image.fromarray(quarters())


def only_page(path: Path) -> Page:
    (page,) = open_pages(path)
    return page


def difference(page: Page, wanted: npt.NDArray[np.uint8]) -> int:
    assert page.pixels.shape == wanted.shape
    return int(np.abs(page.pixels.astype(int) - wanted).max())


def corners_are(page: Page, *colours: tuple[int, int, int], tolerance: int = 12) -> bool:
    """Whether top left, top right, bottom left, bottom right have these colours."""
    spots = page.pixels[[8, 8, -8, -8], [8, -8, 8, -8]].astype(int)
    return bool(np.abs(spots - np.array(colours)).max() <= tolerance)


# ---------------------------------------------------------------- pictures

LOSSLESS = {"PNG": {}, "BMP": {}, "TIFF": {"compression": "tiff_lzw"}, "WEBP": {"lossless": True}}


@pytest.mark.parametrize("kind", LOSSLESS)
def test_lossless_formats_keep_every_pixel(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "page.bin"  # the ending says nothing: the first bytes decide
    picture().save(path, kind, **LOSSLESS[kind])
    page = only_page(path)
    assert difference(page, quarters()) == 0
    assert (page.source, page.number, page.width, page.height) == (str(path), 1, WIDTH, HEIGHT)


@pytest.mark.parametrize(
    "options", [{}, {"progressive": True}, {"optimize": True}], ids=["baseline", "progressive", "optimised"]
)
def test_jpeg(tmp_path: Path, options: dict[str, bool]) -> None:
    picture().save(tmp_path / "a.jpg", quality=95, **options)
    assert corners_are(only_page(tmp_path / "a.jpg"), RED, GREEN, BLUE, YELLOW)


def test_cmyk_jpeg_has_the_right_colours_not_their_negative(tmp_path: Path) -> None:
    picture().convert("CMYK").save(tmp_path / "a.jpg", quality=95)
    assert corners_are(only_page(tmp_path / "a.jpg"), RED, GREEN, BLUE, YELLOW)


def test_grey_jpeg_has_three_equal_channels(tmp_path: Path) -> None:
    picture().convert("L").save(tmp_path / "a.jpg", quality=95)
    pixels = only_page(tmp_path / "a.jpg").pixels
    assert pixels.shape == (HEIGHT, WIDTH, 3)
    assert np.ptp(pixels, axis=2).max() == 0


def test_palette_gif_gives_its_first_frame(tmp_path: Path) -> None:
    blank = Image.new("RGB", (WIDTH, HEIGHT), "black")
    picture().save(tmp_path / "a.gif", save_all=True, append_images=[blank])
    assert corners_are(only_page(tmp_path / "a.gif"), RED, GREEN, BLUE, YELLOW)


def test_palette_png_with_a_transparent_colour_lies_on_white(tmp_path: Path) -> None:
    image = picture().quantize(4)
    image.save(tmp_path / "a.png", transparency=image.getpixel((2, 2)))
    assert corners_are(only_page(tmp_path / "a.png"), (255, 255, 255), GREEN, BLUE, YELLOW)


def test_half_transparent_ink_is_mixed_with_white_paper(tmp_path: Path) -> None:
    image = Image.new("RGBA", (60, 60), (0, 0, 0, 128))
    image.save(tmp_path / "a.png")
    assert difference(only_page(tmp_path / "a.png"), np.full((60, 60, 3), 127, np.uint8)) <= 1


@pytest.mark.parametrize("kind", ["png", "tif"])
def test_16_bit_grey_keeps_its_tones(tmp_path: Path, kind: str) -> None:
    ramp = np.tile(np.linspace(0, 65535, 100).astype(np.uint16), (50, 1))
    Image.fromarray(ramp).save(tmp_path / f"a.{kind}")
    wanted = np.repeat(np.rint(ramp / 257.0).astype(np.uint8)[:, :, None], 3, axis=2)
    assert difference(only_page(tmp_path / f"a.{kind}"), wanted) <= 1


def test_one_bit_fax_tiff(tmp_path: Path) -> None:
    picture().convert("L").point(lambda v: 255 * (v > 100)).convert("1").save(tmp_path / "a.tif", compression="group4")
    assert set(np.unique(only_page(tmp_path / "a.tif").pixels)) == {0, 255}


def test_multi_page_tiff_counts_pages_from_1_and_leaves_thumbnails_out(tmp_path: Path) -> None:
    first, second = picture(), Image.new("RGB", (50, 70), "navy")
    thumbnail = picture().resize((48, 48))
    thumbnail.encoderinfo = {"tiffinfo": {254: 1}}
    first.save(tmp_path / "a.tif", save_all=True, append_images=[thumbnail, second], dpi=(300, 300))
    pages = list(open_pages(tmp_path / "a.tif"))
    assert [(p.number, p.width, p.height) for p in pages] == [(1, WIDTH, HEIGHT), (2, 50, 70)]
    assert pages[0].dpi == 300


# The eight orientations of the EXIF 2.3 standard, tag 0x0112: colours from top left to bottom right when upright.
ORIENTATIONS = {
    1: (RED, GREEN, BLUE, YELLOW),
    2: (GREEN, RED, YELLOW, BLUE),
    3: (YELLOW, BLUE, GREEN, RED),
    4: (BLUE, YELLOW, RED, GREEN),
    5: (RED, BLUE, GREEN, YELLOW),
    6: (BLUE, RED, YELLOW, GREEN),
    7: (YELLOW, GREEN, BLUE, RED),
    8: (GREEN, YELLOW, RED, BLUE),
}


@pytest.mark.parametrize("kind", ["jpg", "png", "webp", "tif"])
@pytest.mark.parametrize("orientation", ORIENTATIONS)
def test_stored_orientation_is_applied_once(tmp_path: Path, kind: str, orientation: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    picture().save(tmp_path / f"a.{kind}", exif=exif, quality=95)
    page = only_page(tmp_path / f"a.{kind}")
    assert corners_are(page, *ORIENTATIONS[orientation], tolerance=20)
    assert (page.width > page.height) == (orientation < 5)


def test_a_page_asked_for_twice_is_turned_once(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6
    picture().save(tmp_path / "a.jpg", exif=exif, quality=95)
    with PageFile(tmp_path / "a.jpg") as file:
        first, second = file.page(1), file.page(1)
    assert np.array_equal(first.pixels, second.pixels)
    assert (first.width, first.height) == (HEIGHT, WIDTH)


def test_heic_with_stored_turn() -> None:
    page = only_page(FIXTURES / "formats" / "turned.heic")
    assert (page.width, page.height) == (HEIGHT, WIDTH)
    assert corners_are(page, *ORIENTATIONS[6])


def test_second_picture_in_a_phone_jpeg_is_not_a_page(tmp_path: Path) -> None:
    picture().save(tmp_path / "a.jpg", "MPO", save_all=True, append_images=[Image.new("RGB", (WIDTH, HEIGHT))])
    assert corners_are(only_page(tmp_path / "a.jpg"), RED, GREEN, BLUE, YELLOW)


@pytest.mark.parametrize(("stored", "believed"), [(300, 300), (72, None), (96, None), (1, None)])
def test_placeholder_densities_are_not_believed(tmp_path: Path, stored: int, believed: float | None) -> None:
    picture().save(tmp_path / "a.jpg", dpi=(stored, stored))
    assert only_page(tmp_path / "a.jpg").dpi == believed


def test_pixels_cannot_be_written_by_accident(tmp_path: Path) -> None:
    picture().save(tmp_path / "a.png")
    with pytest.raises(ValueError, match="read-only"):
        only_page(tmp_path / "a.png").pixels[0, 0] = 0


# ---------------------------------------------------------------- PDF


def scan_pdf(
    path: Path, pixels: npt.NDArray[np.uint8], place: tuple[str, str], extra: str = "", content: str = ""
) -> Path:
    """A PDF (ISO 32000-1) written by hand: one page with one uncompressed picture."""
    matrix, box = place
    rows, columns = pixels.shape[:2]
    drawn = f"q {matrix} cm /Im0 Do Q {content}".encode()
    raw = pixels.tobytes()
    objects = [
        b"<< /Type /Catalog /Pages 2 0 R >>",
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>",
        (
            f"<< /Type /Page /Parent 2 0 R /MediaBox [{box}] {extra} /Contents 5 0 R "
            "/Resources << /XObject << /Im0 4 0 R >> /Font << /F1 6 0 R >> >> >>"
        ).encode(),
        (
            f"<< /Type /XObject /Subtype /Image /Width {columns} /Height {rows} /ColorSpace /DeviceRGB "
            f"/BitsPerComponent 8 /Length {len(raw)} >>\nstream\n"
        ).encode()
        + raw
        + b"\nendstream",
        f"<< /Length {len(drawn)} >>\nstream\n".encode() + drawn + b"\nendstream",
        b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>",
    ]
    body, offsets = b"%PDF-1.4\n", []
    for number, content_bytes in enumerate(objects, start=1):
        offsets.append(len(body))
        body += f"{number} 0 obj\n".encode() + content_bytes + b"\nendobj\n"
    table = "".join(f"{offset:010d} 00000 n \n" for offset in offsets)
    body += f"xref\n0 {len(objects) + 1}\n0000000000 65535 f \n{table}".encode()
    end = body.index(b"xref\n0 ")
    body += f"trailer << /Size {len(objects) + 1} /Root 1 0 R >>\nstartxref\n{end}\n%%EOF\n".encode()
    path.write_bytes(body)
    return path


@pytest.fixture
def noise() -> npt.NDArray[np.uint8]:
    return np.random.default_rng(1).integers(0, 256, (431, 317, 3), dtype=np.uint8)


UPRIGHT, BOX = "117.29 0 0 159.47 0 0", "0 0 117.29 159.47"
SCANS: dict[str, tuple[str, str, str, str, int]] = {
    # name: matrix, page box, page entries, further content, quarter turns anticlockwise as shown
    "upright": (UPRIGHT, BOX, "", "", 0),
    "page turned 90": (UPRIGHT, BOX, "/Rotate 90", "", 3),
    "page turned 180": (UPRIGHT, BOX, "/Rotate 180", "", 2),
    "page turned 270": (UPRIGHT, BOX, "/Rotate 270", "", 1),
    "picture turned": ("0 117.29 -159.47 0 159.47 0", "0 0 159.47 117.29", "", "", 1),
    "picture turned, page turned back": ("0 117.29 -159.47 0 159.47 0", "0 0 159.47 117.29", "/Rotate 90", "", 0),
    "invisible text over it": (UPRIGHT, BOX, "", "BT 3 Tr /F1 12 Tf 20 20 Td (Am7) Tj ET", 0),
}


@pytest.mark.parametrize("name", SCANS)
def test_a_page_that_is_one_scan_comes_pixel_for_pixel(tmp_path: Path, noise: npt.NDArray[np.uint8], name: str) -> None:
    matrix, box, extra, content, turns = SCANS[name]
    page = only_page(scan_pdf(tmp_path / "a.pdf", noise, (matrix, box), extra, content))
    assert difference(page, np.rot90(noise, turns)) == 0
    assert page.dpi == pytest.approx(72 / 0.37, abs=0.1)


def test_a_picture_beside_visible_text_is_drawn(tmp_path: Path, noise: npt.NDArray[np.uint8]) -> None:
    path = scan_pdf(tmp_path / "a.pdf", noise, (UPRIGHT, BOX), content="BT /F1 12 Tf 20 20 Td (Am7) Tj ET")
    assert only_page(path).dpi == 200


def test_a_small_picture_on_a_page_is_drawn(tmp_path: Path, noise: npt.NDArray[np.uint8]) -> None:
    page = only_page(scan_pdf(tmp_path / "a.pdf", noise, ("40 0 0 50 10 10", "0 0 144 216")))
    assert (page.width, page.height, page.dpi) == (400, 600, 200)


def test_drawn_pages_keep_their_order_and_lines(tmp_path: Path) -> None:
    paper = canvas.Canvas(str(tmp_path / "a.pdf"), pagesize=(72, 144))
    for column in (18, 54):
        paper.setLineWidth(2)
        paper.line(column, 0, column, 144)
        paper.showPage()
    paper.save()
    first, second = open_pages(tmp_path / "a.pdf")
    assert [int(np.argmin(p.pixels[200, :, 0])) // 10 for p in (first, second)] == [4, 14]
    assert [(p.number, p.width, p.height) for p in (first, second)] == [(1, 200, 400), (2, 200, 400)]


def test_a_poster_is_drawn_coarser_instead_of_refused(tmp_path: Path) -> None:
    paper = canvas.Canvas(str(tmp_path / "a.pdf"), pagesize=(10_000, 60))
    paper.showPage()
    paper.save()
    page = only_page(tmp_path / "a.pdf")
    assert page.width <= MAX_SIDE
    assert page.dpi is not None
    assert page.dpi < 200


def test_pdf_pages_may_be_read_from_several_threads(tmp_path: Path, noise: npt.NDArray[np.uint8]) -> None:
    paths = [scan_pdf(tmp_path / f"{i}.pdf", np.roll(noise, i, axis=0), (UPRIGHT, BOX)) for i in range(4)]
    with ThreadPoolExecutor(4) as pool:
        pages = list(pool.map(only_page, paths * 5))
    assert [difference(p, np.roll(noise, i % 4, axis=0)) for i, p in enumerate(pages)] == [0] * 20


# ---------------------------------------------------------------- files that cannot be used


BAD_FILES = {
    "zero-bytes.jpg": r"is empty \(0 bytes\)",
    "text.jpg": "is not a picture or PDF .it holds text",
    "noise.jpg": "is not a picture or PDF .it holds something else",
    "truncated.jpg": "is damaged or cut short",
    "header-only.png": "is damaged or cut short",
    "tiny.png": "20 × 20 pixels is too small",
    "wide.png": "30000 × 60 pixels is more than can be read at once",
    "bomb.png": "24000 × 24000 pixels is more than can be read at once",
    "locked.pdf": "is locked with a password",
    "no-pages.pdf": "is a PDF without a single page",
    "broken.pdf": "is damaged or not a complete PDF",
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_bad_files_give_one_sentence_that_names_the_file(name: str) -> None:
    path = FIXTURES / "broken" / name
    with pytest.raises(InputError, match=BAD_FILES[name]) as caught:
        list(open_pages(path))
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_truncation_is_noticed_wherever_it_falls(tmp_path: Path) -> None:
    noise = np.random.default_rng(0).integers(0, 256, (200, 300, 3), dtype=np.uint8)
    Image.fromarray(noise).save(tmp_path / "whole.jpg")
    whole = (tmp_path / "whole.jpg").read_bytes()
    for share in (0.02, 0.3, 0.6, 0.98):
        (tmp_path / "a.jpg").write_bytes(whole[: int(len(whole) * share)])
        with pytest.raises(InputError, match=r"a\.jpg is"):
            list(open_pages(tmp_path / "a.jpg"))


def test_good_pages_of_a_half_broken_tiff_can_be_had(tmp_path: Path) -> None:
    picture().save(tmp_path / "a.tif", save_all=True, append_images=[Image.new("RGB", (20, 20))])
    with PageFile(tmp_path / "a.tif") as file:
        assert len(file) == 2
        assert difference(file.page(1), quarters()) == 0
        with pytest.raises(InputError, match=f"page 2 of .*20 × 20 pixels is too small.*{MIN_SIDE}"):
            file.page(2)


def test_missing_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="does not exist"):
        list(open_pages(tmp_path / "nowhere.png"))
    with pytest.raises(InputError, match="is a folder"):
        list(open_pages(tmp_path))


# ---------------------------------------------------------------- folders


def test_folders_are_searched_in_counting_order(tmp_path: Path) -> None:
    for name in ("page10.png", "page2.PNG", "notes.txt", ".hidden.png", "more/page1.jpg", ".cache/page3.png"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"x")
    found = list_inputs([tmp_path, tmp_path / "page2.PNG", tmp_path / "notes.txt"])
    assert [str(p.relative_to(tmp_path)) for p in found] == ["more/page1.jpg", "page2.PNG", "page10.png", "notes.txt"]


def test_empty_folder_and_missing_path_are_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="holds no pictures and no PDF"):
        list_inputs([tmp_path])
    with pytest.raises(InputError, match=r"nowhere does not exist"):
        list_inputs([tmp_path / "nowhere"])
