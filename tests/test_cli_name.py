"""``inkfret name``: what is printed, as text and as JSON, and how it fails."""

from __future__ import annotations

import json
from typing import Any

import pytest

from cli.main import main


def run(*arguments: str) -> int:
    with pytest.raises(SystemExit) as stop:
        main(["name", *arguments])
    assert isinstance(stop.value.code, int)
    return stop.value.code


def told(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert run(*arguments, "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert isinstance(found, dict)
    return found


def test_json_of_a_guitar_shape(capsys: pytest.CaptureFixture[str]) -> None:
    found = told(capsys, "x32010")
    assert (found["shape"], found["tuning"]) == ("x32010", "guitar")
    assert found["names"][0] == "C"
    assert found["notes"] == [None, "C3", "E3", "G3", "C4", "E4"]
    assert found["degrees"] == [None, "1", "3", "5", "1", "3"]
    assert found["bass"] == "C"
    assert found["fingers"] == [None, 3, 2, None, 1, None]
    assert found["keys"][0] == "C major"
    assert "label_check" not in found
    assert found["fingerings"][0]["difficulty"]["level"] == "easy"


def test_json_with_a_label(capsys: pytest.CaptureFixture[str]) -> None:
    found = told(capsys, "0232", "--label", "G7")
    assert (found["tuning"], found["label"], found["label_check"]) == ("ukulele", "G7", "different")
    assert {"kind": "fret", "shape": "0212"}.items() <= found["repairs"][1].items()
    assert told(capsys, "2020", "--label", "D7")["label_check"] == "short"
    assert told(capsys, "0000", "--label", "C6")["names"] == ["C6", "Am7"]


def test_tuning_key_and_style(capsys: pytest.CaptureFixture[str]) -> None:
    assert told(capsys, "0003", "--tuning", "D G B E")["names"] == ["G/D"]
    assert told(capsys, "3211", "--key", "B")["names"] == ["A#"]
    assert told(capsys, "3211", "--key", "F")["numerals"] == ["IV"]
    assert told(capsys, "x24432", "--style", "german", "--label", "Hm")["label_check"] == "same"


def test_text(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("0232", "--label", "G7") == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "0232   Ukulele, re-entrant g C E A"
    assert lines[2] == "G   exact: G B D"
    assert "fret      0  2  3  2" in lines
    assert "note     G4 D4 G4 B4" in lines
    assert "fingers  - 1 3 2   easy, 3 fingers, reach 18 mm" in lines
    assert "The label says G7; the dots spell G; G7 would have the second string at fret 1." in lines


def test_text_says_what_the_notes_do_not_tell(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("0000") == 0
    assert "The notes alone do not tell Am7 from C6: a label or --key does." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["x32y10"], "'y' in the shape 'x32y10' is not a fret"),
        (["0003", "--tuning", "gCEH"], "'H' in the tuning 'gCEH' is not a note"),
        (["0003", "--key", "Q"], "'Q' is not a key"),
        (["0003", "--tuning", "guitar"], "has 4 strings and the tuning guitar has 6"),
        (["000"], "No tuning is usual for 3 strings"),
        (["0003", "--style", "neat"], "'neat' is no way to write labels"),
    ],
)
def test_errors_name_what_is_wrong(arguments: list[str], message: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(*arguments) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert message in captured.err
