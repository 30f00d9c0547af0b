"""Steps of generated wedges: found with skew, noise, flare and either way up; refused where the count stays open."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from wetside.figures.finding import CannotSay
from wetside.figures.place import Rectangle
from wetside.stages.negative.measured.wedge import Steps, grid_cells, steps_along

BASE = np.array([0.2, 0.55, 0.8])


def wedge(
    rng: np.random.Generator, *, skew: float = 0.0, noise: float = 0.01, toe: int = 4, step: int = 32, turned: bool = False,
    flipped: bool = False, surround: float = 3.0, flare: float = 0.002, count: int = 21,
) -> tuple[np.ndarray, np.ndarray]:  # fmt: skip
    """Densities of a scan of a wedge on its film, and the true densities of its steps with the flare in them."""
    above = np.log1p(np.exp(4 * (np.arange(count) - toe) * 0.15)) / 4 * 0.55
    levels = BASE + above[:, None] * np.array([0.9, 1.0, 1.05])
    height, width = 240, count * step + 120
    density = np.full((height, width, 3), surround)
    density[40:200] = BASE
    for k in range(count):
        density[48:192, 60 + k * step : 60 + (k + 1) * step] = levels[k]
    light = np.power(10.0, -density[:, ::-1] if flipped else -density)
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), skew, 1)
    light = cv2.warpAffine(light, turn, (width, height), borderMode=cv2.BORDER_REPLICATE)
    veil = flare * light.mean()
    seen = -np.log10(np.maximum(light + veil, 1e-5))
    seen = seen + noise * np.sqrt(np.maximum(seen, 0.02)) * rng.standard_normal(seen.shape)
    return (seen.transpose(1, 0, 2) if turned else seen).astype(np.float32), -np.log10(10**-levels + veil)


def read_at(density: np.ndarray, steps: Steps) -> np.ndarray:
    return np.array([np.median(density[box.slices].reshape(-1, 3), axis=0) for box in steps.boxes])


@pytest.mark.independent(
    how="wedges made with known steps; every step within 0.03 D, none taken for its neighbour"
)
@pytest.mark.parametrize("skew", [-5.0, -2.0, 0.0, 1.3, 4.0])
def test_a_wedge_is_read_however_it_lies(skew: float) -> None:
    rng = np.random.default_rng(round(skew * 10) + 60)
    found = wrong = 0
    for turned in (False, True):
        for flipped in (False, True):
            for surround in (3.0, 0.0):
                density, truth = wedge(
                    rng, skew=skew, toe=int(rng.integers(2, 9)), step=int(rng.integers(18, 44)),
                    noise=float(rng.choice([0.01, 0.03])), turned=turned, flipped=flipped, surround=surround,
                )  # fmt: skip
                steps = steps_along(density, 21)
                if isinstance(steps, Steps):
                    error = float(np.abs(read_at(density, steps) - truth).max())
                    found, wrong = found + (error < 0.03), wrong + (error >= 0.03)
    # Steeper than 4° a long strip leaves the scan: then it may be refused, never misread.
    assert wrong == 0 and found >= (7 if abs(skew) <= 4 else 4)


@pytest.mark.independent(how="the same film without a wedge, and a wedge whose ends are both out of view")
def test_what_holds_no_wedge_is_refused() -> None:
    rng = np.random.default_rng(4)
    flat = (BASE + rng.normal(0, 0.01, (200, 700, 3))).astype(np.float32)
    assert isinstance(steps_along(flat, 21), CannotSay)
    density, _ = wedge(rng, toe=-10, step=40)
    cut = density[60:180, 150:740]
    assert isinstance(steps_along(cut, 9), CannotSay)
    assert isinstance(steps_along(flat[:, :40], 21), CannotSay)


def test_a_wedge_is_looked_for_inside_the_rectangle_alone() -> None:
    density, truth = wedge(np.random.default_rng(5), step=30)
    wide = np.full((400, 1100, 3), 0.02, np.float32)
    wide[100:340, 200 : 200 + density.shape[1]] = density
    steps = steps_along(wide, 21, Rectangle(200, 100, density.shape[1], 240))
    assert isinstance(steps, Steps)
    assert np.abs(read_at(wide, steps) - truth).max() < 0.03


def test_cells_of_a_grid_lie_inside_its_patches() -> None:
    cells = grid_cells(Rectangle(10, 20, 300, 100), 3, 2)
    assert len(cells) == 6 and cells[0] == Rectangle(40, 35, 40, 20) and cells[5].centre == (260, 95)
