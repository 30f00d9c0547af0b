"""A grey scale shown on the glass frame by frame: the curve of its stock comes out, without a file written by hand."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import tifffile
from fastapi.testclient import TestClient

from wetside.app.book import note
from wetside.app.schemas import schema
from wetside.app.sensitometry.stock import sidecar, stock
from wetside.web.server import create_app

LIGHT = np.array([0.80, 0.84, 0.78])
BASE = np.array([0.2, 0.55, 0.8])
SCALE = (0.05, 0.25, 0.5, 0.75, 1.1, 1.55)
GRADIENT = np.array([0.50, 0.56, 0.54])
EI = 64.0


def density_of(stops: float) -> np.ndarray:
    """Densities (6, 3) of the scale's steps, light to dark: a straight line over a toe, mid-grey at 0.7 D above base."""
    log_h = 0.301 * stops - (np.array(SCALE) - 0.745)
    above = GRADIENT * (np.logaddexp(0, 6 * (log_h + 1.3)) / 6)[:, None]
    return BASE + above


@pytest.fixture
def site(tmp_path: Path) -> TestClient:
    """A roll of four frames, a stop apart, that hold a six-step scale in a row; on the second it lies the other way round."""
    folder = tmp_path / "scans" / "R1"
    folder.mkdir(parents=True)
    rng = np.random.default_rng(2)
    for i, stops in enumerate((-2, -1, 0, 1)):
        levels = density_of(stops)[:: -1 if i == 1 else 1]
        density = np.tile(BASE, (300, 520, 1))
        density[40:260, 60:460] += 0.3
        density[80:220, 80:440] = np.repeat(np.repeat(levels[None], 140, axis=0), 60, axis=1)
        codes = 10**-density * LIGHT * 65535 + rng.normal(0, 20, density.shape)
        tifffile.imwrite(folder / f"n{i + 1}.tif", codes.clip(0, 65535).astype(np.uint16), photometric="rgb")
    gate = np.tile(LIGHT * 65535, (300, 520, 1)).astype(np.uint16)
    tifffile.imwrite(folder / "open_gate.tif", gate, photometric="rgb")
    return TestClient(create_app(tmp_path), base_url="http://127.0.0.1:8000", client=("127.0.0.1", 50000))


def drawn(i: int, **more: str) -> dict[str, str]:
    return {"roll": "R1", "file": f"n{i}.tif", "frame": str(i), "x": "80", "y": "80", "w": "360", "h": "140", "laid": "row",
            "densities": "0.05, 0.25 0.5; 0.75, 1.1, 1.55", "ei": "64", "stops": str(i - 3), **more}  # fmt: skip


def noted(home: Path) -> None:
    note(home, "stock", {"stock": "DAY64", "process": "ecn-2", "rated_ei": "64", "balance": "daylight"})
    note(home, "roll", {"roll": "R1", "stock": "DAY64", "gauge": "135", "length_mm": "300"})


@pytest.mark.independent(how="densities written as scans, against the film model's own line")
def test_a_scale_shown_on_three_frames_gives_the_stocks_curve(site: TestClient, tmp_path: Path) -> None:
    noted(tmp_path)
    area = "/glass/R1/n1.tif/area?x=80&y=80&w=360&h=140"
    assert "Keep it for DAY64" in site.get(area).text and 'value="64"' in site.get(area).text
    for i in (1, 2, 3, 4):
        said = site.post("/stocks/scale", data=drawn(i)).text
        assert f"The scale on frame {i} of R1 is kept; {i} frame" in said
    again = site.post("/stocks/scale", data=drawn(4)).text
    assert "4 frames hold it now" in again and "0.05, 0.25, 0.5" in site.get(area).text
    given = sidecar(tmp_path / "scans" / "R1")
    jsonschema.validate(given, schema("stock-input")["json_schema"])
    first = [patch["x"] for patch in given["frames"][0]["patches"]]
    assert first == sorted(first) and [p["x"] for p in given["frames"][1]["patches"]] == first[::-1]
    card = stock("DAY64", tmp_path)
    assert card["frames"] == 4
    for layer, gradient in zip("rgb", GRADIENT):
        assert card["average_gradient"][layer] == pytest.approx(gradient, rel=0.06)


@pytest.mark.parametrize(
    ("more", "say"),
    [
        ({"densities": "1.55, 0.05"}, "from light to dark"),
        ({"densities": "none"}, "from light to dark"),
        ({"ei": "0"}, "exposure index"),
        ({"x": "0", "y": "0", "w": "40", "h": "40"}, "light to dark"),
        ({"file": "no.tif"}, "no.tif"),
    ],
)
def test_what_cannot_be_kept_is_a_line_and_leaves_what_there_was(
    site: TestClient, tmp_path: Path, more: dict[str, str], say: str
) -> None:
    noted(tmp_path)
    site.post("/stocks/scale", data=drawn(3))
    before = (tmp_path / "scans" / "R1" / "stock.json").read_bytes()
    answer = site.post("/stocks/scale", data=drawn(2, **more))
    assert answer.status_code in (404, 422) and say in answer.text
    assert (tmp_path / "scans" / "R1" / "stock.json").read_bytes() == before


def test_a_roll_of_no_stock_and_a_file_kept_by_hand(site: TestClient, tmp_path: Path) -> None:
    assert "does not say which stock R1 is" in site.post("/stocks/scale", data=drawn(3)).text
    noted(tmp_path)
    by_hand = {
        "stock": "DAY64",
        "balance": "daylight",
        "frames": [{"file": "n9.tif", "stops": 2, "patches": []}],
    }
    (tmp_path / "scans" / "R1" / "stock.json").write_text(json.dumps(by_hand))
    site.post("/stocks/scale", data=drawn(3))
    kept = sidecar(tmp_path / "scans" / "R1")
    assert [one["file"] for one in kept["frames"]] == ["n3.tif", "n9.tif"]
