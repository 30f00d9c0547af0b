"""After a run: what may be redone, what lasts, the one change, and the times."""

from __future__ import annotations

from typing import Any

import pytest

from wetside.laws.chemistry.processes import process_named
from wetside.laws.thermal.rate import rate
from wetside.stages.bench.afterwards import afterwards
from wetside.stages.bench.run import state

ECN = process_named("ecn-2")


def whole(short: dict[str, float] | None = None, skip: str = "", readings: tuple[float, ...] = (41.1, 41.1)) -> list[dict[str, Any]]:  # fmt: skip
    """Events of a run whose steps take their time, or the seconds of `short`."""
    events, at = [], 1000.0
    for n, step in enumerate(ECN.steps):
        if step.name == skip:
            events.append({"id": f"{n}s", "kind": "skip", "happened_at": at})
            continue
        seconds = (short or {}).get(step.name, step.seconds)
        ends = (at, at + 10, at + seconds, at + seconds + 10)
        kinds = ("fill", "full", "drain", "empty")
        events += [{"id": f"{n}{k}", "kind": k, "happened_at": t} for t, k in zip(ends, kinds, strict=True)]
        if step.role == "developer":
            events += [
                {
                    "id": f"t{k}",
                    "kind": "temperature",
                    "happened_at": at + 20 + 100 * k,
                    "celsius": c,
                    "of": "tank",
                }
                for k, c in enumerate(readings)
            ]
        at = ends[-1] + 5
    return [*events, {"id": "end", "kind": "finish", "happened_at": at}]


def after(events: list[dict[str, Any]]) -> dict[str, Any]:
    return afterwards(ECN, state(ECN, events, 9e5))


def test_a_good_run_asks_for_nothing() -> None:
    found = after(whole())
    assert found["redo"] == [] and found["change"] == "Nothing: do the same again."
    assert found["wet_s"] == pytest.approx(sum(s.seconds + 15 for s in ECN.steps))
    assert found["dry_to_dry_s"] is None


def test_dry_to_dry_runs_to_the_dry_film() -> None:
    events = [*whole(), {"id": "d", "kind": "dry", "happened_at": 1000.0 + 7200}]
    assert after(events)["dry_to_dry_s"] == 7200


@pytest.mark.published(source="tg2044-1", place="bleach and fixer can be done again, the developer cannot")
def test_short_bleach_is_redone_and_short_developer_is_not() -> None:
    found = after(whole({"Bleach": 60.0, "Developer": 120.0}))
    assert [line.startswith("Bleach") for line in found["redo"]] == [True]
    assert "120 s of 180" in found["change"]
    said = {one["what"]: one["say"] for one in found["lasting"]}
    assert "can be done again" in said["Bleach"] and "cannot be done again" in said["Developer"]


def test_a_skipped_fixer_is_done_before_it_dries() -> None:
    assert any("Fixer was skipped" in line for line in after(whole(skip="Fixer"))["redo"])


def test_a_run_without_a_reading_asks_for_readings_first() -> None:
    assert after(whole(readings=()))["change"].startswith("Read the developer in the tank")


def test_a_cool_developer_is_warmed_by_its_presoak() -> None:
    assert "warm the presoak" in after(whole(readings=(39.6, 39.4)))["change"]


@pytest.mark.independent(how="three minutes at a constant temperature, times the rate")
def test_the_developer_says_what_it_was_worth() -> None:
    found = after(whole(readings=(40.1, 40.1)))
    worth = 180 * rate(40.1, 41.1)
    assert f"worth {worth:.0f} s of 180" in next(
        o["say"] for o in found["lasting"] if o["what"] == "Developer"
    )
