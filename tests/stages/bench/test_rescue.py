"""Advice for trouble: every trouble in every bath has one, with its cost and source."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

import wetside
from wetside.laws.chemistry.processes import built_in
from wetside.laws.chemistry.safety import BY_ROLE, GENERAL, cautions_for
from wetside.stages.bench.event import checked_event
from wetside.stages.bench.rescue import TROUBLES, rescue, troubles_as_json

SOURCES = tomllib.loads((Path(wetside.__file__).parent / "sources.toml").read_text("utf-8"))
ROLES = [None, *dict.fromkeys(step.role for process in built_in().values() for step in process.steps)]


@pytest.mark.parametrize("what", TROUBLES)
@pytest.mark.parametrize("role", ROLES)
def test_every_trouble_has_advice_in_every_bath(what: str, role: str | None) -> None:
    found = rescue(what, role)
    assert found.now.endswith(".") and found.cost.endswith(".")
    assert found.curable in ("tonight", "in correction", "lost", "nothing lost")
    assert found.source in SOURCES
    assert checked_event({"id": "x", "kind": "deviation", "happened_at": 1.0, "what": what})["what"] == what


def test_the_page_without_a_link_holds_the_same_advice() -> None:
    carried = troubles_as_json()
    assert carried["late pour"]["developer"]["now"] == rescue("late pour", "developer").now
    assert carried["wrong bottle"][""]["now"] == rescue("wrong bottle", "fixer").now


@pytest.mark.published(source="tg2044-1", place="what re-bleaching and re-fixing cure")
def test_what_can_be_bleached_and_fixed_again_is_curable_tonight() -> None:
    assert rescue("step skipped", "fixer").curable == "tonight"
    assert rescue("step skipped", "developer").curable == "lost"


@pytest.mark.parametrize("process", built_in().values(), ids=list(built_in()))
def test_every_bath_that_can_hurt_has_its_caution(process) -> None:
    said = cautions_for([step.role for step in process.steps])
    assert said[: len(GENERAL)] == list(GENERAL)
    for role in {step.role for step in process.steps} & set(BY_ROLE):
        assert set(BY_ROLE[role]) <= set(said)
    assert len(set(said)) == len(said)
    assert "rule" in said[0] and "local code" in said[0]


def test_the_deadly_pair_is_named_wherever_ferricyanide_is() -> None:
    said = " ".join(cautions_for(["bleach"]))
    assert "very toxic gas" in said and "acid" in said and "never mix their wastes" in said
