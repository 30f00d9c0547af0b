"""The glass reads what `read` reads, takes places shown by hand, and shows what a roll's frames share."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import tifffile
from benchmarks.rolls import Setting, roll
from tests.stages.test_roll_of_known_truth import BASE, made_roll

from wetside.app.reading.read import PatchAt, ReadOptions, read
from wetside.app.viewing import by_hand, densitometer, glass
from wetside.book.kinds import RollLoaded
from wetside.figures.finding import Unusable
from wetside.figures.place import Rectangle
from wetside.stages.negative.measured.density_map import TOP, coloured, legend
from wetside.stages.negative.scanner.shared import shared
from wetside.store.ledger import Ledger


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[Rectangle]]:
    home = tmp_path_factory.mktemp("glass")
    return home, made_roll(home / "scans" / "R1", "135", 20.0, 4)


@pytest.mark.independent(
    how="the same patch by `read`; profiles against −log10 of the mean transmittance by numpy"
)
def test_an_area_reads_as_read_does(book: tuple[Path, list[Rectangle]]) -> None:
    home, true = book
    box = Rectangle(true[1].x + 200, true[1].y + 100, 120, 60)
    found = densitometer.area_at(home, "R1", "n2.tif", box)
    patch = read(home / "scans" / "R1", ReadOptions(marks=False, patches=(PatchAt("n2.tif", box),))).patches[
        0
    ]
    assert found.whole.density == pytest.approx(patch.density, abs=1e-6)
    part = np.s_[box.y : box.y + box.h, box.x : box.x + box.w]
    scan = tifffile.imread(home / "scans" / "R1" / "n2.tif").astype(float)[part]
    gate = tifffile.imread(home / "scans" / "R1" / "open_gate.tif").astype(float)[part]
    assert found.along == pytest.approx(-np.log10((scan / gate).mean(axis=0)), abs=2e-3)
    assert found.across == pytest.approx(-np.log10((scan / gate).mean(axis=1)), abs=2e-3)
    assert found.counts.sum(axis=0) == pytest.approx(1, abs=0.01)
    with pytest.raises(Unusable):
        densitometer.area_at(home, "R1", "n2.tif", Rectangle(90_000, 5, 40, 40))


@pytest.mark.independent(how="the same spot by `read`, the frame's exposure halved and told by EXIF")
def test_a_spot_counts_the_exposure_that_files_tell(tmp_path: Path) -> None:
    true = made_roll(tmp_path / "scans" / "R2", "135", 20.0, 3)
    folder = tmp_path / "scans" / "R2"
    for name, factor, time in (("n1", 1.0, 50), ("n2", 0.5, 100), ("n3", 1.0, 50), ("open_gate", 1.0, 50)):
        pixels = (tifffile.imread(folder / f"{name}.tif") * factor).astype(np.uint16)
        tifffile.imwrite(
            folder / f"{name}.tif", pixels, photometric="rgb", extratags=[(33434, "2I", 1, (1, time), True)]
        )
    x, y = true[1].x + true[1].w // 3 + 20, true[1].y + true[1].h // 3 + 20
    found = densitometer.density_at(tmp_path, "R2", "n2.tif", x, y)["density"]
    assert [found[c] for c in "rgb"] == pytest.approx(list(BASE + 0.8), abs=0.015)


def test_places_shown_by_hand_are_lines_that_the_next_reading_takes(
    book: tuple[Path, list[Rectangle]],
) -> None:
    home, true = book
    picture = Rectangle(true[2].x + 30, true[2].y + 20, true[2].w - 60, true[2].h - 40)
    glass.show_place(home, "R1", "n3.tif", "picture", Rectangle(1, 1, 50, 50))
    glass.show_place(home, "R1", "n3.tif", "picture", picture)
    glass.show_place(home, "R1", "n1.tif", "base", Rectangle(true[0].x + 10, true[0].y - 14, 300, 8))
    reading = glass.read_and_keep(home, "R1", "135")
    assert list(reading["frames"][2]["picture"].values()) == pytest.approx(list(picture), abs=2)
    assert [reading["base"][c] for c in "rgb"] == pytest.approx(list(BASE), abs=0.01)
    with pytest.raises(Unusable):
        glass.show_place(home, "R1", "n1.tif", "picture", Rectangle(1, 1, 2, 50))
    with pytest.raises(Unusable):
        glass.show_place(home, "R1", "none.tif", "picture", picture)


@pytest.mark.independent(how="a planted spot that every frame has, over clouds that no two share")
def test_what_frames_share_stays_and_pictures_cancel() -> None:
    rng = np.random.default_rng(8)
    spot = np.zeros((120, 160))
    spot[40:70, 60:100] = 0.1
    frames = [0.5 + 0.1 * rng.standard_normal((120, 160)) + spot for _ in range(12)]
    found = shared(frames)
    assert found[45:65, 65:95].mean() > 0.04 and abs(found[:30].mean()) < 0.01
    few = shared([0.5 + 0.5 * rng.standard_normal((120, 160)) for _ in range(3)])
    assert np.abs(few).mean() < 0.05


@pytest.mark.independent(how="the same patch by `read`, under planted stray light")
def test_a_spot_is_freed_of_the_stray_light_that_was_read(tmp_path: Path) -> None:
    truth = roll(tmp_path / "scans" / "R3", Setting("16still", frames=3, flare=0.02, fine=30.0), 3)
    box, level = truth.patches[1]
    glass.read_and_keep(tmp_path, "R3", "16still")
    found = densitometer.density_at(tmp_path, "R3", "n2.tif", box.x + box.w // 2, box.y + box.h // 2)
    plain = read(tmp_path / "scans" / "R3", ReadOptions(marks=False, patches=(PatchAt("n2.tif", box),)))
    assert "stray light" in found["say"]
    assert [found["density"][c] for c in "rgb"] == pytest.approx(plain.patches[0].density, abs=0.005)
    assert [found["density"][c] for c in "rgb"] == pytest.approx(list(level), abs=0.05)
    area = densitometer.area_at(tmp_path, "R3", "n2.tif", box)
    assert area.flare is not None and area.flare.ceiling is not None and 2.6 < area.flare.ceiling < 3.4
    assert list(area.whole.density or ()) == pytest.approx(plain.patches[0].density, abs=0.005)
    assert area.along.mean(axis=0) == pytest.approx(plain.patches[0].density, abs=0.01)


@pytest.mark.independent(
    how="the same square by `read`, without an open gate and with exposures that were not locked"
)
@pytest.mark.parametrize("locked", [True, False])
def test_a_spot_without_an_open_gate_counts_from_the_base_as_read_does(tmp_path: Path, locked: bool) -> None:
    truth = roll(
        tmp_path / "scans" / "R4", Setting("135", frames=4, gate=False, locked=locked, fine=14.0), 12
    )
    glass.read_and_keep(tmp_path, "R4", "135")
    patch, level = truth.patches[1]
    x, y = patch.x + patch.w // 2, patch.y + patch.h // 2
    found = densitometer.density_at(tmp_path, "R4", "n2.tif", x, y)
    box = Rectangle(*(found[key] for key in "xywh"))
    plain = read(
        tmp_path / "scans" / "R4", ReadOptions(gauge="135", marks=False, patches=(PatchAt("n2.tif", box),))
    ).patches[0]
    assert plain.density is not None and plain.spread is not None and found["kind"] == "above base"
    assert [found["density"][c] for c in "rgb"] == pytest.approx(plain.density, abs=1e-6)
    assert [found["spread"][c] for c in "rgb"] == pytest.approx(plain.spread, abs=1e-6)
    assert [found["density"][c] for c in "rgb"] == pytest.approx(list(level - truth.base), abs=0.01)
    area = densitometer.area_at(tmp_path, "R4", "n2.tif", patch)
    assert area.along.mean(axis=0) == pytest.approx(list(level - truth.base), abs=0.01)
    assert float(area.edges[0]) < float(min(level - truth.base)) < float(area.edges[-1])


def test_pinned_spots_are_kept_as_one_line_with_their_figures(book: tuple[Path, list[Rectangle]]) -> None:
    home, true = book
    kept = by_hand.keep_spots(home, "R1", [("n1.tif", true[0].x + 60, true[0].y + 60), ("n2.tif", 5, 5)])
    found = by_hand.spots_of(home, "R1")
    assert [one["file"] for one in found] == [one["file"] for one in kept] and found[0]["line"]
    assert found[0]["density"] == kept[0]["density"] and found[0]["spread_of"]["mean"]["r"] > 0
    with pytest.raises(Unusable):
        by_hand.keep_spots(home, "R1", [])
    with pytest.raises(Unusable):
        by_hand.keep_spots(home, "R1", [("none.tif", 5, 5)])


@pytest.mark.independent(how="lightness of the colours against the densities they stand for")
def test_the_map_grows_lighter_with_density_and_its_scale_says_which_colour_is_which() -> None:
    shades = legend()
    light = [
        0.2126 * int(c[1:3], 16) + 0.7152 * int(c[3:5], 16) + 0.0722 * int(c[5:7], 16) for _, c in shades
    ]
    assert (np.diff(light) > 0).all() and shades[0][0] == 0 and shades[-1][0] == TOP
    painted = coloured(np.array([[0.3 + value for value, _ in shades]]) + 0.02, 0.3)[0]
    assert ["#" + "".join(f"{v:02x}" for v in colour) for colour in painted] == [
        colour for _, colour in shades
    ]


@pytest.mark.independent(how="folders of these names on the disk")
def test_a_folder_of_scans_keeps_its_own_name_and_no_name_leads_out_of_it(tmp_path: Path) -> None:
    for name in ("Berlin, June", "L'été & après", "50 % push!"):
        (tmp_path / "scans" / name).mkdir(parents=True)
        assert glass.folder_of(tmp_path, name).name == name
    (tmp_path / "secret").mkdir()
    for name in ("../secret", "..", ".", "", "a/b", "a\\b", "Berlin, June\n"):
        with pytest.raises(Unusable):
            glass.folder_of(tmp_path, name)


@pytest.mark.independent(how="the gauge that the book's line and the reading's own form were given")
def test_the_gauge_once_told_stays_told(tmp_path: Path) -> None:
    roll(tmp_path / "scans" / "R9", Setting("16still", frames=2, fine=12.0), 5)
    assert glass.strip(tmp_path, "R9")["gauge"] is None
    with Ledger.open(tmp_path) as book:
        book.append(RollLoaded(roll="R9", stock="DAY90", gauge="110"), happened_at=1.0)
    assert glass.strip(tmp_path, "R9")["gauge"] == "110"
    glass.read_and_keep(tmp_path, "R9", "16still")
    assert glass.strip(tmp_path, "R9")["gauge"] == "16still"
