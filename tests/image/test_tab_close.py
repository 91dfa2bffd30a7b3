"""The close look: pieces cut as in training, opinions weighed, and a drawn strip read with the shipped network."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from reader.image import tab_close, tab_strip
from reader.image.engines import load_engine
from reader.image.tab_lines import FINE, GAP, MARGIN
from reader.image.tab_strip import Spot

FINE_GAP = GAP * FINE
NOTHING = np.log(np.full(26, 1 / 26))


def leaning(value: int, share: float) -> np.ndarray:
    """Log probabilities that give one value a share and the others the rest alike."""
    shares = np.full(26, (1 - share) / 25)
    shares[value] = share
    return np.asarray(np.log(shares))


def spot(column: float, block: int, here: float = 1.5, values: np.ndarray = NOTHING) -> Spot:
    return Spot(column, block, here, values, -5.0)


def drawn_strip(numbers: dict[tuple[int, int], str], columns: int = 400) -> np.ndarray:
    """Six lines with numbers at (column, block), dark on light, at twice the strip's size."""
    fine = np.full((10 * FINE_GAP, columns * FINE, 3), 245, np.uint8)
    for i in range(6):
        y = (MARGIN + i) * FINE_GAP + FINE_GAP // 2
        cv2.line(fine, (0, y), (fine.shape[1], y), (90, 90, 90), 2, cv2.LINE_AA)
    for (column, block), text in numbers.items():
        (wide, tall), _ = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, 1.0, 3)
        corner = (column * FINE - wide // 2, block * FINE_GAP + FINE_GAP // 2 + tall // 2)
        cv2.putText(fine, text, corner, cv2.FONT_HERSHEY_SIMPLEX, 1.0, (30, 30, 30), 3, cv2.LINE_AA)
    return fine


class Network:
    """Says the same of every piece, and remembers how many it was shown."""

    def __init__(self, here: float, units: int, sure: float) -> None:
        self.row = np.full(16, 0.0, np.float32)
        self.row[0] = here
        self.row[1], self.row[4 + units], self.row[15] = 12.0, sure, -5.0
        self.shown: list[int] = []

    def run(self, inputs: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
        count = len(inputs["picture"])
        self.shown.append(count)
        return {"number": np.repeat(self.row[None], count, 0)}


def test_numbers_of_a_drawn_strip_are_read_from_their_pieces_alone() -> None:
    written = {(60, 2): "3", (120, 4): "12", (180, 7): "5", (240, 3): "0", (300, 6): "10"}
    spots = tuple(spot(column, block) for column, block in written)
    numbers, doubts = tab_close.looked_closely(drawn_strip(written), spots, load_engine("tab-numbers").run)
    assert {(n.column, n.block): str(n.fret) for n in numbers} == written
    assert doubts == ()


def test_a_bare_line_holds_no_number() -> None:
    opinion = tab_close.opinion_of(
        (drawn_strip({}),), (spot(100, 3), spot(200, 5)), tab_close.LOOKS, load_engine("tab-numbers").run
    )
    assert (opinion.here < 0).all()


def test_the_close_look_decides_where_the_strip_network_wavers() -> None:
    network = Network(5.0, 8, 9.0)
    wavering = spot(100, 3, values=np.logaddexp(leaning(3, 0.5), leaning(8, 0.4)))
    (number,), doubts = tab_close.looked_closely(drawn_strip({}), (wavering,), network.run)
    assert number.fret == 8
    assert number.second == 3
    assert doubts == ()


def test_a_one_taken_for_a_slide_leaves_a_doubt() -> None:
    fine = drawn_strip({})
    network, y = Network(5.0, 1, 9.0), 3 * FINE_GAP + FINE_GAP // 2
    for gaps in (3, 4.2, 5.4, 9):
        x, lean = int(gaps * FINE_GAP), 6 if gaps == 4.2 else 0
        cv2.line(fine, (x - lean, y + 12), (x + lean, y - 12), (20, 20, 20), 4)
    spots = tuple(spot(gaps * GAP, 3, here=5.0, values=leaning(1, 0.999)) for gaps in (3, 4.2, 5.4, 9))
    numbers, doubts = tab_close.looked_closely(fine, spots, network.run)
    assert [n.column / GAP for n in numbers] == [3, 5.4, 9]
    assert doubts == (spots[1],)


def test_opinions_that_agree_are_surer_than_ones_that_do_not() -> None:
    network = Network(5.0, 7, 5.0)
    agree, differ = (spot(100, 3, values=leaning(value, 0.95)) for value in (7, 1))
    numbers, _ = tab_close.looked_closely(drawn_strip({}), (agree, differ), network.run)
    assert numbers[0].confidence > numbers[1].confidence


def test_only_doubtful_places_are_looked_at_more_than_once() -> None:
    sure, unsure = Network(6.0, 7, 14.0), Network(1.0, 7, 3.0)
    place = spot(100, 3, here=3.0, values=leaning(7, 0.999))
    tab_close.looked_closely(drawn_strip({}), (place, place), sure.run)
    tab_close.looked_closely(drawn_strip({}), (place, place), unsure.run)
    assert sure.shown == [2]
    assert unsure.shown == [2, 2 * len(tab_close.LOOKS)]


def test_what_may_be_a_number_but_cannot_be_read_is_a_doubt() -> None:
    illegible = Network(2.0, 7, 0.1)
    clear, faint = spot(100, 3, here=2.0), spot(200, 3, here=-3.0)
    numbers, doubts = tab_close.looked_closely(drawn_strip({}), (clear, faint), illegible.run)
    assert numbers == ()
    assert doubts == (clear,)


def test_nothing_is_asked_without_a_place() -> None:
    network = Network(5.0, 8, 9.0)
    assert tab_close.looked_closely(drawn_strip({}), (), network.run) == ((), ())
    assert network.shown == []


def test_an_x_is_muted_and_brackets_are_seen() -> None:
    network = Network(5.0, tab_strip.MUTED, 9.0)
    network.row[15] = 8.0
    (number,), _ = tab_close.looked_closely(drawn_strip({(100, 3): "x"}), (spot(100, 3),), network.run)
    assert number.fret is None
    assert number.ghost


def test_pieces_are_cut_as_the_network_was_taught(monkeypatch: pytest.MonkeyPatch) -> None:
    torch = pytest.importorskip("torch")
    from reader.training.tabs import numbers, strips

    assert (numbers.TALL, numbers.WIDE, strips.FINE) == (tab_close.TALL, tab_close.WIDE, FINE)
    assert numbers.NUMBER_PARTS == tab_close.NUMBER_PARTS
    monkeypatch.setattr(torch, "randn", lambda *size, device=None: torch.zeros(size, device=device))
    fine = drawn_strip({(100, 3): "7", (300, 5): "12"})
    place = numbers.Places(torch.zeros(1, dtype=torch.long), torch.tensor([3]), torch.tensor([100.0 / strips.STRIDE]))
    taught = numbers.cut_pieces(torch.from_numpy(fine[None]), place)[0].permute(1, 2, 0).numpy()
    assert np.abs(taught - tab_close.cut_piece(fine, spot(100.0, 3), (0, 0, 1.0))).max() <= 1


def test_a_piece_of_line_between_numbers_is_no_x() -> None:
    network = Network(5.0, tab_strip.MUTED, 9.0)
    strip = drawn_strip({})
    gap = GAP * FINE
    y = 3 * gap + gap // 2
    strip[y - gap // 2 : y + gap // 2] = 255
    for start in range(0, strip.shape[1], 2 * gap):
        strip[y - 4 : y + 4, start : start + gap] = 30
    seen, _ = tab_close.looked_closely(strip, (spot(2.5 * GAP, 3),), network.run)
    assert seen == ()
    at = int(2.5 * gap)
    strip[y - gap // 3 : y + gap // 3, at - 6 : at + 6] = 30
    (number,), _ = tab_close.looked_closely(strip, (spot(2.5 * GAP, 3),), network.run)
    assert number.fret is None
