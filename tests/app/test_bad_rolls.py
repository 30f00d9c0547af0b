"""Two rolls in one folder, and a roll whose scans show no rebate, from the scans to the causes: it is said, with what would help."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from benchmarks.rolls import Setting, roll

from wetside.app.causes import causes_of_run
from wetside.app.glass import read_and_keep
from wetside.book.kinds import RollLoaded, RunStarted
from wetside.cli.causes import causes_text
from wetside.store.ledger import Ledger

SMALL = Setting("16still", frames=3, fine=36.0)


def causes_from_scans(home: Path) -> dict[str, Any]:
    """What is said of a roll once its scans are read and kept, as the button on the glass does."""
    with Ledger.open(home) as book:
        book.append(RollLoaded(roll="R1", stock="DAY90", gauge="16still"), happened_at=1.77e9)
        run = RunStarted(run="run 1", process="ecn-2", rolls=({"roll": "R1"},), baths={"developer": "D"})
        book.append(run, happened_at=1.77e9 + 60)
    read_and_keep(home, "R1", "16still")
    return causes_of_run(home, "R1")


def said(found: dict[str, Any], name: str) -> str:
    [one] = [finding for finding in found["findings"] if finding["id"] == name]
    assert f"note: {one['say']}; {one['source']}" in causes_text(found)
    return f"{one['say']}; {one['source']}"


@pytest.mark.independent(
    how="scans of two stocks by a scanner model that shares nothing with the reader, in one folder"
)
def test_two_rolls_mixed_in_one_folder_are_said_where_the_causes_are(tmp_path: Path) -> None:
    folder = tmp_path / "scans" / "R1"
    folder.mkdir(parents=True)
    for part, seed in (("a", 3), ("b", 8)):
        for name in roll(tmp_path / part, SMALL, seed).names:
            (tmp_path / part / name).rename(folder / f"{part}_{name}")
    (tmp_path / "a" / "open_gate.tif").rename(folder / "open_gate.tif")
    found = causes_from_scans(tmp_path)
    say = said(found, "two-rolls")
    assert "not of one roll" in say and "a folder of its own" in say
    assert all(cause["how"] != "likely" for cause in found["causes"])


@pytest.mark.independent(how="the same scanner model with a mask over every side")
def test_a_roll_without_rebate_is_said_where_the_causes_are(tmp_path: Path) -> None:
    bare = Setting("16still", frames=4, gate=False, hidden=("left", "right", "top", "bottom"), fine=36.0)
    roll(tmp_path / "scans" / "R1", bare, 102)
    found = causes_from_scans(tmp_path)
    assert "with the rebate or the leader in view" in said(found, "no-rebate")
    assert all(cause["how"] != "likely" for cause in found["causes"])
