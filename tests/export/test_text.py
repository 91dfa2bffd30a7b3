"""Plain text: diagrams and tabs that a person can read in any editor."""

from __future__ import annotations

from reader.export.text import draw_frame, to_text
from reader.library.collection import Collection
from reader.music.frame import Frame


def test_a_diagram_in_letters() -> None:
    assert draw_frame(Frame((None, 3, 2, 0, 1, 0), (None, 3, 2, None, 1, None), 3)) == [
        "x     o   o",
        "═══════════",
        "│ │ │ │ 1 │",
        "│ │ 2 │ │ │",
        "│ 3 │ │ │ │",
    ]


def test_a_window_up_the_neck_says_its_fret_and_grows_round_its_stops() -> None:
    rows = draw_frame(Frame((7, 9, 9, 12), (None,) * 4, 3, 7))
    assert rows[0] == "───────"
    assert rows[1] == "● │ │ │  fret 7"
    assert len(rows) == 1 + 6
    assert rows[-1] == "│ │ │ ●"


def test_names_reasons_and_places_stand_below(collection: Collection) -> None:
    text = to_text(collection).text
    assert text.startswith("Larkspur Lane Studio\n")
    assert "Am7 = C6  0000  ukulele" in text
    assert "look again: The mark on the third string is faint: is it a dot?" in text
    assert "seen on b.pdf, page 3" in text
    assert "sheet-page-1-tab-1" in text


def test_every_shape_is_there(collection: Collection) -> None:
    text = to_text(collection).text
    assert all(f"{c.entry.shape}  {c.entry.tuning}" in text for c in collection.entries)
    assert not any(line != line.rstrip() for line in text.splitlines())
