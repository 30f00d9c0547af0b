"""Rolls with known truth, made by a model that is not the demo's: base, picture, patches, cast, clean rolls."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile

from wetside.app.reading.read import PatchAt, ReadOptions, read
from wetside.figures.place import Rectangle, intersection_over_union
from wetside.laws.reel.gauges import GAUGES

BASE = np.array([0.19, 0.49, 0.71])
LIGHT = np.array([0.78, 0.86, 0.80])


def textured(height: int, width: int, rng: np.random.Generator) -> np.ndarray:
    """A picture's densities above base: smooth clouds of several sizes, an exposed level everywhere."""
    import cv2

    field = np.zeros((height, width, 3), np.float32)
    for size in (4, 9, 24):
        coarse = rng.normal(0, 1, (size, size, 3)).astype(np.float32)
        field += cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC) / len(range(3))
    return (0.55 + 0.18 * field).clip(0.12, 2.0)


def made_roll(
    folder: Path,
    gauge_name: str,
    px: float,
    frames: int,
    *,
    stain: float = 0.0,
    seed: int = 1,
    gate: bool = True,
) -> list[Rectangle]:
    """Write a roll of scans and return the true rectangles."""
    rng = np.random.default_rng(seed)
    gauge = GAUGES[gauge_name]
    w, h = round(gauge.frame_along_mm * px), round(gauge.frame_across_mm * px)
    height, width = round((gauge.film_width_mm + 1.0) * px), w + round(1.6 * px)
    folder.mkdir(parents=True, exist_ok=True)
    gradient = (1 + 0.08 * (np.arange(width) / width - 0.5))[None, :, None] * LIGHT
    rectangles = []
    for number in range(frames):
        x, y = round(0.8 * px) + int(rng.integers(-2, 3)), height - h - round(1.4 * px)
        y = (height - h) // 2 if gauge.both_edges else y
        density = np.tile(BASE, (height, width, 1))
        density[y : y + h, x : x + w] += textured(h, w, rng)
        density[y + h // 3 : y + h // 3 + 40, x + w // 3 : x + w // 3 + 40] = BASE + 0.8
        across = (np.arange(height) - y) / h
        density += stain * (across - 0.5)[:, None, None]
        light = 10**-density
        _perforate(light, gauge, px, x)
        rim = round(0.5 * px)
        light[:rim] = light[-rim:] = 0
        signal = light * gradient * 65535
        signal += rng.normal(0, 1, signal.shape) * np.sqrt(signal + 40)
        tifffile.imwrite(
            folder / f"n{number + 1}.tif", signal.clip(0, 65535).astype(np.uint16), photometric="rgb"
        )
        rectangles.append(Rectangle(x, y, w, h))
    if gate:
        tifffile.imwrite(
            folder / "open_gate.tif",
            (gradient * np.ones((height, 1, 1)) * 65535).astype(np.uint16),
            photometric="rgb",
        )
    return rectangles


def _perforate(light: np.ndarray, gauge, px: float, x: int) -> None:
    rim, tall, wide = round(0.5 * px), round(gauge.perf_across_mm * px), round(gauge.perf_along_mm * px)
    tops = [rim + round(gauge.perf_edge_mm * px)]
    if gauge.both_edges:
        tops.append(light.shape[0] - tops[0] - tall)
    for top in tops:
        for i in range(-2, 40):
            left = round(x - 3 + (i + 0.3) * gauge.perf_pitch_mm * px)
            if left + wide > 0 and left < light.shape[1]:
                light[top : top + tall, max(0, left) : left + wide] = 1


@pytest.mark.independent(how="planted base, rectangles and patch density")
@pytest.mark.parametrize(("gauge", "px"), [("135", 22.0), ("110", 40.0), ("16still", 45.0), ("16cine", 80.0)])
def test_base_picture_and_patch_of_every_gauge(tmp_path: Path, gauge: str, px: float) -> None:
    true = made_roll(tmp_path, gauge, px, 5)
    patch = Rectangle(true[1].x + true[1].w // 3 + 6, true[1].y + true[1].h // 3 + 6, 28, 28)
    reading = read(tmp_path, ReadOptions(gauge=gauge, patches=(PatchAt("n2.tif", patch),)))
    assert reading.rung == 3 and reading.density == "camera" and reading.base is not None
    assert np.abs(np.array(reading.base.density) - BASE).max() < 0.01
    for frame, rectangle in zip(reading.frames, true):
        assert intersection_over_union(frame.picture, rectangle) > 0.97
    assert reading.patches[0].density is not None
    assert np.abs(np.array(reading.patches[0].density) - (BASE + 0.8)).max() < 0.015
    if gauge in ("135", "16still"):
        assert reading.geometry.px_per_mm == pytest.approx(px, rel=0.01)
    assert (
        sum(len(frame.marks) for frame in reading.frames) <= 6
    )  # the planted patch itself may count, once a frame


@pytest.mark.independent(how="a planted additive stain; the rebate at both edges anchors it")
def test_an_additive_cast_is_found_with_its_size_and_sign(tmp_path: Path) -> None:
    made_roll(tmp_path, "135", 20.0, 8, stain=0.08, seed=4)
    cast = read(tmp_path, ReadOptions(gauge="135", marks=False)).cast
    assert cast.found and cast.kind == "additive" and cast.anchor == "rebate"
    for point in cast.profile:
        assert np.abs(np.array(point.density) - 0.08 * (point.across - 0.5)).max() < 0.01


@pytest.mark.independent(how="a clean roll of the same kind")
def test_a_clean_roll_has_no_cast(tmp_path: Path) -> None:
    made_roll(tmp_path, "135", 20.0, 8, seed=5)
    assert not read(tmp_path, ReadOptions(gauge="135", marks=False)).cast.found


@pytest.mark.independent(how="the same film without its open gate")
def test_without_an_open_gate_densities_count_from_the_base(tmp_path: Path) -> None:
    true = made_roll(tmp_path, "135", 22.0, 4, gate=False)
    patch = Rectangle(true[0].x + true[0].w // 3 + 6, true[0].y + true[0].h // 3 + 6, 28, 28)
    reading = read(tmp_path, ReadOptions(gauge="135", patches=(PatchAt("n1.tif", patch),), marks=False))
    assert reading.rung == 2 and reading.density == "above base"
    assert reading.patches[0].density is not None
    assert np.abs(np.array(reading.patches[0].density) - 0.8).max() < 0.05  # the light's own gradient stays
    assert reading.cast.kind != "additive" or not reading.cast.found
