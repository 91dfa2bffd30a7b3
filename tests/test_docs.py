"""The documents tell the truth: every command is explained and shown, every path and link exists."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from cli.main import COMMANDS, load_command
from reader import errors

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
NO_COMMANDS = {"__init__", "main", "console", "writing"}
SKIPPED_FOLDERS = {"node_modules"}


def each_command() -> list[tuple[str, Any]]:
    """Every command with its full name; commands of a group in its place."""
    found: list[tuple[str, Any]] = []
    for name in COMMANDS:
        command = load_command(name)
        inner = getattr(command, "commands", None)
        found += [(f"{name} {n}", c) for n, c in inner.items()] if inner else [(name, command)]
    return found


def documents() -> list[Path]:
    return [
        p
        for p in ROOT.rglob("*.md")
        if not any(part in SKIPPED_FOLDERS or part[0] == "." for part in p.relative_to(ROOT).parts)
    ]


@pytest.mark.parametrize(("name", "command"), each_command(), ids=lambda v: v if isinstance(v, str) else "")
def test_every_command_has_help_for_itself_and_each_option(name: str, command: Any) -> None:
    assert command.help, name
    unexplained = [p.name for p in command.params if not p.help]
    assert unexplained == [], name


@pytest.mark.parametrize("name", [name for name, _ in each_command()])
def test_every_command_stands_in_readme(name: str) -> None:
    assert f"inkfret {name}" in README


def test_readme_shows_no_command_that_is_missing() -> None:
    shown = {
        m[1]
        for m in re.finditer(r"(?<![\w.])inkfret ([a-z]+)", "\n".join(re.findall(r"`[^`]+`|```.*?```", README, re.S)))
    }
    assert shown <= COMMANDS.keys()


def test_every_file_of_commands_is_registered() -> None:
    files = {p.stem for p in (ROOT / "cli").glob("*.py")} - NO_COMMANDS
    assert files == {target.split(":")[0].removeprefix("cli.") for target in COMMANDS.values()}


def test_readme_lists_every_exit_code_once() -> None:
    table = re.findall(r"^\| (\d+) \|", README, re.M)
    classes = [c for c in vars(errors).values() if isinstance(c, type) and issubclass(c, errors.ReaderError)]
    known = {0, errors.BATCH_HAD_FAILURES, errors.INTERRUPTED, *(c.exit_code for c in classes)}
    assert [int(code) for code in table] == sorted(known)


def test_ci_runs_a_command_that_readme_shows() -> None:
    lines = [line for line in README.splitlines() if line.endswith("# every check")]
    assert len(lines) == 1
    assert lines[0].split("#")[0].strip().endswith("bash .ci/check")
    assert "# every check" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")


def test_every_place_to_change_something_exists() -> None:
    table = DEVELOPERS.split("## Where do I change")[1].split("\n## ")[0]
    places = [
        p for row in re.findall(r"^\|[^|]*\|([^|]*)\|$", table, re.M) for p in re.findall(r"`([^`]*[./][^`]*)`", row)
    ]
    assert len(places) > 5
    assert [p for p in places if not (ROOT / p).exists()] == []


@pytest.mark.parametrize("path", documents(), ids=lambda p: p.relative_to(ROOT).as_posix())
def test_relative_links_lead_somewhere(path: Path) -> None:
    links = re.findall(r"\]\(([^)#\s]+)[^)]*\)", path.read_text(encoding="utf-8"))
    assert [link for link in links if "://" not in link and not (path.parent / link).exists()] == []
