"""The text network as torch module, and the lines that it is trained on."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from reader.image.ctc import SIGNS, best_path
from reader.image.text import LINE, read_lines
from reader.training import lettering
from reader.training.lettering import Hand
from reader.training.text_lines import Line, scrap_lines, sheet_lines
from reader.training.text_words import Words, plain_signs, sample_label_words, sample_number_words

NETWORK = Path("reader/models/text.onnx")


@pytest.fixture(scope="module")
def lines() -> list[Line]:
    """Lines of a few sheets and scraps, lettered with the own stroke alphabet only: the same everywhere."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(lettering, "font_files", lambda: ((), (), None))
        patch.setattr(lettering, "real_digits", dict)
        sheets = [line for seed in range(12) for line in sheet_lines(np.random.default_rng(seed), takes=1)]
        return sheets + [line for seed in range(6) for line in scrap_lines(np.random.default_rng(seed))]


def test_the_torch_form_answers_as_the_file_does() -> None:
    torch = pytest.importorskip("torch")
    onnx, onnxruntime = pytest.importorskip("onnx"), pytest.importorskip("onnxruntime")
    from reader.training.onnx_graph import Graph

    model = onnx.load(str(NETWORK))
    graph = Graph(model)
    session = onnxruntime.InferenceSession(str(NETWORK), providers=["CPUExecutionProvider"])
    for width in (32, 112, 240):
        picture = np.random.default_rng(width).uniform(-1, 1, (2, 3, LINE, width)).astype(np.float32)
        with torch.no_grad():
            got = graph(torch.from_numpy(picture)).softmax(-1).numpy()
        assert np.abs(got - session.run(None, {"picture": picture})[0]).max() < 1e-4
    before = model.SerializeToString()
    assert graph.put_into(model).SerializeToString() == before, "untrained weights go back as they came"
    parameter = next(graph.parameters())
    with torch.no_grad():
        parameter += 1
    assert graph.put_into(model).SerializeToString() != before


def test_lines_are_as_the_reader_feeds_them(lines: list[Line]) -> None:
    assert {line.what for line in lines} >= {"label", "number"}
    assert {line.where for line in lines} == {"sheet", "scrap"}
    for line in lines:
        assert line.picture.dtype == np.uint8
        assert line.picture.shape[0] == LINE
        assert line.picture.shape[1] % 16 == 0
        assert set(line.text) <= set(SIGNS)
        assert line.picture.min() < 128, "something is written"


def test_clean_lines_of_sheets_read_as_their_text(lines: list[Line]) -> None:
    """The network, which knows nothing of how the samples are made, bears their texts out."""
    wide = [line for line in lines if line.where == "sheet"]
    assert len(wide) > 15
    pictures = [line.picture for line in wide]
    read = [plain_signs(best_path(signs)[0]) for signs in read_lines(pictures)]
    same = [a[:1] == line.text[:1] for a, line in zip(read, wide, strict=True)]
    assert np.mean(same) > 0.7
    others = [a[:1] == line.text[:1] for a, line in zip(read[1:] + read[:1], wide, strict=True)]
    assert np.mean(others) < 0.5


def words_of(seed: int, count: int) -> list[Words]:
    rng = np.random.default_rng(seed)
    return [sample(rng) for _ in range(count) for sample in (sample_label_words, sample_number_words)]


def test_texts_are_what_their_parts_say() -> None:
    drawn_as = {"M": "m", "o": "°", "*": "#"}
    for words in words_of(4, 300):
        shown = plain_signs("".join(p.text for p in words.parts))
        assert len(shown) == len(words.text)
        assert all(a == b or drawn_as.get(a) == b for a, b in zip(shown, words.text, strict=True))


def test_all_usual_forms_turn_up() -> None:
    words = words_of(5, 1500)
    labels = {w.text for w in words if w.what == "label"}
    numbers = {w.text for w in words if w.what == "number"}
    assert {"F#", "Bb", "C°7", "Am", "G7"} & labels
    assert any("ø" in t for t in labels)
    assert any("Δ" in t for t in labels)
    assert any("/" in t[1:] for t in labels)
    assert {"5fr", "VII", "(4)", "3"} <= numbers
    assert any(t.startswith("fr") for t in numbers)
    assert any(t.endswith("fret") for t in numbers)


def test_a_hand_knows_what_it_can_write() -> None:
    hand = Hand("strokes", np.random.default_rng(0))
    assert hand.knows("C#m7")
    assert not hand.knows("plucky")
    assert cv2.countNonZero(hand.stamp("C#m7", 30, np.random.default_rng(1))) > 50
