"""Requests no honest page sends, and every body the published schema allows. The whole study: `benchmarks.hostile_requests`."""

from __future__ import annotations

import json
import time
import warnings
from pathlib import Path
from typing import Any

import pytest
from benchmarks.hostile_requests import asked, began
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as some

from wetside.web.server import create_app

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # the test client warns of its own HTTP library's name
    from fastapi.testclient import TestClient

#: What no schema can say, and the check behind it may still refuse.
BEYOND = ("no process ", "no source gives a developer time", "a roll stands twice")


@pytest.mark.independent(
    how="requests made of hostile values, cut off, nested, of another kind, to every route"
)
def test_a_hostile_request_is_refused_and_never_breaks_the_book(tmp_path: Path) -> None:
    began(tmp_path)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        counts, wrong = asked(tmp_path, 300, int(time.time()) // 86_400)
    assert not wrong, wrong
    assert sum(counts.values()) == 300 and sum(n for status, n in counts.items() if status >= 400) > 60


@pytest.fixture(scope="module")
def door(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    app = create_app(tmp_path_factory.mktemp("doors"))
    return TestClient(app, base_url="http://127.0.0.1:8000", client=("127.0.0.1", 5000))


def allowed(path: str) -> some.SearchStrategy[Any]:
    """Bodies that the published schema of a POST allows, by a generator that knows nothing of this program."""
    import schemathesis

    document = create_app(Path("nowhere")).openapi()
    operation = schemathesis.openapi.from_dict(document)[path]["POST"]
    return operation.as_strategy().map(lambda case: case.body)


@pytest.mark.independent(how="bodies generated from the published OpenAPI document by another library")
def test_a_start_that_the_schema_allows_is_taken_or_refused_for_what_no_schema_says(door: TestClient) -> None:
    @settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
    @given(allowed("/api/runs"))
    def started(body: Any) -> None:
        answer = door.post(
            "/api/runs", content=json.dumps(body), headers={"content-type": "application/json"}
        )
        assert answer.status_code == 201 or (
            answer.status_code == 422 and any(word in answer.json()["what"] for word in BEYOND)
        ), (answer.status_code, answer.text, body)

    started()


@pytest.mark.independent(how="bodies generated from the published OpenAPI document by another library")
def test_an_event_that_the_schema_allows_is_noted_or_refused_by_the_state(door: TestClient) -> None:
    run = door.post("/api/runs", json={"process": "ecn-2"}).json()["id"]

    @settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
    @given(allowed("/api/runs/{run}/events"))
    def noted(body: Any) -> None:
        answer = door.post(
            f"/api/runs/{run}/events", content=json.dumps(body), headers={"content-type": "application/json"}
        )
        assert answer.status_code in (200, 201, 409), (answer.status_code, answer.text, body)

    noted()
