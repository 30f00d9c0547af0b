"""What a tapped run tells the search for causes: planted deeds are found, what was not tapped is left out."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from wetside.app.faults.causes import log_of
from wetside.app.processing.runs import add_event, start_run
from wetside.book.kinds import ThermometerChecked
from wetside.book.life import standing
from wetside.laws.chemistry.processes import process_named
from wetside.stages.bench.deeds import deeds
from wetside.stages.bench.run import state
from wetside.store.ledger import Ledger

ECN = process_named("ecn-2")


def tapped(home: Path, run: str, at: float, kind: str, **more: object) -> None:
    event = {"id": f"{kind}-{at:.3f}", "kind": kind, "happened_at": at, **more}
    status, answer = add_event(home, run, event)
    assert status == 201, answer


@pytest.mark.independent(
    how="planted truth: a cold developer drained 12 s late, the stop skipped, a probe 0.4 °C low"
)
def test_planted_deeds_reach_the_causes(tmp_path: Path) -> None:
    now = time.time() - 900
    with Ledger.open(tmp_path) as book:
        book.append(ThermometerChecked(thermometer="probe", read_c=40.6, true_c=41.0), happened_at=now)
    run = start_run(tmp_path, {"process": "ecn-2", "thermometer": "probe"}, now)["id"]
    for n in (0.0, 1.0):
        tapped(tmp_path, run, now + n, "skip")
    tapped(tmp_path, run, now + 2, "temperature", celsius=55.0, of="bottle")
    for at, kind in ((10.0, "fill"), (20.0, "full"), (202.0, "drain"), (212.0, "empty"), (213.0, "skip")):
        tapped(tmp_path, run, now + at, kind)
    tapped(tmp_path, run, now + 60, "temperature", celsius=39.7, of="tank")
    tapped(tmp_path, run, now + 70, "deviation", what="missed agitation")
    with Ledger.open(tmp_path) as book:
        lines = standing(book.lines(include_struck=True))
    line = next(one for one in lines if one.kind == "run")
    log, where = log_of(lines, line)
    assert log["developer_temperature_off_c"] == pytest.approx(39.7 + 0.4 - 41.1, abs=1e-6)
    assert log["developer_time_off_s"] == pytest.approx((202 + 212) / 2 - 15 - 180)
    assert log["stop_bath_used"] is False and log["missed_agitation"] is True
    assert where["developer_temperature_off_c"].startswith("temperature-")
    assert where["developer_time_off_s"].startswith("drain-") and where["stop_bath_used"] == line.id


def test_what_was_not_tapped_is_left_out() -> None:
    assert deeds(ECN, state(ECN, [], 0.0)) == {}
    begun = [{"id": "a", "kind": "skip", "happened_at": 0.0}, {"id": "b", "kind": "fill", "happened_at": 1.0}]
    assert deeds(ECN, state(ECN, begun, 2.0)) == {}
