"""A roll that drifts from its first frame to its last: measured with its error, said, taken out, and an even one left alone."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import tifffile
from benchmarks.rolls import Setting, roll

from wetside.app.positive import PositiveOptions, positive
from wetside.stages.positive.drift import drift_along

BASE = np.array([0.2, 0.55, 0.8])


@pytest.mark.independent(
    how="drifts planted in scattered rebates; the errors against the scatter of 400 rolls"
)
def test_the_drift_comes_back_with_an_error_that_is_its_own() -> None:
    rng = np.random.default_rng(12)
    off, error = [], []
    for _ in range(400):
        bases = BASE + np.linspace(-0.05, 0.05, 12)[:, None] + rng.normal(0, 0.004, (12, 3))
        found = drift_along([tuple(b) for b in bases])
        assert found is not None and found.alike
        off.append(found.density[1] - 0.1)
        error.append(found.error[1])
    assert abs(np.mean(off)) < 0.001 and np.std(off) == pytest.approx(np.mean(error), rel=0.15)


@pytest.mark.independent(
    how="rolls without a drift: scatter alone, one frame off, frames that jump, too few frames"
)
def test_what_does_not_drift_is_left_alone() -> None:
    rng = np.random.default_rng(13)
    claimed = sum(
        drift_along([tuple(b) for b in BASE + rng.normal(0, 0.006, (12, 3))]) is not None for _ in range(400)
    )
    assert claimed == 0
    lone = np.tile(BASE, (8, 1))
    lone[-1] += 0.3
    assert drift_along([tuple(b) for b in lone]) is None
    assert drift_along([tuple(BASE + v) for v in (0, 0.1, 0.02, 0.12, 0.01, 0.1)]) is None
    assert drift_along([tuple(BASE), None, tuple(BASE + 0.1)]) is None
    apart = drift_along([tuple(BASE + v * np.array([0.0, 0.02, 0.1])) for v in np.linspace(0, 1, 8)])
    assert apart is not None and not apart.alike


def drifting(folder: Path, most: float, frames: int = 6) -> None:
    """A roll whose scans drift by ±most D from the first to the last."""
    truth = roll(folder, Setting("135", gate=True, frames=frames), 9117)
    for name, shift in zip(truth.names, np.linspace(-most, most, frames)):
        codes = tifffile.imread(folder / name) * 10**-shift
        tifffile.imwrite(folder / name, codes.clip(0, 65535).astype(np.uint16), photometric="rgb")


@pytest.mark.independent(
    how="±0.05 D planted in the scans; the rebates of the printed frames, with and without"
)
def test_a_drifting_roll_is_said_and_printed_even_and_an_even_one_is_not_touched(tmp_path: Path) -> None:
    (tmp_path / "scans").mkdir()
    drifting(tmp_path / "scans", 0.05)
    made = positive(tmp_path / "scans", PositiveOptions(tmp_path / "out", kind="jpeg"))
    [level] = [one for one in made["corrections"] if one["id"] == "level"]
    assert "drifts from the first frame to the last by +0.1" in level["why"] or "by +0.09" in level["why"]
    sheet = json.loads((tmp_path / "out" / "positive.json").read_text())
    assert any("drifts" in one["why"] for one in sheet["corrections"])
    assert made["consistency"]["worst"] < 0.025
    left = positive(tmp_path / "scans", PositiveOptions(tmp_path / "left", kind="jpeg", leave=("level",)))
    assert left["consistency"]["worst"] > 0.04
    (tmp_path / "even").mkdir()
    drifting(tmp_path / "even", 0.0)
    even = positive(tmp_path / "even", PositiveOptions(tmp_path / "e", kind="jpeg"))
    assert not any(one["id"] == "level" for one in even["corrections"])
