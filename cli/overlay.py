"""``inkfret overlay``: a picture of every stage of reading a page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reader.errors import ExportError


def overlay(
    pages: Annotated[list[Path], typer.Argument(help="Pictures or PDFs.")],
    out: Annotated[Path, typer.Option(help="Folder for the pictures; made if it is not there.")],
    tuning: Annotated[str | None, typer.Option(help="Tuning: an id, or open strings such as gCEA.")] = None,
) -> None:
    """Draw how each page was read, stage by stage.

    Writes one picture a stage: page, ink, regions, grid, marks, lettering, redrawn.
    """
    import cv2

    from cli.console import say
    from reader.image.pages import list_inputs, open_pages
    from reader.overlay import STAGES
    from reader.pipeline import ReadSettings, read_page

    settings = ReadSettings(tuning=tuning)
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ExportError(f"{out}: cannot be made ({error.strerror}). Choose another folder with --out.") from error
    for path in list_inputs(pages):
        for page in open_pages(path):
            reading = read_page(page, settings)
            for stage, draw in STAGES.items():
                target = out / f"{path.stem}-p{page.number}-{stage}.png"
                if not cv2.imwrite(str(target), cv2.cvtColor(draw(page, reading), cv2.COLOR_RGB2BGR)):
                    raise ExportError(f"{target}: cannot be written. Choose another folder with --out.")
            say(f"{path.name}, page {page.number}: {len(reading.diagrams)} diagrams, pictures in {out}")
