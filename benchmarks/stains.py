"""What is left of stains that were taken off: `python -m benchmarks.stains ROUNDS`.

Stains of an irregular outline are planted over the rim of photographs on a film model, flat inside, with edges from sharp to
soft; some add a density everywhere, some scale what is under them, some add and scale. Nothing of the measuring is used.
"""

from __future__ import annotations

import sys
import warnings
from dataclasses import dataclass

import cv2
import numpy as np

from wetside.demo.scenes import scene
from wetside.figures.channels import rgb
from wetside.figures.place import Rectangle
from wetside.figures.stain import Stain
from wetside.stages.causes.signs.stain import stain_at

BASE = np.array([0.2, 0.55, 0.8])
PICTURE = Rectangle(40, 90, 920, 520)
DELTAS = (
    (0.15, 0.15, 0.15),
    (0.0, 0.02, 0.20),
    (0.08, 0.08, 0.08),
    (0.30, 0.25, 0.20),
    (0.0, 0.12, 0.0),
    (0.02, 0.05, 0.09),
)
EDGES = (0.8, 2.0, 4.0)


@dataclass(frozen=True)
class Planted:
    """A frame with a stain: what was scanned and what is on the film without it [D], the stain's weight, its box in the picture."""

    seen: np.ndarray
    truth: np.ndarray
    weight: np.ndarray
    box: Rectangle


def planted(number: int, kind: str, delta: tuple[float, float, float], edge: float, seed: int) -> Planted:
    """A photograph with a stain over its rim. `kind`: "adds", "scales" (delta is then the share) or "both"."""
    rng = np.random.default_rng(seed)
    view, _ = scene(f"photo {number}", PICTURE.w, PICTURE.h, rng)
    x = np.log10(np.maximum(view, 1e-4)) + 1.9
    film = np.tile(BASE, (700, 1000, 1)).astype(np.float64)
    film[PICTURE.slices] += np.logaddexp(0, 4 * x) / 4 * np.array([0.47, 0.55, 0.53])
    side = (PICTURE.y, PICTURE.y + PICTURE.h)[int(rng.integers(2))]
    centre = rng.uniform(160, 840), side + rng.uniform(-18, 18)
    weight = _blot(rng, centre, rng.uniform(40, 110, 2), edge)[..., None]
    if kind == "adds":
        seen = film + weight * np.array(delta)
    elif kind == "scales":
        seen = BASE + (film - BASE) * (1 + weight * np.array(delta))
    else:
        seen = BASE + (film - BASE) * (1 + 0.25 * weight) + weight * np.array(delta)
    seen = seen + 0.008 * rng.standard_normal(film.shape)
    rows, columns = np.nonzero(weight[PICTURE.slices][..., 0] > 0.5)
    box = Rectangle(
        int(columns.min()) + PICTURE.x,
        int(rows.min()) + PICTURE.y,
        int(np.ptp(columns)) + 1,
        int(np.ptp(rows)) + 1,
    )
    return Planted(seen.astype(np.float32), film, weight[..., 0], box)


def _blot(
    rng: np.random.Generator, centre: tuple[float, float], radii: np.ndarray, edge: float
) -> np.ndarray:
    y, x = np.mgrid[0:700, 0:1000]
    angle = np.arctan2(y - centre[1], x - centre[0])
    swing = 1 + 0.12 * np.sin(3 * angle + rng.uniform(0, 6)) + 0.06 * np.sin(7 * angle + rng.uniform(0, 6))
    far = np.hypot((x - centre[0]) / radii[0], (y - centre[1]) / radii[1]) / swing
    return cv2.GaussianBlur((far < 1).astype(np.float32), (0, 0), edge)


def left_over(plant: Planted, stain: Stain) -> tuple[float, float]:
    """What remains [D] in the stain's flat part (the median a layer, the worst), and along its soft rim (95 % of places, 5 px mean)."""
    got = np.zeros(plant.weight.shape, np.float32)
    box = stain.box.clipped_to(got.shape[1], got.shape[0])
    got[box.slices] = cv2.resize(stain.weight, (box.w, box.h)).astype(np.float32) / 255
    away = plant.seen - got[..., None] * np.array(stain.density) - plant.truth
    rim = cv2.GaussianBlur(away, (0, 0), 2)[(plant.weight > 0.02) & (plant.weight < 0.98)]
    return float(np.abs(np.median(away[plant.weight > 0.99], axis=0)).max()), float(
        np.percentile(np.abs(rim).max(axis=1), 95)
    )


def answer(plant: Planted) -> object:
    """The stain, or why nothing is taken off."""
    return stain_at(plant.seen, 1.0, PICTURE, rgb(BASE), plant.box)


def main(rounds: int) -> None:
    """Print a table."""
    print(
        "| mark | taken off | left in its flat part, most | along its rim, median / most | most said to remain |\n|---|---|---|---|---|"
    )
    for kind in ("adds", "scales", "both"):
        for delta in DELTAS:
            share = delta if kind != "scales" else tuple(2 * d for d in delta)
            flat, rims, said, asked, why = list[float](), list[float](), list[float](), 0, dict[str, int]()
            for i in range(rounds):
                plant = planted(i, kind, share, EDGES[i % len(EDGES)], 5000 + i)
                found = answer(plant)
                asked += 1
                if isinstance(found, Stain):
                    core, rim = left_over(plant, found)
                    flat.append(core), rims.append(rim), said.append(found.remains)
                else:
                    why[found.reason[:40]] = why.get(found.reason[:40], 0) + 1
            words = " ".join(f"{d:g}" for d in share)
            figures = (
                f"{max(flat):.3f} | {np.median(rims):.2f} / {max(rims):.2f} | {max(said):.2f}"
                if flat
                else "– | – | –"
            )
            print(f"| {kind} {words} | {len(flat)} of {asked} | {figures} |", flush=True)
            print("  ", why, file=sys.stderr)


if __name__ == "__main__":
    with warnings.catch_warnings():
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 12)
