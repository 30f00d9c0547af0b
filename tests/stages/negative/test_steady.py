"""Exposure and light from what a roll's frames share, against rolls whose exposure and light were planted."""

import json

import numpy as np
import pytest

from wetside.figures.channels import rgb
from wetside.stages.negative.found.shown import FilmOfFrame
from wetside.stages.negative.found.steady import steady
from wetside.stages.negative.scanner.fall_off import fall_off
from wetside.stages.negative.scanner.levelling import Level
from wetside.stages.negative.scanner.light_surface import fitted_surface, surface_from, surface_through
from wetside.stages.negative.scanner.working import Working, in_steps

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


def test_a_tall_frame_whose_small_picture_misses_its_shape_keeps_its_light_to_a_thousandth() -> None:
    tall = 644 / 353
    v, u = np.mgrid[0:240, 0:132]
    u, v = (u + 0.5) / 66 - 1, ((v + 0.5) / 120 - 1) * tall
    level = -np.log10(1 - 0.18 * (u * u + (v - 0.2) ** 2))
    rebate = (v < -0.7) | (v > 1.5)
    found = fitted_surface(np.repeat(level[..., None], 3, axis=2), rebate, tall)
    assert found is not None
    here = found.at(np.zeros(1), np.array([0.5]))[0, 0] - (-np.log10(1 - 0.18 * 0.09))
    assert here == pytest.approx(-np.median(level[rebate]), abs=2e-4)


@pytest.mark.parametrize("lens", [False, True])
def test_two_frames_rebate_tells_a_strong_light_to_a_thousandth(lens: bool) -> None:
    edges = (30.0, 30.0, 210.0, 130.0)
    films = [FilmOfFrame(edges, True, rgb(BASE + 0.15), None)] * 2
    found = fall_off([one for one, shift in zip(_roll(lens), SHIFTS) if shift == 0], films)
    assert found is not None
    wanted = _light(160, 240, lens)[80, 120] - 0.15
    assert found.at(120, 80, 240, 160) == pytest.approx(np.full(3, wanted), abs=1e-3)


def test_a_strong_light_is_fitted_in_light_and_a_gaussian_one_in_density() -> None:
    rng = np.random.default_rng(8)
    u, v = rng.uniform(-1, 1, 400), rng.uniform(-1, 1, 400)
    parabola = -np.log10(1 - 0.3 * (u * u + v * v))[:, None]
    bell = 0.3 * (u * u + v * v)[:, None]
    assert surface_through(u, v, parabola).power == 1
    assert surface_through(u, v, bell).power == 0


def test_a_lens_is_told_from_a_parabola_by_a_rebate_that_lies_far_out() -> None:
    angle = np.linspace(0, 2 * np.pi, 300)
    reach = np.linspace(0.9, 1.6, 300)
    u, v = np.cos(7 * angle) * reach, np.sin(7 * angle) * reach
    rng = np.random.default_rng(5)
    lens = 2 * np.log10(1 + 0.15 * (u * u + v * v)) + rng.normal(0, 4e-4, 300)
    found = surface_through(u, v, np.repeat(lens[:, None], 3, axis=1))
    middle = np.zeros(1)
    assert found.power == -0.5
    assert np.abs(found.at(middle, middle)).max() < 3 * found.spread(middle, middle).max() < 0.03


def test_where_no_power_fits_the_middle_is_less_sure_and_within_a_hundredth() -> None:
    angle = np.linspace(0, 2 * np.pi, 300)
    reach = np.linspace(0.9, 1.3, 300)
    u, v = np.cos(7 * angle) * reach, np.sin(7 * angle) * reach
    fourth = -np.log10(1 - 0.06 * (u * u + v * v) ** 2)
    found = surface_through(u, v, np.repeat(fourth[:, None], 3, axis=1))
    middle, edge = (found.spread(np.array([at]), np.zeros(1)).max() for at in (0.0, 1.1))
    off = np.abs(found.at(np.zeros(1), np.zeros(1))).max()
    assert middle > 1.5 * edge and off < 0.01
    kept = surface_from(json.loads(json.dumps(found.as_json())))
    assert kept.at(u, v) == pytest.approx(found.at(u, v)) and kept.spread(u, v) == pytest.approx(
        found.spread(u, v), rel=0.01, abs=1e-5
    )
