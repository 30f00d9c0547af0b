"""Evidence that is poor, contradicts itself or changed all at once: it is said, with what would help; nothing is claimed."""

from __future__ import annotations

from wetside.stages.causes.ranking.evidence import evidence_from
from wetside.stages.causes.ranking.limits import limits
from wetside.stages.causes.ranking.model import ranked_causes


def said(**given) -> dict[str, str]:
    return {one.id: one.source for one in limits(evidence_from(given))}


def test_without_a_base_or_a_strip_it_says_which_scan_would_help() -> None:
    row = {"r": -0.1, "g": -0.1, "b": -0.1}
    assert "rebate" in said(departures={"ld": row, "hd_ld": row})["no-base"]
    assert "strip" in said(log={"stop_bath_used": True})["no-strip"]
    assert "no-base" not in said(departures={"dmin": row, "ld": row})


def test_gaps_of_the_log_are_named_and_count_for_nothing() -> None:
    found = limits(evidence_from({"log": {"stop_bath_used": True}}))
    gaps = next(one for one in found if one.id == "log-gaps")
    assert "temperature" in gaps.say and "agitation" in gaps.say
    first = ranked_causes(evidence_from({"log": {"stop_bath_used": True}}))[0]
    assert first.how != "likely"


def test_answers_that_contradict_each_other_or_the_film_are_named() -> None:
    assert "answers-contradict" in said(answers={"seen on": "only the picture", "in unexposed film": "yes"})
    cast = {"found": True, "kind": "additive", "anchor": "rebate"}
    assert "answer-against-film" in said(cast=cast, answers={"in unexposed film": "no"})


def test_when_every_suspect_changed_at_once_one_is_to_be_changed_alone() -> None:
    rolls = [{"id": f"b{i}", "bad": True, "things": ["bath:F1", "bath:B1", "tank:T"]} for i in range(3)]
    rolls += [{"id": f"g{i}", "bad": False, "things": ["tank:T"]} for i in range(3)]
    assert "one alone" in said(company=rolls)["changed-at-once"]
    rolls[-1]["things"].append("bath:B1")
    assert "changed-at-once" not in said(company=rolls)


def test_nothing_given_brings_no_findings() -> None:
    assert limits(evidence_from({})) == []
