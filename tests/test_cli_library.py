"""The commands around a library, from pages in to files out, with a stand-in for the reader of pages."""

from __future__ import annotations

import csv
import io
import json
import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path

import pytest
from library_samples import FAINT, frame_of, make_page, make_reading, make_tab, read_by_colour
from lxml import etree
from PIL import Image

import cli.read
from cli.main import main
from reader.export import FORMATS
from reader.library.store import Library
from reader.reading import read_lines

BAD = (255, 0, 0)


def run(*arguments: str | Path) -> int:
    """The exit code of the command line."""
    with pytest.raises(SystemExit) as stop:
        main([str(a) for a in arguments])
    assert isinstance(stop.value.code, int)
    return stop.value.code


@pytest.fixture(autouse=True)
def stand_in(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cli.read, "make_page_reader", lambda *settings: read_by_colour)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Pages that read as 0001, 0007 (flagged), and one that cannot be used."""
    pages = tmp_path / "pages"
    pages.mkdir()
    for name, colour in (("a.png", (1, 1, 1)), ("b.png", (7, 7, 7)), ("c.png", BAD)):
        Image.new("RGB", (120, 130), colour).save(pages / name)
    return pages


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """A small library: C twice, Am7, F flagged, a guitar C, a tab."""
    path = tmp_path / "studio.inkfret"
    with Library.open(path, create=True) as library:
        diagrams = [make_reading(s, n) for s, n in (("0003", "C"), ("0003", "C"), ("0000", "Am7"), ("x32010", "C"))]
        library.add_page(make_page(*diagrams, make_reading("2010", "F", (FAINT,), 0.4), tabs=(make_tab(),)), "a" * 64)
    return path


# ---------------------------------------------------------------- read


def test_a_bad_page_among_good_ones_is_told_and_the_exit_code_says_so(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    library, lines = tmp_path / "lib.inkfret", tmp_path / "out.jsonl"
    assert run("read", folder, "--library", library, "--readings", lines) == 7
    told = capsys.readouterr()
    assert "too coarse. Scan it again." in told.err
    assert [line.split() for line in told.out.splitlines()] == [
        ["pages", "3"], ["diagrams", "2"], ["tabs", "0"], ["accepted", "1"], ["to", "review", "1"], ["errors", "1"],
    ]  # fmt: skip
    pages = list(read_lines(lines.read_text().splitlines()))
    assert [(Path(p.source).name, p.page, p.error is None) for p in pages] == [
        ("a.png", 1, True), ("b.png", 1, True), ("c.png", 1, False),
    ]  # fmt: skip
    with Library.open(library) as opened:
        assert sorted(str(e.shape) for e in opened.entries()) == ["0001", "0007"]


def test_reading_again_adds_nothing_and_says_so(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    library = tmp_path / "lib.inkfret"
    run("read", folder / "a.png", "--library", library)
    capsys.readouterr()
    assert run("read", folder / "a.png", folder / "b.png", "--library", library) == 0
    assert "2  (1 already in the library)" in capsys.readouterr().out


def test_readings_to_standard_output_are_nothing_but_json(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("read", folder / "a.png", folder / "b.png", "--readings", "-") == 0
    told = capsys.readouterr()
    assert [json.loads(line)["diagrams"][0]["frets"] for line in told.out.splitlines()] == [[0, 0, 0, 1], [0, 0, 0, 7]]
    assert "diagrams  2" in told.err


def test_without_a_place_to_keep_them_shapes_are_shown(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("read", folder / "b.png", "--jobs", "1") == 0
    shown = capsys.readouterr().out
    assert "0007" in shown
    assert "look again: The mark on the third string is faint" in shown


def test_one_page_alone_that_fails_has_the_code_of_its_failure(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("read", folder / "c.png") == 3
    assert "too coarse" in capsys.readouterr().err


def test_an_interrupt_is_130_and_keeps_what_was_read(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from reader.image.pages import Page
    from reader.reading import PageReading

    def interrupted(page: Page) -> PageReading:
        if page.source.endswith("b.png"):
            raise KeyboardInterrupt
        return read_by_colour(page)

    monkeypatch.setattr(cli.read, "make_page_reader", lambda *settings: interrupted)
    library, lines = tmp_path / "lib.inkfret", tmp_path / "out.jsonl"
    assert run("read", folder, "--library", library, "--readings", lines) == 130
    with Library.open(library) as opened:
        assert len(opened.pages()) == 1
    assert len(lines.read_text().splitlines()) == 1


def test_settings_reach_the_reader(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()
    reader = cli.read.make_page_reader("gCEA", 0.001, cli.read.Names.german)
    settings = reader.keywords["settings"]  # type: ignore[attr-defined]
    assert (settings.tuning, settings.accept_error, settings.note_names) == ("ukulele", 0.001, "german")


# ---------------------------------------------------------------- find


def test_find_prints_a_table_and_json(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("find", shelf, "--chord", "C", "--strings", "4") == 0
    told = capsys.readouterr()
    assert told.out.split()[:3] == ["C", "0003", "ukulele"]
    assert told.err.strip() == "1 found."
    assert run("find", shelf, "--notes", "A C E G", "--json") == 0
    (entry,) = json.loads(capsys.readouterr().out)
    assert (entry["name"], entry["other_names"], entry["frets"]) == ("Am7", ["C6"], [0, 0, 0, 0])
    assert entry["pitch_classes"] == [0, 4, 7, 9]
    assert entry["seen_on"] == [{"source": "sheet.png", "page": 1}]


@pytest.mark.parametrize(
    ("criteria", "shapes"),
    [
        (["--state", "unchecked"], ["2010"]),
        (["--flag", "faint-mark"], ["2010"]),
        (["--source", "sheet", "--sort", "fret", "--highest-fret", "2"], ["0000", "2010"]),
        (["--no-barre", "--fingers", "1", "--open-strings", "3"], ["0000", "0003"]),
        (["--words", "am7"], ["0000"]),
        (["--root", "F"], ["2010"]),
        (["--quality", "", "--tuning", "guitar"], ["x32010"]),
        (["--key", "Bb"], ["2010"]),
        (["--sort", "seen", "--limit", "1"], ["0003"]),
        (["--sort", "shape", "--descending", "--strings", "4"], ["2010", "0003", "0000"]),
    ],
)
def test_find_by_other_criteria(
    shelf: Path, criteria: list[str], shapes: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("find", shelf, *criteria, "--json") == 0
    assert [e["shape"] for e in json.loads(capsys.readouterr().out)] == shapes


def test_find_similar_shapes_also_of_one_that_is_not_there(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("find", shelf, "--similar", "5433", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert [e["shape"] for e in found["same_chord"]] == ["0003"]
    assert run("find", shelf, "--similar", "0001") == 0
    assert "one finger away: 2" in capsys.readouterr().out


def test_find_writes_a_sheet(shelf: Path, tmp_path: Path) -> None:
    assert run("find", shelf, "--strings", "4", "--sheet", tmp_path / "found.pdf") == 0
    assert (tmp_path / "found.pdf").read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize(
    "criteria",
    [["--chord", "H!"], ["--similar", "00q3"], ["--tuning", "kazoo"], ["--sort", "colour"], ["--sheet", "found.txt"]],
)
def test_find_says_what_it_does_not_understand(
    shelf: Path, criteria: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("find", shelf, *criteria) == 2
    assert capsys.readouterr().err


# ---------------------------------------------------------------- export


def test_export_writes_everything_into_a_folder(
    shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    assert run("export", shelf, "--out", out, "--title", "Larkspur Lane Studio") == 0
    assert len(list((out / "svg").iterdir())) == 4
    index = json.loads((out / "index.json").read_text())
    assert [(e["shape"], e["flags"]) for e in index["entries"] if e["flags"]] == [("2010", ["faint-mark"])]
    rows = list(csv.DictReader(io.StringIO((out / "index.csv").read_text())))
    assert {r["shape"]: r["state"] for r in rows}["2010"] == "unchecked"
    assert (out / "contact-sheet.pdf").read_bytes().startswith(b"%PDF-")
    assert "Larkspur Lane Studio" in (out / "shapes.txt").read_text()
    assert not [p for p in out.rglob("*") if p.name.endswith(".part")]
    assert "csv: 1 tab left out" in capsys.readouterr().err


def test_export_into_an_archive_holds_the_same_files(shelf: Path, tmp_path: Path) -> None:
    assert run("export", shelf, "--out", tmp_path / "out") == 0
    assert run("export", shelf, "--out", tmp_path / "out.zip") == 0
    first = (tmp_path / "out.zip").read_bytes()
    with zipfile.ZipFile(io.BytesIO(first)) as archive:
        assert archive.testzip() is None
        files = {
            str(p.relative_to(tmp_path / "out")): p.read_bytes() for p in (tmp_path / "out").rglob("*") if p.is_file()
        }
        assert {name: archive.read(name) for name in archive.namelist()} == files


@pytest.mark.parametrize("name", [name for name, f in FORMATS.items() if f.suffix])
def test_one_format_into_one_file(shelf: Path, tmp_path: Path, name: str, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / f"shapes{FORMATS[name].suffix}"
    assert run("export", shelf, "--format", name, "--out", out) == 0
    assert out.stat().st_size > 100
    if name == "musicxml":
        assert etree.parse(out).getroot().tag == "score-partwise"
        assert "tabs/sheet-page-1-tab-1.musicxml is not in this one file" in capsys.readouterr().err


def test_drawings_can_be_mirrored(shelf: Path, tmp_path: Path) -> None:
    for name, more in (("right", ()), ("left", ("--left-handed", "--fingers", "below"))):
        assert run("export", shelf, "--format", "svg", "--out", tmp_path / name, *more) == 0
    right, left = ((tmp_path / name / "svg" / "ukulele_0003_C.svg").read_text() for name in ("right", "left"))
    assert right != left


def test_several_formats_may_be_chosen(shelf: Path, tmp_path: Path) -> None:
    assert run("export", shelf, "--format", "csv", "--format", "text", "--out", tmp_path / "out") == 0
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["index.csv", "shapes.txt"]


def test_export_refuses_what_it_cannot_do(shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "file.txt").write_text("mine")
    (tmp_path / "blocked").write_text("")
    assert run("export", shelf, "--format", "docx", "--out", tmp_path / "out") == 5
    assert run("export", shelf, "--out", tmp_path / "file.txt") == 5
    assert run("export", shelf, "--format", "csv", "--out", tmp_path / "blocked" / "shapes.csv") == 5
    assert run("export", tmp_path / "none.inkfret", "--out", tmp_path / "out") == 4
    told = capsys.readouterr().err.splitlines()
    assert len(told) == 4
    assert all(line.startswith("inkfret: ") for line in told)
    assert (tmp_path / "file.txt").read_text() == "mine"
    assert not (tmp_path / "out").exists()


def test_a_write_that_fails_leaves_the_old_file(
    shelf: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "shapes.csv"
    out.write_text("the old one")

    def full_disk(self: Path, data: bytes) -> int:
        with self.open("wb") as file:
            file.write(data[:10])
        raise OSError(28, "No space left on device", str(self))

    monkeypatch.setattr(Path, "write_bytes", full_disk)
    assert run("export", shelf, "--format", "csv", "--out", out) == 5
    assert "No space left on device" in capsys.readouterr().err
    assert out.read_text() == "the old one"
    assert list(tmp_path.glob(".*part")) == []


# ---------------------------------------------------------------- check and merge


def test_check_says_sound_or_what_is_wrong(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("check", shelf) == 0
    assert "is sound" in capsys.readouterr().out
    with closing(sqlite3.connect(shelf)) as db:
        db.execute("UPDATE entry SET name = 'H' WHERE shape = '0003'")
        db.commit()
    assert run("check", shelf) == 4
    told = capsys.readouterr()
    assert "tally: Entry" in told.out
    assert "has 1 problem" in told.err
    assert run("check", shelf, "--refresh") == 0


def test_merge_lists_conflicts_and_takes_exported_files(
    shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "copy.inkfret"
    assert run("merge", copy, shelf) == 0
    for path, shape in ((shelf, "2011"), (copy, "2013")):
        with Library.open(path) as library:
            library.settle(library.queue()[0].id, "mara", frame=frame_of(shape))
    capsys.readouterr()
    assert run("merge", copy, shelf, "--prefer", "theirs") == 0
    told = capsys.readouterr()
    assert "conflicts: 1." in told.err
    assert told.out.startswith("sheet.png, page 1, number 5: ours 2013 from fret 1")
    assert run("export", shelf, "--format", "json", "--out", tmp_path / "index.json") == 0
    assert run("merge", tmp_path / "new.inkfret", tmp_path / "index.json") == 0
    with Library.open(tmp_path / "new.inkfret") as new, Library.open(shelf) as old:
        assert [(e.shape, e.state) for e in new.entries()] == [(e.shape, e.state) for e in old.entries()]


def test_merge_refuses_what_it_cannot_take(shelf: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "bad.json").write_text("{")
    (tmp_path / "latin.csv").write_bytes(b"frets,tuning\n0003,\xe9\n")
    assert run("merge", shelf, shelf) == 3
    assert run("merge", shelf, tmp_path / "none.json") == 3
    assert run("merge", shelf, tmp_path / "bad.json") == 3
    assert run("merge", shelf, tmp_path / "latin.csv") == 3
    assert run("merge", tmp_path / "new.inkfret", tmp_path / "none.inkfret") == 4
    assert len(capsys.readouterr().err.splitlines()) == 5
    assert not (tmp_path / "new.inkfret").exists()
