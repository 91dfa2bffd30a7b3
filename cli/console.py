"""Words for a person, on standard error: results alone go to standard output."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from typing import TypeVar

T = TypeVar("T")


def say(text: str) -> None:
    """A line for the person at the terminal."""
    print(text, file=sys.stderr)


def show_progress(items: Iterable[T], doing: str, total: int | None = None) -> Iterator[T]:
    """Hand items on while a bar grows on standard error; silent where that is not a terminal.

    Parameters
    ----------
    items : iterable
    doing : str
        What is going on: 'Reading'.
    total : int, optional
        How many items there are.
    """
    if not sys.stderr.isatty():
        yield from items
        return
    from rich.console import Console
    from rich.progress import track

    yield from track(items, description=doing, total=total, console=Console(stderr=True), transient=True)
