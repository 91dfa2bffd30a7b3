"""What a drawing shows, in the form of a reading: the truth that its rendered picture must read back to."""

from __future__ import annotations

import math

from reader.export.drawing import Drawing
from reader.export.png import MM_PER_INCH
from reader.reading import PageReading, Reading


def page_truth(drawing: Drawing, dpi: float, source: str = "", page: int = 1, tuning: str = "") -> PageReading:
    """The diagrams of a drawing as they stand on its picture at ``dpi``.

    Parameters
    ----------
    drawing : Drawing
    dpi : float
        Resolution of the picture, as given to `render_pages`.
    source, page, tuning
        Written into the reading.

    Returns
    -------
    PageReading
        Corners in pixels; frames as they look, mirrored where the drawing is.
    """
    scale = dpi / MM_PER_INCH
    diagrams = tuple(
        Reading(
            corners=tuple((x * scale, y * scale) for x, y in grid.corners),
            frame=grid.frame,
            label=grid.label or None,
            name=None,
            other_names=(),
            tuning=tuning,
            confidence=1.0,
        )
        for grid in drawing.grids
    )
    width, height = math.ceil(drawing.width * scale), math.ceil(drawing.height * scale)
    return PageReading(source, page, width, height, diagrams)
