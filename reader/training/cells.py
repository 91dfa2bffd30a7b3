"""The cell network: every place for a mark stands in a cell of its own, and each cell is judged among its neighbours.

Strings and rows are counted before, so a diagram can be stretched onto a
lattice of even cells.  What is left to see is small and always of one size:
hence the network is small, and few drawings teach it much.
"""

from __future__ import annotations

import torch
from torch import Tensor, nn
from torch.nn import functional

from reader.image import crops
from reader.training.nets import Block, conv, even_light
from reader.training.samples import IGNORE

CHANNELS = {"above": 3, "stop": 1, "finger": 6, "barre": 1}
"""Per cell: muted, open and nothing (asked above and below the grid); a stop; the finger 0 to 5; under a barre."""
FINGER_WEIGHT, BARRE_WEIGHT, STATE_WEIGHT = 1.0, 3.0, 2.0


class Cells(nn.Module):
    """What stands in each cell.

    Input ``[n, 3, rows * 40, columns * 32]``.  Output ``cells`` logits
    ``[n, 11, rows, columns]``, see ``CHANNELS``.
    """

    def __init__(self, width: int = 96) -> None:
        super().__init__()
        self.stem = nn.Sequential(conv(3, 20, 3, 2), conv(20, 36, 3, 2), Block(36))
        self.s8 = nn.Sequential(conv(36, 64, 3, 2), Block(64))
        self.gather = nn.Sequential(
            nn.Conv2d(64, width, (5, 4), (5, 4), bias=False), nn.BatchNorm2d(width), nn.ReLU(inplace=True)
        )
        self.mix = nn.Sequential(Block(width), Block(width), Block(width))
        self.out = nn.Conv2d(width, sum(CHANNELS.values()), 1)

    def forward(self, x: Tensor) -> Tensor:
        out: Tensor = self.out(self.mix(self.gather(self.s8(self.stem(even_light(x))))))
        return out


def odds(cells: Tensor) -> tuple[Tensor, Tensor, Tensor]:
    """Logits per string of its state [n, S, 3 + R], per place of the finger [n, S, R, 6] and of a barre [n, S, R]."""
    beside, above = crops.CELLS_BESIDE, crops.CELLS_ABOVE
    inner = cells[:, :, :, beside:-beside]
    rows = inner.shape[2] - above - crops.CELLS_BELOW
    grid, ends = inner[:, :, above : above + rows], inner[:, :, above - 1] + inner[:, :, above + rows]
    state = torch.cat([ends[:, :3], grid[:, 3]], 1).transpose(1, 2)
    finger = (grid[:, 4:10] + ends[:, 4:10].unsqueeze(2)).permute(0, 3, 2, 1)
    return state, finger, grid[:, 10].transpose(1, 2)


def cells_loss(cells: Tensor, batch: dict[str, Tensor]) -> tuple[Tensor, dict[str, Tensor]]:
    """Cross entropy of the states, of the fingers where there is a stop, of barres in every cell."""
    state, finger, barre = odds(cells.float())
    target = batch["state"]
    terms = {"state": functional.cross_entropy(state.flatten(0, 1), target.flatten(), ignore_index=IGNORE)}
    row = (target - 3).clamp(min=0)
    at_stop = finger.gather(2, row[:, :, None, None].expand(-1, -1, 1, 6))[:, :, 0]
    wanted = torch.where(target >= 3, batch["finger"], torch.full_like(target, IGNORE))
    each = functional.cross_entropy(at_stop.flatten(0, 1), wanted.flatten(), ignore_index=IGNORE, reduction="sum")
    terms["finger"] = FINGER_WEIGHT * each / (wanted != IGNORE).sum().clamp(min=1)
    rows = torch.arange(1, barre.shape[2] + 1, device=barre.device)
    under = (batch["barre"][:, :, None] == rows).float()
    terms["barre"] = BARRE_WEIGHT * functional.binary_cross_entropy_with_logits(barre, under)
    return STATE_WEIGHT * terms["state"] + terms["finger"] + terms["barre"], terms


def cells_scores(cells: Tensor, batch: dict[str, Tensor]) -> dict[str, tuple[float, float]]:
    """Shares as (right, of): all states of a diagram, all fingers, all barres."""
    state, finger, barre = odds(cells.float())
    target = batch["state"]
    got = state.argmax(-1)
    alike = (got == target) | ((got.clamp(1, 2) == got) & (target.clamp(1, 2) == target))
    row = (target - 3).clamp(min=0)
    at_stop = finger.gather(2, row[:, :, None, None].expand(-1, -1, 1, 6))[:, :, 0].argmax(-1)
    fingers = (at_stop == batch["finger"]) | (target < 3) | (batch["finger"] == IGNORE)
    rows = torch.arange(1, barre.shape[2] + 1, device=barre.device)
    barres = ((barre > 0) == (batch["barre"][:, :, None] == rows)).flatten(1).all(1)
    n = float(len(target))
    written = (batch["finger"] > 0).any(1)
    return {
        "states": (float(alike.all(1).sum()), n),
        "fingers": (float((fingers.all(1) & written).sum()), float(written.sum())),
        "no fingers": (float((fingers.all(1) & ~written).sum()), float((~written).sum())),
        "barres": (float(barres.sum()), n),
    }
