"""The third network: one number of a tab, looked at closely.

It sees a piece of the strip around one place on a line, at twice the strip's
size, and says whether a number stands there and which; ``reader/image/tab_close.py``
asks it. It is trained with the other two. The pieces are cut on the device, from
the pictures that the strip network is trained on: true places a little aside,
places where the strip network was unsure, and any others.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import torch
from torch import Tensor, nn
from torch.nn import functional

from reader.training.tabs.nets import Light, Mixer, chosen, conv, split, yes_no
from reader.training.tabs.strips import FINE, GAP, STRIDE

TALL, WIDE = 80, 96
"""Pixels of a piece: 2 gaps high, 2.4 gaps wide."""
NUMBER_PARTS = {"here": 1, "tens": 3, "units": 11, "ghost": 1}
IGNORE = 255
SPARE = 12
"""Pixels cut more on every side, so that a piece can be turned and resized."""
ASIDE, BELOW = 0.13, 0.09
"""Gaps (standard deviation) that a piece lies beside and above or below its number."""
NEAR, FAR = 0.4, 0.75
"""Gaps from a number: nearer is the number itself, farther is another place, between does not count."""


class Block(nn.Module):  # type: ignore[misc]
    """Two convolutions around which the input is carried."""

    def __init__(self, channels: int) -> None:
        super().__init__()
        self.body = nn.Sequential(
            conv(channels, channels, (3, 3)),
            nn.Conv2d(channels, channels, 3, 1, 1, bias=False),
            nn.BatchNorm2d(channels),
        )

    def forward(self, x: Tensor) -> Tensor:
        """Same shape out."""
        return functional.relu(x + self.body(x))


class Numbers(nn.Module):  # type: ignore[misc]
    """Piece of 80 × 96 px to: a number is here (1), tens (3), units (11, 10 is x), brackets (1)."""

    def __init__(self) -> None:
        super().__init__()
        self.light = Light(8)
        self.body = nn.Sequential(
            conv(3, 32, (3, 3), (2, 2)),
            conv(32, 48, (3, 3), (2, 2)),
            Block(48),
            conv(48, 80, (3, 3), (2, 2)),
            Block(80),
            Block(80),
            conv(80, 112, (3, 3), (2, 2)),
            Mixer(112, (3, 3)),
            conv(112, 32, (1, 1)),
        )
        self.drop = nn.Dropout(0.1)
        self.head = nn.Linear(32 * (TALL // 16) * (WIDE // 16), sum(NUMBER_PARTS.values()))

    def forward(self, picture: Tensor) -> Tensor:
        """(B, 3, 80, 96) 0–255 to (B, 16) raw scores."""
        return cast(Tensor, self.head(self.drop(self.body(self.light(picture)).flatten(1))))


@dataclass(frozen=True)
class Places:
    """Places on the strips of a batch: sample, block, and column in strip columns of 4 px."""

    sample: Tensor
    block: Tensor
    column: Tensor


def true_places(batch: dict[str, Tensor], count: int) -> Places:
    """Places of numbers, ``count`` of them by lot, some more than once where there are fewer."""
    sample, block, cell = (batch["heat"] == 255).nonzero(as_tuple=True)
    lot = torch.randint(len(sample), (count,), device=sample.device)
    sample, block, cell = sample[lot], block[lot], cell[lot]
    aside = torch.randn(count, device=sample.device) * ASIDE * GAP / STRIDE
    column = cell + 0.5 + batch["offset"][sample, block, cell].float() + aside
    return Places(sample, block, column)


def seen_places(heat: Tensor, count: int) -> Places:
    """The ``count`` likeliest peaks of the strip network's scores (samples, blocks, columns), clear cases apart."""
    highest = functional.max_pool2d(heat[:, None], (1, 5), 1, (0, 2))[:, 0]
    doubt = torch.where((heat == highest) & (heat < 3), heat, torch.full_like(heat, -99.0))
    _, _, columns = heat.shape
    flat = doubt.flatten().topk(count).indices
    row = flat // columns
    aside = torch.randn(count, device=heat.device) * 0.3
    return Places(row // heat.shape[1], row % heat.shape[1], flat % columns + 0.5 + aside)


def other_places(batch: dict[str, Tensor], count: int) -> Places:
    """Any places, half of them at the columns of numbers but on another line."""
    samples, blocks, columns = batch["heat"].shape
    dev = batch["heat"].device
    sample = torch.randint(samples, (count,), device=dev)
    block = torch.randint(1, blocks - 1, (count,), device=dev)
    column = torch.rand(count, device=dev) * columns
    beside = true_places(batch, count // 2)
    half = slice(0, count // 2)
    step = torch.randint(0, 2, (count // 2,), device=dev) * 2 - 1
    sample[half], column[half] = beside.sample, beside.column
    block[half] = (beside.block + step).clamp(0, blocks - 1)
    return Places(sample, block, column)


def together(*parts: Places) -> Places:
    """Several lists of places as one."""
    return Places(*(torch.cat([getattr(p, name) for p in parts]) for name in ("sample", "block", "column")))


def answers(batch: dict[str, Tensor], places: Places) -> dict[str, Tensor]:
    """What is true at each place: here (1, 0, or 255 where it does not count), tens, units, ghost."""
    columns = batch["heat"].shape[2]
    centre = batch["heat"][places.sample, places.block] == 255
    at = torch.arange(columns, device=centre.device) + 0.5 + batch["offset"][places.sample, places.block].float()
    away = torch.where(centre, (at - places.column[:, None]).abs(), torch.full_like(at, 1e3)).min(1)
    gaps = away.values * STRIDE / GAP
    here = torch.where(gaps < NEAR, 1, torch.where(gaps > FAR, 0, IGNORE))
    out = {"here": here}
    for name in ("tens", "units", "ghost"):
        said = batch[name][places.sample, places.block, away.indices].long()
        out[name] = torch.where(here == 1, said, IGNORE)
    return out


def cut_pieces(images: Tensor, places: Places) -> Tensor:
    """Pieces (N, 3, 80, 96) float of pictures (B, H, W, 3), each turned, resized and moved a little."""
    count, dev = len(places.sample), images.device
    _, height, width, _ = images.shape
    middle_x = places.column * STRIDE * FINE
    middle_y = (places.block + 0.5 + torch.randn(count, device=dev) * BELOW) * GAP * FINE
    rows, cols = (torch.arange(n + 2 * SPARE, device=dev) - (n // 2 + SPARE) for n in (TALL, WIDE))
    y = (middle_y.round().long()[:, None] + rows).clamp(0, height - 1)
    x = (middle_x.round().long()[:, None] + cols).clamp(0, width - 1)
    piece = images[places.sample[:, None, None], y[:, :, None], x[:, None, :]].permute(0, 3, 1, 2).float()
    turn = torch.zeros(count, 2, 3, device=dev)
    size_x, size_y = (torch.exp(torch.randn(count, device=dev) * 0.06) for _ in range(2))
    lean = torch.randn(count, device=dev) * 0.06
    turn[:, 0, 0], turn[:, 1, 1], turn[:, 0, 1] = size_x, size_y, lean
    turn[:, 0] *= WIDE / (WIDE + 2 * SPARE)
    turn[:, 1] *= TALL / (TALL + 2 * SPARE)
    grid = functional.affine_grid(turn, [count, 3, TALL, WIDE], align_corners=False)
    return functional.grid_sample(piece, grid, "bilinear", "border", align_corners=False)


def softened(pieces: Tensor) -> Tensor:
    """A part of the pieces blurred, more or less."""
    part = torch.rand(len(pieces), 1, 1, 1, device=pieces.device)
    soft = functional.avg_pool2d(pieces, 3, 1, 1, count_include_pad=False)
    softer = functional.avg_pool2d(soft, 3, 1, 1, count_include_pad=False)
    return torch.where(part < 0.15, softer, torch.where(part < 0.35, soft, pieces))


def numbers_loss(out: Tensor, truth: dict[str, Tensor]) -> dict[str, Tensor]:
    """Losses by part."""
    part = split(out, NUMBER_PARTS)
    return {
        "here": yes_no(part["here"][:, 0], truth["here"]),
        "units": chosen(part["units"], truth["units"], 0.01),
        "tens": chosen(part["tens"], truth["tens"], 0.01),
        "ghost": 0.2 * yes_no(part["ghost"][:, 0], truth["ghost"]),
    }
