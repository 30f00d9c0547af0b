"""The print room in a real Chromium: lights change the picture, are kept as lines, and the printed roll honours them."""

from __future__ import annotations

import json
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe

from wetside.app.printing import print_room
from wetside.app.printing.corrections import NAMES
from wetside.app.printing.positive import PositiveOptions, positive
from wetside.app.printing.trims import keep_trims, trims_of
from wetside.figures.finding import Unusable
from wetside.stages.positive.fit import fitted_tone, neutral_trim
from wetside.store.scans.folder import listing


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory, lay_room: Callable[[Path, str], None]) -> Path:
    """A book with one roll that was read for printing."""
    home = tmp_path_factory.mktemp("room")
    lay_room(home, "R02")
    return home


@pytest.fixture(scope="module")
def ready(site: str, book_home: Path, lay_room: Callable[[Path, str], None]) -> str:
    """A roll of the served book that was read and printed, its own so that no test waits for another."""
    if not (book_home / "scans" / "R02-ready").exists():
        lay_room(book_home, "R02-ready")
        positive(
            book_home / "scans" / "R02-ready",
            PositiveOptions(book_home / "positives" / "R02-ready", kind="jpeg"),
        )
    return "R02-ready"


def decoded(data: bytes) -> np.ndarray:
    return cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)[..., ::-1]


TRIM = (0.15, 0.05, -0.1)


@pytest.fixture(scope="module")
def full_size(printed: Path, tmp_path_factory: pytest.TempPathFactory) -> list[dict]:
    """The roll printed at full size, its third frame trimmed."""
    file = print_room.room(printed, "R02")["frames"][2]["file"]
    out = tmp_path_factory.mktemp("full")
    how = PositiveOptions(out, even=True, kind="jpeg", trims={file: TRIM})
    found: list[dict] = positive(printed / "scans" / "R02", how)["frames"]
    return found


@pytest.mark.independent(how="the full printing of the same frame with the same trim, made smaller")
@pytest.mark.parametrize(("number", "trim"), [(1, (0.0, 0.0, 0.0)), (2, TRIM)])
def test_the_small_picture_is_the_printed_one(
    printed: Path, full_size: list[dict], number: int, trim: tuple[float, float, float]
) -> None:
    file = full_size[number]["file"]
    full = cv2.imread(full_size[number]["picture"])[..., ::-1]
    small = decoded(print_room.picture(printed, "R02", file, trim))
    full = cv2.resize(full, small.shape[1::-1], interpolation=cv2.INTER_AREA)
    inner = (
        slice(small.shape[0] // 4, -small.shape[0] // 4),
        slice(small.shape[1] // 4, -small.shape[1] // 4),
    )
    # Both are JPEG, of different quality: their grain differs, their tones over 9 × 9 pixels do not.
    full, small = (cv2.blur(one[inner].astype(np.float32), (9, 9)) for one in (full, small))
    assert np.abs(full - small).mean() < 0.8 and np.percentile(np.abs(full - small), 99) < 3


def test_more_light_prints_lighter_and_evenness_can_be_switched_off(printed: Path) -> None:
    file = print_room.room(printed, "R02")["frames"][0]["file"]
    plain = decoded(print_room.picture(printed, "R02", file, (0, 0, 0))).mean()
    assert decoded(print_room.picture(printed, "R02", file, (0.2, 0.2, 0.2))).mean() > plain + 5
    red = decoded(print_room.picture(printed, "R02", file, (0.2, 0, 0)))
    assert red[..., 0].mean() - red[..., 2].mean() > 5
    assert print_room.picture(printed, "R02", file, (0, 0, 0), frozenset(NAMES)) != print_room.picture(
        printed, "R02", file, (0, 0, 0)
    )


@pytest.mark.independent(how="the trimmed densities sent through the tone's table")
def test_a_grey_spot_is_grey_after_its_trim() -> None:
    rng = np.random.default_rng(4)
    tone = fitted_tone(rng.uniform(0.1, 1.6, (5000, 3)) * np.array([0.9, 1.0, 1.1]))
    above = np.array([0.5, 0.62, 0.81])
    trimmed = above + np.array(neutral_trim(above, tone.table))
    d = np.linspace(0, 4, len(tone.table))
    x = [float(np.interp(trimmed[i], d, tone.table[:, i])) for i in range(3)]
    assert max(x) - min(x) < 1e-3 and trimmed[1] == pytest.approx(above[1])
    assert neutral_trim(above, None) == pytest.approx((0.12, 0.0, -0.19))


def test_a_long_roll_is_shown_round_a_frame(printed: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("wetside.app.viewing.glass.LONG", 2)
    monkeypatch.setattr("wetside.app.viewing.glass.AROUND", 0)
    whole = print_room.room(printed, "R02")
    last = whole["count"]
    assert len(whole["frames"]) == last
    for near, seen in ((1, 1), (2, 2), (99, last)):
        found = print_room.room(printed, "R02", near)
        assert [one["number"] for one in found["frames"]] == [seen] and found["count"] == last
        assert found["frames"][0] == whole["frames"][seen - 1]


def test_a_frame_that_could_not_be_read_says_why_in_its_place(
    site: str, book_home: Path, lay_room: Callable[[Path, str], None]
) -> None:
    lay_room(book_home, "R02-torn")
    first = listing(book_home / "scans" / "R02-torn").frames[0]
    first.write_bytes(first.read_bytes()[:60_000])
    print_room.prepare(book_home, "R02-torn")
    with urllib.request.urlopen(f"{site}/print/R02-torn?frame=1", timeout=60) as answer:
        page = answer.read().decode()
    assert page.count('<li class="lost"') == 1 and f"<strong>{first.name}</strong>, cut off" in page
    assert '<span id="name">2 · ' in page
    with urllib.request.urlopen(f"{site}/print/R02-torn/contact", timeout=60) as answer:
        assert answer.read().decode().count("cannot be read") == 1


def test_trims_are_lines_and_the_last_counts(tmp_path: Path) -> None:
    files = {"a.tif", "b.tif"}
    assert keep_trims(tmp_path, "R", {"a.tif": (0.1, 0, 0), "": (0, 0.05, 0)}, files) == 2
    assert keep_trims(tmp_path, "R", {"a.tif": (0.1, 0, 0)}, files) == 0
    assert keep_trims(tmp_path, "R", {"a.tif": (0, 0, 0), "b.tif": (0, 0, -0.2)}, files) == 2
    assert trims_of(tmp_path, "R") == ({"b.tif": (0, 0, -0.2)}, (0, 0.05, 0))
    for wrong in ({"c.tif": (0, 0, 0)}, {"a.tif": (9, 0, 0)}, {"a.tif": (float("nan"), 0, 0)}):
        with pytest.raises(Unusable):
            keep_trims(tmp_path, "R", wrong, files)


@pytest.mark.browser
@pytest.mark.parametrize("size", [(390, 844), (1440, 900)])
def test_a_roll_is_read_trimmed_by_keyboard_kept_and_printed(
    site: str, chromium, book_home: Path, size: tuple[int, int]
) -> None:
    roll = "R07" if size[0] == 390 else "R02"
    page = chromium.new_context(
        viewport={"width": size[0], "height": size[1]}, color_scheme="dark" if size[0] == 390 else "light"
    ).new_page()
    slips: list[str] = []
    page.on("console", lambda message: slips.append(message.text) if message.type == "error" else None)
    page.goto(f"{site}/print/{roll}")
    page.click("text=Read the roll for printing")
    page.locator("#room").wait_for(timeout=120_000)
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    found = [v for v in Axe().run(page).response["violations"] if v["impact"] in ("serious", "critical")]
    assert not found, [(v["id"], [n["html"][:120] for n in v["nodes"][:2]]) for v in found]
    second = page.locator("[data-frame='1']")
    second.focus()
    page.keyboard.press("ArrowRight")
    page.locator("#name", has_text="2 · ").wait_for()
    page.locator("#light-r").focus()
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    page.locator("[data-stops='r']", has_text="+0.17").wait_for()
    page.locator("#picture[href*='r=0.0500']").wait_for()
    page.locator("#split").check()
    page.locator("#scanned[href*='leave=light']").wait_for()
    page.locator("#split").uncheck()
    width, height = (
        int(page.locator("[data-frame='2']").get_attribute(f"data-{of}") or 0) for of in ("width", "height")
    )
    x, y, w, h = (int(v) for v in (page.locator("#positive").get_attribute("viewBox") or "").split())
    assert x > 0 and y > 0 and x + w < width and y + h < height
    page.locator("#alone").uncheck()
    page.locator(f"#positive[viewBox='0 0 {width} {height}']").wait_for()
    page.locator("[data-frame='2'] img[src*='alone=false']").wait_for()
    page.locator("#alone").check()
    page.click("text=Print the roll")
    page.locator("#kept", has_text="Keep the lights first").wait_for()
    page.click("#keep")
    page.locator("#kept", has_text="1 line in the book").wait_for()
    page.locator("#make select[name=kind]").select_option("jpeg")
    page.locator("#make summary", has_text="A moving roll").click()
    page.locator("#make input[name=sequence]").fill("ferry")
    page.locator("#make button[type=submit]").click()
    many = page.locator("[data-frame]").count()
    page.locator(".said", has_text=f"{many} pictures").wait_for(timeout=60_000)
    file = page.locator("[data-frame='2']").get_attribute("data-file")
    assert trims_of(book_home, roll)[0] == {file: (0.05, 0.0, 0.0)}
    sheet = json.loads((book_home / "positives" / roll / "positive.json").read_text())
    assert sheet["trims"] == {file: [0.05, 0.0, 0.0]}
    second = cv2.imread(str(book_home / "positives" / roll / "ferry.0000002.jpg"))
    assert second.shape[:2] == tuple(sheet["cuts"][file][3:1:-1])
    assert not slips
    page.context.close()


@pytest.mark.independent(how="the sheet's JPEG decoded; its first cell against the frame's own picture")
def test_the_contact_sheet_holds_every_frame_with_its_figures(printed: Path) -> None:
    from wetside.app.printing import proofs

    frames = print_room.room(printed, "R02")["frames"]
    print_room.keep(printed, "R02", {frames[1]["file"]: (0.05, 0.0, -0.025)})
    sheet = proofs.contact(printed, "R02")
    assert [f["number"] for f in sheet["frames"]] == list(range(1, len(frames) + 1))
    assert "light +0.050 +0.000 −0.025 D" in sheet["frames"][1]["says"]
    paper = decoded(proofs.contact_jpeg(printed, "R02"))
    first = decoded(
        print_room.picture(printed, "R02", frames[0]["file"], (0, 0, 0), width=proofs.CELL, alone=True)
    )
    top, left = proofs.LABEL + proofs.GAP, proofs.GAP
    cell = paper[top : top + first.shape[0], left : left + first.shape[1]]
    assert np.abs(cell.astype(float) - first).mean() < 4
    assert proofs.colourist(printed, "R02") == []


@pytest.mark.browser
@pytest.mark.parametrize("path", ["contact", "colourist"])
@pytest.mark.parametrize("size", [(390, 844), (1440, 900)])
def test_the_sheets_fit_and_speak(site: str, chromium, ready: str, path: str, size: tuple[int, int]) -> None:
    scheme = "light" if size[0] == 390 else "dark"
    page = chromium.new_context(
        viewport={"width": size[0], "height": size[1]}, color_scheme=scheme
    ).new_page()
    page.goto(f"{site}/print/{ready}/{path}", wait_until="networkidle")
    assert ("Output" if path == "colourist" else "Frame") in page.content()
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    found = [v for v in Axe().run(page).response["violations"] if v["impact"] in ("serious", "critical")]
    assert not found, [(v["id"], [n["html"][:120] for n in v["nodes"][:2]]) for v in found]
    if path == "contact":
        assert page.pdf()[:5] == b"%PDF-"
    page.context.close()


@pytest.mark.browser
def test_the_cross_is_moved_by_arrows_and_makes_a_spot_grey(site: str, chromium, ready: str) -> None:
    page = chromium.new_page()
    page.goto(f"{site}/print/{ready}?frame=1")
    page.locator("#grey").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")
    page.locator("#readout", has_text="grey at").or_(
        page.locator("#readout", has_text="cannot say")
    ).wait_for()
    page.close()


@pytest.mark.parametrize(
    ("path", "body", "status"),
    [
        ("/print/nowhere", None, 422),
        ("/print/..%2F..%2Fetc", None, 400),
        ("/print/R02/no.tif/picture.jpg", None, 404),
        ("/print/R02/no.tif/picture.jpg?r=nan", None, 422),
        ("/print/R02/trims", {"trims": {"no.tif": [0, 0, 0]}}, 422),
        ("/print/R02/trims", {"trims": {"": [9, 0, 0]}}, 422),
        ("/print/R02/trims", {"trims": {"": [0, 0]}}, 422),
        ("/print/R02/trims", [], 422),
    ],
)
def test_bad_requests_are_a_line(site: str, path: str, body: object, status: int) -> None:
    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(site + path, data, {"content-type": "application/json", "origin": site})
    with pytest.raises(urllib.error.HTTPError) as slip:
        urllib.request.urlopen(request, timeout=20)
    assert slip.value.code == status
