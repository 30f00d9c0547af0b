"""The scanner's noise model against planted shot and read noise, with grain that must cancel."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.laws.sensitometry.noise import Noise, noise_of, pair_variance

READ, SHOT, LIGHT = 12.0, 0.8, np.full(3, 50_000.0)


@pytest.mark.independent(how="pairs of scans with planted noise over one grain; 20 levels of 4,096 pixels")
def test_shot_and_read_noise_come_out_of_pairs_and_grain_does_not_get_in() -> None:
    rng = np.random.default_rng(2)
    signals, variances = [], []
    for density in np.linspace(0.2, 3.2, 20):
        film = 10 ** -(density + rng.normal(0, 0.02, (64, 64, 3))) * LIGHT
        scans = [film + rng.normal(0, np.sqrt(READ**2 + SHOT * film)) for _ in range(2)]
        signals.append(film.mean(axis=(0, 1)))
        variances.append(pair_variance(*scans))
    found = noise_of(np.array(signals), np.array(variances))
    assert found.read == pytest.approx(READ, rel=0.05) and found.shot == pytest.approx(SHOT, rel=0.05)


@pytest.mark.independent(how="4,000 patches drawn with the model's noise: scatter of their densities")
def test_the_spread_of_a_density_is_what_patches_scatter_by() -> None:
    rng = np.random.default_rng(3)
    noise = Noise(np.full(3, READ), np.full(3, SHOT))
    for density in (0.5, 2.0):
        signal = LIGHT[0] * 10**-density
        means = signal + rng.normal(0, np.sqrt(READ**2 + SHOT * signal) / 10, 4000)
        wanted = float(noise.density_spread(np.full(3, density), LIGHT, 100)[0])
        assert float(np.std(-np.log10(means / LIGHT[0]))) == pytest.approx(wanted, rel=0.05)
    ceiling = noise.ceiling(LIGHT)
    assert noise.density_spread(ceiling, LIGHT, 100) == pytest.approx(0.02, rel=0.03)
