"""The two seeing networks: where diagrams are, and what a diagram shows as a whole.

Light and contrast are evened out inside each graph, so that a page goes in as
it is: uint8 values as float32, ``[n, channels, row, col]``.
"""

from __future__ import annotations

import torch
from torch import Tensor, nn

from reader.image.crops import READING_SIZE
from reader.training.content import MAX_ROWS, MAX_STRINGS
from reader.training.samples import NUMBERS

STATES = 4 + MAX_ROWS
FINGERS = 6
KINDS = 3


def even_light(x: Tensor) -> Tensor:
    """Zero mean and unit spread per picture."""
    x = x * (1 / 255)
    mean = x.mean((1, 2, 3), keepdim=True)
    x = x - mean
    spread = (x * x).mean((1, 2, 3), keepdim=True)
    return x / (spread + 1e-3).sqrt()


def conv(i: int, o: int, k: int = 3, s: int = 1, groups: int = 1, act: bool = True) -> nn.Sequential:
    """Convolution, batch norm, ReLU."""
    layers: list[nn.Module] = [nn.Conv2d(i, o, k, s, k // 2, groups=groups, bias=False), nn.BatchNorm2d(o)]
    if act:
        layers.append(nn.ReLU(inplace=True))
    return nn.Sequential(*layers)


class Block(nn.Module):
    """Residual block of two 3 x 3 convolutions."""

    def __init__(self, c: int) -> None:
        super().__init__()
        self.a = conv(c, c)
        self.b = conv(c, c, act=False)

    def forward(self, x: Tensor) -> Tensor:
        return torch.relu(x + self.b(self.a(x)))


class LeanBlock(nn.Module):
    """Residual block of a wide depthwise convolution between two pointwise ones."""

    def __init__(self, c: int, k: int = 5, grow: int = 2) -> None:
        super().__init__()
        self.a = conv(c, c * grow, 1)
        self.b = conv(c * grow, c * grow, k, groups=c * grow)
        self.c = conv(c * grow, c, 1, act=False)

    def forward(self, x: Tensor) -> Tensor:
        return torch.relu(x + self.c(self.b(self.a(x))))


class Finder(nn.Module):
    """Where diagrams are.

    Input ``[n, 1, h, w]``, sides multiples of 32.  Output at stride 8: ``heat``
    logits ``[n, 1, h/8, w/8]``, ``corners`` ``[n, 8, h/8, w/8]`` offsets of the
    four corners in image order, in units of 32 pixels, ``way`` logits
    ``[n, 4, h/8, w/8]``.
    """

    def __init__(self) -> None:
        super().__init__()
        self.stem = conv(1, 32, 7, 4)
        self.s8 = nn.Sequential(conv(32, 56, 3, 2), LeanBlock(56))
        self.s16 = nn.Sequential(conv(56, 96, 3, 2), *[LeanBlock(96) for _ in range(3)])
        self.s32 = nn.Sequential(conv(96, 160, 3, 2), *[LeanBlock(160) for _ in range(5)])
        self.up16 = conv(160, 96, 1)
        self.mix16 = nn.Sequential(LeanBlock(96), LeanBlock(96))
        self.up8 = conv(96, 56, 1)
        self.mix8 = LeanBlock(56)
        self.last = conv(56, 96, 3)
        self.heat = nn.Conv2d(96, 1, 1)
        self.corners = nn.Conv2d(96, 8, 1)
        self.way = nn.Conv2d(96, 4, 1)
        nn.init.constant_(self.heat.bias, -4.0)  # type: ignore[arg-type]

    def forward(self, x: Tensor) -> tuple[Tensor, Tensor, Tensor]:
        x = even_light(x)
        a = self.s8(self.stem(x))
        b = self.s16(a)
        c = self.s32(b)
        b = self.mix16(b + nn.functional.interpolate(self.up16(c), scale_factor=2.0, mode="nearest"))
        a = self.mix8(a + nn.functional.interpolate(self.up8(b), scale_factor=2.0, mode="nearest"))
        a = self.last(a)
        return self.heat(a), self.corners(a), self.way(a)


class Trunk(nn.Module):
    """From a colour crop to tokens at stride 8 with context."""

    def __init__(self, width: int) -> None:
        super().__init__()
        self.stem = nn.Sequential(conv(3, 24, 5, 2), conv(24, 32, 3, 2), Block(32))
        self.s8 = nn.Sequential(conv(32, 64, 3, 2), Block(64), Block(64))
        self.s16 = nn.Sequential(conv(64, 112, 3, 2), Block(112), Block(112))
        self.s32 = nn.Sequential(conv(112, 144, 3, 2), LeanBlock(144), LeanBlock(144))
        self.up16 = conv(144, 112, 1)
        self.up8 = conv(112, 64, 1)
        self.out = nn.Sequential(LeanBlock(64), conv(64, width, 1))

    def forward(self, x: Tensor) -> Tensor:
        a = self.s8(self.stem(even_light(x)))
        b = self.s16(a)
        b = b + nn.functional.interpolate(self.up16(self.s32(b)), scale_factor=2.0, mode="nearest")
        a = a + nn.functional.interpolate(self.up8(b), scale_factor=2.0, mode="nearest")
        out: Tensor = self.out(a)
        return out.flatten(2).transpose(1, 2)


class Attend(nn.Module):
    """Multi-head attention, written out so that every runtime knows its parts."""

    def __init__(self, width: int, heads: int) -> None:
        super().__init__()
        self.heads = heads
        self.q = nn.Linear(width, width)
        self.k = nn.Linear(width, width)
        self.v = nn.Linear(width, width)
        self.o = nn.Linear(width, width)

    def forward(self, x: Tensor, memory: Tensor, key: Tensor) -> Tensor:
        n, m, d = x.shape[1], memory.shape[1], x.shape[2]
        h = self.heads
        q = self.q(x).view(-1, n, h, d // h).transpose(1, 2)
        k = self.k(key).view(-1, m, h, d // h).transpose(1, 2)
        v = self.v(memory).view(-1, m, h, d // h).transpose(1, 2)
        scores = torch.matmul(q * (d // h) ** -0.5, k.transpose(2, 3))
        out = torch.matmul(torch.softmax(scores, -1), v)
        merged: Tensor = self.o(out.transpose(1, 2).reshape(-1, n, d))
        return merged


class DecoderLayer(nn.Module):
    """Queries look at each other, then at the tokens."""

    def __init__(self, width: int, heads: int = 4) -> None:
        super().__init__()
        self.own = Attend(width, heads)
        self.cross = Attend(width, heads)
        self.feed = nn.Sequential(nn.Linear(width, width * 2), nn.ReLU(inplace=True), nn.Linear(width * 2, width))
        self.n1, self.n2, self.n3 = nn.LayerNorm(width), nn.LayerNorm(width), nn.LayerNorm(width)

    def forward(self, x: Tensor, memory: Tensor, key: Tensor) -> Tensor:
        y = self.n1(x)
        x = x + self.own(y, y, y)
        x = x + self.cross(self.n2(x), memory, key)
        out: Tensor = x + self.feed(self.n3(x))
        return out


class Looker(nn.Module):
    """Trunk and decoder: a few learned queries look at the tokens of a picture."""

    def __init__(self, size: int, queries: int, width: int = 128, layers: int = 3) -> None:
        super().__init__()
        self.trunk = Trunk(width)
        self.place = nn.Parameter(torch.randn(1, (size // 8) ** 2, width) * 0.2)
        self.queries = nn.Parameter(torch.randn(1, queries, width) * 0.5)
        self.layers = nn.ModuleList([DecoderLayer(width) for _ in range(layers)])
        self.norm = nn.LayerNorm(width)

    def forward(self, x: Tensor) -> Tensor:
        memory = self.trunk(x)
        key = memory + self.place
        q = self.queries.expand(x.shape[0], -1, -1)
        for layer in self.layers:
            q = layer(q, memory, key)
        out: Tensor = self.norm(q)
        return out


class DiagramReader(nn.Module):
    """What a straightened diagram shows.

    Input ``[n, 3, 256, 256]``.  Outputs (logits): ``strings`` ``[n, 8, 4 + 8 +
    6 + 9]`` per string state, finger, barre row; ``whole`` ``[n, 9 + 9 + 25 + 2
    + 3 + 4]`` string count, rows, first fret, nut, kind, way; ``corners``
    ``[n, 8]`` corrections in units of the grid's side.
    """

    STRING_PARTS = (STATES, FINGERS, MAX_ROWS + 1)
    WHOLE_PARTS = (MAX_STRINGS + 1, MAX_ROWS + 1, NUMBERS, 2, KINDS, 4)

    def __init__(self, width: int = 128) -> None:
        super().__init__()
        self.look = Looker(READING_SIZE, MAX_STRINGS + 2, width)
        self.string = nn.Linear(width, sum(self.STRING_PARTS))
        self.whole = nn.Linear(width, sum(self.WHOLE_PARTS))
        self.corners = nn.Linear(width, 8)

    def forward(self, x: Tensor) -> tuple[Tensor, Tensor, Tensor]:
        q = self.look(x)
        return self.string(q[:, :MAX_STRINGS]), self.whole(q[:, MAX_STRINGS]), self.corners(q[:, MAX_STRINGS + 1]) * 0.1
