"""Paper, light, lens, sensor, scanner, copier: from ink masks to the picture of a page."""

from __future__ import annotations

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from reader.training.brush import Sheet
from reader.training.strokes import Mask, Points, Rng, choice
from reader.training.style import Style

Picture = NDArray[np.uint8]


def field(rng: Rng, h: int, w: int, cells: int) -> NDArray[np.float32]:
    """A smooth random field, about standard normal, as large as the picture."""
    small = rng.normal(0, 1, (cells, cells)).astype(np.float32)
    return np.asarray(cv2.resize(small, (w, h), interpolation=cv2.INTER_CUBIC), np.float32)


@lru_cache(maxsize=1)
def _noise_store() -> NDArray[np.float32]:
    return np.random.default_rng(20).standard_normal((1536, 1536), np.float32)


def noise(rng: Rng, h: int, w: int) -> NDArray[np.float32]:
    """White noise, cheaply: a random piece of a store, turned at random."""
    store = _noise_store()[:: int(rng.choice([-1, 1])), :: int(rng.choice([-1, 1]))]
    side = store.shape[0]
    if h > side or w > side:
        store = np.tile(store, (h // side + 1, w // side + 1))
    y, x = rng.integers(0, store.shape[0] - h + 1), rng.integers(0, store.shape[1] - w + 1)
    return np.ascontiguousarray(store[y : y + h, x : x + w])


def plain(h: int, w: int, colour: tuple[int, int, int]) -> Picture:
    """A picture of one colour."""
    return np.repeat(np.full((1, w, 3), colour, np.uint8), h, axis=0)


def coloured(plane: NDArray[np.float32], factors: NDArray[np.float32] | None = None) -> NDArray[np.float32]:
    """One plane as three, each times its factor."""
    if factors is None:
        return np.asarray(cv2.merge([plane, plane, plane]))
    return np.asarray(cv2.merge([plane * np.float32(k) for k in factors]))


def reduced(sheet: Sheet, size: tuple[int, int]) -> dict[str, Mask]:
    """The ink masks in the size of the picture; pens that drew nothing are left out."""
    return {
        k: m if m.shape == size[::-1] else np.asarray(cv2.resize(m, size, interpolation=cv2.INTER_AREA), np.uint8)
        for k, m in sheet.masks.items()
        if cv2.countNonZero(m)
    }


_PALE = {(120, 120, 120): 3, (240, 220, 80): 2, (150, 190, 240): 2, (240, 170, 190): 1, (170, 220, 160): 1}


def compose(masks: dict[str, Mask], style: Style, size: tuple[int, int], rng: Rng, squares: float = 0.0) -> Picture:
    """Lay the inks on a paper.

    Parameters
    ----------
    masks : as ``reduced`` gives them
    size : width and height of the picture
    squares : pixels between the lines of squared paper that was drawn along, 0 for none

    Returns
    -------
    uint8 [row, col, 3]
    """
    w, h = size
    dark = style.medium in ("chalk", "inverse")
    out = _paper(rng, h, w, style, dark, squares)
    if rng.random() < 0.09 and not dark:
        _show_through(out, masks, rng)
    if rng.random() < 0.04 and "grid" in masks:
        _ghost(out, masks["grid"], rng)
    opacity = {
        "print": rng.uniform(0.9, 1), "pen": rng.uniform(0.7, 0.98), "pencil": rng.uniform(0.3, 0.85),
        "marker": rng.uniform(0.65, 0.98), "stylus": rng.uniform(0.85, 1), "chalk": rng.uniform(0.6, 0.95),
        "preprinted": rng.uniform(0.6, 0.98), "inverse": 1.0,
    }[style.medium]  # fmt: skip
    grain = {
        "pencil": rng.uniform(0.15, 0.6),
        "chalk": rng.uniform(0.2, 0.7),
        "pen": rng.uniform(0, 0.25),
        "marker": rng.uniform(0, 0.15),
    }.get(style.medium, 0.0)
    if style.medium == "print" and rng.random() < 0.15:
        opacity *= rng.uniform(0.35, 0.8)
    tooth = None
    if grain > 0:
        tooth = cv2.GaussianBlur(noise(rng, h, w), (0, 0), float(rng.uniform(0.5, 1.1)))
        tooth *= grain / (float(tooth[::4, ::4].std()) + 1e-6)
        tooth += 1 - grain * 0.5
        tooth = np.clip(tooth, 0, 1.15, out=tooth)
    for colour, strength, mask in _layers(masks, style, opacity, rng):
        x, y, bw, bh = cv2.boundingRect(mask)
        if not bw:  # nothing is drawn in this colour
            continue
        part = np.s_[y : y + bh, x : x + bw]
        cover = mask[part] * np.float32(strength / 255)
        if tooth is not None:
            cover *= tooth[part]
            np.minimum(cover, 1, out=cover)
        ink = plain(bh, bw, colour)
        out[part] = cv2.blendLinear(ink, np.ascontiguousarray(out[part]), cover, 1 - cover)
    return out


def _layers(
    masks: dict[str, Mask], style: Style, opacity: float, rng: Rng
) -> list[tuple[tuple[int, int, int], float, Mask]]:
    """Colour, strength and mask of each layer of ink from below; pens of one colour lie in one layer."""
    firm = min(1.0, opacity * rng.uniform(0.9, 1.3)) if style.medium == "pencil" else opacity
    layers: list[tuple[tuple[int, int, int], float, Mask]] = []
    for pen in Sheet.PENS:
        if pen not in masks:
            continue
        if pen == "pale":
            layers.append((choice(rng, _PALE), float(rng.uniform(0.4, 0.9)), masks[pen]))
            continue
        colour = style.colours.get(pen, style.colours["mark"])
        strength = firm if pen in ("mark", "digit") else opacity
        if layers and layers[-1][:2] == (colour, strength):
            layers[-1] = (colour, strength, np.maximum(layers[-1][2], masks[pen]))
        else:
            layers.append((colour, strength, masks[pen]))
    return layers


_DARK_PAPERS = {(15, 15, 15): 4, (40, 60, 48): 4, (25, 45, 40): 2, (45, 45, 50): 3, (20, 30, 60): 1}
_PAPERS = {
    (255, 255, 255): 34, (250, 250, 248): 18, (244, 240, 228): 10, (232, 226, 208): 6, (238, 238, 240): 9,
    (225, 225, 228): 6, (250, 222, 226): 2, (228, 240, 250): 2, (250, 246, 200): 2, (214, 198, 168): 1.5,
    (200, 200, 200): 3, (190, 170, 130): 0.7,
}  # fmt: skip


def _paper(rng: Rng, h: int, w: int, style: Style, dark: bool, squares: float) -> Picture:
    base = choice(rng, _DARK_PAPERS if dark else _PAPERS)
    out = plain(h, w, base)
    if rng.random() < 0.5:
        rough = rng.uniform(0.5, 5)
        grain = noise(rng, h, w) * np.float32(rough * 0.6) + field(rng, h, w, 24) * np.float32(rough)
        out = np.asarray(cv2.add(out, coloured(grain), dtype=cv2.CV_8U), np.uint8)
    if squares:
        _ruling(out, rng, squares)
    elif style.medium != "print" and not dark and rng.random() < 0.14:
        _ruling(out, rng)
    return out


def _ruling(out: Picture, rng: Rng, squares: float = 0.0) -> None:
    """Squared, ruled or dotted paper under the ink; the lines of ``squares`` start at the corner of the sheet."""
    h, w = out.shape[:2]
    step = squares or float(rng.uniform(10, 60))
    start = 0.0 if squares else 1.0
    colour = choice(rng, {(170, 190, 220): 5, (200, 200, 200): 4, (190, 215, 190): 1, (230, 180, 180): 1})
    strength = float(rng.uniform(0.3, 0.9))
    both = squares > 0 or rng.random() < 0.6
    dotted = rng.random() < 0.15
    mask = np.zeros((h, w), np.uint8)
    thick = 1 if step < 40 or rng.random() < 0.7 else 2
    for y in np.arange(start * rng.uniform(0, step), h, step):
        cv2.line(mask, (0, int(y * 16)), (w * 16, int((y + rng.uniform(-0.4, 0.4)) * 16)), 255, thick, cv2.LINE_AA, 4)
    if both:
        lines = np.zeros_like(mask)
        for x in np.arange(start * rng.uniform(0, step), w, step):
            cv2.line(lines, (int(x * 16), 0), (int(x * 16), h * 16), 255, thick, cv2.LINE_AA, 4)
        mask = np.minimum(mask, lines) if dotted else np.maximum(mask, lines)
    cover = mask * np.float32(strength / 255)
    out[:] = cv2.blendLinear(plain(h, w, colour), out, cover, 1 - cover)


def _darken(out: Picture, ghost: Mask, amount: float) -> None:
    cv2.subtract(out, cv2.merge([cv2.convertScaleAbs(ghost, alpha=amount)] * 3), dst=out)


def _show_through(out: Picture, masks: dict[str, Mask], rng: Rng) -> None:
    """The other side of the sheet, mirrored and faint."""
    ghost = np.zeros(out.shape[:2], np.uint8)
    for pen in ("grid", "mark", "text"):
        if pen in masks:
            np.maximum(ghost, masks[pen][:, ::-1], out=ghost)
    ghost = np.roll(ghost, rng.integers(-80, 80, 2), (0, 1))
    _darken(out, cv2.GaussianBlur(ghost, (0, 0), float(rng.uniform(0.8, 2.2))), float(rng.uniform(0.06, 0.3)))


def _ghost(out: Picture, mask: Mask, rng: Rng) -> None:
    """Traces of an erased drawing."""
    _darken(out, np.roll(mask, rng.integers(-30, 30, 2), (0, 1)), float(rng.uniform(0.04, 0.14)))


def bend(picture: Picture, points: Points, rng: Rng, strength: float) -> tuple[Picture, Points]:
    """Perspective and curl of the paper; the points go along.

    Parameters
    ----------
    points : (n, 2) page pixels
    strength : 0 none to 1 a careless phone photo
    """
    h, w = picture.shape[:2]
    box = np.array([[0, 0], [w, 0], [w, h], [0, h]], np.float32)
    shift = rng.normal(0, 0.045 * strength, (4, 2)) * [w, h]
    angle = rng.normal(0, 0.06 * strength)
    c, s = np.cos(angle), np.sin(angle)
    target = ((box - [w / 2, h / 2]) @ np.array([[c, s], [-s, c]]) + [w / 2, h / 2] + shift).astype(np.float32)
    m = cv2.getPerspectiveTransform(box, target)
    border = [int(v) for v in np.median(picture[:: max(1, h // 40), :: max(1, w // 40)].reshape(-1, 3), axis=0)]
    if rng.random() < 0.3:
        border = [int(v) for v in rng.integers(0, 255, 3)]
    out = cv2.warpPerspective(
        picture, m, (w, h), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=border
    )
    moved = cv2.perspectiveTransform(points.reshape(1, -1, 2), m)[0] if len(points) else points
    if strength > 0.4 and rng.random() < 0.5:
        out, moved = _curl(out, moved, rng, strength)
    return np.asarray(out, np.uint8), np.asarray(moved)


def _curl(picture: Picture, points: Points, rng: Rng, strength: float) -> tuple[Picture, Points]:
    h, w = picture.shape[:2]
    reach = rng.uniform(0.003, 0.014) * strength * h
    k, phase, slope = rng.uniform(0.5, 2.2) * np.pi, rng.uniform(0, 6.3), rng.uniform(-0.5, 0.5)

    def lift(x: NDArray[np.float32], y: NDArray[np.float32]) -> NDArray[np.float32]:
        return np.asarray(reach * np.sin(k * (x / w + slope * y / h) + phase), np.float32)

    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
    out = cv2.remap(picture, xx, yy + lift(xx, yy), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    if len(points):
        x, y = points[:, 0].astype(np.float32), points[:, 1].astype(np.float32)
        target = y.copy()
        for _ in range(4):  # solve  y_out + lift(x, y_out) = y
            target = y - lift(x, target)
        points = np.stack([x, target], axis=1).astype(float)
    return np.asarray(out, np.uint8), points


def photograph(
    picture: Picture, rng: Rng, strength: float, gap: float, shiny: bool = False, most_blur: float = 0.11
) -> Picture:
    """Light, blur, noise, compression of a phone photo.

    Parameters
    ----------
    strength : 0 hardly any to 1 a bad photo
    gap : pixels between strings: blur is kept within what a person could still read
    most_blur : share of the gap
    shiny : a board or a coated paper that throws the lamp back
    """
    h, w = picture.shape[:2]
    light = 1 + field(rng, h, w, int(rng.integers(2, 5))) * np.float32(rng.uniform(0.02, 0.16) * strength)
    if rng.random() < 0.3 * strength:
        edge = field(rng, h, w, 3) + (np.linspace(-1, 1, w, dtype=np.float32) * np.float32(rng.normal(0, 1)))[None, :]
        soft = (edge > rng.normal(0, 0.6)).astype(np.float32)
        soft = cv2.blur(cv2.blur(soft, (n := int(rng.integers(3, 44)), n)), (n, n))
        light = light * (1 - soft * np.float32(rng.uniform(0.1, 0.5)))
    light = np.clip(light, 0.25, 1.6) * np.float32(rng.uniform(0.62, 1.05))
    out = cv2.multiply(
        picture, coloured(light, 1 + rng.normal(0, 0.05 * strength, 3).astype(np.float32)), dtype=cv2.CV_8U
    )
    if rng.random() < (0.3 if shiny else 0.08) * strength:
        y, x = rng.uniform(0, h), rng.uniform(0, w)
        yy, xx = np.ogrid[0:h, 0:w]
        glare = np.exp(-((yy - y) ** 2 + (xx - x) ** 2) / (2 * (rng.uniform(0.05, 0.2) * w) ** 2)).astype(np.float32)
        out = cv2.add(out, coloured(glare * np.float32(rng.uniform(40, 130))), dtype=cv2.CV_8U)
    sigma = abs(rng.normal(0, 0.055 * strength)) * gap
    if sigma > 0.35:
        out = cv2.GaussianBlur(out, (0, 0), min(float(sigma), max(most_blur * gap, 0.4), 4.0))
    elif rng.random() < 0.1 * strength and gap > 12:
        n = int(rng.integers(2, max(3, int(gap * 0.18) + 1)))
        kernel = np.zeros((n, n), np.float32)
        cv2.line(kernel, (0, int(rng.integers(0, n))), (n - 1, int(rng.integers(0, n))), 1)
        out = cv2.filter2D(out, -1, kernel / max(1.0, float(kernel.sum())))
    if rng.random() < 0.7:
        out = cv2.add(out, coloured(noise(rng, h, w) * np.float32(rng.uniform(0.5, 11) * strength)), dtype=cv2.CV_8U)
    return np.asarray(out, np.uint8)


def scan(picture: Picture, rng: Rng, copied: float = 0.22) -> Picture:
    """A flat-bed scan, sometimes (a share ``copied`` of all) after the copier."""
    out = picture
    roll = rng.random()
    if roll < copied:
        grey = cv2.cvtColor(out, cv2.COLOR_RGB2GRAY)
        if rng.random() < 0.5:
            grey = cv2.GaussianBlur(grey, (0, 0), float(rng.uniform(0.4, 0.9)))
        h, w = grey.shape
        light, ink = float(np.median(grey)), float(np.percentile(grey, 1.5))
        if light - ink < 25:
            return out
        level = ink + (light - ink) * rng.uniform(0.55, 0.88)
        rough = noise(rng, h, w) * rng.uniform(0, 0.16) * (light - ink)
        hard = np.clip(
            (grey.astype(np.float32) + rough - level) * (255 / (light - ink)) * rng.uniform(1.5, 8) + 128, 0, 255
        )
        if rng.random() < 0.5:
            specks = noise(rng, h, w) > rng.uniform(3.0, 3.9)
            hard[specks] = rng.choice([0, 60])
        out = np.repeat(hard.astype(np.uint8)[..., None], 3, axis=2)
    elif roll < 0.5:
        out = np.repeat(cv2.cvtColor(out, cv2.COLOR_RGB2GRAY)[..., None], 3, axis=2)
    if rng.random() < 0.4:
        # the paper may get lighter or darker, but pale strokes do not drown in it
        light = float(np.median(out[::8, ::8]))
        gain, lift = rng.uniform(0.75, 1.3), min(float(rng.uniform(-30, 20)), 252 - light)
        table = np.clip((np.arange(256) - light) * gain + light + lift, 0, 255).astype(np.uint8)
        out = np.asarray(cv2.LUT(out, table), np.uint8)
    return out


def compress(picture: Picture, rng: Rng, detour: bool = True) -> Picture:
    """JPEG, and now and then a detour over a smaller size."""
    if detour and rng.random() < 0.12:
        k = rng.uniform(0.55, 0.95)
        h, w = picture.shape[:2]
        how = int(rng.choice([cv2.INTER_AREA, cv2.INTER_LINEAR]))
        small = cv2.resize(picture, (max(8, int(w * k)), max(8, int(h * k))), interpolation=how)
        picture = np.asarray(cv2.resize(small, (w, h), interpolation=cv2.INTER_LINEAR), np.uint8)
    if rng.random() < 0.55:
        _, code = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(35, 96))])
        picture = np.asarray(cv2.imdecode(code, cv2.IMREAD_COLOR), np.uint8)
    return picture
