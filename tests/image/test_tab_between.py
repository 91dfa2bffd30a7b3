"""Letters, slides and pieces of the line are no digits."""

from __future__ import annotations

import cv2
import numpy as np

from reader.image.tab_between import DOUBT, settled, without_letters
from reader.image.tab_lines import FINE, GAP
from reader.image.tab_strip import Number


def number(gaps: float, block: int, fret: int | None) -> Number:
    return Number(gaps * GAP, block, fret, False, 0.99, None)


def strip(heights: dict[tuple[float, int], float]) -> np.ndarray:
    """A strip of lines with upright strokes, heights in gaps, at (gaps, block)."""
    gap = GAP * FINE
    fine = np.full((10 * gap, 20 * gap, 3), 245, np.uint8)
    for block in range(2, 8):
        y = block * gap + gap // 2
        fine[y - 1 : y + 2] = 60
    for (gaps, block), high in heights.items():
        x, y, half = int(gaps * gap), block * gap + gap // 2, int(high * gap / 2)
        fine[y - half : y + half, x - 4 : x + 4] = 30
    return fine


def test_a_letter_between_two_numbers_is_no_digit() -> None:
    read = [number(2, 3, 11), number(2.9, 3, 13), number(6, 3, 9), number(7.15, 3, 10), number(9, 4, 12)]
    said = without_letters(read)
    assert [n.fret for n in said] == [1, 3, 9, 10, 12]
    assert [n.second for n in said[:2]] == [11, 13]
    assert [n.confidence for n in said] == [DOUBT, DOUBT, 0.99, 0.99, 0.99]


def test_the_next_number_is_no_last_digit() -> None:
    assert [n.fret for n in without_letters([number(2, 3, 20), number(2.9, 3, 0)])] == [2, 0]
    assert [n.fret for n in without_letters([number(2, 3, 20), number(3.2, 3, 0)])] == [20, 0]
    assert [n.fret for n in without_letters([number(2, 3, 12), number(2.9, 3, 0)])] == [12, 0]


def test_numbers_of_two_lines_have_no_letter_between_them() -> None:
    read = [number(2, 3, 1), number(2.2, 4, 13)]
    assert without_letters(read) == read


def test_an_x_is_low_beside_the_digits_of_its_system() -> None:
    """Typed rows lie far apart: an x of a third of a gap is two thirds of a digit there, else it is a speck."""
    for digits, kept in ((0.48, True), (0.8, False)):
        places = {(2.0 * i, 3): digits for i in range(1, 5)} | {(10.0, 3): 0.33}
        read = [number(gaps, block, 5) for gaps, block in places][:4] + [number(10.0, 3, None)]
        said = settled(strip(places), tuple(read))
        assert [n.fret for n in said] == [5, 5, 5, 5, *([None] if kept else [])], digits


def test_a_one_as_low_as_a_slide_is_doubted() -> None:
    places = {(2.0, 3): 0.6, (4.0, 3): 0.65, (6.0, 4): 0.6, (8.0, 4): 0.62, (10.0, 5): 0.3}
    read = tuple(number(gaps, block, 1) for gaps, block in places)
    assert [n.confidence for n in settled(strip(places), read)] == [0.99, 0.99, 0.99, 0.99, DOUBT]
    assert settled(strip(places), read[2:]) == read[2:], "too few to know how tall they are"
    tall = {**places, (12.0, 5): 0.95}
    ones = (*read, number(12.0, 5, 1))
    assert [n.tall for n in settled(strip(tall), ones)] == [False] * 5 + [True]
    fives = tuple(number(gaps, block, 5) for gaps, block in places)
    assert settled(strip(places), fives) == fives


def test_a_leaning_stroke_between_two_numbers_may_be_a_slide() -> None:
    places = {(2.0, 3): 0.6, (3.4, 3): 0.6, (4.8, 3): 0.6, (8.0, 4): 0.6, (12.0, 5): 0.6}
    read = tuple(number(gaps, block, 1 if gaps in (3.4, 12.0) else 3) for gaps, block in places)
    upright, leaning = strip(places), strip({p: h for p, h in places.items() if p[0] not in (3.4, 12.0)})
    gap = GAP * FINE
    for gaps, block in ((3.4, 3), (12.0, 5)):
        x, y = int(gaps * gap), block * gap + gap // 2
        cv2.line(leaning, (x - 6, y + 12), (x + 6, y - 12), (30, 30, 30), 4)
    assert [n.confidence for n in settled(upright, read)] == [0.99] * 5
    assert [n.confidence for n in settled(leaning, read)] == [0.99, DOUBT, 0.99, 0.99, 0.99], "the last stands alone"


def test_a_leaning_stroke_where_other_ones_stand_upright_is_a_slide() -> None:
    places = {(2.0, 3): 0.6, (4.8, 3): 0.6, (8.0, 4): 0.6, (12.0, 5): 0.6}
    picture, gap = strip(places), GAP * FINE
    x, y = int(3.4 * gap), 3 * gap + gap // 2
    cv2.line(picture, (x - 6, y + 12), (x + 6, y - 12), (30, 30, 30), 4)
    read = tuple(number(gaps, block, 1) for gaps, block in [(2.0, 3), (3.4, 3), (4.8, 3), (8.0, 4), (12.0, 5)])
    assert settled(picture, read) == (read[0], *read[2:])


def test_the_only_leaning_strokes_are_slides_where_they_point_to_the_higher_fret() -> None:
    places = {(2.0, 3): 0.6, (4.8, 3): 0.6, (8.0, 4): 0.6, (12.0, 5): 0.6}
    picture, gap = strip(places), GAP * FINE
    x, y = int(3.4 * gap), 3 * gap + gap // 2
    cv2.line(picture, (x - 6, y + 12), (x + 6, y - 12), (30, 30, 30), 4)
    for frets, slides in (((5, 7), True), ((7, 5), False)):
        told = zip([(2.0, 3), (3.4, 3), (4.8, 3), (8.0, 4), (12.0, 5)], (frets[0], 1, frets[1], 3, 3), strict=True)
        read = tuple(number(*place, fret) for place, fret in told)
        assert len(settled(picture, read)) == (4 if slides else 5), frets


def test_two_digits_far_up_the_neck_from_all_others_are_two_notes_where_they_stand_wide() -> None:
    low = [(2.0 + 1.4 * k, 2 + k % 3) for k in range(6)]
    for apart, frets in ((0.75, [2, 0]), (0.55, [20])):
        picture, gap = strip({}), GAP * FINE
        for x, block in [*low, (13.7, 3), (13.7 + apart, 3)]:
            y = block * gap + gap // 2
            picture[y - 12 : y + 12, int(x * gap) - 9 : int(x * gap) + 9] = 30
        read = settled(picture, (*(number(x, block, 3) for x, block in low), number(13.7 + apart / 2, 3, 20)))
        assert [n.fret for n in read[6:]] == frets
        assert len(frets) == 1 or all(n.confidence <= DOUBT for n in read[6:])


def test_two_digits_without_a_line_between_them_are_one_number() -> None:
    singles, gap = [(2.0 + 2 * k, 2 + k % 3) for k in range(5)], GAP * FINE
    for line, frets in ((False, [10]), (True, [1, 0])):
        picture, y = strip({}), 4 * gap + gap // 2
        for x, block in [*singles, (13.0, 4), (13.7, 4)]:
            at, up = int(x * gap), block * gap + gap // 2
            picture[up - 12 : up + 12, at - 9 : at + 9] = 30
        if not line:
            picture[y - 3 : y + 4, int(13.0 * gap) + 9 : int(13.7 * gap) - 9] = 245
        read = (*(number(x, block, 3) for x, block in singles), number(13.0, 4, 1), number(13.7, 4, 0))
        assert [n.fret for n in settled(picture, read)[5:]] == frets
