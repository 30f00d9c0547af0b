"""Crosstalk against synthetic dyes seen through known spectral sensitivities: recovery, spread, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.laws.sensitometry.crosstalk import crosstalk_of, refusal, single_layers

NM = np.arange(380.0, 751.0, 10.0)


def bell(middle: float, width: float) -> np.ndarray:
    return np.exp(-0.5 * ((NM - middle) / width) ** 2)


def products(start: int, *percent: float) -> np.ndarray:
    """Spectral products [per cent of the peak] from a wavelength [nm] on, in steps of 10; none elsewhere."""
    at = int(np.flatnonzero(start == NM)[0])
    return np.pad(np.array(percent), (at, len(NM) - at - len(percent)))


#: Status M, red, green, blue: ISO 5-3, spectral products at 10 nm (seen in a general colour library's copy of the table).
STATUS_M = np.array(
    [
        products(620, 0.13, 30.13, 100, 79.25, 37.84, 17.86, 7.5, 3.1, 1.26, 0.49, 0.19, 0.07, 0.03, 0.01),
        products(470, 0.01, 0.16, 1.43, 6.37, 18.71, 42.27, 74.47, 100, 98.86, 65.77, 28.71, 8.22, 1.49, 0.17, 0.01),
        products(410, 0.13, 12.91, 42.85, 74.3, 100, 90.16, 55.34, 22.03, 5.53, 0.98, 0.07),
    ]
)  # fmt: skip
#: Cyan, magenta, yellow dyes with side absorptions; narrow bands, as of three lamps, at the peaks of status M; broad bands of a camera.
DYES = np.array(
    [
        bell(660, 45) + 0.08 * bell(450, 40),
        bell(545, 32) + 0.12 * bell(440, 25),
        bell(445, 30) + 0.04 * bell(545, 40),
    ]
)
NARROW = np.array([bell(640, 8), bell(540, 8), bell(450, 8)])
BROAD = np.array([bell(605, 30), bell(540, 34), bell(460, 26)])
BASE = np.array([0.15, 0.45, 0.65])


def seen(amounts: np.ndarray, bands: np.ndarray) -> np.ndarray:
    """Densities (n, 3) of dye amounts (n, 3) through bands: light is summed before its logarithm is taken."""
    light = np.power(10.0, -((amounts + BASE) @ DYES))
    return -np.log10(light @ bands.T / bands.sum(axis=1))


def coloured(count: int, seed: int = 3) -> np.ndarray:
    return np.random.default_rng(seed).uniform(0.0, 1.3, (count, 3))


@pytest.mark.published(source="iso-5-3", place="status M: spectral products peak at 640, 540 and 450 nm")
def test_the_table_of_status_m_peaks_where_the_standard_says() -> None:
    assert NM[STATUS_M.argmax(axis=1)].tolist() == [640, 540, 450]


@pytest.mark.published(source="iso-5-3", place="spectral products of status M at 10 nm")
@pytest.mark.parametrize(("bands", "most"), [(BROAD, 0.035), (NARROW, 0.02)])
def test_a_matrix_from_coloured_patches_reads_other_colours_as_a_densitometer_would(
    bands: np.ndarray, most: float
) -> None:
    fit = crosstalk_of(seen(coloured(24), bands), seen(coloured(24), STATUS_M))
    fresh = coloured(200, 9)
    off = fit.density(seen(fresh, bands)) - seen(fresh, STATUS_M)
    raw = seen(fresh, bands) - seen(fresh, STATUS_M)
    rms = np.sqrt((off**2).mean(axis=0))
    assert rms.max() < most and rms.max() < 0.35 * np.sqrt((raw**2).mean(axis=0)).max()
    # The check figure tells beforehand what other colours will show.
    assert (rms < 2 * fit.check).all() and (fit.check < 2 * rms + 0.004).all()


@pytest.mark.independent(how="a neutral wedge of the same dyes, with and without noise")
def test_a_neutral_wedge_is_refused_with_its_reason() -> None:
    wedge = np.linspace(0, 1.3, 21)[:, None] * np.ones(3)
    camera = seen(wedge, BROAD)
    noisy = camera + np.random.default_rng(1).normal(0, 0.003, camera.shape)
    for one in (camera, noisy):
        assert "neutral wedge alone" in (refusal(one) or "")
    assert refusal(seen(coloured(24), BROAD)) is None
    assert "at least 5" in (refusal(seen(coloured(4), BROAD)) or "")
    with pytest.raises(ValueError, match="neutral wedge"):
        crosstalk_of(noisy, seen(wedge, NARROW))


@pytest.mark.independent(
    how="400 fits to planted matrices with noise: the true matrix inside its spread as often as it says"
)
def test_the_spread_of_the_matrix_is_true() -> None:
    rng = np.random.default_rng(5)
    matrix, shift = (
        np.array([[1.3, -0.2, 0.0], [-0.1, 1.2, -0.05], [0.0, -0.15, 1.2]]),
        np.array([0.02, -0.01, 0.0]),
    )
    camera = rng.uniform(0.2, 1.8, (24, 3))
    away = []
    for _ in range(400):
        fit = crosstalk_of(camera, camera @ matrix.T + shift + rng.normal(0, 0.01, camera.shape))
        sd = np.sqrt(np.array([np.diag(c)[:3] for c in fit.covariance]))
        away.append((fit.matrix - matrix) / sd)
    assert np.std(away) == pytest.approx(1.05, abs=0.06)
    assert fit.difference(np.zeros(3)) == pytest.approx(0)


@pytest.mark.independent(
    how="exposures of one layer at a time; mixtures then read as the sum of their layers"
)
def test_single_layers_part_the_films_own_layers() -> None:
    amounts = np.vstack([np.outer(np.linspace(0.1, 0.6, 4), np.eye(3)[k]) for k in range(3)])
    bare = seen(np.zeros((1, 3)), NARROW)
    above = seen(amounts, NARROW) - bare
    layers = [c for c in "rgb" for _ in range(4)]
    fit = crosstalk_of(above, single_layers(above, layers), offset=False)
    mixed = np.array([[0.3, 0.5, 0.2], [0.5, 0.1, 0.4]])
    apart = fit.density(seen(mixed, NARROW) - bare)
    alone = np.array(
        [[(seen(np.eye(3)[k : k + 1] * row[k], NARROW) - bare)[0, k] for k in range(3)] for row in mixed]
    )
    assert np.abs(apart - alone).max() < 0.012
