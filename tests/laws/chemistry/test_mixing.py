"""Hydrates against molar masses; processes against the manuals; a kit split and refused."""

from __future__ import annotations

import pytest

from wetside.figures.finding import CannotSay, Unusable
from wetside.laws.chemistry.mixing import (
    HYDRATE_FACTORS,
    hydrate_mass,
    split_concentrates,
    stock_and_water,
    tempered_water,
)  # fmt: skip
from wetside.laws.chemistry.processes import process_from_steps, process_named

molmass = pytest.importorskip("molmass")
SALTS = {"sodium carbonate": "Na2CO3", "sodium sulfite": "Na2SO3"}


@pytest.mark.independent(how="molar masses of molmass; the textbook prints two or three digits")
@pytest.mark.published(source="basic-textbook-4", place="appendix 4")
@pytest.mark.parametrize(("salt", "waters"), list(HYDRATE_FACTORS))
def test_hydrate_factors_agree_with_molar_masses(salt: str, waters: int) -> None:
    dry = molmass.Formula(SALTS[salt]).mass
    wet = dry + waters * molmass.Formula("H2O").mass
    assert hydrate_mass(1, salt, waters).value == pytest.approx(wet / dry, abs=0.005)


@pytest.mark.published(source="h-24-07", place="table of times and temperatures")
def test_the_motion_picture_developer_is_an_aim_of_three_minutes() -> None:
    step = process_named("ecn-2").developer()
    assert step is not None
    assert (step.seconds, step.aim_c, step.kind) == (180, 41.1, "aim")
    assert step.high_c - step.aim_c == pytest.approx(0.1)


@pytest.mark.published(source="z-131", place="table 2-1")
def test_the_still_negative_process_has_its_printed_times() -> None:
    assert [s.seconds for s in process_named("c-41").steps] == [195, 260, 65, 260, 195, 65]


@pytest.mark.independent(how="worked figure: 5 L at 43 °C from taps of 60 and 18 °C")
def test_water_is_tempered_from_two_taps() -> None:
    assert tempered_water(5.0, 43, 60, 18) == pytest.approx((2.98, 2.02), abs=0.005)


def test_powder_of_several_parts_is_not_divided() -> None:
    assert isinstance(split_concentrates({"A": 1, "B": 2}, 1000, 300, powder=True), CannotSay)
    assert split_concentrates({"A": 100, "B": 50}, 1000, 300) == {"A": 30, "B": 15}
    assert stock_and_water(500, 1, 4) == (100, 400)


@pytest.mark.parametrize(
    "steps",
    [
        [],
        [{"name": "x"}],
        [{"name": "x", "seconds": 0}],
        [{"name": "", "seconds": 9}],
        [{"name": "x", "seconds": 9, "rivals": 5}],
    ],
)
def test_a_process_that_cannot_be_is_refused_in_one_line(steps: list[dict[str, object]]) -> None:
    with pytest.raises(Unusable):
        process_from_steps("own", steps)
