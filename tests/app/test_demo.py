"""The whole job on the demo: planted truths recovered, and those the tool rightly refuses."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from wetside.app.demo import _read_and_keep, build_roll, demo
from wetside.app.reading.read import ReadOptions, read
from wetside.demo.scenes import chart_colours
from wetside.demo.story import rolls
from wetside.figures.place import Rectangle, intersection_over_union
from wetside.store.ledger import Ledger


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict]:
    home = tmp_path_factory.mktemp("demo")
    return home, demo(home)


@pytest.mark.independent(how="truth written by the demo's film model, which the stages do not know")
def test_base_and_pictures_of_the_demo_rolls(run: tuple[Path, dict]) -> None:
    home, told = run
    for name in ("R01", "R02", "R03"):
        truth = json.loads((home / "scans" / f"{name}.truth.json").read_text())
        reading = told["answers"][name]
        base = np.array([reading["base"][layer] for layer in "rgb"])
        assert np.abs(base - truth["base"]).max() < 0.02, name  # the demo's scans hold flare
        overlaps = [
            intersection_over_union(
                Rectangle(*(f["picture"][key] for key in "xywh")), Rectangle(*t["picture"])
            )
            for f, t in zip(reading["frames"], truth["frames"], strict=True)
        ]
        assert np.median(overlaps) > 0.97, name


@pytest.mark.independent(how="planted causes of the story")
def test_planted_causes_are_named(run: tuple[Path, dict]) -> None:
    answers = run[1]["answers"]
    assert answers["causes R03"]["causes"][0]["cause"] == "weak bleach: retained silver"
    assert answers["causes R03"]["causes"][0]["curable"] == "tonight"
    assert answers["causes R06"]["causes"][0]["cause"] == "developer cold or short"


@pytest.mark.independent(how="the light that was planted: 1.8 stops between the layers")
def test_a_stock_in_the_wrong_light_is_said(run: tuple[Path, dict]) -> None:
    said = {f["id"] for f in run[1]["answers"]["positive R05"]["findings"]}
    assert "layers-apart" in said and "blue layer" in run[1]["found"][4]["found"]


@pytest.mark.independent(how="patches of known reflectance: their steps, and which channel reflects most")
def test_the_chart_prints_in_the_order_of_its_patches(run: tuple[Path, dict]) -> None:
    home, _ = run
    places = json.loads((home / "scans" / "R09.truth.json").read_text())["frames"][7]["patches"]
    printed = cv2.imread(str(home / "positives" / "R09" / "R09_08.jpg"))[..., ::-1]
    seen = np.array([np.median(printed[y + h // 3 : y + 2 * h // 3, x + w // 3 : x + 2 * w // 3], axis=(0, 1)) for x, y, w, h in places])  # fmt: skip
    assert (np.diff(seen[18:, 1]) < 0).all()
    known = chart_colours()[:18]
    second, most = np.sort(known, axis=1)[:, 1:].T
    clear = second < 0.7 * most
    assert clear.sum() > 8 and (known[clear].argmax(axis=1) == seen[:18][clear].argmax(axis=1)).all()


def test_what_cannot_be_told_apart_is_said_to_be_so(run: tuple[Path, dict]) -> None:
    answers = run[1]["answers"]
    assert answers["causes R04"]["inseparable"]
    assert answers["look R08"]["rung"] == 0
    assert answers["R02"]["pattern"]["answer"] == "cannot say" and answers["R02"]["pattern"]["would_help"]


@pytest.mark.independent(how="the stock's planted index")
def test_the_expired_stocks_true_index_lies_in_the_interval(run: tuple[Path, dict]) -> None:
    low, high = run[1]["answers"]["stock R07"]["working_ei"]["interval_90"]
    assert low < 80 < high


@pytest.mark.independent(how="planted touching turns")
def test_bare_film_of_the_touching_turns_is_marked(run: tuple[Path, dict]) -> None:
    marks = [m for f in run[1]["answers"]["R02"]["frames"] for m in f["marks"]]
    assert sum(m["kind"] == "bare" for m in marks) >= 2


@pytest.mark.independent(how="planted exposures 1, 0.86, 0.95, 0.78, 1, 0.9 of one strip")
def test_the_auto_exposed_strip_is_seen_and_read_above_its_base(tmp_path: Path) -> None:
    build_roll(rolls()[9], tmp_path / "R10", 109, 0.6)
    reading = read(tmp_path / "R10", ReadOptions(marks=False))
    assert reading.density == "above base" and reading.rung == 2
    told = {f.where: f.found for f in reading.findings if f.id == "exposure-not-locked"}
    assert "R10_04.tif" in told and told["R10_04.tif"].startswith("+0.0")


def test_the_demo_may_be_run_again_without_harm(
    run: tuple[Path, dict], monkeypatch: pytest.MonkeyPatch
) -> None:
    home, _ = run
    monkeypatch.setattr("wetside.app.demo.run_job", lambda home, _: _read_and_keep(home, "R03"))
    monkeypatch.setattr("wetside.app.demo.rolls", lambda: rolls()[2:3])
    with Ledger.open(home) as book:
        before, faults = book.count(), book.faults()
    demo(home)
    with Ledger.open(home) as book:
        assert book.count() == before and faults == []


def test_every_file_kind_of_the_demo_is_written_and_read(tmp_path: Path) -> None:
    kinds = set()
    for roll in rolls():
        if roll.files not in kinds:
            kinds.add(roll.files)
            build_roll(replace(roll, shots=roll.shots[:3]), tmp_path / roll.name, 1, 0.5)
            assert read(tmp_path / roll.name, ReadOptions(marks=False)).frames
    assert kinds == {"tiff", "dng", "dpx", "jpeg"}
