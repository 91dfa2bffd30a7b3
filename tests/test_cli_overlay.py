"""``inkfret overlay``: a folder of pictures, or one sentence why not."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image
from reading_samples import song_page

from cli.main import main
from reader.overlay import STAGES


def run(*arguments: str) -> int:
    """The exit code of the command line."""
    with pytest.raises(SystemExit) as stop:
        main(arguments)
    assert isinstance(stop.value.code, int)
    return stop.value.code


@pytest.fixture
def song(tmp_path: Path) -> Path:
    path = tmp_path / "song.png"
    Image.fromarray(song_page()[1]).save(path)
    return path


def test_a_picture_of_every_stage_is_written(song: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = song.parent / "looks" / "today"
    assert run("overlay", str(song), "--out", str(out), "--tuning", "gCEA") == 0
    assert sorted(p.name for p in out.iterdir()) == sorted(f"song-p1-{stage}.png" for stage in STAGES)
    said = capsys.readouterr()
    assert said.out == ""
    assert "song.png, page 1: 4 diagrams" in said.err
    with Image.open(song) as page, Image.open(out / "song-p1-5-marks.png") as marks:
        assert marks.size == page.size


def test_a_folder_that_cannot_be_made(song: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("overlay", str(song), "--out", str(song / "inside")) == 5
    assert "Choose another folder with --out" in capsys.readouterr().err


def test_a_file_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("overlay", str(tmp_path / "none.png"), "--out", str(tmp_path / "looks")) == 3
    assert "none.png" in capsys.readouterr().err
