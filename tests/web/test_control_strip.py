"""A batch noted and a control strip read on screen: the same figures as the command's, slips in one line, nothing lost."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile
from fastapi.testclient import TestClient

from wetside.app.sensitometry.control import control
from wetside.app.sensitometry.strip import StripOptions, strip
from wetside.figures.place import Rectangle
from wetside.web.server import create_app

LIGHT = np.array([0.80, 0.84, 0.78])
LEVELS = np.array([0.2, 0.55, 0.8]) + np.linspace(0.0, 1.5, 6)[:, None] ** 1.4
BATCH = {
    "batch": "S1",
    "stock": "DAY90",
    "process": "ecn-2",
    "gauge": "135",
    "strips": "18",
    "steps": "1, 3, 4, 6",
}


@pytest.fixture
def site(tmp_path: Path) -> TestClient:
    """A roll whose first frame holds six steps, thinnest first, and whose second holds them the other way round."""
    folder = tmp_path / "scans" / "R1"
    folder.mkdir(parents=True)
    rng = np.random.default_rng(2)
    for name, levels in (("n1.tif", LEVELS), ("n2.tif", LEVELS[::-1])):
        density = np.full((260, 480, 3), 3.0)
        density[30:230, 60:420] = np.repeat(np.repeat(levels[None], 200, axis=0), 60, axis=1)
        codes = 10**-density * LIGHT * 65535 + rng.normal(0, 20, density.shape)
        tifffile.imwrite(folder / name, codes.clip(0, 65535).astype(np.uint16), photometric="rgb")
    gate = np.tile(LIGHT * 65535, (260, 480, 1)).astype(np.uint16)
    tifffile.imwrite(folder / "open_gate.tif", gate, photometric="rgb")
    return TestClient(create_app(tmp_path), base_url="http://127.0.0.1:8000", client=("127.0.0.1", 50000))


def drawn(file: str, **more: str) -> dict[str, str]:
    return {"roll": "R1", "file": file, "x": "60", "y": "30", "w": "360", "h": "200", "batch": "S1", "laid": "row", **more}  # fmt: skip


@pytest.mark.independent(
    how="steps of known density written as scans, one the other way round; the command's own reading"
)
def test_a_strip_is_read_where_an_area_is_drawn_round_its_steps(site: TestClient, tmp_path: Path) -> None:
    assert "No control strip yet" in site.get("/control").text
    area = "/glass/R1/n1.tif/area?x=60&y=30&w=360&h=200"
    assert "Note the batch" in site.get(area).text
    assert "no strip read yet" in site.post("/control/batch", data=BATCH).text
    assert 'action="/control/strip"' in site.get(area).text
    site.post("/control/strip", data=drawn("n1.tif", reference="true"))
    assert "Departures from the aim" in site.post("/control/strip", data=drawn("n2.tif", run="run 1")).text
    first, second = control(tmp_path, "S1")["strips"]
    for name, step in (("dmin", 0), ("ld", 2), ("md", 3), ("hd", 5)):
        for one in (first, second):
            assert [one[name][c] for c in "rgb"] == pytest.approx(list(LEVELS[step]), abs=0.006)
    asked = StripOptions(within=Rectangle(60, 30, 360, 200), grid=(6, 1), control=(1, 3, 4, 6))
    told = strip(tmp_path / "scans" / "R1" / "n1.tif", asked)
    assert told["control"]["hd"] == first["hd"]


def test_what_cannot_be_done_is_one_line_with_the_way_back(site: TestClient) -> None:
    wrong = site.post("/control/batch", data={**BATCH, "steps": "6,1"}).text
    assert "four step numbers that rise" in wrong and 'href="/control/sheet"' in wrong
    site.post("/control/batch", data=BATCH)
    unknown = site.post("/control/strip", data=drawn("n1.tif", run="run 1", batch="S9")).text
    assert "no batch" in unknown and 'href="/glass/R1?frame=1"' in unknown
    assert "name the run" in site.post("/control/strip", data=drawn("n1.tif")).text
    nothing = {**drawn("n1.tif", run="run 1", laid="borders"), "x": "0", "w": "50"}
    assert "Not done: not noted:" in site.post("/control/strip", data=nothing).text


def test_before_any_strip_a_clip_goes_first_and_the_page_says_how(site: TestClient) -> None:
    page = site.get("/control").text
    assert "Clip first" in page and "three frames" in page
