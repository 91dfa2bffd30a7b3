"""``inkfret review``: settle doubtful readings in the browser, on this machine only."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from cli.console import say


def review(
    library: Annotated[Path, typer.Argument(metavar="LIBRARY", help="The library whose readings are looked at.")],
    port: Annotated[
        int, typer.Option(metavar="N", min=0, max=65535, help="Port on this machine; 0 takes any that is free.")
    ] = 0,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Only print the address.")] = False,
) -> None:
    """Settle what the reader was unsure of: one page in the browser, served on this machine only.

    Every decision is kept at once and can be undone. Stop with Ctrl+C.
    """
    from reader.library.store import Library
    from reader.pipeline import read_region
    from reader.review.desk import Desk
    from reader.review.server import address, new_token, open_socket, serve

    with Library.open(library) as opened:
        desk = Desk(opened, read_region, who=_who())
        desk.order_queue()
        with open_socket(port) as listener:
            token = new_token()
            where = address(int(listener.getsockname()[1]), token)
            print(where, flush=True)
            say("inkfret: the desk is open at this address, on this machine only. Stop it with Ctrl+C.")
            if not no_browser:
                _open_browser(where)
            serve(desk, listener, token)


def _who() -> str:
    """Whoever is logged in."""
    import getpass

    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):  # what it raises where nobody is named differs by system and version
        return "desk"


def _open_browser(where: str) -> None:
    import webbrowser

    if not webbrowser.open(where):
        say("inkfret: no browser could be opened; open the address yourself.")
