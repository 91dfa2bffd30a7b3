"""``inkfret name``: what a shape is called, and why."""

from __future__ import annotations

import json
from typing import Annotated

import typer


def name(
    shape: Annotated[
        str,
        typer.Argument(metavar="SHAPE", help="One fret per string from left to right: 0003, x32010, x-10-12-12-11-x."),
    ],
    tuning: Annotated[
        str | None,
        typer.Option(
            metavar="ID", help="Tuning: an id such as ukulele or guitar-drop-d, or notes such as 'D A D G A D'."
        ),
    ] = None,
    label: Annotated[
        str | None, typer.Option(metavar="TEXT", help="Chord label to hold against the shape: Am7, F#m, G/B.")
    ] = None,
    key: Annotated[str | None, typer.Option(metavar="KEY", help="Key to name and spell by: Bb, F#m.")] = None,
    style: Annotated[
        str, typer.Option(metavar="STYLE", help="How labels are written: plain, signs, dashes, german or solfege.")
    ] = "plain",
    as_json: Annotated[bool, typer.Option("--json", help="Print everything as JSON.")] = False,
) -> None:
    """Name a shape, with its notes, degrees, fingers and keys, and the reasons."""
    from reader.errors import NotationError
    from reader.music.explain import explain_shape, to_object, to_text
    from reader.music.label_style import STYLES
    from reader.music.shape import Shape
    from reader.music.tuning import default_tuning, get_tuning

    if style not in STYLES:
        raise NotationError(f"'{style}' is no way to write labels: choose one of {', '.join(STYLES)}.")
    parsed = Shape.parse(shape)
    chosen = get_tuning(tuning) if tuning is not None else default_tuning(parsed.string_count)
    told = explain_shape(parsed, chosen, label, key, STYLES[style])
    print(json.dumps(to_object(told), ensure_ascii=False, indent=1) if as_json else to_text(told))
