"""Hydrates against molar masses; processes against the manuals; a kit split and refused."""

from __future__ import annotations

import pytest

from wetside.figures.finding import CannotSay, Unusable
from wetside.laws.chemistry.hydrates import (
    ATOMIC_WEIGHTS,
    SALTS,
    hydrate_factor,
    molar_mass,
)
from wetside.laws.chemistry.mixing import (
    FORMULAS,
    scaled_formula,
    split_concentrates,
    stock_and_water,
    tempered_water,
)
from wetside.laws.chemistry.processes import process_from_steps, process_named

#: Factors from the anhydrous salt as a textbook prints them (source basic-textbook-4).
PRINTED_FACTORS = {("sodium carbonate", 1): 1.17, ("sodium carbonate", 10): 2.70, ("sodium sulfite", 7): 2.0}
molmass = pytest.importorskip("molmass")
coolprop = pytest.importorskip("CoolProp.CoolProp")


@pytest.mark.independent(how="molar masses of molmass")
@pytest.mark.parametrize("atom", ATOMIC_WEIGHTS)
def test_atomic_weights_are_those_of_another_library(atom: str) -> None:
    assert ATOMIC_WEIGHTS[atom] == pytest.approx(molmass.Formula(atom).mass, rel=2e-4)


@pytest.mark.independent(how="molar masses of molmass, each salt with the water it is sold with")
@pytest.mark.parametrize(("salt", "waters"), [(name, n) for name, one in SALTS.items() for n in one.hydrates])
def test_hydrates_weigh_what_molmass_says(salt: str, waters: float) -> None:
    dry = molmass.Formula(SALTS[salt].formula).mass
    wet = dry + waters * molmass.Formula("H2O").mass
    assert molar_mass(SALTS[salt].formula) == pytest.approx(dry, rel=1e-4)
    assert hydrate_factor(salt, 0, waters) == pytest.approx(wet / dry, rel=1e-4)
    assert hydrate_factor(salt, waters, 0) == pytest.approx(dry / wet, rel=1e-4)


@pytest.mark.published(source="basic-textbook-4", place="appendix 4, two or three printed digits")
@pytest.mark.parametrize(("salt", "waters"), list(PRINTED_FACTORS))
def test_hydrate_factors_are_those_of_the_textbook(salt: str, waters: float) -> None:
    assert hydrate_factor(salt, 0, waters) == pytest.approx(PRINTED_FACTORS[salt, waters], abs=0.006)


@pytest.mark.parametrize(("salt", "waters"), [("table salt", 0), ("sodium carbonate", 7)])
def test_a_hydrate_that_is_not_sold_is_refused(salt: str, waters: float) -> None:
    with pytest.raises(Unusable):
        hydrate_factor(salt, 0, waters)


@pytest.mark.independent(
    how="the anhydrous salt weighed out is the same whatever the jar; 2.5 times the litre's"
)
def test_a_formula_is_scaled_and_weighed_from_the_jar_that_is_there() -> None:
    litre = {part.name: part.per_litre for part in FORMULAS["developer"]}
    shelf = {"sodium carbonate": 10.0, "sodium sulfite": 7.0, "borax": 5.0}
    scaled = {part.name: part.per_litre for part in scaled_formula("developer", 2500, shelf)}
    assert scaled["CD-3"] == pytest.approx(2.5 * litre["CD-3"])
    dry = scaled["sodium carbonate, decahydrate"] * 105.99 / 286.14  # molar masses as a handbook prints them
    assert dry == pytest.approx(2.5 * litre["sodium carbonate, anhydrous"], rel=1e-3)
    assert scaled["sodium sulfite, heptahydrate"] == pytest.approx(2.5 * 2.0 * 252.15 / 126.04, rel=1e-3)


@pytest.mark.independent(how="enthalpy of water of CoolProp, mixed by mass at one atmosphere")
@pytest.mark.parametrize("aim", [27.0, 41.1, 43.0])
def test_tempered_water_keeps_its_enthalpy(aim: float) -> None:
    parts = tempered_water(1000, aim, 60, 12)
    props = [(coolprop.PropsSI("D", "T", c + 273.15, "P", 101325, "Water"), coolprop.PropsSI("H", "T", c + 273.15, "P", 101325, "Water")) for c in (60, 12)]  # fmt: skip
    masses = [part * density for part, (density, _) in zip(parts, props, strict=True)]
    mixed = sum(m * heat for m, (_, heat) in zip(masses, props, strict=True)) / sum(masses)
    found = coolprop.PropsSI("T", "H", mixed, "P", 101325, "Water") - 273.15
    assert found == pytest.approx(aim, abs=0.25)  # equal volumes weigh 1.6 % less when hot: that is the error


@pytest.mark.published(source="h-24-07", place="table of times and temperatures")
def test_the_motion_picture_developer_is_an_aim_of_three_minutes() -> None:
    step = process_named("ecn-2").developer()
    assert step is not None
    assert (step.seconds, step.aim_c, step.kind) == (180, 41.1, "aim")
    assert step.high_c - step.aim_c == pytest.approx(0.1)


@pytest.mark.published(source="h-24-07", place="table of times and temperatures")
def test_the_motion_picture_baths_have_their_printed_times_and_bands() -> None:
    printed = (
        (60, 26, 28), (30, 27, 38), (180, 41.0, 41.2), (30, 27, 38), (30, 27, 38), (180, 37, 39), (60, 27, 38), (120, 37, 39),
        (120, 27, 38), (10, 27, 38),
    )  # fmt: skip
    steps = process_named("ecn-2").steps
    assert [(s.seconds, s.low_c, s.high_c) for s in steps] == [pytest.approx(row) for row in printed]


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


@pytest.mark.parametrize("slip", [
    lambda: split_concentrates({"A": 100}, 1000, 1001), lambda: split_concentrates({"A": 0}, 1000, 300), lambda: split_concentrates({}, 1000, 300),
    lambda: split_concentrates({"A": 1100}, 1000, 300), lambda: split_concentrates({"A": 1}, -5, 1), lambda: stock_and_water(0, 1, 4),
    lambda: stock_and_water(100, -1, 4), lambda: tempered_water(500, 70, 60, 10), lambda: tempered_water(500, 20, 10, 60),
])  # fmt: skip
def test_an_impossible_mixture_is_one_line(slip) -> None:
    with pytest.raises(Unusable) as no:
        slip()
    assert "\n" not in no.value.what


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
