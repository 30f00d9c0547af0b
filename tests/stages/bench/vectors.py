"""Writes the vectors that both reducers are tested with: `python tests/stages/bench/vectors.py`."""

from __future__ import annotations

import json
from pathlib import Path

from wetside.laws.chemistry.processes import process_named
from wetside.stages.bench.run import Refused, state

HERE = Path(__file__).parent / "vectors"


def pours(*instants: tuple[float, str], **fields: object) -> list[dict[str, object]]:
    return [{"id": f"e{n}", "kind": kind, "happened_at": at} for n, (at, kind) in enumerate(instants)]


def reading(name: str, at: float, celsius: float) -> dict[str, object]:
    return {"id": name, "kind": "temperature", "happened_at": at, "celsius": celsius, "of": "tank"}


def whole_run() -> list[dict[str, object]]:
    events, at = [], 1000.0
    for n, step in enumerate(process_named("c-41").steps):
        ends = (at, at + 8, at + step.seconds, at + step.seconds + 9)
        kinds = ("fill", "full", "drain", "empty")
        events += [{"id": f"{n}{k}", "kind": k, "happened_at": t} for t, k in zip(ends, kinds)]
        at = ends[-1] + 5
    return [*events, {"id": "end", "kind": "finish", "happened_at": at}]


CASES: dict[str, tuple[str, list[dict[str, object]], float]] = {
    "before-the-first-pour": ("ecn-2", [], 100.0),
    "a-slow-fill-drains-later": ("c-41", pours((0.0, "fill"), (22.0, "full")), 30.0),
    "a-cold-developer-waits": ("c-41", [*pours((0.0, "fill"), (10.0, "full")), reading("t", 20.0, 37.3)], 60.0),
    "too-cold-stops-at-the-limit": ("c-41", [*pours((0.0, "fill"), (10.0, "full")), reading("t", 20.0, 30.0)], 60.0),
    "two-readings": (
        "c-41",
        [
            *pours((0.0, "fill"), (10.0, "full"), (200.0, "drain"), (210.0, "empty")),
            reading("a", 15.0, 38.2),
            reading("b", 180.0, 37.1),
        ],
        215.0,
    ),
    "noted-out-of-order": ("c-41", list(reversed(pours((0.0, "fill"), (10.0, "full"), (200.0, "drain")))), 201.0),
    "skipped": ("ecn-2", pours((0.0, "skip"), (1.0, "skip"), (2.0, "fill")), 3.0),
    "drain-before-fill-is-refused": ("ecn-2", pours((0.0, "drain")), 1.0),
    "held": ("ecn-2", pours((0.0, "fill"), (5.0, "full"), (6.0, "hold")), 7.0),
    "held-twice-is-refused": ("ecn-2", pours((0.0, "hold"), (5.0, "hold")), 7.0),
    "a-mis-tap-is-struck": (
        "ecn-2",
        [
            *pours((0.0, "fill"), (5.0, "full"), (6.0, "drain")),
            {"id": "s", "kind": "strike", "happened_at": 7.0, "strikes": "e2"},
        ],
        9.0,
    ),
    "a-strike-under-a-pour-is-refused": (
        "ecn-2",
        [*pours((0.0, "fill"), (5.0, "full")), {"id": "s", "kind": "strike", "happened_at": 7.0, "strikes": "e0"}],
        9.0,
    ),
    "dry": ("c-41", [*whole_run(), {"id": "d", "kind": "dry", "happened_at": 5000.0}], 5001.0),
    "dry-while-wet-is-refused": ("c-41", [*pours((0.0, "fill")), {"id": "d", "kind": "dry", "happened_at": 9.0}], 10.0),
    "whole-run": ("c-41", whole_run(), 5000.0),
}  # fmt: skip


def vector(name: str) -> dict[str, object]:
    process_name, events, now = CASES[name]
    process = process_named(process_name)
    base = {
        "process": {"q10": process.q10, "q10_spread": process.q10_spread, "steps": [step.as_json() for step in process.steps]},
        "name": process_name, "events": events, "now": now,
    }  # fmt: skip
    try:
        return {**base, "state": state(process, events, now), "refused": None}
    except Refused as no:
        return {**base, "state": None, "refused": str(no)}


if __name__ == "__main__":
    HERE.mkdir(exist_ok=True)
    for case in CASES:
        (HERE / f"{case}.json").write_text(json.dumps(vector(case), indent=1) + "\n", "utf-8")
