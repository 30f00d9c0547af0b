"""Circular statistics against astropy."""

from __future__ import annotations

import numpy as np
import pytest
from astropy.stats import circmean, rayleightest
from scipy.stats import spearmanr

from wetside.laws.statistics.circular import cluster_evidence, clustering, von_mises_density


@pytest.mark.independent(how="astropy.stats.circmean, within half a bin of the 48")
def test_without_strays_a_cluster_lies_at_the_circular_mean() -> None:
    rng = np.random.default_rng(2)
    angles = rng.uniform(0, 2 * np.pi, (40, 1)) + rng.normal(0, 0.3, (40, 20))
    _, place = clustering(angles, 0.3, share=0.9999)
    apart = np.angle(np.exp(1j * (place - circmean(angles, axis=1))))
    assert np.abs(apart).max() < np.pi / 48 + 0.02


@pytest.mark.independent(how="astropy.stats.rayleightest on the same directions, from even to narrow")
def test_evidence_of_a_cluster_grows_as_the_chance_of_evenness_falls() -> None:
    rng = np.random.default_rng(4)
    angles = rng.normal(1.0, np.linspace(3, 0.4, 200)[:, None], (200, 12))
    evidence = cluster_evidence(angles, (0.3, 0.6), (0.5, 0.75, 1.0))
    chance = np.array([float(rayleightest(one)) for one in angles])
    assert spearmanr(evidence, -chance).statistic > 0.9
    assert evidence[chance > 0.5].max() < 0 < evidence[chance < 1e-3].min()


@pytest.mark.independent(how="numerical integral, and the wrapped normal of the same width near 0")
def test_the_circular_normal_integrates_to_one() -> None:
    angles = np.linspace(-np.pi, np.pi, 20001)
    density = von_mises_density(angles, 1 / 0.2**2)
    assert np.trapezoid(density, angles) == pytest.approx(1, abs=1e-9)
    assert density[10000] == pytest.approx(1 / (0.2 * np.sqrt(2 * np.pi)), rel=0.01)


@pytest.mark.independent(how="the best direction by brute force over 3600 directions, on unrounded angles")
def test_a_cluster_among_strays_is_placed() -> None:
    rng = np.random.default_rng(1)
    angles = np.concatenate([rng.normal(2.0, 0.2, 12), rng.uniform(0, 2 * np.pi, 3)])
    ratio, place = clustering(angles[None], 0.3)
    tried = np.linspace(0, 2 * np.pi, 3600)
    sums = [np.log(0.25 + 0.75 * 2 * np.pi * von_mises_density(angles - t, 1 / 0.09)).sum() for t in tried]
    assert place[0] == pytest.approx(tried[int(np.argmax(sums))], abs=0.2)
    assert ratio[0] == pytest.approx(max(sums), rel=0.15)
