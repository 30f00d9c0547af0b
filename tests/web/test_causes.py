"""Causes and verdicts as a person would use them: an outcome kept, two rolls compared, a mark drawn and taken away with two taps."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from wetside.book.kinds import Body, Measured, ReelOwned, RollLoaded, RunStarted
from wetside.laws.reel.spiral import TURN, length_to_angle
from wetside.store.ledger import Ledger
from wetside.web.server import create_app

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # the test client warns of its own HTTP library's name
    from fastapi.testclient import TestClient

pytestmark = [pytest.mark.browser]
MARKS = ".film-mark:not(.perhaps)"


def test_an_outcome_is_kept_and_two_rolls_are_compared(site: str, chromium) -> None:
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    page.goto(f"{site}/causes?of=R06&against=R03")
    assert "What changed since R03" in page.inner_text("main")
    page.goto(f"{site}/causes?of=R06")
    page.locator("summary", has_text="which would part little here").click()
    page.locator("summary", has_text="Clip test").click()
    page.locator("button", has_text="clip bad").click()
    page.wait_for_url("**/causes?of=R06")
    page.locator("summary", has_text="came out: clip bad").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    page.close()


def test_a_mark_lights_up_on_reel_and_film_by_hand_and_by_key(tmp_path: Path, chromium) -> None:
    with Ledger.open(tmp_path) as book:
        for body in roll_with_marks():
            book.append(body, happened_at=1.77e9)
    with TestClient(create_app(tmp_path), base_url="http://127.0.0.1", client=("127.0.0.1", 5000)) as client:
        page = chromium.new_page(viewport={"width": 390, "height": 844})
        page.route("**/*", lambda route: route.fulfill(**answered(client, route.request.url)))
        page.goto("http://127.0.0.1/causes?of=R1")
        assert page.locator("#mark-told").is_hidden()
        assert page.locator(".one-side").count() == 1
        assert not Axe().run(page).response["violations"]
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
        page.locator(".from-above [role=button] .onreel").nth(2).click()
        assert page.inner_text("#mark-told output").startswith("Mark 3: ")
        assert page.locator(".along-film .lit").count() == 1
        assert "/glass/R1?frame=" in (page.get_attribute("#mark-told a", "href") or "")
        page.locator(".from-above [role=button]").last.focus()
        assert page.inner_text("#mark-told output").startswith("Mark 9: ")
        page.keyboard.press("Escape")
        assert page.locator("#mark-told").is_hidden()
        page.close()


def roll_with_marks() -> list[Body]:
    """A roll on a reel, nine bands of it at one angle."""
    frames: list[dict[str, Any]] = [
        {"file": f"n{i:02d}.tif", "picture": {"x": 0, "y": 0, "w": 576, "h": 384}, "marks": []}
        for i in range(42)
    ]
    for turn in range(9):
        place = float(length_to_angle(2.0 + TURN * turn, 18.0, 2.8))
        mark = {"x": round(place % 38 * 16) - 10, "y": 0, "w": 20, "h": 384, "film_mm": place, "across": 0.5, "kind": "band", "edge": "soft"}  # fmt: skip
        frames[int(place // 38)]["marks"].append({**mark, "delta": {"r": 0.2, "g": 0.2, "b": 0.2}})
    found = {
        "schema": "wetside.read/1", "rung": 2, "frames": frames, "cast": {"found": False}, "findings": [], "pattern": {"answer": "one angle", "reason": "they lie at one angle of the reel"},
        "geometry": {"frame_pitch_mm": 38.0, "px_per_mm": 16.0, "perf_pitch_mm": 4.75},
    }  # fmt: skip
    return [
        ReelOwned(reel="A", inner_radius_mm=18.0, pitch_mm=2.8),
        RollLoaded(roll="R1", stock="DAY90", gauge="135", length_mm=1700.0),
        RunStarted(
            run="run 1", process="ecn-2", tank="T", rolls=({"roll": "R1", "reel": "A", "core": "head"},)
        ),
        Measured(roll="R1", what="read", result=found),
    ]


def answered(client: TestClient, url: str) -> dict[str, Any]:
    """What the application answers, as a browser is given it."""
    found = client.get(url.removeprefix("http://127.0.0.1"))
    return {"status": found.status_code, "headers": dict(found.headers), "body": found.content}


def test_a_mark_is_drawn_and_taken_away_with_two_taps(site: str, chromium) -> None:
    page = chromium.new_page()
    page.goto(f"{site}/glass/R07?frame=1")
    page.click("text=Read the roll")
    page.goto(f"{site}/glass/R07?frame=1")
    # The page loads itself anew when the reading has ended; it is opened once more, for no tap may fall between.
    page.locator("#work").wait_for(state="detached", timeout=120_000)
    page.goto(f"{site}/glass/R07?frame=1")
    page.wait_for_load_state("networkidle")
    before = page.locator(MARKS).count()
    page.locator("label", has_text="an area").click()
    box = page.locator("#negative").bounding_box()
    page.mouse.move(box["x"] + 150, box["y"] + 110)
    page.mouse.down()
    page.mouse.move(box["x"] + 190, box["y"] + 150, steps=4)
    page.mouse.up()
    page.locator("button", has_text="This is a mark").click()
    page.wait_for_url("**/glass/R07?frame=1#negative")
    assert page.locator(MARKS).count() == before + 1
    page.locator(MARKS).last.click()
    page.locator("#verdict button", has_text="Not a mark").click()
    page.wait_for_load_state("networkidle")
    assert page.locator(MARKS).count() == before
    page.close()
