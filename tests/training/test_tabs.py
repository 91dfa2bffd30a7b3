"""Drawn tab samples: what the targets claim is where it was drawn, and the close pieces ask what is true."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest

from reader.image import tab_strip
from reader.training.tabs import strips
from reader.training.tabs.canvas import sample_paper, shaken_by
from reader.training.tabs.drawing import parcel, unpacked
from reader.training.tabs.glyphs import Faces, bent, inked, joined, sample_writer, stroke_mask
from reader.training.tabs.layout import draw_system
from reader.training.tabs.look import legible, sample_look
from reader.training.tabs.strips import FINE, GAP, MARGIN, STRIDE, cut_strip
from reader.training.tabs.systems import Truth

FACES = Faces((), (), ())


def look_of(rng: random.Random, lines: int, gap: float) -> strips.Look:
    """A hand that writes in strokes, so that no font is needed."""
    faces = Faces(("none",), ("none",), ())
    while True:
        look = sample_look(rng, faces, gap, (255, 255, 255), lines)
        if look.kind == "hand" and look.face == "stroke" and not look.muted:
            return look


@pytest.fixture
def wordless(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out what is written with fonts."""
    for name in ("draw_words", "draw_rings", "draw_rhythm"):
        monkeypatch.setattr(f"reader.training.tabs.signs.{name}", lambda *_: None)
    for name in ("draw_clef", "draw_after"):
        monkeypatch.setattr(f"reader.training.tabs.signs.{name}", lambda *_: 0.0)
    monkeypatch.setattr("reader.training.tabs.signs.draw_between", lambda *_: None)


def drawn(seed: int, lines: int = 6, gap: float = 18.0) -> tuple[Truth, strips.Canvas, random.Random]:
    rng = random.Random(seed)
    look = look_of(rng, lines, gap)
    canvas = strips.Canvas(int(gap * 22), int(gap * (lines + 9)))
    return draw_system(canvas, FACES, rng, look, -gap, gap * 4.5, canvas.width + gap), canvas, rng


@pytest.mark.usefixtures("wordless")
def test_the_targets_of_a_strip_lie_on_its_numbers() -> None:
    hits = total = 0
    for seed in range(12):
        truth, canvas, rng = drawn(seed)
        ink = canvas.layers["numbers"][1]
        picture = np.repeat(255 - ink[:, :, None], 3, axis=2)
        sample = cut_strip(picture, truth, False, rng)
        assert sample["image"].shape == (10 * GAP * FINE, strips.WIDTH * FINE, 3)
        for block, cell in zip(*np.nonzero(sample["heat"] == 255), strict=True):
            x = (cell + 0.5 + float(sample["offset"][block, cell])) * STRIDE * FINE
            y = (block + 0.5) * GAP * FINE
            near = sample["image"][int(y - 22) : int(y + 22), max(0, int(x - 12)) : int(x + 12)]
            total += 1
            hits += int(near.size > 0 and near.min() < 225)
    assert total > 60
    assert hits / total > 0.97


@pytest.mark.usefixtures("wordless")
def test_numbers_can_be_told_from_their_pieces() -> None:
    torch = pytest.importorskip("torch")
    from reader.training.tabs import numbers

    torch.manual_seed(1)
    samples = []
    for seed in range(6):
        truth, canvas, rng = drawn(seed)
        picture = np.repeat(255 - canvas.layers["numbers"][1][:, :, None], 3, axis=2)
        samples.append(cut_strip(picture, truth, False, rng))
    batch = {k: torch.from_numpy(np.ascontiguousarray(v)) for k, v in strips.stacked(samples).items()}
    there = numbers.true_places(batch, 64)
    truth_there = numbers.answers(batch, there)
    assert (truth_there["here"] != 0).all()
    assert (truth_there["here"] == 1).float().mean() > 0.9
    pieces = numbers.cut_pieces(batch["image"], there)
    assert pieces.shape == (64, 3, numbers.TALL, numbers.WIDE)
    middle = pieces[:, :, 20:60, 28:68].amin(dim=(1, 2, 3))
    assert (middle < 225).float().mean() > 0.9
    elsewhere = numbers.answers(batch, numbers.other_places(batch, 200))
    assert (elsewhere["units"][elsewhere["here"] == 0] == numbers.IGNORE).all()
    assert (elsewhere["here"] == 0).sum() > 40


def test_a_batch_is_handed_over_whole(tmp_path: Path) -> None:
    batch = {"image": np.arange(24, dtype=np.uint8).reshape(2, 3, 4), "heat": np.ones((2, 5), np.uint8)}
    back = unpacked(parcel(batch, tmp_path / "1-1.npy"))
    assert all(np.array_equal(back[name], values) for name, values in batch.items())
    assert not list(tmp_path.iterdir())


def test_the_strip_network_is_decoded_as_it_was_taught() -> None:
    assert (strips.GAP, strips.MARGIN, strips.STRIDE) == (tab_strip.GAP, MARGIN, tab_strip.STRIDE)


def test_what_is_caught_stays_legible() -> None:
    rng = random.Random(3)
    for _ in range(60):
        look = look_of(rng, 6, 9.0)
        paper = legible(look, sample_paper(rng, "photo", 40.0))
        assert paper.blur <= 0.11 * max(look.least_px, look.size * look.gap) + 1e-9


def test_a_shaken_camera_smears_along_its_way() -> None:
    dot = np.zeros((21, 21, 3), np.uint8)
    dot[10, 10] = 255
    rows, cols = np.nonzero(shaken_by(dot, 7.0, 0.0)[:, :, 0])
    assert np.ptp(rows) <= 2
    assert 5 <= np.ptp(cols) <= 9


def test_written_digits_are_cut_tight_and_keep_their_size() -> None:
    rng = random.Random(2)
    for text in ("0", "7", "12", "x"):
        mask = stroke_mask(text, 30.0, 3.0, sample_writer(rng), rng)
        assert mask[0].any()
        assert mask[:, -1].any()
        assert 20 < mask.shape[0] < 46
    pair = joined([mask, mask], 30.0, rng)
    assert pair.shape[1] > 1.6 * mask.shape[1]
    assert bent(mask, 0.03, rng).shape[0] == pytest.approx(mask.shape[0], abs=9)


def test_bolder_ink_covers_more() -> None:
    disc = np.clip(14 - np.hypot(*(np.mgrid[-20:21, -20:21])), 0, 1) * 255
    soft = np.asarray(disc * np.linspace(0.2, 1, 41)[None, :], np.uint8)
    assert (inked(soft, 0.1) > 128).sum() > (inked(soft, 0.7) > 128).sum() > 0
