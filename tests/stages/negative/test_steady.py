"""Exposure and light from what a roll's frames share, against rolls whose exposure and light were planted."""

import numpy as np
import pytest

from wetside.stages.negative.levelling import Level
from wetside.stages.negative.light_surface import surface_through
from wetside.stages.negative.steady import steady
from wetside.stages.negative.working import Working, in_steps

pytestmark = pytest.mark.independent(how="exposure and light planted in made frames")
BASE = np.array([0.2, 0.55, 0.8])
SHIFTS = np.array([0.0, 0.12, -0.07, 0.03, 0.0])


def _light(height: int, width: int, lens: bool) -> np.ndarray:
    y, x = np.mgrid[0:height, 0:width]
    r2 = ((x - width / 2) ** 2 + (y - height / 2) ** 2) / (width / 2) ** 2
    return 2 * np.log10(1 + 0.12 * r2) if lens else -np.log10(1 - 0.2 * r2)


def _roll(lens: bool, alike: bool = False) -> list[Working]:
    rng = np.random.default_rng(3)
    height, width = 160, 240
    frames = []
    for number, shift in enumerate(SHIFTS):
        density = np.tile(BASE, (height, width, 1)) + _light(height, width, lens)[..., None] + shift
        scene = np.full((100, 180, 1), 0.7) if alike else rng.uniform(0.05, 1.2, (10, 18, 1))
        density[30:130, 30:210] += np.kron(scene, np.ones((10, 10, 1)))[:100, :180] if not alike else scene
        density += rng.normal(0, 0.004, density.shape)
        kept = in_steps(density)
        frames.append(Working(f"{number}.tif", kept, np.zeros(kept.shape[:2], np.uint16), 1.0, width, height))
    return frames


@pytest.mark.parametrize("lens", [False, True])
def test_exposure_and_light_are_read_from_what_the_frames_share(lens: bool) -> None:
    found = steady(_roll(lens))
    assert found is not None
    assert np.abs(found.shifts - (SHIFTS - np.median(SHIFTS))).max() < 0.004
    wanted = _light(160, 240, lens)
    off = found.surface.over(160, 240) - wanted
    assert np.ptp(off) < 0.02


def test_levelled_frames_have_one_base_everywhere() -> None:
    frames = _roll(lens=True)
    found = steady(frames)
    assert found is not None
    level = Level(frames, found.shifts, found.surface)
    corners = [one.density[:20, :20].mean(axis=(0, 1)) for one in level]
    edges = [one.density[:20, 110:130].mean(axis=(0, 1)) for one in level]
    assert np.abs(np.array(corners) - np.array(edges)).max() < 0.006
    assert np.ptp(np.array(corners), axis=0).max() < 0.006


def test_a_roll_of_equal_frames_does_not_tell_its_light() -> None:
    assert steady(_roll(lens=False, alike=True)) is None


def test_two_frames_do_not_tell() -> None:
    assert steady(_roll(lens=False)[:2]) is None


def test_a_strong_light_is_fitted_in_light_and_a_gaussian_one_in_density() -> None:
    rng = np.random.default_rng(8)
    u, v = rng.uniform(-1, 1, 400), rng.uniform(-1, 1, 400)
    parabola = -np.log10(1 - 0.3 * (u * u + v * v))[:, None]
    bell = 0.3 * (u * u + v * v)[:, None]
    assert surface_through(u, v, parabola).form == "light"
    assert surface_through(u, v, bell).form == "density"


def test_where_the_two_forms_part_the_light_is_less_sure() -> None:
    from wetside.stages.negative.fall_off import FallOff

    angle = np.linspace(0, 2 * np.pi, 300)
    u, v = np.cos(angle) * np.linspace(0.9, 1.3, 300), np.sin(angle) * np.linspace(0.9, 1.3, 300)
    seen = FallOff(
        surface_through(u, v, np.repeat(2 * np.log10(1 + 0.2 * (u * u + v * v))[:, None], 3, axis=1))
    )
    off = np.abs(seen.at(100, 100, 200, 200))
    assert (seen.spread_at(100, 100, 200, 200) > 5 * seen.error).all()
    assert (off < 3 * seen.spread_at(100, 100, 200, 200)).all()
