"""``inkfret check``: is a library whole?"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reader.errors import LibraryError


def check(
    library: Annotated[Path, typer.Argument(metavar="LIBRARY", help="The library to look through.")],
    refresh: Annotated[
        bool, typer.Option("--refresh", help="First work names and counts out anew, as after an update.")
    ] = False,
) -> None:
    """Look a library through: damage, decisions that do not add up, shapes filed wrongly."""
    from reader.library.store import Library

    with Library.open(library, read_only=not refresh) as opened:
        if refresh:
            opened.refresh()
        problems = opened.check()
        if problems:
            for problem in problems:
                print(f"{problem.code}: {problem.detail}")
            raise LibraryError(
                f"{library} has {len(problems)} problems, listed above: go back to a copy, or try --refresh."
            )
        summary = opened.summary()
    rows = {
        "pages": summary.pages,
        "shapes": summary.entries,
        "sightings": summary.sightings,
        "tabs": summary.tabs,
        "to review": summary.due,
    }
    print(f"{library} is sound.")
    print("\n".join(f"{name:<10}{value}" for name, value in rows.items()))
