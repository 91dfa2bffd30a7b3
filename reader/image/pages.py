"""Files in, upright pages out: the one place where pictures and PDFs are opened.

    JPEG, PNG, WebP, BMP, GIF, HEIC    one page each
    TIFF                               one page per full-size image in the file
    PDF                                see ``reader.image.pdf_pages``

Formats are told apart by their first bytes, never by the file name, and a
picture's size is checked from its header before a single pixel is decoded.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Protocol, Self

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageOps, UnidentifiedImageError

from reader.errors import InputError

Pixels = npt.NDArray[np.uint8]

MIN_SIDE = 40
"""Pixels; the shorter side of the smallest picture that could hold one readable diagram."""

MAX_SIDE = 25_000
"""Pixels; the longest side that is decoded. The largest phone sensors give about 16,300."""

MAX_PIXELS = 220_000_000
"""Width times height that is decoded: a 200-megapixel phone photo passes, a decompression bomb does not."""

_PHOTO_ENDINGS = ("jpg", "jpeg", "jpe", "jfif", "heic", "heif", "hif", "png", "webp")
_SCAN_ENDINGS = ("pdf", "tif", "tiff", "bmp", "dib", "gif")
PICTURE_SUFFIXES = frozenset(f".{ending}" for ending in _PHOTO_ENDINGS + _SCAN_ENDINGS)
"""File name endings that are picked up from folders; a file named one by one may end in anything."""

_PILLOW_FORMATS = ("JPEG", "PNG", "WEBP", "BMP", "DIB", "GIF", "TIFF", "HEIF")
_STRIP = 128
"""Rows copied at a time; a strip of a phone photo then stays in the cache."""

_SCREEN_DPI = frozenset({72, 96})
"""Densities that cameras and screens write without having measured anything."""

_REDUCED_IMAGE = 1
"""Bit of the TIFF 6.0 tag NewSubfileType (254) that marks a thumbnail of another image in the file."""


@dataclass(frozen=True, slots=True)
class Page:
    """One upright picture.

    Parameters
    ----------
    pixels : uint8 array [row, column, 3]
        Red, green, blue, with the stored orientation already applied. Read-only.
    source : str
        The file, as it was given.
    number : int
        Page within the file, from 1.
    dpi : float or None
        Dots per inch where the file says so believably.
    """

    pixels: Pixels
    source: str
    number: int = 1
    dpi: float | None = None

    @property
    def width(self) -> int:
        """Columns of pixels."""
        return int(self.pixels.shape[1])

    @property
    def height(self) -> int:
        """Rows of pixels."""
        return int(self.pixels.shape[0])


class _Document(Protocol):
    """What `PageFile` needs of a file kind: pages counted and decoded one at a time."""

    def __len__(self) -> int: ...

    def page(self, number: int) -> Page: ...

    def close(self) -> None: ...


class PageFile:
    """An open picture or PDF whose pages are decoded one at a time.

    Parameters
    ----------
    path : path-like
        Any supported file.

    Raises
    ------
    InputError
        When the file is missing, empty, locked, damaged, or not a picture.

    Examples
    --------
    >>> with PageFile("scan.tif") as file:          # doctest: +SKIP
    ...     first = file.page(1)
    """

    def __init__(self, path: str | Path) -> None:
        self.source = str(path)
        head = _read_head(Path(path), self.source)
        self._document: _Document
        if b"%PDF-" in head:
            from reader.image.pdf_pages import PdfPages

            self._document = PdfPages(Path(path), self.source)
        else:
            self._document = _Picture(Path(path), self.source, head)

    def __len__(self) -> int:
        return len(self._document)

    def page(self, number: int) -> Page:
        """Decode one page, counted from 1.

        Raises
        ------
        InputError
            When this page is damaged, too small or too large; other pages may still be good.
        """
        return self._document.page(number)

    def close(self) -> None:
        """Let go of the file."""
        self._document.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def open_pages(path: str | Path) -> Iterator[Page]:
    """All pages of one file, in order, each decoded when it is asked for.

    Raises
    ------
    InputError
        When the file or one of its pages cannot be used. To go on after a bad
        page, use `PageFile`.
    """
    with PageFile(path) as file:
        for number in range(1, len(file) + 1):
            yield file.page(number)


def list_inputs(paths: Iterable[str | Path]) -> list[Path]:
    """Files to read: named files as they are, folders searched through and through.

    Folders give the files with a known ending (see `PICTURE_SUFFIXES`), hidden
    ones left out, in the order a person counts: ``page2`` before ``page10``.
    Each file appears once.

    Raises
    ------
    InputError
        When a path does not exist, or a folder holds nothing that can be read.
    """
    found: dict[Path, None] = {}
    for path in map(Path, paths):
        if path.is_dir():
            found.update(dict.fromkeys(_list_folder(path)))
        elif path.exists():
            found[path] = None
        else:
            raise InputError(f"{path} does not exist: check the spelling of the path.")
    return list(found)


def check_size(width: int, height: int, where: str) -> None:
    """Refuse pictures that cannot hold a diagram or that would fill the memory.

    Raises
    ------
    InputError
        Naming the size and the limit.
    """
    if min(width, height) < MIN_SIDE:
        raise InputError(
            f"{where}: {width} × {height} pixels is too small to hold a diagram "
            f"(the shorter side needs {MIN_SIDE} at least). Use the full-size picture."
        )
    if max(width, height) > MAX_SIDE or width * height > MAX_PIXELS:
        raise InputError(
            f"{where}: {width} × {height} pixels is more than can be read at once (at most {MAX_SIDE} a side "
            f"and {MAX_PIXELS // 1_000_000} million in all). Cut the picture into pages or make it smaller."
        )


def page_name(source: str, number: int, count: int) -> str:
    """How messages call a page: the file alone where it has only one page."""
    return source if count == 1 else f"page {number} of {source}"


# ---------------------------------------------------------------- folders and first bytes


def _list_folder(folder: Path) -> list[Path]:
    files = [
        p
        for p in folder.rglob("*")
        if p.suffix.lower() in PICTURE_SUFFIXES
        and p.is_file()
        and not any(part.startswith(".") for part in p.relative_to(folder).parts)
    ]
    if not files:
        raise InputError(f"The folder {folder} holds no pictures and no PDF: name a folder with pages in it.")
    return sorted(files, key=_counting_order)


def _counting_order(path: Path) -> list[tuple[int, int, str]]:
    pieces = re.split(r"(\d+)", str(path).casefold())
    return [(0, int(p), "") if p.isascii() and p.isdigit() else (1, 0, p) for p in pieces]


def _read_head(path: Path, source: str) -> bytes:
    """The first 1,024 bytes, within which a PDF must say that it is one."""
    try:
        with path.open("rb") as file:
            head = file.read(1024)
    except FileNotFoundError:
        raise InputError(f"{source} does not exist: check the spelling of the path.") from None
    except IsADirectoryError:
        raise InputError(f"{source} is a folder: name a file in it, or read the whole folder.") from None
    except OSError as error:
        raise InputError(f"{source} cannot be opened ({error.strerror or error}): check its permissions.") from None
    if not head:
        raise InputError(f"{source} is empty (0 bytes): copy or download it again.")
    return head


# ---------------------------------------------------------------- pictures


class _Picture:
    """A picture file opened by Pillow; a TIFF may hold several pages."""

    def __init__(self, path: Path, source: str, head: bytes) -> None:
        self._source = source
        if head[4:8] == b"ftyp":
            _register_heic()
        with _clear_errors(source):
            self._image = _open_picture(path, source, head)
            self._frames = _page_frames(self._image)

    def __len__(self) -> int:
        return len(self._frames)

    def page(self, number: int) -> Page:
        where = page_name(self._source, number, len(self))
        with _clear_errors(where):
            self._image.seek(self._frames[number - 1])
            check_size(*self._image.size, where)
            dpi = _believable_dpi(self._image.info.get("dpi"))
            ImageOps.exif_transpose(self._image, in_place=True)
            return Page(_to_rgb(self._image), self._source, number, dpi)

    def close(self) -> None:
        self._image.close()


def _open_picture(path: Path, source: str, head: bytes) -> Image.Image:
    # Pillow's own limit is a global below what phones deliver; check_size stands in its place.
    Image.MAX_IMAGE_PIXELS = None
    try:
        return Image.open(path, formats=_PILLOW_FORMATS)
    except UnidentifiedImageError:
        kind = "text" if _looks_like_text(head) else "something else"
        raise InputError(
            f"{source} is not a picture or PDF (it holds {kind}) or is damaged from its first bytes: "
            "use JPEG, PNG, WebP, BMP, GIF, TIFF, HEIC or PDF."
        ) from None


def _page_frames(image: Image.Image) -> list[int]:
    """Indices of the frames that are pages: all full-size ones of a TIFF, else the first."""
    if image.format != "TIFF":
        return [0]
    frames = []
    for index in range(getattr(image, "n_frames", 1)):
        image.seek(index)
        if not int(getattr(image, "tag_v2", {}).get(254, 0)) & _REDUCED_IMAGE:
            frames.append(index)
    return frames or [0]


@contextmanager
def _clear_errors(where: str) -> Iterator[None]:
    """Whatever a decoder throws at damaged bytes, as one sentence."""
    try:
        with warnings.catch_warnings():
            # Odd metadata is the camera's business, not the reader's.
            warnings.simplefilter("ignore")
            yield
    except InputError:
        raise
    except MemoryError:
        raise InputError(f"{where} needs more memory than this machine has: make the picture smaller.") from None
    except (OSError, ValueError, SyntaxError, EOFError, RuntimeError, KeyError, IndexError, TypeError) as error:
        reason = str(error).rstrip(".") or type(error).__name__
        raise InputError(f"{where} is damaged or cut short ({reason}): copy or scan it again.") from None


def _register_heic() -> None:
    import pi_heif

    pi_heif.register_heif_opener()


def _looks_like_text(head: bytes) -> bool:
    return not any(b < 9 or 13 < b < 32 for b in head)


def _believable_dpi(value: Any) -> float | None:
    try:
        across, down = (float(v) for v in value)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    if not 20 <= across <= 5000 or abs(across - down) > 1 or round(across) in _SCREEN_DPI:
        return None
    return round(across, 1)


def _to_rgb(image: Image.Image) -> Pixels:
    """Pixels of any Pillow mode as read-only RGB; transparent paper becomes white."""
    if image.mode.startswith(("I", "F")):
        grey = _deep_to_grey(np.asarray(image))
        pixels = np.repeat(grey[:, :, None], 3, axis=2)
    else:
        if image.mode != "RGB" or image.has_transparency_data:
            image = _flatten(image)
        pixels = _copy_out(image)
    pixels.flags.writeable = False
    return pixels


def _copy_out(image: Image.Image) -> Pixels:
    """An RGB picture as an array, strip by strip: a third of the time and half of the memory of one whole copy."""
    pixels = np.empty((image.height, image.width, 3), np.uint8)
    for top in range(0, image.height, _STRIP):
        bottom = min(image.height, top + _STRIP)
        pixels[top:bottom] = np.asarray(image.crop((0, top, image.width, bottom)))
    return pixels


def _flatten(image: Image.Image) -> Image.Image:
    if not image.has_transparency_data:
        return image.convert("RGB")
    layered = image.convert("RGBA")
    paper = Image.new("RGB", layered.size, "white")
    paper.paste(layered, mask=layered.getchannel("A"))
    return paper


def _deep_to_grey(values: npt.NDArray[Any]) -> Pixels:
    """16-bit, 32-bit and floating-point greys as 8 bits, by the range their kind of file uses."""
    top = float(np.nanmax(values)) if values.size else 0.0
    if values.dtype.kind == "f":
        full = 1.0 if top <= 1.0 else 255.0 if top <= 255.0 else 65535.0
    else:
        full = 255.0 if values.dtype.itemsize > 2 and top <= 255 else 65535.0
    scaled = np.nan_to_num(values.astype(np.float32)) * (255.0 / full)
    grey: Pixels = np.clip(np.rint(scaled), 0, 255).astype(np.uint8)
    return grey
