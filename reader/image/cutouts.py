"""The picture of one diagram or one tab system that is kept with its reading, straightened.

Diagrams are cut the way up that they are read, with room for their label; `diagram_corners` says where the
grid lies in that picture, so that a redrawing can be laid over it without the page.
"""

from __future__ import annotations

import cv2
import numpy as np

from reader.image.crops import Matrix, Pixels, Points, cut, side_lengths

SIZE = 400
"""Side of a diagram's picture, pixels."""
GRID = 192.0
"""Longer side of the grid in it: more than half of that is left on each side for open marks and a label."""
TAB_GAP = 16.0
"""Distance between lines in the picture of a tab system, pixels."""
TAB_MARGIN = 2.5
"""Room above and below a tab system, in gaps between its lines."""
WIDEST_TAB = 2400
"""Pixels; a longer system is kept smaller."""
JPEG_QUALITY = 85


def diagram_corners(corners: Points) -> Points:
    """Where the four corners of a grid lie in its own picture.

    Parameters
    ----------
    corners : float array [4, 2]
        On the page, in page pixels.

    Returns
    -------
    float array [4, 2]
        In pixels of the picture that `cut_diagram` makes.
    """
    across, along = side_lengths(corners)
    half = GRID / max(across, along) / 2 * np.array([across, along])
    return np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half + SIZE / 2


def cut_diagram(pixels: Pixels, corners: Points) -> bytes:
    """One diagram with its surroundings, upright and straight, as JPEG.

    Parameters
    ----------
    pixels : uint8 array [row, column, 3]
    corners : float array [4, 2]
        Nut end left, nut end right, far end right, far end left.
    """
    return _to_jpeg(cut(pixels, _between(corners, diagram_corners(corners)), SIZE))


def cut_tab(pixels: Pixels, corners: Points, line_count: int) -> bytes:
    """One tab system with its surroundings, straight, as JPEG.

    Parameters
    ----------
    pixels : uint8 array [row, column, 3]
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
    flat = cv2.warpPerspective(
        pixels, _between(corners, target), size, flags=cv2.INTER_AREA, borderMode=cv2.BORDER_REPLICATE
    )
    return _to_jpeg(np.asarray(flat, np.uint8))


def _between(source: Points, target: Points) -> Matrix:
    return np.asarray(cv2.getPerspectiveTransform(source.astype(np.float32), target.astype(np.float32)), float)


def _to_jpeg(pixels: Pixels) -> bytes:
    done, data = cv2.imencode(".jpg", pixels[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    if not done:
        raise ValueError(f"a picture of {pixels.shape[1]} × {pixels.shape[0]} pixels could not be encoded")
    return bytes(data.tobytes())
