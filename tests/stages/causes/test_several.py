"""Two faults at once, a fault beside marks, and layers that part as they did in own runs."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from benchmarks.faulty_rolls import CLEAN, Emulsion, departures, emulsion, log_of

from wetside.stages.causes.ranking.evidence import evidence_from
from wetside.stages.causes.ranking.layers import layers_fitted
from wetside.stages.causes.ranking.model import ranked_causes, together

COLD, FIXER, OXIDISED = "developer cold or short", "weak fixer: retained halide", "developer oxidised"


def rows(table: np.ndarray) -> dict[str, Any]:
    return {name: dict(zip("rgb", row)) for name, row in zip(("dmin", "ld", "hd_ld"), table.tolist())}


THIN = np.array([[0, 0, 0], [-0.1, -0.1, -0.09], [-0.18, -0.17, -0.19]])
MILKY = np.array([[0.01, 0.04, 0.17], [0.01, 0.04, 0.17], [0, 0, 0]])
LOGS = {"developer_temperature_off_c": -2.0, "fixer_area_m2_per_litre": 0.5, "developer_age_days": 2.0}


def words(**given: Any) -> dict[str, str]:
    return {cause.name: cause.how for cause in ranked_causes(evidence_from(given))}


@pytest.mark.independent(how="departures of two faults added by hand, the log telling of both")
def test_two_faults_at_once_are_named_together() -> None:
    both = words(departures=rows(THIN + MILKY), spread=0.01, log=LOGS)
    assert both[COLD] == "likely" and both[FIXER] == "likely" and both[OXIDISED] == "unlikely"
    best = together(evidence_from({"departures": rows(THIN + MILKY), "spread": 0.01, "log": LOGS}))[0]
    assert set(best.causes) == {COLD, FIXER} and best.as_json()["how"] == "likely"


@pytest.mark.parametrize("table", (THIN, MILKY), ids=("cold", "milky"))
def test_one_fault_is_not_called_two(table: np.ndarray) -> None:
    assert not together(evidence_from({"departures": rows(table), "spread": 0.01, "log": LOGS}))


def test_a_fault_of_the_strip_and_one_of_the_marks_are_both_likely() -> None:
    bell = {"delta": {"r": -0.2, "g": -0.2, "b": -0.2}, "edge": "sharp", "verdict": "confirmed"}
    found = words(departures=rows(THIN), spread=0.01, log=LOGS, marks=[bell] * 6)
    assert found[COLD] == "likely" and found["air bells in the developer"] in ("likely", "possible")
    assert found["nothing is wrong"] == "unlikely"
    clean = words(departures=rows(THIN * 0), spread=0.01, marks=[bell] * 6)
    assert clean[COLD] == "unlikely"


def run_of(film: Emulsion, fault: str, size: float, rng: np.random.Generator) -> dict[str, Any]:
    off = {COLD: -2.0, "developer hot or long": 2.0}.get(fault, 0.0) * size
    return {
        "departures": rows(departures(film, fault, size, rng)),
        "log": {"developer_temperature_off_c": off},
    }


@pytest.mark.independent(how="curves whose layers part by a planted factor, computed forwards")
def test_the_order_of_the_layers_is_fitted_from_own_runs() -> None:
    rng, right, said = np.random.default_rng(8), 0, 0
    for _ in range(30):
        film = emulsion(rng)
        film = Emulsion(film.base, np.full(3, 0.55), np.full(3, 0.22), np.eye(3), film.layers)
        runs = [run_of(film, COLD if i % 2 else "developer hot or long", 0.9, rng) for i in range(6)]
        found = layers_fitted(runs)
        assert found is not None and found.runs >= 4
        if found.order is not None:
            said += 1
            right += found.order == f"{'rgb'[film.layers.argmax()]} most, {'rgb'[film.layers.argmin()]} least"
    assert said >= 10 and right >= 0.85 * said


def test_runs_that_say_nothing_of_development_fit_nothing() -> None:
    rng = np.random.default_rng(9)
    film = emulsion(rng)
    silver = {**run_of(film, "weak bleach: retained silver", 1.0, rng), "log": log_of(CLEAN, 0, rng)}
    silver["log"].update(developer_temperature_off_c=0.0, developer_time_off_s=0.0, missed_agitation=False)
    assert layers_fitted([silver] * 5) is None
    against = run_of(film, COLD, 1.0, rng)
    against["log"]["developer_temperature_off_c"] = 2.0
    assert layers_fitted([against] * 5) is None and layers_fitted([]) is None


@pytest.mark.independent(how="the same strip read with runs of its own order, and with runs of another")
def test_own_runs_make_a_cause_likelier_that_parts_the_layers_as_they_did() -> None:
    parted = np.array([[0, 0, 0], [-0.16, -0.09, -0.05], [-0.26, -0.15, -0.08]])
    given: dict[str, Any] = {"departures": rows(parted), "spread": 0.01}

    def weight(order: slice) -> float:
        earlier = {"departures": rows(parted[:, order] * 0.9), "log": {"developer_temperature_off_c": -1.5}}
        found = ranked_causes(evidence_from({**given, "own_runs": [earlier] * 5}))
        return sum(c.weight for c in found if c.name.startswith("developer"))

    assert weight(slice(None)) > weight(slice(None, None, -1)) + 0.1
