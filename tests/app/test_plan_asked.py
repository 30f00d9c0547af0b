"""What the plan's form starts from."""

from __future__ import annotations

from pathlib import Path

from wetside.app.demo import demo_request
from wetside.app.planning.plan import keep_plan, plan
from wetside.app.planning.plan_asked import asked
from wetside.book.kinds import (
    BathMixed,
    Exposed,
    GearNoted,
    KitBought,
    RollLoaded,
    RunStarted,
    StockNoted,
    TankOwned,
)
from wetside.store import clock
from wetside.store.ledger import Ledger


def noted(home: Path, *bodies: object, days_ago: float = 1) -> None:
    with Ledger.open(home) as book:
        for body in bodies:
            book.append(body, happened_at=clock.wall() - 86_400 * days_ago)  # type: ignore[arg-type]


def test_an_empty_book_asks_nothing(tmp_path: Path) -> None:
    assert asked(tmp_path) is None


def test_the_shelf_stands_in_the_form(tmp_path: Path) -> None:
    noted(
        tmp_path,
        StockNoted(stock="DAY90", process="ecn-2", backing="rem-jet"),
        RollLoaded(roll="S1", stock="DAY90", gauge="135", length_mm=1200),
        RollLoaded(roll="S2", stock="DAY90", gauge="110", length_mm=600),
        Exposed(roll="S1", first_frame=1, last_frame=12),
        RunStarted(run="run 9", process="ecn-2", rolls=({"roll": "S2"},)),
        KitBought(kit="kit", price=45.0, makes_ml=1000.0, area_mm2=500_000.0),
        BathMixed(bath="developer 7", role="developer", volume_ml=1000.0),
        TankOwned(tank="tank"),
        GearNoted(gear_kind="laboratory", name="Harbour Lab"),
    )
    noted(tmp_path, BathMixed(bath="developer 1", role="developer", volume_ml=1000.0), days_ago=200)
    found = asked(tmp_path)
    assert found is not None
    assert [(r["id"], r["length_mm"], r["backing"]) for r in found["rolls"]] == [("S1", 1200, "rem-jet")]
    assert found["kits"][0]["area_m2"] == 0.5
    assert [b["id"] for b in found["baths"]] == ["developer 7"], "an old developer is not offered"
    assert [lab["id"] for lab in found["labs"]] == ["Harbour Lab"] and found["tanks"][0]["id"] == "tank"


def test_a_kept_plan_brings_its_prices_and_a_processed_roll_is_not_asked_again(tmp_path: Path) -> None:
    given = demo_request()
    noted(
        tmp_path,
        StockNoted(stock="DAY90"),
        RollLoaded(roll="S01", stock="DAY90", gauge="135", length_mm=1622),
    )
    keep_plan(tmp_path, given, plan(given))
    first = asked(tmp_path)
    assert first is not None and {r["id"] for r in first["rolls"]} == {"S01", "S02", "S03"}
    assert next(r for r in first["rolls"] if r["id"] == "S01")["worth"] == 400
    noted(tmp_path, RunStarted(run="run 9", process="ecn-2", rolls=({"roll": "S01"},)), days_ago=0)
    then = asked(tmp_path)
    assert then is not None and {r["id"] for r in then["rolls"]} == {"S02", "S03"}
    assert then["labs"] == given["labs"] and then["session_cost"] == given["session_cost"]
