"""Lettering round a grid: found, told from what the grid leaves, read."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from reader.image.ctc import SIGNS, Spelling, Tree, best_path, fit, grow_tree, unframed, unnumbered
from reader.image.engines import load_engine
from reader.image.labels import Lettering, not_mark
from reader.image.lettering import Piece, find_pieces
from reader.image.levels import Levels
from reader.image.signs import AROUND_SIZE
from reader.image.text import read_lines
from reader.image.way import page_turn
from reader.lexicon import lexicon
from reader.music.label import Unparsed, parse_label
from reader.music.label_style import NoteNames
from reader.note_names import read_lettering

PAGE = 520
CORNERS = np.array([[200.0, 200], [300, 200], [300, 320], [200, 320]])


def page(*texts: tuple[str, float, float], dark: bool = True, size: float = 34) -> NDArray[np.uint8]:
    """A grid of four strings and four spaces, and texts with their middles at the places given."""
    paper, ink = ((250, 248, 240), (30, 30, 60)) if dark else ((20, 50, 30), (235, 240, 230))
    image = Image.new("RGB", (PAGE, PAGE), paper)
    draw = ImageDraw.Draw(image)
    for k in range(4):
        draw.line([200 + 100 / 3 * k, 196, 200 + 100 / 3 * k, 326], ink, 3)
    for k in range(5):
        draw.line([198, 200 + 30 * k, 302, 200 + 30 * k], ink, 3)
    for x, y in ((200.0, 245.0), (267.0, 275.0), (300.0, 305.0)):
        draw.ellipse([x - 11, y - 11, x + 11, y + 11], ink)
    font = ImageFont.load_default(size)
    for text, *spot in texts:
        draw.text((spot[0], spot[1]), text, ink, font, anchor="mm")
    return np.asarray(image)


def read(pixels: NDArray[np.uint8], corners: NDArray[np.float64] = CORNERS, turn: int = 0) -> Lettering:
    return read_lettering(Levels(pixels), [corners], [corners], turn, "english")[0][0]


# ---------------------------------------------------------------- steps of the network against spellings


def steps(*signs: str) -> NDArray[np.float64]:
    """What a network reports that is sure of a sign (or, for '', of the blank) at each step."""
    out = np.full((len(signs), len(SIGNS) + 1), 0.001)
    for k, sign in enumerate(signs):
        out[k, SIGNS.index(sign) + 1 if sign else 0] = 1.0
    return np.asarray(out / out.sum(1, keepdims=True))


def tree(*texts: str) -> Tree:
    return grow_tree(Spelling(tuple(t), t, 1.0) for t in texts)


def test_equal_neighbours_need_a_blank_between_them() -> None:
    spellings = tree("II", "I")
    assert fit(spellings, steps("I", "I")).argmax() == 1
    assert fit(spellings, steps("I", "", "I")).argmax() == 0
    assert best_path(steps("I", "I"))[0] == "I"
    assert best_path(steps("I", "", "I"))[0] == "II"


def test_the_sides_of_a_frame_are_no_signs_of_a_label() -> None:
    framed = unframed(steps("", "(", "A", "b", "b", "", "7", "|", "|"))
    assert framed is not None
    assert best_path(framed)[0] == "Ab7"
    for whole in ("(A", "A)", "Ab7", "()"):
        assert unframed(steps(*whole)) is None


def test_the_number_of_an_exercise_is_no_sign_of_a_label() -> None:
    for text in ("3)Am", "(12)Am", "3.Am"):
        named = unnumbered(steps("", *text, "m"))
        assert named is not None
        assert best_path(named)[0] == "Am"
    for text in ("Am", "3)", "3Am", "3)rd", "A3)"):
        assert unnumbered(steps(*text)) is None, text


def test_fit_sums_over_all_layouts() -> None:
    """Three ways to lay 'A' out on two steps: A-, -A, AA (Graves et al. 2006, equations 3 and 6)."""
    signs = np.zeros((2, len(SIGNS) + 1))
    a = SIGNS.index("A") + 1
    signs[:, 0], signs[:, a] = 0.4, 0.6
    got = float(fit(tree("A"), signs)[0]) * 0.6 * 0.6
    assert got == pytest.approx(0.6 * 0.4 + 0.4 * 0.6 + 0.6 * 0.6)


def test_a_look_alike_counts_less_than_the_sign() -> None:
    spellings = tree("A5", "A7")
    assert fit(spellings, steps("A", "S")).argmax() == 0
    assert fit(spellings, steps("A", "5"))[0] > 2 * fit(spellings, steps("A", "S"))[0]


# ---------------------------------------------------------------- what can be written


@pytest.mark.parametrize("names", ["english", "german", "solfege"])
def test_every_label_that_can_be_read_is_a_chord(names: NoteNames) -> None:
    assert [t for t in lexicon(names).labels.texts if isinstance(parse_label(t, names), Unparsed)] == []


def test_no_two_labels_are_spelled_alike() -> None:
    labels = lexicon().labels
    assert len(set(labels.ends.tolist())) == len(labels.texts)


# ---------------------------------------------------------------- pieces


def test_what_sticks_out_of_the_grid_is_no_lettering() -> None:
    pixels = cv2.resize(page(), (AROUND_SIZE, AROUND_SIZE))
    assert find_pieces(pixels, CORNERS * AROUND_SIZE / PAGE, []) == ([], [], 0)


def test_lettering_of_a_nearer_grid_is_left_alone() -> None:
    pixels = cv2.resize(page(("Am", 420, 290)), (AROUND_SIZE, AROUND_SIZE))
    k = AROUND_SIZE / PAGE
    below = (CORNERS + [170, 120]) * k
    assert [p.side for p in find_pieces(pixels, CORNERS * k, [])[0]] == ["right"]
    assert find_pieces(pixels, CORNERS * k, [below])[0] == []


def test_a_label_that_touches_the_grid_is_found_whole() -> None:
    pixels = page(("Am7", 250, 180))
    assert read(pixels).label[0] == "Am7"
    leaning = CORNERS + [[0, 0], [0, -6], [0, -6], [0, 0]]
    assert read(pixels, leaning).label[0] == "Am7", "the corners may be a little off"


@pytest.mark.parametrize("text", ["4)Em7", "(3)Em7", "12.Em7"])
def test_the_number_of_an_exercise_before_a_label_is_not_read(text: str) -> None:
    # common practice, no source
    assert read(page((text, 250, 160))).label[0] == "Em7"


@pytest.mark.parametrize("form", ["ring", "box"])
def test_a_frame_around_a_label_is_not_read(form: str) -> None:
    pixels = page(("Am7", 250, 150)).copy()
    if form == "box":
        cv2.rectangle(pixels, (208, 122), (292, 176), (30, 30, 60), 2)
    else:
        cv2.ellipse(pixels, (250, 150), (58, 30), 0, 0, 360, (30, 30, 60), 2, cv2.LINE_AA)
    assert read(pixels).label[0] == "Am7"


def test_a_label_under_a_highlighter_is_read() -> None:
    pixels = page(("Am7", 250, 150)).copy()
    patch = np.zeros(pixels.shape[:2], bool)
    patch[125:175, 195:305] = True
    patch &= pixels.min(2) > 120
    pixels[patch] = (190, 240, 150)
    assert read(pixels).labels[0][0] == "Am7"


def test_a_label_is_parted_from_the_marks_below_it() -> None:
    above = page(("Am7", 250, 150)).copy()
    for x in (200, 300):
        cv2.circle(above, (x, 178), 9, (30, 30, 60), 2)
    cv2.line(above, (222, 168), (205, 172), (30, 30, 60), 3)  # a stroke joins them
    assert read(above).label[0] == "Am7"


def with_small(pixels: NDArray[np.uint8], text: str, x: float, y: float, size: float) -> NDArray[np.uint8]:
    image = Image.fromarray(pixels)
    ImageDraw.Draw(image).text((x, y), text, (30, 30, 60), ImageFont.load_default(size), anchor="mm")
    return np.asarray(image)


def with_lines(pixels: NDArray[np.uint8], *lines: tuple[float, float, float, float]) -> NDArray[np.uint8]:
    image = Image.fromarray(pixels)
    for line in lines:
        ImageDraw.Draw(image).line(line, (30, 30, 60), 3)
    return np.asarray(image)


def test_a_long_label_between_pieces_of_a_frame_is_no_line_of_text() -> None:
    framed = with_lines(page(("Ebmaj7", 250, 140)), (160, 118, 160, 160), (340, 116, 340, 158))
    assert read(framed).label[0] == "Ebmaj7"


@pytest.mark.parametrize("y", [136, 140])
def test_what_stands_raised_behind_a_label_belongs_to_it_however_high(y: float) -> None:
    pixels = page(("A", 262, 160))
    assert read(pixels).label[0] == "A"
    assert read(with_small(pixels, "7", 284, y, 20)).label[0] == "A7"


@pytest.mark.parametrize("y", [334, 338])
def test_lettering_close_to_the_grid_is_not_what_sticks_out_of_it(y: float) -> None:
    assert read(with_small(page(("C", 262, 352)), "7", 284, y, 17)).label[0] == "C7"


def test_pale_lettering_beside_dark_lines_is_read() -> None:
    picture = Image.fromarray(page())
    font = ImageFont.load_default(34)
    ImageDraw.Draw(picture).text((250, 165), "Gm7", (205, 203, 196), font, anchor="mm")
    assert read(np.asarray(picture)).label[0] == "Gm7"


def test_a_ruled_line_does_not_swallow_what_crosses_it() -> None:
    ruled = page(("5fr", 350, 215), size=26).copy()
    for y in range(12, PAGE, 29):
        cv2.line(ruled, (0, y), (PAGE, y + 9), (150, 170, 215), 2)
    got = read(ruled)
    assert int(got.numbers.argmax()) == 5
    assert got.label[0] == ""


# ---------------------------------------------------------------- reading


@pytest.mark.parametrize("text", ["F#m7", "Bb", "Gsus4", "Cmaj7", "D7", "Am", "G/B", "Cadd9"])
def test_a_label_above_is_read(text: str) -> None:
    got = read(page((text, 250, 165)))
    assert got.label[0] == text
    assert got.label[1] > 0.5
    assert got.numbers[0] > 0.9


@pytest.mark.parametrize("at", [(250.0, 150.0), (250.0, 365.0), (130.0, 260.0)], ids=["above", "below", "left"])
def test_the_place_of_a_label_is_known(at: tuple[float, float]) -> None:
    seen = read(page(("Am7", *at)))
    places = np.array(seen.label_places[seen.label[0]])
    assert seen.label[0] == "Am7"
    assert np.abs(places.mean(0) - at).max() < 8


def test_light_on_dark_is_read_too() -> None:
    assert read(page(("Em7", 250, 165), dark=False)).label[0] == "Em7"


def test_capitals_are_brought_to_the_usual_case() -> None:
    assert read(page(("CADD9", 250, 165))).label[0] == "Cadd9"


@pytest.mark.parametrize(
    ("text", "value"),
    [("5", 5), ("7fr", 7), ("3rd", 3), ("(4)", 4), ("10", 10), ("VII", 7), ("III", 3), ("V", 5)],
)
def test_a_number_beside_the_grid_is_read(text: str, value: int) -> None:
    got = read(page(("Am", 250, 165), (text, 345, 215), size=26))
    assert int(got.numbers.argmax()) == value
    assert got.number_at == pytest.approx([345, 215], abs=8)
    assert got.label[0] == "Am"


@pytest.mark.parametrize("quarters", [1, -1])
@pytest.mark.parametrize("text", ["9fr", "9th fret"])
def test_a_number_written_at_a_right_angle_is_read(text: str, quarters: int) -> None:
    sheet = page(("Am", 250, 165)).copy()
    half = 6 * len(text) + 22
    number = page((text, 100, 60), size=26)[50:70, 100 - half : 100 + half]
    turned = np.rot90(number, quarters)
    h, w = turned.shape[:2]
    sheet[225 - h // 2 : 225 - h // 2 + h, 330 : 330 + w] = turned
    assert int(read(sheet).numbers.argmax()) == 9


def test_a_number_is_parted_from_the_label_of_the_next_grid() -> None:
    pixels = page(("5fr", 342, 215), size=24)
    image = Image.fromarray(pixels)
    ImageDraw.Draw(image).text((412, 208), "G#m7", (30, 30, 60), ImageFont.load_default(34), anchor="mm")
    corners = [CORNERS, CORNERS + [168.0, 35.0]]
    got = read_lettering(Levels(np.asarray(image)), corners, corners, 0, "english")[0]
    assert int(got[1].numbers.argmax()) == 5
    assert got[1].label[0] == "G#m7"
    assert got[0].numbers[0] > 0.5, "it stands nearer to the other grid, and its digit alone is no number"


def test_the_finger_of_an_outer_stop_is_parted_from_the_number_behind_it() -> None:
    got = read(page(("Am", 250, 165), ("1", 312, 215), ("fret 4", 358, 215), size=24))
    assert int(got.numbers.argmax()) == 4


def test_a_digit_close_to_the_grid_is_no_number_where_one_with_its_sign_stands_beside_it() -> None:
    got = read(page(("Am", 250, 165), ("2", 312, 300), ("fret 7", 370, 215), size=24))
    assert int(got.numbers.argmax()) == 7


@pytest.mark.parametrize(
    ("text", "value"),
    [("pos. V", 5), ("POS. IV", 4), ("Pos.7", 7), ("4. fret", 4), ("fret 9", 9), ("=5", 5), ("fr.3", 3)],
)
def test_words_and_signs_beside_a_number_belong_to_it(text: str, value: int) -> None:
    # common practice, no source
    wide = 7 * len(text) + 330
    assert int(read(page(("Am", 250, 165), (text, wide, 215), size=24)).numbers.argmax()) == value


@pytest.mark.parametrize(("numeral", "value"), [("IV", 4), ("IX", 9), ("VI", 6)])
def test_a_roman_number_is_parted_from_a_label_beside_the_grid(numeral: str, value: int) -> None:
    got = read(page(("C#7 " + numeral, 152, 212), size=30))
    assert got.label[0] == "C#7"
    assert int(got.numbers.argmax()) == value


@pytest.mark.parametrize("text", ["7th fret", "7fr"])
def test_what_can_be_nothing_but_a_number_surely_is_one(text: str) -> None:
    got = read(page(("Am", 250, 165), (text, 130, 215), size=26))
    assert got.numbers[7] > 0.9
    assert read(page(("Am", 250, 165), ("7", 130, 215), size=26)).numbers[7] < got.numbers[7]


@pytest.mark.parametrize(("text", "value"), [("7fr", 7), ("7", 0)])
def test_tall_lettering_beside_a_small_grid_is_a_number_if_its_sign_says_so(text: str, value: int) -> None:
    assert read(page((text, 120, 225), size=76)).numbers.argmax() == value


def test_a_one_beside_the_grid_is_no_seven() -> None:
    got = read(page(("1", 160, 215), size=30))
    assert got.numbers[7] < got.numbers[1]


def test_a_letter_where_the_labels_of_the_page_stand_is_no_number() -> None:
    """A G that reads as a 6; beside a grid whose label was read it would be one."""
    grids = [CORNERS + [0, 600.0 * k] for k in range(4)]
    texts = ("Am7", "Dm", "Bb7", "6")
    pages = [np.pad(page((t, 370, 215)), ((0, 80), (0, 0), (0, 0)), "edge") for t in texts]
    pixels = np.vstack(pages)
    there = read_lettering(Levels(pixels), grids, grids, 0, "english")[0][3]
    alone = read(pages[3])
    assert alone.numbers.argmax() == 6
    assert there.numbers[6] < 0.5 * alone.numbers[6]


def test_a_finger_beside_an_outer_stop_is_not_taken_for_the_number() -> None:
    got = read(page(("Am", 250, 165), ("7th", 150, 215), ("2", 322, 215), size=26))
    assert int(got.numbers.argmax()) == 7


def test_a_number_in_words_is_read() -> None:
    assert int(read(page(("Am", 250, 165), ("2nd fret", 368, 215), size=26)).numbers.argmax()) == 2


@pytest.mark.parametrize(
    ("text", "at", "label", "number"),
    [("7frCm", (232, 170), "Cm", 7), ("Cm 7fr", (262, 170), "Cm", 7), ("xxDm", (226, 172), "Dm", 0)],
)
def test_a_label_is_parted_from_what_runs_into_it(text: str, at: tuple[float, float], label: str, number: int) -> None:
    got = read(page((text, *at), size=28))
    assert got.label[0] == label
    assert got.numbers.argmax() == number


def test_a_number_that_a_blurred_picture_joins_to_the_grid_is_read() -> None:
    blurred = cv2.GaussianBlur(page(("7", 312, 216), size=26), (0, 0), 2.5)
    read_so = read(np.asarray(blurred, np.uint8))
    assert (read_so.numbers.argmax(), read_so.label[0]) == (7, "")


@pytest.mark.parametrize(("at", "size"), [(395, 52), (400, 56), (100, 56)])
def test_a_label_beside_the_grid_that_runs_off_its_crop_is_read_whole(at: int, size: int) -> None:
    assert read(page(("F#m7", at, 260), size=size)).label[0] == "F#m7"


def test_large_labels_in_a_row_are_no_line_of_text() -> None:
    """Words like labels far above the grid are: they belong to a song's line."""
    row = page(("Cm7", 100, 172), ("Gm7", 250, 172), ("F#7", 400, 172), size=62)
    assert read(row).label[0] == "Gm7"
    far = page(("Cm7", 100, 100), ("Gm7", 250, 100), ("F#7", 400, 100), size=62)
    assert read(far).label[0] == ""


def test_letters_in_a_line_of_text_are_no_labels() -> None:
    assert read(page(("then", 165, 172), ("A", 250, 172), ("hill", 325, 172), size=48)).label[0] == ""


def test_a_label_nearly_as_tall_as_its_grid_is_read() -> None:
    assert read(page(("E", 250, 135), size=100)).label[0] == "E"


def test_a_number_between_two_grids_is_that_of_the_one_without_another() -> None:
    """The left grid has its own number; what stands between them is no further from the right one than its 2 is."""
    pixels = np.hstack([page(("2", 165, 215), ("4", 348, 215), size=30), page()])
    pixels[:, 380:700] = page()[:, 180:500]
    grids = [CORNERS, CORNERS + [200.0, 0.0]]
    first, second = read_lettering(Levels(pixels), grids, grids, 0, "english")[0]
    assert (int(first.numbers.argmax()), int(second.numbers.argmax())) == (2, 4)


def test_parts_of_one_label_are_no_row_of_names() -> None:
    """A narrow label with a raised 7 is found as a whole and in parts, as far from the grid as each other."""
    picture = np.full((40, 40), 255, np.uint8)
    boxes = ((300, 140, 345, 200), (300, 150, 335, 200), (302, 150, 335, 199), (332, 140, 345, 165))
    parts = [Piece(box, "above", 0.2, 1.0, False, picture) for box in boxes]
    names = [Piece((220 + 40 * k, 450, 245 + 40 * k, 480), "below", 0.2, 1.0, False, picture) for k in range(4)]
    assert not_mark(parts[0], parts) == 1.0
    assert not_mark(names[0], names) < 0.01


def test_names_under_the_strings_are_no_label() -> None:
    names = page(*((n, 200 + 100 / 3 * k, 350) for k, n in enumerate("GCEA")), size=15)
    assert read(names).label[0] == ""


def test_a_number_that_reads_well_is_no_letter() -> None:
    assert read(page(("8", 170, 215))).label[0] == ""


def test_a_label_that_names_notes_in_another_way_than_its_page() -> None:
    grids = [CORNERS, CORNERS + [0, 600], CORNERS + [0, 1200]]
    pixels = np.vstack([np.pad(page((t, 250, 160)), ((0, 80), (0, 0), (0, 0)), "edge") for t in ("Am7", "G7", "Mim")])
    found, names = read_lettering(Levels(pixels), grids, grids, 0, "english")
    assert [f.label[0] for f in found] == ["Am7", "G7", "Mim"]
    assert names == ["english", "english", "solfege"]


def test_nothing_written_is_no_label_and_no_number() -> None:
    got = read(page())
    assert got.label == ("", 1.0)
    assert got.numbers[0] == 1.0
    assert got.unread == 0.0


def test_what_cannot_be_a_number_is_reported_as_unread() -> None:
    got = read(page(("Am", 250, 165), ("KW", 345, 215), size=26))
    assert got.numbers[0] > 0.5
    assert got.unread > 0.3
    assert read(page(("Am", 250, 165), ("5", 345, 215), size=26)).unread < 0.1


@pytest.mark.parametrize("turn", [0, 1, 2, 3])
def test_lettering_tells_the_way_up(turn: int) -> None:
    """A page turned clockwise comes upright by as many quarter turns counter-clockwise."""
    pixels = np.ascontiguousarray(np.rot90(page(("F#m7", 250, 165)), -turn))
    corners = CORNERS
    for _ in range(turn):
        corners = np.column_stack([PAGE - corners[:, 1], corners[:, 0]])
    assert page_turn(read_lettering(Levels(pixels), [corners], [corners], 0, "english")[0]) == turn
    assert read(pixels, corners, turn).label[0] == "F#m7"


def test_both_runtimes_give_the_same_signs() -> None:
    pytest.importorskip("onnxruntime")
    picture = np.random.default_rng(5).uniform(-1, 1, (3, 3, 48, 96)).astype(np.float32)
    one = load_engine("text", "cv2").run({"picture": picture})["signs"]
    other = load_engine("text", "onnxruntime").run({"picture": picture})["signs"]
    assert one.shape == other.shape == (3, 12, len(SIGNS) + 1)
    assert np.abs(one - other).max() < 1e-4


def test_lines_of_several_widths_come_back_in_order() -> None:
    pictures = [page(("Am", 60, 60))[40:80, 20:100, 0], page(("Gsus4", 80, 60))[40:80, 10:150, 0]]
    assert [best_path(s)[0] for s in read_lines(pictures)] == ["Am", "Gsus4"]
