"""The command line: a table of commands, and one place where errors become exit codes."""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Sequence
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from reader.errors import INTERRUPTED, ReaderError

# One row per command: its name, then module and function (or sub-application). A module is imported only
# when its command is run or listed, and keeps heavy imports inside its functions: `inkfret --help` stays quick.
COMMANDS: dict[str, str] = {
    "demo": "cli.demo:demo",
    "read": "cli.read:read",
    "review": "cli.review:review",
    "find": "cli.find:find",
    "export": "cli.export:export",
    "merge": "cli.merge:merge",
    "check": "cli.check:check",
    "name": "cli.name:name",
    "sheet": "cli.sheet:sheet_app",
    "overlay": "cli.overlay:overlay",
    "evaluate": "cli.evaluate:evaluate",
}

A_FAULT = 1
UNUSABLE_FILE = 3


def load_command(name: str) -> Any:
    """The command of a row of `COMMANDS`, ready for the parser.

    Raises
    ------
    KeyError
        When the table has no such row.
    """
    module_name, _, attribute = COMMANDS[name].partition(":")
    target = getattr(importlib.import_module(module_name), attribute)
    if isinstance(target, typer.Typer):
        command = typer.main.get_command(target)
    else:
        single = typer.Typer(add_completion=False)
        single.command(name)(target)
        command = typer.main.get_command(single)
    command.name = name
    return command


class CommandTable(TyperGroup):
    """A group whose commands come from `COMMANDS`, each imported when it is asked for."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Every name, in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """One command, or None where the table has none of that name."""
        return load_command(cmd_name) if cmd_name in COMMANDS else None

    def invoke(self, ctx: Any) -> Any:
        """Run the command; an interrupt ends with its own code instead of an 'aborted' message."""
        try:
            result = super().invoke(ctx)
            # A closed pipe shows when buffered text goes out: better here, where it is handled, than at exit.
            sys.stdout.flush()
        except KeyboardInterrupt:
            print("inkfret: stopped; what was finished is kept.", file=sys.stderr)
            raise SystemExit(INTERRUPTED) from None
        return result


app = typer.Typer(
    cls=CommandTable,
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _show_version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        print(f"inkfret {version('inkfret')}")
        raise typer.Exit


@app.callback()
def inkfret(
    version: Annotated[
        bool, typer.Option("--version", help="Print the version and stop.", callback=_show_version, is_eager=True)
    ] = False,
) -> None:
    """Read drawn chord diagrams and tabs into shapes that can be trusted."""


def sentence_and_code(error: Exception) -> tuple[str, int]:
    """What a person is told about an error, and the exit code.

    Parameters
    ----------
    error : Exception

    Returns
    -------
    sentence : str
    code : int
        As listed in `reader.errors`.
    """
    if isinstance(error, ReaderError):
        return str(error), error.exit_code
    if isinstance(error, OSError) and error.filename is not None:
        return f"{error.filename}: {error.strerror}. Check the path, its permissions and the free space.", UNUSABLE_FILE
    return (
        f"a fault in this program ({type(error).__name__}: {error}). Set INKFRET_TRACEBACK=1, run the same command "
        "again and report what it prints.",
        A_FAULT,
    )


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and leave the process with an exit code.

    Parameters
    ----------
    arguments : sequence of str, optional
        Those of the process by default.
    """
    try:
        app(args=None if arguments is None else list(arguments), prog_name="inkfret")
    except Exception as error:
        if os.environ.get("INKFRET_TRACEBACK"):
            raise
        sentence, code = sentence_and_code(error)
        print(f"inkfret: {sentence}", file=sys.stderr)
        raise SystemExit(code) from None


if __name__ == "__main__":
    main()
