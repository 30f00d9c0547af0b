"""Strangers at the gate: wrong names, other sites, crooked paths, large bodies; and a friend who may pass."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient, WebSocketDenialResponse
from starlette.websockets import WebSocketDisconnect

from wetside.web.server import create_app

OWN = {"host": "127.0.0.1:8000"}


@pytest.fixture
def door(tmp_path: Path) -> TestClient:
    return TestClient(create_app(tmp_path), base_url="http://127.0.0.1:8000", client=("127.0.0.1", 5000))


def test_a_local_script_needs_nothing(door: TestClient) -> None:
    assert door.get("/api/health").json() == {"ok": True}
    assert door.post("/api/runs", json={"process": "ecn-2"}).status_code == 201


@pytest.mark.parametrize(
    "headers", [{"host": "evil.example"}, {"host": "127.0.0.1.evil.example"}, {"host": ""}]
)
def test_another_host_is_refused(door: TestClient, headers: dict[str, str]) -> None:
    assert door.get("/api/health", headers=headers).status_code in (400, 403, 421)


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "http://127.0.0.1:9", "https://127.0.0.1:8000"]
)
def test_an_unsafe_call_from_another_origin_is_refused(door: TestClient, origin: str) -> None:
    assert door.post("/api/runs", json={"process": "ecn-2"}, headers={"origin": origin}).status_code == 403


def test_the_own_origin_may_pass(door: TestClient) -> None:
    assert (
        door.post(
            "/api/runs", json={"process": "ecn-2"}, headers={"origin": "http://127.0.0.1:8000"}
        ).status_code
        == 201
    )


@pytest.mark.parametrize(
    "path",
    [
        "/static/../server.py",
        "/static/%2e%2e/server.py",
        "/static/..%2fserver.py",
        "/glass/..%2f..%2fetc",
        "/static/\\..\\server.py",
    ],
)
def test_crooked_paths_find_nothing(door: TestClient, path: str) -> None:
    answer = door.get(path)
    assert answer.status_code in (400, 403, 404, 422) and "def " not in answer.text


def test_a_large_body_is_refused(door: TestClient) -> None:
    assert (
        door.post(
            "/api/runs", content=b"x" * 2_000_000, headers={"content-type": "application/json"}
        ).status_code
        == 413
    )


def test_a_machine_of_the_network_needs_pairing(tmp_path: Path) -> None:
    app = create_app(tmp_path, lan=True)
    away = TestClient(app, base_url="http://127.0.0.1:8000", client=("192.168.1.9", 5000))
    assert away.get("/shelf").status_code in (401, 403)
    assert away.post("/api/runs", json={"process": "ecn-2"}).status_code in (401, 403)


def test_another_sites_socket_is_refused(door: TestClient) -> None:
    run = door.post("/api/runs", json={"process": "ecn-2"}).json()["id"]
    with (
        pytest.raises((WebSocketDisconnect, WebSocketDenialResponse)),
        door.websocket_connect(f"/api/runs/{run}/ws", headers={"origin": "http://evil.example"}),
    ):
        pass
