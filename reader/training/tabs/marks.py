"""How well the networks do on drawings kept apart: the numbers that go into the log and the model cards."""

from __future__ import annotations

import torch
from torch import Tensor, nn
from torch.nn import functional

from reader.training.tabs import nets, numbers
from reader.training.tabs.strips import FINE

Batch = dict[str, Tensor]
THRESHOLD = 0.35


@torch.no_grad()  # type: ignore[untyped-decorator]
def finder_marks(net: nn.Module, batches: list[Batch], device: torch.device) -> dict[str, float]:
    """Overlap of tab cells (intersection over union), line count right, mean error of the outer lines in px."""
    both = either = counted = right = 0.0
    error = cells = 0.0
    for batch in batches:
        out = net(nets.pictures(batch["image"].to(device)))
        counts = batch["kind"] != 255
        said, true = (out[:, : nets.KINDS].argmax(1) == 1) & counts, batch["kind"] == 1
        both, either = both + float((said & true).sum()), either + float((said | true).sum())
        lines = out[:, nets.KINDS : nets.KINDS + nets.LINE_COUNTS].argmax(1)
        counted, right = counted + float(true.sum()), right + float(((lines == batch["lines"]) & true).sum())
        goal = torch.stack([batch["above"], batch["below"]], 1).float()
        miss = (out[:, nets.KINDS + nets.LINE_COUNTS :] - goal).abs().mean(1) * 16
        error, cells = error + float((miss * true).sum()), cells + float(true.sum())
    return {
        "tab_overlap": round(both / max(1.0, either), 4),
        "line_count": round(right / max(1.0, counted), 4),
        "edge_error_px": round(error / max(1.0, cells), 3),
    }


def peaks(scores: Tensor, reach: int = 3) -> Tensor:
    """Where a heatmap over columns is highest within ``reach`` columns and above the threshold."""
    p = torch.sigmoid(scores)
    top = functional.max_pool2d(p, (1, 2 * reach - 1), 1, (0, reach - 1))
    return (p == top) & (p > THRESHOLD)


@torch.no_grad()  # type: ignore[untyped-decorator]
def strip_marks(net: nn.Module, batches: list[Batch], device: torch.device) -> dict[str, float]:
    """Notes found and right: precision, recall, F1; bar lines found."""
    said = true = hit = placed = bars = bars_hit = 0.0
    for batch in batches:
        notes, columns = net(nets.pictures(batch["image"].to(device), FINE))
        part = nets.split(notes, nets.NOTE_PARTS)
        peak = peaks(part["heat"])[:, 0]
        value = part["units"].argmax(1) + 16 * part["tens"].argmax(1)
        goal = batch["units"].long() + 16 * batch["tens"].long()
        centre = batch["heat"] == 255
        near = functional.max_pool2d(centre[:, None].float(), (1, 3), 1, (0, 1))[:, 0] > 0
        placed += float((peak & near).sum())
        hit += float((peak & near & (value == goal)).sum())
        said, true = said + float(peak.sum()), true + float(centre.sum())
        column = peaks(nets.split(columns, nets.BAR_PARTS)["bar"])[:, 0, 0]
        at = functional.max_pool2d((batch["bar"] == 255)[:, None, None].float(), (1, 5), 1, (0, 2))[:, 0, 0] > 0
        bars, bars_hit = bars + float((batch["bar"] == 255).sum()), bars_hit + float((column & at).sum())
    precision, recall = hit / max(1.0, said), hit / max(1.0, true)
    return {
        "note_precision": round(precision, 4),
        "note_recall": round(recall, 4),
        "note_f1": round(2 * precision * recall / max(1e-9, precision + recall), 4),
        "note_placed": round(placed / max(1.0, true), 4),
        "value_right": round(hit / max(1.0, placed), 4),
        "bar_recall": round(bars_hit / max(1.0, bars), 4),
    }


@torch.no_grad()  # type: ignore[untyped-decorator]
def number_marks(net: nn.Module, batches: list[Batch], device: torch.device) -> dict[str, float]:
    """Close looks at true places: value right, overlooked; at other places: seen where nothing is."""
    right = overlooked = true = seen = empty = 0.0
    for batch in batches:
        places = numbers.together(numbers.true_places(batch, 1000), numbers.other_places(batch, 600))
        truth = numbers.answers(batch, places)
        part = nets.split(net(numbers.cut_pieces(batch["image"], places).to(device)), numbers.NUMBER_PARTS)
        said, here = part["here"][:, 0] > 0, truth["here"] == 1
        same = (part["units"].argmax(1) == truth["units"]) & (part["tens"].argmax(1) == truth["tens"])
        right, true = right + float((same & here).sum()), true + float(here.sum())
        overlooked += float((~said & here).sum())
        seen, empty = seen + float((said & (truth["here"] == 0)).sum()), empty + float((truth["here"] == 0).sum())
    return {
        "close_value_right": round(right / max(1.0, true), 4),
        "close_overlooked": round(overlooked / max(1.0, true), 4),
        "close_false": round(seen / max(1.0, empty), 4),
    }
