"""Two rolls in one folder are named by their frames; one roll is left alone, however its exposure wandered."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from benchmarks.rolls import Setting, roll

from wetside.app.reading.read import ReadOptions, read
from wetside.stages.causes.ranking.first_look import first_look
from wetside.stages.negative.found.mixed import in_two, named, two_goes, two_kinds_of_file


@pytest.mark.independent(
    how="two rolls on invented stocks by a scanner model of its own, put into one folder"
)
def test_two_rolls_in_one_folder_are_told_and_named(tmp_path: Path) -> None:
    folder = tmp_path / "mixed"
    bases = []
    for part, seed in (("a", 3), ("b", 8)):
        truth = roll(tmp_path / part, Setting(frames=4, fine=14.0), seed)
        bases.append(truth.base)
        folder.mkdir(exist_ok=True)
        for name in truth.names:
            (tmp_path / part / name).rename(folder / f"{part}_{name}")
    (tmp_path / "a" / "open_gate.tif").rename(folder / "open_gate.tif")
    colours = [base[[0, 2]] - base[1] for base in bases]
    assert np.abs(colours[0] - colours[1]).max() > 0.05  # the seeds give two stocks
    reading = read(folder, ReadOptions(marks=False))
    [mixed] = [finding for finding in reading.findings if finding.id == "two-rolls"]
    assert "a_n1.tif … a_n4.tif (4 frames)" in mixed.say and "b_n1.tif … b_n4.tif (4 frames)" in mixed.say
    seen = first_look(reading, {})
    assert seen["verdict"]["where"] == "cannot say" and "two rolls" in seen["verdict"]["say"]
    assert "a folder of its own" in seen["next_test"]["what"]
    assert not any(finding.id == "no-rebate" for finding in reading.findings)  # each shows its own base


def test_one_roll_is_one_roll(tmp_path: Path) -> None:
    roll(tmp_path, Setting(frames=6, locked=False, fine=14.0), 5)
    found = read(tmp_path, ReadOptions(marks=False)).findings
    assert not [finding for finding in found if finding.id in ("two-rolls", "two-sizes")]


def test_colours_fall_into_two_groups_only_across_a_clear_gap() -> None:
    rng = np.random.default_rng(1)
    one, other = rng.normal(0, 0.004, (5, 2)), rng.normal(0, 0.004, (4, 2)) + np.array([0.08, -0.03])
    groups = in_two(np.vstack([one, other]))
    assert groups is not None and groups[0].tolist() == [0, 1, 2, 3, 4] and groups[1].tolist() == [5, 6, 7, 8]
    assert in_two(np.linspace(0, 0.3, 12)[:, None] * [1.0, 0.5]) is None  # a drift is no second roll
    assert in_two(np.vstack([one, other[:1]])) is None  # one odd frame is an odd frame


@pytest.mark.independent(
    how="shifts laid out by hand: a step, a drift, a scanner that sets itself, one odd frame"
)
def test_a_single_step_of_the_exposure_is_two_goes_and_nothing_else_is() -> None:
    rng = np.random.default_rng(2)
    files, little = [f"n{i}.tif" for i in range(8)], rng.normal(0, 0.004, 8)
    [note] = two_goes(files, (np.repeat([-0.05, 0.05], [5, 3]) + little).tolist())
    assert note.severity == "note" and "n0.tif … n4.tif (5 frames), and n5.tif, n6.tif, n7.tif" in note.say
    assert "the film does not say which" in note.say and note.found.startswith("+0.1")
    assert two_goes(files, little.tolist()) == ()
    assert two_goes(files, np.linspace(0, 0.4, 8).tolist()) == ()
    assert two_goes(files, rng.normal(0, 0.1, 8).tolist()) == ()
    assert two_goes(files, np.repeat([0.0, 0.2], [7, 1]).tolist()) == ()
    assert two_goes(files, ()) == ()


def test_files_of_two_sizes_are_told_and_crops_by_hand_are_not() -> None:
    files = [f"s{i}.jpg" for i in range(6)]
    [note] = two_kinds_of_file(files, [(1500, 1000)] * 4 + [(800, 1200)] * 2)
    assert note.id == "two-sizes" and "s4.jpg, s5.jpg" in note.say and "1000 × 1500" in note.found
    assert two_kinds_of_file(files, [(1500, 1000), (1000, 1500)] * 3) == ()
    assert two_kinds_of_file(files, [(1500 + i, 1000) for i in range(6)]) == ()
    assert named(files) == "s0.jpg … s5.jpg (6 frames)"
