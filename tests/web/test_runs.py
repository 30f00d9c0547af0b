"""The API of runs, by its contract, over a real book."""

from __future__ import annotations

import time
import warnings
from pathlib import Path

import pytest
from fastapi import FastAPI

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
