"""A roll that drifts from its first frame to its last: measured with its error, said, taken out, and an even one left alone."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
from benchmarks.rolls import Setting, roll

from wetside.app.printing.corrections import drift_stays
from wetside.app.printing.positive import PositiveOptions, positive
from wetside.app.printing.recipe import Recipe
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
    truth = roll(folder, Setting("135", gate=True, frames=frames, fine=14.0), 9117)
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
    [drift] = [one for one in made["corrections"] if one["id"] == "drift"]
    assert drift["made"] and drift["size"] == pytest.approx(0.1, abs=0.01)
    assert "drifts from the first frame to the last by +0." in drift["say"] and "together" in drift["why"]
    sheet = json.loads((tmp_path / "out" / "positive.json").read_text())
    assert sheet["drift"] == made["drift"] and made["drift"]["alike"]
    assert made["drift"]["density"]["g"] == pytest.approx(0.1, abs=0.01)
    assert made["consistency"]["worst"] < 0.01
    left = positive(tmp_path / "scans", PositiveOptions(tmp_path / "left", kind="jpeg", leave=("drift",)))
    assert 0.04 < left["consistency"]["worst"] < 0.06 and not left["corrections"][1]["made"]
    (tmp_path / "even").mkdir()
    drifting(tmp_path / "even", 0.0)
    even = positive(tmp_path / "even", PositiveOptions(tmp_path / "e", kind="jpeg"))
    assert not any(one["id"] in ("level", "drift") for one in even["corrections"]) and even["drift"] is None


@pytest.mark.independent(
    how="frames of one roll that drift in blue alone, or in all layers with one that jumps besides"
)
def test_what_the_layers_do_not_share_stays_and_is_said_and_a_jump_is_no_drift() -> None:
    apart = drift_along([tuple(BASE + v * np.array([0.0, 0.01, 0.1])) for v in np.linspace(0, 1, 8)])
    assert apart is not None and apart.shared == 0.0 and apart.of_frames(8) == [0.0] * 8
    [said] = drift_stays(apart)
    assert "stays" in said.say and said.id == "drift-stays" and drift_stays(None) == []
    part = drift_along([tuple(BASE + v * np.array([0.05, 0.06, 0.1])) for v in np.linspace(0, 1, 8)])
    assert part is not None and part.shared == pytest.approx(0.06) and part.stays == pytest.approx(0.04)
    recipe = Recipe(
        "fitted", "sRGB", "tiff", None, (0.2, 0.55, 0.8), shifts={"a": -0.03, "c": 0.23}, drifts={"a": -0.03, "b": 0.0, "c": 0.03}
    )  # fmt: skip
    assert [recipe.shift(f) for f in "abc"] == pytest.approx([-0.03, 0.0, 0.23])
    assert [replace(recipe, leave=("drift",)).shift(f) for f in "abc"] == pytest.approx([0.0, 0.0, 0.2])
    assert [replace(recipe, leave=("level",)).shift(f) for f in "abc"] == pytest.approx([-0.03, 0.0, 0.03])
