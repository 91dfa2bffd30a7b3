"""Bad input of every kind, from the command line: one sentence, the right exit code, never a traceback."""

from __future__ import annotations

import os
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from library_samples import read_by_colour
from PIL import Image

import cli.read
from cli.main import main
from reader.library.store import Library

BROKEN = Path(__file__).parents[1] / "fixtures" / "broken"
BAD_PAGES = sorted(p.name for p in BROKEN.iterdir() if p.suffix in (".jpg", ".png", ".pdf"))


def read(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> tuple[int, list[str], str]:
    """Exit code, lines on standard error, and standard output of ``inkfret read``."""
    with pytest.raises(SystemExit) as stop:
        main(["read", *(str(a) for a in arguments)])
    told = capsys.readouterr()
    assert "Traceback" not in told.err
    assert isinstance(stop.value.code, int)
    return stop.value.code, told.err.splitlines(), told.out


@pytest.fixture
def good_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A page, and a stand-in that reads it."""
    monkeypatch.setattr(cli.read, "make_page_reader", lambda *settings: read_by_colour)
    path = tmp_path / "good.png"
    Image.new("RGB", (120, 130), (1, 1, 1)).save(path)
    return path


@pytest.mark.parametrize("name", BAD_PAGES)
@pytest.mark.usefixtures("good_page")
def test_each_bad_page_is_one_sentence_and_code_3(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, lines, _ = read(capsys, BROKEN / name)
    assert code == 3
    (sentence,) = lines
    assert sentence.startswith(f"inkfret: {BROKEN / name}")


def test_a_folder_with_one_bad_page_among_good_ones(
    good_page: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "pages"
    folder.mkdir()
    shutil.copy(good_page, folder / "1.png")
    shutil.copy(BROKEN / "truncated.jpg", folder / "2.jpg")
    Image.new("RGB", (120, 130), (2, 2, 2)).save(folder / "3.png")
    library = tmp_path / "lib.inkfret"
    code, lines, out = read(capsys, folder, "--library", library)
    assert code == 7
    assert len(lines) == 1
    assert "2.jpg is damaged or cut short" in lines[0]
    assert "diagrams  2" in out
    with Library.open(library) as opened:
        assert len(opened.pages()) == 2


def test_all_bad_pages_together_leave_an_empty_but_sound_library(
    good_page: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, lines, _ = read(capsys, BROKEN, "--library", tmp_path / "lib.inkfret")
    assert code == 7
    assert len(lines) == len(BAD_PAGES)
    with Library.open(tmp_path / "lib.inkfret") as opened:
        assert opened.pages() == []
        assert opened.check() == []


def test_a_missing_path_and_a_folder_without_pages(
    good_page: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, lines, _ = read(capsys, good_page, tmp_path / "nowhere.png", "--library", tmp_path / "lib.inkfret")
    assert (code, len(lines)) == (3, 1)
    assert "nowhere.png does not exist" in lines[0]
    (tmp_path / "empty").mkdir()
    code, lines, _ = read(capsys, tmp_path / "empty")
    assert (code, len(lines)) == (3, 1)
    assert "holds no pictures and no PDF" in lines[0]
    assert not (tmp_path / "lib.inkfret").exists()


def test_a_library_that_cannot_be_written(good_page: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for place, sentence in (
        (tmp_path, "is a folder, not a library"),
        (tmp_path / "no" / "lib.inkfret", "make the folder"),
    ):
        code, lines, _ = read(capsys, good_page, "--library", place)
        assert (code, len(lines)) == (4, 1)
        assert sentence in lines[0]


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_a_library_without_permission(good_page: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    library = tmp_path / "lib.inkfret"
    Library.open(library, create=True).close()
    library.chmod(0o444)
    code, lines, _ = read(capsys, good_page, "--library", library)
    assert (code, len(lines)) == (4, 1)
    assert "cannot be written" in lines[0]


def test_a_library_from_a_newer_version(good_page: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    library = tmp_path / "lib.inkfret"
    Library.open(library, create=True).close()
    with closing(sqlite3.connect(library)) as newer:
        newer.execute("PRAGMA user_version = 99")
    code, lines, _ = read(capsys, good_page, "--library", library)
    assert (code, len(lines)) == (4, 1)
    assert "newer version" in lines[0]


def test_readings_that_cannot_be_written(good_page: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, lines, _ = read(capsys, good_page, "--readings", tmp_path / "no" / "out.jsonl")
    assert (code, len(lines)) == (5, 1)
    assert "cannot be written" in lines[0]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
def test_readings_on_a_full_disk(good_page: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, lines, _ = read(capsys, good_page, "--readings", "/dev/full")
    assert (code, len(lines)) == (5, 1)
    assert "No space left" in lines[0]


def test_no_paths_and_senseless_options_are_bad_usage(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in ([], ["page.png", "--jobs", "0"], ["page.png", "--nonsense"]):
        code, lines, _ = read(capsys, *arguments)
        assert code == 2
        assert lines


def test_an_unknown_tuning_is_said_before_anything_is_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Image.new("RGB", (120, 130), "white").save(tmp_path / "page.png")
    code, lines, _ = read(capsys, tmp_path / "page.png", "--tuning", "kazoo", "--library", tmp_path / "lib.inkfret")
    assert (code, len(lines)) == (2, 1)
    assert "kazoo" in lines[0]
    assert not (tmp_path / "lib.inkfret").exists()
