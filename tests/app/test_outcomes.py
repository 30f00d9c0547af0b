"""Experiments read from two scans of one frame: a redo that took something away, one that did not, a frame turned half round."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from benchmarks.planted import KEPT_OUT, photograph

from wetside.app.faults.causes import causes_of_run, experiments
from wetside.app.faults.outcomes import note_frames, note_scans, scans_of, twins_of
from wetside.app.faults.told import told_of_book
from wetside.book.kinds import Measured, RollLoaded
from wetside.figures.finding import Unusable
from wetside.stages.causes.ranking.experiments import TWIN
from wetside.store.ledger import Ledger
from wetside.store.scans.originals import write_tiff16

BASE = np.array([0.2, 0.5, 0.8], np.float32)
SILVER, HALIDE, TURNED = "re-bleach one frame", "re-fix one frame", "turn a frame by 180°"


def negative(seed: int) -> np.ndarray:
    """Density above base (400, 600, 3) of a photograph."""
    picture = cv2.resize(photograph(KEPT_OUT[seed % len(KEPT_OUT)]), (600, 400), interpolation=cv2.INTER_AREA)
    return np.asarray(0.55 * np.log10(1 + 300 * picture), np.float32)


def scan(place: Path, density: np.ndarray, seed: int, light: float = 1.0, shading: float = 0.0) -> Path:
    """A 16-bit linear scan, moved a little, with grain; `light`: what it gained since; `shading` [D] from left to right."""
    rng = np.random.default_rng(seed)
    moved = cv2.warpAffine(density, np.array([[1, 0, rng.normal(0, 2)], [0, 1, rng.normal(0, 2)]]), (600, 400), borderMode=cv2.BORDER_REFLECT)  # fmt: skip
    noisy = moved + rng.normal(0, 0.008, moved.shape) + np.linspace(-0.5, 0.5, 600)[None, :, None] * shading
    write_tiff16(place, np.clip(0.8 * light * 65535 * 10**-noisy, 0, 65535).astype(np.uint16))
    return place


@pytest.fixture
def home(tmp_path: Path) -> Path:
    up = [dict.fromkeys("rgb", v) for v in (0.02, 0.09, 0.15)]
    result = {"schema": "wetside.departures/1", **dict(zip(("dmin", "ld", "hd_ld"), up))}
    with Ledger.open(tmp_path) as book:
        book.append(RollLoaded(roll="R1", stock="DAY90", gauge="135", length_mm=700.0), happened_at=1.77e9)
        book.append(Measured(roll="R1", what="departures", result=result), happened_at=1.77e9)
    return tmp_path


@pytest.mark.independent(
    how="silver that follows the image planted in a scan and gone in the second, the light 2 % brighter"
)
@pytest.mark.parametrize("seed", range(3))
def test_silver_that_went_is_a_change_and_a_brighter_light_is_none(home: Path, seed: int) -> None:
    image = negative(seed)
    silver = 0.15 * image.mean(axis=2, keepdims=True)
    after = scan(home / "after.tif", image + BASE, 2, light=1.02)
    found = note_scans(home, "R1", SILVER, scan(home / "before.tif", image + BASE + silver, 1), after)
    assert found.startswith("changed: ") and "D in dense parts against thin ones" in found
    assert causes_of_run(home, "R1")["causes"][0]["cause"] == "weak bleach: retained silver"
    assert next(e for e in experiments(home, "R1") if e["name"] == SILVER)["say"] in found
    same = scan(home / "same.tif", image + BASE, 3)
    assert note_scans(home, "R1", SILVER, same, after).startswith("same: ")
    assert next(e for e in experiments(home, "R1") if e["name"] == SILVER)["came_out"] == "same"


@pytest.mark.independent(how="a yellow haze planted over the first scan")
def test_a_haze_that_went_tells_of_the_fixer(home: Path) -> None:
    image = negative(1) + BASE
    hazy = scan(home / "hazy.tif", image + np.array([0.01, 0.04, 0.14], np.float32), 1)
    clear = scan(home / "clear.tif", image, 2, light=0.98)
    assert note_scans(home, "R1", HALIDE, hazy, clear).startswith("changed: blue −0.1")
    assert note_scans(home, "R1", HALIDE, clear, scan(home / "again.tif", image, 3)).startswith("same: ")


@pytest.mark.independent(
    how="a light that falls from left to right, or none, and the film turned half round under it"
)
def test_a_frame_turned_tells_the_light_from_the_film(home: Path) -> None:
    image = negative(2) + BASE
    turned = np.ascontiguousarray(image[::-1, ::-1])
    pair = scan(home / "a.tif", image, 1, shading=0.08), scan(home / "b.tif", turned, 2, shading=0.08)
    assert note_scans(home, "R1", TURNED, *pair).startswith("stayed in place: ")
    even = scan(home / "c.tif", image, 3), scan(home / "d.tif", turned, 4)
    assert note_scans(home, "R1", TURNED, *even).startswith("turned with the film: ")


@pytest.mark.independent(
    how="twins of one scene with other grain: developed 15 % further at home, hazed at home, or alike under a light 3 % brighter"
)
def test_a_laboratorys_twin_parts_the_home_process_from_film_and_camera(home: Path) -> None:
    image = negative(1)
    lab = scan(home / "lab.tif", image + BASE, 1)
    further = scan(home / "further.tif", 1.15 * image + BASE, 2)
    hazed = scan(home / "hazed.tif", image + BASE + np.array([0.01, 0.03, 0.13], np.float32), 3)
    alike = scan(home / "alike.tif", 1.01 * image + BASE, 4, light=1.03)
    assert note_scans(home, "R1", TWIN, further, lab).startswith("twin good: ")
    assert note_scans(home, "R1", TWIN, hazed, lab).startswith("twin good: blue +0.0")
    assert note_scans(home, "R1", TWIN, alike, lab).startswith("twin alike: ")
    with pytest.raises(Unusable, match="do not show the same frame"):
        note_scans(home, "R1", TWIN, scan(home / "other.tif", negative(2) + BASE, 5), lab)


def test_a_twin_is_chosen_among_the_scans_of_other_rolls(home: Path) -> None:
    for roll, more in (("R1", 1.15), ("LAB 7", 1.0)):
        (home / "scans" / roll).mkdir(parents=True)
        scan(home / "scans" / roll / "01.tif", negative(1) * more + BASE, 1)
    with Ledger.open(home) as book:
        book.append(RollLoaded(roll="LAB 7", stock="DAY90", gauge="135", length_mm=700.0), happened_at=1.77e9)
    assert twins_of(home, "R1", *told_of_book(home, "R1")) == ["LAB 7/01.tif"]
    assert note_frames(home, "R1", TWIN, "R1/01.tif", "LAB 7/01.tif").startswith("twin good: ")
    with pytest.raises(Unusable, match="there are: LAB 7/01"):
        note_frames(home, "R1", TWIN, "R1/01.tif", "R1/01.tif")


def test_what_two_scans_cannot_tell_is_one_line_and_no_line_of_the_book(home: Path) -> None:
    image = negative(0) + BASE
    first, other = scan(home / "a.tif", image, 1), scan(home / "b.tif", negative(1) + BASE, 2)
    with pytest.raises(Unusable, match="do not show the same frame"):
        note_scans(home, "R1", SILVER, first, other)
    with pytest.raises(Unusable, match="two scans tell re-bleach one frame"):
        note_scans(home, "R1", "clip test", first, first)
    with pytest.raises(Unusable, match="no such file"):
        note_scans(home, "R1", SILVER, first, home / "none.tif")
    cv2.imwrite(str(home / "c.jpg"), np.zeros((400, 600, 3), np.uint8))
    with pytest.raises(Unusable, match="gamma-coded"):
        note_scans(home, "R1", SILVER, first, home / "c.jpg")
    assert all(e["came_out"] is None for e in experiments(home, "R1"))


def test_second_scans_lie_in_a_folder_of_their_own(home: Path) -> None:
    place = home / "scans" / "R1"
    (place / "again").mkdir(parents=True)
    image = negative(2)
    scan(place / "01.tif", image * 1.15 + BASE, 1)
    scan(place / "again" / "01.tif", image + BASE, 2)
    assert scans_of(home, "R1", {}) == {"first": ["R1/01.tif"], "second": ["R1/again/01.tif"]}
    assert note_frames(home, "R1", SILVER, "R1/01.tif", "R1/again/01.tif").startswith("changed: ")
    with pytest.raises(Unusable, match="there are: R1/01"):
        note_frames(home, "R1", SILVER, "../secret.tif", "R1/again/01.tif")
