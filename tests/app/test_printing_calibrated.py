"""A calibration in printing: the matrix before the layers' curves, on the command line, in the print room and in the hand-over."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import numpy as np
import PyOpenColorIO as ocio
import pytest
import tifffile
from benchmarks.positives import DYES, overlapping, separations
from fastapi.testclient import TestClient

from wetside.app.printing import print_room
from wetside.app.printing.making import Making, make
from wetside.app.schemas import schema
from wetside.app.sensitometry.calibrate import calibrate, keep
from wetside.cli.main import main
from wetside.stages.positive.fit import fitted_tone, neutral_trim
from wetside.stages.positive.transform import exchange_group, processor_of
from wetside.web.server import create_app

LIGHT = np.array([0.8, 0.84, 0.78])
BASE = np.array([0.2, 0.55, 0.8])


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book with a calibration to a film's layers, and a roll of three small frames on that film."""
    home = tmp_path_factory.mktemp("dyes")
    found = calibrate(separations(home / "single", overlapping))
    keep(home, "single layers", found, "panel", "stand")
    folder, rng = home / "scans" / "D1", np.random.default_rng(4)
    folder.mkdir(parents=True)
    for number in range(3):
        density = np.tile(BASE, (200, 300, 1))
        scene = np.kron(rng.uniform(-1.6, 0.5, (8, 13, 3)), np.ones((20, 20, 1)))
        density[20:-20, 20:-20] += overlapping(scene)
        codes = 10**-density * LIGHT * 65535
        tifffile.imwrite(folder / f"d{number}.tif", codes.astype(np.uint16), photometric="rgb")
    gate = (np.ones((200, 300, 3)) * LIGHT * 65535).astype(np.uint16)
    tifffile.imwrite(folder / "open_gate.tif", gate, photometric="rgb")
    return home


@pytest.fixture
def call(home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    """The command line on that book: exit code and the JSON it printed."""
    monkeypatch.setenv("WETSIDE_HOME", str(home))

    def called(*words: str) -> tuple[int, dict]:
        code = main([*words, "--json"])
        return code, json.loads(capsys.readouterr().out)

    return called


@pytest.mark.independent(
    how="the planted matrix of the dyes; OpenColorIO alone makes the picture again from the evened negative"
)
def test_a_calibrated_roll_says_its_matrix_and_the_bare_library_reproduces_it(
    home: Path, tmp_path: Path, call
) -> None:
    words = ("positive", str(home / "scans" / "D1"), "--out", str(tmp_path), "--negative", "--workers", "1")
    code, found = call(*words, "--calibration", "single layers")
    assert code == 0
    jsonschema.validate(found, schema("positive")["json_schema"])
    told = found["calibration"]
    assert told["aim"] == "layers" and told["patches"] == 15 and told["name"] == "single layers"
    assert np.array(told["matrix"]) == pytest.approx(np.linalg.inv(DYES), abs=0.01)
    assert json.loads((tmp_path / "positive.json").read_text())["calibration"] == told
    assert "Calibration       “single layers”" in (tmp_path / "positive.txt").read_text()
    pixels = tifffile.imread(tmp_path / "d1.negative.tif").astype(np.float32) / 65535
    group = ocio.GroupTransform()
    group.appendTransform(ocio.CDLTransform.CreateFromFile(str(tmp_path / "d1.cdl"), "d1"))
    group.appendTransform(ocio.FileTransform(src=str(tmp_path / "positive.clf")))
    ocio.Config.CreateRaw().getProcessor(group).getDefaultCPUProcessor().applyRGB(pixels)
    picture = tifffile.imread(tmp_path / "d1.tif").astype(float)
    assert np.abs(np.round(np.clip(pixels, 0, 1) * 65535) - picture).max() <= 1
    assert call(*words, "--calibration", "single layers")[1]["kept"] == 3
    code, plain = call(*words)
    assert code == 0 and plain["kept"] == 0 and plain["calibration"] is None
    assert np.abs(tifffile.imread(tmp_path / "d1.tif").astype(float) - picture).mean() > 200


def test_what_speaks_against_a_calibration_is_said(home: Path, tmp_path: Path, call) -> None:
    scans = home / "scans" / "D1"
    words = ("positive", str(scans), "--calibration", "single layers", "--as", "jpeg")
    code, no = call(*words, "--out", str(tmp_path / "no"), "--door", "exchange")
    assert code == 2 and "density that a print sees" in no["what"]
    code, no = call(
        "positive", str(scans), "--out", str(tmp_path / "no"), "--calibration", "nothing of that name"
    )
    assert code == 2 and "single layers" in no["what"] and not (tmp_path / "no").exists()
    gate = (np.ones((200, 300, 3)) * LIGHT * np.array([1.06, 1, 1]) * 60000).astype(np.uint16)
    tifffile.imwrite(tmp_path / "moved.tif", gate, photometric="rgb")
    code, found = call(*words, "--out", str(tmp_path / "b"), "--open-gate", str(tmp_path / "moved.tif"))
    assert code == 0 and "light-moved" in [f["id"] for f in found["findings"]]


@pytest.mark.independent(
    how="the exchange's own steps one after another, the matrix by numpy; and a spot trimmed onto the tone's neutral"
)
def test_the_exchange_and_a_grey_by_a_spot_go_through_the_matrix() -> None:
    matrix = np.linalg.inv(DYES)
    above = np.random.default_rng(3).uniform(0.15, 1.4, (500, 3))
    light = np.ascontiguousarray(10 ** -(above + BASE), np.float32)[None]
    direct = np.ascontiguousarray((500 * (above @ matrix.T) + 95) / 1023, np.float32)[None]
    processor_of(exchange_group(tuple(BASE), "ACES2065-1", matrix)).applyRGB(light)
    group = ocio.GroupTransform()
    group.appendTransform(ocio.BuiltinTransform("ADX10_to_ACES2065-1"))
    processor_of(group).applyRGB(direct)
    assert np.abs(light - direct).max() < 2e-3 * direct.max()
    tone = fitted_tone(above @ matrix.T)
    spot = np.array([0.62, 0.71, 0.66])
    trimmed = (spot + np.array(neutral_trim(spot, tone.table, matrix))) @ matrix.T
    grid = np.linspace(0, 4, len(tone.table))
    x = [np.interp(trimmed[i], grid, tone.table[:, i]) for i in range(3)]
    assert np.ptp(x) < 1e-3 and neutral_trim(spot, tone.table, matrix)[1] == pytest.approx(0, abs=1e-6)


@pytest.mark.independent(how="the roll printed on the command line's way, made smaller")
def test_the_print_room_reads_shows_and_prints_by_the_calibration_that_was_chosen(home: Path) -> None:
    with TestClient(create_app(home), base_url="http://127.0.0.1:8000", client=("127.0.0.1", 5000)) as client:
        assert "<option>single layers</option>" in client.get("/print/D1").text
        print_room.prepare(home, "D1", calibration="single layers")
        page = client.get("/print/D1").text
        assert "The dyes are taken apart first" in page and "serves the own and the fitted door" in page
    found = print_room.room(home, "D1")
    assert found["calibration"] == "single layers" and set(found["calibrated"]) == {"fitted"}
    small = decoded(print_room.picture(home, "D1", "d0.tif", (0.0, 0.0, 0.0)))
    make(home, "D1", Making())
    made = tifffile.imread(home / "positives" / "D1" / "d0.tif")
    assert (
        json.loads((home / "positives" / "D1" / "positive.json").read_text())["calibration"]["patches"] == 15
    )
    inner = (slice(30, -30), slice(30, -30))
    # The small one is a JPEG, whose colours run over the squares' edges: the middle of the differences leaves those out.
    assert np.median(np.abs(small[inner].astype(float) - made[inner] / 257.0)) < 2


def decoded(data: bytes) -> np.ndarray:
    """A JPEG's pixels r g b."""
    import cv2

    return cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)[..., ::-1]
