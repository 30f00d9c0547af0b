"""What is written down by hand on a page is one line of the book, and a slip writes nothing."""

from __future__ import annotations

import re
from dataclasses import MISSING, fields
from datetime import datetime
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from wetside.app.shelf import shelf
from wetside.book.kinds import KINDS
from wetside.store.ledger import Ledger
from wetside.web.server import create_app
from wetside.web.writing import FORMS


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    return TestClient(create_app(tmp_path), base_url="http://127.0.0.1:8765", client=("127.0.0.1", 5000))


@pytest.mark.parametrize("kind", FORMS)
def test_a_form_asks_for_fields_of_its_kind_and_for_all_it_cannot_do_without(kind: str) -> None:
    own = {one.name: one for one in fields(KINDS[kind])}
    asked = {field.key: field for field in FORMS[kind].fields}
    assert set(asked) <= set(own)
    must = {name for name, one in own.items() if one.default is MISSING and one.default_factory is MISSING}
    assert must - {"last_frame"} <= {
        key for key, field in asked.items() if field.needed or field.kind == "choice"
    }


def test_an_empty_book_begins_at_three_doors(client: TestClient) -> None:
    shown = client.get("/shelf").text
    doors = re.findall(r'<li>\s*<a href="([^"]+)">', shown.partition('class="doors"')[2])
    assert doors[:3] == ["/glass", "/shelf/write?kind=roll", "/mix"]


def test_a_roll_and_its_exposures_are_written_down(client: TestClient, tmp_path: Path) -> None:
    said = {"kind": "roll", "roll": "HARBOUR, 3", "stock": "DAY90", "gauge": "110", "length_mm": "0,72", "when": "2026-05-01T10:00"}  # fmt: skip
    shown = client.post("/shelf/write", data=said).text
    assert "HARBOUR, 3" in shown and "How its frames were exposed" in shown
    (roll,) = shelf(tmp_path)["rolls"]
    assert (roll["gauge"], roll["length_mm"], roll["status"]) == ("110", 720.0, "loaded")
    assert roll["since"] == datetime(2026, 5, 1, 10, 0).timestamp()
    exposed = {"kind": "exposed", "roll": "HARBOUR, 3", "first_frame": "4", "ei": "80", "stops": "−1,5"}
    client.post("/shelf/write", data=exposed)
    with Ledger.open(tmp_path) as book:
        (line,) = book.lines(kind="exposed")
    assert (line.body["first_frame"], line.body["last_frame"], line.body["stops"]) == (4, 4, -1.5)
    assert shelf(tmp_path)["rolls"][0]["status"] == "exposed"


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"gauge": "70"}, "Gauge: one of 135"),
        ({"length_mm": "long"}, "a number was expected"),
        ({"stock": " "}, "Stock is needed"),
        ({"when": "yesterday"}, "expected a time like"),
        ({"when": "2999-01-01T00:00"}, "still to come"),
        ({"length_mm": "-3"}, "at least 0.01"),
        ({"roll": "two\nlines"}, "on one line"),
        ({"kind": "exposed", "first_frame": "5", "last_frame": "2"}, "not before the first"),
        (
            {"kind": "parcel", "parcel": "P", "laboratory": "L", "way": "sent", "rolls": " , "},
            "Rolls, with commas is needed",
        ),
        ({"roll": "R01"}, "on the shelf already"),
    ],
)
def test_a_slip_writes_nothing_and_keeps_what_was_filled_in(
    client: TestClient, tmp_path: Path, wrong: dict[str, str], said: str
) -> None:
    good = {"kind": "roll", "stock": "DAY90", "gauge": "135", "camera": "box with a name"}
    client.post("/shelf/write", data={**good, "roll": "R01"})
    answer = client.post("/shelf/write", data={**good, "roll": "R02", **wrong})
    assert answer.status_code == 422
    assert said in answer.text and 'value="box with a name"' in answer.text
    assert len(shelf(tmp_path)["rolls"]) == 1


def test_a_form_that_is_not_there_is_refused(client: TestClient) -> None:
    assert client.post("/shelf/write", data={"kind": "run"}).status_code == 422
    assert "Its name, as on the can" in client.get("/shelf/write?kind=run").text


def test_a_roll_that_was_never_written_down_is_not_spoken_of(client: TestClient, tmp_path: Path) -> None:
    client.post("/shelf/write", data={"kind": "roll", "roll": "HARBOUR 3", "stock": "DAY90", "gauge": "135"})
    for slip in (
        {"kind": "exposed", "roll": "HARBUOR 3", "first_frame": "1"},
        {"kind": "parcel", "parcel": "P", "laboratory": "L", "way": "sent", "rolls": "HARBOUR 3, HARBUOR 3"},
        {"kind": "roll", "roll": "R2", "stock": "DAY90", "gauge": "135", "twin_of": "HARBUOR 3"},
    ):
        answer = client.post("/shelf/write", data=slip)
        assert answer.status_code == 422 and "the nearest is HARBOUR 3" in answer.text
    assert [roll["status"] for roll in shelf(tmp_path)["rolls"]] == ["loaded"]


def test_a_parcel_that_is_back_needs_no_more_than_a_tap(client: TestClient, tmp_path: Path) -> None:
    client.post("/shelf/write", data={"kind": "roll", "roll": "R 1", "stock": "DAY90", "gauge": "135"})
    sent = {"kind": "parcel", "parcel": "P1", "laboratory": "Estuary", "way": "sent", "rolls": "R 1", "when": "2026-01-05T10:00"}  # fmt: skip
    client.post("/shelf/write", data=sent)
    assert "/shelf/write?kind=parcel&amp;back=R%201" in client.get("/shelf").text
    form = client.get("/shelf/write?kind=parcel&back=R%201").text
    for filled in ('value="P1"', 'value="Estuary"', 'value="R 1"', '<option value="returned" selected>'):
        assert filled in form


def test_a_length_typed_in_millimetres_is_asked_about(client: TestClient) -> None:
    answer = client.post("/shelf/write", data={"kind": "roll", "roll": "R1", "stock": "D", "gauge": "110", "length_mm": "700"})  # fmt: skip
    assert answer.status_code == 422 and "at most 305, found" in answer.text


def test_a_note_names_a_thing_by_its_name_alone(client: TestClient, tmp_path: Path) -> None:
    client.post("/shelf/write", data={"kind": "tank", "tank": "blue", "material": "steel"})
    client.post("/shelf/write", data={"kind": "reel", "reel": "white", "gauge": "135", "material": "steel"})
    assert client.post("/ink", data={"text": "leaks", "about": "blue"}).status_code == 200
    with Ledger.open(tmp_path) as book:
        assert [str(thing) for thing in book.lines(kind="note")[0].touches] == ["tank:blue"]
    client.post("/shelf/write", data={"kind": "reel", "reel": "blue", "gauge": "135", "material": "steel"})
    for name, said in (("blue", "more than one thing"), ("green", "nothing the book knows")):
        answer = client.post("/ink", data={"text": "leaks", "about": name})
        assert answer.status_code == 422 and said in answer.text and 'value="leaks"' in answer.text


def test_a_stock_still_good_is_not_called_expired(client: TestClient) -> None:
    for name, day in (("OLD", "2020-05-01"), ("NEW", "2999-05-01")):
        said = {"kind": "stock", "stock": name, "process": "ecn-2", "balance": "unknown", "backing": "unknown", "expires_on": day}  # fmt: skip
        client.post("/shelf/write", data=said)
    shown = client.get("/stocks").text
    assert "expired 1 May 2020" in shown and "good until 1 May 2999" in shown


def test_a_roll_written_down_after_it_was_exposed_is_an_exposed_one(
    client: TestClient, tmp_path: Path
) -> None:
    client.post("/shelf/write", data={"kind": "roll", "roll": "R1", "stock": "DAY90", "gauge": "135"})
    past = {"kind": "exposed", "roll": "R1", "first_frame": "1", "when": "2026-01-05T10:00"}
    client.post("/shelf/write", data=past)
    (roll,) = shelf(tmp_path)["rolls"]
    assert roll["status"] == "exposed" and roll["exposed_at"] == datetime(2026, 1, 5, 10, 0).timestamp()
