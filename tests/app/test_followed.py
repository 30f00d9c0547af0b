"""A run that follows one that was good is told, step by step, what that one had."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from wetside.app.processing.runs import add_event, followed, runs, start_run
from wetside.figures.finding import Unusable

STEPS = [
    {"name": "Developer", "seconds": 180, "role": "developer", "aim_c": 41.1},
    {"name": "Stop bath", "seconds": 30},
    {"name": "Rinse", "seconds": 30},
]
BEGAN = 1_760_000_000.0


def tapped(home: Path, run: str, at: float, kind: str, **fields: object) -> None:
    status, answer = add_event(home, run, {"id": f"{run}-{at:.0f}-{kind}", "kind": kind, "happened_at": BEGAN + at, **fields})  # fmt: skip
    assert status == 201, answer


@pytest.fixture
def home(tmp_path: Path) -> Path:
    start_run(tmp_path, {"id": "good", "process": "own", "steps": STEPS, "tank": "small"}, BEGAN)
    for at, kind in ((10, "fill"), (20, "full"), (60, "agitate"), (120, "agitate"), (190, "drain"), (200, "empty"), (210, "fill"), (216, "full"), (240, "drain"), (246, "empty")):  # fmt: skip
        tapped(home=tmp_path, run="good", at=at, kind=kind)
        if kind == "agitate":
            tapped(tmp_path, "good", at + 1, "temperature", celsius=41.0 if at == 60 else 40.4)
    return tmp_path


def test_each_step_says_what_it_had_there(home: Path) -> None:
    start_run(home, {"id": "next", "process": "own", "steps": STEPS, "like": "good"}, BEGAN + 9e5)
    found = followed(home, "next")
    assert found is not None and found["run"] == "good"
    developer, stop, rinse = found["steps"]
    # from the middle of the fill, 15 s, to the middle of the drain, 195 s; the mean of 41.0 and 40.4 °C; under its aim: worth less
    assert developer.startswith("had 3:00, at 40.7 °C, worth 17") and developer.endswith("s, 2 turns")
    assert stop == "had 0:30" and rinse == ""


def test_a_run_of_its_own_or_of_one_unheard_of_follows_none(home: Path) -> None:
    start_run(home, {"id": "own", "process": "own", "steps": STEPS}, BEGAN)
    start_run(home, {"id": "lost", "process": "own", "steps": STEPS, "like": "never"}, BEGAN)
    assert followed(home, "own") is None and followed(home, "lost") is None
    with pytest.raises(Unusable, match="like is text"):
        start_run(home, {"process": "own", "steps": STEPS, "like": 3}, BEGAN)


def test_a_list_of_runs_holds_what_another_may_take_over(home: Path) -> None:
    (row,), _ = runs(home)
    assert row["start"]["tank"] == "small" and set(row["start"]) >= {"process", "baths", "developer_s"}


def test_runs_without_a_name_are_named_by_their_day(tmp_path: Path) -> None:
    first, second = (start_run(tmp_path, {"process": "own", "steps": STEPS})["id"] for _ in range(2))
    assert first == f"run-{time.strftime('%Y-%m-%d')}" and second == f"{first}-2"
