"""Strangers at the gate: wrong names, other sites, crooked paths, large bodies; and a friend who may pass."""

from __future__ import annotations

import json
import re
import time
from pathlib import Path

import pytest
from starlette.testclient import TestClient, WebSocketDenialResponse
from starlette.websockets import WebSocketDisconnect

from wetside.web.pairing import TOKEN_LIFE_S
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


@pytest.fixture
def lan(tmp_path: Path) -> tuple[TestClient, TestClient]:
    """One server on the network: the computer itself, and a phone that was not paired."""
    app = create_app(tmp_path, lan=True)
    home = TestClient(app, base_url="http://127.0.0.1:8000", client=("127.0.0.1", 5000))
    phone = TestClient(
        app, base_url="http://127.0.0.1:8000", client=("192.168.1.9", 5000), follow_redirects=False
    )
    return home, phone


ORIGIN = {"origin": "http://127.0.0.1:8000"}


def token_of(home: TestClient) -> str:
    """The token in the code that the computer shows."""
    found = re.search(r"/pair\?token=([A-Za-z0-9_-]+)", home.get("/devices").text)
    assert found
    return found[1]


def test_a_pairing_token_works_once(lan: tuple[TestClient, TestClient]) -> None:
    home, phone = lan
    token = token_of(home)
    assert phone.get(f"/pair?token={token}").status_code == 200  # a look does not spend it
    assert phone.post("/pair", data={"token": token}, headers=ORIGIN).status_code == 303
    assert phone.get("/shelf").status_code == 200
    phone.cookies.clear()
    assert phone.get("/shelf").status_code == 401
    assert phone.post("/pair", data={"token": token}, headers=ORIGIN).status_code == 403
    assert phone.get("/shelf").status_code == 401


def test_a_pairing_token_ages(lan: tuple[TestClient, TestClient], monkeypatch: pytest.MonkeyPatch) -> None:
    home, phone = lan
    token = token_of(home)
    later = time.monotonic() + TOKEN_LIFE_S + 1
    monkeypatch.setattr("wetside.web.pairing.time.monotonic", lambda: later)
    assert phone.post("/pair", data={"token": token}, headers=ORIGIN).status_code == 403


def test_a_new_device_is_paired_at_the_computer_alone(lan: tuple[TestClient, TestClient]) -> None:
    home, phone = lan
    phone.post("/pair", data={"token": token_of(home)}, headers=ORIGIN)
    assert phone.get("/devices").status_code == 403


def test_the_pairing_token_is_no_secret_and_a_guess_is_none(lan: tuple[TestClient, TestClient]) -> None:
    home, phone = lan
    token = token_of(home)
    for guess in (token, "", "x" * 43, "null"):
        assert phone.get("/shelf", headers={"cookie": f"wetside_device={guess}"}).status_code == 401
        assert phone.get("/shelf", headers={"authorization": f"Bearer {guess}"}).status_code == 401


def test_what_is_kept_of_a_device_cannot_be_sent_back(
    lan: tuple[TestClient, TestClient], tmp_path: Path
) -> None:
    home, phone = lan
    phone.post("/pair", data={"token": token_of(home)}, headers=ORIGIN)
    file = tmp_path / "devices.json"
    [kept] = json.loads(file.read_text())
    phone.cookies.clear()
    assert phone.get("/shelf", headers={"cookie": f"wetside_device={kept}"}).status_code == 401
    assert file.stat().st_mode & 0o077 == 0


def test_an_unpaired_machine_gets_no_socket(lan: tuple[TestClient, TestClient]) -> None:
    home, phone = lan
    run = home.post("/api/runs", json={"process": "ecn-2"}).json()["id"]
    with (
        pytest.raises((WebSocketDisconnect, WebSocketDenialResponse)),
        phone.websocket_connect(f"/api/runs/{run}/ws", headers=ORIGIN),
    ):
        pass


def test_a_paired_phone_is_still_no_other_site(lan: tuple[TestClient, TestClient]) -> None:
    home, phone = lan
    phone.post("/pair", data={"token": token_of(home)}, headers=ORIGIN)
    evil = {"origin": "http://evil.example"}
    assert phone.post("/api/runs", json={"process": "ecn-2"}, headers=evil).status_code == 403
    assert phone.post("/api/runs", json={"process": "ecn-2"}).status_code == 403  # a cookie alone, no Origin
    assert phone.post("/api/runs", json={"process": "ecn-2"}, headers=ORIGIN).status_code == 201
    assert phone.get("/shelf", headers={"host": "evil.example"}).status_code == 421


def test_another_sites_script_cannot_read_a_page(door: TestClient) -> None:
    crossed = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}
    assert door.get("/shelf", headers=crossed).status_code == 403
    assert (
        door.get("/shelf", headers={"sec-fetch-site": "cross-site", "sec-fetch-mode": "navigate"}).status_code
        == 200
    )
    policy = door.get("/shelf").headers["content-security-policy"]
    assert "frame-ancestors 'none'" in policy and "unsafe" not in policy
