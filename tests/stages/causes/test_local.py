"""What marks say of causes, by how sure it is that they are marks."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from benchmarks.faulty_rolls import departures, emulsion

from wetside.laws.sensitometry.faults import FAULTS, Fault
from wetside.stages.causes.ranking.evidence import Evidence, evidence_from
from wetside.stages.causes.ranking.limits import limits
from wetside.stages.causes.ranking.local import share_denser, share_sharp
from wetside.stages.causes.ranking.model import CLEAN, inseparable, ranked_causes
from wetside.stages.causes.signs.at_edge import share_at_edges


def mark(amount: float, edge: str, chance: float | None) -> dict[str, Any]:
    return {"delta": {"r": amount, "g": amount, "b": amount}, "edge": edge, "chance": chance}


def strip(values: np.ndarray) -> dict[str, Any]:
    """Departures of a control strip from (9,) densities [D]."""
    names = ("dmin", "ld", "hd_ld")
    return {
        name: dict(zip("rgb", row.tolist())) for name, row in zip(names, values.reshape(3, 3), strict=True)
    }


def first(given: dict[str, Any]) -> str:
    return ranked_causes(evidence_from(given))[0].name


@pytest.mark.independent(how="the same rolls without the mark: a roll's fault is not in its marks")
@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
@pytest.mark.parametrize("amount", [0.12, -0.12])
@pytest.mark.parametrize("edge", ["sharp", "soft"])
def test_one_mark_of_a_finder_does_not_change_a_rolls_cause(fault: Fault, amount: float, edge: str) -> None:
    rng = np.random.default_rng(len(fault.name))
    for _ in range(8):
        values = departures(emulsion(rng), fault.name, 0.8, rng)
        given: dict[str, Any] = {"departures": strip(values)}
        assert first({**given, "marks": [mark(amount, edge, 0.95)]}) == first(given)


@pytest.mark.independent(how="the same strip without the mark")
def test_a_roll_that_held_stays_clean_with_one_mark_of_a_finder() -> None:
    given: dict[str, Any] = {"departures": strip(np.full(9, 0.004))}
    assert first(given) == CLEAN
    assert first({**given, "marks": [mark(0.15, "sharp", 0.9)]}) == CLEAN


@pytest.mark.independent(how="what a user has seen needs no finder's word")
def test_many_marks_or_one_that_the_user_saw_are_explained() -> None:
    given: dict[str, Any] = {"departures": strip(np.full(9, 0.004))}
    assert first({**given, "marks": [mark(-0.15, "sharp", 0.9)] * 8}) == "air bells in the developer"
    seen = {**mark(-0.15, "sharp", 0.3), "verdict": "confirmed"}
    assert first({**given, "marks": [seen]}) == "air bells in the developer"


@pytest.mark.independent(how="the same strip; a light's gradient is not the film's")
def test_an_uneven_light_that_nothing_parts_from_the_film_leaves_a_roll_clean_and_is_said() -> None:
    cast = {"found": True, "kind": "light", "peak": {"r": 0.012, "g": 0.011, "b": 0.012}, "parted": False}
    given = {"departures": strip(np.full(9, 0.004)), "cast": cast}
    assert first(given) == CLEAN
    assert [f.id for f in limits(evidence_from(given))] == ["light-or-film"]
    strong = {**given, "cast": {**cast, "peak": {"r": 0.05, "g": 0.04, "b": 0.03}}}
    ranked = ranked_causes(evidence_from(strong))
    assert ranked[0].name == "light under the negative" and ranked[0].how != "unlikely"
    assert next(c for c in ranked if c.name == CLEAN).how == "likely"
    assert ["light under the negative", "stain carried over the film"] in inseparable(
        ranked, evidence_from(strong)
    )


@pytest.mark.independent(
    how="two finders' marks of which one is unsure: the sure one decides what they look like"
)
def test_an_unsure_mark_hardly_changes_what_the_sure_ones_look_like() -> None:
    sure = [{**mark(0.12, "sharp", 0.9), "verdict": "confirmed"}] * 3
    names = [cause.name for cause in ranked_causes(Evidence(marks=tuple(sure)))]
    with_one = [cause.name for cause in ranked_causes(Evidence(marks=(*sure, mark(-0.1, "soft", 0.8))))]
    assert names[0] == with_one[0]


def test_a_mark_drawn_where_no_density_is_known_says_nothing_of_sign_or_edge() -> None:
    drawn = {"delta": dict.fromkeys("rgb"), "edge": "sharp", "kind": "drawn", "verdict": "drawn"}
    assert share_denser([drawn]) is None and share_sharp([drawn]) is None
    found = [c for c in ranked_causes(evidence_from({"marks": [drawn]})) if "marks" in c.by]
    assert found and not any(
        "layers" in say or "edges" in say for c in found for say in (*c.for_, *c.against)
    )
    dense = {"delta": {"r": 0.1, "g": 0.1, "b": 0.1}, "edge": "soft"}
    assert share_denser([drawn, dense]) == 1.0 and share_sharp([drawn, dense]) == 0.0


@pytest.mark.published(
    source="common-practice",
    place="marks: surge at perforations lies at the perforated edge; a light leak is locked to the frame",
)
def test_soft_dense_marks_that_come_with_the_frame_are_a_surge_along_its_edge_and_a_leak_away_from_it() -> (
    None
):
    given: dict[str, Any] = {"departures": strip(np.full(9, 0.004)), "pattern": "frame"}

    def lying(across: float) -> dict[str, Any]:
        return {**given, "marks": [{**mark(0.15, "soft", 0.98), "across": across} for _ in range(9)]}

    assert first(lying(0.06)) == first(lying(0.95)) == "surge at the perforations"
    assert first(lying(0.5)) == "light leak in the camera"
    away = next(c for c in ranked_causes(evidence_from(lying(0.5))) if c.name == "surge at the perforations")
    assert any("away from the picture's edges" in say for say in away.against)
    assert share_at_edges(lying(0.5)["marks"][:2]) is None  # two places tell nothing


@pytest.mark.published(
    source="common-practice", place="marks: splash, slow pour, tide: bands, first-wetted parts denser"
)
def test_soft_dense_bands_over_the_whole_height_are_a_splash_even_where_no_repeat_is_told() -> None:
    bands = [{**mark(0.15, "soft", 0.93), "kind": "band"} for _ in range(7)]
    given: dict[str, Any] = {"departures": strip(np.full(9, 0.004)), "marks": bands, "frames": 9}
    ranked = ranked_causes(evidence_from(given))
    assert ranked[0].name == "splash or slow pour"
    assert any("bands over the picture's whole height" in say for say in ranked[0].for_)
    assert first({**given, "marks": bands[:1]}) == CLEAN


@pytest.mark.independent(
    how="benchmarks.patterns with marks lost: 9 of 20 rolls of touching turns seem scattered, 17 of 20 that are"
)
def test_marks_that_seem_scattered_leave_touching_turns_beside_what_lies_anywhere() -> None:
    dense = [mark(0.2, "sharp", 0.95)] * 14
    given: dict[str, Any] = {"departures": strip(np.full(9, 0.004)), "marks": dense, "pattern": "scattered"}
    evidence = evidence_from(given)
    ranked = ranked_causes(evidence)
    drying, touched = "drying marks or residue on the surface", "turns touching in bleach or fixer"
    assert ranked[0].name == drying
    assert any({drying, touched} <= set(group) for group in inseparable(ranked, evidence))
    assert not any("dust or dirt in camera or scanner" in group for group in inseparable(ranked, evidence))


def test_plumes_beside_most_holes_are_a_surge() -> None:
    plumes = [{**mark(0.1, "soft", 0.95), "kind": "plume"} for _ in range(9)]
    ranked = ranked_causes(
        evidence_from({"departures": strip(np.full(9, 0.004)), "marks": plumes, "frames": 9})
    )
    assert ranked[0].name == "surge at the perforations"
    assert any("plumes beside the perforations" in say for say in ranked[0].for_)


@pytest.mark.independent(how="the same marks turned round, as an inverted file shows them")
def test_files_that_may_be_turned_round_do_not_say_whether_marks_are_denser() -> None:
    def told(amounts: list[float], rung: int) -> tuple[list[tuple[str, float]], set[str]]:
        evidence = evidence_from({"marks": [mark(a, "sharp", 0.9) for a in amounts], "frames": 12})
        ranked = ranked_causes(replace(evidence, scans={"rung": rung}))
        words = {say for cause in ranked for say in (*cause.for_, *cause.against)}
        return [(cause.name, round(cause.weight, 6)) for cause in ranked], words

    dense, thin = [0.2, 0.3, 0.15, 0.2], [-0.2, -0.3, -0.15, -0.2]
    assert told(dense, 0) == told(thin, 0)
    assert told(dense, 2)[0] != told(thin, 2)[0]
    assert not any("denser" in say or "thin" in say for say in told(dense, 0)[1])
    assert any("denser" in say for say in told(dense, 2)[1])
    assert any("both signs" in say for say in told([*dense[:2], *thin[:2]], 0)[1])
