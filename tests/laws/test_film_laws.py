"""Perforations, curves, speed, density exchange: each against something outside the project."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.laws.image.evenness import full_size, stain_factor
from wetside.laws.reel.gauges import GAUGES
from wetside.laws.sensitometry.curve import average_gradient, fitted_curve
from wetside.laws.sensitometry.density import (
    transmittance,
)
from wetside.laws.sensitometry.speed import mired_shift, speed_degrees, speed_iso5800


@pytest.mark.published(
    source="smpte-perforation",
    place="16 mm short pitch 0.2994 in; 35 mm long pitch 0.1870 in; 40 frames a foot",
)
def test_pitches() -> None:
    assert GAUGES["16cine"].perf_pitch_mm == pytest.approx(0.2994 * 25.4, abs=0.001)
    assert GAUGES["135"].perf_pitch_mm == pytest.approx(0.1870 * 25.4, abs=0.001)
    assert 304.8 / GAUGES["16cine"].perf_pitch_mm == pytest.approx(40.08, abs=0.005)


def test_dark_and_exposure_ratio_are_taken_out() -> None:
    scan, light, dark = np.full((2, 2, 3), 600.0), np.full((2, 2, 3), 10100.0), 100.0
    assert transmittance(scan, light, dark, 2.0)[0, 0, 0] == pytest.approx(0.1)


@pytest.mark.published(source="iso-5800", place="H_m 0.0035 lx·s gives 404, 27.1° (as remembered)")
def test_speed_by_the_construction_of_iso_5800() -> None:
    assert speed_iso5800(np.log10(0.0035), np.log10(0.0035)) == pytest.approx(404, abs=0.5)
    assert speed_degrees(404) == pytest.approx(27.1, abs=0.05)


@pytest.mark.independent(how="mired arithmetic of the named colour temperatures")
def test_mired_shifts() -> None:
    assert mired_shift(5500, 3200) == pytest.approx(130.7, abs=0.05)
    assert mired_shift(6500, 3200) == pytest.approx(158.7, abs=0.05)


@pytest.mark.independent(how="planted curve of another shape, noise of 0.006 D")
def test_a_planted_curve_is_found_and_never_falls() -> None:
    rng = np.random.default_rng(1)
    x = np.linspace(-2.5, 0.5, 30)
    true = 0.55 * np.log1p(np.exp(4 * (x + 1.8))) / 4
    curve = fitted_curve(x, true + rng.normal(0, 0.006, 30))
    inner = np.linspace(-2.2, 0.3, 50)
    want = 0.55 * np.log1p(np.exp(4 * (inner + 1.8))) / 4
    assert np.sqrt(np.mean((curve.at(inner) - want) ** 2)) < 0.01
    assert (np.diff(curve.density) >= -1e-9).all()
    start = curve.exposure_at(0.15)
    assert start == pytest.approx(float(np.interp(0.15, want, inner)), abs=0.04)
    assert average_gradient(curve) == pytest.approx((np.interp(start + 1, inner, want) - 0.15), abs=0.02)


GREY = {
    0.0: 0.001301,
    0.1: 0.007912,
    0.3: 0.030080,
    0.5: 0.075558,
    0.7: 0.180000,
    1.0: 0.632015,
    1.5: 5.126465,
}


#: The exchange's published formula: densities above D-min to channel-independent ones, then to log exposure, then to ACES.
CHANNEL_INDEPENDENT = np.array(
    [[0.75573, 0.22197, 0.02230], [0.05901, 0.96928, -0.02829], [0.16134, 0.07406, 0.76460]]
)
TO_ACES = np.array([[0.72286, 0.12630, 0.15084], [0.11923, 0.76418, 0.11659], [0.01427, 0.08213, 0.90359]])
KNEE = 0.6
DENSITY = (-0.19, 0.01, 0.028, 0.054, 0.095, 0.145, 0.22, 0.3, 0.4, 0.5, 0.6)
LOG_EXPOSURE = (
    -6.0, -2.721718645, -2.521718645, -2.321718645, -2.121718645, -1.921718645, -1.721718645, -1.521718645,
    -1.321718645, -1.121718645, -0.926545676714876,
)  # fmt: skip


def aces_from_density(density: np.ndarray) -> np.ndarray:
    independent = np.asarray(density, float) @ CHANNEL_INDEPENDENT.T
    low = np.interp(independent, DENSITY, LOG_EXPOSURE)
    high = (100 / 55) * independent - 2.0174547
    return np.power(10.0, np.where(independent > KNEE, high, low)) @ TO_ACES.T


@pytest.mark.published(source="st-2065-3", place="transform table; grey densities")
@pytest.mark.independent(how="OpenColorIO's built-in ADX10_to_ACES2065-1")
def test_density_exchange_agrees_with_its_table_and_with_opencolorio() -> None:
    import PyOpenColorIO as ocio

    group = ocio.BuiltinTransform("ADX10_to_ACES2065-1")
    processor = ocio.Config.CreateRaw().getProcessor(group).getDefaultCPUProcessor()
    for density, value in GREY.items():
        assert aces_from_density(np.full(3, density)) == pytest.approx(
            np.full(3, value), rel=1e-4, abs=5e-7
        )  # the digits printed
    for densities in ([0.7, 0.6, 0.6], [0.2, 0.9, 1.3], [1.4, 0.3, 0.5]):
        by_library = np.array(processor.applyRGB(list((500 * np.array(densities) + 95) / 1023)))
        assert aces_from_density(np.array(densities)) == pytest.approx(by_library, rel=3e-4)


@pytest.mark.independent(how="a straight cast put in by hand")
def test_a_stain_is_taken_out_straight_on_beyond_its_profile() -> None:
    across = np.linspace(0.1, 0.9, 9)
    field = np.stack([0.1 * (across - 0.5)] * 3, axis=1)
    rows = np.linspace(-0.2, 1.2, 15)
    assert np.log10(stain_factor(across, field, rows))[:, 0, 0] == pytest.approx(0.1 * (rows - 0.5), abs=1e-6)


@pytest.mark.independent(how="a smooth map made at full size")
def test_a_small_map_grows_to_the_full_one_at_its_rim_too() -> None:
    y, x = np.mgrid[0:240, 0:320].astype(np.float32)
    full = np.exp(0.1 * (x / 320) - 0.05 * (y / 240))[..., None].repeat(3, 2)
    small = full.reshape(24, 10, 32, 10, 3).mean(axis=(1, 3))
    assert np.abs(full_size(small, 240, 320) / full - 1).max() < 2e-4
