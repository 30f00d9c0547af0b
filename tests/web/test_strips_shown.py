"""Strips of one file shown by hand on the glass: the file is cut by them, read, and what was found by itself comes back."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile
from benchmarks.lengths import Held, held
from fastapi.testclient import TestClient

from wetside.app.reading.lengths import parts_of
from wetside.app.reading.read import ReadOptions, read
from wetside.app.viewing import glass
from wetside.figures.place import Rectangle
from wetside.web.server import create_app


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, tuple[Rectangle, ...]]:
    """A book with a file of two strips, the second of them without gaps: it cannot be cut by itself."""
    home = tmp_path_factory.mktemp("book")
    folder = home / "scans" / "R9"
    folder.mkdir(parents=True)
    known = held(Held((4, 4)), 12)
    first = known.pictures[4]
    pixels = known.pixels.copy()
    band = pixels[first.y : first.y + first.h, first.x : known.pictures[7].x + first.w]
    band[:] = np.resize(pixels[first.y : first.y + first.h, first.x : first.x + first.w], band.shape)
    tifffile.imwrite(folder / "s1.tif", pixels, photometric="rgb")
    return home, known.pictures


def around(pictures: tuple[Rectangle, ...], room: int = 30) -> Rectangle:
    left, top = min(p.x for p in pictures), min(p.y for p in pictures)
    right, foot = max(p.x + p.w for p in pictures), max(p.y + p.h for p in pictures)
    return Rectangle(max(0, left - room), max(0, top - room), right - left + 2 * room, foot - top + 2 * room)


def lines(*boxes: Rectangle) -> str:
    return "\n".join(", ".join(str(v) for v in box) for box in boxes)


@pytest.mark.independent(how="strips drawn with known pictures, shown by rectangles around them")
def test_a_file_that_cannot_be_cut_is_cut_by_the_strips_that_are_shown(
    sheet: tuple[Path, tuple[Rectangle, ...]],
) -> None:
    home, pictures = sheet
    site = TestClient(create_app(home), base_url="http://127.0.0.1:8000", client=("127.0.0.1", 50000))
    at = "/glass/R9/s1.tif/strips"
    assert "Show its strips" in site.get("/glass/R9").text and "seem to lie side by side" in site.get(at).text
    below, above = around(pictures[:4]), pictures[5]
    page = site.post(at, data={"do": "strips", "boxes": lines(above, around((pictures[4],), 12), below)}).text
    assert "6 frames on 2 strips" in page and "seem to lie" not in page
    parts = parts_of(home / "scans" / "R9" / "s1.tif")
    assert [part.strip for part in parts] == [1, 1, 1, 1, 2, 2]
    for part, picture in zip(parts, (*pictures[:4], pictures[4], pictures[5])):
        assert abs(part.box.centre[0] - picture.centre[0]) < 0.06 * picture.w
        assert abs(part.box.centre[1] - picture.centre[1]) < 0.06 * picture.h
    found = read(home / "scans" / "R9", ReadOptions(gauge="135", marks=False))
    assert [frame.file for frame in found.frames] == [f"s1.tif#{n}" for n in range(1, 7)]
    assert "strips-unsure" not in {f.id for f in found.findings}
    assert [f["file"] for f in glass.strip(home, "R9")["frames"]] == [frame.file for frame in found.frames]
    seen = glass.view(home, "R9", "s1.tif#1", 200)
    site.post(at, data={"do": "strips", "boxes": lines(pictures[5], pictures[4])})
    assert (
        glass.view(home, "R9", "s1.tif#1", 200) != seen
    )  # the small copy of the frame that was cut before is stale
    assert "Cut as you showed it: 1 frame." in site.post(at, data={"do": "one"}).text
    assert "seem to lie side by side" in site.post(at, data={"do": "undo"}).text


def test_what_is_no_strip_is_one_line_and_what_was_typed_stays(
    sheet: tuple[Path, tuple[Rectangle, ...]],
) -> None:
    site = TestClient(create_app(sheet[0]), base_url="http://127.0.0.1:8000", client=("127.0.0.1", 50000))
    at = "/glass/R9/s1.tif/strips"
    for typed, said in (("", "draw a rectangle"), ("1, 2, 3", "four whole numbers"), ("9, 9, 4, 4", "at least 32"), ("0,0,90,90\n" * 41, "at most 40")):  # fmt: skip
        page = site.post(at, data={"do": "strips", "boxes": typed}).text
        assert said in page and typed.split("\n")[0] in page
    assert site.get("/glass/R9/none.tif/strips").status_code == 422
