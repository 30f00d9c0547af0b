"""What a first look says, and how answers and the outcome of a test change it; and what helps where nothing was seen."""

from __future__ import annotations

from typing import Any

import pytest

from wetside.figures.finding import Unusable
from wetside.figures.reading import Cast, Geometry, Pattern, RollReading
from wetside.stages.causes.ranking.evidence import evidence_from
from wetside.stages.causes.ranking.experiments import BY_NAME
from wetside.stages.causes.ranking.first_look import BY_ID, first_look, judged_answers
from wetside.stages.causes.ranking.model import CLEAN, one_change, ranked_causes
from wetside.stages.causes.ranking.next_test import TESTS, cheapest_test, experiments_of

SHARP_THIN = {"delta": {"r": -0.2, "g": -0.2, "b": -0.2}, "edge": "sharp"}
SOFT_DENSE = {"delta": {"r": 0.2, "g": 0.2, "b": 0.2}, "edge": "soft"}


def first(**given: Any) -> str:
    return ranked_causes(evidence_from(given))[0].name


def of_marks(mark: dict[str, Any], count: int = 4, **given: Any) -> str:
    ranked = ranked_causes(evidence_from({"marks": [mark] * count, **given}))
    return next(c.name for c in ranked if "marks" in c.by or "cast" in c.by)


@pytest.mark.published(
    source="common-practice", place="marks: where a mark comes again: every frame, nowhere, one edge"
)
def test_where_a_mark_comes_again_changes_what_made_it() -> None:
    assert of_marks(SOFT_DENSE, answers={"repeats": "every frame"}) == "light leak in the camera"
    assert of_marks(SHARP_THIN, answers={"repeats": "nowhere"}) == "air bells in the developer"
    assert of_marks(SHARP_THIN, answers={"repeats": "steady distance"}) == "turns touching in the developer"
    one_edge = ranked_causes(evidence_from({"marks": [SOFT_DENSE], "answers": {"repeats": "one edge"}}))
    assert any(c.name == "tank filled too low" for c in one_edge)


@pytest.mark.published(
    source="common-practice", place="marks: tests that decide: reflected light, the reel, a scan of no film"
)
def test_the_outcome_of_a_test_on_the_dry_film_changes_what_made_it() -> None:
    assert of_marks(SOFT_DENSE, tests={"dry film on its reel": "at one side"}) == "splash or slow pour"
    turns = of_marks(SHARP_THIN, tests={"dry film on its reel": "on neighbouring turns"})
    assert turns == "turns touching in the developer"
    dense = {"delta": {"r": 0.1, "g": 0.1, "b": 0.1}, "edge": "sharp"}
    assert of_marks(dense, tests={"look in reflected light": "on the surface"}).startswith("drying marks")
    assert not of_marks(dense, tests={"look in reflected light": "in the film"}).startswith("drying marks")
    cast = {"found": True, "kind": "additive"}
    shown = first(cast=cast, tests={"scan the light without film": "there too"})
    assert shown != "stain carried over the film"


def test_a_test_whose_outcome_was_kept_is_not_offered_again() -> None:
    for test in TESTS:
        assert all(name in BY_NAME for name in test.experiments)
    asked = evidence_from({"marks": [SHARP_THIN] * 3})
    for _ in range(6):
        name = experiments_of(cheapest_test(asked, ranked_causes(asked))["what"])
        if not name:
            break
        assert name[0] not in asked.tests
        answer = BY_NAME[name[0]].outcomes[-1].answer
        asked = evidence_from({"marks": [SHARP_THIN] * 3, "tests": {**asked.tests, name[0]: answer}})
    assert len(asked.tests) >= 2


def test_where_nothing_was_seen_no_cause_is_guessed_and_what_to_see_first_is_said() -> None:
    none = evidence_from({"cast": {"found": False}, "answers": {"seen on": "not looked"}})
    assert ranked_causes(none) == [] and none.kinds == []
    assert "rebate" in cheapest_test(none, [])["what"]
    log = evidence_from({"log": {"stop_bath_used": True}})
    assert "rebate" in cheapest_test(log, ranked_causes(log))["what"]


def look(rung: int = 0, marks: list[dict[str, Any]] | None = None, **answers: str) -> dict[str, Any]:
    given = {name.replace("_", " "): said for name, said in answers.items()}
    cast = Cast(False, None, None, None, "", None, "")
    empty = Geometry(None, None, None, "")
    reading = RollReading(
        rung, ("",), "none", None, (), (), cast, empty, Pattern("cannot say", 0, None, "", "")
    )
    return first_look(reading, given, marks)


def test_a_look_that_finds_nothing_says_what_would_show_something() -> None:
    assert "linear" in look(0)["verdict"]["say"] and "rebate" in look(0)["next_test"]["what"]
    assert "control strip" in look(2)["verdict"]["say"] and "control strip" in look(2)["next_test"]["what"]
    assert "draw it" in look(0, repeats="one end")["verdict"]["say"]
    assert look(0, stays_with="the scanner")["verdict"]["where"] == "scanner"
    assert len(look(0)["questions"]) <= 5


@pytest.mark.published(
    source="common-practice",
    place="ask first: is it in unexposed film too; uneven development leaves the rebate alone",
)
def test_what_unexposed_film_shows_parts_what_lies_on_the_film_from_what_the_developer_did() -> None:
    dense = {"delta": {"r": 0.12, "g": 0.12, "b": 0.12}, "edge": "soft", "chance": 0.97}

    def ahead(shown: bool | None, **answers: str) -> float:
        marks = [{**dense, "in_rebate": shown}] * 6
        ranked = {
            c.name: c.weight for c in ranked_causes(evidence_from({"marks": marks, "answers": answers}))
        }
        return ranked["drying marks or residue on the surface"] / ranked["surge at the perforations"]

    assert ahead(True) > 2 * ahead(None) > 4 * ahead(False)
    told = {"in unexposed film": "yes"}
    assert ahead(False, **told) == pytest.approx(ahead(None, **told))
    ranked = ranked_causes(evidence_from({"marks": [{**dense, "in_rebate": True}] * 2}))
    surge = next(c for c in ranked if c.name == "surge at the perforations")
    assert any("unexposed film shows 2 marks too" in say for say in surge.against)


@pytest.mark.published(
    source="common-practice",
    place="ask first: is it in unexposed film too; what the developer did not do there cannot be seen where nothing was exposed",
)
@pytest.mark.parametrize("developers", ["air bells in the developer", "turns touching in the developer"])
def test_an_answer_that_unexposed_film_is_clean_speaks_for_what_the_developer_did(developers: str) -> None:
    def ahead(answer: str) -> float:
        given = {"marks": [SHARP_THIN] * 6, "answers": {"in unexposed film": answer}}
        ranked = {c.name: c for c in ranked_causes(evidence_from(given))}
        said = ranked[developers].against if answer == "yes" else ranked[developers].for_
        assert any("in unexposed film" in say for say in said) == (answer != "not looked")
        return ranked[developers].weight / ranked["drying marks or residue on the surface"].weight

    assert ahead("no") > 2 * ahead("not looked") > 4 * ahead("yes")


def test_what_the_film_itself_shows_is_not_asked_and_speaks_against_an_answer() -> None:
    mark = {**SHARP_THIN, "in_rebate": True}
    assert "in unexposed film" in {q["id"] for q in look(2)["questions"]}
    assert "in unexposed film" not in {q["id"] for q in look(2, marks=[mark])["questions"]}
    assert "film beside the pictures shows" in look(2, marks=[mark], in_unexposed_film="no")["verdict"]["say"]


def test_answers_and_outcomes_are_judged_at_the_door() -> None:
    given = {"seen on": "the negative", "look in reflected light": "on the surface"}
    assert judged_answers(given) == given
    for wrong in ({"seen on": "perhaps"}, {"colour": "blue"}, {"clip test": "on the surface"}):
        with pytest.raises(Unusable, match=r"choices|questions"):
            judged_answers(wrong)
    assert len(BY_ID) == 5


def test_one_change_is_named_for_the_next_run_and_none_where_nothing_is_wrong() -> None:
    held = {name: dict.fromkeys("rgb", 0.0) for name in ("dmin", "ld", "hd_ld")}
    clean = ranked_causes(evidence_from({"departures": held}))
    assert clean[0].name == CLEAN and one_change(clean)["change"] == ""
    marks = ranked_causes(evidence_from({"marks": [SHARP_THIN] * 4, "answers": {"repeats": "nowhere"}}))
    assert one_change(marks)["change"] and "air bells" in one_change(marks)["why"]
