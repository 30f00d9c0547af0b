"""A tank filled too low is asked after where the book shows it: a strip thin along one edge, or too little developer for the reels."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from wetside.app.faults.causes import causes_of_run, evidence_of, told_of_book
from wetside.book.kinds import BathMixed, Body, RollLoaded, RunStarted, StripBatch, TankOwned
from wetside.book.strips import StripRead
from wetside.store.ledger import Ledger

LOW = "tank filled too low"
EVEN, THIN = np.ones(5), np.array([0.84, 0.98, 1.06, 1.06, 1.06])


def rgb(value: float) -> dict[str, float]:
    return dict.fromkeys("rgb", value)


def strip(run: str, across: np.ndarray, lost: float = 0.0) -> StripRead:
    """A strip read in its middle, where its densities above base are lower by a share that the thin edge took."""
    high, low = 0.2 + 1.3 * (1 - lost), 0.2 + 0.3 * (1 - lost)
    parts = tuple(rgb(float(v)) for v in across / across.mean())
    return StripRead(batch="B", run=run, dmin=rgb(0.2), ld=rgb(low), md=rgb(0.9), hd=rgb(high), spread=rgb(0.003),
                     reference=run != "R", across=parts)  # fmt: skip


def book(home: Path, own: np.ndarray, developer_ml: float, lost: float = 0.0) -> Path:
    runs = [RunStarted(run=f"good {i}", process="ecn-2", tank="T") for i in range(3)]
    ran = RunStarted(
        run="R", process="ecn-2", tank="T", rolls=({"roll": "1", "reel": "A"},), baths={"developer": "D"}
    )
    bodies: list[Body] = [
        TankOwned(tank="T", volume_ml=600, reels=1), StripBatch(batch="B", stock="FILM", steps=(1, 2, 4, 6)),
        RollLoaded(roll="1", stock="FILM", gauge="135", length_mm=900.0), BathMixed(bath="D", role="developer", volume_ml=developer_ml),
        *runs, ran, *[strip(one.run, EVEN * (1 + 0.002 * i)) for i, one in enumerate(runs)], strip("R", own, lost),
    ]  # fmt: skip
    with Ledger.open(home) as ledger:
        for i, body in enumerate(bodies):
            ledger.append(body, happened_at=1000.0 + i)
    return home


def first(home: Path) -> dict[str, Any]:
    return dict(causes_of_run(home, "R")["causes"][0])


@pytest.mark.independent(how="a strip that was made thin along one edge by hand, beside three even ones")
def test_a_strip_thin_along_one_edge_names_the_tank(tmp_path: Path) -> None:
    told = first(book(tmp_path, THIN, 1000.0))
    assert told["cause"] == LOW and told["how"] == "likely"
    assert any("control strip is thin along one edge" in say for say in told["for"])


@pytest.mark.independent(how="the densities that an even strip of the same run would have had")
def test_what_the_thin_edge_takes_is_no_fault_of_the_whole_roll(tmp_path: Path) -> None:
    lost = 1 - THIN[1:-1].mean() / THIN[-1]
    home = book(tmp_path, THIN, 1000.0, lost)
    lines, runs = told_of_book(home, "R")
    away = evidence_of(lines, "R", runs).departures
    assert away["hd_ld"] == pytest.approx((0.0, 0.0, 0.0), abs=0.003)
    assert away["ld"] == pytest.approx((0.0, 0.0, 0.0), abs=0.003)


@pytest.mark.independent(how="what covers one reel of 35 mm in a tank of 600 mL, and a half of it")
def test_too_little_developer_for_the_reel_is_a_reason_to_look(tmp_path: Path) -> None:
    short, enough = book(tmp_path / "short", EVEN, 300.0), book(tmp_path / "enough", EVEN, 600.0)
    told = {one["cause"]: one for one in causes_of_run(short, "R")["causes"]}
    assert told[LOW]["chance"] > 0.1 and any("filled short" in say for say in told[LOW]["for"])
    assert first(short)["cause"] == first(enough)["cause"] == "nothing is wrong"
    assert LOW not in {one["cause"] for one in causes_of_run(enough, "R")["causes"]}
