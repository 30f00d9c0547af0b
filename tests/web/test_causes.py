"""Causes and verdicts as a person would use them: an outcome kept, two rolls compared, a mark drawn and taken away with two taps."""

from __future__ import annotations

import pytest

pytestmark = [pytest.mark.browser]


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


def test_a_mark_is_drawn_and_taken_away_with_two_taps(site: str, chromium) -> None:
    page = chromium.new_page()
    page.goto(f"{site}/glass/R07?frame=1")
    page.click("text=Read the roll")
    page.goto(f"{site}/glass/R07?frame=1")
    # The page loads itself anew when the reading has ended.
    page.locator("#work").wait_for(state="detached", timeout=120_000)
    before = page.locator(".film-mark").count()
    page.locator("label", has_text="an area").click()
    box = page.locator("#negative").bounding_box()
    page.mouse.move(box["x"] + 150, box["y"] + 110)
    page.mouse.down()
    page.mouse.move(box["x"] + 190, box["y"] + 150, steps=4)
    page.mouse.up()
    page.locator("button", has_text="This is a mark").click()
    page.wait_for_url("**/glass/R07?frame=1")
    assert page.locator(".film-mark").count() == before + 1
    page.locator(".film-mark").last.click()
    page.locator("#verdict button", has_text="Not a mark").click()
    page.wait_for_load_state("networkidle")
    assert page.locator(".film-mark").count() == before
    page.close()
