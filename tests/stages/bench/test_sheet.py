"""The mixing sheet: heat that adds up, chances that are chances, and slips in one line."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from wetside.figures.finding import Unusable
from wetside.laws.chemistry.processes import process_named
from wetside.laws.chemistry.push import pushed
from wetside.laws.chemistry.volumes import loaded
from wetside.laws.thermal.tank import mean_over, pour_in_temperature, tank_of
from wetside.stages.bench.risks import home_band
from wetside.stages.bench.sheet import mixing_sheet
from wetside.stages.bench.wanted import Kit, Wanted, Warmth

ECN = process_named("ecn-2")
KNOWN = Wanted(ECN, 500.0, warmth=Warmth(mass=350.0, tank=21.0, room=21.0))


def with_warmth(**more: float) -> Wanted:
    return replace(KNOWN, warmth=replace(KNOWN.warmth, **more))


@pytest.mark.independent(how="the plan carried out: presoaks, pour and drift one after the other")
@pytest.mark.parametrize("volume", [300.0, 500.0, 1000.0])
@pytest.mark.parametrize("bath", [None, 41.1])
def test_the_plan_brings_the_mean_to_the_aim(volume: float, bath: float | None) -> None:
    found = mixing_sheet(replace(with_warmth(bath=bath), volume=volume))["heat"]
    tank = tank_of(volume, 350.0, "plastic", "air" if bath is None else "bath")
    vessel, soak = 21.0, found["presoak"]
    for _ in range(soak["changes"]):
        vessel = pour_in_temperature(tank, soak["c"]["value"], vessel)
    start = pour_in_temperature(tank, soak["bottle_c"]["value"], vessel)
    mean = mean_over(start, 21.0 if bath is None else bath, 180, tank.time_constant)
    assert mean == pytest.approx(41.1, abs=0.05)
    assert soak["c"]["value"] <= 45.0


@pytest.mark.independent(how="fifty thousand trials with the thermometer's spread alone")
def test_the_chance_of_the_tolerance_is_a_chance() -> None:
    found = mixing_sheet(with_warmth(bath=41.1, thermometer=0.08, tank=41.0))["heat"]["reach"]
    draws = np.random.default_rng(2).normal(0, found["mean_c"]["spread"], 50_000)
    assert found["chance"] == pytest.approx((np.abs(draws) < 0.1).mean(), abs=0.01)
    assert found["chance"] > 0.5 and found["decided_by"] == "the thermometer"
    assert "cannot be promised" in mixing_sheet(KNOWN)["heat"]["reach"]["say"]


@pytest.mark.published(source="h-24-07", place="41.1 ±0.1 °C")
def test_home_practice_is_eleven_tolerances() -> None:
    found = home_band(ECN, ECN.developer())
    assert "11 times the printed ±0.1 °C" in found["say"]
    assert found["seconds"] == pytest.approx(90 * (2.5 ** (1 / 9) - 2.5 ** (-1 / 9)), abs=0.05)
    assert found["seconds"] == pytest.approx(18, abs=0.5)  # as the process table says
    assert found["source"] == "common-practice"


def test_habits_are_said_where_they_belong() -> None:
    said = {one["what"] for one in mixing_sheet(KNOWN)["risks"]}
    assert {
        "life of mixed developer",
        "plain water for the stop",
        "one fixer for black-and-white too",
    } <= said
    assert {one["source"] for one in mixing_sheet(KNOWN)["risks"]} == {"common-practice"}


@pytest.mark.published(source="z-131", place="table 2-7: push 1 at 3:45, push 2 at 4:15")
def test_a_push_takes_the_middle_of_what_disagrees_and_shows_both() -> None:
    two = pushed(process_named("c-41"), 2).developer()
    assert two is not None and two.seconds == 255
    one = pushed(process_named("c-41"), 1).developer()
    assert one is not None and one.seconds == (225 + 260) / 2
    assert {rival.source for rival in one.rivals} >= {"z-131", "common-practice"}


def test_a_pull_has_no_source_and_says_so() -> None:
    with pytest.raises(Unusable, match=r"no source gives a developer time for -1 stops.*\+1, \+2"):
        pushed(ECN, -1)
    own = pushed(ECN, -1, 150.0).developer()
    assert own is not None and own.seconds == 150.0


def test_a_short_volume_and_a_crowded_tank_are_said() -> None:
    two = (loaded("135"), loaded("135"))
    said = mixing_sheet(Wanted(ECN, 400.0, 600.0, 2, two))["volumes"]["say"]
    assert "do not cover" in said
    crowded = mixing_sheet(Wanted(ECN, None, 600.0, 2, (loaded("135", 3200.0), loaded("135", 3200.0))))[
        "volumes"
    ]
    assert crowded["volume_ml"] == 600 and "less" in crowded["say"]


@pytest.mark.parametrize("wanted", [
    Wanted(ECN), Wanted(ECN, -5.0), Wanted(ECN, 1e6), Wanted(ECN, 19.9), Wanted(ECN, None, 600.0), Wanted(ECN, None, 5.0, 1, (loaded("135"),)),
    with_warmth(tank=-1.0), with_warmth(room=101.0), with_warmth(bath=-3.0), with_warmth(hot=101.0, cold=10.0), with_warmth(hot=10.0, cold=20.0),
    with_warmth(mass=-1.0), with_warmth(mass=1e5), replace(KNOWN, kit=Kit(300.0, {"A": 10.0})), replace(KNOWN, dilution=(0.0, 4.0)),
    replace(KNOWN, on_shelf={"table salt": 1.0, "sodium carbonate": 5.0}), replace(KNOWN, tank_volume=600.0, tank_reels=0, reels=(loaded("135"),)),
])  # fmt: skip
def test_an_impossible_sheet_is_one_line(wanted: Wanted) -> None:
    with pytest.raises(Unusable) as no:
        mixing_sheet(wanted)
    assert no.value.what and "\n" not in no.value.what


@pytest.mark.parametrize(("gauge", "length"), [("120", None), ("135", 3.0), ("135", 1e6), ("", None)])
def test_a_reel_that_cannot_be_is_one_line(gauge: str, length: float | None) -> None:
    with pytest.raises(Unusable):
        loaded(gauge, length)


def test_powder_and_a_weightless_tank_are_answers_not_errors() -> None:
    sheet = mixing_sheet(Wanted(ECN, 500.0, kit=Kit(1000.0, {"A": 90.0, "B": 30.0}, powder=True)))
    assert "spoonful" in sheet["kit"]["cannot_say"] and "kitchen scale" in sheet["heat"]["would_help"]
    assert math.isfinite(sheet["capacity"]["area_mm2"]["value"])


def test_a_cold_tap_row_says_how_to_help() -> None:
    rows = mixing_sheet(with_warmth(hot=35.0, cold=12.0))["water"]["rows"]
    assert any("kettle" in row["say"] for row in rows) and any(row["hot_ml"] for row in rows)
