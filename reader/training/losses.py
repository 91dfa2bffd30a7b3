"""What each network is told about its mistakes."""

from __future__ import annotations

import torch
from torch import Tensor
from torch.nn import functional

from reader.training.nets import DiagramReader
from reader.training.samples import IGNORE, STRIDE

CORNER_UNIT = 32.0
Batch = dict[str, Tensor]


def finder_targets(corners: Tensor, role: Tensor, side: int) -> tuple[Tensor, Tensor]:
    """Centre heat and where it does not count.

    Parameters
    ----------
    corners : [n, k, 4, 2] tile pixels
    role : [n, k] 0 nothing, 1 diagram, 2 neither for nor against
    side : cells a side

    Returns
    -------
    heat [n, side, side] in 0..1, keep [n, side, side] 1 where the loss counts
    """
    centre = corners.mean(2) / STRIDE - 0.5 + 0.5 / STRIDE
    size = (corners.amax(2) - corners.amin(2)).amin(-1) / STRIDE
    sigma = (size / 7).clamp(0.7, 3.5)[:, :, None, None]
    axis = torch.arange(side, device=corners.device, dtype=torch.float32)
    dx = axis[None, None, None, :] - centre[:, :, 0, None, None]
    dy = axis[None, None, :, None] - centre[:, :, 1, None, None]
    bell = torch.exp(-(dx * dx + dy * dy) / (2 * sigma * sigma))
    heat = (bell * (role == 1)[:, :, None, None]).amax(1)
    blank = (bell * (role == 2)[:, :, None, None]).amax(1)
    return heat, ((blank < 0.2) | (heat > 0.9)).float()


def finder_loss(out: tuple[Tensor, Tensor, Tensor], batch: Batch) -> tuple[Tensor, dict[str, Tensor]]:
    """Focal loss on the centres, relative distance of the corners, way up."""
    heat, corners, way = (o.float() for o in out)
    side = heat.shape[-1]
    target, keep = finder_targets(batch["corners"], batch["role"], side)
    # the cell whose middle lies nearest to the centre is the positive one
    n, k = batch["role"].shape
    centre = batch["corners"].mean(2)
    cell = (centre / STRIDE).floor().long().clamp(0, side - 1)
    positive = torch.zeros_like(target)
    hit = batch["role"] == 1
    bi = torch.arange(n, device=heat.device)[:, None].expand(n, k)
    positive[bi[hit], cell[..., 1][hit], cell[..., 0][hit]] = 1
    target = torch.maximum(target * 0.999, positive)
    logit = heat[:, 0]
    p = torch.sigmoid(logit).clamp(1e-5, 1 - 1e-5)
    count = positive.sum().clamp(min=1)
    pos = (-((1 - p) ** 2) * torch.log(p) * positive).sum()
    neg = (-(p**2) * torch.log(1 - p) * (1 - target) ** 4 * (1 - positive) * keep).sum()
    heat_loss = (pos + neg) / count
    # corners and way are asked of the cells around the centre as well
    corner_loss = torch.zeros((), device=heat.device)
    way_loss = torch.zeros((), device=heat.device)
    size = (batch["corners"].amax(2) - batch["corners"].amin(2)).amax(-1).clamp(min=16)
    for oy, ox, weight in ((0, 0, 1.0), (0, 1, 0.25), (0, -1, 0.25), (1, 0, 0.25), (-1, 0, 0.25)):
        cx, cy = (cell[..., 0] + ox).clamp(0, side - 1), (cell[..., 1] + oy).clamp(0, side - 1)
        middle = torch.stack([cx, cy], -1).float() * STRIDE + STRIDE / 2 - 0.5
        got = corners[bi, :, cy, cx].view(n, k, 4, 2) * CORNER_UNIT + middle[:, :, None]
        miss = (got - batch["corners"]).abs().sum((2, 3)) / size
        corner_loss = corner_loss + weight * (miss * hit).sum() / count
        ce = functional.cross_entropy(way[bi, :, cy, cx].flatten(0, 1), batch["way"].flatten(), reduction="none").view(
            n, k
        )
        way_loss = way_loss + weight * (ce * hit).sum() / count
    loss = heat_loss + 1.0 * corner_loss + 0.3 * way_loss
    return loss, {"heat": heat_loss, "corner": corner_loss, "way": way_loss}


def _ce(logits: Tensor, target: Tensor, smoothing: float = 0.0) -> Tensor:
    loss = functional.cross_entropy(logits, target, ignore_index=IGNORE, reduction="none", label_smoothing=smoothing)
    return loss.sum() / (target != IGNORE).sum().clamp(min=1)


def reader_loss(out: tuple[Tensor, Tensor, Tensor], batch: Batch) -> tuple[Tensor, dict[str, Tensor]]:
    """Cross entropies of everything that a diagram shows, and the corner corrections."""
    string, whole, corners = (o.float() for o in out)
    state, finger, barre = string.split(DiagramReader.STRING_PARTS, -1)
    parts = whole.split(DiagramReader.WHOLE_PARTS, -1)
    terms = {
        "states": 4.0 * _ce(state.flatten(0, 1), batch["states"].flatten()),
        "fingers": 1.5 * _ce(finger.flatten(0, 1), batch["fingers"].flatten()),
        "barre": 1.5 * _ce(barre.flatten(0, 1), batch["barre"].flatten()),
    }
    for name, logits, weight in zip(
        ("strings", "rows", "first", "nut", "kind", "way"), parts, (0.5, 0.5, 0.4, 0.15, 0.5, 0.5), strict=True
    ):
        terms[name] = weight * _ce(logits, batch[name])
    counts = batch["corners_count"][:, None]
    terms["corners"] = 30 * ((corners - batch["corners"]).abs() * counts).sum() / (8 * counts.sum().clamp(min=1))
    return torch.stack(list(terms.values())).sum(), terms
