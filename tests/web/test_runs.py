"""The API of runs, by its contract, over a real book."""

from __future__ import annotations

import time
import warnings
from pathlib import Path

import pytest
from fastapi import FastAPI

from wetside.app.processing.runs import runs as runs_of
from wetside.app.processing.runs import start_run
from wetside.app.shelf import shelf
from wetside.book.kinds import BathMixed, RollLoaded, RunEvent, ThermometerChecked
from wetside.store.ledger import Ledger
from wetside.web import runs

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # the test client warns of its own HTTP library's name
    from fastapi.testclient import TestClient


@pytest.fixture
def client(tmp_path: Path) -> TestClient:
    app = FastAPI()
    app.state.home = tmp_path
    app.include_router(runs.router)
    return TestClient(app)


def test_a_reading_is_noted_once_and_found_again(client: TestClient) -> None:
    begun = client.post("/api/runs", json={"process": "ecn-2"})
    assert begun.status_code == 201
    run = begun.json()["id"]
    event = {"id": "p1", "kind": "temperature", "happened_at": time.time(), "celsius": 41.0}
    answers = [client.post(f"/api/runs/{run}/events", json=event).status_code for _ in range(2)]
    assert answers == [201, 200]
    found = client.get(f"/api/runs/{run}").json()
    assert found["process"] == "ecn-2"
    assert [entry["celsius"] for entry in found["events"]] == [41.0]


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"kind": "drain"}, 409),
        ({"happened_at": time.time() + 1e5}, 409),
        ({"celsius": -3}, 422),
        ({"celsius": "warm"}, 422),
        ({"kind": "nonsense"}, 422),
        ({"id": ""}, 422),
        ({"happened_at": None}, 422),
    ],
)
def test_what_cannot_be_noted_changes_nothing(
    client: TestClient, change: dict[str, object], status: int
) -> None:
    run = client.post("/api/runs", json={"process": "c-41"}).json()["id"]
    event = {"id": "p1", "kind": "temperature", "happened_at": time.time(), "celsius": 38.0} | change
    assert client.post(f"/api/runs/{run}/events", json=event).status_code == status
    assert client.get(f"/api/runs/{run}").json()["events"] == []


def test_an_unknown_run_is_not_there(client: TestClient) -> None:
    event = {"id": "p1", "kind": "temperature", "happened_at": 1.0, "celsius": 38.0}
    assert client.get("/api/runs/none").status_code == 404
    assert client.post("/api/runs/none/events", json=event).status_code == 404
    assert client.post("/api/runs", json={"process": "nothing"}).status_code == 422
    steps = [{"name": "Wash", "seconds": 0}]
    assert client.post("/api/runs", json={"process": "own", "steps": steps}).status_code == 422


def test_the_socket_pushes_state_and_answers_the_clock(client: TestClient) -> None:
    run = client.post("/api/runs", json={"process": "own", "steps": [{"name": "Wash", "seconds": 3}]}).json()[
        "id"
    ]
    with client.websocket_connect(f"/api/runs/{run}/ws") as socket:
        assert socket.receive_json()["run"]["state"]["act"]["say"] == "Pour Wash"
        socket.send_json({"ping": 7})
        heard = [socket.receive_json() for _ in range(2)]
        pong = next(said for said in heard if said["type"] == "pong")
        assert pong["ping"] == 7
        assert abs(pong["now"] - time.time()) < 5


def tapped(client: TestClient, run: str, kind: str, at: float, **more: object) -> int:
    event = {"id": f"{kind}-{at:.3f}", "kind": kind, "happened_at": at, **more}
    return client.post(f"/api/runs/{run}/events", json=event).status_code


def test_a_mis_tap_is_struck_through_and_stays_in_the_book(client: TestClient, tmp_path: Path) -> None:
    run = client.post("/api/runs", json={"process": "ecn-2"}).json()["id"]
    now = time.time() - 60
    assert [tapped(client, run, kind, now + n) for n, kind in enumerate(("fill", "full", "drain"))] == [
        201
    ] * 3
    first = f"fill-{now:.3f}"
    assert tapped(client, run, "strike", now + 4, strikes=first) == 409  # the rest rests on it
    assert tapped(client, run, "strike", now + 4, strikes="nobody") == 409
    assert tapped(client, run, "strike", now + 4, strikes=f"drain-{now + 2:.3f}") == 201
    assert tapped(client, run, "strike", now + 4, strikes=f"drain-{now + 2:.3f}") == 200
    found = client.get(f"/api/runs/{run}").json()
    assert found["state"]["phase"] == "in the bath" and len(found["events"]) == 4
    with Ledger.open(tmp_path) as book:
        assert book.struck() == {f"drain-{now + 2:.3f}"}
        assert book.faults() == []


def test_a_run_starts_with_what_lies_where(client: TestClient) -> None:
    roll = {"roll": "R01", "reel": "A", "core": "head", "edge": "perforated"}
    body = {"process": "ecn-2", "rolls": [roll], "push_stops": 1, "room_c": 21.5}
    begun = client.post("/api/runs", json=body)
    assert begun.status_code == 201
    answer = begun.json()
    assert answer["start"]["rolls"] == [roll]
    developer = next(step for step in answer["steps"] if step["role"] == "developer")
    assert developer["seconds"] == 220 and any(r["say"].startswith("push 1") for r in developer["rivals"])
    own = client.post("/api/runs", json={"process": "ecn-2", "developer_s": 200}).json()
    assert next(s for s in own["steps"] if s["role"] == "developer")["seconds"] == 200


@pytest.mark.parametrize("change", [
    {"push_stops": -1}, {"push_stops": 9}, {"push_stops": 1.5}, {"developer_s": 0}, {"developer_s": 1e9}, {"room_c": 300},
    {"rolls": [{"reel": "A"}]}, {"rolls": [{"roll": "R1", "core": "middle"}]}, {"rolls": [{"roll": "R1", "edge": "left"}]},
    {"rolls": [{"roll": "R1"}, {"roll": "R1"}]}, {"rolls": "R1"}, {"tank": 5}, {"id": "no id"}, {"process": "b-w"},
])  # fmt: skip
def test_a_start_that_cannot_be_is_refused(client: TestClient, change: dict[str, object]) -> None:
    answer = client.post("/api/runs", json={"process": "ecn-2"} | change)
    assert answer.status_code == 422


def test_a_compared_thermometer_corrects_every_reading(client: TestClient, tmp_path: Path) -> None:
    with Ledger.open(tmp_path) as book:
        book.append(
            ThermometerChecked(thermometer="probe", read_c=40.6, true_c=41.1), happened_at=time.time()
        )
    steps = [{"name": "Developer", "role": "developer", "seconds": 180, "kind": "aim", "aim_c": 41.1}]
    run = client.post("/api/runs", json={"process": "own", "steps": steps, "thermometer": "probe"}).json()
    assert run["correction_c"] == pytest.approx(0.5) and "+0.5" in run["thermometer"]["say"]
    now = time.time() - 300
    for at, kind in ((0.0, "fill"), (10.0, "full")):
        assert tapped(client, run["id"], kind, now + at) == 201
    assert tapped(client, run["id"], "temperature", now + 20, celsius=40.6) == 201
    clock = client.get(f"/api/runs/{run['id']}").json()["state"]["clock"]
    assert clock["mended_s"] == pytest.approx(0.0, abs=1e-6)  # 40.6 read is 41.1, the aim


def test_the_bottles_of_a_run_carry_its_film(client: TestClient, tmp_path: Path) -> None:
    with Ledger.open(tmp_path) as book:
        for body in (RollLoaded(roll="R1", stock="DAY90", gauge="135", length_mm=1622), BathMixed(bath="dev 1", role="developer", volume_ml=500)):  # fmt: skip
            book.append(body, happened_at=time.time() - 100)
    body = {"process": "ecn-2", "rolls": [{"roll": "R1"}], "baths": {"developer": "dev 1"}}
    run = client.post("/api/runs", json=body).json()["id"]
    baths = client.get(f"/api/runs/{run}/baths").json()["baths"]
    assert [bath["bath"] for bath in baths] == ["dev 1"]
    assert baths[0]["done_mm2"] == pytest.approx(34.975 * 1622, rel=1e-3)
    assert baths[0]["longer"]["from_s"] > 180
    assert client.get("/api/runs/none/baths").status_code == 404


def test_events_out_of_order_twice_and_from_the_future(client: TestClient) -> None:
    run = client.post("/api/runs", json={"process": "c-41"}).json()["id"]
    now = time.time() - 100
    assert tapped(client, run, "full", now + 8) == 409  # nothing was poured yet
    assert tapped(client, run, "fill", now) == 201
    assert tapped(client, run, "drain", now + 50) == 201
    assert tapped(client, run, "full", now + 8) == 201  # noted late, happened early
    assert tapped(client, run, "full", now + 9) == 409
    assert tapped(client, run, "full", now + 8) == 200
    assert tapped(client, run, "empty", time.time() + 60) == 409
    assert tapped(client, run, "dry", now + 60) == 409
    row = client.get(f"/api/runs/{run}").json()["state"]["steps"][0]
    assert row["full_at"] == pytest.approx(now + 8)


def test_a_list_of_runs_is_the_latest_and_knows_how_many_there_are(tmp_path: Path) -> None:
    for n in range(5):
        start_run(tmp_path, {"id": f"r{n}", "process": "c-41", "rolls": [{"roll": f"R{n}"}]}, 1e9 + n)
    latest, count = runs_of(tmp_path, 2)
    assert [row["id"] for row in latest] == ["r4", "r3"] and count == 5
    assert latest[0]["rolls"] == ["R4"] and latest[0]["phase"] == "noted, not timed here"
    assert len(runs_of(tmp_path)[0]) == 5


def test_a_run_abandoned_before_the_first_pour_used_no_film_and_no_bath(
    client: TestClient, tmp_path: Path
) -> None:
    with Ledger.open(tmp_path) as book:
        book.append(RollLoaded(roll="R1", stock="DAY90", gauge="135", length_mm=1622), happened_at=1.0)
        book.append(BathMixed(bath="dev", role="developer", volume_ml=1000.0), happened_at=1.0)
    body = {"process": "ecn-2", "rolls": [{"roll": "R1"}], "baths": {"developer": "dev"}}
    run = client.post("/api/runs", json=body).json()["id"]

    def stands() -> tuple[str, float]:
        there = shelf(tmp_path)
        return there["rolls"][0]["status"], there["baths"][0]["area_m2"]

    def tapped(name: str, **more: object) -> int:
        event = {"id": name, "happened_at": time.time(), **more}
        return client.post(f"/api/runs/{run}/events", json=event).status_code

    assert stands()[0] == "processed"
    assert tapped("a", kind="abandon") == 201
    assert (
        stands() == ("loaded", 0.0) and client.get(f"/api/runs/{run}").json()["state"]["phase"] == "abandoned"
    )
    assert runs_of(tmp_path) == ([], 0)
    assert tapped("b", kind="strike", strikes="a") == 201
    assert stands()[0] == "processed" and stands()[1] > 0
    assert client.get(f"/api/runs/{run}").json()["state"]["phase"] == "ready"
    assert tapped("c", kind="fill") == 201 and tapped("d", kind="abandon") == 201
    assert stands()[0] == "processed"


def test_trouble_in_words_of_ones_own_is_shown_without_advice(client: TestClient, tmp_path: Path) -> None:
    run = client.post("/api/runs", json={"process": "ecn-2"}).json()["id"]
    with Ledger.open(tmp_path) as book:
        fields: dict[str, object] = {"what": "filled short", "note": "60 mL"}
        book.append(RunEvent(run=run, event="deviation", fields=fields), happened_at=time.time())
        book.append(RunEvent(run=run, event="note", fields={"text": "by hand"}), happened_at=time.time())
    event = {"id": "a", "kind": "abandon", "happened_at": time.time()}
    found = client.post(f"/api/runs/{run}/events", json=event).json()
    assert [note["say"] for note in found["state"]["notes"]] == ["by hand"]
    [told] = found["afterwards"]["deviations"]
    assert (told["what"], told["say"], told["curable"]) == ("filled short", "60 mL", "cannot say")
    assert found["afterwards"]["change"].startswith("Nothing was poured")
