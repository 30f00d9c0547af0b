"""Two rolls in one folder, a roll whose scans show no rebate, and files that broke off, from the scans to the causes: it is said, with what would help."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from benchmarks.rolls import Setting, roll

from wetside.app.faults.causes import causes_of_run
from wetside.app.printing.positive import PositiveOptions, positive
from wetside.app.reading.read import ReadOptions, read
from wetside.app.viewing.glass import read_and_keep, strip
from wetside.book.kinds import RollLoaded, RunStarted
from wetside.cli.causes import causes_text
from wetside.figures.finding import Finding
from wetside.figures.place import intersection_over_union
from wetside.figures.reading import RollReading
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


@pytest.mark.independent(how="frames of a scanner model, the second cut to a third, the third's end zeros")
def test_frames_that_broke_off_are_named_left_out_and_counted(tmp_path: Path) -> None:
    folder = tmp_path / "scans" / "R1"
    roll(folder, Setting("16still", frames=4, fine=20.0), 5)
    for name, rest in (("n2.tif", 0), ("n3.tif", 1)):
        content = (folder / name).read_bytes()
        kept = len(content) // 3
        (folder / name).write_bytes(content[:kept] + bytes(rest * (len(content) - kept)))
    with Ledger.open(tmp_path) as book:
        book.append(RollLoaded(roll="R1", stock="DAY90", gauge="16still"), happened_at=1.77e9)
    read_and_keep(tmp_path, "R1", "16still")
    shown = strip(tmp_path, "R1")
    assert [(f["file"], f["number"]) for f in shown["reading"]["frames"]] == [("n1.tif", 1), ("n4.tif", 4)]
    lost = {f["file"]: f["lost"] for f in shown["frames"] if f["lost"]}
    assert lost["n2.tif"] == "cut off: the last 67 % of its picture was never written"
    assert lost["n3.tif"].startswith("broken off: the last 6")
    printed = positive(folder, PositiveOptions(out=tmp_path / "prints"))
    assert [f["file"] for f in printed["frames"]] == ["n1.tif", "n4.tif"]


def changed(folder: Path, change: Callable[[int, np.ndarray], np.ndarray]) -> Path:
    """Every frame of a roll, changed by its number."""
    for number, path in enumerate(sorted(folder.glob("n*.tif"))):
        pixels = change(number, tifffile.imread(path).astype(np.float32))
        tifffile.imwrite(path, pixels.clip(0, 65535).astype(np.uint16), photometric="rgb")
    return folder


def findings_of(folder: Path) -> tuple[RollReading, dict[str, Finding]]:
    reading = read(folder, ReadOptions(gauge="16still", marks=False))
    return reading, {finding.id: finding for finding in reading.findings}


@pytest.mark.independent(
    how="a planted roll, twelve times as bright, so that its rebate passes the file's white"
)
def test_a_rebate_clipped_to_white_gives_no_base(tmp_path: Path) -> None:
    roll(tmp_path, replace(SMALL, gate=False, fine=24.0), 3)
    reading, said = findings_of(changed(tmp_path, lambda _, pixels: 12 * pixels))
    assert reading.base is None and reading.rung == 1
    assert "less exposure" in said["base-clipped"].source and said["base-clipped"].severity == "error"


@pytest.mark.independent(how="one frame of another base planted among five")
def test_one_frame_of_another_roll_is_named_and_keeps_its_place(tmp_path: Path) -> None:
    truth = roll(tmp_path, replace(SMALL, frames=5, fine=24.0), 3)
    other = np.array([1, 0.9, 0.8], np.float32)
    reading, said = findings_of(changed(tmp_path, lambda number, p: p * other if number == 3 else p))
    assert said["base-not-seen"].where == "n4.tif" and "folder of its own" in said["base-not-seen"].source
    assert intersection_over_union(reading.frames[3].picture, truth.pictures[3]) > 0.97
    assert reading.base is not None and np.abs(np.array(reading.base.density) - truth.base).max() < 0.01


@pytest.mark.independent(how="planted without any rebate: what is common to pictures is no base")
def test_no_base_is_made_of_what_four_pictures_have_in_common(tmp_path: Path) -> None:
    bare = Setting("16still", frames=4, gate=False, hidden=("left", "right", "top", "bottom"), fine=24.0)
    roll(tmp_path, bare, 102)
    reading, said = findings_of(tmp_path)
    assert reading.base is None and set(said) == {"no-rebate"}
