"""The picture of one diagram or one tab system that is kept with its reading, straightened.

Diagrams are cut the way up that they are read, with room for their label, their open marks and the numbers beside
and below them; `diagram_corners` and `tab_places` say where grid and lines lie in that picture, so that a redrawing
can be laid over it without the page.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from reader.image.crops import Matrix, Points, cut, side_lengths
from reader.image.levels import Pixels


@dataclass(frozen=True, slots=True)
class Layout:
    """How a diagram lies in its picture; all in pixels of the picture.

    Parameters
    ----------
    width, height : int
    grid : float
        Longer side of the grid.
    above : float or None
        From the upper edge to the nut end of the grid; None puts the grid in the middle.
    """

    width: int
    height: int
    grid: float
    above: float | None


LAYOUT = Layout(400, 496, 192.0, 186.0)
"""Of pictures cut now. A label over a row of open marks ends within 3.5 gaps above the grid, lettering below it within
2.5: on a grid of 4 strings and 4 rows, 0.8 and 0.6 of its longer side."""
LAYOUTS: dict[tuple[int, int], Layout] = {
    (layout.width, layout.height): layout
    for layout in (LAYOUT, Layout(400, 400, 192.0, None), Layout(360, 360, 200.0, None))
}
"""Every layout that a library may hold: a kept picture tells by its width and height how it was cut."""
TAB_GAP = 16.0
"""Distance between lines in the picture of a tab system, pixels."""
TAB_MARGIN = 2.5
"""Room above and below a tab system, in gaps between its lines."""
WIDEST_TAB = 2400
"""Pixels; a longer system is kept smaller."""
JPEG_QUALITY = 85


def diagram_corners(corners: Points, layout: Layout = LAYOUT) -> Points:
    """Where the four corners of a grid lie in its own picture.

    Parameters
    ----------
    corners : float array [4, 2]
        On the page, in page pixels.
    layout : Layout
        Of the picture; what `cut_diagram` makes by default.

    Returns
    -------
    float array [4, 2]
        In pixels of the picture.
    """
    across, along = side_lengths(corners)
    half = layout.grid / max(across, along) / 2 * np.array([across, along])
    middle = layout.height / 2 if layout.above is None else layout.above + half[1]
    return np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half + (layout.width / 2, middle)


def in_diagram(points: Points, corners: Points, layout: Layout = LAYOUT) -> Points:
    """Page points (n, 2) as places in the picture of the diagram with these corners."""
    return _moved(points, _between(corners, diagram_corners(corners, layout)))


def cut_diagram(pixels: Pixels, corners: Points) -> bytes:
    """One diagram with its surroundings, upright and straight, as JPEG.

    Parameters
    ----------
    pixels : uint8 array [row, column, 3]
    corners : float array [4, 2]
        Nut end left, nut end right, far end right, far end left.
    """
    return _to_jpeg(cut(pixels, _between(corners, diagram_corners(corners)), (LAYOUT.width, LAYOUT.height)))


@dataclass(frozen=True, slots=True)
class TabPlaces:
    """How a tab system lies in its picture.

    Parameters
    ----------
    width, height : int
        Of the picture, pixels.
    to_picture : float array [3, 3]
        Homography from the page.
    gap : float
        Between neighbouring lines, pixels of the picture.
    """

    width: int
    height: int
    to_picture: Matrix
    gap: float

    def in_picture(self, points: Points) -> Points:
        """Page points (n, 2) as places in the picture."""
        return _moved(points, self.to_picture)

    def on_page(self, points: Points) -> Points:
        """Places in the picture (n, 2) as page points."""
        return _moved(points, np.asarray(np.linalg.inv(self.to_picture), float))


def tab_places(corners: Points, line_count: int) -> TabPlaces:
    """How the picture that `cut_tab` makes shows a system.

    Parameters
    ----------
    corners : float array [4, 2]
        Top left, top right, bottom right, bottom left.
    line_count : int
    """
    across, along = side_lengths(corners)
    lines = max(1, line_count - 1)
    scale = min(TAB_GAP * lines / along, WIDEST_TAB / (across + along))
    margin = TAB_MARGIN * along * scale / lines
    width, height = across * scale, along * scale
    target = np.array([[0, 0], [width, 0], [width, height], [0, height]]) + margin
    size = (max(1, round(width + 2 * margin)), max(1, round(height + 2 * margin)))
    return TabPlaces(*size, _between(corners, target), height / lines)


def cut_tab(pixels: Pixels, corners: Points, line_count: int) -> bytes:
    """One tab system with its surroundings, straight, as JPEG.

    Parameters
    ----------
    pixels : uint8 array [row, column, 3]
    corners : float array [4, 2]
        Top left, top right, bottom right, bottom left.
    line_count : int
    """
    places = tab_places(corners, line_count)
    size = (places.width, places.height)
    flat = cv2.warpPerspective(pixels, places.to_picture, size, flags=cv2.INTER_AREA, borderMode=cv2.BORDER_REPLICATE)
    return _to_jpeg(np.asarray(flat, np.uint8))


def _between(source: Points, target: Points) -> Matrix:
    return np.asarray(cv2.getPerspectiveTransform(source.astype(np.float32), target.astype(np.float32)), float)


def _moved(points: Points, matrix: Matrix) -> Points:
    return np.asarray(cv2.perspectiveTransform(points.reshape(1, -1, 2).astype(float), matrix)[0], float)


def _to_jpeg(pixels: Pixels) -> bytes:
    done, data = cv2.imencode(".jpg", pixels[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    if not done:
        raise ValueError(f"a picture of {pixels.shape[1]} × {pixels.shape[0]} pixels could not be encoded")
    return bytes(data.tobytes())
