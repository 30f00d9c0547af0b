"""`wetside mix` as a script calls it: figures that are in the sheet, slips in one line, the schema kept."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from tests.cli.calling import call

from wetside.app.schemas import schema
from wetside.book.kinds import TankOwned
from wetside.store.ledger import Ledger


def sheet(*words: str, home: Path | None = None) -> dict[str, Any]:
    done = call("mix", *words, "--json", home=home)
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    jsonschema.validate(found, schema("mix")["json_schema"])
    return found


#: The keys that the first sheet had; scripts rest on them.
OLD_KEYS = {"schema", "process", "volume_ml", "baths", "heat", "push", "capacity", "cautions"}
OLD_HEAT = {"tank_c", "room_c", "developer_aim_c", "start_c", "end_c", "unhelped_start_c", "unhelped_mean_c", "unhelped_equivalent_s",
            "bottle_without_presoak_c", "bottle_without_presoak_advised", "presoak", "holds_tolerance", "drift_c", "tolerance_c", "say"}  # fmt: skip


@pytest.mark.parametrize("process", ["ecn-2", "c-41"])
def test_old_keys_stay(process: str) -> None:
    found = sheet(
        "--process", process, "--volume", "600", "--tank-g", "350", "--tank-c", "21", "--room-c", "21"
    )
    assert set(found) >= OLD_KEYS and set(found["heat"]) >= OLD_HEAT
    assert {"c", "changes", "bottle_c"} <= set(found["heat"]["presoak"])


@pytest.mark.independent(how="by hand: half the kit, a fifth of stock, taps of 60 and 20 °C halved at 40")
def test_a_kit_a_stock_and_two_taps() -> None:
    found = sheet("--process", "c-41", "--volume", "500", "--kit-makes", "1000", "--part", "A=100", "--part", "B=50", "--dilute", "1+4", "--hot-c", "57.8", "--cold-c", "17.8")  # fmt: skip
    assert [part["amount"] for part in found["kit"]["parts"]] == [50, 25] and found["kit"]["water_ml"] == 425
    assert found["dilution"] == {"stock_ml": 100, "water_ml": 400}
    row = next(row for row in found["water"]["rows"] if row["c"] == 37.8)
    assert (row["hot_ml"], row["cold_ml"]) == (250, 250)


def test_the_volume_comes_from_tank_and_reels() -> None:
    found = sheet(
        "--process",
        "ecn-2",
        "--tank-ml",
        "600",
        "--tank-reels",
        "2",
        "--reel",
        "135",
        "--reel",
        "16still:760",
    )
    assert found["volumes"]["decides"] == "covering the reels" and 450 <= found["volume_ml"] <= 500
    long = sheet("--process", "ecn-2", "--tank-ml", "300", "--reel", "135:2400")
    assert long["volume_ml"] == 300 and "less" in long["volumes"]["say"]


def test_the_hydrate_on_the_shelf_is_weighed() -> None:
    dry, wet = (
        sheet("--process", "ecn-2", "--volume", "1000", *more)
        for more in ((), ("--have", "sodium carbonate=1"))
    )
    names = [[part["name"] for bath in one["baths"] for part in bath["formula"]] for one in (dry, wet)]
    assert "sodium carbonate, anhydrous" in names[0] and "sodium carbonate, monohydrate" in names[1]


def test_a_tank_of_the_book_brings_its_body(tmp_path: Path) -> None:
    with Ledger.open(tmp_path) as book:
        book.append(TankOwned(tank="small one", volume_ml=520, mass_g=310, reels=1), happened_at=1e9)
    found = sheet("--process", "ecn-2", "--tank", "small one", "--reel", "135", home=tmp_path)
    assert found["tank"] == "small one" and found["volume_ml"] == 520 and "presoak" in found["heat"]


def test_the_sheet_for_a_person_says_the_same(tmp_path: Path) -> None:
    said = call("mix", "--process", "ecn-2", "--volume", "500", "--tank-g", "350", "--powder", "--kit-makes", "1000", "--part", "A=90", "--part", "B=30").stdout  # fmt: skip
    for words in (
        "exactly  3:00",
        "presoak",
        "spoonful",
        "H317",
        "Habits and what they may cost",
        "local code",
    ):
        assert words in said


@pytest.mark.parametrize("words", [
    ["--volume", "-5"], ["--volume", "nan"], ["--volume", "1e9"], [], ["--reel", "135"], ["--volume", "500", "--reel", "120"],
    ["--volume", "500", "--reel", "135:0"], ["--volume", "500", "--tank-g", "-1"], ["--volume", "500", "--tank-c", "-5", "--tank-g", "300"],
    ["--volume", "500", "--room-c", "130"], ["--volume", "500", "--bath-c", "101"], ["--volume", "500", "--hot-c", "110", "--cold-c", "10"],
    ["--volume", "500", "--hot-c", "10", "--cold-c", "50"], ["--volume", "500", "--dilute", "4"], ["--volume", "500", "--dilute", "0+4"],
    ["--volume", "500", "--part", "A=10"], ["--volume", "500", "--kit-makes", "100", "--part", "A=10"], ["--volume", "500", "--part", "A", "--kit-makes", "900"],
    ["--volume", "500", "--have", "salt=2"], ["--volume", "500", "--have", "borax=3"], ["--volume", "500", "--tank", "none"], ["--volume", "500", "--thermometer", "none"],
    ["--tank-ml", "600", "--tank-reels", "0", "--reel", "135"],
])  # fmt: skip
def test_a_slip_is_one_line(words: list[str], tmp_path: Path) -> None:
    done = call("mix", "--process", "ecn-2", *words, "--json", home=tmp_path / "none")
    assert done.returncode == 2 and len(done.stderr.strip().splitlines()) == 1, done.stderr
    assert json.loads(done.stdout)["schema"] == "wetside.error/1"
    assert not (tmp_path / "none").exists()
