"""Places that may be marks as one looks at them: one by one on the glass, a tap each, none counted before."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest
from tests.app.test_causes_of_the_book import MARK, reading, roll

from wetside.app.faults.causes import causes_of_run
from wetside.app.viewing.verdicts import verdicts_at
from wetside.book.kinds import Measured
from wetside.store.ledger import Ledger
from wetside.web.server import create_app

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # the test client warns of its own HTTP library's name
    from fastapi.testclient import TestClient

PLACES = [{**MARK, "x": x, "spread": None, "in_rebate": None, "outline": [], "chance": 0.4} for x in (10, 60)]


@pytest.fixture
def door(tmp_path: Path) -> Iterator[TestClient]:
    """A roll of one frame that holds no mark and two places."""
    folder = tmp_path / "scans" / "R1"
    folder.mkdir(parents=True)
    cv2.imwrite(str(folder / "1.tif"), np.full((100, 120, 3), 30000, np.uint16))
    read = reading()
    read |= {"rung": 1, "reasons": ["scans"], "density": "none", "base": None, "footing": {}, "findings": []}
    read["cast"] |= {"kind": None, "basis": "", "profile": []}
    read["frames"][0] |= {"perhaps": PLACES, "number": 1, "part": None}
    with Ledger.open(tmp_path) as book:
        book.append(roll("R1"), happened_at=1.77e9)
        book.append(Measured(roll="R1", what="read", result=read), happened_at=1.77e9)
    with TestClient(
        create_app(tmp_path), base_url="http://127.0.0.1:8000", client=("127.0.0.1", 5000)
    ) as client:
        yield client


def say(door: TestClient, answer: str, x: int, place: int) -> str:
    at = {"frame": 1, "x": x, "y": 10, "w": 20, "h": 20, "place": place}
    told = door.post("/glass/R1/1.tif/verdict", data={**at, "answer": answer}, follow_redirects=False)
    return told.headers["location"]


def test_places_are_looked_at_one_by_one_and_count_once_they_are_confirmed(
    door: TestClient, tmp_path: Path
) -> None:
    whole = door.get("/glass/R1").text
    assert "2 places on this roll may be marks" in whole and whole.count('class="dots over"') == 2
    assert 'href="/glass/R1?place=1#places"' in whole and "data-look" not in whole
    assert "2 places on R1 may be marks" in door.get("/causes?of=R1").text
    assert not causes_of_run(tmp_path, "R1")["causes"]
    first = door.get("/glass/R1?place=1").text
    assert "Place 1 of 2" in first and 'name="x" value="10"' in first and first.count("data-look") == 1
    assert 'name="x" value="10"' in door.get("/glass/R1?place=3").text  # after the last comes the first

    assert say(door, "not one", 10, 1) == "/glass/R1?frame=1&place=1#places"
    second = door.get("/glass/R1?frame=1&place=1").text
    assert "Place 1 of 1" in second and 'name="x" value="60"' in second and "Next place" not in second
    say(door, "confirmed", 60, 1)
    done = door.get("/glass/R1?frame=1&place=1").text
    assert "No place is left to look at" in done and 'class="dots' not in done and "1 mark" in done
    assert verdicts_at(tmp_path, "R1")[-1].mark == PLACES[1]
    assert causes_of_run(tmp_path, "R1")["causes"]
    assert "may be" not in door.get("/causes?of=R1").text.partition('id="ranked"')[0]


def test_a_reading_without_places_shows_none(door: TestClient, tmp_path: Path) -> None:
    with Ledger.open(tmp_path) as book:
        earlier = {**reading(MARK), "rung": 1, "reasons": ["scans"], "density": "none", "base": None}
        earlier["cast"] = {"found": False, "kind": None, "basis": ""}
        book.append(Measured(roll="R1", what="read", result=earlier), happened_at=1.78e9)
    shown = door.get("/glass/R1?frame=1").text
    assert "may be" not in shown and "1 mark" in shown
