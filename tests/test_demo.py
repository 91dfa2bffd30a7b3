"""The demo: its pages are what they claim to be, and the whole job comes out of them."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from lxml import etree
from PIL import Image

import cli.read
from cli.demo import PLACES
from cli.main import COMMANDS, main
from reader.errors import InputError
from reader.evaluate.truth import TruePage, parse_truth
from reader.image.pages import Page, PageFile
from reader.library.store import Library
from reader.proving.demo_pages import FILES
from reader.proving.studio import turned
from reader.proving.warp import flat
from reader.reading import Flag, PageReading, read_lines

ROOT = Path(__file__).resolve().parents[1]
PAGES = ROOT / "fixtures" / "pages"
TRUTH = parse_truth((PAGES / "truth.jsonl").read_text(encoding="utf-8").splitlines(), "truth.jsonl")
FLAGGED = "upside-down.jpg"
LOOK = Flag("way-up", "Which end is the nut is not sure.")


def run(*arguments: str | Path) -> int:
    """The exit code of the command line."""
    with pytest.raises(SystemExit) as stop:
        main([str(a) for a in arguments])
    assert isinstance(stop.value.code, int)
    return stop.value.code


def read_truly(page: Page) -> PageReading:
    """A stand-in for the reader: it knows the truth, and doubts one page."""
    name = Path(page.source).name
    drawn = next(t.page for t in TRUTH if t.key == (name, page.number)).with_source(page.source)
    flags = (LOOK,) if name == FLAGGED else ()
    return replace(drawn, diagrams=tuple(replace(d, tuning="ukulele", flags=flags) for d in drawn.diagrams))


@pytest.fixture
def stand_in(monkeypatch: pytest.MonkeyPatch) -> Callable[[Callable[[Page], PageReading]], None]:
    """Let the demo read with another function."""

    def put(read_page: Callable[[Page], PageReading]) -> None:
        monkeypatch.setattr(cli.read, "make_page_reader", lambda *settings: read_page)

    return put


# ---------------------------------------------------------------- the pages


def test_every_kind_of_file_and_page_is_there() -> None:
    assert {p.suffix for p in PAGES.iterdir()} >= {".jpg", ".png", ".pdf", ".tif", ".heic"}
    assert {t.fields["kind"] for t in TRUTH} >= {
        "printed", "printed-scan", "hand-scan", "hand-photo", "whiteboard", "songbook", "tablet", "negative",
        "tab-printed", "tab-photo",
    }  # fmt: skip
    assert len(TRUTH) >= 12
    assert max(t.page.page for t in TRUTH if t.page.source.endswith(".tif")) > 1
    with Image.open(PAGES / "lesson-notes-photo.jpg") as photo:
        assert photo.getexif()[0x0112] != 1
    assert sum(p.stat().st_size for p in PAGES.iterdir()) < 6e6


def test_the_maker_of_the_pages_knows_the_same_files() -> None:
    assert {f.name for f in FILES} == {p.name for p in PAGES.iterdir()} - {"truth.jsonl"}


@pytest.mark.parametrize("name", sorted({t.page.source for t in TRUTH}))
def test_truth_is_about_the_page_as_it_is_loaded(name: str) -> None:
    drawn = {t.page.page: t.page for t in TRUTH if t.page.source == name}
    with PageFile(PAGES / name) as file:
        assert len(file) == len(drawn)
        for number, truth in drawn.items():
            page = file.page(number)
            assert (page.width, page.height) == (truth.width, truth.height)
            points = np.array([c for d in (*truth.diagrams, *truth.tabs) for c in d.corners]).reshape(-1, 2)
            assert (points > 0).all()
            assert (points < [page.width, page.height]).all()


@pytest.mark.parametrize("name", ["first-chords-handout.jpg", "tablet-drawing.png", "guitar-class-sideways.jpg"])
def test_corners_lie_on_ink(name: str) -> None:
    truth = next(t for t in TRUTH if t.page.source == name)
    with PageFile(PAGES / name) as file:
        grey = file.page(1).pixels.min(axis=2)
    for drawn in truth.diagrams:
        for x, y in drawn.drawn.corners:
            near = grey[round(y) - 3 : round(y) + 4, round(x) - 3 : round(x) + 4]
            assert near.min() < 150


@pytest.mark.parametrize("quarter", [1, 2, 3, 4])
def test_points_turn_with_the_picture(quarter: int) -> None:
    sheet = np.zeros((40, 30, 3), np.uint8)
    sheet[7, 21] = 255
    pixels, warp = turned(sheet, flat((30, 40)), quarter)
    (x, y), = warp.forth(np.array([[21.0, 7.0]]))  # fmt: skip
    assert pixels.shape[:2] == warp.size[::-1]
    assert pixels[round(y), round(x)].min() == 255


def test_the_pages_travel_with_the_installed_commands() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    carried = project["tool"]["hatch"]["build"]["targets"]["wheel"]["force-include"]
    assert {ROOT / source: ROOT / target for source, target in carried.items()} == {PLACES[0]: PLACES[1]}


# ---------------------------------------------------------------- the command


def test_the_demo_does_the_whole_job(
    stand_in: Callable[[Callable[[Page], PageReading]], None], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    stand_in(read_truly)
    out = tmp_path / "new" / "demo"
    assert run("demo", "--out", out) == 0
    told = capsys.readouterr()
    assert told.err == ""
    _check_table(told.out)
    assert f"inkfret review {out / 'studio.inkfret'}" in told.out
    assert "review" in COMMANDS
    assert LOOK.detail in told.out

    lines = list(read_lines((out / "readings.jsonl").read_text(encoding="utf-8").splitlines()))
    assert sorted((Path(p.source).name, p.page) for p in lines) == sorted(t.key for t in TRUTH)
    with Library.open(out / "studio.inkfret") as library:
        summary = library.summary()
        shapes = {str(e.shape) for e in library.entries()}
    assert summary.sightings == sum(len(t.diagrams) for t in TRUTH)
    assert summary.due == sum(len(t.diagrams) for t in TRUTH if t.page.source == FLAGGED)
    assert {"0003", "x32010"} <= shapes
    assert {p.name for p in (out / "to-look-at").iterdir()} == {"upside-down-p1.jpg", "upside-down-p1-closer.jpg"}
    drawings = list((out / "shapes" / "svg").iterdir())
    assert len(drawings) == summary.entries
    assert all(etree.parse(p).getroot().tag.endswith("svg") for p in drawings)
    assert (out / "shapes" / "contact-sheet.pdf").read_bytes().startswith(b"%PDF")
    assert len(json.loads((out / "shapes" / "index.json").read_text(encoding="utf-8"))["entries"]) == summary.entries


def _check_table(told: str) -> None:
    """Every page with its counts, and all of them together."""
    rows = {name.strip(): counts.split() for name, counts in ((row[:27], row[27:]) for row in told.splitlines())}

    def counted(pages: list[TruePage]) -> list[str]:
        found = sum(len(t.diagrams) + len(t.tabs) for t in pages)
        doubtful = sum(len(t.diagrams) for t in pages if t.page.source == FLAGGED)
        diagrams, tabs = sum(len(t.diagrams) for t in pages), sum(len(t.tabs) for t in pages)
        return [str(n) for n in (diagrams, tabs, found - doubtful, doubtful)]

    assert rows["all"] == counted(TRUTH)
    for truth in TRUTH:
        name = truth.page.source + (f", page {truth.page.page}" if truth.page.page > 1 else "")
        assert rows[name] == counted([truth])


def test_a_page_that_fails_is_told_and_the_others_are_read(
    stand_in: Callable[[Callable[[Page], PageReading]], None], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail_on_one(page: Page) -> PageReading:
        if Path(page.source).name == FLAGGED:
            raise InputError("upside-down.jpg is too dark. Photograph it again.")
        return read_truly(page)

    stand_in(fail_on_one)
    assert run("demo", "--out", tmp_path / "demo") == 7
    told = capsys.readouterr()
    assert told.err == "inkfret: upside-down.jpg is too dark. Photograph it again.\n"
    assert not (tmp_path / "demo" / "to-look-at").exists()
    assert "to-look-at" not in told.out


@pytest.mark.parametrize("taken", ["a folder with something in it", "a file"])
def test_nothing_is_written_over(taken: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "mine"
    if taken == "a file":
        out.write_text("mine")
    else:
        out.mkdir()
        (out / "notes.txt").write_text("mine")
    before = sorted(p.name for p in tmp_path.rglob("*"))
    assert run("demo", "--out", out) == 5
    assert capsys.readouterr() == (
        "",
        f"inkfret: {out} is already there and not empty: delete it, or name another folder with --out.\n",
    )
    assert sorted(p.name for p in tmp_path.rglob("*")) == before


def test_the_next_command_is_told_as_this_one_was_called(
    stand_in: Callable[[Callable[[Page], PageReading]], None],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    stand_in(read_truly)
    monkeypatch.setattr("sys.argv", [".venv/bin/inkfret", "demo"])
    assert run("demo", "--out", tmp_path / "demo") == 0
    assert f"  .venv/bin/inkfret review {tmp_path / 'demo' / 'studio.inkfret'}\n" in capsys.readouterr().out
