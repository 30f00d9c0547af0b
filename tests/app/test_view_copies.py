"""Frames are seen from small linear copies that are made once, follow their file, and never keep a figure from linear data."""

from __future__ import annotations

import os
from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile

from wetside.app.viewing import densitometer, glass
from wetside.app.viewing.contact_sheet import shrunk
from wetside.app.viewing.view_copies import LONGEST, MOST_KEPT, _forget_old, view_copy
from wetside.store.scans.load import load
from wetside.store.scans.recent import recent


def wide(level: int, seed: int = 1) -> np.ndarray:
    rng = np.random.default_rng(seed)
    soft = cv2.resize(rng.uniform(0.3, 1.0, (12, 18, 3)), (2400, 1600), interpolation=cv2.INTER_CUBIC)
    return np.clip(soft * level, 0, 65535).astype(np.uint16)


def written(home: Path, level: int = 50_000) -> Path:
    file = home / "scans" / "R1" / "a.tif"
    file.parent.mkdir(parents=True, exist_ok=True)
    tifffile.imwrite(file, wide(level), photometric="rgb")
    return file


@pytest.mark.independent(how="the copy against an area average of the whole file by numpy")
def test_a_copy_holds_the_linear_values_of_its_file(tmp_path: Path) -> None:
    file = written(tmp_path)
    copy = view_copy(tmp_path, "R1", file)
    assert copy.scan.width == LONGEST and copy.shrink == pytest.approx(1.5)
    cells = wide(50_000)[:1599].reshape(533, 3, 800, 3, 3).mean(axis=(1, 3))
    mine = copy.scan.pixels[:1066].astype(float).reshape(533, 2, 800, 2, 3).mean(axis=(1, 3))
    assert np.abs(mine / cells - 1).max() < 0.01
    assert copy.scan.coding == "linear" and copy.scan.full_scale == 65535


def test_a_copy_is_made_once_and_again_when_its_file_changes(tmp_path: Path) -> None:
    file = written(tmp_path)
    first = view_copy(tmp_path, "R1", file)
    kept = next((tmp_path / "proxies" / "R1").glob("view *.npz"))
    stamp = kept.stat().st_mtime_ns
    again = view_copy(tmp_path, "R1", file)
    assert kept.stat().st_mtime_ns == stamp and (again.scan.pixels == first.scan.pixels).all()
    written(tmp_path, 20_000)
    os.utime(file, ns=(1, 1))
    changed = view_copy(tmp_path, "R1", file)
    assert changed.scan.pixels.mean() == pytest.approx(first.scan.pixels.mean() * 0.4, rel=0.01)
    assert recent(file).pixels.max() < 25_000


def test_a_damaged_copy_is_made_anew_and_old_ones_go(tmp_path: Path) -> None:
    file = written(tmp_path)
    view_copy(tmp_path, "R1", file)
    kept = next((tmp_path / "proxies" / "R1").glob("view *.npz"))
    kept.write_bytes(b"half a copy")
    assert view_copy(tmp_path, "R1", file).scan.width == LONGEST
    for i in range(MOST_KEPT + 9):
        (kept.parent / f"view {i}.npz").write_bytes(b"")
    (kept.parent / "fitted.npz").write_bytes(b"")
    _forget_old(kept.parent)
    assert len(list(kept.parent.glob("view *.npz"))) == MOST_KEPT and (kept.parent / "fitted.npz").exists()


@pytest.mark.independent(how="the small square's median by numpy on the file as tifffile reads it")
def test_a_density_under_the_finger_comes_from_the_file_itself(tmp_path: Path) -> None:
    file = written(tmp_path)
    glass.view(tmp_path, "R1", "a.tif", 1600)
    at = densitometer.density_at(tmp_path, "R1", "a.tif", 1203, 777)
    square = tifffile.imread(file)[770:785, 1196:1211].reshape(-1, 3)
    assert at["density"]["g"] == pytest.approx(-np.log10(np.median(square[:, 1]) / 65535), abs=0.002)


def test_a_view_is_the_same_size_from_file_and_from_copy(tmp_path: Path) -> None:
    written(tmp_path)
    for width in (300, 1600, 2000):
        shown = cv2.imdecode(
            np.frombuffer(glass.view(tmp_path, "R1", "a.tif", width), np.uint8), cv2.IMREAD_COLOR
        )
        assert shown.shape == (round(1600 * width / 2400), width, 3)


@pytest.mark.independent(how="an area average in one step")
def test_halving_first_gives_the_same_picture() -> None:
    pixels = wide(60_000)
    one = cv2.resize(pixels, (700, 467), interpolation=cv2.INTER_AREA)
    assert np.abs(shrunk(pixels, 700, 467).astype(int) - one).max() < 60


def test_the_hash_is_left_out_only_when_it_is_not_asked_for(tmp_path: Path) -> None:
    file = written(tmp_path)
    assert load(file, hashed=False).sha256 == "" and len(load(file).sha256) == 64


def test_a_copy_that_another_request_took_away_meanwhile_is_no_fault(tmp_path: Path) -> None:
    (tmp_path / "view gone.npz").symlink_to(tmp_path / "nowhere")
    for i in range(MOST_KEPT):
        (tmp_path / f"view {i}.npz").write_bytes(b"x")
    _forget_old(tmp_path)
    assert len(list(tmp_path.glob("view [0-9]*.npz"))) == MOST_KEPT
