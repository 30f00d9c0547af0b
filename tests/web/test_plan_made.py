"""A plan that takes long: the page goes on, shows how far it is, and what was made is not made again."""

from __future__ import annotations

import json
import re
import time
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from wetside.app.demo import demo_request
from wetside.app.planning.plan import plan
from wetside.web import planning
from wetside.web.server import create_app


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """Makes every plan take 4 s more, which is longer than two pages wait; what it gives back holds the instants of the plans made."""
    began: list[float] = []

    def slower(given: dict[str, Any], progress: Any = None) -> dict[str, Any]:
        began.append(time.monotonic())
        progress and progress("the cheapest way", 0, 3)
        time.sleep(4)
        return plan(given)

    monkeypatch.setattr(planning, "plan", slower)
    return began


def test_a_long_plan_shows_how_far_it_is_and_is_made_once(tmp_path: Path, slow: list[float]) -> None:
    text = json.dumps(demo_request())
    with TestClient(
        create_app(tmp_path), base_url="http://127.0.0.1:8765", client=("127.0.0.1", 50_000)
    ) as page:
        asked = page.post("/plan", data={"text": text}, follow_redirects=False)
        assert asked.status_code == 303
        at = asked.headers["location"]
        going = page.get(at)
        assert "data-going" in going.text and "S01" in going.text
        made = at.partition("made=")[2]
        while not page.get(f"/plan/progress?made={made}").json()["ended"]:
            time.sleep(0.1)
        done = page.get(at)
        assert "data-going" not in done.text
        assert re.search(r"What to do", done.text)
        assert page.post("/plan/calendar", data={"text": text}).text.startswith("BEGIN:VCALENDAR")
        assert page.post("/plan/kept", data={"text": text}, follow_redirects=False).status_code == 303
    assert len(slow) == 1


def test_a_plan_no_longer_in_mind_is_said(tmp_path: Path) -> None:
    with TestClient(
        create_app(tmp_path), base_url="http://127.0.0.1:8765", client=("127.0.0.1", 50_000)
    ) as page:
        assert "no longer in mind" in page.get("/plan?made=0123456789abcdef").text
