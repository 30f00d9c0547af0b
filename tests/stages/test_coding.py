"""What was done to the files: inverted, sharpened, exposed frame by frame, scanned in another light, turned."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile
from benchmarks.rolls import Setting, roll
from tests.stages.test_roll_of_known_truth import BASE, made_roll

from wetside.app.reading.read import ReadOptions, read
from wetside.figures.finding import Finding
from wetside.stages.negative.scanner.coding import OPPOSED, neighbours

NO_MARKS = ReadOptions(gauge="135", marks=False)


def _ids(folder: Path, options: ReadOptions = NO_MARKS) -> set[str]:
    return {finding.id for finding in read(folder, options).findings}


def _again(folder: Path, change, which: slice = slice(None), tags: tuple = ()) -> None:
    for path in sorted(folder.glob("n*.tif"))[which]:
        pixels = change(tifffile.imread(path).astype(np.float64))
        tifffile.imwrite(
            path, pixels.clip(0, 65535).astype(np.uint16), photometric="rgb", extratags=list(tags)
        )


def test_a_plain_roll_has_none_of_these(tmp_path: Path) -> None:
    made_roll(tmp_path, "135", 20.0, 5)
    assert not _ids(tmp_path) & {
        "inverted",
        "sharpened",
        "exposures-told",
        "light-differs",
        "turned",
        "base-clipped",
    }


@pytest.mark.independent(how="the same roll inverted and balanced as a laboratory's software would")
def test_a_positive_is_seen_for_one_and_gives_no_density(tmp_path: Path) -> None:
    made_roll(tmp_path, "135", 20.0, 5, gate=False)
    full = 10**-BASE * 65535 * np.array([0.78, 0.86, 0.80])
    _again(tmp_path, lambda p: 65535 * np.clip(0.02 + 0.9 * (1 - p / full), 0.002, 1) ** 1.2)
    reading = read(tmp_path, NO_MARKS)
    assert reading.rung == 0 and reading.base is None and "inverted" in {f.id for f in reading.findings}


@pytest.mark.independent(
    how="the same roll turned round code by code, its mask left in, as a plain inversion gives it"
)
def test_a_positive_whose_mask_was_left_in_is_seen_for_one_too(tmp_path: Path) -> None:
    made_roll(tmp_path, "135", 20.0, 3, gate=False)
    _again(tmp_path, lambda p: 65535 * (1 - (p / 65535) ** (1 / 2.2)))
    reading = read(tmp_path, NO_MARKS)
    assert reading.rung == 0 and reading.base is None and "inverted" in {f.id for f in reading.findings}


@pytest.mark.independent(how="the green layer of a drawn roll alone: its base as drawn")
def test_one_channel_is_a_negative_still_and_says_what_it_lacks(tmp_path: Path) -> None:
    made_roll(tmp_path, "135", 20.0, 3)
    for path in tmp_path.glob("*.tif"):
        tifffile.imwrite(path, tifffile.imread(path)[..., 1])
    reading = read(tmp_path, NO_MARKS)
    assert {f.id for f in reading.findings} == {"single-channel"}
    assert reading.base is not None and reading.base.density.g == pytest.approx(BASE[1], abs=0.015)


@pytest.mark.independent(
    how="a roll given three times the light of its open gate: no film is thinner than none"
)
def test_a_base_thinner_than_no_film_is_said_with_what_to_scan_again(tmp_path: Path) -> None:
    made_roll(tmp_path, "135", 20.0, 3)
    _again(tmp_path, lambda p: 3.2 * p)
    said = [f for f in read(tmp_path, NO_MARKS).findings if f.id == "base-thinner-than-light"]
    assert len(said) == 1 and "three quarters" in said[0].source


@pytest.mark.independent(how="correlation of planted noise: white 0, blurred over 0, unsharp-masked under 0")
def test_neighbours_tell_sharpening() -> None:
    rng = np.random.default_rng(3)
    white = 20000 + 200 * rng.standard_normal((400, 500, 3))
    blurred = cv2.GaussianBlur(white, (0, 0), 0.8)
    sharp = white + 1.0 * (white - cv2.GaussianBlur(white, (0, 0), 1.0))
    assert abs(neighbours(white) or 9) < 0.05
    assert (neighbours(blurred) or 0) > 0.3
    assert (neighbours(sharp) or 0) < OPPOSED
    assert neighbours(np.full((400, 500, 3), 900.0)) is None


def test_a_sharpened_roll_is_said_to_be_one(tmp_path: Path) -> None:
    made_roll(tmp_path, "135", 20.0, 4)
    _again(tmp_path, lambda p: p + 1.2 * (p - cv2.GaussianBlur(p, (0, 0), 1.0)))
    assert "sharpened" in _ids(tmp_path)


@pytest.mark.independent(how="frames darkened by a known factor that their EXIF tells")
def test_told_exposures_set_densities_right(tmp_path: Path) -> None:
    made_roll(tmp_path, "135", 20.0, 5)
    _again(tmp_path, lambda p: p, slice(None), [(33434, "2I", 1, (1, 50), True)])
    _again(tmp_path, lambda p: 0.5 * p, slice(1, 3), [(33434, "2I", 1, (1, 100), True)])
    gate = tifffile.imread(tmp_path / "open_gate.tif")
    tifffile.imwrite(
        tmp_path / "open_gate.tif", gate, photometric="rgb", extratags=[(33434, "2I", 1, (1, 50), True)]
    )
    reading = read(tmp_path, NO_MARKS)
    ids = {f.id for f in reading.findings}
    assert "exposures-told" in ids and "exposure-not-locked" not in ids
    assert reading.base is not None and np.abs(np.array(reading.base.density) - BASE).max() < 0.01


@pytest.mark.independent(
    how="an open gate of a light 0.1 D bluer than the film's, and one that falls off 0.05 D from top to bottom"
)
def test_another_light_is_named(tmp_path: Path) -> None:
    made_roll(tmp_path, "135", 20.0, 4)
    gate = tifffile.imread(tmp_path / "open_gate.tif").astype(float)
    fall = 10 ** np.linspace(-0.05, 0.0, len(gate))[:, None, None]
    for light, named in ((np.array([0.85, 1.0, 1.1]), "light-differs"), (fall, "light-leans")):
        codes = (gate * light).clip(0, 65535).astype(np.uint16)
        tifffile.imwrite(tmp_path / "open_gate.tif", codes, photometric="rgb")
        assert _ids(tmp_path) & {"light-differs", "light-leans"} == {named}


def test_a_turned_strip_is_named(tmp_path: Path) -> None:
    made_roll(tmp_path, "16still", 40.0, 6)
    _again(tmp_path, lambda p: p[::-1, ::-1], slice(4, 5))
    found = [
        f for f in read(tmp_path, ReadOptions(gauge="16still", marks=False)).findings if f.id == "turned"
    ]
    assert [f.where for f in found] == ["n5.tif"]


def test_a_whole_roll_turned_is_named_where_its_perforations_tell(tmp_path: Path) -> None:
    made_roll(tmp_path, "16still", 30.0, 3)
    _again(tmp_path, lambda p: p[::-1, ::-1])

    def said(**lie: str) -> list[Finding]:
        options = ReadOptions(gauge="16still", marks=False, **lie)  # type: ignore[arg-type]
        return [f for f in read(tmp_path, options).findings if f.id == "roll-turned"]

    assert "--perf bottom --head right" in said()[0].source
    assert not said(perf="bottom", head="right")


@pytest.mark.independent(
    how="the film exposed four times as long as the open gate, perforations clipped, the ratio told"
)
def test_clipped_perforations_accuse_no_light(tmp_path: Path) -> None:
    made_roll(tmp_path, "135", 20.0, 5)
    gate = tifffile.imread(tmp_path / "open_gate.tif").astype(float) * 0.5
    tifffile.imwrite(tmp_path / "open_gate.tif", gate.astype(np.uint16), photometric="rgb")
    _again(tmp_path, lambda p: 1.6 * p)
    reading = read(tmp_path, ReadOptions(gauge="135", marks=False, exposure_ratio=0.5 / 1.6))
    assert "light-differs" not in {f.id for f in reading.findings}
    assert reading.base is not None and np.abs(np.array(reading.base.density) - BASE).max() < 0.01


@pytest.mark.independent(
    how="rolls of a scanner model at a flatbed's scale, smeared, and the same under an unsharp mask"
)
def test_a_flatbeds_sharpening_is_told_by_the_pictures_rims(tmp_path: Path) -> None:
    roll(tmp_path, Setting("135", frames=2, fine=14.0, blur=1.0, gate=False), 4)
    assert "sharpened" not in _ids(tmp_path)
    _again(tmp_path, lambda p: p + 1.0 * (p - cv2.GaussianBlur(p, (0, 0), 1.5)))
    [said] = [f for f in read(tmp_path, NO_MARKS).findings if f.id == "sharpened"]
    assert "rebate lifted" in said.found and "grain" in said.say


@pytest.mark.independent(
    how="one frame of a drawn roll scanned again at twice the scale: a mark's place as before"
)
def test_a_frame_of_another_scale_is_named_and_measured_by_its_own(tmp_path: Path) -> None:
    made_roll(tmp_path, "135", 14.0, 4)
    before = [frame.picture for frame in read(tmp_path, NO_MARKS).frames]
    path = tmp_path / "n3.tif"
    tifffile.imwrite(path, cv2.resize(tifffile.imread(path), None, fx=2, fy=2), photometric="rgb")
    reading = read(tmp_path, NO_MARKS)
    assert [f.where for f in reading.findings if f.id == "another-scale"] == ["n3.tif"]
    twice = [v / 2 for v in reading.frames[2].picture]
    assert twice == pytest.approx(list(before[2]), abs=1.5)
    assert reading.geometry.px_per_mm == pytest.approx(14.0, rel=0.01)
