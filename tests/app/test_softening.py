"""Stains taken off a roll: only where the unexposed film and the picture show one density, never made up, always said."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
from benchmarks.stains import PICTURE, Planted, answer, left_over, planted

from wetside.app.printing import print_room
from wetside.app.printing.making import Making, make
from wetside.app.printing.positive import PositiveOptions, positive
from wetside.app.printing.softening import marks_of
from wetside.app.reading.read import ReadOptions, read
from wetside.figures.finding import CannotSay, Unusable
from wetside.figures.place import Rectangle
from wetside.figures.stain import Stain
from wetside.store.scans.originals import write_tiff16

DELTA = (0.0, 0.02, 0.20)


def stained(
    kind: str = "adds",
    delta: tuple[float, float, float] = DELTA,
    edge: float = 0.8,
    number: int = 0,
    seed: int = 5000,
) -> Planted:
    return planted(number, kind, delta, edge, seed)


@pytest.mark.independent(how="stains planted in photographs by a model that the measuring does not know")
@pytest.mark.parametrize(
    "case",
    [(0, 0.8, DELTA), (7, 2.0, (0.15, 0.15, 0.15)), (4, 2.0, (0.0, 0.12, 0.0)), (6, 0.8, (0.3, 0.25, 0.2))],
)
def test_a_flat_stain_is_taken_off_to_a_hundredth(
    case: tuple[int, float, tuple[float, float, float]],
) -> None:
    number, edge, delta = case
    plant = planted(number, "adds", delta, edge, 5000 + number)
    found = answer(plant)
    assert isinstance(found, Stain), found
    flat, rim = left_over(plant, found)
    assert flat <= 0.01 and rim < 0.6 * max(delta)
    assert max(abs(a - b) for a, b in zip(found.density, delta)) <= 0.01
    assert abs(found.share - 1) <= 3 * found.doubt + 0.1


@pytest.mark.independent(how="marks planted as a factor on density, and as a factor with a stain over it")
@pytest.mark.parametrize("kind", ["scales", "both"])
def test_a_mark_that_grows_with_density_is_refused_with_the_reason(kind: str) -> None:
    for number in range(6):
        found = answer(planted(number, kind, (0.3, 0.25, 0.2), 2.0, 5000 + number))
        assert isinstance(found, CannotSay)
        if kind == "scales":
            assert "grows with density" in found.reason


def test_a_scratch_a_thinning_and_a_mark_inside_the_picture_are_refused() -> None:
    plant = stained()
    scratch = Rectangle(plant.box.x, PICTURE.y - 4, 3, 200)
    thin = Planted(plant.truth.astype(np.float32), plant.truth, plant.weight, scratch)
    assert "scratch" in answer(thin).reason  # type: ignore[attr-defined]
    inside = Planted(plant.seen, plant.truth, plant.weight, Rectangle(400, 300, 60, 60))
    assert "picture alone" in answer(inside).reason  # type: ignore[attr-defined]
    taken = Planted((2 * plant.truth - plant.seen).astype(np.float32), plant.truth, plant.weight, plant.box)
    assert "takes density away" in answer(taken).reason  # type: ignore[attr-defined]


@pytest.fixture(scope="module")
def roll(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[int, Planted]]:
    """Four frames; a stain over the rim of the second, a mark that grows with density on the third."""
    home = tmp_path_factory.mktemp("home")
    folder = home / "scans" / "S1"
    folder.mkdir(parents=True)
    plants = {
        1: stained(number=1, seed=41),
        2: stained(),
        3: stained("scales", (0.5, 0.4, 0.4), number=3, seed=5003),
        4: stained(number=4, seed=44),
    }
    for i, plant in plants.items():
        density = (
            plant.seen
            if i in (2, 3)
            else plant.truth + 0.008 * np.random.default_rng(i).standard_normal(plant.truth.shape)
        )
        codes = 10**-density * 55000
        codes[:20] = codes[-20:] = 0
        write_tiff16(folder / f"s{i}.tif", codes.clip(0, 65535).astype(np.uint16))
    write_tiff16(folder / "open_gate.tif", np.full((700, 1000, 3), 55000, np.uint16))
    return home, plants


def density_of(out: Path, stem: str) -> np.ndarray:
    return -np.log10(np.maximum(tifffile.imread(out / f"{stem}.negative.tif").astype(float), 1) / 65535)


@pytest.mark.independent(how="the film without the stain against the evened negative")
def test_a_named_stain_leaves_the_negative_and_is_said_and_can_stay(
    roll: tuple[Path, dict[int, Planted]], tmp_path: Path
) -> None:
    home, plants = roll
    scans, out = home / "scans" / "S1", tmp_path / "out"
    marks = {"s2.tif": [plants[2].box], "s3.tif": [plants[3].box]}
    plain = positive(scans, PositiveOptions(out, negative="tiff", workers=1))
    assert not plain["marks_left"] and not any(c["id"].startswith("stain") for c in plain["corrections"])
    found = positive(scans, PositiveOptions(out, negative="tiff", workers=1, soften=marks))
    assert found["kept"] == 3  # the other frames are what they were
    one = next(c for c in found["corrections"] if c["id"] == "stain-1")
    assert one["made"] and one["size"] == pytest.approx(0.2, abs=0.01) and "unexposed film" in one["why"]
    stays = found["marks_left"]
    assert [m["file"] for m in stays] == ["s3.tif"] and "grows with density" in stays[0]["say"]
    core = plants[2].weight > 0.99
    away = density_of(out, "s2") - plants[2].truth
    assert np.abs(np.median(away[core], axis=0)).max() <= 0.01
    sheet = json.loads((out / "positive.json").read_text())
    assert sheet["marks_left"] == stays and any(c["id"] == "stain-1" for c in sheet["corrections"])
    assert "Mark that stays" in (out / "positive.txt").read_text()
    again = positive(scans, PositiveOptions(out, negative="tiff", workers=1, soften=marks))
    assert again["kept"] == 4
    left = positive(scans, PositiveOptions(out, negative="tiff", workers=1, soften=marks, leave=("stain-1",)))
    assert left["kept"] == 3 and not next(c for c in left["corrections"] if c["id"] == "stain-1")["made"]
    away = density_of(out, "s2") - plants[2].truth
    assert np.median(away[core], axis=0)[2] == pytest.approx(0.2, abs=0.01)
    with pytest.raises(Unusable, match="not a frame here"):
        positive(
            scans, PositiveOptions(tmp_path / "no", workers=1, soften={"s9.tif": [Rectangle(1, 1, 9, 9)]})
        )


@pytest.mark.independent(
    how="planted: a stain over the rim adds on the rebate, a change that grows with density does not"
)
def test_the_reading_says_which_mark_unexposed_film_shows_and_offers_none_that_lies_beside_the_pictures(
    roll: tuple[Path, dict[int, Planted]],
) -> None:
    home, plants = roll
    reading = read(home / "scans" / "S1", ReadOptions(gauge="135"))
    marks = {frame.file: frame.marks for frame in reading.frames}
    (shown,) = [mark for mark in marks["s2.tif"] if mark.in_rebate]
    x, y = shown.box.centre
    box = plants[2].box
    assert box.x <= x <= box.x + box.w and abs(y - PICTURE.y - (PICTURE.h if box.y > 300 else 0)) < 60
    assert np.abs(np.array(shown.delta) - np.array(DELTA)).max() < 0.01
    assert not any(mark.in_rebate for name in ("s1.tif", "s3.tif", "s4.tif") for mark in marks[name])
    beside = Rectangle(400, PICTURE.y - 60, 30, 20)
    frames = tuple(replace(f, marks=(replace(shown, box=beside),)) for f in reading.frames)
    assert marks_of(None, home / "scans" / "S1", replace(reading, frames=frames)) == {}
    at_rim = replace(shown, box=beside._replace(y=PICTURE.y - 26))
    frames = tuple(replace(f, marks=(at_rim,)) for f in reading.frames)
    assert len(marks_of(None, home / "scans" / "S1", replace(reading, frames=frames))) == 4


def test_one_stain_under_two_marks_is_taken_off_once(
    roll: tuple[Path, dict[int, Planted]], tmp_path: Path
) -> None:
    home, plants = roll
    box = plants[2].box
    near = Rectangle(box.x + 3, box.y, box.w - 5, box.h)
    found = positive(
        home / "scans" / "S1", PositiveOptions(tmp_path / "out", workers=1, soften={"s2.tif": [box, near]})
    )
    assert [c["id"] for c in found["corrections"] if c["id"].startswith("stain")] == ["stain-1"]


def test_the_print_room_offers_a_stain_that_was_drawn_and_prints_it_when_ticked(
    roll: tuple[Path, dict[int, Planted]], monkeypatch: pytest.MonkeyPatch
) -> None:
    from wetside.app.viewing.verdicts import judge_mark

    home, plants = roll
    judge_mark(home, "S1", "s2.tif", plants[2].box, "drawn")
    print_room.prepare(home, "S1")
    shown = print_room.room(home, "S1")
    offered = {c["id"]: c for c in shown["corrections"]}
    assert offered["stain-1"]["made"] is False
    usual = print_room.picture(home, "S1", "s2.tif", (0, 0, 0))
    left = frozenset(name for name in offered if name.startswith("stain-")) | {"mid-tones"}
    assert print_room.picture(home, "S1", "s2.tif", (0, 0, 0), left) == usual
    assert print_room.picture(home, "S1", "s2.tif", (0, 0, 0), left - {"stain-1"}) != usual
    assert print_room.picture(home, "S1", "s4.tif", (0, 0, 0), left - {"stain-1"}) == print_room.picture(
        home, "S1", "s4.tif", (0, 0, 0)
    )
    monkeypatch.delattr("wetside.app.printing.positive.read")  # what was read for the room is not read again
    made = make(home, "S1", Making(leave=left - {"stain-1"}, negative="tiff"))
    assert next(c for c in made["corrections"] if c["id"] == "stain-1")["made"]
    assert print_room.last_reading(home, "S1") is not None
    (home / "scans" / "S1" / "s4.tif").touch()
    assert print_room.last_reading(home, "S1") is None
    away = density_of(home / "positives" / "S1", "s2") - plants[2].truth
    assert np.abs(np.median(away[plants[2].weight > 0.99], axis=0)).max() <= 0.01
