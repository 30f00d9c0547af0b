"""What the book knows of a tank and a thermometer, from lines alone."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from wetside.app.processing.mix import mix
from wetside.app.processing.runs import add_event, run, start_run
from wetside.app.processing.warmth import known_tank, tank_constants
from wetside.book.kinds import TankOwned, ThermometerChecked
from wetside.figures.finding import Unusable
from wetside.laws.thermal.refit import prior_constants
from wetside.laws.thermal.tank import tank_of
from wetside.stages.bench.wanted import Warmth
from wetside.store.ledger import Ledger

BEGAN = 1_790_000_000.0
CAPACITY, TIME = (
    300.0,
    1500.0,
)  # planted: lighter inside and quicker to cool than the prior of 525 J/K, 3750 s


@pytest.fixture
def home(tmp_path: Path) -> Path:
    with Ledger.open(tmp_path) as book:
        book.append(TankOwned(tank="small", volume_ml=500, mass_g=350), happened_at=BEGAN)
        book.append(ThermometerChecked(thermometer="probe", read_c=40.5, true_c=41.0), happened_at=BEGAN)
    return tmp_path


def logged(home: Path, name: str, at: float, off: float = 0.0, bath: bool = False) -> None:
    """A run whose developer was read in the bottle and twice in the tank, by a probe that reads `off` °C too little."""
    tank, room = tank_of(500, 350), 21.0
    body = {"id": name, "process": "c-41", "tank": "small", "room_c": room} | (
        {"thermometer": "probe"} if off else {}
    )
    start_run(home, body, at)
    begin = (tank.liquid_capacity * 41 + CAPACITY * room) / (tank.liquid_capacity + CAPACITY)
    read = lambda t: room + (begin - room) * math.exp(-t / TIME) - off  # noqa: E731
    events = [
        (0, "temperature", {"celsius": 41 - off, "of": "bottle"}), (5, "fill", {}), (10, "full", {}),
        (60, "temperature", {"celsius": read(50), "of": "tank"}), (190, "temperature", {"celsius": read(180), "of": "tank"}),
        (200, "drain", {}), (210, "empty", {}), (211, "abandon", {}),
    ]  # fmt: skip
    if bath:
        events.insert(0, (0, "temperature", {"celsius": 38.0, "of": "bath"}))
    for n, (t, kind, more) in enumerate(events):
        status, answer = add_event(
            home, name, {"id": f"{name}-{n}", "kind": kind, "happened_at": at + t, **more}, at + 999
        )
        assert status == 201, answer


@pytest.mark.independent(how="planted truth: runs of a tank with other constants, written as a user's taps")
@pytest.mark.parametrize("off", [0.0, 0.5])
def test_a_tank_learns_its_constants_from_logged_runs(home: Path, off: float) -> None:
    for n in range(4):
        logged(home, f"run{n}", BEGAN + 1e5 * n, off)
    found, prior = tank_constants(home, "small"), prior_constants(tank_of(500, 350))
    assert found is not None and found.readings == 8
    assert found.vessel.value == pytest.approx(CAPACITY, abs=2 * found.vessel.spread)
    assert found.time.value == pytest.approx(TIME, abs=2 * found.time.spread)
    assert found.vessel.spread < prior.vessel.spread / 3 and found.time.spread < prior.time.spread / 3
    sheet = mix("c-41", home=home, tank="small", warmth=Warmth(room=21.0))
    assert sheet["heat"]["constants"]["readings"] == 8 and sheet["volume_ml"] == 500
    plain = mix("c-41", 500.0, warmth=Warmth(mass=350.0, room=21.0))
    assert sheet["heat"]["unhelped_start_c"]["spread"] < plain["heat"]["unhelped_start_c"]["spread"]


def test_a_run_in_a_water_bath_says_nothing_of_the_tank_in_air(home: Path) -> None:
    logged(home, "bathed", BEGAN, bath=True)
    found = tank_constants(home, "small")
    assert found is not None and found.readings == 0


def test_a_run_says_what_its_thermometer_is_off_by(home: Path) -> None:
    logged(home, "told", BEGAN, 0.5)
    assert "corrected by +0.5" in run(home, "told")["thermometer"]["say"]
    with Ledger.open(home) as book:
        broken = ThermometerChecked(thermometer="glass", read_c=30, true_c=41)
        book.append(broken, happened_at=BEGAN)
    start_run(home, {"id": "b", "process": "c-41", "thermometer": "glass"}, BEGAN)
    start_run(home, {"id": "n", "process": "c-41", "thermometer": "another"}, BEGAN)
    assert "broken" in run(home, "b")["thermometer"]["say"] and run(home, "b")["correction_c"] == 0
    assert "never compared" in run(home, "n")["thermometer"]["say"]


def test_what_the_book_does_not_know_is_one_line(home: Path, tmp_path: Path) -> None:
    with pytest.raises(Unusable, match="no tank 'large'"):
        known_tank(home, "large")
    with pytest.raises(Unusable, match="no comparison"):
        mix("c-41", 500.0, home=home, thermometer="other")
    with pytest.raises(Unusable, match="no book"):
        mix("c-41", 500.0, home=tmp_path / "empty", tank="small")
    assert not (tmp_path / "empty").exists()
