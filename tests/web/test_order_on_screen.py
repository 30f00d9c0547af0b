"""Frames that bear their number: whichever way a roll was scanned, strip and contact sheet show them from the head."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile
from benchmarks.lengths import Laid, length

pytestmark = [pytest.mark.browser]


def numbered(folder: Path, turn) -> None:
    """Two lengths of two frames, each with as many bars as its number, written as they lie once turned."""
    folder.mkdir(parents=True)
    rng = np.random.default_rng(4)
    for file in (0, 1):
        known = length(Laid("135", 2), 40 + file, np.array([0.2, 0.5, 0.75]))
        pixels = known.pixels.astype(np.float64)
        first = known.pictures[0]
        base = np.median(
            pixels[first.y : first.y + first.h, first.x + first.w + 6 : first.x + first.w + 10], axis=(0, 1)
        )
        for n, (x, y, w, h) in enumerate(known.pictures, 1 + 2 * file):
            pixels[y : y + h, x : x + w] = 0.3 * base * rng.normal(1, 0.02, (h, w, 1))
            for bar in range(n):
                left = x + round((0.1 + 0.13 * bar) * w)
                pixels[y + h // 5 : y + 4 * h // 5, left : left + round(0.06 * w)] = 0.04 * base
        tifffile.imwrite(
            folder / f"s{file + 1}.tif", turn(pixels).clip(0, 65535).astype(np.uint16), photometric="rgb"
        )


def bars(element) -> int:
    """Narrow dark runs along the middle of what is on screen."""
    shown = cv2.imdecode(np.frombuffer(element.screenshot(), np.uint8), cv2.IMREAD_COLOR).max(axis=2)[:, 4:-4]
    middle = shown[shown.shape[0] // 2 - 2 : shown.shape[0] // 2 + 3].mean(axis=0)
    edges = np.flatnonzero(np.diff(np.r_[0, (middle < 80).astype(int), 0]))
    return sum(0 < int(b - a) < len(middle) / 8 for a, b in zip(edges[::2], edges[1::2]))


@pytest.mark.independent(how="frames drawn with as many bars as their number, counted on the screen")
@pytest.mark.parametrize(
    ("name", "turn", "head", "emulsion"),
    [
        ("tail first", lambda p: p[::-1, ::-1], "right", "up"),
        ("mirrored", lambda p: p[:, ::-1], "left", "down"),
    ],
)
def test_the_strip_and_the_contact_sheet_count_from_the_head(site: str, chromium, book_home: Path, name: str, turn, head: str, emulsion: str) -> None:  # fmt: skip
    numbered(book_home / "scans" / name, turn)
    page = chromium.new_page(viewport={"width": 1440, "height": 900})
    page.goto(f"{site}/glass/{name}", wait_until="networkidle")
    frames = page.locator(".strip li img")
    assert [bars(one) for one in frames.all()] == [2, 1, 4, 3]
    page.select_option("select[name=gauge]", "135")
    page.select_option("select[name=head]", head)
    page.select_option("select[name=emulsion]", emulsion)
    page.click("text=Read the roll")
    page.locator("dt", has_text="rung").wait_for(timeout=120_000)
    page.wait_for_load_state("networkidle")
    assert [bars(one) for one in frames.all()] == [1, 2, 3, 4]
    if name == "tail first":
        page.click("text=First look")
        page.locator(".contact").wait_for(timeout=120_000)
        page.wait_for_load_state("networkidle")
        assert [bars(one) for one in page.locator(".contact svg").all()] == [1, 2, 3, 4]
    page.close()


def test_a_frame_that_cannot_be_shown_is_a_bare_frame_and_a_word(
    site: str, chromium, book_home: Path
) -> None:
    folder = book_home / "scans" / "cut"
    folder.mkdir(parents=True)
    grey = np.random.default_rng(3).integers(9000, 9900, (90, 120, 3), dtype=np.uint16)
    for n in (1, 2):
        tifffile.imwrite(folder / f"c{n}.tif", grey, photometric="rgb")
    whole = (folder / "c2.tif").read_bytes()
    (folder / "c2.tif").write_bytes(whole[: len(whole) // 3])
    page = chromium.new_page(viewport={"width": 1440, "height": 900})
    page.goto(f"{site}/glass/cut?frame=2", wait_until="networkidle")
    assert "c2.tif cannot be shown" in page.locator(".lost-negative").inner_text()
    assert page.locator(".strip .lost-frame").count() == 1 and page.locator(".strip img").count() == 1
    page.close()
