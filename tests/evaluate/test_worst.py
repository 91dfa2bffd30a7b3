"""Which faults are listed, and in which order."""

from page_samples import LOOK, diagram, moved, page

from reader.evaluate.judge import judge_page
from reader.evaluate.truth import true_page
from reader.evaluate.worst import faults_by_page, find_faults
from reader.reading import from_object

WRONG = [0, 0, 0, 2]


def test_silent_errors_come_first_and_the_most_confident_of_them() -> None:
    truth = page(diagram(), moved(120), moved(240), moved(360), moved(480), moved(600, hard=True))
    read = page(
        diagram(),
        moved(120, frets=WRONG, flags=LOOK, confidence=0.99),
        moved(360, frets=WRONG, confidence=0.6),
        moved(480, frets=WRONG, confidence=0.8),
        moved(600, frets=WRONG),
        moved(0, 400, confidence=0.7),
    )
    faults = find_faults([judge_page(true_page(truth), from_object(read))])
    assert [str(f) for f in faults] == [
        "a.png page 1: silent, drawn 0003, read 0002, confidence 0.800",
        "a.png page 1: silent, drawn nothing, read 0003, confidence 0.700",
        "a.png page 1: silent, drawn 0003, read 0002, confidence 0.600",
        "a.png page 1: missed, drawn 0003, read nothing",
        "a.png page 1: flagged, drawn 0003, read 0002, confidence 0.990 (faint-mark)",
    ]
    assert {key: len(on_page) for key, on_page in faults_by_page(faults).items()} == {("a.png", 1): 5}


def test_a_perfect_page_has_no_faults() -> None:
    truth = page(diagram())
    assert find_faults([judge_page(true_page(truth), from_object(truth))]) == []
