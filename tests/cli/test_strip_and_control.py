"""The commands `strip` and `control` as their user calls them: a wedge to a stock's card, a strip to the chart."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import tifffile
from tests.cli.calling import call

from wetside.app.schemas import schema

LIGHT = np.array([0.80, 0.84, 0.78])
LEVELS = np.array([0.2, 0.55, 0.8]) + np.linspace(0.0, 1.5, 6)[:, None] ** 1.4


@pytest.fixture
def scans(tmp_path: Path) -> Path:
    """A strip of six steps, 60 pixels each, and its open gate."""
    density = np.repeat(np.repeat(LEVELS[None], 200, axis=0), 60, axis=1)
    rng = np.random.default_rng(2)
    codes = 10**-density * LIGHT * 65535 + rng.normal(0, 20, density.shape)
    folder = tmp_path / "scans"
    folder.mkdir()
    tifffile.imwrite(folder / "strip.tif", codes.clip(0, 65535).astype(np.uint16), photometric="rgb")
    gate = np.tile(LIGHT * 65535, (200, 360, 1)).astype(np.uint16)
    tifffile.imwrite(folder / "open_gate.tif", gate, photometric="rgb")
    return folder


SPOTS = [word for k in range(6) for word in ("--spot", f"{k * 60 + 10},40,40,100")]


@pytest.mark.independent(how="steps of known density written as a scan")
def test_spots_are_read_and_keep_to_their_schema(scans: Path, tmp_path: Path) -> None:
    words = (
        "strip",
        str(scans / "strip.tif"),
        *SPOTS,
        "--step-log-h",
        "0.3",
        "--control-steps",
        "1,2,4,6",
        "--json",
    )
    done = call(*words, home=tmp_path / "none")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    jsonschema.validate(found, schema("strip")["json_schema"])
    got = np.array([[s[c] for c in "rgb"] for s in found["steps"]])
    assert np.abs(got - LEVELS).max() < 0.006 and found["density"] == "camera"
    assert found["control"]["hd_ld"]["g"] == pytest.approx(LEVELS[5, 1] - LEVELS[1, 1], abs=0.006)
    assert found["steps"][2]["log_h"] == pytest.approx(0.6)


def test_without_the_light_steps_count_from_the_thinnest_and_dmin_is_unknown(
    scans: Path, tmp_path: Path
) -> None:
    (scans / "open_gate.tif").unlink()
    done = call(
        "strip", str(scans / "strip.tif"), *SPOTS, "--control-steps", "1,2,4,6", "--json", home=tmp_path
    )
    found = json.loads(done.stdout)
    assert found["density"] == "above base" and found["control"]["dmin"]["r"] is None
    assert found["steps"][5]["g"] == pytest.approx(LEVELS[5, 1] - LEVELS[0, 1], abs=0.006)


def test_a_strip_is_kept_once_its_batch_is_noted_and_shows_in_control(scans: Path, tmp_path: Path) -> None:
    home = tmp_path / "book"
    strip = ("strip", str(scans / "strip.tif"), *SPOTS, "--batch", "S1")
    unknown = call(*strip, home=home)
    assert unknown.returncode == 2
    assert call("note", "strip batch", "batch=S1", "stock=DAY90", "steps=1,2,4,6", home=home).returncode == 0
    refused = call(*strip, "--control-steps", "1,2,4,9", home=home)
    assert refused.returncode == 2 and "step numbers" in refused.stderr
    assert call(*strip, "--reference", home=home).returncode == 0
    assert (
        call(
            "note",
            "strip",
            "batch=S1",
            "run=run 1",
            "dmin=0.2,0.55,0.8",
            "ld=0.4,0.7,1.0",
            "hd=1.6,2,2.3",
            home=home,
        ).returncode
        == 0
    )
    done = call("control", "--json", home=home)
    found = json.loads(done.stdout)
    jsonschema.validate(found, schema("control")["json_schema"])
    assert len(found["strips"]) == 2 and found["verdict"]["state"] == "cannot say"
    wrong = call("note", "strip", "batch=S1", "ld=0.4,0.7", home=home)
    assert wrong.returncode == 2 and "r,g,b" in wrong.stderr


def test_a_wedge_becomes_a_stocks_card(scans: Path, tmp_path: Path) -> None:
    card = scans / "stock.json"
    words = (
        "strip",
        str(scans / "strip.tif"),
        *SPOTS,
        "--step-log-h",
        "0.4",
        "--first-log-h",
        "-3",
        "--stock-card",
        str(card),
    )
    assert call(*words, home=tmp_path).returncode == 0
    given = json.loads(card.read_text())
    assert given["frames"][0]["patches"][5]["log_h"] == pytest.approx(-1.0)
    assert call(*words, home=tmp_path).returncode == 2


@pytest.mark.parametrize("words", [
    ["strip", "no.tif"], ["strip", "no.tif", "--grid", "3"], ["strip", "no.tif", "--spot", "1,2,3"], ["strip", "no.tif", "--log-h", "a"],
    ["strip", "no.tif", "--steps", "1"], ["control", "--batch", "none"], ["control", "sheet", "--gauge", "120"], ["control", "sheet", "--strips", "2"],
])  # fmt: skip
def test_a_slip_is_one_line_and_exit_2(words: list[str], tmp_path: Path) -> None:
    done = call(*words, "--json", home=tmp_path / "none")
    assert done.returncode == 2 and len(done.stderr.strip().splitlines()) == 1
    assert json.loads(done.stdout)["schema"] == "wetside.error/1"


def test_an_empty_book_says_what_would_help(tmp_path: Path) -> None:
    found = json.loads(call("control", "--json", home=tmp_path / "none").stdout)
    assert found["cannot_say"] and "control sheet" in found["would_help"]


@pytest.mark.independent(how="read and shot noise planted in two scans of one strip")
def test_a_second_scan_tells_the_scanners_noise(scans: Path, tmp_path: Path) -> None:
    density = np.repeat(np.repeat(LEVELS[None], 200, axis=0), 60, axis=1)
    clean, rng = 10**-density * LIGHT * 65535, np.random.default_rng(7)
    for file in (scans / "strip.tif", tmp_path / "again.tif"):
        codes = clean + rng.normal(0, np.sqrt(400 + 0.8 * clean))
        tifffile.imwrite(file, codes.clip(0, 65535).astype(np.uint16), photometric="rgb")
    words = ("strip", str(scans / "strip.tif"), *SPOTS, "--again", str(tmp_path / "again.tif"), "--json")
    noise = json.loads(call(*words, home=tmp_path).stdout)["noise"]
    assert noise["shot"]["g"] == pytest.approx(0.8, abs=0.1) and noise["read"]["b"] == pytest.approx(
        20, abs=5
    )
    assert 2.5 < noise["ceiling"]["g"] < 4.0
    assert call(*words[:-3], "--again", "no.tif", home=tmp_path).returncode == 2
