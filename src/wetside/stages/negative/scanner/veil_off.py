"""Stray light taken off densities, place by place, and what that leaves in doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np

from wetside.figures.channels import rgb
from wetside.figures.reading import Base, Flare
from wetside.laws.sensitometry.density import density_without_flare
from wetside.stages.negative.scanner.working import Working, in_steps

#: Places x, y (…) as shares of a frame.
At = tuple[np.ndarray, np.ndarray]


def lit_over(lit: np.ndarray, shape: tuple[int, ...]) -> np.ndarray:
    """The light's share (h, w, 3) over a frame, carried on straight to its rims."""
    rows, columns = shape[:2]
    wider = cv2.copyMakeBorder(lit, 1, 1, 1, 1, cv2.BORDER_REPLICATE)
    wider[0], wider[-1] = 2 * wider[1] - wider[2], 2 * wider[-2] - wider[-3]
    wider[:, 0], wider[:, -1] = 2 * wider[:, 1] - wider[:, 2], 2 * wider[:, -2] - wider[:, -3]
    x = (np.arange(columns, dtype=np.float32) + 0.5) / columns * lit.shape[1] + 0.5
    y = (np.arange(rows, dtype=np.float32) + 0.5) / rows * lit.shape[0] + 0.5
    at_x, at_y = np.meshgrid(x, y)
    return cv2.remap(wider, at_x, at_y, cv2.INTER_LINEAR)


def level_at(flare: Flare, light: np.ndarray | None, at: At | None = None) -> np.ndarray:
    """The flare as a transmittance (…, 3) where the light has a share (…, 3) of the full scale.

    at      places x, y (…) as shares of the frame; None: its average over the film
    """
    level = np.array(flare.level)
    if flare.over and at is not None:
        level = level * share_at(np.array(flare.over, np.float32), *at)
    return level if light is None or flare.light is None else level * np.array(flare.light) / light


def share_at(over: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """A veil's share (…, 3) of its level at places x, y (…) of the frame, between the cells' middles."""
    rows, columns = over.shape[:2]
    x, y = np.broadcast_arrays(
        np.float32(columns) * x - np.float32(0.5), np.float32(rows) * y - np.float32(0.5)
    )
    shape = x.shape
    flat_x, flat_y = (
        np.ascontiguousarray(one, np.float32).reshape(len(x) if x.ndim > 1 else 1, -1) for one in (x, y)
    )
    found = cv2.remap(over, flat_x, flat_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return found.reshape(*shape, 3)


def places_of(shape: tuple[int, ...]) -> tuple[np.ndarray, np.ndarray]:
    """Where the pixels of a whole frame (h, w, …) lie, as shares x, y (h, w) of it."""
    rows, columns = shape[:2]
    x = (np.arange(columns, dtype=np.float32) + 0.5) / columns
    y = (np.arange(rows, dtype=np.float32) + 0.5) / rows
    return np.broadcast_to(x, (rows, columns)), np.broadcast_to(y[:, None], (rows, columns))


def lifted(
    density: np.ndarray,
    flare: Flare,
    light: np.ndarray | None = None,
    at: At | None = None,
) -> np.ndarray:
    """Densities (…, 3) [D] without a frame's flare; `light` (…, 3): its share of the full scale there, where known; `at`:
    places as of `level_at`."""
    return density_without_flare(density, level_at(flare, light, at), flare.share)


def unveiled(frame: Working, flare: Flare | None) -> Working:
    """The frame without its flare."""
    if flare is None:
        return frame
    light = None if frame.lit is None else lit_over(frame.lit, frame.kept.shape)
    at = places_of(frame.kept.shape) if flare.over else None
    return replace(frame, kept=in_steps(lifted(frame.density, flare, light, at)))


def veil_spread(
    density: np.ndarray, flare: Flare, light: np.ndarray | None = None, at: At | None = None
) -> np.ndarray:
    """What the flare's unevenness, and how well its share is known, add to the spread (3,) [D] of a density freed of it."""
    over_light = level_at(flare, light, at) / np.power(10.0, -density)
    return np.hypot(flare.uneven * over_light, flare.unsure) / np.log(10)  # type: ignore[no-any-return]


def base_unveiled(base: Base | None, found: Sequence[Flare | None]) -> Base | None:
    """The roll's base with what its frames' stray light leaves in its spread."""
    seen = [flare for flare in found if flare is not None]
    if base is None or not seen:
        return base
    veil = np.median([veil_spread(np.array(base.density), flare) for flare in seen], axis=0)
    return replace(base, spread=rgb(np.hypot(np.array(base.spread), veil)))


def contrast_lost(
    density: np.ndarray, flare: Flare, light: np.ndarray | None = None, at: At | None = None
) -> np.ndarray:
    """By how much (3,) an error grows when the flare is taken off: light seen over light that came through the film.

    density     (3,) [D], freed of the flare
    """
    through = (1 - flare.share) * np.power(10.0, -density)
    return (through + level_at(flare, light, at)) / through
