"""How well the networks do on drawn samples that they were not trained on."""

from __future__ import annotations

import torch
from torch import Tensor

from reader.training.losses import CORNER_UNIT, Batch
from reader.training.nets import DiagramReader
from reader.training.samples import IGNORE, STRIDE


def _share(right: Tensor, counts: Tensor) -> tuple[float, float]:
    return float((right & counts).sum()), float(counts.sum())


def finder_scores(out: tuple[Tensor, Tensor, Tensor], batch: Batch) -> dict[str, tuple[float, float]]:
    """Shares as (right, of): centres above one half, corners within 6 % of the size, way up."""
    heat, corners, way = (o.float() for o in out)
    n, k = batch["role"].shape
    side = heat.shape[-1]
    hit = batch["role"] == 1
    cell = (batch["corners"].mean(2) / STRIDE).floor().long().clamp(0, side - 1)
    bi = torch.arange(n, device=heat.device)[:, None].expand(n, k)
    near = torch.nn.functional.max_pool2d(torch.sigmoid(heat), 3, 1, 1)[:, 0]
    found = near[bi, cell[..., 1], cell[..., 0]] > 0.4
    middle = cell.float() * STRIDE + STRIDE / 2 - 0.5
    got = corners[bi, :, cell[..., 1], cell[..., 0]].view(n, k, 4, 2) * CORNER_UNIT + middle[:, :, None]
    size = (batch["corners"].amax(2) - batch["corners"].amin(2)).amax(-1).clamp(min=8)
    close = (got - batch["corners"]).norm(dim=-1).amax(-1) / size < 0.08
    up = way[bi, :, cell[..., 1], cell[..., 0]].argmax(-1) == batch["way"]
    peaks = (torch.nn.functional.max_pool2d(heat, 3, 1, 1) == heat) & (torch.sigmoid(heat) > 0.4)
    return {
        "found": _share(found, hit),
        "corners": _share(close, hit),
        "way": _share(up, hit),
        "peaks": (float(peaks.sum()), float(hit.sum())),
    }


def reader_scores(out: tuple[Tensor, Tensor, Tensor], batch: Batch) -> dict[str, tuple[float, float]]:
    """Shares as (right, of): all states of a diagram, fingers, barres, counts, first fret, kind, way."""
    string, whole, _ = (o.float() for o in out)
    state, finger, barre = string.split(DiagramReader.STRING_PARTS, -1)
    scores = {}
    for name, logits in (("states", state), ("fingers", finger), ("barre", barre)):
        target = batch[name]
        right = ((logits.argmax(-1) == target) | (target == IGNORE)).all(-1)
        scores[name] = _share(right, (target != IGNORE).any(-1))
    for name, logits in zip(
        ("strings", "rows", "first", "nut", "kind", "way"), whole.split(DiagramReader.WHOLE_PARTS, -1), strict=True
    ):
        scores[name] = _share(logits.argmax(-1) == batch[name], batch[name] != IGNORE)
    first = batch["first"]
    scores["moved"] = _share(whole.split(DiagramReader.WHOLE_PARTS, -1)[2].argmax(-1) == first, first > 1)
    return scores
