"""Frames that a scanner exposed one by one are brought to the roll's level by the rebate they share."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile
from benchmarks.rolls import Setting, roll

from wetside.stages.negative.found.film import film_of_roll
from wetside.stages.negative.scanner.levelling import Level, Rebate, shift_from_rebate, shifts_by_hue
from wetside.stages.negative.scanner.working import light_of, working
from wetside.store.scans.load import load

pytestmark = pytest.mark.independent(
    how="gains planted in scans of a model that shares nothing with the reader"
)


def shifts(folder: Path, setting: Setting, planted: list[float], seed: int) -> tuple[np.ndarray, set[str]]:
    """The shifts found, and the files named."""
    truth = roll(folder, setting, seed)
    light = light_of(load(folder / "open_gate.tif") if setting.gate else None, None)
    frames = []
    for name, shift in zip(truth.names, planted):
        codes = tifffile.imread(folder / name) * 10**-shift
        tifffile.imwrite(folder / name, codes.clip(0, 65535).astype(np.uint16), photometric="rgb")
        frames.append(working(load(folder / name), light))
    film = film_of_roll(frames, setting.gate)
    assert film.base is not None and all(one.base is not None for one in film.frames)
    return np.array(film.shifts), {f.where for f in film.findings if f.id == "exposure-not-locked"}


@pytest.mark.parametrize("gate", [True, False])
@pytest.mark.parametrize("lone", [-0.1, 0.06, 0.3])
def test_one_frame_alone_is_found_however_far_off(tmp_path: Path, gate: bool, lone: float) -> None:
    found, named = shifts(
        tmp_path, Setting("135", gate=gate, frames=4, fine=14.0), [0.0, lone, 0.0, 0.0], 9101
    )
    assert found == pytest.approx([0.0, lone, 0.0, 0.0], abs=0.005) and named == {"n2.tif"}


@pytest.mark.parametrize("gate", [True, False])
def test_six_frames_of_six_exposures_are_brought_to_their_middle(tmp_path: Path, gate: bool) -> None:
    planted = [0.0, 0.05, 0.11, 0.17, 0.24, 0.3]
    found, _ = shifts(tmp_path, Setting("135", gate=gate, frames=6, fine=14.0), planted, 9102)
    assert found - np.median(found) == pytest.approx(np.array(planted) - np.median(planted), abs=0.005)


def test_a_frame_without_rebate_has_no_shift() -> None:
    base = np.tile(np.float32([0.2, 0.55, 0.8]), (60, 80, 1))
    known = np.zeros((60, 80), bool)
    known[:10] = True
    found = shift_from_rebate(base + np.float32(0.2), Rebate(base, known))
    assert found is not None and found.away == pytest.approx(0.2, abs=0.006) and found.clear
    grey = np.tile(np.float32([0.9, 0.9, 0.9]), (60, 80, 1))
    assert shift_from_rebate(grey, Rebate(base, known)) is None
    assert shift_from_rebate(base[:30], Rebate(base, known)) is None


def test_grey_frames_share_no_mask_and_tell_no_exposure() -> None:
    assert shifts_by_hue([np.full((60, 80, 3), 0.3 + 0.1 * i, np.float32) for i in range(4)]) is None


def test_a_levelled_roll_keeps_no_frame_in_memory(tmp_path: Path) -> None:
    truth = roll(tmp_path, Setting("135", frames=2), 5)
    frames = [working(load(tmp_path / name), light_of(None, None)) for name in truth.names]
    level = Level(frames, np.array([0.0, 0.1]))
    assert level[0] is frames[0] and level[1] is not level[1] and len(level[:2]) == 2
    assert (level[1].density - frames[1].density).mean() == pytest.approx(-0.1, abs=0.002)


def test_a_shift_within_its_error_or_beside_a_level_rebate_levels_no_frame() -> None:
    rng = np.random.default_rng(4)
    base = np.tile(np.float32([0.2, 0.55, 0.8]), (60, 80, 1))
    known = np.zeros((60, 80), bool)
    known[:10] = True
    # Less than half of the rebate at the roll's level, the rest as dense as a thin shadow: the picture reaches over it.
    shadow = base.copy()
    shadow[:10, 36:] += np.float32(0.06)
    found = shift_from_rebate(shadow, Rebate(base, known))
    assert found is not None and found.away > 0.03 and not found.clear
    # Grain far coarser than a pixel moves the median of a few clumps; its error says so.
    off = []
    for _ in range(40):
        clumps = np.kron(rng.normal(0, 0.03, (6, 8, 1)), np.ones((10, 10, 3))).astype(np.float32)
        found = shift_from_rebate(base + clumps, Rebate(base, known))
        if found is not None:
            off.append((abs(found.away), found.error, found.clear))
    assert len(off) > 20 and sum(clear and away > 0.02 for away, _, clear in off) == 0
