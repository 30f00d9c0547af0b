"""The spread of a spot: noise fitted from scans, grain told from it, and intervals that hold the truth as often as they say."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from wetside.figures.channels import RGB
from wetside.figures.place import Rectangle
from wetside.figures.reading import Flare
from wetside.figures.scan import Scan
from wetside.figures.spread import Spread
from wetside.laws.sensitometry.noise import Noise
from wetside.stages.negative.measured.patches import spot, with_noise
from wetside.stages.negative.measured.reckoned import Standing, reckoned
from wetside.stages.negative.scanner.noise import noise_blocks, noise_of_scans

READ, SHOT, GRAIN, WHITE = 20.0, 0.8, 0.008, 65535.0


def scanned(density: np.ndarray, rng: np.random.Generator, light: float = 50_000.0) -> Scan:
    codes = light * 10**-density
    codes += rng.standard_normal(codes.shape) * np.sqrt(READ**2 + SHOT * codes)
    return Scan("n.tif", codes.clip(0, 65535).astype(np.uint16), WHITE, 16, "linear")


def film(rng: np.random.Generator) -> np.ndarray:
    """Fields of many densities with soft and hard borders, grain as √D."""
    how = rng.choice([cv2.INTER_NEAREST, cv2.INTER_CUBIC])
    fields = cv2.resize(rng.uniform(0.1, 2.3, (9, 12, 3)), (900, 675), interpolation=int(how)).clip(0.05, 2.6)
    return fields + GRAIN * np.sqrt(fields) * rng.standard_normal(fields.shape)


@pytest.mark.independent(how="read noise, shot noise and grain planted in scans of made fields")
def test_the_two_figures_of_noise_come_out_of_single_scans() -> None:
    rng = np.random.default_rng(4)
    found = noise_of_scans([noise_blocks(scanned(film(rng), rng)) for _ in range(4)], WHITE)
    assert found is not None
    assert found.noise.read == pytest.approx(np.full(3, READ), rel=0.25)
    assert found.noise.shot == pytest.approx(np.full(3, SHOT), rel=0.3)
    assert np.array(found.grain) == pytest.approx(np.full(3, GRAIN), rel=0.15)


@pytest.mark.independent(
    how="a holder that black cuts off, bare light and rebate without grain round a grained picture"
)
def test_read_noise_is_told_by_the_holder_and_grain_by_the_picture() -> None:
    rng = np.random.default_rng(8)
    seen = []
    for _ in range(3):
        density = np.full((675, 900, 3), 0.25)
        density[60:-60, 60:-60] = (0.5 + film(rng))[60:-60, 60:-60]
        density[:36], density[:, :36] = 6.0, 0.0
        seen.append(noise_blocks(scanned(density, rng)))
    found = noise_of_scans(seen, WHITE)
    assert found is not None
    assert found.noise.read == pytest.approx(np.full(3, READ), rel=0.15)
    assert found.noise.shot == pytest.approx(np.full(3, SHOT), rel=0.25)
    # The picture's grain is that of √(D − 0.5), so under what its density would have.
    assert (np.array(found.grain) > 0.6 * GRAIN).all() and (np.array(found.grain) < 1.05 * GRAIN).all()


def test_scans_of_one_level_do_not_tell_their_noise() -> None:
    rng = np.random.default_rng(5)
    even = scanned(np.full((300, 400, 3), 0.6), rng)
    assert noise_of_scans([noise_blocks(even)], WHITE) is None
    assert noise_of_scans([], WHITE) is None


@pytest.mark.independent(
    how="400 spots over grain of two sizes and no grain: how often the planted density lies inside"
)
@pytest.mark.parametrize(("grain", "clumps"), [(0.0, 0.0), (0.02, 0.0), (0.03, 1.2)])
def test_one_spread_holds_the_truth_as_often_as_it_should(grain: float, clumps: float) -> None:
    rng = np.random.default_rng(6)
    noise = Noise(np.full(3, READ), np.full(3, SHOT))
    inside = []
    for _ in range(400):
        level = rng.uniform(0.3, 1.8)
        pattern = rng.standard_normal((40, 40, 3))
        if clumps:
            pattern = cv2.GaussianBlur(pattern, (0, 0), clumps)
            pattern /= pattern.std()
        seen = spot(scanned(level + grain * pattern, rng), Rectangle(0, 0, 40, 40), None, 0.0, WHITE / 50_000)
        found = with_noise(seen, noise)
        assert found.density is not None and found.parts is not None
        # A densitometer averages light, so even grain reads thinner than its mean density by this.
        level -= np.log(10) / 2 * grain**2
        inside.append(np.abs(np.array(found.density) - level) / np.array(found.parts.mean))
    share = np.array(inside)
    assert 0.6 <= (share < 1).mean() <= 0.8 and 0.9 <= (share < 2).mean() <= 0.99


@pytest.mark.independent(how="planted grain of single pixels")
def test_grain_is_measured_as_itself() -> None:
    rng = np.random.default_rng(7)
    seen = spot(
        scanned(1.0 + 0.02 * rng.standard_normal((120, 120, 3)), rng),
        Rectangle(0, 0, 120, 120),
        None,
        0.0,
        1.0,
    )
    found = with_noise(seen, Noise(np.full(3, READ), np.full(3, SHOT)))
    assert found.grain is not None and np.array(found.grain) == pytest.approx(np.full(3, 0.02), rel=0.05)


@pytest.mark.independent(
    how="the law of propagation for independent causes, and what falls out of a difference"
)
def test_a_spread_is_made_of_its_causes() -> None:
    parts = Spread(mean=RGB(0.003, 0.003, 0.003), light=RGB(0.004, 0.004, 0.004))
    assert (
        parts.whole() == pytest.approx((0.005,) * 3)
        and parts.most() == "the light's own change from scan to scan"
    )
    rng = np.random.default_rng(8)
    seen = spot(scanned(np.full((40, 40, 3), 1.0), rng), Rectangle(0, 0, 40, 40), None, 0.0, WHITE / 50_000)
    standing = Standing("above base", base=RGB(0.2, 0.2, 0.2), base_spread=RGB(0.001, 0.001, 0.001), lit=True)
    above = reckoned(seen, standing, (20.0, 20.0), (40, 40))
    assert above.parts is not None and above.parts.light == (0, 0, 0) and above.parts.fall_off == (0, 0, 0)
    assert above.density == pytest.approx((0.8,) * 3, abs=0.002)
    veiled = reckoned(
        seen, replace(standing, flare=Flare(RGB(0.01, 0.01, 0.01), 0.02)), (20.0, 20.0), (40, 40)
    )
    assert veiled.parts is not None and min(veiled.parts.veil) > 0.005 and min(veiled.density or ()) > 0.8
    assert reckoned(seen, Standing("none"), (20.0, 20.0), (40, 40)).density is None


@pytest.mark.independent(how="1,024 small spots of pixels that err by themselves, no figure of noise known")
def test_a_small_patch_is_known_as_well_as_its_many_pixels_tell() -> None:
    rng = np.random.default_rng(12)
    scan = scanned(np.full((16 * 32, 16 * 32, 3), 1.2), rng)
    off, said = [], []
    for k in range(32 * 32):
        seen = spot(scan, Rectangle(16 * (k % 32), 16 * (k // 32), 16, 16), None, 0.0, 1.0)
        assert seen.density is not None and seen.parts is not None
        off.append(np.array(seen.density) + np.log10(50_000 / WHITE) - 1.2)
        said.append(np.array(seen.parts.mean))
    within = np.abs(off) / np.array(said)
    assert 0.66 < (within < 1).mean() < 0.72 and 0.945 < (within < 2).mean() < 0.97
    assert np.std(said) < 0.12 * np.mean(said)
