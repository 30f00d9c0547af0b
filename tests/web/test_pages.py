"""Every page in a real Chromium: content, no sideways scroll, nothing serious for a screen reader, both schemes."""

from __future__ import annotations

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe

pytestmark = [pytest.mark.browser]
PAGES = {
    "/shelf": "R02", "/shelf/write?kind=roll&roll=R77": "Write it into the book", "/plan": "What the plan rests on", "/bench": "Start a run", "/glass": "Put scans on the glass", "/glass/R02?frame=2": "Read the roll", "/print": "Choose a roll",
    "/control": "Departures from the aim", "/control/sheet": "Set the aim",
    "/causes?of=R03": "weak bleach: retained silver", "/stocks?name=TUN200X": "working EI", "/ink": "lines", "/ink?thing=roll:R01": "The life of R01",
}  # fmt: skip
#: What a wet thumb would miss: keys, fields and folds under 44 px, the least that a thumb hits (common practice).
TOO_SMALL = """() => [...document.querySelectorAll("main button, main .button, main summary, main select, main input:not([type=hidden], [type=checkbox], [type=radio], [type=range]), main label.tick")]
  .filter((one) => { const at = one.getBoundingClientRect(); return at.width && at.height && Math.min(at.width, at.height) < 43.5; })
  .map((one) => `${one.tagName} ${one.className} ${one.textContent.trim().slice(0, 30)}`)"""


@pytest.mark.parametrize("size", [(390, 844), (1440, 900)])
@pytest.mark.parametrize("path", PAGES)
def test_a_page_has_its_content_fits_the_screen_and_speaks(
    site: str, chromium, path: str, size: tuple[int, int]
) -> None:
    scheme = "light" if size[0] == 390 else "dark"
    context = chromium.new_context(viewport={"width": size[0], "height": size[1]}, color_scheme=scheme)
    page = context.new_page()
    slips: list[str] = []
    page.on("console", lambda message: slips.append(message.text) if message.type == "error" else None)
    page.goto(site + path)
    page.locator("main", has_text=PAGES[path]).wait_for(
        timeout=120_000
    )  # a grey scale is read first, with its progress
    page.wait_for_load_state("networkidle")
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    found = [v for v in Axe().run(page).response["violations"] if v["impact"] in ("serious", "critical")]
    assert not found, [(v["id"], [n["html"][:120] for n in v["nodes"][:2]]) for v in found]
    assert not slips
    if size[0] == 390:
        assert page.evaluate(TOO_SMALL) == []
    context.close()


def test_a_density_is_read_under_the_finger(site: str, chromium) -> None:
    page = chromium.new_page()
    page.goto(f"{site}/glass/R02?frame=2")
    page.locator("#negative").click(position={"x": 200, "y": 150})
    page.locator("#readout", has_text="±").wait_for()
    assert "camera density" in page.inner_text("#readout")
    page.close()


def test_dropped_scans_are_looked_at(site: str, chromium, book_home: Path) -> None:
    page = chromium.new_page()
    page.goto(f"{site}/glass")
    files = sorted((book_home / "scans" / "R08").glob("*.jpg"))[:3]
    page.set_input_files("#files", [str(f) for f in files])
    page.wait_for_url("**/look", timeout=60_000)
    page.locator("#sheet").wait_for(timeout=120_000)
    assert "First look" in page.inner_text("main") and "Next test" in page.inner_text("main")
    assert page.locator(".contact li").count() == 3
    page.locator("label", has_text="the scanner").click()
    page.click("text=Look again with these answers")
    assert "it stays with the scanner" in page.inner_text("main").lower(), page.inner_text("main")
    page.fill("input[name=name]", "R02")
    page.fill("input[name=stock]", "DAY90")
    page.click("button:has-text('Keep it')")
    assert "already" in page.inner_text("#keep") and page.input_value("input[name=stock]") == "DAY90"
    page.fill("input[name=name]", "FIRST 1")
    page.click("button:has-text('Keep it')")
    page.wait_for_url("**/causes?of=FIRST*")
    assert len(list((book_home / "scans" / "FIRST 1").iterdir())) == 3
    page.close()


def test_a_note_is_written_and_struck_through(site: str, chromium) -> None:
    page = chromium.new_page()
    page.goto(f"{site}/ink")
    page.fill("input[name=text]", "the window was open")
    page.fill("input[name=about]", "roll:R06")
    page.click("text=Note it")
    page.goto(f"{site}/ink?thing=roll:R06")
    page.locator("li", has_text="the window was open").locator("a[href^='/ink/line/']").click()
    page.fill("input[name=reason]", "it was shut")
    page.click("text=Strike it through")
    assert "struck through" in page.inner_text("main")
    page.close()


def test_a_plan_of_the_shelf_is_made_row_by_row_kept_and_found_again(site: str, chromium) -> None:
    page = chromium.new_page()
    page.goto(f"{site}/plan")
    rows = page.locator("[name^='rolls '][name$=' id']")
    waiting = [rows.nth(k).input_value() for k in range(rows.count())]
    assert "R10" in waiting, "the roll that waits on the shelf"
    page.click("text=Another roll")
    new = len(waiting)
    page.fill(f"[name='rolls {new} id']", "SIDE ROLL")
    page.fill(f"[name='rolls {new} length_mm']", "0,5")
    page.click("text=Plan it")
    assert "Harbour Lab: expected a price a roll or a metre" in page.inner_text("main")
    page.fill("[name='labs 0 price_per_roll']", "fourteen")
    page.click("text=Plan it")
    assert "Harbour Lab: Price a roll: a number was expected" in page.inner_text("main")
    assert page.input_value(f"[name='rolls {new} id']") == "SIDE ROLL", "a slip loses nothing"
    page.fill("[name='labs 0 price_per_roll']", "15")
    page.click("text=Plan it")
    page.wait_for_selector("#do")
    assert "SIDE ROLL" in page.inner_text(".days") and "proved" in page.inner_text("main")
    page.click("text=Keep this plan in the book")
    page.wait_for_url("**/plan?kept=1")
    assert page.input_value("[name='labs 0 price_per_roll']") == "15"
    page.goto(f"{site}/ink?kind=plan")
    assert "SIDE ROLL" in page.inner_text("main")
    page.close()


def test_an_index_is_carried_to_a_shoot_and_held_against_the_card(site: str, chromium) -> None:
    page = chromium.new_page()
    page.goto(f"{site}/stocks?name=TUN200X")
    page.locator("button", has_text="to the shoot").click(timeout=120_000)
    page.wait_for_url("**/stocks?name=TUN200X*")
    assert "It still holds." in page.inner_text("main")
    page.goto(f"{site}/ink?kind=issued")
    assert "TUN200X" in page.inner_text("main")
    page.close()


def test_a_run_is_started_from_a_phone(site: str, chromium) -> None:
    context = chromium.new_context(viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(f"{site}/bench")
    page.wait_for_load_state("networkidle")
    page.locator("#start button[type=submit]").click()
    page.wait_for_url("**/bench/*", timeout=20_000)
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    context.close()


def test_an_area_is_read_and_shown_as_the_picture(site: str, chromium) -> None:
    page = chromium.new_page()
    page.goto(f"{site}/glass/R02?frame=2&shade=shared")
    page.locator("label", has_text="an area").click()
    box = page.locator("#negative").bounding_box()
    page.mouse.move(box["x"] + 120, box["y"] + 100)
    page.mouse.down()
    page.mouse.move(box["x"] + 260, box["y"] + 200, steps=4)
    page.mouse.up()
    page.locator("#area svg").first.wait_for()
    assert page.locator("#area svg").count() == 3 and "±" in page.inner_text("#area")
    page.locator("button", has_text="This is the picture").click()
    page.wait_for_url("**/glass/R02?frame=2")
    page.goto(f"{site}/ink?thing=roll:R02")
    assert "picture shown" in page.inner_text("main")
    page.close()


def test_a_run_that_follows_a_good_one_takes_over_what_it_had(site: str, chromium) -> None:
    page = chromium.new_page(viewport={"width": 390, "height": 844})
    page.goto(f"{site}/bench")
    page.select_option("select[name=like]", "run 1")
    assert page.input_value("select[name=tank]") == "two-reel tank"
    assert page.input_value("input[name=reel1]") == "A"
    assert page.input_value("select[name='bath developer']") == "developer 1"
    page.fill("input[name=roll1]", "R77")
    page.click("text=Start a run >> nth=-1")
    page.wait_for_url("**/bench/run-*")
    page.locator("#like", has_text="run 1 had").wait_for()
    page.close()
