"""Control from strips: the chart that few runs can carry, limits, aims, and the verdict, against planted truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wetside.app.sensitometry.control import control_of, scaled_limits, sheet
from wetside.book.kinds import BathMixed, Body, Calibrated, ControlAim, RunStarted, StripRead
from wetside.book.line import Line
from wetside.book.text import line_of
from wetside.figures.finding import Unusable
from wetside.laws.chemistry.limits import LIMITS
from wetside.stages.control.chart import JUDGED, TOGETHER, chart_of
from wetside.stages.control.verdict import clip_test

FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
AIM = {"dmin": (0.2, 0.5, 0.8), "ld": (0.4, 0.8, 1.1), "md": (0.7, 1.1, 1.4), "hd": (1.0, 1.5, 1.8)}
DAY = 86_400.0


def strip(
    number: int, away: dict[str, float] | None = None, noise: np.ndarray | None = None, **more: object
) -> Line:
    """A strip of batch S read on a day, its departures and noise planted."""
    jitter = np.zeros((4, 3)) if noise is None else noise
    values = {
        name: {c: float(aim[i] + (away or {}).get(name, 0.0) + jitter[k, i]) for i, c in enumerate("rgb")}
        for k, (name, aim) in enumerate(AIM.items())
    }
    body = StripRead(**{"batch": "S", "run": f"run {number}", **values, **more})  # type: ignore[arg-type]
    return lined(body, number)


def lined(body: Body, number: float) -> Line:
    return line_of(
        body, name=f"{body.kind.replace(' ', '-')}-{number}", happened_at=number * DAY, noted_at=number * DAY
    )


def judged(lines: list[Line], now: float = 100 * DAY) -> dict:
    return control_of(lines, "S", ["S"], now)


def quiet(count: int, seed: int = 1) -> list[Line]:
    rng = np.random.default_rng(seed)
    return [strip(n, noise=rng.normal(0, 0.004, (4, 3)), reference=n == 1) for n in range(1, count + 1)]


@pytest.mark.published(source="nist-6-3-2", place="6.3.2.2: the ten flow rates; limits 55.8041 and 45.8159")
def test_from_ten_earlier_runs_on_the_chart_is_the_handbooks() -> None:
    chart = chart_of([*FLOW, 50.0])
    assert chart.method == "individuals" and chart.out is None
    assert (chart.high, chart.low) == pytest.approx((55.8041, 45.8159), abs=5e-5)
    assert chart_of([*FLOW, 56.0]).out == "the last value lies beyond the limits"


@pytest.mark.independent(
    how="6,000 processes in control: how often any of nine figures falls outside its range"
)
@pytest.mark.parametrize("runs", [3, 5, 8])
def test_nine_figures_together_keep_their_level(runs: int) -> None:
    rng = np.random.default_rng(runs)
    alarms = [
        any(chart_of(values).out is not None for values in rng.normal(0, 1, (JUDGED, runs + 1)))
        for _ in range(1500)
    ]
    assert 1 - np.mean(alarms) == pytest.approx(TOGETHER, abs=0.02)


def test_few_runs_carry_no_range_of_their_own() -> None:
    assert chart_of([0.0, 0.1]).method == "none"
    assert chart_of([0.0, 0.01, 0.02]).method == "prediction"


@pytest.mark.independent(how="a slow drift planted in the last runs of a quiet process")
def test_a_drift_too_small_for_one_run_is_seen_by_the_moving_average() -> None:
    # Ten quiet runs, then three that each lie within three sigma.
    rng = np.random.default_rng(8)
    calm = rng.normal(0, 0.01, 30)
    chart = chart_of([*calm, 0.018, 0.02, 0.022, 0.021])
    assert chart.low is not None and chart.low < 0.021 < (chart.high or 0)
    assert chart.out is not None


@pytest.mark.published(
    source="h-24-01", place="table 1-5: LD ±0.03 action, ±0.05 control; D-min +0.03 / +0.05"
)
def test_limits_are_the_published_ones_and_shrink_with_the_cameras_contrast() -> None:
    ld, dmin = LIMITS["ecn-2"].by_measure["ld"], LIMITS["ecn-2"].by_measure["dmin"]
    assert (ld.state(0.03), ld.state(-0.04), ld.state(0.051)) == ("within", "beyond action", "beyond control")
    assert (dmin.state(-0.2), dmin.state(0.051)) == ("within", "beyond control")
    assert scaled_limits("ecn-2", (0.73, 1, 1))["hd_ld"][0].control == pytest.approx(0.07 * 0.73)
    assert scaled_limits("black and white", (1, 1, 1)) == {}


@pytest.mark.published(
    source="h-24-01", place="one strip out: repeat it; two in a row: act; within limits: leave it"
)
def test_one_strip_out_is_repeated_and_two_call_for_a_change() -> None:
    calm = quiet(6)
    assert judged(calm)["verdict"]["state"] == "in control"
    one = judged([*calm, strip(7, {"hd": 0.09})])
    assert one["verdict"]["state"] == "repeat" and any("HD−LD" in why for why in one["verdict"]["why"])
    assert judged([*calm, strip(7, {"hd": 0.09}), strip(8, {"hd": 0.1})])["verdict"]["state"] == "act"
    assert judged([*calm, strip(7, {"hd": 0.09}), strip(8)])["verdict"]["state"] != "act"


def test_layers_of_one_measure_are_said_together_and_numbers_agree_with_their_words() -> None:
    found = judged([*quiet(13), strip(14, {"hd": 0.12})])
    drifts = [why for why in found["verdict"]["why"] if why.endswith("lies beyond the limits")]
    assert drifts == [f"{name} r g b: the last value lies beyond the limits" for name in ("HD−LD",)]
    assert judged(quiet(4))["would_help"] == "a strip with the next run"
    assert "one strip is too few" in judged(quiet(1))["clip_test"]["why"]


def test_under_five_strips_there_is_no_verdict() -> None:
    found = judged([*quiet(3), strip(4, {"ld": 0.2, "hd": 0.2})])
    assert found["verdict"]["state"] == "cannot say" and "repeat it" in found["verdict"]["say"]
    assert found["clip_test"]["answer"] == "clip first"


def test_without_an_aim_nothing_departs_and_what_would_help_is_said() -> None:
    found = judged([strip(1), strip(2)])
    assert found["aim"] is None and "no aim" in found["cannot_say"] and "control aim" in found["would_help"]
    aimed = judged([strip(1), strip(2, {"ld": 0.1}), lined(ControlAim(batch="S", runs=("run 1",)), 3)])
    assert aimed["strips"][1]["departures"]["ld"]["g"] == pytest.approx(0.1)


@pytest.mark.independent(how="departures of the three layers planted apart")
def test_layers_that_part_are_told_by_the_gap_between_them() -> None:
    rows = np.zeros((4, 3))
    rows[1] = (0.03, 0.0, -0.02)
    found = judged([*quiet(1), strip(2, noise=rows)])
    assert found["strips"][1]["colour_spread"] == pytest.approx(0.05, abs=0.02)


def test_strips_of_another_density_are_left_out_and_counted() -> None:
    found = judged([*quiet(3), strip(4, density="status M", reference=True)])
    assert found["left_out"] == 3 and found["density"] == "status M" and found["contrast"]["r"] == 1.0


@pytest.mark.independent(how="a camera of planted contrast, its matrix solved by hand")
def test_limits_follow_the_contrast_that_a_calibration_measured() -> None:
    matrix = np.diag([1 / 0.7, 1 / 0.8, 1 / 0.9])
    fit = {
        "matrix": matrix.tolist(), "offset": [0.0] * 3, "covariance": np.zeros((3, 4, 4)).tolist(), "residual": [0.01] * 3,
        "check": [0.01] * 3, "condition": 5.0, "patches": 24, "highest": [2.0] * 3,
    }  # fmt: skip
    made = Calibrated(
        calibration="LED", light="L1", scanner="S1", aim="status M", fit=fit, level={}, files=()
    )
    found = judged([*quiet(3), lined(made, 4)])
    assert [found["contrast"][c] for c in "rgb"] == pytest.approx([0.7, 0.8, 0.9])
    assert "LED" in found["contrast"]["from"] and "measured" in found["contrast"]["from"]
    assert found["limits"]["ld"]["action"]["r"] == pytest.approx(0.7 * 0.03)
    broken = judged([*quiet(3), lined(replace(made, fit={**fit, "matrix": np.zeros((3, 3)).tolist()}), 4)])
    assert "assumed" in broken["contrast"]["from"]


def test_a_strip_counts_from_the_time_of_its_run_not_of_its_reading() -> None:
    run = lined(RunStarted(run="run 9", process="ecn-2"), 0.5)
    found = judged([*quiet(2), run, strip(9)])
    assert found["strips"][0]["run"] == "run 9"


def test_a_clip_goes_first_when_the_developer_is_new_or_the_last_strip_is_old() -> None:
    calm = quiet(6)
    assert judged(calm, now=8 * DAY)["clip_test"]["answer"] == "not needed"
    assert "days old" in judged(calm, now=60 * DAY)["clip_test"]["why"]
    fresh = lined(BathMixed(bath="developer 2", role="developer", volume_ml=1000.0), 6.5)
    assert "mixed after" in judged([*calm, fresh], now=8 * DAY)["clip_test"]["why"]
    assert clip_test("in control", 6, None, False).answer == "not needed"


def test_the_sheet_counts_film_and_refuses_what_cannot_be() -> None:
    made = sheet("135", 10)
    assert (
        made["frames"] == 20
        and made["film_mm"] == pytest.approx(20 * 38.0 + 250)
        and made["strip_mm"] == 76.0
    )
    assert "2 days" in " ".join(s["say"] for s in made["steps"])
    with pytest.raises(Unusable):
        sheet("120", 10)
    with pytest.raises(Unusable):
        sheet("135", 1)
