"""What is taken out of a roll: levels, stray light, casts; each says why, each can stay in."""

from __future__ import annotations

import json
from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile

from wetside.app.printing.positive import PositiveOptions, positive
from wetside.app.printing.recipe import Recipe
from wetside.app.reading.read import ReadOptions, read
from wetside.figures.place import Part, Rectangle
from wetside.laws.image.evenness import light_factor
from wetside.stages.negative.scanner.working import field_within
from wetside.stages.positive.evening import evened_strip
from wetside.store.scans.originals import write_tiff16

BASE = np.array([0.2, 0.55, 0.8])
FLARE = 0.02


@pytest.fixture(scope="module")
def roll(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six frames in an opaque holder, with stray light; one scanned a third of a stop longer than the rest."""
    return veiled(tmp_path_factory.mktemp("veiled"), np.ones((150, 200, 1)))


def veiled(folder: Path, shine: np.ndarray, lies: float | np.ndarray = 1.0) -> Path:
    """The same under a light (h, w, 1), and stray light that lies so over the frame (h, w, 1)."""
    rng = np.random.default_rng(3)
    folder.mkdir(exist_ok=True)
    for i in range(6):
        density = np.full((150, 200, 3), 5.0)
        density[15:-15, 6:-6] = BASE
        soft = np.kron(rng.uniform(0.2, 1.4, (6, 8)), np.ones((16, 20)))[..., None]
        density[28:124, 20:180] += soft * np.array([0.9, 1.0, 1.05])
        light = 10**-density * shine
        light = (1 - FLARE) * light + FLARE * light.mean(axis=(0, 1)) * lies
        codes = light * 50000 * (10**0.1 if i == 3 else 1.0)
        codes += rng.standard_normal(codes.shape) * np.sqrt(codes * 0.3 + 9)
        write_tiff16(folder / f"v{i + 1}.tif", codes.clip(0, 65535).astype(np.uint16))
        np.save(folder / f"v{i + 1}.npy", density)
    write_tiff16(folder / "open_gate.tif", np.tile(50000 * shine, 3).astype(np.uint16))
    return folder


def above_base(out: Path, name: str) -> np.ndarray:
    codes = tifffile.imread(out / f"{name}.negative.tif").astype(float)
    return -np.log10(np.maximum(codes, 1) / 65535)


@pytest.mark.independent(
    how="densities planted under a veil and at another exposure, against the evened negative"
)
def test_stray_light_and_another_exposure_are_off_the_evened_negative(roll: Path, tmp_path: Path) -> None:
    found = positive(roll, PositiveOptions(tmp_path / "out", negative="tiff"))
    made = {one["id"]: one for one in found["corrections"]}
    assert (
        made["flare"]["made"]
        and made["level"]["made"]
        and made["level"]["size"] == pytest.approx(0.1, abs=0.005)
    )
    assert "opaque holder" in made["flare"]["why"] and "one density on the whole roll" in made["level"]["why"]
    before = found["consistency"]["before"]
    assert before["worst"] > 0.09 and found["consistency"]["worst"] < 0.01
    for i in (1, 4):
        truth = np.load(roll / f"v{i}.npy")[30:122, 24:176]
        away = above_base(tmp_path / "out", f"v{i}")[30:122, 24:176] - truth
        dense = truth[..., 2] > 2.0
        assert np.abs(np.median(away, axis=(0, 1))).max() < 0.012
        assert dense.any() and abs(np.median(away[..., 2][dense])) < 0.03


@pytest.mark.independent(
    how="densities planted under a veil of one amount and a light that falls off, place by place"
)
def test_stray_light_comes_off_at_each_places_own_light(tmp_path: Path) -> None:
    y, x = np.mgrid[-1:1:150j, -1:1:200j]
    shine = (1 - 0.2 * (x**2 + y**2))[..., None]
    (tmp_path / "scans").mkdir()
    folder = veiled(tmp_path / "scans", shine)
    positive(folder, PositiveOptions(tmp_path / "out", negative="tiff", leave=("level",)))
    truth = np.concatenate([np.load(folder / f"v{i}.npy")[30:122, 24:176] for i in (1, 2, 3, 5, 6)])
    away = (
        np.concatenate([above_base(tmp_path / "out", f"v{i}")[30:122, 24:176] for i in (1, 2, 3, 5, 6)])
        - truth
    )
    weak = np.tile(shine[30:122, 24:176] < 0.85, (5, 1, 3))
    dense = (truth > 1.5) & (truth < 2.0)
    for place in (dense & weak, dense & ~weak):
        assert place.sum() > 300 and abs(np.median(away[place])) < 0.002


@pytest.mark.independent(how="densities planted under stray light that grows from one side to the other")
def test_stray_light_comes_off_as_it_lies(tmp_path: Path) -> None:
    slant = np.linspace(0.5, 1.5, 200)[None, :, None] * np.ones((150, 1, 1))
    folder = veiled(tmp_path / "scans", np.ones((150, 200, 1)), slant)
    positive(folder, PositiveOptions(tmp_path / "out", negative="tiff", leave=("level",)))
    sides: list[list[np.ndarray]] = [[], []]
    for i in (1, 2, 3, 5, 6):
        truth = np.load(folder / f"v{i}.npy")
        away = above_base(tmp_path / "out", f"v{i}") - truth
        dense = (truth > 1.5) & (truth < 2.0)
        for side, columns in zip(sides, (slice(22, 70), slice(130, 178))):
            side.append(away[30:122, columns][dense[30:122, columns]])
    left, right = (float(np.median(np.concatenate(side))) for side in sides)
    assert abs(left) < 0.002 and abs(right) < 0.002  # 0.01 D where its mean came off everywhere


def test_what_is_left_in_on_purpose_stays_in_and_is_said(roll: Path, tmp_path: Path) -> None:
    options = PositiveOptions(tmp_path / "out", negative="tiff", leave=("level", "flare", "light"))
    found = positive(roll, options)
    assert not any(one["made"] for one in found["corrections"])
    away = above_base(tmp_path / "out", "v4")[20, 60:140] - above_base(tmp_path / "out", "v1")[20, 60:140]
    assert np.median(away) == pytest.approx(-0.1, abs=0.01)
    assert found["evenness"]["say"].endswith("left in, as asked")
    sheet = json.loads((tmp_path / "out" / "positive.json").read_text())
    assert [one["made"] for one in sheet["corrections"]] == [False, False, False]
    text = " ".join((tmp_path / "out" / "positive.txt").read_text().split())
    assert "Left in stray light" in text
    again = positive(roll, PositiveOptions(tmp_path / "out", negative="tiff"))
    assert again["kept"] == 0  # what is taken out belongs to a frame's inputs


@pytest.mark.independent(how="the flare's law on densities, against whole numbers of 16 bits")
def test_a_veil_comes_off_as_the_law_of_densities_says() -> None:
    from wetside.laws.sensitometry.density import density_without_flare

    density = np.linspace(0.1, 2.2, 200, dtype=np.float32)
    level, share = (0.002, 0.003, 0.001), 0.02
    through = np.stack([10.0**-density + 0 * v for v in level], axis=-1)[None]
    r, g, b = level
    veil = (r * 65535, g * 65535, b * 65535)
    factors = np.full((1, 200, 3), 1 / (1 - share), np.float32)
    codes = evened_strip((through * 65535).round().astype(np.uint16), 0.0, factors, veil=veil)
    wanted = density_without_flare(np.tile(density[:, None], 3)[None], np.array(level), share)
    assert np.abs(codes - 65535 * 10.0**-wanted).max() <= 1.6
    in_parts = evened_strip(
        (through * 1023).astype(np.float32),
        0.0,
        factors,
        veil=(r * 1023, g * 1023, b * 1023),
        scale=65535 / 1023,
    )
    assert np.abs(in_parts - 65535 * 10.0**-wanted).max() <= 1.0


@pytest.fixture(scope="module")
def developed_unevenly(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, np.ndarray]:
    """A roll whose density above base grows by 20 % down the picture, more in one layer; rebate even."""
    folder = tmp_path_factory.mktemp("uneven")
    rng = np.random.default_rng(8)
    grown = 1 + np.linspace(-0.1, 0.1, 180)[:, None, None] * np.array([1.0, 0.65, 0.85])
    for i in range(12):
        density = np.tile(BASE, (240, 320, 1))
        soft = cv2.resize(rng.normal(0.4 + 0.08 * i, 0.06, (5, 7)), (260, 180), interpolation=cv2.INTER_CUBIC)
        density[30:210, 30:290] += np.maximum(soft, 0.05)[..., None] * np.array([0.9, 1.0, 1.05]) * grown
        codes = 10**-density * 55000
        codes += rng.standard_normal(codes.shape) * np.sqrt(codes * 0.3)
        write_tiff16(folder / f"u{i + 1}.tif", codes.clip(0, 65535).astype(np.uint16))
    write_tiff16(folder / "open_gate.tif", np.full((240, 320, 3), 55000, np.uint16))
    return folder, grown


@pytest.mark.independent(
    how="a development cast planted as a factor on density; what is left of it in the mid-tones"
)
def test_a_cast_that_grows_with_density_is_corrected_in_the_mid_tones_when_asked_and_labelled(
    developed_unevenly: tuple[Path, np.ndarray], tmp_path: Path
) -> None:
    folder, _ = developed_unevenly
    reading = read(folder, ReadOptions(marks=False))
    assert reading.cast.found and reading.cast.kind == "with density"
    plain = positive(folder, PositiveOptions(tmp_path / "a", even=True, negative="tiff"))
    asked = positive(folder, PositiveOptions(tmp_path / "b", mid_tones=True, negative="tiff"))
    one = {c["id"]: c for c in asked["corrections"]}["mid-tones"]
    assert one["made"] and one["remains"] > 0 and asked["evenness"]["label"].startswith("Mid-tones only")
    assert not {c["id"]: c for c in plain["corrections"]}["mid-tones"]["made"]

    def lean(out: Path) -> float:
        """Bottom less top of the pictures' mean red density over green [D]."""
        found = []
        for i in range(12):
            d = above_base(out, f"u{i + 1}")[..., 0] - above_base(out, f"u{i + 1}")[..., 1] * 0.9
            found.append(d[170:205, 40:280].mean() - d[35:70, 40:280].mean())
        return float(np.mean(found))

    assert abs(lean(tmp_path / "b")) < 0.5 * abs(lean(tmp_path / "a"))


def test_a_light_left_in_is_its_mean_wherever_a_frame_lies_in_its_file() -> None:
    light = np.random.default_rng(2).uniform(1, 2, (12, 40, 3)).astype(np.float32)
    recipe = Recipe("fitted", "sRGB", "tiff", None, (0.2, 0.55, 0.8), light=light, leave=("light",))
    part = Part(Rectangle(3000, 0, 900, 1200))
    found = field_within(recipe.lit(), part, 4000)
    assert found.shape[1] == 9 and np.ptp(found, axis=(0, 1)).max() == 0
    assert np.log(found[0, 0]) == pytest.approx(np.log(light).mean(axis=(0, 1)), abs=1e-5)


@pytest.mark.independent(how="a light whose mean is known: the same everywhere")
def test_a_large_even_light_left_in_keeps_its_own_colour() -> None:
    light = np.full((900, 1000, 3), (1.77e-5, 2.31e-5, 2.42e-5), np.float32)
    recipe = Recipe("fitted", "sRGB", "tiff", None, (0.2, 0.55, 0.8), light=light, leave=("light",))
    left = recipe.lit()
    assert left is not None and np.abs(np.log10(left[0, 0] / light[0, 0])).max() < 1e-5
    assert np.abs(np.log10(light_factor(1 / light)[0, 0])).max() < 1e-5
