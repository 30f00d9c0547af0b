"""Rolls that give the reader less than it would like: no open gate, a scanner that sets its own exposure, skew, flare."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from benchmarks.rolls import SCALE, Setting, Truth, roll

from wetside.app.reading.read import PatchAt, ReadOptions, read
from wetside.figures.place import intersection_over_union
from wetside.figures.reading import RollReading
from wetside.stages.negative.found.film import film_of_roll
from wetside.stages.negative.scanner.working import light_of, working
from wetside.store.scans.load import load

pytestmark = pytest.mark.independent(how="planted by a scanner model that shares nothing with the reader")


def read_back(folder: Path, setting: Setting, seed: int) -> tuple[RollReading, Truth]:
    """A roll at half the scale at which its gauge is scanned, as the study's table has it, unless its setting says another."""
    setting = replace(setting, fine=setting.fine or SCALE[setting.gauge] / 2)
    truth = roll(folder, setting, seed)
    at = tuple(PatchAt(name, box) for name, (box, _) in zip(truth.names, truth.patches))
    return read(folder, ReadOptions(gauge=setting.gauge, patches=at, marks=False)), truth


def off(reading: RollReading, truth: Truth) -> np.ndarray:
    """How far [D] each patch lies from its truth, worst layer."""
    zero = np.zeros(3) if reading.density == "camera" else truth.base
    found = [
        np.array(patch.density) - (level - zero) for patch, (_, level) in zip(reading.patches, truth.patches)
    ]
    return np.abs(np.array(found)).max(axis=1)


def said(reading: RollReading) -> set[str]:
    return {finding.id for finding in reading.findings}


def test_without_an_open_gate_the_rebate_tells_how_the_light_falls_off(tmp_path: Path) -> None:
    reading, truth = read_back(tmp_path, Setting("16still", gate=False), 102)
    assert reading.rung == 2 and off(reading, truth).max() < 0.015
    assert "light-from-rebate" in said(reading)


@pytest.mark.parametrize("gauge", ["135", "16still"])
def test_a_scanner_that_sets_its_own_exposure_is_followed_frame_by_frame(tmp_path: Path, gauge: str) -> None:
    reading, truth = read_back(tmp_path, Setting(gauge, gate=False, locked=False), 100)
    assert "exposure-not-locked" in said(reading)
    assert off(reading, truth).max() < 0.015
    assert min(map(intersection_over_union, [f.picture for f in reading.frames], truth.pictures)) > 0.97


def test_a_turned_picture_is_given_upright_about_its_middle(tmp_path: Path) -> None:
    reading, truth = read_back(tmp_path, Setting("135", skew=1.5, frames=3), 7)
    assert min(map(intersection_over_union, [f.picture for f in reading.frames], truth.pictures)) > 0.97
    turned = next(finding for finding in reading.findings if finding.id == "skewed")
    assert "1.5°" in turned.found


def test_stray_light_is_read_over_the_holder_and_taken_off(tmp_path: Path) -> None:
    reading, truth = read_back(tmp_path, Setting("16still", flare=0.02, falloff=0.25), 3)
    assert "flare" in said(reading)
    for patch, away in zip(reading.patches, off(reading, truth)):
        assert patch.spread is not None and away < min(0.015, 3 * max(patch.spread))
    plain = 10 ** -np.array([level for _, level in truth.patches])
    untreated = np.log10((0.98 * plain + 0.02 * plain.mean()) / plain)
    assert off(reading, truth).mean() < 0.05 * np.abs(untreated).max()


@pytest.mark.parametrize(
    "uneven", [{"skirt": 0.6}, {"slant": 0.3}, {"skirt": 0.5, "reach": 1.5, "slant": 0.2}], ids=str
)
def test_stray_light_that_lies_unevenly_is_taken_off_as_it_lies(
    tmp_path: Path, uneven: dict[str, float]
) -> None:
    setting = Setting("16still", frames=4, flare=0.03, fine=24.0, **uneven)  # type: ignore[arg-type]
    reading, truth = read_back(tmp_path, setting, 63000)
    spreads = np.array([max(patch.spread or (9.0,)) for patch in reading.patches])
    assert (off(reading, truth) < np.minimum(0.015, 3 * spreads)).all()
    # Taken off as if it lay everywhere alike it left up to 0.06 D.
    flares = [frame.flare for frame in reading.frames if frame.flare is not None]
    assert len(flares) == 4 and all(flare.over and np.ptp(np.array(flare.over)) > 0.1 for flare in flares)
    assert all(abs(flare.share - 0.03) < 3 * flare.unsure for flare in flares)


def test_rebate_on_one_side_alone_levels_a_round_light_and_says_what_it_supposes(tmp_path: Path) -> None:
    sides = ("left", "right", "bottom")
    reading, truth = read_back(tmp_path, Setting("110", frames=3, gate=False, hidden=sides, falloff=0.15), 82)
    assert "light-untold" in said(reading)
    # Not levelled they were 0.02 D off and more; a light that tilts across is not told, hence the spread.
    true = [level - truth.base for _, level in truth.patches]
    away = [np.abs(np.array(p.density) - level).max() for p, level in zip(reading.patches, true) if p.density]
    assert len(away) == 3 and max(away) < 0.01
    assert all(p.spread is not None and min(p.spread) >= 0.029 for p in reading.patches)


def test_no_flare_is_taken_off_where_there_is_none(tmp_path: Path) -> None:
    reading, truth = read_back(tmp_path, Setting("16still"), 3)
    assert "flare" not in said(reading) and off(reading, truth).max() < 0.01


def test_a_roll_without_rebate_gets_no_base_and_its_pictures_up_to_the_holder(tmp_path: Path) -> None:
    sides = ("left", "right", "top", "bottom")
    reading, _ = read_back(tmp_path, Setting("16still", gate=False, hidden=sides), 102)
    assert reading.base is None and reading.rung == 1 and "no-rebate" in said(reading)
    assert all(patch.density is None for patch in reading.patches)
    assert {tuple(frame.picture)[2:] for frame in reading.frames} == {(392, 276)}


def test_a_base_shown_by_hand_is_taken_though_few_frames_show_it(tmp_path: Path) -> None:
    truth = roll(tmp_path, Setting("16still", frames=3), 3)
    light = light_of(load(tmp_path / "open_gate.tif"), None)
    frames = [working(load(tmp_path / name), light) for name in truth.names]
    shown = truth.patches[0][1][None]
    film = film_of_roll(frames, True, levels=shown)
    assert film.levels is shown
    found = film_of_roll(frames, True).levels
    assert found is not None and np.abs(found.mean(axis=0) - truth.base).max() < 0.05
