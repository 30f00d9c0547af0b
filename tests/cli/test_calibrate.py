"""`wetside calibrate` and `read --calibration` as their user calls them, on scans of patches with known truth."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import numpy as np
import pytest
import tifffile
from tests.cli.calling import call

from wetside.app.schemas import schema
from wetside.app.viewing import glass
from wetside.app.viewing.densitometer import density_at

LIGHT = np.array([0.80, 0.84, 0.78])
TRUE = np.array([[1.30, -0.20, 0.0], [-0.10, 1.20, -0.06], [0.0, -0.15, 1.22]])
GEAR = ("--light", "panel", "--scanner", "stand")


def target(folder: Path, known: np.ndarray) -> Path:
    """A scan of 6 × 4 patches whose status M densities are known, its open gate and its calibration.json."""
    folder.mkdir(parents=True)
    camera = known @ np.linalg.inv(TRUE).T
    codes = np.zeros((240, 360, 3))
    patches = []
    for k, density in enumerate(camera):
        row, column = divmod(k, 6)
        codes[row * 60 : row * 60 + 60, column * 60 : column * 60 + 60] = 10**-density * LIGHT * 60000
        patches.append(
            {
                "file": "t1.tif",
                "x": column * 60 + 8,
                "y": row * 60 + 8,
                "w": 44,
                "h": 44,
                **dict(zip("rgb", known[k])),
            }
        )
    codes += np.random.default_rng(1).normal(0, 15, codes.shape)
    tifffile.imwrite(folder / "t1.tif", codes.clip(0, 65535).astype(np.uint16), photometric="rgb")
    gate(folder / "open_gate.tif", LIGHT)
    (folder / "calibration.json").write_text(json.dumps({"aim": "status M", "patches": patches}))
    return folder


def gate(file: Path, light: np.ndarray) -> None:
    tifffile.imwrite(file, np.tile(light * 60000, (240, 360, 1)).astype(np.uint16), photometric="rgb")


@pytest.fixture
def known() -> np.ndarray:
    return np.random.default_rng(6).uniform(0.3, 1.9, (24, 3))


@pytest.mark.independent(
    how="a planted matrix, recovered from a scan of coloured patches and used to read them"
)
def test_a_calibration_is_fitted_kept_and_used_to_read(tmp_path: Path, known: np.ndarray) -> None:
    home = tmp_path / "book"
    folder = target(home / "scans" / "T1", known)
    done = call("calibrate", str(folder), *GEAR, "--keep", "panel one", "--json", home=home)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    jsonschema.validate(found, schema("calibration")["json_schema"])
    assert (
        np.array(found["fit"]["matrix"]) == pytest.approx(TRUE, abs=0.02)
        and max(found["fit"]["check"]) < 0.01
    )
    box = "t1.tif:68,8,44,44"
    words = ("read", str(folder), "--patch", box, "--calibration", "panel one", "--json")
    reading = json.loads(call(*words, home=home).stdout)
    jsonschema.validate(reading, schema("read")["json_schema"])
    assert reading["density"] == "status M" and reading["rung"] == 4
    assert not any("patches of known" in reason for reason in reading["reasons"])
    patch = reading["patches"][0]
    assert [patch[c] for c in "rgb"] == pytest.approx(list(known[1]), abs=0.015)
    plain = json.loads(call("read", str(folder), "--patch", box, "--json", home=home).stdout)
    assert plain["density"] == "camera" and patch["spread"]["g"] > plain["patches"][0]["spread"]["g"]
    (tmp_path / "profile.json").write_text(done.stdout)
    without = call(
        "read", str(folder), "--calibration", str(tmp_path / "profile.json"), "--json", home=tmp_path / "none"
    )
    assert json.loads(without.stdout)["density"] == "status M"
    assert glass.strip(home, "T1")["calibrations"] == ["panel one"]
    kept = glass.read_and_keep(home, "T1", None, "panel one")
    assert kept["density"] == "status M" and glass.last_reading(home, "T1")[0] == kept
    tapped = density_at(home, "T1", "t1.tif", 68 + 22, 8 + 22, 44)
    assert tapped["kind"] == "status M"
    for what, of in (("density", patch), ("spread", patch["spread"])):
        assert [tapped[what][c] for c in "rgb"] == pytest.approx([of[c] for c in "rgb"], abs=1e-9)


def test_another_light_is_named_and_without_the_light_nothing_is_calibrated(
    tmp_path: Path, known: np.ndarray
) -> None:
    folder, home = target(tmp_path / "scans", known), tmp_path / "book"
    assert call("calibrate", str(folder), *GEAR, "--keep", "p", home=home).returncode == 0
    gate(folder / "open_gate.tif", LIGHT * np.array([1.05, 1.0, 0.97]))
    said = json.loads(call("read", str(folder), "--calibration", "p", "--json", home=home).stdout)
    assert "light-moved" in [f["id"] for f in said["findings"]]
    (folder / "open_gate.tif").unlink()
    bare = json.loads(call("read", str(folder), "--calibration", "p", "--json", home=home).stdout)
    assert bare["density"] != "status M" and "not-calibrated" in [f["id"] for f in bare["findings"]]
    assert call("calibrate", str(folder), home=home).returncode == 2


@pytest.mark.independent(how="24 neutral patches of known density")
def test_a_neutral_wedge_is_refused_and_not_kept(tmp_path: Path) -> None:
    folder = target(tmp_path / "scans", np.linspace(0.3, 2.0, 24)[:, None] * np.ones(3))
    found = json.loads(call("calibrate", str(folder), "--json", home=tmp_path).stdout)
    assert "neutral wedge alone" in found["cannot_say"] and found["fit"] is None
    assert call("calibrate", str(folder), *GEAR, "--keep", "p", home=tmp_path / "book").returncode == 2


def test_the_light_is_watched_through_its_open_gates(tmp_path: Path) -> None:
    home = tmp_path / "book"
    gate(tmp_path / "a.tif", LIGHT)
    gate(tmp_path / "b.tif", LIGHT * np.array([1.0, 1.0, 0.95]))
    first = json.loads(call("calibrate", str(tmp_path / "a.tif"), *GEAR, "--json", home=home).stdout)
    assert first["findings"] == []
    second = json.loads(call("calibrate", str(tmp_path / "b.tif"), *GEAR, "--json", home=home).stdout)
    assert second["findings"][0]["id"] == "light-moved"
    assert second["seen"][1]["blue_green"] == pytest.approx(np.log10(0.95), abs=0.001)


@pytest.mark.parametrize(
    "text",
    ["", "{", "[]", '{"patches": [{"file": "t1.tif"}]}', '{"aim": "x", "patches": []}', '{"patches": []}'],
)
def test_a_damaged_sidecar_is_one_line(tmp_path: Path, known: np.ndarray, text: str) -> None:
    folder = target(tmp_path / "scans", known)
    (folder / "calibration.json").write_text(text)
    done = call("calibrate", str(folder), "--json", home=tmp_path)
    assert "Traceback" not in done.stderr and done.returncode in (0, 2)
    assert done.returncode == 2 or json.loads(done.stdout)["cannot_say"]


@pytest.mark.independent(how="a light 0.05 D weaker at the right, planted in a frame and its turned scan")
def test_a_turned_frame_tells_the_scanners_shading(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    film = np.kron(0.7 + rng.normal(0, 0.15, (12, 18, 1)), np.ones((20, 20, 3)))
    light = 10 ** -np.linspace(-0.025, 0.025, 360)[None, :, None] * 40000
    for name, density in (("a.tif", film), ("b.tif", film[::-1, ::-1])):
        tifffile.imwrite(tmp_path / name, (10**-density * light).astype(np.uint16), photometric="rgb")
    words = ("calibrate", str(tmp_path / "a.tif"), "--turned", str(tmp_path / "b.tif"), "--json")
    found = json.loads(call(*words, home=tmp_path).stdout)
    jsonschema.validate(found, schema("turned")["json_schema"])
    assert (
        found["left_to_right"]["g"] == pytest.approx(0.05, abs=0.005)
        and abs(found["top_to_bottom"]["g"]) < 0.005
    )
    assert call("calibrate", str(tmp_path / "a.tif"), "--turned", "no.tif", home=tmp_path).returncode == 2
