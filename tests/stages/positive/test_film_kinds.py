"""Positives over film of several kinds: a published chart's colours, greys over eight stops, and where the range ends."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from benchmarks.positives import FILMS, study

from wetside.stages.positive.fit import ToneFit, fitted_tone, log_exposure
from wetside.stages.positive.transform import processor_of, tone_group

BASE = (0.2, 0.55, 0.8)


@pytest.mark.published(
    source="chart-24",
    place="24 colours through the colour library, mean ΔE2000; greys from −4 to +4 stops",
)
@pytest.mark.parametrize("kind", ["expired", "tungsten stock in daylight"])
def test_curves_take_care_of_expired_stock_and_of_tungsten_stock_in_daylight(
    tmp_path: Path, kind: str
) -> None:
    errors, greys = study(FILMS[kind], tmp_path)
    under, middle, over = errors["own"]
    assert middle <= 1.5 and under <= 2.5 and over <= 2.5 and greys < 0.25
    assert max(errors["fitted"]) <= 4.0


@pytest.mark.published(
    source="chart-24",
    place="24 colours through the colour library, mean ΔE2000; the film's dyes absorb in each other's layers",
)
def test_dyes_that_overlap_print_as_far_off_as_the_manual_says(tmp_path: Path) -> None:
    """Neutral curves cannot undo dyes that absorb in each other's layers: at 0 stops it is over the goal of 1.5, and a calibration is not."""
    errors, greys = study(FILMS["dyes that overlap"], tmp_path / "plain")
    apart, _ = study(FILMS["dyes that overlap"], tmp_path / "apart", calibrated=True, doors=("own",))
    manual = (Path(__file__).parents[3] / "docs" / "studies.md").read_text(encoding="utf-8")
    (own, fitted, _), (calibrated, _, _) = (
        row.split("|")[2:5] for row in manual.splitlines() if row.startswith("| dyes that overlap")
    )
    assert apart["own"] == pytest.approx([float(v) for v in calibrated.split(",")], abs=0.03)
    assert apart["own"][1] <= 1.5 and max(apart["own"]) <= 2.5
    assert errors["own"] == pytest.approx([float(v) for v in own.split(",")], abs=0.03)
    assert errors["fitted"] == pytest.approx([float(v) for v in fitted.split(",")], abs=0.03)
    assert errors["own"][1] > 1.5 and max(errors["own"][0], errors["own"][2]) <= 2.5 and greys < 0.25


def printed(tone: ToneFit, above: np.ndarray) -> np.ndarray:
    """Display values (n, 3) of densities above base (n, 3)."""
    light = np.ascontiguousarray(10 ** -(above + np.array(BASE)), dtype=np.float32)
    processor_of(tone_group(tone, BASE, "sRGB")).applyRGB(light[None])
    return light


@pytest.mark.independent(
    how="a grey wedge of fourteen stops put through the forward film and back: neutral and rising to both ends"
)
def test_highlights_and_shadows_beyond_the_range_roll_off_without_a_colour() -> None:
    gradients = np.array([0.42, 0.55, 0.60])
    rng = np.random.default_rng(1)
    sample = rng.normal(1.0, 0.35, (4000, 1)) * gradients / 0.55
    tone = fitted_tone(np.maximum(sample, 0.0))
    stops = np.linspace(-6, 8, 57) * 0.30103
    own = np.array(tone.gradients)
    above = own * np.log1p(np.exp(4 * (stops[:, None] + 1.2))) / 4
    assert log_exposure(above, own)[8:] == pytest.approx(np.tile(stops[8:, None] + 1.2, 3), abs=1e-3)
    shown = printed(tone, above)
    mean = shown.mean(axis=1)
    assert (np.diff(mean) > -0.003).all() and mean[-1] > 0.93 and mean[0] < 0.06
    # A fitted middle leans by a constant in stops; towards both ends the layers come together instead of apart.
    spread = np.ptp(shown, axis=1)
    assert (
        (np.diff(spread[-6:]) < 0).all()
        and spread[-1] < 0.5 * spread.max()
        and spread[0] < 0.5 * spread.max()
    )
