"""Mixing as its user does it: ask for a sheet, read it, write the bottles down, print their labels."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

pytestmark = [pytest.mark.browser]
ASKED = "process=ecn-2&gauge1=135&tank_ml=600&tank_reels=2&tank_g=350&hot_c=55&cold_c=12&stock=1&water=4"


def test_a_sheet_is_made_bottles_are_written_down_and_labelled(site: str, chromium) -> None:
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    page.goto(f"{site}/bench")
    page.click("text=Mix: quantities")
    page.select_option("select[name=process]", "ecn-2")
    page.select_option("select[name=tank]", "two-reel tank")
    page.select_option("select[name=gauge1]", "135")
    page.fill("input[name=tank_c]", "21,5")
    page.fill("input[name=hot_c]", "55")
    page.fill("input[name=cold_c]", "12")
    page.click("text=Make the sheet")
    said = page.inner_text("main")
    assert "presoak at" in said and "350 mL" in said and "H317" in said
    assert page.pdf(format="A4").count(b"/Type /Page\n") <= 4  # sections run on: no page of one heading
    page.fill("input[name='name developer']", "developer of May")
    page.fill("input[name='name fixer']", "fixer of May")
    page.click("text=Write them down")
    page.wait_for_url("**/mix/labels?*")
    assert page.locator(".labels li").count() == 2
    assert page.locator(".labels svg path").count() >= 2
    assert "developer of May" in page.inner_text(".labels")
    page.goto(f"{site}/mix")
    assert "developer of May" in page.inner_text(".bottles")
    page.click("text=fixer of May is emptied")
    page.wait_for_url("**/mix?emptied=*")
    assert "developer of May" in page.inner_text(".bottles")
    assert "fixer of May" not in page.inner_text(".bottles")
    assert "off the shelf" in page.inner_text("main") and "collection point" in page.inner_text("main")
    page.close()


def test_a_thermometer_is_compared_on_the_page(site: str, chromium) -> None:
    page = chromium.new_page()
    page.goto(f"{site}/mix")
    page.fill("form.write input[name=thermometer]", "old glass rod")
    page.fill("input[name=read_c]", "40,2")
    page.fill("input[name=true_c]", "41")
    page.click("text=Note the comparison")
    page.wait_for_url("**/mix?compared=*#gauges")
    assert "read 40.2 °C where a better one read 41 °C" in page.inner_text("main")
    page.goto(f"{site}/mix?process=c-41&volume=500&tank_g=300&thermometer=old+glass+rod")
    assert "presoak at" in page.inner_text("main")
    page.close()


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("volume=-5", "20 to 20000 mL"),
        ("volume=warm", "a number is expected"),
        ("volume=500&tank_g=300&tank_c=-4", "0 to 60 °C"),
        ("volume=500&hot_c=120&cold_c=10", "0 to 100 °C"),
        ("volume=500&hot_c=10&cold_c=40", "warmer than the cold one"),
        ("volume=500&stock=0&water=4", "parts above zero"),
        ("gauge1=135", "give volume"),
        ("tank=no+such&volume=500", "no tank"),
        ("volume=500&kit_makes=300&part_ml1=30", "the kit makes 300"),
    ],
)
def test_an_impossible_figure_is_one_line_on_the_page(site: str, chromium, asked: str, said: str) -> None:
    page = chromium.new_page()
    answer = page.goto(f"{site}/mix?process=ecn-2&{asked}")
    assert answer is not None and answer.status == 422
    assert said in page.inner_text(".said")
    page.close()


@pytest.mark.parametrize("path", [f"/mix?{ASKED}", "/mix/labels", "/mix"])
@pytest.mark.parametrize("width", [390, 1440])
def test_the_sheet_fits_and_speaks(site: str, chromium, path: str, width: int) -> None:
    page = chromium.new_page(viewport={"width": width, "height": 900}, color_scheme="dark")
    page.goto(site + path)
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    found = [v for v in Axe().run(page).response["violations"] if v["impact"] in ("serious", "critical")]
    assert not found, [(v["id"], [n["html"][:120] for n in v["nodes"][:2]]) for v in found]
    page.close()
