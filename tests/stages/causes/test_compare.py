"""What changed between two runs: sizes from the rate law, ranks, what is not told."""

from __future__ import annotations

import pytest

from wetside.stages.causes.ranking.compare import Fact, differences, in_words


@pytest.mark.independent(how="0.7 × (2.5^−0.15 − 1) by hand for 1.5 °C too cold")
def test_a_cold_developer_outranks_another_bottle_and_says_how_much() -> None:
    found = differences(
        {"developer_c": Fact(41.1, "a"), "fixer": Fact("fixer 1"), "tank": Fact("T"), "room_c": Fact(20.5)},
        {"developer_c": Fact(39.6, "b"), "fixer": Fact("fixer 2"), "tank": Fact("T")},
    )
    first, second = found["differences"][:2]
    cold = next(one for one in (first, second) if one["sized"])
    assert cold["effect_d"] == pytest.approx(-0.090, abs=0.001) and cold["lines"] == ["a", "b"]
    assert {first["what"], second["what"]} == {"developer, °C", "fixer bottle"}
    assert found["alike"] == ["tank"] and found["unknown"] == ["room, °C"]


def test_nothing_that_matters_is_said_so() -> None:
    same = {"developer_c": Fact(41.1), "stop_bath_used": Fact(True)}
    assert "nothing" in in_words(differences(same, dict(same)), "run 1", "run 2")
    told = in_words(
        differences({"stock": Fact("A"), "tank": Fact("T")}, {"stock": Fact("A")}), "run 1", "run 2"
    )
    assert told.startswith("cannot say") and "1 of 2 things of both" in told


def test_every_difference_has_words_for_what_it_touches() -> None:
    found = differences(
        {"process": Fact("ecn-2"), "stop_bath_used": Fact(True)},
        {"process": Fact("c-41"), "stop_bath_used": Fact(False)},
    )
    assert all(one["touches"] and one["what"] for one in found["differences"])
    assert "process" in in_words(found, "a", "b")
