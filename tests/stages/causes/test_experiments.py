"""Experiments: outcomes move the ranking, power is what a simulation gives, plans say what each outcome would leave."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import ttest_rel

from wetside.laws.statistics.paired import largest_spread, paired_difference, paired_power, smallest_shown
from wetside.stages.causes.ranking.evidence import evidence_from
from wetside.stages.causes.ranking.experiments import BY_NAME, EXPERIMENTS, halves, plan
from wetside.stages.causes.ranking.model import ranked_causes

SILVER = {
    "dmin": {"r": 0.02, "g": 0.02, "b": 0.03},
    "ld": {"r": 0.09, "g": 0.1, "b": 0.09},
    "hd_ld": {"r": 0.16, "g": 0.15, "b": 0.17},
}


def weights(**more) -> dict[str, float]:
    return {c.name: c.weight for c in ranked_causes(evidence_from({"departures": SILVER, **more}))}


@pytest.mark.published(
    source="tg2044-1", place="retained silver goes when bleached and fixed again; developer faults stay"
)
def test_a_redo_that_changes_the_frame_settles_it_and_one_that_does_not_rules_it_out() -> None:
    silver = "weak bleach: retained silver"
    changed = weights(tests={"re-bleach one frame": "changed"})[silver]
    same = weights(tests={"re-bleach one frame": "same"})[silver]
    assert changed > 0.9 > weights()[silver] > same and same < 0.1


@pytest.mark.independent(how="Bayes by hand: the plan's outcome against the ranking with that outcome given")
@pytest.mark.parametrize("name", list(BY_NAME))
def test_a_plan_foretells_what_the_ranking_will_say(name: str) -> None:
    planned = plan(BY_NAME[name], weights())
    for outcome in planned["outcomes"]:
        then = ranked_causes(evidence_from({"departures": SILVER, "tests": {name: outcome["answer"]}}))
        assert outcome["then"][0] == {"cause": then[0].name, "how": then[0].how}


def test_every_experiment_has_steps_minutes_and_outcomes_and_wet_ones_a_caution() -> None:
    for one in EXPERIMENTS:
        assert one.steps and one.minutes > 0 and len(one.outcomes) >= 2
        assert bool(one.caution) == any(w in " ".join(one.steps) for w in ("bleach", "fix", "baths"))


@pytest.mark.independent(how="4000 simulated split rolls judged by scipy's paired t-test")
@pytest.mark.parametrize(
    ("difference", "spread", "pairs"), [(0.03, 0.03, 8), (0.05, 0.04, 6), (0.0, 0.03, 8)]
)
def test_the_stated_power_is_what_simulated_split_rolls_show(
    difference: float, spread: float, pairs: int
) -> None:
    rng = np.random.default_rng(2)
    away = rng.normal(difference, spread, (4000, pairs))
    shown = ttest_rel(away, np.zeros_like(away), axis=1).pvalue < 0.05
    assert paired_power(difference, spread, pairs) == pytest.approx(shown.mean(), abs=0.025)


@pytest.mark.independent(how="3000 simulated split rolls with and without a difference; scipy's test inside")
def test_halves_are_told_apart_and_too_few_pairs_say_so() -> None:
    rng = np.random.default_rng(8)

    def said(difference: float, pairs: int) -> list[str | None]:
        rolls = []
        for _ in range(300):
            first = rng.normal(0.8, 0.1, pairs)
            rolls.append(halves(list(zip(first, first + rng.normal(difference, 0.03, pairs))))[0])
        return rolls

    assert np.mean([one == "halves differ" for one in said(0.06, 8)]) > 0.95
    assert np.mean([one == "halves differ" for one in said(0.0, 8)]) < 0.1
    assert np.mean([one is None for one in said(0.0, 3)]) > 0.8
    assert halves([(0.8, 0.9)])[0] is None


@pytest.mark.independent(how="4000 samples of five: how often the true spread lies under the bound")
def test_the_upper_bound_of_a_spread_holds_as_often_as_it_says() -> None:
    rng = np.random.default_rng(1)
    seen = rng.normal(0, 0.03, (4000, 5)).std(axis=1, ddof=1)
    assert np.mean([largest_spread(s, 5) > 0.03 for s in seen]) == pytest.approx(0.8, abs=0.02)


@pytest.mark.independent(how="scipy's paired t-test")
def test_a_paired_difference_agrees_with_an_independent_test() -> None:
    rng = np.random.default_rng(5)
    first = rng.normal(0.8, 0.2, 9)
    second = first + rng.normal(0.03, 0.02, 9)
    found = paired_difference(first, second)
    assert found.p == pytest.approx(ttest_rel(second, first).pvalue, rel=1e-9)
    assert paired_power(smallest_shown(0.03, 9), 0.03, 9) == pytest.approx(0.8, abs=1e-6)
    assert smallest_shown(0.03, 1) is None and paired_power(1.0, 0.1, 1) == 0.0
