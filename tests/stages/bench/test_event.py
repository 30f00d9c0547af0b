"""The shape of an event: what is kept, what is refused in one line, whatever is thrown at it."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wetside.figures.finding import Unusable
from wetside.laws.chemistry.processes import process_from_steps, process_named
from wetside.stages.bench.event import checked_event
from wetside.stages.bench.run import KINDS, Refused, admitted, folded

GOOD = {"id": "a1", "kind": "temperature", "happened_at": 1000.0, "celsius": 41.0}
ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


@pytest.mark.parametrize("change", [
    {"celsius": -0.1}, {"celsius": 100.1}, {"celsius": float("nan")}, {"celsius": float("inf")}, {"celsius": True}, {"celsius": "41"}, {"celsius": None},
    {"of": "pocket"}, {"happened_at": -1.0}, {"happened_at": 1e300}, {"happened_at": "now"}, {"id": ""}, {"id": "a b"}, {"id": "x" * 65}, {"id": None},
    {"kind": "boil"}, {"kind": None}, {"kind": "deviation", "what": "sneezed"}, {"kind": "note", "say": ""}, {"kind": "note", "say": "x" * 501},
    {"kind": "note", "say": "\0"}, {"kind": "preflight", "item": "lid", "done": "yes"}, {"kind": "fill", "step": -1}, {"kind": "fill", "step": 60},
    {"kind": "fill", "step": 1.5}, {"kind": "strike"}, {"kind": "strike", "strikes": "a b"}, {"kind": "strike", "strikes": 5},
])  # fmt: skip
def test_a_malformed_event_is_one_line(change: dict[str, Any]) -> None:
    with pytest.raises(Unusable) as no:
        checked_event({**GOOD, **change})
    assert no.value.what and "\n" not in no.value.what


@given(st.dictionaries(st.sampled_from(["id", "kind", "happened_at", "celsius", "of", "what", "say", "item", "done", "step", "strikes"]), ANYTHING))  # fmt: skip
def test_whatever_comes_it_is_an_event_or_a_slip(given_event: dict[str, Any]) -> None:
    try:
        assert checked_event({**GOOD, **given_event})["kind"] in KINDS
    except Unusable as no:
        assert no.what


@given(
    st.lists(
        st.tuples(st.sampled_from(KINDS), st.floats(0, 500), st.integers(0, 12)), max_size=25
    )
)  # fmt: skip
def test_only_what_can_follow_is_admitted_and_the_state_always_folds(
    taps: list[tuple[str, float, int]],
) -> None:
    process, events = process_named("c-41"), list[dict[str, Any]]()
    for n, (kind, at, other) in enumerate(taps):
        event = {"id": f"e{n}", "kind": kind, "happened_at": at, "celsius": 38.0, "of": "tank", "what": "late pour",
                 "say": "", "item": "lid", "done": True, "strikes": f"e{other}"}  # fmt: skip
        try:
            admitted(process, events, event, 1e3)
        except Refused as no:
            assert str(no)
            continue
        events.append(event)
        folded(process, events)


@pytest.mark.parametrize("steps", [
    [{"name": "Wash", "seconds": 0}], [{"name": "Wash", "seconds": -3}], [{"name": "Wash", "seconds": float("nan")}], [{"name": "Wash", "seconds": 1e9}],
    [{"name": "Wash", "seconds": 60, "aim_c": -1}], [{"name": "Wash", "seconds": 60, "aim_c": 101}], [{"name": "", "seconds": 60}], [5], [],
    [{"name": "Wash", "seconds": 60}] * 61, [{"name": "Wash", "seconds": 60, "colour": "red"}], [{"name": "Wash", "seconds": 60, "agitation": {"every_s": -1}}],
])  # fmt: skip
def test_a_step_that_cannot_be_is_one_line(steps: list[Any]) -> None:
    with pytest.raises(Unusable) as no:
        process_from_steps("own", steps)
    assert "\n" not in no.value.what
