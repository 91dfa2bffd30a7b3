"""Pictures for the page: crops as kept or cut anew, and whole pages small enough to send."""

from __future__ import annotations

import io
import threading
from collections import OrderedDict
from typing import TYPE_CHECKING

from reader.errors import InputError
from reader.export.drawing import Box
from reader.library.entry import Sighting
from reader.library.store import Library
from reader.reading import Corners
from reader.review.laying import Spot

if TYPE_CHECKING:
    from reader.image.pages import Pixels

LONGEST_SIDE = 2000
"""Pixels of a page that is sent to the browser."""
PAGE_QUALITY = 82
USUAL_GRID: Corners = ((0, 0), (3, 0), (3, 5), (0, 5))
"""Proportions of a grid that was never on a page."""
KEPT_PAGES = 2
"""Decoded pages in memory; a 12-megapixel one takes 36 MB."""


class Pictures:
    """The pictures of a library, with the pages last opened kept in memory.

    Parameters
    ----------
    library : Library
    """

    def __init__(self, library: Library) -> None:
        self._library = library
        self._pages: OrderedDict[int, Pixels] = OrderedDict()
        self._lock = threading.Lock()

    def crop(self, sighting_id: int) -> bytes | None:
        """The picture of a diagram, straightened along the corners that stand; None when there is none."""
        current = self._library.current_crop(sighting_id)
        if current is not None:
            return current
        sighting = self._library.sighting(sighting_id)
        kept = self._library.crop(sighting_id)
        if not self._cut_anew(sighting, kept):
            return kept
        assert sighting.page_id is not None
        try:
            return cut_out(self.page_pixels(sighting.page_id), sighting.standing.corners)
        except InputError:
            return None

    def spot(self, sighting: Sighting) -> Spot:
        """Where the grid lies in the picture that `crop` gives."""
        kept = self._library.crop(sighting.id)
        label_at = sighting.reading.label_at
        if kept is None or self._cut_anew(sighting, kept):
            return spot_of(sighting.standing.corners, label_at=label_at)
        return spot_of(sighting.reading.corners, _size_of(kept), label_at)

    def _cut_anew(self, sighting: Sighting, kept: bytes | None) -> bool:
        """Whether the page is wanted for the picture, and there: none was kept, or it shows other corners."""
        shows_it = kept is not None and sighting.standing.corners == sighting.reading.corners
        page = sighting.page_id
        return not shows_it and page is not None and self._library.picture_path(page) is not None

    def page(self, page_id: int) -> bytes:
        """A whole page as JPEG, its longer side at most `LONGEST_SIDE` pixels.

        Raises
        ------
        InputError
            When its file is gone or cannot be opened.
        """
        import cv2

        pixels = self.page_pixels(page_id)
        shrink = LONGEST_SIDE / max(pixels.shape[:2])
        if shrink < 1:
            pixels = cv2.resize(pixels, None, fx=shrink, fy=shrink, interpolation=cv2.INTER_AREA)
        done, data = cv2.imencode(".jpg", pixels[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, PAGE_QUALITY])
        if not done:
            raise InputError(f"Page {page_id} cannot be turned into a picture for the browser.")
        return bytes(data.tobytes())

    def page_pixels(self, page_id: int) -> Pixels:
        """The decoded page.

        Raises
        ------
        InputError
            When its file is gone or cannot be opened.
        """
        from reader.image.pages import PageFile

        with self._lock:
            if page_id not in self._pages:
                record, path = self._library.page(page_id), self._library.picture_path(page_id)
                if path is None:
                    raise InputError(
                        f"{record.source} is no longer where it was read: put it beside the library and try again."
                    )
                with PageFile(path) as file:
                    self._pages[page_id] = file.page(record.number).pixels
                while len(self._pages) > KEPT_PAGES:
                    self._pages.popitem(last=False)
            self._pages.move_to_end(page_id)
            return self._pages[page_id]


def cut_out(pixels: Pixels, corners: Corners) -> bytes:
    """One diagram with its surroundings, straightened, as JPEG."""
    import numpy as np

    from reader.image.cutouts import cut_diagram

    return cut_diagram(pixels, np.array(corners, float))


def spot_of(corners: Corners, size: tuple[int, int] | None = None, label_at: Corners = ()) -> Spot:
    """Where the grid lies in the picture of a diagram with these corners on the page.

    Shapes that came in without a page have no corners: they are drawn alone, as a grid of usual proportions.

    Parameters
    ----------
    corners : four (x, y)
    size : (width, height), optional
        Of the picture, where it was kept earlier: it tells how it was cut.
    label_at : four (x, y), optional
        Where the label stands on the page.
    """
    import numpy as np

    from reader.image.cutouts import LAYOUT, LAYOUTS, diagram_corners, in_diagram

    if len(corners) != 4 or len(set(corners)) < 4:
        corners, label_at = USUAL_GRID, ()
    layout = LAYOUTS.get(size, LAYOUT) if size is not None else LAYOUT
    (left, top), _, (right, bottom), _ = diagram_corners(np.array(corners, float), layout).tolist()
    label = None
    if label_at:
        places = in_diagram(np.array(label_at, float), np.array(corners, float), layout)
        label = Box(*places.min(0).tolist(), *places.max(0).tolist())
    return Spot(Box(left, top, right, bottom), layout.width, layout.height, label)


def _size_of(picture: bytes) -> tuple[int, int]:
    """Width and height of an encoded picture; (0, 0) where it is none."""
    from PIL import Image

    try:
        with Image.open(io.BytesIO(picture)) as opened:
            return opened.size
    except OSError:
        return 0, 0
