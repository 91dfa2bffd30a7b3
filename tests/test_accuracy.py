"""The pages of the demo, read with the trained networks: figures may rise but not fall."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from cli.main import main

FIXTURES = Path(__file__).resolve().parents[1] / "fixtures"
PAGES = FIXTURES / "pages"
FLOORS = FIXTURES / "floors.toml"


def evaluate(*options: str | Path) -> int:
    """The exit code of ``inkfret evaluate`` on the demo's pages."""
    with pytest.raises(SystemExit) as stop:
        main(["evaluate", str(PAGES), *(str(o) for o in options)])
    assert isinstance(stop.value.code, int)
    return stop.value.code


def complaint(readings: Path, floors: Path, pictures: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """Figures that broke their limits, and where the readings to blame are drawn; empty when all is well."""
    capsys.readouterr()
    if evaluate("--readings", readings, "--by", "kind", "--floors", floors) == 0:
        return ""
    broken = [line for line in capsys.readouterr().err.splitlines() if line.endswith("wanted.")]
    evaluate("--readings", readings, "--out", pictures)
    capsys.readouterr()
    return "\n".join([*broken, f"The readings at fault are drawn in {pictures}"])


def test_figures_keep_their_floors(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    readings = tmp_path / "readings.jsonl"
    assert evaluate("--save", readings) == 0
    found = complaint(readings, FLOORS, tmp_path / "pictures", capsys)
    if found:
        pytest.fail(found, pytrace=False)


def test_a_broken_floor_is_told_with_pictures(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # The truth itself with one page left empty: nothing else can be at fault.
    lines = (PAGES / "truth.jsonl").read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if '"tablet-drawing.png"' not in line]
    (tmp_path / "readings.jsonl").write_text("\n".join(kept), encoding="utf-8")
    (tmp_path / "floors.toml").write_text("[tablet]\nrecall = { least = 1.0 }\n", encoding="utf-8")
    told = complaint(tmp_path / "readings.jsonl", tmp_path / "floors.toml", tmp_path / "pictures", capsys)
    assert told.startswith("tablet: recall is 0, at least 1.0 wanted.\n")
    assert {p.name.split("-")[1] for p in (tmp_path / "pictures").iterdir()} == {"missed"}


def test_floors_cover_every_kind_of_page() -> None:
    kinds = {json.loads(line)["kind"] for line in (PAGES / "truth.jsonl").read_text(encoding="utf-8").splitlines()}
    assert tomllib.loads(FLOORS.read_text(encoding="utf-8")).keys() == kinds | {"all"}
