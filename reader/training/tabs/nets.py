"""The two networks: the finder over a page and the reader of a straightened strip.

Both take RGB pictures (0–255, float) and even out light and contrast
themselves, so that a caller never has to.
"""

from __future__ import annotations

from typing import cast

import torch
from torch import Tensor, nn
from torch.nn import functional

from reader.training.tabs.systems import BAR_KINDS, SIGNS

KINDS = 4
LINE_COUNTS = 5


def pictures(images: Tensor, shrink: int = 1) -> Tensor:
    """Pictures (B, H, W, 3) as the networks take them, (B, 3, H / shrink, W / shrink) float."""
    out = images.permute(0, 3, 1, 2).float()
    return functional.avg_pool2d(out, shrink) if shrink > 1 else out


class Light(nn.Module):  # type: ignore[misc]
    """Darkness against the local paper, scaled by the local contrast.

    Parameters
    ----------
    block : int
        Side of the squares that the paper is measured in; both sides of the picture must be multiples of it.
    """

    def __init__(self, block: int) -> None:
        super().__init__()
        self.block = block

    def forward(self, picture: Tensor) -> Tensor:
        """(B, 3, H, W) 0–255 to darkness around 0–1."""
        x = picture * (1.0 / 255.0)
        paper = functional.max_pool2d(functional.avg_pool2d(x, self.block), 5, 1, 2)
        paper = functional.avg_pool2d(paper, 3, 1, 1, count_include_pad=False)
        dark = 1.0 - x / (functional.interpolate(paper, scale_factor=self.block, mode="nearest") + 0.04)
        power = functional.max_pool2d(functional.avg_pool2d(dark * dark, self.block), 7, 1, 3)
        power = functional.avg_pool2d(power, 3, 1, 1, count_include_pad=False)
        scale = torch.sqrt(power + 1e-4) * 2.5 + 0.04
        return dark / functional.interpolate(scale, scale_factor=self.block, mode="nearest")


def conv(inside: int, outside: int, kernel: tuple[int, int], stride: tuple[int, int] = (1, 1)) -> nn.Sequential:
    """Convolution, normalisation, ReLU."""
    pad = (kernel[0] // 2, kernel[1] // 2)
    return nn.Sequential(
        nn.Conv2d(inside, outside, kernel, stride, pad, bias=False), nn.BatchNorm2d(outside), nn.ReLU(inplace=True)
    )


class Mixer(nn.Module):  # type: ignore[misc]
    """A residual step: a wide filter per channel, then channels mixed through twice as many."""

    def __init__(self, channels: int, kernel: tuple[int, int], dilation: tuple[int, int] = (1, 1)) -> None:
        super().__init__()
        pad = (kernel[0] // 2 * dilation[0], kernel[1] // 2 * dilation[1])
        self.body = nn.Sequential(
            nn.Conv2d(channels, channels, kernel, 1, pad, dilation, groups=channels, bias=False),
            nn.BatchNorm2d(channels),
            nn.Conv2d(channels, 2 * channels, 1, bias=False),
            nn.BatchNorm2d(2 * channels),
            nn.ReLU(inplace=True),
            nn.Conv2d(2 * channels, channels, 1, bias=False),
            nn.BatchNorm2d(channels),
        )

    def forward(self, x: Tensor) -> Tensor:
        """Same shape out."""
        return cast(Tensor, x + self.body(x))


class Finder(nn.Module):  # type: ignore[misc]
    """Page to cells of 8 px: kind (4), line count (5), distance to the first and the last line (2, units of 16 px).

    Both sides of the page must be multiples of 32.
    """

    def __init__(self) -> None:
        super().__init__()
        self.light = Light(8)
        self.stem = nn.Sequential(conv(3, 16, (3, 3), (2, 2)), conv(16, 32, (3, 3), (2, 2)), Mixer(32, (5, 5)))
        self.eight = nn.Sequential(conv(32, 56, (3, 3), (2, 2)), *(Mixer(56, (5, 5)) for _ in range(2)))
        self.sixteen = nn.Sequential(conv(56, 72, (3, 3), (2, 2)), *(Mixer(72, (5, 7)) for _ in range(3)))
        self.thirty = nn.Sequential(conv(72, 96, (3, 3), (2, 2)), *(Mixer(96, (3, 9)) for _ in range(3)))
        self.up_thirty, self.up_sixteen = nn.Conv2d(96, 72, 1), nn.Conv2d(72, 56, 1)
        self.mix_sixteen, self.mix_eight = Mixer(72, (3, 5)), Mixer(56, (5, 5))
        self.head = nn.Conv2d(56, KINDS + LINE_COUNTS + 2, 1)

    def forward(self, picture: Tensor) -> Tensor:
        """(B, 3, H, W) to (B, 11, H/8, W/8) raw scores."""
        eight = self.eight(self.stem(self.light(picture)))
        sixteen = self.sixteen(eight)
        thirty = self.up_thirty(self.thirty(sixteen))
        sixteen = self.mix_sixteen(sixteen + functional.interpolate(thirty, scale_factor=2, mode="nearest"))
        up = functional.interpolate(self.up_sixteen(sixteen), scale_factor=2, mode="nearest")
        return cast(Tensor, self.head(self.mix_eight(eight + up)))


NOTE_PARTS = {"heat": 1, "tens": 3, "units": 11, "ghost": 1, "offset": 1, "line": 1, "signs": len(SIGNS)}
BAR_PARTS = {"bar": 1, "inside": 1, "bar_kind": len(BAR_KINDS)}


class Strip(nn.Module):  # type: ignore[misc]
    """Straightened strip, 20 px a gap, to numbers per line and bar lines per column (4 px)."""

    def __init__(self, wide: int = 96) -> None:
        super().__init__()
        self.light = Light(10)
        self.stem = nn.Sequential(
            conv(3, 24, (3, 3), (2, 2)),
            Mixer(24, (3, 3)),
            conv(24, 48, (3, 3), (2, 2)),
            *(Mixer(48, (5, 5)) for _ in range(6)),
        )
        self.rows = conv(48, wide, (9, 3), (5, 1))
        self.rows[0].padding = (2, 1)
        reach = ((3, 9), 1), ((3, 9), 2), ((3, 9), 4), ((3, 9), 1), ((3, 9), 6), ((3, 5), 1)
        self.trunk = nn.Sequential(*(Mixer(wide, kernel, (1, d)) for kernel, d in reach))
        self.notes = nn.Conv2d(wide, sum(NOTE_PARTS.values()), 1)
        self.columns = nn.Sequential(
            conv(2 * wide, wide // 2, (1, 5)), nn.Conv2d(wide // 2, sum(BAR_PARTS.values()), 1)
        )

    def forward(self, picture: Tensor) -> tuple[Tensor, Tensor]:
        """(B, 3, 20·R, W) to notes (B, 25, R, W/4) and bars (B, 7, 1, W/4), raw scores."""
        x = self.trunk(self.rows(self.stem(self.light(picture))))
        columns = torch.cat([x.amax(dim=2, keepdim=True), x.mean(dim=2, keepdim=True)], dim=1)
        return self.notes(x), self.columns(columns)


# ---------------------------------------------------------------- losses


def focal(scores: Tensor, target: Tensor) -> Tensor:
    """Loss of a centre heatmap: Zhou et al., 'Objects as points', 2019, equation 1."""
    p = torch.sigmoid(scores.float())
    centre = target >= 0.999
    hit = torch.log(p.clamp_min(1e-6)) * (1 - p) ** 2 * centre
    miss = torch.log((1 - p).clamp_min(1e-6)) * p**2 * (1 - target) ** 4 * ~centre
    return -(hit.sum() + miss.sum()) / centre.sum().clamp_min(1)


def chosen(scores: Tensor, target: Tensor, smoothing: float = 0.0) -> Tensor:
    """Cross entropy where the target counts (not 255)."""
    target = target.long()
    loss = functional.cross_entropy(
        scores.float(), target, ignore_index=255, label_smoothing=smoothing, reduction="sum"
    )
    return loss / (target != 255).sum().clamp_min(1)


def yes_no(scores: Tensor, target: Tensor) -> Tensor:
    """Binary cross entropy where the target counts (not 255)."""
    counts = target != 255
    loss = functional.binary_cross_entropy_with_logits(scores.float(), counts * target.float(), reduction="none")
    return (loss * counts).sum() / counts.sum().clamp_min(1)


def finder_loss(out: Tensor, batch: dict[str, Tensor]) -> dict[str, Tensor]:
    """Losses of the finder by part."""
    kind, lines, reach = out[:, :KINDS], out[:, KINDS : KINDS + LINE_COUNTS], out[:, KINDS + LINE_COUNTS :]
    on = ((batch["kind"] == 1) | (batch["kind"] == 2)).float()
    goal = torch.stack([batch["above"], batch["below"]], 1).float()
    miss = functional.smooth_l1_loss(reach.float(), goal, reduction="none", beta=0.05).mean(1)
    counted = torch.where(batch["kind"] == 1, batch["lines"], torch.full_like(batch["lines"], 255))
    return {
        "kind": 2 * chosen(kind, batch["kind"]),
        "lines": 0.5 * chosen(lines, counted),
        "reach": 4 * (miss * on).sum() / on.sum().clamp_min(1),
    }


def split(out: Tensor, parts: dict[str, int]) -> dict[str, Tensor]:
    """Channels of a network's output by name."""
    return dict(zip(parts, torch.split(out, list(parts.values()), dim=1), strict=True))


def strip_loss(outs: tuple[Tensor, Tensor], batch: dict[str, Tensor]) -> dict[str, Tensor]:
    """Losses of the strip network by part."""
    note, bar = split(outs[0], NOTE_PARTS), split(outs[1][:, :, 0], BAR_PARTS)
    at = batch["units"] != 255
    miss = functional.smooth_l1_loss(note["offset"][:, 0].float(), batch["offset"].float(), reduction="none", beta=0.1)
    return {
        "heat": focal(note["heat"][:, 0], batch["heat"].float() / 255),
        "units": chosen(note["units"], batch["units"]),
        "tens": chosen(note["tens"], batch["tens"]),
        "ghost": 0.2 * yes_no(note["ghost"][:, 0], batch["ghost"]),
        "offset": 0.5 * (miss * at).sum() / at.sum().clamp_min(1),
        "line": 0.3 * yes_no(note["line"][:, 0], batch["line"]),
        "signs": 0.1 * focal(note["signs"], batch["signs"].float() / 255),
        "bar": 0.3 * focal(bar["bar"][:, 0], batch["bar"].float() / 255),
        "bar_kind": 0.1 * chosen(bar["bar_kind"], batch["bar_kind"]),
        "inside": 0.3 * yes_no(bar["inside"][:, 0], batch["inside"]),
    }
