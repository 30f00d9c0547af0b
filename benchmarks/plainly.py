"""What a frame's measuring pass finds, found plainly: scipy and scikit-image in double precision over whole arrays.

The slow oracle of `benchmarks.measuring`: bases and bare light beside the picture, the cast's grid, the picture at the
size of the stack, and the net that looks for marks as plain convolutions. Candidates' outlines are not measured here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import ndimage
from skimage.transform import resize_local_mean

from benchmarks.net import LAYERS, weights_kept
from wetside.figures.density import DensityFrame
from wetside.figures.flags import Left
from wetside.stages.causes.signs.cast import COLUMNS, ROWS
from wetside.stages.causes.signs.chance import NEAR, PAD, RIDGE, SCALE, WIDE
from wetside.stages.causes.signs.stacked import LONG, inner
from wetside.stages.negative.found.shown import FilmOfFrame


@dataclass(frozen=True)
class Found:
    """Bases r g b by side and the cast's grid, the picture for the stack (h, w, 3), log-odds (h, w) and added density (h, w, 3) [D]."""

    sides: dict[str, np.ndarray]
    grid: np.ndarray
    picture: np.ndarray
    odds: np.ndarray
    added: np.ndarray


def bases(density: np.ndarray, film: FilmOfFrame, levels: np.ndarray) -> dict[str, np.ndarray]:
    """Median density of flat, base-coloured pixels above, below, left and right of the picture."""
    mean = ndimage.uniform_filter(density, (7, 7, 0), mode="mirror")
    square = ndimage.uniform_filter(density**2, (7, 7, 0), mode="mirror")
    even = np.sqrt(np.maximum(square - mean**2, 0).max(axis=2)) < 0.02 + 0.01 * mean.max(axis=2)
    near = np.min([np.abs(mean - level).max(axis=2) for level in levels], axis=0) < 0.05
    rows, columns = np.indices(density.shape[:2])
    left, top, right, bottom = (int(v) for v in film.edges)
    along, down = (columns >= left) & (columns < right), (rows >= top) & (rows < bottom)
    beside = {
        "top": (rows < top - 3) & along, "bottom": (rows >= bottom + 4) & along,
        "left": (columns < left - 3) & down, "right": (columns >= right + 4) & down,
    }  # fmt: skip
    chosen = {side: density[even & near & part] for side, part in beside.items()}
    return {side: np.median(values, axis=0) for side, values in chosen.items() if len(values) >= 60}


def grid(frame: DensityFrame, density: np.ndarray) -> np.ndarray:
    """Density above base of the picture on a grid of 48 × 64 means."""
    x, y, w, h = (v / frame.shrink for v in frame.picture)
    rim = 0.015 * min(w, h) + 1
    picture = density[max(0, int(y + rim)) : int(y + h - rim), max(0, int(x + rim)) : int(x + w - rim)]
    return resize_local_mean(picture - np.array(frame.base or (0, 0, 0)), (ROWS, COLUMNS), channel_axis=2)


def picture(frame: DensityFrame, density: np.ndarray) -> np.ndarray:
    """Density of the picture without its rim, 120 pixels long; NaN where light, holes or no film lie."""
    x, y, w, h = (v / frame.shrink for v in inner(frame.picture))
    window = np.s_[max(0, round(y)) : round(y + h), max(0, round(x)) : round(x + w)]
    size = (round(LONG * h / w), LONG) if w >= h else (LONG, round(LONG * w / h))
    away = (frame.mask[window] & int(Left.CLIPPED | Left.PERFORATION | Left.OUTSIDE_FILM)) != 0
    part = resize_local_mean(away.astype(float), size)
    return np.where(part[..., None] > 0, np.nan, resize_local_mean(density[window], size, channel_axis=2))


def shown_to_the_net(half: np.ndarray) -> np.ndarray:
    """The net's 24 planes of density (h, w, 3) [D] at half size: detail, and what each layer holds apart from the others."""

    def mean(values: np.ndarray, side: int) -> np.ndarray:
        tall, wide, *layers = values.shape
        cells = values.reshape(tall // 2, 2, wide // 2, 2, *layers).mean(axis=(1, 3))
        smooth = ndimage.uniform_filter(cells, (side, side, *[0] * len(layers)), mode="reflect")
        return smooth.repeat(2, axis=0).repeat(2, axis=1)

    detail = 4 * (half - mean(half, WIDE))
    off = half - mean(half, NEAR)
    products = half[..., :, None] * half[..., None, :]
    together = mean(products, NEAR) - mean(half, NEAR)[..., :, None] * mean(half, NEAR)[..., None, :]
    apart = np.empty_like(half)
    for own in range(3):
        others = [i for i in range(3) if i != own]
        of_others = together[..., others, :][..., others] + RIDGE * np.eye(2)
        slopes = np.linalg.solve(of_others, together[..., others, own][..., None])[..., 0]
        apart[..., own] = off[..., own] - (slopes * off[..., others]).sum(axis=-1)
    shown = np.clip(np.concatenate([detail, 16 * apart], axis=2), -6, 6)
    return np.concatenate([shown[dy::2, dx::2] for dy in (0, 1) for dx in (0, 1)], axis=2).transpose(2, 0, 1)


def answered(planes: np.ndarray) -> np.ndarray:
    """The net's answer (16, h, w) to its planes, convolution by convolution."""
    kept = weights_kept()
    made = {"planes": planes}

    def taken(name: str) -> np.ndarray:
        if name[0] == "/":
            c, h, w = made[name[1:]].shape
            return made[name[1:]].reshape(c, h // 2, 2, w // 2, 2).max(axis=(2, 4))
        if "^" in name:
            low, beside = name.split("^")
            return np.concatenate([made[low].repeat(2, axis=1).repeat(2, axis=2), made[beside]])
        return made[name]

    for name, source, _ in (*LAYERS, ("out", LAYERS[-1][0], 0)):
        given, (kernel, bias) = taken(source), kept[name]
        found = [
            sum(ndimage.correlate(plane, one, mode="constant") for plane, one in zip(given, own)) + level
            for own, level in zip(kernel.astype(float), bias.astype(float))
        ]
        made[name] = np.stack(found) if name == "out" else np.maximum(np.stack(found), 0)
    return made["out"]


def chance(density: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Log-odds (h, w) and added density (h, w, 3) [D] at half size of a picture's density (h, w, 3)."""
    height, width = density.shape[:2]
    padded = np.pad(density, ((0, -height % (2 * PAD)), (0, -width % (2 * PAD)), (0, 0)), "symmetric").astype(
        float
    )
    half = padded.reshape(padded.shape[0] // 2, 2, padded.shape[1] // 2, 2, 3).mean(axis=(1, 3))
    answer = answered(shown_to_the_net(half))
    _, h, w = answer.shape
    odds = answer[:4].reshape(2, 2, h, w).transpose(2, 0, 3, 1).reshape(2 * h, 2 * w)
    added = SCALE * answer[4:].reshape(2, 2, 3, h, w).transpose(3, 0, 4, 1, 2).reshape(2 * h, 2 * w, 3)
    tall, wide = (height + 1) // 2, (width + 1) // 2
    return odds[:tall, :wide], added[:tall, :wide]


def found(frame: DensityFrame, film: FilmOfFrame, levels: np.ndarray, shown: np.ndarray) -> Found:
    """All of it for one frame; `shown` (h, w, 3) is what the marks are looked for in."""
    density = frame.density.astype(float)
    return Found(bases(density, film, levels), grid(frame, density), picture(frame, density), *chance(shown))
