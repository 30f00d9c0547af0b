"""A roll printed: the bare library reproduces it from the evened negative; a known chart comes out in its colours."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import PyOpenColorIO as ocio
import pytest
import tifffile
from benchmarks.positives import boxes, chart, chart_error

from wetside.app.printing.positive import PositiveOptions, positive
from wetside.figures.finding import Unusable
from wetside.stages.positive.fit import log_exposure
from wetside.stages.positive.transform import OUTPUT, acescct, append_output, processor_of

GREYS = (0.05, 0.23, 0.44, 0.70, 1.05, 1.50)


def film(log_h: np.ndarray) -> np.ndarray:
    """Densities above base of a stock with a toe of another shape than the printer's own assumption."""
    x = log_h[..., None] if log_h.ndim == 0 else log_h
    toe = 0.5 * (x + 1.9 + np.sqrt((x + 1.9) ** 2 + 0.16))
    return toe * np.array([0.45, 0.54, 0.50])


def scan_of(scene: np.ndarray, stops: float, rng: np.random.Generator) -> np.ndarray:
    """A 135-like scan with rebate and holder: uint16 (h, w, 3)."""
    h, w = scene.shape[:2]
    density = np.tile([0.2, 0.55, 0.8], (h + 80, w + 40, 1))
    density[40 : 40 + h, 20 : 20 + w] += film(np.log10(np.maximum(scene, 1e-4)) + 0.30103 * stops)
    light = 10**-density
    light[:10] = light[-10:] = 0
    codes = light * np.array([0.8, 0.84, 0.78]) * 65535
    return (codes + rng.normal(0, 1, codes.shape) * np.sqrt(codes + 30)).clip(0, 65535).astype(np.uint16)


@pytest.fixture(scope="module")
def roll(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Chart and grey scale at −2, 0, +2 stops, an open gate, a stock.json."""
    folder = tmp_path_factory.mktemp("chart")
    rng = np.random.default_rng(2)
    colours = chart()
    scene = np.full((300, 450, 3), 0.05)
    for i, value in enumerate(colours):
        y, x = 20 + (i // 6) * 68, 20 + (i % 6) * 70
        scene[y : y + 56, x : x + 58] = np.maximum(value, 1e-3)
    frames = []
    for number, stops in enumerate((-2, 0, 2), 1):
        tifffile.imwrite(folder / f"c{number}.tif", scan_of(scene, stops, rng), photometric="rgb")
        patches = [
            {
                "x": boxes()[18 + i][0] + 6,
                "y": boxes()[18 + i][1] + 6,
                "w": 44,
                "h": 44,
                "reflection_density": d,
            }
            for i, d in enumerate(GREYS)
        ]
        frames.append({"file": f"c{number}.tif", "stops": stops, "patches": patches})
    tifffile.imwrite(
        folder / "open_gate.tif",
        (np.ones((380, 490, 3)) * np.array([0.8, 0.84, 0.78]) * 65535).astype(np.uint16),
        photometric="rgb",
    )
    (folder / "stock.json").write_text(json.dumps({"stock": "DAY90", "rated_ei": 100, "frames": frames}))
    return folder


@pytest.mark.independent(
    how="OpenColorIO alone: evened negative → CDL → CLF, compared with the picture written"
)
@pytest.mark.parametrize(("door", "written"), [("fitted", False), ("fitted", True), ("exchange", False)])
def test_the_bare_library_reproduces_the_picture_within_a_code(
    roll: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, door: str, written: bool
) -> None:
    if written:
        pytest.importorskip("llvmlite")
        monkeypatch.setattr("wetside.app.printing.positive.LONG", 0)
        monkeypatch.setattr("wetside.app.printing.positive.FINE", 0)
    trims = {"c3.tif": (0.05, -0.02, 0.1)}
    positive(roll, PositiveOptions(tmp_path / "out", door=door, negative="tiff", trims=trims))
    out = tmp_path / "out"
    assert ("written" in json.loads((out / "positive.json").read_text())["versions"]["way"]) == written
    config = ocio.Config.CreateRaw()
    for stem in ("c1", "c3"):
        pixels = tifffile.imread(out / f"{stem}.negative.tif").astype(np.float32) / 65535
        group = ocio.GroupTransform()
        cdl = ocio.CDLTransform.CreateFromFile(str(out / f"{stem}.cdl"), stem)
        group.appendTransform(cdl)
        group.appendTransform(ocio.FileTransform(src=str(out / "positive.clf")))
        config.getProcessor(group).getDefaultCPUProcessor().applyRGB(pixels)
        again = np.round(np.clip(pixels, 0, 1) * 65535)
        assert np.abs(again - tifffile.imread(out / f"{stem}.tif").astype(float)).max() <= 1


@pytest.mark.published(
    source="chart-24",
    place="24 colours through the colour library; ΔE2000 after balance and a row-sum-1 matrix",
)
@pytest.mark.parametrize(("door", "middle", "ends"), [("own", 1.5, 2.5), ("fitted", 2.5, 4.0)])
def test_a_known_chart_comes_out_in_its_colours(
    roll: Path, tmp_path: Path, door: str, middle: float, ends: float
) -> None:
    from wetside.app.sensitometry.stock import curves_of_folder

    curves = curves_of_folder(roll) if door == "own" else None
    positive(roll, PositiveOptions(tmp_path / "o", door=door, kind="exr", space="ACEScg", curves=curves))
    for number, limit in ((1, ends), (2, middle), (3, ends)):
        assert chart_error(tmp_path / "o" / f"c{number}.exr") <= limit


@pytest.mark.independent(how="the forward toe put back")
def test_log_exposure_inverts_the_assumed_toe() -> None:
    x = np.linspace(-0.8, 3, 40)
    density = 0.55 * np.log1p(np.exp(4 * x)) / 4
    assert log_exposure(density, np.array(0.55)) == pytest.approx(x, abs=1e-6)


def test_an_existing_output_is_refused_and_nothing_is_touched(roll: Path, tmp_path: Path) -> None:
    (tmp_path / "c2.tif").write_text("mine")
    with pytest.raises(Unusable, match="overwrite"):
        positive(roll, PositiveOptions(tmp_path))
    assert (
        sorted(p.name for p in tmp_path.iterdir()) == ["c2.tif"]
        and (tmp_path / "c2.tif").read_text() == "mine"
    )


def test_one_damaged_frame_is_named_and_the_rest_is_printed(roll: Path, tmp_path: Path) -> None:
    import shutil

    folder = tmp_path / "scans"
    shutil.copytree(roll, folder)
    (folder / "c2.tif").write_bytes((folder / "c2.tif").read_bytes()[:5000])
    done = positive(folder, PositiveOptions(tmp_path / "out", kind="jpeg"))
    assert [f["file"] for f in done["frames"]] == ["c1.tif", "c3.tif"]
    assert any(f["where"] == "c2.tif" for f in done["findings"])
    assert [p.name for p in (tmp_path / "out").glob(".*")] == [".positive"]


@pytest.mark.independent(how="the colour library's own output transform, colour by colour, without a table")
def test_the_display_table_keeps_to_the_output_transform() -> None:
    rng = np.random.default_rng(6)
    linear = 0.18 * 2 ** rng.uniform(-6, 5, (20_000, 1)) * np.exp(0.5 * rng.standard_normal((20_000, 3)))
    codes = acescct(linear).astype(np.float32)
    chain, table = ocio.GroupTransform(), ocio.GroupTransform()
    for name in ("ACEScct_to_ACES2065-1", OUTPUT, "DISPLAY - CIE-XYZ-D65_to_sRGB"):
        chain.appendTransform(ocio.BuiltinTransform(name))
    append_output(table, "sRGB")
    exact, baked = codes.copy(), codes.copy()
    processor_of(chain).applyRGB(exact)
    processor_of(table).applyRGB(baked)
    off = 255 * np.abs(np.clip(exact, 0, 1) - baked)
    assert off.mean() < 0.12 and np.percentile(off, 99) < 1.2
    neutral = np.repeat(acescct(np.geomspace(0.002, 5000, 400))[:, None], 3, axis=1).astype(np.float32)
    exact, baked = neutral.copy(), neutral.copy()
    processor_of(chain).applyRGB(exact)
    processor_of(table).applyRGB(baked)
    assert 255 * np.abs(np.clip(exact, 0, 1) - baked).max() < 0.2
