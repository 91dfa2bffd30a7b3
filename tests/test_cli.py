"""The command line as a person meets it: exit codes, sentences, and nothing on the wrong stream."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from page_samples import LOOK, diagram, moved, page
from PIL import Image

import cli.evaluate
from cli.main import COMMANDS, main, sentence_and_code
from reader.errors import ExportError, InputError, LibraryError, ModelError, NotationError, ReaderError

HEAVY = ("numpy", "cv2", "PIL", "skimage", "scipy", "reportlab", "lxml", "starlette", "uvicorn", "jinja2", "sqlite3")


def run(*arguments: str) -> int:
    """The exit code of the command line."""
    with pytest.raises(SystemExit) as stop:
        main(arguments)
    assert isinstance(stop.value.code, int)
    return stop.value.code


@pytest.fixture
def judged_folder(tmp_path: Path) -> Path:
    """Two pages with their truth, and readings of which one of three is silently wrong."""
    truth = [page(diagram(), moved(200), kind="scan"), page(diagram(), source="b.png", kind="photo")]
    read = [page(diagram(), moved(200, flags=LOOK)), page(diagram(frets=[0, 0, 0, 2]), source="b.png")]
    for name, pages in (("truth.jsonl", truth), ("read.jsonl", read)):
        (tmp_path / name).write_text("".join(json.dumps(p) + "\n" for p in pages))
    for name in ("a.png", "b.png"):
        Image.new("RGB", (1000, 800), "white").save(tmp_path / name)
    return tmp_path


# ---------------------------------------------------------------- the frame


def test_help_lists_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--help") == 0
    shown = capsys.readouterr().out
    assert all(name in shown for name in COMMANDS)


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("--version") == 0
    assert capsys.readouterr().out.startswith("inkfret ")


@pytest.mark.parametrize(
    "arguments", [["nonsense"], ["--nonsense"], ["evaluate"], ["evaluate", ".", "--worst", "many"]]
)
def test_bad_usage_is_two(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert run(*arguments) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err


def test_listing_commands_imports_nothing_heavy() -> None:
    listing = "import sys, cli.main; [cli.main.load_command(n) for n in cli.main.COMMANDS]; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", listing], capture_output=True, text=True, check=True).stdout.split()
    assert not set(HEAVY) & set(loaded)


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (NotationError("x"), 2),
        (InputError("x"), 3),
        (LibraryError("x"), 4),
        (ExportError("x"), 5),
        (ModelError("x"), 6),
        (ReaderError("x"), 1),
        (PermissionError(13, "Permission denied", "/a/b"), 3),
        (RuntimeError("x"), 1),
    ],
)
def test_each_error_has_its_code(error: Exception, code: int) -> None:
    sentence, exit_code = sentence_and_code(error)
    assert exit_code == code
    assert "\n" not in sentence


def failing(error: BaseException) -> Any:
    def fail(*_: object) -> None:
        raise error

    return fail


def test_an_error_is_one_sentence_on_standard_error(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.setattr(cli.evaluate, "_load_truth", failing(LibraryError("home.inkfret: busy. Try again.")))
    assert run("evaluate", str(tmp_path)) == 4
    assert capsys.readouterr() == ("", "inkfret: home.inkfret: busy. Try again.\n")


def test_a_fault_shows_its_traceback_only_when_asked(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.setattr(cli.evaluate, "_load_truth", failing(ZeroDivisionError("by zero")))
    assert run("evaluate", str(tmp_path)) == 1
    assert "a fault in this program (ZeroDivisionError: by zero)" in capsys.readouterr().err
    monkeypatch.setenv("INKFRET_TRACEBACK", "1")
    with pytest.raises(ZeroDivisionError):
        main(["evaluate", str(tmp_path)])


def test_an_interrupt_has_its_own_code(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.setattr(cli.evaluate, "_load_truth", failing(KeyboardInterrupt()))
    assert run("evaluate", str(tmp_path)) == 130
    assert capsys.readouterr().err == "inkfret: stopped; what was finished is kept.\n"


def test_a_closed_pipe_says_nothing() -> None:
    # Nobody reads: the pipe's other end is closed before the command prints.
    writer = subprocess.Popen(
        [sys.executable, "-m", "cli.main", "evaluate", ".", "--definitions"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert writer.stdout is not None
    assert writer.stderr is not None
    writer.stdout.close()
    assert writer.stderr.read() == ""
    writer.stderr.close()
    writer.wait()


# ---------------------------------------------------------------- evaluate


def test_evaluate_scores_stored_readings(judged_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("evaluate", str(judged_folder), "--readings", str(judged_folder / "read.jsonl"), "--by", "kind") == 0
    captured = capsys.readouterr()
    table = {cells[0]: cells[1:] for line in captured.out.splitlines() if (cells := line.split())}
    assert table["all"] == ["photo", "scan"]
    assert table["exact_shape"] == ["66.7%", "0.0%", "100.0%"]
    assert table["silent_errors"] == ["1", "1", "0"]
    assert captured.err == ""


def test_evaluate_prints_json(judged_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    stored = str(judged_folder / "read.jsonl")
    assert run("evaluate", str(judged_folder), "--readings", stored, "--by", "kind", "--json") == 0
    scores = json.loads(capsys.readouterr().out)
    assert scores["all"]["silent_error_rate"] == 0.5
    assert scores["by"]["photo"]["silent_error_rate"] == 1.0


def test_evaluate_lists_the_worst(judged_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("evaluate", str(judged_folder), "--readings", str(judged_folder / "read.jsonl"), "--worst", "5") == 0
    assert capsys.readouterr().err == "b.png page 1: silent, drawn 0003, read 0002, confidence 0.900\n"


@pytest.mark.parametrize(("least", "code"), [(0.6, 0), (0.7, 1)])
def test_evaluate_fails_below_a_limit(
    judged_folder: Path, least: float, code: int, capsys: pytest.CaptureFixture[str]
) -> None:
    floors = judged_folder / "floors.toml"
    floors.write_text(f"[all]\nexact_shape = {{ least = {least} }}\n")
    stored = str(judged_folder / "read.jsonl")
    assert run("evaluate", str(judged_folder), "--readings", stored, "--floors", str(floors)) == code
    assert ("exact_shape is 0.6667, at least 0.7 wanted" in capsys.readouterr().err) is bool(code)


def test_evaluate_names_a_missing_truth(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("evaluate", str(tmp_path)) == 3
    assert f"{tmp_path / 'truth.jsonl'}: No such file or directory" in capsys.readouterr().err


def test_readings_of_unknown_pages_are_counted(judged_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (judged_folder / "other.jsonl").write_text(json.dumps(page(source="c.png")))
    assert run("evaluate", str(judged_folder), "--readings", str(judged_folder / "other.jsonl"), "--json") == 0
    captured = capsys.readouterr()
    assert "1 pages are not in the truth" in captured.err
    assert json.loads(captured.out)["all"]["pages_missing"] == 2


def test_pages_that_failed_are_named(judged_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (judged_folder / "failed.jsonl").write_text(json.dumps(page(source="b.png", error="too dark.")))
    assert run("evaluate", str(judged_folder), "--readings", str(judged_folder / "failed.jsonl")) == 0
    assert capsys.readouterr().err == "b.png page 1 failed: too dark.\n"


def test_evaluate_draws_the_worst(judged_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = judged_folder / "pictures"
    stored = str(judged_folder / "read.jsonl")
    assert run("evaluate", str(judged_folder), "--readings", stored, "--out", str(out)) == 0
    assert capsys.readouterr().err.endswith(f"1 pictures are in {out}.\n")
    assert [p.name for p in out.iterdir()] == ["001-silent-b-1.png"]
    with Image.open(out / "001-silent-b-1.png") as picture:
        assert picture.getbbox() is not None
