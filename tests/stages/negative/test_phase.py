"""Frames of film perforated on both sides that lie the other way round than their roll's."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile
from benchmarks.rolls import Setting, roll

from wetside.app.reading.read import ReadOptions, read
from wetside.figures.reading import RollReading
from wetside.stages.negative.found.phase import phase_of_roll

pytestmark = pytest.mark.independent(
    how="frames turned and mirrored by hand, of a scanner model apart from the reader"
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("phase")
    roll(place, Setting("135", frames=5, gate=False, fine=12.0), 70)
    return place


def turned(reading: RollReading) -> dict[str, str]:
    return {one.where: one.say for one in reading.findings if one.id == "turned"}


@pytest.mark.parametrize("way", [np.s_[::-1, ::-1], np.s_[:, ::-1]], ids=["half round", "from behind"])
def test_a_frame_that_lies_the_other_way_round_is_named(
    folder: Path, tmp_path: Path, way: tuple[slice, ...]
) -> None:
    for path in folder.glob("n*.tif"):
        pixels = tifffile.imread(path)
        pixels = pixels[way] if path.stem == "n3" else pixels
        tifffile.imwrite(tmp_path / path.name, np.ascontiguousarray(pixels), photometric="rgb")
    found = turned(read(tmp_path, ReadOptions(gauge="135", marks=False)))
    assert set(found) == {"n3.tif"} and "half round, or emulsion down" in found["n3.tif"]


def test_a_roll_that_lies_one_way_has_none(folder: Path) -> None:
    assert turned(read(folder, ReadOptions(gauge="135", marks=False))) == {}


def test_phases_that_differ_from_frame_to_frame_are_no_roll_s() -> None:
    assert phase_of_roll([0.97, 0.01, 0.03, None, 0.0]) == pytest.approx(0.0025, abs=0.01)
    assert phase_of_roll([0.1, 0.3, 0.5, 0.7, 0.9]) is None
    assert phase_of_roll([0.2, 0.2, None, None]) is None
