"""Greys of a roll: named on the picture by mouse, finger and keyboard, fed to the fitted door, kept as a line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from wetside.app.printing import greyed, print_room
from wetside.app.printing.grey_lines import greys_from, greys_of, keep_greys, spots
from wetside.app.printing.making import Making, make
from wetside.app.printing.positive import PositiveOptions, positive
from wetside.app.printing.recipe import read_recipe
from wetside.cli.main import main
from wetside.figures.finding import Unusable
from wetside.store.scans.journal import PLACE


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory, lay_room: Callable[[Path, str], None]) -> Path:
    """A book with one roll that was read for printing."""
    found = tmp_path_factory.mktemp("greys")
    lay_room(found, "R02")
    return found


@pytest.fixture(scope="module")
def two(home: Path) -> tuple[str, str]:
    """The two squares of the first frame that lie farthest apart in density and are nowhere bare film."""
    frame = print_room.room(home, "R02")["frames"][0]
    bench = print_room.bench_of(home, "R02", "fitted")
    shrink = print_room.small(home, "R02", home / "scans" / "R02" / frame["file"]).shrink
    above = greyed._above(home, "R02", bench, frame["file"])
    places = [
        (float(np.median(above[y : y + 14, x : x + 14], axis=(0, 1))[1]), x, y)
        for y in range(120, above.shape[0] - 120, 20)
        for x in range(160, above.shape[1] - 160, 20)
        if np.median(above[y : y + 14, x : x + 14], axis=(0, 1)).min() > 0.1
    ]
    return tuple(
        f"{frame['file']}:{round(x * shrink)},{round(y * shrink)},{round(14 * shrink)},{round(14 * shrink)}"
        for _, x, y in (min(places), max(places))
    )  # type: ignore[return-value]


@pytest.mark.independent(
    how="the command's own fit of the same greys, from the scans in place of the small copies"
)
def test_the_room_fits_what_the_command_fits(home: Path, two: tuple[str, str], tmp_path: Path) -> None:
    greys = greys_from(two)
    fed, say = greyed.words_of(home, "R02", greys)
    assert fed and "from 2 greys" in say
    room = greyed.bench_with(home, "R02", "fitted", greys)
    positive(home / "scans" / "R02", PositiveOptions(tmp_path / "out", kind="jpeg", greys=greys))
    kept = read_recipe(tmp_path / "out" / PLACE / "recipe.npz")
    assert kept is not None and kept[0].table is not None and room.recipe.table is not None
    plain = print_room.bench_of(home, "R02", "fitted").recipe.table
    assert plain is not None
    inner = slice(200, 1600)  # 0.2 to 1.6 D above base
    off = np.abs(kept[0].table[inner] - room.recipe.table[inner]).max()
    moved = np.abs(kept[0].table[inner] - plain[inner]).max()
    # A twentieth of a stop; the greys themselves move the table by much more.
    assert off < 0.015 < 0.1 < moved


def test_greys_are_a_line_and_the_last_counts(tmp_path: Path) -> None:
    files = {"a.tif", "b.tif"}
    named = greys_from(["a.tif:1,2,10,10", "b.tif:5,6,12,12"])
    assert keep_greys(tmp_path, "R", named, files) == 1 and keep_greys(tmp_path, "R", named, files) == 0
    assert greys_of(tmp_path, "R") == named and greys_of(tmp_path, "S") == ()
    assert keep_greys(tmp_path, "R", (), files) == 1 and greys_of(tmp_path, "R") == ()
    for wrong in (["a.tif"], ["a.tif:1,2,3,3"], ["a.tif:1,2,10,10"] * 49):
        with pytest.raises(Unusable):
            greys_from(wrong)
    with pytest.raises(Unusable, match="no frame"):
        keep_greys(tmp_path, "R", greys_from(["c.tif:1,2,10,10"]), files)


def test_greys_too_near_are_refused_and_the_picture_stays(home: Path, two: tuple[str, str]) -> None:
    near = greys_from([two[1], two[1]])
    fed, say = greyed.words_of(home, "R02", near)
    assert not fed and "too near to tell a slope" in say and "what would help" in say
    with pytest.raises(Unusable, match="too near"):
        greyed.keep(home, "R02", near)
    assert greyed.bench_with(home, "R02", "fitted", near) is print_room.bench_of(home, "R02", "fitted")
    outside = greys_from([two[0], two[1].split(":")[0] + ":90000,90000,10,10"])
    assert "outside" in greyed.words_of(home, "R02", outside)[1]


def test_kept_greys_print_the_roll_here_and_by_the_command(
    home: Path,
    two: tuple[str, str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert greyed.keep(home, "R02", greys_from(two)) == 1
    made = make(home, "R02", Making("jpeg", leave=frozenset({"cast", "mid-tones"}), overwrite=True))
    assert "from 2 greys" in made["say"]
    monkeypatch.setenv("WETSIDE_HOME", str(home))
    call = ["positive", str(home / "scans" / "R02"), "--out", str(tmp_path / "o"), "--as", "jpeg"]
    assert main(call) in (0, 1)
    said = capsys.readouterr().out
    assert "greys of the book: 2" in said and "from 2 greys" in said
    assert main([*call, "--plain"]) in (0, 1)
    assert "greys of the book" not in capsys.readouterr().out
    assert greyed.keep(home, "R02", ()) == 1


@pytest.mark.browser
@pytest.mark.parametrize("how", ["mouse", "touch", "keyboard"])
def test_two_greys_are_named_on_the_picture_and_kept(
    site: str,
    chromium,
    book_home: Path,
    lay_room: Callable[[Path, str], None],
    two: tuple[str, str],
    how: str,
) -> None:
    roll = f"R02-{how}"
    lay_room(book_home, roll)
    size = {"width": 390, "height": 844} if how == "touch" else {"width": 1440, "height": 900}
    page = chromium.new_context(viewport=size, has_touch=how == "touch").new_page()
    page.goto(f"{site}/print/{roll}?frame=1")
    left, top, wide, high = (
        page.locator("#positive").evaluate(f"s => s.viewBox.baseVal.{of}")
        for of in ("x", "y", "width", "height")
    )
    asked = []
    for spot in two:
        x, y, w, h = (int(v) for v in spot.split(":")[1].split(","))
        asked.append((x + w // 2, y + h // 2))
    for i, (x, y) in enumerate(asked):
        if how == "keyboard":
            page.locator("#name-grey").focus()
            page.keyboard.press("Enter")
            step = round(wide / 100)
            for far, less, more in (
                (x - left - wide / 2, "ArrowLeft", "ArrowRight"),
                (y - top - high / 2, "ArrowUp", "ArrowDown"),
            ):
                for _ in range(round(abs(far) / step)):
                    page.keyboard.press(less if far < 0 else more)
            page.keyboard.press("Enter")
        else:
            page.click("#name-grey")
            page.locator("#positive").scroll_into_view_if_needed()
            to = page.locator("#positive").evaluate(
                "s => { const m = s.getScreenCTM(); return [m.a, m.d, m.e, m.f]; }"
            )
            at = (x * to[0] + to[2], y * to[1] + to[3])
            (page.touchscreen.tap if how == "touch" else page.mouse.click)(*at)
        page.locator("#named li").nth(i).wait_for()
    page.locator("#greys-say", has_text="from 2 greys").wait_for()
    page.locator("#picture[href*='grey=']").wait_for()
    assert page.locator("#spots rect:not(.edge)").count() == 2
    assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0
    page.click("#keep-greys")
    page.locator("#greys-say", has_text="One line in the book").wait_for()
    found = greys_of(book_home, roll)
    for (_, box), (x, y) in zip(found, asked):
        # The cross goes by hundredths of the width; a finger and a mouse hit within a few pixels of the page.
        assert abs(box.x + box.w / 2 - x) < wide / 80 and abs(box.y + box.h / 2 - y) < wide / 80
    page.reload()
    assert page.locator("#named li").count() == 2 and page.locator("#keep-greys").is_hidden()
    page.get_by_label("Take back: grey 1").click()
    page.locator("#greys-say", has_text="One more").wait_for()
    page.click("#drop-greys")
    assert page.locator("#named li").count() == 2
    page.context.close()


@pytest.mark.parametrize(
    ("path", "body", "status"),
    [
        ("/print/R02/greys?grey=nonsense", None, 422),
        ("/print/R02/no.tif/spot?x=1&y=1", None, 422),
        ("/print/R02/greys", {"greys": ["no.tif:1,1,10,10"]}, 422),
        ("/print/R02/greys", {"greys": "x"}, 422),
    ],
)
def test_bad_greys_are_a_line(site: str, path: str, body: object, status: int) -> None:
    import urllib.error
    import urllib.request

    data = None if body is None else json.dumps(body).encode()
    request = urllib.request.Request(site + path, data, {"content-type": "application/json", "origin": site})
    with pytest.raises(urllib.error.HTTPError) as slip:
        urllib.request.urlopen(request, timeout=20)
    assert slip.value.code == status


def test_spots_are_written_as_they_are_read() -> None:
    assert spots(greys_from(["a b.tif#2:1,2,10,10"])) == ["a b.tif#2:1,2,10,10"]
