"""Causes: the sign table as vectors, simulated rolls whose sizes are not the model's, tests and company."""

from __future__ import annotations

import numpy as np
import pytest

from wetside.figures.finding import Unusable
from wetside.laws.sensitometry.faults import FAULTS
from wetside.stages.causes.company import suspects
from wetside.stages.causes.evidence import Evidence, evidence_from
from wetside.stages.causes.model import CLEAN, inseparable, ranked_causes
from wetside.stages.causes.next_test import next_test


def evidence(dmin: tuple, ld: tuple, hd_ld: tuple, **more) -> Evidence:
    def named(values: tuple) -> dict:
        return dict(zip("rgb", values))

    return evidence_from(
        {"departures": {"dmin": named(dmin), "ld": named(ld), "hd_ld": named(hd_ld)}, **more}
    )


@pytest.mark.published(
    source="tg2044-1", place="retained silver: all three rise alike, cured by bleaching and fixing again"
)
def test_retained_silver_with_a_used_bleach_is_likely_and_curable_tonight() -> None:
    causes = ranked_causes(
        evidence(
            (0.02, 0.02, 0.03), (0.09, 0.1, 0.09), (0.16, 0.15, 0.17), log={"bleach_area_m2_per_litre": 0.4}
        )
    )
    assert causes[0].name == "weak bleach: retained silver"
    assert causes[0].how == "likely" and causes[0].curable == "tonight" and causes[0].for_


@pytest.mark.published(source="tg2044-1", place="retained halide: D-min blue up, milky")
def test_a_blue_base_alone_points_to_the_fixer() -> None:
    causes = ranked_causes(evidence((0.01, 0.03, 0.16), (0.01, 0.03, 0.15), (0.0, 0.0, 0.01)))
    assert causes[0].name == "weak fixer: retained halide"


@pytest.mark.published(source="h-24-08", place="time and temperature short: speed and contrast fall")
def test_a_cold_developer_with_its_log_is_likely() -> None:
    causes = ranked_causes(
        evidence(
            (0, -0.01, 0),
            (-0.06, -0.05, -0.07),
            (-0.1, -0.09, -0.12),
            log={"developer_temperature_off_c": -1.4},
        )
    )
    assert causes[0].name == "developer cold or short" and any(
        "−" in f or "-1.4" in f for f in causes[0].for_
    )


@pytest.mark.independent(how="200 simulated clean rolls with a run's own scatter")
def test_clean_rolls_are_called_clean() -> None:
    rng = np.random.default_rng(8)
    called = [
        ranked_causes(evidence(*(tuple(rng.normal(0, 0.02, 3)) for _ in range(3))))[0].name == CLEAN
        for _ in range(200)
    ]
    assert np.mean(called) >= 0.95


@pytest.mark.independent(
    how="140 simulated faults; sizes and layer orders not the model's, logs given half the time"
)
def test_the_right_cause_comes_first_or_is_named_inseparable() -> None:
    rng = np.random.default_rng(9)
    hints = {"developer cold or short": {"developer_temperature_off_c": -1.0}, "developer hot or long": {"developer_temperature_off_c": 1.0},
             "low agitation": {"missed_agitation": True}, "weak bleach: retained silver": {"bleach_area_m2_per_litre": 0.5},
             "weak fixer: retained halide": {"fixer_area_m2_per_litre": 0.5}, "old stock": {"film_age_years": 12},
             "developer oxidised": {"developer_age_days": 40}, "developer dilute or spent": {"developer_area_m2_per_litre": 0.5},
             "developer carried into the bleach": {"stop_bath_used": False}}  # fmt: skip
    right = []
    for i in range(140):
        fault = FAULTS[i % len(FAULTS)]
        size = rng.uniform(0.07, 0.2)
        layers = rng.uniform(0.6, 1.4, 3)
        seen = [
            tuple(np.array(signs) * size * layers * rng.uniform(0.7, 1.3, 3) + rng.normal(0, 0.02, 3))
            for signs in (fault.dmin, fault.ld, fault.hd_ld)
        ]
        given = evidence(*seen, log=hints.get(fault.name, {}))
        causes = ranked_causes(given)
        groups = inseparable(causes, given)
        first = causes[0].name
        right.append(first == fault.name or any(fault.name in g and first in g for g in groups))
    assert np.mean(right) >= 0.8


def test_a_test_turns_the_order() -> None:
    seen = ((0.02, 0.02, 0.03), (0.09, 0.1, 0.09), (0.16, 0.15, 0.17))
    same = ranked_causes(evidence(*seen, tests={"re-bleach one frame": "same"}))
    assert same[0].name != "weak bleach: retained silver"
    assert next_test(ranked_causes(evidence(*seen)))["what"].startswith("bleach and fix one frame again")


@pytest.mark.published(
    source="common-practice",
    place="patchy cyan on several rolls traced to what the bad rolls shared: the fixer",
)
def test_the_fixer_common_to_the_bad_rolls_is_named() -> None:
    rolls = [
        {"id": f"b{i}", "bad": True, "things": ["bath:fixer 1", f"bath:developer {i}", "tank:T"]}
        for i in range(4)
    ]
    rolls += [
        {"id": f"g{i}", "bad": False, "things": ["bath:fixer 2", f"bath:developer {4 + i}", "tank:T"]}
        for i in range(4)
    ]
    best = suspects(rolls)[0]
    assert (
        best["things"] == ["bath:fixer 1"]
        and best["with_bad"] == 1.0
        and best["with_good"] == 0.0
        and best["p"] < 0.1
    )


def test_things_that_always_go_together_are_named_together() -> None:
    rolls = [
        {"id": "1", "bad": True, "things": ["bath:F", "bath:B"]},
        {"id": "2", "bad": False, "things": []},
    ]
    assert suspects(rolls)[0]["things"] == ["bath:B", "bath:F"]


@pytest.mark.parametrize(
    "given",
    [
        {"departure": {}},
        {"departures": {"dmin": {"r": "x"}}},
        {"log": {"nonsense": 1}},
        {"spread": -1},
        [1],
        {"marks": 3},
    ],
)
def test_evidence_that_cannot_be_meant_is_one_line(given: object) -> None:
    with pytest.raises(Unusable):
        evidence_from(given)  # type: ignore[arg-type]


def test_nothing_given_says_nothing() -> None:
    assert ranked_causes(Evidence()) == []
    assert next_test([])["minutes"] > 0
