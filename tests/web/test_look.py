"""A first look as a newcomer takes it: scans dropped, a mark drawn and answered for, kept as the first lines of a book."""

from __future__ import annotations

import time
import warnings
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest

from wetside.app.book import note
from wetside.app.shelf import shelf
from wetside.store.ledger import Ledger
from wetside.web.pages import on_page
from wetside.web.server import create_app

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # the test client warns of its own HTTP library's name
    from fastapi.testclient import TestClient

BOX = {"frame": 1, "x": 100, "y": 60, "w": 40, "h": 40}


@pytest.fixture
def door(tmp_path: Path) -> Iterator[TestClient]:
    with TestClient(
        create_app(tmp_path), base_url="http://127.0.0.1:8000", client=("127.0.0.1", 5000)
    ) as client:
        yield client


@pytest.fixture
def look(door: TestClient) -> str:
    """The address of a look at three soft pictures, one of them under a long name."""
    rng = np.random.default_rng(4)
    folder = ""
    for name in ("scan_1.jpg", "scan_2.jpg", f"scan_3, {'evening ' * 20}, holder B.jpg"):
        soft = cv2.GaussianBlur(rng.uniform(60, 190, (240, 360, 3)).astype(np.float32), (0, 0), 9)
        content = cv2.imencode(".jpg", soft.astype(np.uint8))[1].tobytes()
        folder = door.put(f"/glass/dropped/{name}?into={folder}", content=content).json()["folder"]
    return f"/glass/{folder}"


def seen(door: TestClient, address: str) -> str:
    """The look's page once it has been taken."""
    for _ in range(600):
        text = door.get(address).text
        if 'id="work"' not in text:
            return text
        time.sleep(0.2)
    raise AssertionError("the look did not end")


def test_a_newcomer_draws_a_mark_answers_and_keeps_it(door: TestClient, look: str, tmp_path: Path) -> None:
    first = seen(door, f"{look}/look")
    assert "3 pictures, no mark found" in first and "Cannot say yet" in first
    assert "with the rebate in view" in first and "5 questions" not in first
    door.post(f"{look}/scan_1.jpg/verdict", data={**BOX, "answer": "drawn"})
    drawn = seen(door, f"{look}/look")
    assert "3 pictures, 1 mark in 1 of them" in drawn and "5 questions" in drawn
    assert "Back to the first look" in door.get(f"{look}?frame=1").text
    told = seen(door, f"{look}/look?stays+with=the+frame&repeats=every+frame")
    assert "In the camera" in told and "You said" in told
    kept = {"name": "R01", "stock": "DAY90", "gauge": "135", "repeats": "every frame"}
    assert (
        door.post(f"{look}/keep", data=kept, follow_redirects=False).headers["location"] == "/causes?of=R01"
    )
    with Ledger.open(tmp_path) as book:
        said = [line.body for line in book.lines() if line.kind == "judged"]
    assert {(one["about"], one["answer"]) for one in said} == {("question", "every frame"), ("mark", "drawn")}
    assert {one["roll"] for one in said} == {"R01"}
    assert not list((tmp_path / "dropped").iterdir())
    shown = door.get("/causes?of=R01").text
    assert "answer: repeats: every frame" in shown


def test_a_mark_taken_away_no_longer_counts(door: TestClient, look: str) -> None:
    seen(door, f"{look}/look")
    for answer in ("drawn", "not one"):
        door.post(f"{look}/scan_1.jpg/verdict", data={**BOX, "answer": answer})
    assert "no mark found" in seen(door, f"{look}/look")


def test_scans_go_to_the_roll_on_the_shelf_that_waits_for_them(
    door: TestClient, look: str, tmp_path: Path
) -> None:
    note(tmp_path, "roll", {"roll": "N1", "stock": "DUSK200", "gauge": "110"})
    offered = seen(door, f"{look}/look")
    assert '<option value="N1">N1, DUSK200, loaded' in offered and "first lines of a new roll" in offered
    there = door.post(f"{look}/keep", data={"name": "N1"}, follow_redirects=False).headers["location"]
    assert there == "/causes?of=N1"
    assert [(one["roll"], one["scans"]) for one in shelf(tmp_path)["rolls"]] == [("N1", 3)]


def test_a_page_of_one_roll_need_not_say_that_a_finding_is_of_the_roll() -> None:
    said = on_page(
        [{"id": i, "severity": "note", "say": "a b", "where": at} for i, at in enumerate(("roll", "x.jpg"))]
    )
    assert [one["say"] for one in said] == ["A b", "x.jpg: a b"]
