"""The network that looks closely at one place on a string: is there a stop, and which sign is written there.

A digit in a dot is a fifth of a fret space high: too small for the network that sees all cells at once.
"""

from __future__ import annotations

from torch import Tensor, nn
from torch.nn import functional

from reader.image.marks import SIGNS
from reader.training.nets import Block, conv, even_light
from reader.training.samples import IGNORE


class Pieces(nn.Module):
    """What stands at one place.

    Input ``[n, 3, 80, 80]``.  Output ``[n, 1 + 17]`` logits: a stop is here; the sign (none, 1 to 4, thumb, 5 to 15).
    """

    def __init__(self) -> None:
        super().__init__()
        self.see = nn.Sequential(
            conv(3, 24, 5, 2), conv(24, 36, 3, 2), Block(36), conv(36, 64, 3, 2), Block(64), Block(64),
            conv(64, 96, 3, 2), Block(96), conv(96, 64, 1),
        )  # fmt: skip
        self.gather = nn.Sequential(nn.Linear(64 * 25, 96), nn.ReLU(inplace=True), nn.Linear(96, 1 + SIGNS))

    def forward(self, x: Tensor) -> Tensor:
        out: Tensor = self.gather(self.see(even_light(x)).flatten(1))
        return out


def pieces_loss(out: Tensor, batch: dict[str, Tensor]) -> tuple[Tensor, dict[str, Tensor]]:
    """Whether a stop is here, and the sign where it can be read."""
    out = out.float()
    asked = batch["here"] != IGNORE
    here = functional.binary_cross_entropy_with_logits(out[:, 0], batch["here"].clamp(min=0).float(), reduction="none")
    terms = {"here": (here * asked).sum() / asked.sum().clamp(min=1)}
    terms["sign"] = functional.cross_entropy(out[:, 1:], batch["sign"], ignore_index=IGNORE)
    return terms["here"] + terms["sign"], terms


def pieces_scores(out: Tensor, batch: dict[str, Tensor]) -> dict[str, tuple[float, float]]:
    """Shares as (right, of): stops and places without one, signs written and none."""
    here, sign = batch["here"], batch["sign"]
    got = out[:, 1:].argmax(1)
    asked, written, none = here != IGNORE, sign > 0, sign == 0
    alike = (out[:, 0] > 0) == (here == 1)
    return {
        "here": (float((alike & asked).sum()), float(asked.sum())),
        "signs": (float(((got == sign) & written).sum()), float(written.sum())),
        "no signs": (float(((got == 0) & none).sum()), float(none.sum())),
    }
