"""The pixel path against plain float64 and against the library without any of our shortcuts."""

from __future__ import annotations

import numpy as np
import PyOpenColorIO as ocio
import pytest

from wetside.stages.positive import path
from wetside.stages.positive.evening import EvenMap, across_rows, evened_strip, shared_map
from wetside.stages.positive.fit import fitted_tone
from wetside.stages.positive.path import Through, developed, strips
from wetside.stages.positive.rebate import Sampled, consistency, seen_in
from wetside.stages.positive.transform import tone_group, trimmed

BASE = (0.2, 0.55, 0.8)


def codes(seed: int, height: int = 90, width: int = 130) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return (10 ** -rng.uniform(0.1, 2.6, (height, width, 3)) * 65535).astype(np.uint16)


def through_all(
    values: np.ndarray,
    even: EvenMap,
    through: Through,
    veil: tuple[float, float, float] = (0.0, 0.0, 0.0),
    dark: float = 0.0,
) -> tuple[np.ndarray, np.ndarray]:
    """Evened codes and picture of a frame, put together from its strips."""
    parts = [(c.copy(), p.copy()) for _, c, p in developed(strips(values, dark, even, veil), through)]
    kept, picture = (np.concatenate(some) for some in zip(*parts))
    return kept, picture


@pytest.mark.independent(how="a smooth map made at full size")
def test_a_small_map_grows_to_the_full_one_at_its_rim_too() -> None:
    y, x = np.mgrid[0:240, 0:320].astype(np.float32)
    full = np.exp(0.1 * (x / 320) - 0.05 * (y / 240))[..., None].repeat(3, 2)
    small = full.reshape(24, 10, 32, 10, 3).mean(axis=(1, 3))
    even = EvenMap(small, None, 1.0, 240, 320)
    got = np.concatenate([even.strip(top, min(32, 240 - top)).copy() for top in range(0, 240, 32)])
    assert np.abs(got / (full * 65535) - 1).max() < 2e-4
    shared = EvenMap(None, None, 1.0, 240, 320, shared_map(small, 240, 320))
    every, scale = shared.scaled(0, 240)
    assert every.dtype == np.uint16 and np.abs(every * scale / got - 1).max() < 2e-5
    steep = small.copy()
    steep[0, 0] = 20.0
    assert shared_map(steep, 240, 320).rows.dtype == np.float32


@pytest.mark.independent(how="the same in float64 over the whole frame at once")
@pytest.mark.parametrize(
    "veil", [(300.0, 0.0, 25.3), (300.0, 40.0, 64.0)]
)  # in parts of values, in whole ones
def test_frames_that_share_a_map_are_evened_within_a_code_with_a_cast_and_stray_light(
    veil: tuple[float, float, float],
) -> None:
    values = codes(4, 300, 130)
    light = np.exp(0.002 * np.mgrid[0:300, 0:130][1] / 130)[..., None].repeat(3, 2).astype(np.float32)
    across = across_rows((np.array([0.0, 1.0]), np.array([[0.0] * 3, [0.05] * 3])), 10, 280, 300, 1)
    through = Through(ocio.GroupTransform(), "u16")
    even = EvenMap(light, across, 1 / 65535, 300, 130, shared_map(light, 300, 130))
    kept, _ = through_all(values, even, through, veil)
    rows = (np.arange(300) + 0.5 - 10) / 280
    want = (values.astype(float) - np.array(veil)) * light * 10 ** (0.05 * rows)[:, None, None]
    assert (
        np.abs(kept - np.clip(want, 0, 65535)).max() <= 1.6
    )  # half a code each for the map and the value, and the clip's


@pytest.mark.independent(how="the product with one factor a pixel, and codes picked from the whole frame's")
def test_a_frame_without_a_map_is_evened_as_by_one_and_every_so_manieth_code_is_kept(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    values = codes(6, 530, 40)
    values.reshape(-1)[: 65536 // 2] = np.arange(0, 65536, 2)
    through, gain = Through(ocio.GroupTransform(), "u16"), 1.283 / 65535
    even = EvenMap(None, None, gain, 530, 40)
    whole, _ = through_all(values, even, through, (30.0, 0.0, 2.0))
    factors = np.full(values.shape, gain * 65535, np.float32)
    assert np.array_equal(whole, evened_strip(values, 0.0, factors, veil=(30.0, 0.0, 2.0)))
    monkeypatch.setattr(path, "STRIP", 40 * 32)
    thin = Sampled(530, 40, 7)
    for _ in thin.of(strips(values, 0.0, even, (30.0, 0.0, 2.0))):
        pass
    assert np.array_equal(thin.codes, whole[::7, ::7])


@pytest.mark.independent(how="the same in float64 over the whole frame at once")
@pytest.mark.parametrize("dark", [0.0, 37.0])
def test_a_frame_is_evened_within_a_code(dark: float) -> None:
    values = codes(3)
    y, x = np.mgrid[0:90, 0:130]
    light = np.stack([1 + 0.002 * x, 1 + 0.001 * y, np.ones_like(x)], axis=-1).astype(np.float32)
    across = across_rows((np.array([0.0, 1.0]), np.array([[0.0] * 3, [0.05] * 3])), 10, 70, 90, 1)
    even = EvenMap(light, across, 1 / 65535, 90, 130)
    kept, picture = through_all(values, even, Through(ocio.GroupTransform(), "u16"), dark=dark)
    rows = (np.arange(90) + 0.5 - 10) / 70
    want = np.maximum(values.astype(float) - dark, 0) * light * 10 ** (0.05 * rows)[:, None, None]
    assert np.abs(kept - np.clip(want, 0, 65535)).max() <= 0.55  # half a code, and what single precision adds
    assert np.abs(picture.astype(int) - kept).max() <= 1


@pytest.mark.independent(how="OpenColorIO in floating point at its default settings, pixel by pixel")
@pytest.mark.parametrize("trim", [(0.0, 0.0, 0.0), (0.1, -0.05, 0.025)])
@pytest.mark.parametrize("space", ["sRGB", "ACEScg"])
def test_the_table_of_codes_is_what_the_library_makes_of_every_pixel(
    space: str, trim: tuple[float, float, float]
) -> None:
    values = codes(5, 400, 400)
    above = -np.log10(values.reshape(-1, 3) / 65535) - np.array(BASE)
    group = trimmed(tone_group(fitted_tone(above), BASE, space), trim)
    _, picture = through_all(values, EvenMap(None, None, 1 / 65535, 400, 400), Through(group, "u16"))
    pixels = values.astype(np.float32) / np.float32(65535)
    ocio.Config.CreateRaw().getProcessor(group).getDefaultCPUProcessor().applyRGB(pixels)
    assert np.abs(np.round(np.clip(pixels, 0, 1) * 65535) - picture).max() <= 1


@pytest.mark.independent(how="planted densities of the rebate")
def test_the_rolls_consistency_is_the_scatter_of_its_rebate() -> None:
    seen = []
    for shift in (0.0, 0.01, -0.01, 0.0, 0.04):
        frame = np.tile(10 ** -(np.array(BASE) + shift) * 65535, (200, 300, 1))
        frame[40:160, 30:270] *= 10**-0.7
        found = seen_in(np.round(frame).astype(np.uint16), (30, 40, 240, 120), BASE)
        assert found.rebate == pytest.approx([shift] * 3, abs=5e-4)
        seen.append(found.as_json())
    figure = consistency(list("abcde"), seen)
    assert figure["frames"] == 5 and figure["worst_file"] == "e"
    assert figure["worst"] == pytest.approx(0.04, abs=1e-3)
    assert figure["spread"]["g"] == pytest.approx(1.4826 * 0.01, abs=1e-3)


def test_a_roll_without_rebate_has_no_figure_of_consistency() -> None:
    frame = np.full((60, 60, 3), 2000, np.uint16)
    seen = [seen_in(frame, None, BASE).as_json() for _ in range(3)]
    assert consistency(["a", "b", "c"], seen)["worst"] is None
