"""A roll whose light has one gradient and whose film has another: a frame scanned again, turned half round, parts them."""

from __future__ import annotations

import re
from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile
from benchmarks.planted import KEPT_OUT, photograph
from benchmarks.rolls import Setting, roll

from wetside.app.printing.positive import PositiveOptions, positive
from wetside.app.reading.read import PatchAt, ReadOptions, read
from wetside.figures.place import Rectangle
from wetside.figures.reading import RollReading
from wetside.stages.causes.ranking.first_look import first_look
from wetside.store.scans.originals import write_tiff16

pytestmark = pytest.mark.independent(
    how="gradients of the light and of the film planted in photographs; neither is told to the reader"
)
BASE = np.array([0.2, 0.52, 0.78], np.float32)
TALL, WIDE, TOP, LEFT, H, W = 500, 680, 90, 60, 320, 560
NOTHING = np.zeros(3)
#: Density gained over the file's height [D]. The stain is the film's, the lamp the light's.
STAIN, LAMP = np.array([0.02, 0.06, 0.12]), np.array([0.09, 0.07, 0.03])
PATCH, LEVEL = Rectangle(320, 330, 40, 40), 0.8


def film(number: int, stain: np.ndarray) -> np.ndarray:
    picture = cv2.resize(photograph(KEPT_OUT[number % len(KEPT_OUT)]), (W, H), interpolation=cv2.INTER_AREA)
    if number >= len(KEPT_OUT):
        picture = picture[:, ::-1]
    density = np.tile(BASE, (TALL, WIDE, 1))
    density[TOP : TOP + H, LEFT : LEFT + W] += 0.5 * np.log10(1 + 300 * picture)
    density[PATCH.slices] = BASE + LEVEL
    density += (np.linspace(-0.5, 0.5, TALL)[:, None, None] * stain).astype(np.float32)
    density[:15] = density[-15:] = 5.0
    return density


def scan(place: Path, density: np.ndarray, lamp: np.ndarray, rng: np.random.Generator) -> None:
    light = np.linspace(-0.5, 0.5, TALL)[:, None, None] * lamp + rng.normal(0, 0.006, density.shape)
    write_tiff16(place, np.clip(52000 * 10 ** -(density + light), 0, 65535).astype(np.uint16))


def lay(folder: Path, stain: np.ndarray, lamp: np.ndarray, again: bool = True, turned: bool = True) -> None:
    rng = np.random.default_rng(11)
    (folder / "again").mkdir(parents=True)
    for number in range(6):
        scan(folder / f"f{number}.tif", film(number, stain), lamp, rng)
    if again:
        second = film(2, stain)
        second = np.roll(second[::-1, ::-1] if turned else second, (3, -2), axis=(0, 1))
        scan(folder / "again" / "second.tif", second, lamp, rng)


def a_roll(
    folder: Path, stain: np.ndarray, lamp: np.ndarray, again: bool = True, turned: bool = True
) -> RollReading:
    lay(folder, stain, lamp, again, turned)
    return read(folder, ReadOptions(marks=False, patches=(PatchAt("f1.tif", PATCH),)))


def told(reading: RollReading) -> np.ndarray | None:
    """The light's gradient from top to bottom that the reading says."""
    said = [f for f in reading.findings if f.id == "light-from-turned"]
    if not said:
        return None
    assert said[0].where == "f2.tif" and said[0].found.endswith("again/second.tif")
    return np.array(re.findall(r"[+-]\d\.\d+", said[0].found)[3:6], float)


def step(reading: RollReading) -> np.ndarray:
    """How much the reading's cast grows over the height of the file."""
    points = reading.cast.profile
    rows = points[-1].across - points[0].across
    return (np.array(points[-1].density) - np.array(points[0].density)) / rows * TALL / H


def blamed(reading: RollReading) -> str:
    return str(first_look(reading, {})["verdict"])


def test_the_lights_gradient_and_the_films_come_back_apart(tmp_path: Path) -> None:
    reading = a_roll(tmp_path, STAIN, LAMP)
    light = told(reading)
    assert light is not None and np.abs(light - LAMP).max() < 0.01
    assert reading.cast.kind == "additive" and "half round" in reading.cast.basis
    assert np.abs(step(reading) - STAIN).max() < 0.015


def test_a_positive_loses_the_lights_gradient_and_keeps_the_films_until_asked(tmp_path: Path) -> None:
    reading = a_roll(tmp_path / "roll", STAIN, LAMP)
    left = {}
    for name, how in {"plain": {}, "evened": {"even": True}, "as scanned": {"leave": ("light",)}}.items():
        out = tmp_path / name
        found = positive(tmp_path / "roll", PositiveOptions(out, negative="tiff", reading=reading, **how))  # type: ignore[arg-type]
        codes = tifffile.imread(out / "f3.negative.tif")
        ends = [
            np.log10(codes[rows, LEFT : LEFT + W].mean(axis=(0, 1)))
            for rows in (slice(30, 75), slice(425, 470))
        ]
        left[name] = (ends[0] - ends[1]) * TALL / 395
        light = next(one for one in found["corrections"] if one["id"] == "light")
        assert "turned half round" in light["why"] and light["made"] == (name != "as scanned")
    assert np.abs(left["plain"] - STAIN).max() < 0.015
    assert np.abs(left["evened"]).max() < 0.02
    assert np.abs(left["as scanned"] - STAIN - LAMP).max() < 0.01


def test_an_even_film_under_an_uneven_light_is_not_blamed_on_the_process(tmp_path: Path) -> None:
    reading = a_roll(tmp_path, NOTHING, LAMP)
    assert reading.cast.kind == "light" and "so it is the light's" in reading.cast.basis
    assert np.abs(step(reading) - LAMP).max() < 0.015
    assert "light under the negative" in blamed(reading)


def test_an_even_light_leaves_the_cast_to_the_film(tmp_path: Path) -> None:
    reading = a_roll(tmp_path, STAIN, NOTHING)
    assert reading.cast.kind == "additive" and np.abs(step(reading) - STAIN).max() < 0.015
    assert "light under the negative" not in blamed(reading)


@pytest.mark.parametrize(("again", "turned"), [(False, True), (True, False)])
def test_without_a_turned_frame_a_tilt_is_the_lights_and_nothing_is_parted(
    tmp_path: Path, again: bool, turned: bool
) -> None:
    reading = a_roll(tmp_path, STAIN, LAMP, again, turned=turned)
    assert told(reading) is None and reading.cast.kind == "light" and "half round" not in reading.cast.basis


def test_with_rebate_on_one_side_alone_the_gradient_levels_the_patches(tmp_path: Path) -> None:
    truth = roll(
        tmp_path, Setting("135", fine=14.0, gate=False, hidden=("left", "right", "top"), falloff=0.0), 77
    )
    scans = {name: tifffile.imread(tmp_path / name) for name in truth.names}
    lamp = np.linspace(0, 1, scans["n1.tif"].shape[0])[:, None, None] * LAMP
    for name, codes in scans.items():
        write_tiff16(tmp_path / name, (codes * 10**-lamp).astype(np.uint16))
    at = tuple(PatchAt(name, box) for name, (box, _) in zip(truth.names, truth.patches))
    off = []
    for again in (False, True):
        if again:
            (tmp_path / "again").mkdir()
            second = np.roll(scans["n2.tif"][::-1, ::-1], (2, 3), axis=(0, 1)) * 10**-lamp
            write_tiff16(tmp_path / "again" / "n2.tif", second.astype(np.uint16))
        reading = read(tmp_path, ReadOptions(gauge="135", marks=False, patches=at))
        assert any(f.id == "light-untold" for f in reading.findings)
        pairs = [(p, level - truth.base) for p, (_, level) in zip(reading.patches, truth.patches)]
        off.append(max(np.abs(np.array(p.density) - level).max() for p, level in pairs if p.density))
        assert all(p.spread is not None and min(p.spread) >= 0.029 for p, _ in pairs)
        assert reading.footing.surface is not None and (reading.footing.turned is not None) == again
    assert off[1] < 0.012 < 0.03 < off[0]
